//! How far and which way, and whether that still holds.

use std::time::Duration;

use serde::Serialize;

use super::words::clock;
use crate::beacon::FIX_OLD;
use crate::navigation::{AheadFrom, CLOSE};
use crate::units::{Degrees, NauticalMiles};
use crate::watch::{BeaconView, Picture};

/// An own position older than this makes a range that is last known too. Our own.
const OWN_STALE: Duration = Duration::from_secs(30);

/// Whether the numbers hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Hold {
    /// They are those of now.
    Now,
    /// They are the last known: a fix or the own position is old, or nothing is heard any more.
    LastKnown,
    /// They are those of the place where a silent casualty is reckoned to be.
    Reckoned,
}

/// Nearer than this not even a rough direction can be told from two positions, each off by its 10 m.
/// Our own.
const ALL_ROUND: NauticalMiles = NauticalMiles(20.0 / 1852.0);

/// Where to look for a casualty close by: good to some 20 degrees, which is what two positions give
/// there, and in the dark better than nothing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rough {
    /// From the bow, -180 to 180, starboard positive.
    #[serde(rename = "relative_deg")]
    FromBow(f64),
    /// The same from the course over ground, which stands in for a heading.
    #[serde(rename = "relative_deg")]
    FromCourse(f64),
    /// True, to ten degrees, where nobody knows which way the bow points.
    #[serde(rename = "bearing_deg")]
    Bearing(Degrees),
}

impl Rough {
    /// The same to be said, marked as rough.
    pub fn words(&self) -> String {
        match self {
            Self::FromBow(relative) => format!("about {} (rough)", clock(*relative)),
            Self::FromCourse(relative) => format!("about {} by COG (rough)", clock(*relative)),
            Self::Bearing(bearing) => format!("about {bearing} (rough)"),
        }
    }
}

/// How far a casualty is and which way.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Whereabouts {
    /// How far.
    #[serde(rename = "range_nm")]
    pub range: NauticalMiles,
    /// Where it bears, true; `None` close by, where a bearing is noise.
    #[serde(rename = "bearing_deg")]
    pub bearing: Option<Degrees>,
    /// Where it bears from the bow, -180 to 180, starboard positive, if that is known.
    #[serde(rename = "relative_deg")]
    pub relative: Option<f64>,
    /// Close by, where to look; `None` where even that is not known.
    pub rough: Option<Rough>,
    /// Whether that holds.
    pub hold: Hold,
}

impl Whereabouts {
    /// Those of a beacon, if its position and the own one are known.
    pub fn of(picture: &Picture, beacon: &BeaconView) -> Option<Self> {
        let (range, bearing) = beacon.range.zip(beacon.bearing)?;
        let hold = match (is_stale(picture, beacon), &beacon.datum) {
            (false, _) => Hold::Now,
            (true, None) => Hold::LastKnown,
            (true, Some(_)) => Hold::Reckoned,
        };
        let ahead = beacon.way.and_then(|way| way.relative);
        let relative = ahead.map(|(relative, _)| relative);
        let tens = Degrees::new((bearing.value() / 10.0).round() * 10.0);
        let rough = match ahead {
            Some((relative, AheadFrom::CourseOverGround)) => Rough::FromCourse(relative),
            Some((relative, _)) => Rough::FromBow(relative),
            None => Rough::Bearing(tens),
        };
        let is_rough = range < CLOSE && range >= ALL_ROUND && hold == Hold::Now;
        let bearing = (range >= CLOSE).then_some(bearing);
        Some(Self {
            range,
            bearing,
            relative: bearing.and(relative),
            rough: is_rough.then_some(rough),
            hold,
        })
    }

    /// Whether the ship is there, as far as positions tell. Where the place is but reckoned she is
    /// when she is at the datum.
    pub fn is_close(&self) -> bool {
        self.bearing.is_none()
    }

    /// Whether it is a place that may no longer hold.
    pub fn is_stale(&self) -> bool {
        self.hold != Hold::Now
    }

    /// The same to be said.
    pub fn words(&self) -> String {
        let hold = match self.hold {
            Hold::Now => "",
            Hold::LastKnown => "last known ",
            Hold::Reckoned => "estimated ",
        };
        let way = match (self.bearing, self.rough) {
            (Some(bearing), _) => format!(" bearing {bearing}"),
            (None, Some(rough)) => format!(", {}", rough.words()),
            (None, None) => String::new(),
        };
        format!("{hold}{}{way}", self.range)
    }
}

/// Whether a fix is old, or not known to be young.
pub fn fix_is_old(age: Option<Duration>) -> bool {
    age.is_none_or(|age| age > FIX_OLD)
}

/// Whether a casualty's numbers are those of a place that may no longer hold.
fn is_stale(picture: &Picture, beacon: &BeaconView) -> bool {
    beacon.silent || fix_is_old(beacon.fix_age) || picture.own.age.is_none_or(own_is_old)
}

/// Whether an own position is old.
pub fn own_is_old(age: Duration) -> bool {
    age > OWN_STALE
}
