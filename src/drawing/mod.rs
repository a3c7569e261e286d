//! How a page or a terminal is drawn on: SVG, a page of HTML in one file, dots in braille.
//!
//! *Invariant:* each text of a person or from the air goes through [`escaped`].

mod document;
mod dots;
mod labels;
mod scale;
mod svg;

pub use crate::text::escaped;
pub use document::document;
pub use dots::{Canvas, Dots};
pub use labels::{Labels, draw_numbers, grouped, listed};
pub use scale::{Ticks, Upwards, scale_bar};
pub use svg::{Anchor, Drawing, Layout, Point, alone, pill_size, width_of};
