//! Recorded feeds, read and written: the times of their lines, and their inputs.
//!
//! *Invariant:* what a recording tells the watch is what a live input would have told it: lines with
//! times. Nothing in a recording is skipped.

mod archive;
mod reader;
mod recorder;
mod recording;
mod timeline;

pub use archive::{RecordedFile, Retention, around, recordings, spanning};
pub use reader::{LineOrigin, Reader};
pub use recorder::{Recorder, RecorderReport, Referred, tagged};
pub use recording::{PlacedLine, Recording, Unreadable, check_file, is_standard_input};
pub use timeline::{LINE_INTERVAL, Timeline};
