//! One end of the socket: who comes, what they say, what they are given.

use std::sync::Arc;
use std::time::Duration;

use crossterm::event::Event;
use futures_util::{SinkExt as _, StreamExt as _};
use tokio::io::AsyncWriteExt as _;
use tokio::net::unix::{OwnedReadHalf, OwnedWriteHalf};
use tokio::net::{UnixListener, UnixStream};
use tokio::sync::{Semaphore, mpsc};
use tokio::time::timeout;
use tokio_util::bytes::Bytes;
use tokio_util::codec::{FramedRead, FramedWrite, LengthDelimitedCodec};

use super::{ENDED, Hello, LONGEST_DRAWN, LONGEST_SAID, Said, VERSION, cut};
use crate::edge::passed_on::{self, Listen};

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

/// So many lines may wait for a proof: a quarter of a minute of a busy coast. Our own.
const WAITING_LINES: usize = 1024;

/// So many are there at once, screens, proofs and who has not said yet what they are. Our own.
const CONNECTIONS: usize = 32;

/// Why a proof hears no more.
const TOO_SLOW: &str = "lines were lost: they were not taken fast enough";

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
    /// Somebody wants to hear what an input receives.
    Listens {
        /// Its name.
        input: String,
        /// What is put here crosses the socket.
        queue: mpsc::Sender<Bytes>,
    },
    /// They pressed a key, or the terminal has another size.
    Event(Event),
    /// They are gone.
    Gone,
}

/// Lets in who comes, for ever.
pub(super) async fn listen(listener: UnixListener, news: mpsc::Sender<News>) {
    let connections = Arc::new(Semaphore::new(CONNECTIONS));
    let seats = Arc::new(Semaphore::new(SEATS));
    for seat in 0.. {
        let Ok((mut stream, _)) = listener.accept().await else {
            // Too many open files: others need them more.
            tokio::time::sleep(Duration::from_secs(1)).await;
            continue;
        };
        let Ok(permit) = Arc::clone(&connections).try_acquire_owned() else {
            let said = ended(&format!("{CONNECTIONS} look at this watch: leave one first"));
            let mut whole = u32::try_from(said.len()).unwrap_or_default().to_be_bytes().to_vec();
            whole.extend_from_slice(&said);
            // A new socket has room for that; who has none gets nothing.
            let _ = timeout(Duration::from_millis(10), stream.write_all(&whole)).await;
            continue;
        };
        let (news, seats) = (news.clone(), Arc::clone(&seats));
        tokio::spawn(async move {
            serve(stream, seat, &news, &seats).await;
            let _ = news.send(News { seat, what: What::Gone }).await;
            drop(permit);
        });
    }
}

/// Why there will be no more, as it crosses the socket.
pub(super) fn ended(why: &str) -> Bytes {
    [&[ENDED], why.as_bytes()].concat().into()
}

/// Where it is read what one says, and written what they get.
type Reader = FramedRead<OwnedReadHalf, LengthDelimitedCodec>;
type Writer = FramedWrite<OwnedWriteHalf, LengthDelimitedCodec>;

/// Serves one until they are gone.
async fn serve(
    stream: UnixStream,
    seat: u64,
    news: &mpsc::Sender<News>,
    seats: &Semaphore,
) -> Option<()> {
    let user = user_of(&stream)?;
    let (reader, writer) = stream.into_split();
    let mut reader = FramedRead::new(reader, cut(LONGEST_SAID));
    let mut writer = FramedWrite::new(writer, cut(LONGEST_DRAWN));
    let first = timeout(HELLO, said(&mut reader)).await.ok()??;
    let is_known = match &first {
        Said::Hello(hello) => hello.version == VERSION,
        Said::Listen(listen) => listen.version == passed_on::VERSION,
        Said::Event(_) => return None,
    };
    if !is_known {
        let version = env!("CARGO_PKG_VERSION");
        let why =
            format!("the watch is of another version (overside {version}): use the same program");
        return end(&mut writer, &why).await;
    }
    match first {
        Said::Hello(hello) => {
            let Ok(_taken) = seats.try_acquire() else {
                let why = format!("{SEATS} screens look at this watch: leave one first");
                return end(&mut writer, &why).await;
            };
            look(reader, writer, seat, news, &user, hello).await
        }
        Said::Listen(Listen { input, .. }) => {
            let (queue, passed) = mpsc::channel(WAITING_LINES);
            news.send(News { seat, what: What::Listens { input, queue } }).await.ok()?;
            pass_on(reader, writer, passed).await
        }
        Said::Event(_) => None,
    }
}

/// Says why there will be no more.
async fn end(writer: &mut Writer, why: &str) -> Option<()> {
    timeout(HELLO, writer.send(ended(why))).await.ok()?.ok()
}

/// Writes what an input receives until nobody listens, or until they were given up.
async fn pass_on(
    mut reader: Reader,
    mut writer: Writer,
    mut passed: mpsc::Receiver<Bytes>,
) -> Option<()> {
    let writes = async {
        while let Some(frame) = passed.recv().await {
            timeout(PATIENCE, writer.send(frame)).await.ok()?.ok()?;
        }
        end(&mut writer, TOO_SLOW).await
    };
    tokio::select! {
        done = writes => done,
        _ = reader.next() => None,
    }
}

/// Serves a terminal.
async fn look(
    mut reader: Reader,
    mut writer: Writer,
    seat: u64,
    news: &mpsc::Sender<News>,
    user: &str,
    hello: Hello,
) -> Option<()> {
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
async fn said(reader: &mut Reader) -> Option<Said> {
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
