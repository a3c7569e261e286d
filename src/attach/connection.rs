//! One end of the socket: who comes, what they say, what they are given.

use std::sync::Arc;
use std::time::Duration;

use crossterm::event::Event;
use futures_util::{SinkExt as _, StreamExt as _};
use tokio::io::{AsyncRead, AsyncWriteExt as _};
use tokio::net::{UnixListener, UnixStream};
use tokio::sync::{Semaphore, mpsc};
use tokio::time::timeout;
use tokio_util::bytes::Bytes;
use tokio_util::codec::{FramedRead, FramedWrite, LengthDelimitedCodec};

use super::{ENDED, Hello, LONGEST_DRAWN, LONGEST_SAID, Said, VERSION, cut};

/// So many look on at most. Our own.
const SEATS: usize = 8;

/// Who says nothing for so long at first has nothing to say. Our own.
const HELLO: Duration = Duration::from_secs(5);

/// Who takes nothing for so long is given up. Our own.
const PATIENCE: Duration = Duration::from_secs(30);

/// No keys are taken closer together: a flood of them must not keep the watch from its inputs. Our
/// own.
const BETWEEN_KEYS: Duration = Duration::from_millis(20);

/// So many frames may wait for a terminal: one, and why it is the last.
const WAITING: usize = 2;

/// What happened at a seat.
pub(super) struct News {
    /// Whose it is.
    pub seat: u64,
    pub what: What,
}

pub(super) enum What {
    /// Somebody looks on.
    Came {
        hello: Hello,
        /// Who it is, as it is written down.
        who: String,
        /// What is put here is written on the terminal.
        queue: mpsc::Sender<Bytes>,
    },
    /// They pressed a key, or the terminal has another size.
    Event(Event),
    /// They are gone.
    Gone,
}

/// Lets in who comes, for ever.
pub(super) async fn listen(listener: UnixListener, news: mpsc::Sender<News>) {
    let seats = Arc::new(Semaphore::new(SEATS));
    for seat in 0.. {
        let Ok((mut stream, _)) = listener.accept().await else {
            // Too many open files: others need them more.
            tokio::time::sleep(Duration::from_secs(1)).await;
            continue;
        };
        let Ok(permit) = Arc::clone(&seats).try_acquire_owned() else {
            let said = ended(&format!("{SEATS} screens look at this watch: leave one first"));
            let mut whole = u32::try_from(said.len()).unwrap_or_default().to_be_bytes().to_vec();
            whole.extend_from_slice(&said);
            // A new socket has room for that; who has none gets nothing.
            let _ = timeout(Duration::from_millis(10), stream.write_all(&whole)).await;
            continue;
        };
        let news = news.clone();
        tokio::spawn(async move {
            serve(stream, seat, &news).await;
            let _ = news.send(News { seat, what: What::Gone }).await;
            drop(permit);
        });
    }
}

/// Why there will be no more, as it crosses the socket.
pub(super) fn ended(why: &str) -> Bytes {
    [&[ENDED], why.as_bytes()].concat().into()
}

/// Serves one until they are gone.
async fn serve(stream: UnixStream, seat: u64, news: &mpsc::Sender<News>) -> Option<()> {
    let user = user_of(&stream)?;
    let (reader, writer) = stream.into_split();
    let mut reader = FramedRead::new(reader, cut(LONGEST_SAID));
    let mut writer = FramedWrite::new(writer, cut(LONGEST_DRAWN));
    let Said::Hello(hello) = timeout(HELLO, said(&mut reader)).await.ok()?? else { return None };
    if hello.version != VERSION {
        let version = env!("CARGO_PKG_VERSION");
        let why = format!("the watch is of another age (overside {version}): use the same program");
        return timeout(HELLO, writer.send(ended(&why))).await.ok()?.ok();
    }
    let harmless = |c: &char| c.is_ascii_alphanumeric() || "/._-".contains(*c);
    let terminal: String = hello.terminal.chars().filter(harmless).take(20).collect();
    let who = format!("{user}@{terminal}");
    let (queue, mut drawn) = mpsc::channel(WAITING);
    news.send(News { seat, what: What::Came { hello, who, queue } }).await.ok()?;
    let writes = async {
        while let Some(frame) = drawn.recv().await {
            timeout(PATIENCE, writer.send(frame)).await.ok()?.ok()?;
        }
        Some(())
    };
    let reads = async {
        while let Some(Said::Event(event)) = said(&mut reader).await {
            news.send(News { seat, what: What::Event(event) }).await.ok()?;
            tokio::time::sleep(BETWEEN_KEYS).await;
        }
        Some(())
    };
    tokio::select! {
        done = writes => done,
        done = reads => done,
    }
}

/// The next thing said; `None` at the end, and where it is nothing that can be said.
async fn said<R: AsyncRead + Unpin>(
    reader: &mut FramedRead<R, LengthDelimitedCodec>,
) -> Option<Said> {
    Said::read(&reader.next().await?.ok()?)
}

/// The name of the user at the other end, by what the system knows; `None` if it is neither the
/// watch's own nor the administrator.
fn user_of(stream: &UnixStream) -> Option<String> {
    let user = stream.peer_cred().ok()?.uid();
    let is_ours = user == rustix::process::geteuid().as_raw() || user == 0;
    is_ours.then(|| name_of(user).unwrap_or_else(|| format!("user {user}")))
}

fn name_of(user: u32) -> Option<String> {
    let known = std::fs::read_to_string("/etc/passwd").ok()?;
    let line = known
        .lines()
        .find(|line| line.split(':').nth(2).and_then(|number| number.parse().ok()) == Some(user))?;
    let name = line.split(':').next()?;
    Some(name.chars().filter(|c| !crate::text::is_hostile(*c)).take(32).collect())
}
