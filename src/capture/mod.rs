//! Recorded feeds, read and written: the times of their lines, and their inputs.
//!
//! *Invariant:* what a recording tells the watch is what a live input would have told it: lines with
//! times. Nothing in a recording is skipped.

mod reader;
mod recorder;
mod shelf;
mod timeline;

pub use reader::{Moment, Reader};
pub use recorder::{Recorder, Referred, Report};
pub use shelf::{Keep, Recording, around, recordings};
pub use timeline::{LINE_INTERVAL, Timeline};
