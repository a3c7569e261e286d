//! The page of what to say: which text it shows.

use super::Screen;
use crate::voice::{Occasion, Text};
use crate::watch::Picture;

/// What the page of what to say shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Sheet {
    /// A text to be read aloud.
    Say(Occasion),
    /// What the crew does.
    #[default]
    Checklist,
}

impl Sheet {
    pub(super) const ALL: [Self; 4] = [
        Self::Say(Occasion::Mayday),
        Self::Say(Occasion::Relay),
        Self::Say(Occasion::Cancel),
        Self::Checklist,
    ];

    pub(super) fn next(self) -> Self {
        let place = Self::ALL.iter().position(|it| *it == self).unwrap_or_default();
        Self::ALL[(place + 1) % Self::ALL.len()]
    }
}

/// The text of a sheet, filled in with what is known now.
pub(super) fn text(screen: &Screen, picture: &Picture, sheet: Sheet) -> Text {
    let words = &screen.vessel.words;
    let facts = |occasion| screen.speaker().facts(picture, occasion);
    let mut text = match sheet {
        Sheet::Say(occasion) => words.text(occasion, &facts(occasion)),
        Sheet::Checklist => words.checklist(&facts(Occasion::Mayday)),
    };
    if screen.replay.is_some() || picture.rehearsed.is_some() {
        // Where nobody is in danger, nobody is told to press it.
        text.lines.retain(|line| !line.words.to_lowercase().contains("distress button"));
    }
    text
}

/// What a sheet is called.
pub(super) fn title(screen: &Screen, sheet: Sheet) -> &str {
    match sheet {
        Sheet::Say(occasion) => screen.vessel.words.title(occasion),
        Sheet::Checklist => screen.vessel.words.checklist_title(),
    }
}
