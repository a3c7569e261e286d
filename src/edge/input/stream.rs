//! Reads lines from a stream of bytes until it breaks.

use std::io;

use std::time::Duration;

use tokio::io::{AsyncRead, AsyncReadExt};

use super::What;
use super::sender::{ArrivalSender, Unheard};
use crate::time::Mono;
use crate::wire::{LINE_LIMIT, Splitter};

/// How listening to an open input came to its end.
pub(super) struct Break {
    /// Whether anything was heard before.
    pub(super) heard: bool,
    /// The error, or `None` where the stream just ended.
    pub(super) error: Option<io::Error>,
}

/// What came in since the last line end, and since when.
#[derive(Default)]
struct Unended {
    bytes: Vec<u8>,
    since: Option<Mono>,
}

impl Unended {
    /// How long a line may take: at 4800 bits a second the longest takes a fifth of that. Our own.
    const LONGEST: Duration = Duration::from_secs(1);

    /// Takes what was read. Gives what there is when no line has ended for too long.
    fn take(&mut self, bytes: &[u8], line_ended: bool, now: Mono) -> Option<Vec<u8>> {
        if line_ended {
            *self = Self::default();
            return None;
        }
        let room = LINE_LIMIT.saturating_sub(self.bytes.len()).min(bytes.len());
        self.bytes.extend_from_slice(&bytes[..room]);
        let since = *self.since.get_or_insert(now);
        (now.since(since) > Self::LONGEST).then(|| std::mem::take(self).bytes)
    }
}

/// Passes on every line until the stream ends or fails, then what was left without a line end.
pub(super) async fn listen(
    mut port: impl AsyncRead + Unpin,
    sender: &ArrivalSender,
) -> Result<Break, Unheard> {
    let mut splitter = Splitter::new();
    let mut buffer = vec![0; 4096];
    let mut heard = false;
    let mut unended = Unended::default();
    loop {
        let error = match port.read(&mut buffer).await {
            Ok(0) => None,
            Ok(length) => {
                heard = true;
                let lines = sender.cut(&mut splitter, &buffer[..length]);
                let now = sender.clock.now().at;
                let noise = unended.take(&buffer[..length], !lines.is_empty(), now);
                sender.pass(lines).await?;
                if let Some(bytes) = noise {
                    sender.say(What::Unended(bytes)).await?;
                }
                continue;
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) => Some(error),
        };
        sender.pass(sender.rest(&mut splitter)).await?;
        return Ok(Break { heard, error });
    }
}
