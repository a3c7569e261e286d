//! What the skipper types: times, directions with speeds, distances.

use std::time::Duration;

use crate::cli::moment;
use crate::navigation::Pattern;
use crate::units::{Degrees, Knots, NauticalMiles};

/// A drift says nothing of where somebody is after so long. Our own.
const LONGEST: Duration = Duration::from_secs(24 * 3600);

/// `12min`, `90s`, `1h30min`.
pub(super) fn span(text: &str) -> Result<Duration, &'static str> {
    const HOW: &str = "give a time such as 12min, 90s or 1h30min, at most 24h";
    moment::span(text).filter(|span| *span <= LONGEST).ok_or(HOW)
}

/// A direction and a speed: `077/0.8`.
pub(super) fn flow(text: &str) -> Result<(Degrees, Knots), &'static str> {
    const HOW: &str = "give degrees and knots such as 077/0.8";
    let (direction, speed) = text.split_once('/').ok_or(HOW)?;
    let direction = number(direction).filter(|degrees| *degrees <= 360.0).ok_or(HOW)?;
    let speed = number(speed).filter(|knots| *knots <= 200.0).ok_or(HOW)?;
    Ok((Degrees::new(direction), Knots(speed)))
}

/// A boat's speed, above nothing.
pub(super) fn speed(text: &str) -> Result<Knots, &'static str> {
    let knots = number(text).filter(|knots| (0.1..=60.0).contains(knots));
    knots.map(Knots).ok_or("give knots from 0.1 to 60")
}

/// A distance.
pub(super) fn miles(text: &str) -> Result<NauticalMiles, &'static str> {
    number(text).map(NauticalMiles).ok_or("give nautical miles such as 2.5")
}

/// A height.
pub(super) fn metres(text: &str) -> Result<f64, &'static str> {
    number(text).ok_or("give metres such as 2.4")
}

/// A pattern by its name.
pub(super) fn pattern(text: &str) -> Result<Pattern, &'static str> {
    match text {
        "sector" => Ok(Pattern::Sector),
        "square" => Ok(Pattern::Square),
        _ => Err("give sector or square"),
    }
}

/// A plain number that is not negative.
fn number(text: &str) -> Option<f64> {
    let plain = text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    plain.then(|| text.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_and_directions_are_read_as_they_are_said() {
        assert_eq!(span("12min"), Ok(Duration::from_secs(720)));
        assert_eq!(span("1h30min"), Ok(Duration::from_secs(5400)));
        assert_eq!(span("1.5min"), Ok(Duration::from_secs(90)));
        assert_eq!(flow("077/0.8"), Ok((Degrees::new(77.0), Knots(0.8))));
        for wrong in [
            "",
            "12",
            "min",
            "12 min",
            "-1min",
            "25h",
            "1e3s",
            "12minutes",
            "9".repeat(400).as_str(),
        ] {
            assert!(span(wrong).is_err(), "{wrong}");
        }
        for wrong in ["077", "361/1", "077/-1", "/", "077/inf", "077/0,8"] {
            assert!(flow(wrong).is_err(), "{wrong}");
        }
    }
}
