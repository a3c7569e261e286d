//! A scenario played for the watch: at the present moment, or as a drill whose casualty begins when
//! nobody expects it.

use std::time::Duration;

use super::Scenario;
use super::scenario::BeaconMode;
use super::values::Within;
use crate::mmsi::Mmsi;
use crate::time::Utc;
use crate::watch::Rehearsed;

/// Why a scenario makes no drill.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoDrill {
    /// There is no beacon in it that is active.
    #[error("nobody goes overboard in it: a drill needs an active [[beacon]]")]
    NoCasualty,
    /// Its own time before the casualty does not fit into the window.
    #[error(
        "in it somebody goes overboard {0} s after the start, which is later than --within allows"
    )]
    TooLate(u32),
}

impl Scenario {
    /// The same scenario, begun at another moment: the times in its sentences follow.
    pub fn starting(self, start: Utc) -> Self {
        Self { start, ..self }
    }

    /// When it begins.
    pub const fn start(&self) -> Utc {
        self.start
    }

    /// How long it goes on.
    pub fn duration(&self) -> Duration {
        Duration::from_secs_f64(self.duration_s.0)
    }

    /// Whether it is a drill.
    pub const fn is_drill(&self) -> bool {
        self.is_drill
    }

    /// The text that the TAG block of each line carries: `t:REHEARSAL`, or `t:DRILL` in a drill.
    pub(super) const fn word(&self) -> &'static str {
        let rehearsed = if self.is_drill { Rehearsed::Drill } else { Rehearsed::Rehearsal };
        rehearsed.word()
    }

    /// How long after the start the first casualty begins: an active beacon is switched on.
    pub fn casualty_after(&self) -> Option<Duration> {
        let active = self.beacons.iter().filter(|beacon| beacon.mode == BeaconMode::Active);
        let first = active.map(|beacon| beacon.activate_s.0).reduce(f64::min)?;
        Some(Duration::from_secs_f64(first))
    }

    /// The identities of beacons that it sends, by AIS or DSC, in order.
    pub fn beacon_identities(&self) -> Vec<Mmsi> {
        let calls = self.calls.iter().flat_map(|call| [Some(call.caller), call.casualty]);
        let all = self.beacons.iter().map(|beacon| Some(beacon.mmsi)).chain(calls);
        let texts = self.texts.iter().map(|text| Some(text.mmsi));
        let mut found: Vec<Mmsi> =
            all.chain(texts).flatten().filter(|mmsi| mmsi.beacon_kind().is_some()).collect();
        found.sort_by_key(|mmsi| mmsi.value());
        found.dedup();
        found
    }

    /// Those of them that may be a real beacon's: the manufacturer code is not 00, that for tests
    /// (ITU-R M.1371-5 annex 9, section 6).
    pub fn foreign_identities(&self) -> Vec<Mmsi> {
        let is_foreign = |mmsi: &Mmsi| !(mmsi.value() / 10_000).is_multiple_of(100);
        self.beacon_identities().into_iter().filter(is_foreign).collect()
    }

    /// Whether the scenario wants identities of real beacons, which is for this computer alone.
    pub const fn allows_real_identities(&self) -> bool {
        self.real_identities
    }

    /// The scenario as a drill. The casualty begins at `chance` (0 to 1) of what is left of the
    /// window, which counts from the start: beacons, calls, and own ship's manoeuvres after the
    /// casualty's beginning come so much later. All else plays at once.
    ///
    /// # Errors
    /// Why it makes no drill.
    pub fn drill(mut self, window: Duration, chance: f64) -> Result<Self, NoDrill> {
        let first = self.casualty_after().ok_or(NoDrill::NoCasualty)?;
        let room = window.checked_sub(first).ok_or(NoDrill::TooLate(first.as_secs() as u32))?;
        let delay_s = room.as_secs_f64() * chance.clamp(0.0, 1.0);
        self.stay_on_leg(first.as_secs_f64(), delay_s);
        for beacon in &mut self.beacons {
            beacon.activate_s.0 += delay_s;
            if let Some(off) = &mut beacon.off_s {
                *off.get_mut() += delay_s;
            }
            if let Some(aboard) = &mut beacon.aboard_from_s {
                aboard.0 += delay_s;
            }
            for lost in beacon.fix_lost.iter_mut().map(toml::Spanned::get_mut) {
                lost.from_s += delay_s;
                lost.until_s += delay_s;
            }
            for fade in beacon.fades.iter_mut().map(toml::Spanned::get_mut) {
                fade.from_s += delay_s;
                fade.until_s += delay_s;
            }
        }
        for call in &mut self.calls {
            call.at_s.0 += delay_s;
        }
        self.duration_s.0 += delay_s;
        self.is_drill = true;
        Ok(self)
    }

    /// Makes the leg that own ship is on at a moment last longer.
    fn stay_on_leg(&mut self, at_s: f64, delay_s: f64) {
        let mut end_s = 0.0;
        for leg in &mut self.own.legs {
            end_s += leg.minutes.0 * 60.0;
            // A leg that ends just when the casualty begins is followed by the answer to that.
            if end_s >= at_s {
                leg.minutes = Within(leg.minutes.0 + delay_s / 60.0);
                return;
            }
        }
    }
}
