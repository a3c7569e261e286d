//! A port to which displays connect: each gets all that is said from then on, at its own pace. What it
//! asks of the alerts is heard where they are told.

use std::io;
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use socket2::SockRef;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::tcp::OwnedReadHalf;
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinSet;
use tokio::time::timeout;

use super::lane::Lane;
use super::queue::Queue;
use crate::outputs::is_asked;
use crate::wire::Splitter;

/// So many may be connected; who comes then is refused. Our own.
const MOST: usize = 16;

/// Who takes nothing for so long is hung up on. Our own.
const STALLS: Duration = Duration::from_secs(10);

/// How much the system may keep for one who is slow: what it keeps goes before a casualty. Our own.
const KEPT: usize = 8 * 1024;

/// What a display says is read no faster than this: 50 kB a second, and ten questions. Our own.
const READS_EVERY: Duration = Duration::from_millis(10);
const ASKED_EVERY: Duration = Duration::from_millis(100);

/// Serves all who connect until nothing more comes.
///
/// # Errors
/// Those of the system, in words.
pub(super) async fn serve(lane: &Arc<Lane>, at: SocketAddr) -> Result<(), String> {
    let listener = TcpListener::bind(at).await.map_err(|why| {
        format!("port {at} cannot be opened ({why}; does another program use it?)")
    })?;
    lane.works();
    let mut displays: Vec<(Arc<Queue>, SocketAddr)> = Vec::new();
    let mut serving = JoinSet::new();
    loop {
        lane.connected.store(displays.len(), Ordering::Relaxed);
        tokio::select! {
            accepted = listener.accept() => match accepted {
                Ok((_, from)) if displays.len() == MOST => {
                    tracing::warn!("{from} is refused: {MOST} are connected to {at}");
                }
                Ok((stream, from)) => {
                    let queue = Arc::new(Queue::new(lane.clock));
                    displays.push((Arc::clone(&queue), from));
                    let lane = Arc::clone(lane);
                    serving.spawn(async move { (from, one(stream, from.ip(), &lane, &queue).await) });
                }
                // One who went before it was answered, or too many descriptors: a moment later.
                Err(_) => tokio::time::sleep(Duration::from_millis(100)).await,
            },
            Some(done) = serving.join_next() => {
                if let Ok((from, why)) = done {
                    tracing::info!("{from} has left {at}: {why}");
                    displays.retain(|(_, it)| *it != from);
                }
            }
            message = lane.queue.next() => {
                let Some(message) = message else { break };
                let dropped = displays.iter().map(|(queue, _)| queue.push(Arc::clone(&message)));
                lane.queue.count_dropped(dropped.sum());
            }
        }
    }
    displays.iter().for_each(|(queue, _)| queue.close());
    // Who is slow is not waited for.
    let _ =
        timeout(Duration::from_millis(500), async { while serving.join_next().await.is_some() {} })
            .await;
    Ok(())
}

/// Sends all of a queue to one of them, and hears what it asks. Why it ended.
async fn one(stream: TcpStream, by: IpAddr, lane: &Lane, queue: &Queue) -> String {
    // It is served with other settings, too.
    let _ = stream.set_nodelay(true);
    let _ = SockRef::from(&stream).set_send_buffer_size(KEPT);
    let (from, mut to) = stream.into_split();
    let send = async {
        while let Some(message) = queue.next().await {
            match timeout(STALLS, to.write_all(&message.bytes)).await {
                Ok(Ok(())) => {}
                Ok(Err(why)) => return why.to_string(),
                Err(_) => return format!("it took nothing for {} s", STALLS.as_secs()),
            }
        }
        let _: io::Result<()> = to.shutdown().await;
        "the end".to_owned()
    };
    tokio::select! {
        why = hear(from, by, lane) => why,
        why = send => why,
    }
}

/// Hears what a display asks until it has gone; of all else it says, nothing is asked for. Why it has
/// gone.
async fn hear(mut from: OwnedReadHalf, by: IpAddr, lane: &Lane) -> String {
    let (mut bytes, mut lines) = ([0; 512], Splitter::new());
    loop {
        let length = match from.read(&mut bytes).await {
            Ok(0) => return "it has hung up".to_owned(),
            Ok(length) => length,
            Err(why) => return why.to_string(),
        };
        let mut asked = 0;
        lines.push(&bytes[..length], |line| {
            if lane.is_asked() && is_asked(line) {
                lane.asked(by, line);
                asked += 1;
            }
        });
        tokio::time::sleep(READS_EVERY + ASKED_EVERY * asked).await;
    }
}
