//! One watch, several screens: others on this computer look at a watch and answer it.
//!
//! ```text
//!  terminal ── keys, size ──▶ socket ──▶ a Screen of its own, in the watch ──▶ requests, with who
//!           ◀── what to write ── socket ◀── drawn from the same events and picture ◀──┘
//! ```
//! Nothing but keys, what a terminal is to write and the colours it has chosen crosses the socket: no format of an event or of
//! a picture does, so that the two need not be of one age. A proof beside the watch is given what an
//! input receives, line by line, by the same socket ([`crate::edge::passed_on`]).
//!
//! *Invariant:* who looks on holds nobody up: what is not taken is not waited for, and is drawn
//! last. The watch does not know how many look.

mod connection;
mod listeners;
mod seat;
mod shared;

pub use shared::Shared;

use std::io;

use crossterm::event::Event;
use serde::{Deserialize, Serialize};
use tokio_util::bytes::Bytes;
use tokio_util::codec::LengthDelimitedCodec;

pub use crate::edge::passed_on::ENDED;
use crate::edge::passed_on::Listen;
use crate::screen::Depth;

/// The version of what crosses the socket.
pub const VERSION: u32 = 2;

/// Nothing longer is taken from who looks on. Our own.
pub const LONGEST_SAID: usize = 4 * 1024;

/// Nothing longer is to be written on a terminal at once. Our own.
pub const LONGEST_DRAWN: usize = 4 * 1024 * 1024;

/// The first byte of what the terminal is to write.
pub const DRAWN: u8 = b'd';

/// The first byte of the name of colours that were chosen, which the terminal's end remembers.
pub const COLOURS: u8 = b'c';

/// What comes from the other end.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub enum Said {
    /// The first of a terminal: what it is.
    Hello(Hello),
    /// The first and last of a proof: what it wants to hear.
    Listen(Listen),
    /// A key, or another size.
    Event(Event),
}

/// What a terminal is.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Hello {
    /// The version of what it says.
    pub version: u32,
    /// Its name, such as `pts/3`.
    pub terminal: String,
    /// Columns and rows.
    pub size: (u16, u16),
    /// Whether it shows characters beyond ASCII.
    pub unicode: bool,
    /// The name of the colours.
    pub palette: String,
    /// How many of them it can show.
    pub depth: Depth,
}

impl Said {
    /// As it crosses the socket.
    ///
    /// # Errors
    /// It cannot be written down.
    pub fn frame(&self) -> io::Result<Bytes> {
        Ok(serde_json::to_vec(self)?.into())
    }

    /// What came over the socket; `None` if it is nothing that can be said.
    pub(crate) fn read(frame: &[u8]) -> Option<Self> {
        serde_json::from_slice(frame).ok()
    }
}

/// How what crosses the socket is cut: its length before it, at most so many bytes.
pub fn cut(longest: usize) -> LengthDelimitedCodec {
    LengthDelimitedCodec::builder().max_frame_length(longest).new_codec()
}
