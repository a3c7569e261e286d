//! How far a beacon would be heard, in words.

use crate::text::counted;
use crate::units::NauticalMiles;
use crate::watch::Reach;

/// `2.1 NM (1.4 to 3.0)`, `at least 1.4 NM`, `not known: only one ship heard`.
pub fn reach(reach: &Reach) -> String {
    match (reach.interval(), reach.low_nm, reach.why_not) {
        (Some((range, low, high)), ..) => {
            format!("{} ({} to {})", about(range), bare(low), bare(high))
        }
        (None, Some(low), _) => format!("at least {}", about(low)),
        (None, None, Some(why)) => format!("not known: {}", why.words()),
        (None, None, None) => "not known".to_owned(),
    }
}

/// The same as a sentence about now: `A beacon would be heard to about 2.1 NM now (1.4 to 3.0), from 37
/// stations in the last hour`.
pub fn reach_now(now: &Reach) -> String {
    let over = match now.minutes {
        0..55 => format!(" in the last {} min", now.minutes),
        _ => " in the last hour".to_owned(),
    };
    heard(now, " now", &over).map_or_else(
        || format!("How far a beacon would be heard is not known{}", why(now)),
        |heard| format!("A beacon would be {heard}"),
    )
}

/// The same about an hour that is over: `a beacon would have been heard to about 2.1 NM (1.4 to 3.0),
/// from 37 stations`.
pub fn reach_in_the_hour(then: &Reach) -> String {
    heard(then, "", "").map_or_else(
        || format!("how far a beacon would have been heard is not known{}", why(then)),
        |heard| format!("a beacon would have been {heard}"),
    )
}

/// What is known, and from what.
fn heard(reach: &Reach, when: &str, over: &str) -> Option<String> {
    let from = format!("from {}", counted(reach.stations, "station"));
    match (reach.interval(), reach.low_nm) {
        (Some((range, low, high)), _) => {
            let (low, high) = (bare(low), bare(high));
            Some(format!("heard to about {}{when} ({low} to {high}), {from}{over}", about(range)))
        }
        (None, low) => {
            low.map(|low| format!("heard to {}{when}, or further, {from}{over}", about(low)))
        }
    }
}

fn why(reach: &Reach) -> String {
    reach.why_not.map_or(String::new(), |why| format!(": {}", why.words()))
}

/// The same for a narrow place: `beacon heard to 2.1 NM (1.4 to 3.0)`.
pub fn reach_in_short(now: &Reach) -> String {
    match (now.interval(), now.low_nm) {
        (None, None) => format!("beacon's range {}", reach(now)),
        _ => format!("beacon heard to {}", reach(now)),
    }
}

/// No more digits than an estimate bears: `2.1 NM`, `12 NM`, `80 m`.
pub fn about(range: NauticalMiles) -> String {
    match range.0 {
        ..0.1 => range.to_string(),
        _ => format!("{} NM", bare(range)),
    }
}

/// The same without the unit.
fn bare(range: NauticalMiles) -> String {
    match range.0 {
        ..0.095 => format!("{:.2}", range.0),
        ..9.95 => format!("{:.1}", range.0),
        _ => format!("{:.0}", range.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::NotKnown;

    fn of(range: Option<f64>, low: Option<f64>, high: Option<f64>, why: Option<NotKnown>) -> Reach {
        Reach {
            range80_nm: range.map(NauticalMiles),
            low_nm: low.map(NauticalMiles),
            high_nm: high.map(NauticalMiles),
            stations: 37,
            expected: 900,
            received: 700,
            minutes: 60,
            lost_nearby: None,
            level_db: None,
            level_sd_db: None,
            why_not: why,
        }
    }

    #[test]
    fn an_estimate_has_no_more_digits_than_it_bears_and_what_is_not_known_says_why() {
        let known = of(Some(2.1379), Some(1.4), Some(10.04), None);
        assert_eq!(reach(&known), "2.1 NM (1.4 to 10)");
        assert_eq!(
            reach_now(&known),
            "A beacon would be heard to about 2.1 NM now (1.4 to 10), from 37 stations in the last hour"
        );
        let near = of(None, Some(1.44), None, Some(NotKnown::AllNear));
        assert_eq!(reach(&near), "at least 1.4 NM");
        assert_eq!(
            reach_now(&Reach { stations: 1, minutes: 20, ..near }),
            "A beacon would be heard to 1.4 NM now, or further, from 1 station in the last 20 min"
        );
        let unknown = of(None, None, None, Some(NotKnown::OneStation));
        assert_eq!(
            reach_now(&unknown),
            "How far a beacon would be heard is not known: only one ship heard"
        );
        assert_eq!(reach_in_short(&unknown), "beacon's range not known: only one ship heard");
    }
}
