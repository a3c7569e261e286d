//! Who could help: the ships, aircraft and craft near a casualty, the first to be there first.

use std::cmp::Reverse;
use std::time::Duration;

use serde::Serialize;

use super::contacts::Contact;
use crate::mmsi::{Mmsi, Station};
use crate::navigation::{
    Offset, Position, Velocity, closest_approach, intercept, range_and_bearing,
};
use crate::time::{Mono, seconds};
use crate::units::{Degrees, Knots, NauticalMiles};

/// How many are listed. Our own.
const LISTED: usize = 12;

/// Further than this from the casualty nobody is listed: an hour for a fast ship. Our own.
const WITHIN: NauticalMiles = NauticalMiles(25.0);

/// A position older than this says nothing of where a moving ship is: two of the longest reporting
/// intervals of one under way, 3 min (M.1371-5 table 1).
const POSITION_LASTS: Duration = Duration::from_secs(6 * 60);

/// A ship that was within a mile of the casualty in the last six minutes has just passed: she may
/// have seen something, and is there soonest. Our own.
const PASSED_WITHIN: NauticalMiles = NauticalMiles(1.0);
const PASSED_AGO_S: f64 = 6.0 * 60.0;

/// What somebody who could help is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum HelperKind {
    /// A rescue boat or ship (type 51), law enforcement (55) or a medical transport (58).
    Rescue,
    /// A search and rescue aircraft (message 9, identity 111…).
    Aircraft,
    /// A pilot boat (type 50).
    Pilot,
    /// A tug (types 31, 32, 52).
    Tug,
    /// A passenger ship or a fast ferry (types 40 to 49, 60 to 69).
    Passenger,
    /// A fishing boat (type 30).
    Fishing,
    /// A yacht or pleasure craft (types 36, 37).
    Pleasure,
    /// A craft of a parent ship: a tender or a rescue boat (identity 98…).
    Craft,
    /// Any other ship.
    Ship,
}

impl HelperKind {
    /// The same in a word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Rescue => "rescue",
            Self::Aircraft => "aircraft",
            Self::Pilot => "pilot",
            Self::Tug => "tug",
            Self::Passenger => "passenger",
            Self::Fishing => "fishing",
            Self::Pleasure => "pleasure",
            Self::Craft => "craft",
            Self::Ship => "ship",
        }
    }

    /// What a person reads, fourteen letters at most.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pleasure => "pleasure craft",
            kind => kind.word(),
        }
    }

    /// By type of ship and cargo (M.1371-5 table 53) and identity (M.585-10).
    fn of(contact: &Contact) -> Option<Self> {
        Some(match (contact.mmsi.station(), contact.ship_type) {
            (Station::SarAircraft, _) => Self::Aircraft,
            (Station::Ship, Some(51 | 55 | 58)) => Self::Rescue,
            (Station::Ship, Some(50)) => Self::Pilot,
            (Station::Ship, Some(31 | 32 | 52)) => Self::Tug,
            (Station::Ship, Some(40..=49 | 60..=69)) => Self::Passenger,
            (Station::Ship, Some(30)) => Self::Fishing,
            (Station::Ship, Some(36 | 37)) => Self::Pleasure,
            (Station::ParentCraft, _) => Self::Craft,
            (Station::Ship, _) => Self::Ship,
            _ => return None,
        })
    }

    /// The speed that is reckoned with where it was never seen to move. Our own.
    const fn speed(self) -> Knots {
        Knots(match self {
            Self::Aircraft => 100.0,
            Self::Rescue => 20.0,
            Self::Pilot | Self::Passenger | Self::Craft => 15.0,
            Self::Tug | Self::Fishing | Self::Ship => 10.0,
            Self::Pleasure => 5.0,
        })
    }
}

/// Somebody who could help.
#[derive(Clone, Debug, Serialize)]
pub struct Helper {
    /// Its identity.
    pub mmsi: Mmsi,
    /// Its name, as it says.
    pub name: Option<String>,
    /// What it is.
    pub kind: HelperKind,
    /// How far from the casualty.
    #[serde(rename = "range_nm")]
    pub range: NauticalMiles,
    /// How far from own ship, and where it bears from her.
    pub from_own: Option<(NauticalMiles, Degrees)>,
    /// How long it takes to the casualty at the usual speed; `None` if it cannot catch up with it.
    #[serde(rename = "time_s", serialize_with = "seconds")]
    pub time: Option<Duration>,
    /// The speed that was reckoned with.
    #[serde(rename = "speed_kn")]
    pub speed: Knots,
    /// Whether it has just passed the casualty.
    pub passed: bool,
    /// How old its position is.
    #[serde(rename = "age_s", serialize_with = "seconds")]
    pub age: Duration,
}

/// Those who could help a casualty at a place that drifts: those that have just passed first, then
/// the first to be there.
pub(super) fn near<'a>(
    contacts: impl Iterator<Item = &'a Contact>,
    (place, drift): (Position, Velocity),
    own: (Option<Mmsi>, Option<Position>),
    now: Mono,
) -> Vec<Helper> {
    let mut found: Vec<Helper> = contacts
        .filter(|contact| Some(contact.mmsi) != own.0)
        .filter_map(|contact| helper(contact, (place, drift), own.1, now))
        .collect();
    found.sort_by_key(|it| {
        let metres = it.range.metres() as u64;
        (Reverse(it.passed), it.time.unwrap_or(Duration::MAX), metres, it.mmsi)
    });
    found.truncate(LISTED);
    found
}

fn helper(
    contact: &Contact,
    (place, drift): (Position, Velocity),
    own: Option<Position>,
    now: Mono,
) -> Option<Helper> {
    let kind = HelperKind::of(contact)?;
    let (position, placed) = contact.position.zip(contact.placed)?;
    let age = now.since(placed);
    if age > POSITION_LASTS {
        return None;
    }
    let motion = match contact.cog.zip(contact.sog) {
        Some((cog, sog)) => Velocity::of(cog, sog),
        None => Velocity::STILL,
    };
    // Where it is by now, if it goes on as it went.
    let offset = Offset::between(motion.over(age).from(position), place);
    let range = offset.range();
    if range > WITHIN {
        return None;
    }
    let speed = contact.under_way.unwrap_or(kind.speed());
    let approach = closest_approach(offset, drift, motion);
    let passed = approach.range <= PASSED_WITHIN
        && approach.in_s.is_some_and(|ago| (-PASSED_AGO_S..0.0).contains(&ago));
    Some(Helper {
        mmsi: contact.mmsi,
        name: contact.name.clone(),
        kind,
        range,
        from_own: own.map(|own| range_and_bearing(own, position)),
        time: intercept(offset, drift, speed).map(|found| found.time),
        speed,
        passed,
        age,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: Mono = Mono::from_micros(3_600_000_000);

    /// A station some miles from the casualty, which lies at 50 N 5 W, heard some seconds ago.
    fn station(mmsi: u32, kind: u8, bearing: f64, miles: f64, motion: (f64, f64)) -> Contact {
        let place = Offset::of(Degrees::new(bearing), NauticalMiles(miles)).from(casualty());
        Contact {
            mmsi: Mmsi::new(mmsi).unwrap(),
            name: None,
            ship_type: Some(kind),
            position: Some(place),
            sog: Some(Knots(motion.1)),
            cog: Some(Degrees::new(motion.0)),
            placed: Some(NOW),
            under_way: (motion.1 > 2.0).then_some(Knots(motion.1)),
            heard: NOW,
            level: None,
        }
    }

    fn casualty() -> Position {
        Position::new(50.0, -5.0).unwrap()
    }

    fn order(stations: &[Contact]) -> Vec<(u32, HelperKind)> {
        let place = (casualty(), Velocity::STILL);
        let own = (Mmsi::new(200_000_000), Some(casualty()));
        let found = near(stations.iter(), place, own, NOW);
        found.iter().map(|it| (it.mmsi.value(), it.kind)).collect()
    }

    /// Kinds after ITU-R M.1371-5 table 53, and identities after M.585-10.
    #[test]
    fn the_first_to_be_there_comes_first() {
        let stations = [
            // Nearest, and slow; a lifeboat in her harbour; a tanker; a helicopter.
            station(211_000_001, 37, 10.0, 1.0, (0.0, 4.0)),
            station(211_000_002, 51, 90.0, 4.0, (0.0, 0.0)),
            station(211_000_003, 80, 180.0, 5.0, (0.0, 14.0)),
            station(111_232_001, 0, 270.0, 20.0, (90.0, 110.0)),
            station(211_000_004, 52, 45.0, 3.0, (225.0, 9.0)),
        ];
        assert_eq!(
            order(&stations),
            [
                (111_232_001, HelperKind::Aircraft),
                (211_000_002, HelperKind::Rescue),
                (211_000_001, HelperKind::Pleasure),
                (211_000_004, HelperKind::Tug),
                (211_000_003, HelperKind::Ship),
            ]
        );
    }

    #[test]
    fn who_has_just_passed_comes_before_all() {
        // Half a mile off and going away at 12 kn: 2.5 minutes ago she was there.
        let passed = station(211_000_005, 70, 0.0, 0.5, (0.0, 12.0));
        let near = station(211_000_001, 51, 90.0, 0.2, (270.0, 20.0));
        // She passed half an hour ago.
        let gone = station(211_000_006, 70, 0.0, 6.0, (0.0, 12.0));
        let order: Vec<u32> = order(&[near, gone, passed]).iter().map(|it| it.0).collect();
        assert_eq!(order, [211_000_005, 211_000_001, 211_000_006]);
    }

    #[test]
    fn who_cannot_help_is_not_listed() {
        let fresh = |mmsi, miles| station(mmsi, 70, 0.0, miles, (0.0, 10.0));
        let old = Contact { placed: Some(Mono::START), ..fresh(211_000_001, 1.0) };
        let lost = Contact { position: None, ..fresh(211_000_002, 1.0) };
        let stations = [
            old,
            lost,
            fresh(211_000_003, 26.0),
            // The own ship, a buoy, a coast station.
            fresh(200_000_000, 1.0),
            fresh(992_111_001, 1.0),
            fresh(2_111_001, 1.0),
        ];
        assert_eq!(order(&stations), []);
        let many: Vec<Contact> =
            (0..200).map(|n| fresh(211_000_100 + n, 1.0 + f64::from(n) / 20.0)).collect();
        assert_eq!(order(&many).len(), LISTED);
    }
}
