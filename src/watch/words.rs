//! What safety texts and places say to a person.

use crate::navigation::{Position, range_and_bearing};

/// Words of distress and of beacons in a text of a station that is no beacon: real ships have sent
/// `MAYDAY`, `DISTRESS FIRE!` and `CRASH: …`, an aid to navigation `SART TEST`.
const ALARMING: [&str; 9] =
    ["MAYDAY", "DISTRESS", "SOS", "CRASH", "OVERBOARD", "SINKING", "MOB", "SART", "EPIRB"];

/// Whether a text has a word of distress or of a beacon in it.
pub(super) fn is_alarming(text: &str) -> bool {
    let mut before = "";
    text.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| !word.is_empty()).any(|word| {
        let urgent = word == "PAN" && before == "PAN";
        before = word;
        urgent || ALARMING.contains(&word)
    })
}

/// Where somebody is, seen from the ship: range and bearing, else the place, else that it is not
/// known.
pub(super) fn whereabouts(position: Option<Position>, own: Option<Position>) -> String {
    match (position, own) {
        (Some(position), Some(own)) => {
            let (range, bearing) = range_and_bearing(own, position);
            format!("{range}, bearing {bearing}")
        }
        (Some(position), None) => format!("at {position}"),
        (None, _) => "position not known".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Texts that real ships sent (../shared/captures/beacons/msg14_real_payloads_dev.nmea).
    #[test]
    fn words_of_distress_are_told_from_other_words() {
        for text in ["MAYDAY MAYDAY MAYDAY", "DISTRESS FIRE!", "MOB TESP", "SART TEST", "PAN-PAN"]
            .iter()
            .chain(&["CRASH:416000869 POS:22^36.894N,120^16.080E", "MAYDAY SZ13775G@"])
        {
            assert!(is_alarming(text), "{text}");
        }
        for text in ["RCVD YR TEST MSG", "AIS TEST OK BRGDS", "PAN STAR", "MOBILE 7", ""] {
            assert!(!is_alarming(text), "{text}");
        }
    }
}
