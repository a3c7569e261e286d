//! The page of a debrief: one HTML file without script and without network, to be read on a phone,
//! on a desk, or from a wall.
//!
//! *Invariant:* it is drawn from [`Drill`] alone. Each text of a person or from the air goes through
//! [`drawing::escaped`], and none stands inside a drawing: there are numbers, letters and units only, so
//! that every label has the room that was reckoned for it.
//!
//! Each chart is drawn twice, for a desk and for a phone; the style sheet shows one of them. Sizes and
//! spans of the drawings, wherever in this folder, are our own.

mod axis;
mod compare;
mod document;
mod figures;
mod map;
mod motion;
mod multiples;
mod near;
mod number_table;
mod numbers;
mod range;
mod reception;
mod section;
mod text;
mod thin;
mod window;

use super::drill::Drill;
use crate::drawing::{self, Layout};
use window::Window;

/// The page about some drills: of one in full; of several side by side, and then of each in short.
pub fn page(drills: &[Drill]) -> String {
    match drills {
        [drill] => section::of_one(drill),
        _ => section::of_several(drills),
    }
}

/// The chart of a drill alone, as an SVG file that needs nothing else; `None` if the recording tells
/// no place.
pub fn chart(drill: &Drill) -> Option<String> {
    let map = map::draw(drill, Window::of(drill)?, Layout::Wide, "chart")?;
    Some(drawing::alone(&map.svg))
}
