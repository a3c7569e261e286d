//! What an input of a watch receives, passed on to another program of this computer: what crosses
//! the socket of the watch, and the end that listens.
//!
//! ```text
//!  watch ── s Opened ── l \s:ais,c:1781402400123*5A\!AIVDM,… ── s Lost("…") ──▶ who listens
//! ```
//! *Invariant:* a line goes over as it was received, noise too, with a TAG block of our own before
//! it: the input's name and the time it came in.

use std::io;
use std::time::Duration;

use futures_util::{SinkExt as _, StreamExt as _};
use serde::{Deserialize, Serialize};
use tokio::net::UnixStream;
use tokio::net::unix::{OwnedReadHalf, OwnedWriteHalf};
use tokio::time::timeout;
use tokio_util::bytes::Bytes;
use tokio_util::codec::{FramedRead, FramedWrite, LengthDelimitedCodec};

use super::{Claims, Holder, InUse, InputUri};
use crate::time::Utc;
use crate::watch::Dropped;
use crate::wire::{LINE_LIMIT, Tag, checksum};

/// The version of what is passed on.
pub const VERSION: u32 = 1;

/// The first byte of a line, of how the input does, and of why there will be no more.
const LINE: u8 = b'l';
const STATE: u8 = b's';
/// The first byte of why there will be no more, of whatever crosses the socket.
pub const ENDED: u8 = b'e';

/// Nothing longer crosses: a line with its TAG block, or a reason. Our own.
const LONGEST: usize = LINE_LIMIT + 1024;

/// How long a watch may take to answer. Our own.
const ANSWER: Duration = Duration::from_secs(5);

/// Who listens says this first, and nothing after it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Listen {
    /// The version that it understands.
    pub version: u32,
    /// The name that the input has in the watch.
    pub input: String,
}

/// How an input of the watch does.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum State {
    /// It is open, for the first time or again.
    Opened,
    /// It broke off, and why.
    Lost(String),
    /// Datagrams were lost: by the program, and by the system.
    Dropped(u64, u64),
}

/// What comes over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Passed {
    /// A line, and when the watch received it.
    Line(Utc, Vec<u8>),
    /// How the input does.
    State(State),
    /// There will be no more, and why.
    Ended(String),
}

/// A line as it crosses the socket.
pub fn line(input: &str, at: Utc, line: &[u8]) -> Bytes {
    let block = format!("s:{},c:{}", Tag::value_of(input), at.unix_ms());
    let block = format!("\\{block}*{:02X}\\", checksum(block.as_bytes()));
    [&[LINE], block.as_bytes(), line].concat().into()
}

/// How an input does, as it crosses the socket.
pub fn state(state: &State) -> Bytes {
    [&[STATE], serde_json::to_vec(state).unwrap_or_default().as_slice()].concat().into()
}

impl Passed {
    /// What came over; `None` if it is nothing that this version knows.
    fn read(frame: &[u8]) -> Option<Self> {
        let (&kind, rest) = frame.split_first()?;
        Some(match kind {
            LINE => {
                let rest = rest.strip_prefix(b"\\")?;
                let end = memchr::memchr(b'\\', rest)?;
                let at = Tag::parse(&rest[..end])?.time?;
                Self::Line(at, rest[end + 1..].to_vec())
            }
            STATE => Self::State(serde_json::from_slice(rest).ok()?),
            ENDED => Self::Ended(String::from_utf8_lossy(rest).into_owned()),
            _ => return None,
        })
    }
}

/// The end that listens.
#[derive(Debug)]
pub struct Listener {
    frames: FramedRead<OwnedReadHalf, LengthDelimitedCodec>,
    /// How the input did when it began.
    first: Option<State>,
    /// Which watch it is.
    holder: Holder,
    /// Kept: its end would say that nobody listens any more.
    _says: FramedWrite<OwnedWriteHalf, LengthDelimitedCodec>,
}

impl Listener {
    /// Listens to what is received at an address by the watch that reads it.
    ///
    /// # Errors
    /// Why that cannot be, for a person.
    pub async fn open(uri: &InputUri) -> Result<Self, String> {
        let claims = Claims::new(|name| std::env::var_os(name));
        let Some(InUse { by, .. }) = claims.reader("", uri) else {
            return Err("no watch reads it any more".to_owned());
        };
        let holder = *by.ok_or("it does not say who it is")?;
        Self::of(holder).await
    }

    /// Listens to what the holder of an input receives.
    async fn of(holder: Holder) -> Result<Self, String> {
        let door = holder.door.as_ref().ok_or("it does not pass on what it receives")?;
        let stream = UnixStream::connect(door).await.map_err(|why| match why.kind() {
            io::ErrorKind::PermissionDenied => "it is another user's".to_owned(),
            _ => format!("its socket {} cannot be used ({why})", door.display()),
        })?;
        let (reader, writer) = stream.into_split();
        let codec = || LengthDelimitedCodec::builder().max_frame_length(LONGEST).new_codec();
        let mut says = FramedWrite::new(writer, codec());
        let listen = Listen { version: VERSION, input: holder.input.clone() };
        let said = serde_json::json!({ "Listen": listen }).to_string();
        // Where it cannot be said, there is no answer.
        let _ = says.send(Bytes::from(said)).await;
        let frames = FramedRead::new(reader, codec());
        let mut listener = Self { frames, first: None, holder, _says: says };
        match timeout(ANSWER, listener.receive()).await {
            Ok(Some(Passed::State(first))) => listener.first = Some(first),
            Ok(Some(Passed::Ended(why))) => return Err(why),
            Ok(_) => return Err("it gives another answer than this version knows".to_owned()),
            Err(_) => return Err("it does not answer".to_owned()),
        }
        Ok(listener)
    }

    /// Which watch it is.
    pub const fn holder(&self) -> &Holder {
        &self.holder
    }

    /// What comes next; `None` when the watch is gone.
    pub async fn next(&mut self) -> Option<Passed> {
        match self.first.take() {
            Some(first) => Some(Passed::State(first)),
            None => self.receive().await,
        }
    }

    async fn receive(&mut self) -> Option<Passed> {
        Passed::read(&self.frames.next().await?.ok()?)
    }
}

impl From<Dropped> for State {
    fn from(dropped: Dropped) -> Self {
        Self::Dropped(dropped.by_us, dropped.by_system)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_passed_on_comes_over_as_it_was_received() {
        let at = Utc::from_unix_ms(1_781_402_400_123).unwrap();
        for bytes in [
            &b"!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D"[..],
            b"\\s:x,t:DRILL*00\\!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D",
            b"\\\\ \xff\x00noise\\",
            b"",
        ] {
            let frame = line("AIS, masthead\\", at, bytes);
            assert_eq!(Passed::read(&frame), Some(Passed::Line(at, bytes.to_vec())));
        }
        for it in [State::Opened, State::Lost("why".to_owned()), State::Dropped(1, 2)] {
            assert_eq!(Passed::read(&state(&it)), Some(Passed::State(it)));
        }
        for nonsense in [&b""[..], b"l", b"lx", b"l\\s:a*00\\x", b"s{", b"d\x1b[2J"] {
            assert_eq!(Passed::read(nonsense), None);
        }
    }
}
