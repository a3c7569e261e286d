//! A serial port. It is filled no faster than it sends: what waits for it waits here, where a casualty
//! goes first, and not in the system, where it would not.

use std::time::Duration;

use tokio::io::AsyncWriteExt as _;
use tokio::time::timeout;

use super::lane::Lane;
use crate::edge::input::open_serial;

/// Start, eight data and one stop bit.
const BITS_A_BYTE: u64 = 10;

/// How long a port may take nothing, beyond the time that it needs. Our own.
const STALLS: Duration = Duration::from_secs(5);

/// Sends what waits until nothing more comes.
///
/// # Errors
/// Those of the system, in words.
pub(super) async fn send(lane: &Lane, path: &str, baud: u32) -> Result<(), String> {
    let mut port = open_serial(path, baud)?;
    lane.works();
    while let Some(message) = lane.queue.next().await {
        let micros = message.bytes.len() as u64 * BITS_A_BYTE * 1_000_000 / u64::from(baud.max(1));
        let takes = Duration::from_micros(micros);
        let done = tokio::time::sleep(takes);
        let failed = match timeout(takes + STALLS, port.write_all(&message.bytes)).await {
            Ok(Ok(())) => None,
            Ok(Err(why)) => Some(format!("the port failed ({why}; unplugged?)")),
            Err(_) => Some("the port takes nothing (is a handshake wanted?)".to_owned()),
        };
        if let Some(why) = failed {
            lane.queue.count_dropped(1);
            return Err(why);
        }
        lane.works();
        done.await;
    }
    Ok(())
}
