//! The inputs: serial, UDP, TCP, stations at a broker, a file, standard input and what a watch passes on, one file a
//! transport.
//!
//! Each input runs as a task of its own and says everything over one channel. Lines go on as they
//! came, stamped when the bytes were read. A channel that is full holds an input back, and none of
//! them drops a line itself, but for datagrams: held back, the system would drop them blindly. They
//! are read on, those of the muster are kept, and how many were dropped is told.

mod drops;
mod finite;
mod important;
mod mqtt;
mod sender;
mod serial;
mod stations;
mod stream;
mod supervisor;
mod tcp;
#[cfg(unix)]
mod through_watch;
mod udp;

pub use important::Important;
pub(in crate::edge) use serial::open as open_serial;
pub use stations::{Stations, is_name};
pub use supervisor::{Retry, spawn};

use std::sync::Arc;

use crate::time::Stamp;
use crate::watch::Dropped;

/// Something that an input has to say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Arrival {
    /// Which input, by the number it was started with.
    pub input: usize,
    /// Which station, where the input is a broker's.
    pub station: Option<Arc<str>>,
    /// When it happened; for a line, when its last bytes were read.
    pub stamp: Stamp,
    /// What happened.
    pub what: What,
}

/// What happened to an input.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum What {
    /// The end of a file or of standard input: nothing follows.
    Ended,
    /// Datagrams were lost before they could be taken.
    Dropped(Dropped),
    /// A line without its end, possibly empty, possibly noise.
    Line(Vec<u8>),
    /// Bytes of a stream that no line end has followed for seconds: noise, as far as that goes. They
    /// are part of the line that follows, if one does.
    Unended(Vec<u8>),
    /// It was lost, or could not be opened: which, why, and what is being done about it. It is
    /// said once; the next thing that is heard of the input is `Opened`, or `Ended` if it has an
    /// end.
    Lost(String),
    /// It is open, for the first time or again.
    Opened,
}
