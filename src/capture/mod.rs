//! Recorded feeds, read and written: the times of their lines, and their inputs.
//!
//! *Invariant:* what a recording tells the watch is what a live input would have told it: lines with
//! times. Nothing in a recording is skipped.

mod reader;
mod recorder;
mod recording;
mod shelf;
mod timeline;

pub use reader::{Moment, Reader};
pub use recorder::{Recorder, Referred, Report};
pub use recording::{PlacedLine, Recording, Unreadable, check_file, is_standard_input};
pub use shelf::{Keep, RecordedFile, around, recordings};
pub use timeline::{LINE_INTERVAL, Timeline};
