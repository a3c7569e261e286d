//! The debrief: a recording measured, so that a crew can talk about it afterwards.
//!
//! ```text
//!  lines ──▶ Watch ──▶ Observer (bounded) ──▶ Drill ──▶ JSON, plot, sentences, page, GPX
//! ```
//! *Invariant:* every number says how it was determined, or why it is not known; every sentence
//! comes from a number. No praise, no blame.
//!
//! *Invariant:* bounded. A recording of a day grows nothing beyond the limits of `track` and `heard`,
//! and at the limit what is near the casualty survives.

mod adrift;
mod approach;
mod called;
mod courses;
mod crew;
mod drill;
mod events;
mod expected;
mod found;
mod heard;
mod json;
mod labels;
mod log;
mod measure;
mod measured;
mod measures;
mod observer;
mod page;
mod plot;
mod ranges;
mod reception;
mod recovery;
mod scene;
mod sentences;
mod told;
mod track;
mod track_file;
mod turn;
mod unseen;
mod watched;
mod way_back;
mod wind;

pub use approach::{metres, metres_bound, metres_within, range_of};
pub use crew::Enrolled;
pub use drill::{
    Burst, Called, Casualty, CasualtyFix, Drill, DrillEvent, DrillEventKind, OwnPoint, Phase,
    RangeAt, Received, Unwatched, Wind,
};
pub use json::{CasualtySummary, document};
pub use labels::span;
pub use log::{LogEntry, Logged};
pub use measured::Measured;
pub use measures::{
    AlarmMeasures, ApproachMeasures, CasualtyDrift, Measures, Pass, PositionError, RangeBand,
    ReceptionMeasures, RecoveredBy, RecoveryMeasures, Steering, TurnMeasures,
};
pub use observer::{About, Observer};
pub use page::{chart, page};
pub use plot::plot;
pub use sentences::in_short;
pub use track_file::write_gpx;
