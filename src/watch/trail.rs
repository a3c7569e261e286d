//! Where a casualty goes, and how the ship comes to it: its fixes, its datum once it is silent, and
//! whether it was passed.

use super::settings::{DATUM_EVERY, DATUM_GAP};
use crate::navigation::{
    self, Datum, Drift, Fixes, PASSES_WITHIN, Position, RangeTurned, Search, Unsteerable, Velocity,
    Wind,
};
use crate::time::Mono;
use crate::units::NauticalMiles;

/// Where a casualty goes.
#[derive(Clone, Debug, Default)]
pub(super) struct Trail {
    /// The fixes of its beacon.
    pub fixes: Fixes,
    /// Where it is reckoned to be, while it is silent.
    pub datum: Option<Datum>,
    /// When it was reckoned and told last.
    pub reckoned: Option<Mono>,
    /// The search for it, while it is silent.
    pub search: Option<Search>,
    /// Why no search could be planned.
    pub unsteerable: Option<Unsteerable>,
    /// From how far off it was heard.
    pub farthest: Option<NauticalMiles>,
    pub passing: Passing,
    pub side: TurnSide,
}

impl Trail {
    /// The drift of its fixes.
    pub(super) fn drift(&self) -> Option<Drift> {
        self.fixes.drift()
    }

    /// When its datum is to be reckoned next, if nothing comes in after `fed`; see [`DATUM_GAP`].
    pub(super) fn due(&self, from: Mono, fed: Mono) -> Mono {
        let Some(at) = self.reckoned else { return from };
        let next = at + DATUM_EVERY;
        if next.since(fed) > DATUM_GAP { next.max(at + at.since(fed) / 2) } else { next }
    }

    /// Begins a datum, or moves it on to now.
    pub(super) fn reckon(
        &mut self,
        position: Position,
        fix_at: Mono,
        now: Mono,
        (wind, current): (Option<Wind>, Option<Velocity>),
    ) -> Datum {
        let drift = self.fixes.drift();
        let datum = self.datum.get_or_insert_with(|| Datum::begin(position, fix_at, drift));
        datum.go_on(now, wind, current);
        self.reckoned = Some(now);
        *datum
    }

    /// It is heard again: there is nothing to reckon.
    pub(super) fn found(&mut self) {
        (self.datum, self.reckoned) = (None, None);
        (self.search, self.unsteerable) = (None, None);
    }
}

/// So near dead astern, on either side, the side on which the ship is told to turn stays, in degrees:
/// a boat that yaws would be sent to port and to starboard by turns. Our own.
const SIDE_STAYS: f64 = 20.0;

/// On which side the ship is told to turn towards a casualty.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct TurnSide(Option<Side>);

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    Port,
    Starboard,
}

impl TurnSide {
    /// Takes the turn as it is now, -180 to 180.
    pub(super) fn note(&mut self, turn: f64) {
        if turn.abs() <= 180.0 - SIDE_STAYS || self.0.is_none() {
            self.0 = Some(if turn < 0.0 { Side::Port } else { Side::Starboard });
        }
    }

    /// The same turn on the side that was said before, if it is near dead astern: -200 to 200.
    pub(super) fn keep(self, turn: f64) -> f64 {
        match self.0.filter(|_| turn.abs() > 180.0 - SIDE_STAYS) {
            Some(Side::Port) if turn > 0.0 => turn - 360.0,
            Some(Side::Starboard) if turn < 0.0 => turn + 360.0,
            _ => turn,
        }
    }
}

/// How the range goes: whether the ship closes, or has passed and opens again.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Passing {
    range: navigation::Passing<()>,
    /// How near it was when it was passed last, and when that was noticed; until she closes again.
    pub passed: Option<(NauticalMiles, Mono)>,
}

impl Passing {
    /// Takes the present range. How near it was, if that it was passed is noticed now.
    pub(super) fn note(&mut self, range: NauticalMiles, now: Mono) -> Option<NauticalMiles> {
        let turned = self.range.note(range, ())?;
        self.passed = match turned {
            RangeTurned::Opens(nearest, ()) if nearest <= PASSES_WITHIN => Some((nearest, now)),
            _ => None,
        };
        self.passed.map(|(nearest, _)| nearest)
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    #[test]
    fn a_turn_near_dead_astern_stays_on_the_side_that_was_said() {
        let mut side = TurnSide::default();
        let mut said = |turn| {
            side.note(turn);
            side.keep(turn)
        };
        // Yawing about dead astern: starboard all the time.
        let yaw = [175.0, -175.0, 179.0, -162.0, 170.0].map(&mut said);
        assert_eq!(yaw, [175.0, 185.0, 179.0, 198.0, 170.0]);
        // More than 20 degrees past it port is the shorter way by far; and stays so.
        assert_eq!(
            [-159.0, 178.0, -178.0, 161.0, 159.0].map(&mut said),
            [-159.0, -182.0, -178.0, -199.0, 159.0]
        );
        assert_eq!(TurnSide::default().keep(-179.0), -179.0);
    }

    /// Hands in ranges in metres, a second apart; what was noticed, and when.
    fn noticed(metres: impl IntoIterator<Item = f64>) -> Vec<(u64, f64)> {
        let mut passing = Passing::default();
        let range = |metres| NauticalMiles::from_metres(metres);
        (0..)
            .zip(metres)
            .filter_map(|(second, metres)| {
                let now = Mono::START + Duration::from_secs(second);
                Some((second, passing.note(range(metres), now)?.metres().round()))
            })
            .collect()
    }

    #[test]
    fn passing_is_noticed_once_each_time() {
        let down = |from: i32, to: i32| (to..=from).rev().step_by(3).map(f64::from);
        let up = |from: i32, to: i32| (from..=to).step_by(3).map(f64::from);
        assert_eq!(noticed(down(900, 30).chain(up(30, 400))), [(305, 30.0)]);
        // Who has just gone overboard is left behind.
        assert_eq!(noticed(up(0, 900)), []);
        // Far off it is no passing, and the wobble of two positions is none.
        assert_eq!(noticed(down(900, 500).chain(up(500, 900))), []);
        assert_eq!(noticed((0..200).map(|n| 15.0 + 15.0 * f64::from(n % 2))), []);
        // A second approach is one of its own.
        let twice = down(300, 60).chain(up(60, 200)).chain(down(200, 20)).chain(up(20, 200));
        assert_eq!(noticed(twice).iter().map(|it| it.1).collect::<Vec<_>>(), [60.0, 20.0]);
    }
}
