//! How long people have lived in cold water: a range, with its cautions, never a countdown.

use super::text::{Kind, Line, Text};
use crate::units::Celsius;

/// A water temperature and where it is from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Water {
    /// The temperature.
    pub temperature: Celsius,
    /// Where it is from.
    pub source: WaterSource,
}

/// Where a water temperature is from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WaterSource {
    /// A thermometer on board (sentence MTW).
    Measured,
    /// Somebody wrote it into the configuration.
    ByHand,
}

impl WaterSource {
    const fn words(self) -> &'static str {
        match self {
            Self::Measured => "measured on board",
            Self::ByHand => "entered by hand",
        }
    }
}

/// A row of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// The water it is for, and where that is from.
    pub water: Water,
    /// How long until exhaustion or unconsciousness.
    pub exhaustion: &'static str,
    /// How long people may be expected to live.
    pub survival: &'static str,
}

/// The table printed in manuals of lifejackets approved by the US Coast Guard and in American
/// boating guides: up to how many degrees Fahrenheit, exhaustion or unconsciousness, expected
/// survival. Of the row from 70 to 80 one print has 3 to 12 hours, others 2 to 12.
const TABLE: [(f64, &str, &str); 7] = [
    (32.5, "under 15 min", "under 15 to 45 min"),
    (40.0, "15 to 30 min", "30 to 90 min"),
    (50.0, "30 to 60 min", "1 to 3 h"),
    (60.0, "1 to 2 h", "1 to 6 h"),
    (70.0, "2 to 7 h", "2 to 40 h"),
    (80.0, "2 to 12 h (3 to 12 h in other prints)", "3 h and more, no end given"),
    (f64::INFINITY, "no figure", "no end given"),
];

/// The figures for a water temperature; the row of the colder water where two meet. `None` for what
/// is no water temperature: below -3 °C or above 40 °C.
pub fn figures(water: Water) -> Option<Figures> {
    let celsius = water.temperature.0;
    let fahrenheit = celsius * 1.8 + 32.0;
    let row = (-3.0..=40.0).contains(&celsius).then_some(TABLE.iter())?;
    // The print gives 0.3 °C for 32.5 °F: what is rounded so is no other row.
    let (_, exhaustion, survival) = *row.clone().find(|row| fahrenheit <= row.0 + 0.05)?;
    Some(Figures { water, exhaustion, survival })
}

impl Figures {
    /// The figures with every caution that belongs to them (from MSC.1/Circ.1185/Rev.1 section 6,
    /// TP 13822 and the manuals the table is from). There is no way to have the one without the
    /// others.
    pub fn text(&self) -> Text {
        let Water { temperature, source } = self.water;
        let note = |words: String| Line { kind: Kind::Note, words };
        let lines = vec![
            note(format!("Water {temperature}, {}:", source.words())),
            note(format!("exhaustion or unconsciousness {}", self.exhaustion)),
            note(format!("expected survival {}", self.survival)),
            note(
                "1. No deadline: never a reason to stop or slow a search. People have lived after \
                 many hours in cold water; ask the rescue centre how long to go on."
                    .to_owned(),
            ),
            note(
                "2. The first 3 to 30 min decide: cold shock, then swimming fails. Without a \
                 lifejacket these figures do not hold."
                    .to_owned(),
            ),
            note("3. It differs with size, clothing, sea, alcohol and injury.".to_owned()),
            note(format!("4. It is as good as the water temperature: {}.", source.words())),
            note("5. A range out of a table, no clock that runs down.".to_owned()),
        ];
        Text { title: "In the water".to_owned(), lines }
    }
}
