//! Reads lines from a stream of bytes until it breaks.

use std::io;

use tokio::io::{AsyncRead, AsyncReadExt};

use super::sender::{ArrivalSender, Unheard};
use crate::wire::Splitter;

/// How listening to an open input came to its end.
pub(super) struct Break {
    /// Whether anything was heard before.
    pub(super) heard: bool,
    /// The error, or `None` where the stream just ended.
    pub(super) error: Option<io::Error>,
}

/// Passes on every line until the stream ends or fails, then what was left without a line end.
pub(super) async fn listen(
    mut port: impl AsyncRead + Unpin,
    sender: &ArrivalSender,
) -> Result<Break, Unheard> {
    let mut splitter = Splitter::new();
    let mut buffer = vec![0; 4096];
    let mut heard = false;
    loop {
        let error = match port.read(&mut buffer).await {
            Ok(0) => None,
            Ok(length) => {
                heard = true;
                sender.pass(sender.cut(&mut splitter, &buffer[..length])).await?;
                continue;
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) => Some(error),
        };
        sender.pass(sender.rest(&mut splitter)).await?;
        return Ok(Break { heard, error });
    }
}
