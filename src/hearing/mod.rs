//! How far the boat hears: hours of reach put together, and shown.
//!
//! ```text
//!  logbook's table ─┐
//!                   ├─▶ ReachHour, one after the other ──▶ Hearing ──▶ lines, JSON, page
//!  recordings ──────┘
//! ```
//! *Invariant:* the watch estimates; here hours are put together, and what no hour knows is not known
//! here either.

mod chart;
mod drawings;
mod lines;
mod map;
mod page;
mod round;
mod sketch;
mod stations;
mod together;

pub use lines::lines;
pub use map::{CommonMap, Gap, Placed};
pub use page::page;
pub use together::{Hearing, HourShown, InputTogether, SectorTogether, StationTogether};
