//! What is said to other equipment on board and to other programs: sentences passed on, casualties,
//! alerts, events.
//!
//! *Invariant:* no IO, no clock. Nothing that makes a radio or a transponder transmit is ever said;
//! nobody is told of a test as of a casualty.

mod alerts;
mod call;
mod casualty;
mod heard;
mod sentence;
mod signal_k;

use std::sync::Arc;
use std::time::Duration;

use serde::Deserialize;

pub use alerts::{AlertAct, AlertList, Asked, is_asked};
pub use call::told_call;
pub use casualty::{Casualties, Form, Saying, casualties};
pub use heard::{Heard, Verdict, is_of_a_transmitter};

pub use signal_k::delta;

use crate::time::Stamp;
use crate::watch::{CasualtyId, Relayed};

/// The talker of our own sentences: one of those that IEC 61162-1 leaves to the user (U0 to U9, from
/// memory). It says truly what nobody else is, and by it a program of this kind knows its own.
pub const TALKER: &str = "U8";

/// What an output says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum What {
    /// Every good sentence that comes in, as it came.
    Heard,
    /// Where the casualties are, for displays.
    Casualty,
    /// The alerts, after IEC 62923.
    Alerts,
    /// The events of `watch --json`.
    Events,
    /// Deltas of Signal K.
    #[serde(rename = "signalk")]
    SignalK,
}

impl What {
    /// All there is.
    pub const ALL: [Self; 5] =
        [Self::Heard, Self::Casualty, Self::Alerts, Self::Events, Self::SignalK];

    /// Its word in the configuration.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Heard => "heard",
            Self::Casualty => "casualty",
            Self::Alerts => "alerts",
            Self::Events => "events",
            Self::SignalK => "signalk",
        }
    }

    /// How long a message is worth sending; for ever if `None`. Whoever gets it later takes a place
    /// of then for one of now. Our own.
    pub const fn holds(self) -> Option<Duration> {
        match self {
            Self::Heard => Some(Duration::from_secs(5)),
            Self::Casualty | Self::Alerts | Self::SignalK => Some(Duration::from_secs(30)),
            // Each has its time in it.
            Self::Events => None,
        }
    }
}

/// What one output is to say.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wants {
    /// What it says.
    pub what: Vec<What>,
    /// The inputs whose sentences it passes on, by name; all if empty.
    pub inputs: Vec<String>,
    /// How often casualties are told again.
    pub every: Duration,
    /// How casualties are told.
    pub form: Form,
    /// Whether acknowledgements and silences that come in as ACN are obeyed, by any input or from a
    /// display that is connected to it.
    pub accept: bool,
}

impl Wants {
    /// Whether it says this.
    pub fn says(&self, what: What) -> bool {
        self.what.contains(&what)
    }

    /// Whether it passes on what this input hears.
    pub fn passes_on(&self, input: &str) -> bool {
        self.says(What::Heard)
            && (self.inputs.is_empty() || self.inputs.iter().any(|it| it == input))
    }
}

/// Something to send: a line with its end, or what belongs together of several.
#[derive(Clone, Debug)]
pub struct Message {
    /// What it is.
    pub what: What,
    /// The input that a sentence was heard by; `None` for what is our own.
    pub input: Option<Arc<str>>,
    /// The casualty whose place it tells: a later message about the same takes its place while it
    /// waits. `None` for all else.
    pub about: Option<CasualtyId>,
    /// When the sentence came in, or when it was said.
    pub stamp: Stamp,
    /// Whether it is about what is only rehearsed: then it does not leave this computer.
    pub rehearsed: bool,
    /// What goes out.
    pub bytes: Arc<[u8]>,
}

impl Message {
    /// Something of our own.
    pub fn own(what: What, stamp: Stamp, rehearsed: bool, text: String) -> Self {
        Self { what, input: None, about: None, stamp, rehearsed, bytes: text.into_bytes().into() }
    }

    /// A line as it was received by an input, without its end: it goes out byte for byte, ended by
    /// CR LF.
    pub fn heard(input: &str, stamp: Stamp, line: &[u8], rehearsed: bool) -> Self {
        let bytes = [line, b"\r\n"].concat().into();
        let (what, input) = (What::Heard, Some(input.into()));
        Self { what, input, about: None, stamp, rehearsed, bytes }
    }

    /// A DSC call that an input heard, as other stations are told of it; `None` if the line is none,
    /// and of what a station was told itself.
    pub fn call(input: &str, stamp: Stamp, line: &[u8], rehearsed: bool) -> Option<Self> {
        let text = call::text_of(line).filter(|_| Relayed::of_line(line).is_none())?;
        Some(Self::heard(input, stamp, text.as_bytes(), rehearsed))
    }

    /// Whether it is such a call.
    pub fn is_call(&self) -> bool {
        self.what == What::Heard && self.bytes.starts_with(b"{")
    }
}
