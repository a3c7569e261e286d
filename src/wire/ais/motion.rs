//! Where a station is and how it moves, whichever type of message tells it.

use super::Body;
use crate::position::Position;
use crate::units::{Degrees, Knots};

/// What a message tells of its sender's place and motion; `None` for what its type does not carry
/// as for what is not available.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Motion {
    /// Where it is.
    pub position: Option<Position>,
    /// Speed over ground.
    pub sog: Option<Knots>,
    /// Course over ground, true.
    pub cog: Option<Degrees>,
    /// True heading.
    pub heading: Option<Degrees>,
    /// The UTC second of the fix, 0 to 59; 60 not available, 61 manual input, 62 dead reckoning,
    /// 63 the positioning system is inoperative.
    pub utc_second: Option<u8>,
}

impl Body {
    /// Place and motion of the sender; `None` if this type of message tells no place.
    pub fn motion(&self) -> Option<Motion> {
        let moving = |lat, lon, sog: Option<f64>, cog: Option<f64>| Motion {
            position: Position::of(lat, lon),
            sog: sog.map(Knots),
            cog: cog.map(Degrees::new),
            ..Motion::default()
        };
        let timed = |motion, heading: Option<u16>, second| Motion {
            heading: heading.map(|degrees| Degrees::new(degrees.into())),
            utc_second: Some(second),
            ..motion
        };
        Some(match self {
            Self::Position(r) => {
                timed(moving(r.lat, r.lon, r.sog_kn, r.cog_deg), r.heading_deg, r.utc_second)
            }
            Self::ClassB(r) => {
                timed(moving(r.lat, r.lon, r.sog_kn, r.cog_deg), r.heading_deg, r.utc_second)
            }
            Self::ClassBExtended(r) => {
                timed(moving(r.lat, r.lon, r.sog_kn, r.cog_deg), r.heading_deg, r.utc_second)
            }
            Self::Aircraft(r) => {
                let sog = r.sog_kn.map(f64::from);
                timed(moving(r.lat, r.lon, sog, r.cog_deg), None, r.utc_second)
            }
            Self::LongRange(r) => {
                moving(r.lat, r.lon, r.sog_kn.map(f64::from), r.cog_deg.map(f64::from))
            }
            Self::Base(r) => moving(r.lat, r.lon, None, None),
            Self::Aid(r) => moving(r.lat, r.lon, None, None),
            Self::Voyage(_)
            | Self::AddressedText(_)
            | Self::SafetyText(_)
            | Self::StaticA(_)
            | Self::StaticB(_)
            | Self::Other {} => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::ais::PositionReport;

    #[test]
    fn half_a_place_is_none_and_the_rest_still_tells() {
        let mut report = PositionReport::unavailable();
        (report.lat, report.sog_kn, report.heading_deg) = (Some(50.0), Some(3.5), Some(359));
        let motion = Body::Position(report.clone()).motion().unwrap();
        let rest = (motion.sog, motion.cog, motion.heading.map(Degrees::value), motion.utc_second);
        assert_eq!(motion.position, None);
        assert_eq!(rest, (Some(Knots(3.5)), None, Some(359.0), Some(60)));
        report.lon = Some(-5.0);
        let place = Body::Position(report).motion().unwrap().position;
        assert_eq!(place, Position::new(50.0, -5.0));
        assert_eq!(Body::Other {}.motion(), None);
    }
}
