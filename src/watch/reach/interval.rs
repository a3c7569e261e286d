//! When the next report of a station is due.

use std::time::Duration;

use super::report::AisClass;
use crate::units::Knots;
use crate::wire::ais::Body;

/// Of a ship that lies, and of a small one that hardly moves (M.1371-5 tables 1 and 2).
const ANCHORED: Duration = Duration::from_secs(180);

/// The class of a station and how long after such a report the next is due (M.1371-5 tables 1 and
/// 2); `None` for messages that are no such reports. Of two that may be meant it is the longer: a
/// report that comes sooner is no loss, and one that is not due must not be missed.
pub(super) fn due(body: &Body) -> Option<(AisClass, Duration)> {
    Some(match body {
        Body::Position(report) => {
            (AisClass::A, class_a(report.nav_status, report.sog_kn.map(Knots)))
        }
        Body::ClassB(report) if !report.carrier_sense => {
            (AisClass::BSo, class_b_so(report.sog_kn.map(Knots)))
        }
        Body::ClassB(report) => (AisClass::BCs, class_b(report.sog_kn.map(Knots))),
        _ => return None,
    })
}

/// Ships that turn speak up to three times as often: that is no loss.
fn class_a(nav_status: u8, speed: Option<Knots>) -> Duration {
    // At anchor, moored, aground.
    let lies = matches!(nav_status, 1 | 5 | 6);
    match speed {
        Some(Knots(speed)) if lies && speed > 3.0 => Duration::from_secs(10),
        _ if lies => ANCHORED,
        Some(Knots(speed)) if speed > 23.0 => Duration::from_secs(2),
        Some(Knots(speed)) if speed > 14.0 => Duration::from_secs(6),
        _ => Duration::from_secs(10),
    }
}

/// The limit is 2 kn; half a knot above it a GNSS speed may still swing to and fro. Our own.
fn class_b(speed: Option<Knots>) -> Duration {
    if speed.is_some_and(|speed| speed.0 > 2.5) { Duration::from_secs(30) } else { ANCHORED }
}

/// As on a link that is loaded: 30 s up to 23 kn, then 15 s.
fn class_b_so(speed: Option<Knots>) -> Duration {
    if speed.is_some_and(|speed| speed.0 > 23.0) { Duration::from_secs(15) } else { class_b(speed) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::ais::{ClassBReport, PositionReport};

    fn a(nav_status: u8, sog_kn: Option<f64>) -> u64 {
        let report = PositionReport { nav_status, sog_kn, ..PositionReport::unavailable() };
        due(&Body::Position(report)).unwrap().1.as_secs()
    }

    fn b(carrier_sense: bool, sog_kn: Option<f64>) -> (AisClass, u64) {
        let report = ClassBReport {
            sog_kn,
            position_accuracy: false,
            lon: None,
            lat: None,
            cog_deg: None,
            heading_deg: None,
            utc_second: 60,
            carrier_sense,
            raim: false,
        };
        let (class, interval) = due(&Body::ClassB(report)).unwrap();
        (class, interval.as_secs())
    }

    /// M.1371-5 tables 1 and 2.
    #[test]
    fn the_next_report_is_due_as_the_tables_say() {
        assert_eq!(a(0, Some(0.0)), 10);
        assert_eq!(a(0, Some(14.0)), 10);
        assert_eq!(a(0, Some(14.1)), 6);
        assert_eq!(a(0, Some(23.1)), 2);
        assert_eq!(a(0, None), 10);
        assert_eq!(a(5, Some(0.1)), 180);
        assert_eq!(a(1, Some(3.1)), 10);
        assert_eq!(b(true, Some(5.0)), (AisClass::BCs, 30));
        assert_eq!(b(true, Some(2.0)), (AisClass::BCs, 180));
        assert_eq!(b(true, None), (AisClass::BCs, 180));
        assert_eq!(b(false, Some(10.0)), (AisClass::BSo, 30));
        assert_eq!(b(false, Some(24.0)), (AisClass::BSo, 15));
        assert_eq!(due(&Body::Other {}), None);
    }
}
