//! Keeps one input open: opens it, listens, and after every break tries again.
//!
//! ```text
//!             opened                 error, end
//!  opening ───────────▶ listening ───────────────▶ lost
//!     ▲  └───────── cannot be opened ──────────────▶ │
//!     └───────────── after a pause, each twice ──────┘
//!                    as long as the one before
//! ```

use std::time::Duration;

use tokio::sync::mpsc::Sender;
use tokio::task::JoinHandle;

use super::sender::{ArrivalSender, Unheard};
use super::stream::Break;
#[cfg(unix)]
use super::through_watch;
use super::{Arrival, Important, Stations, What, finite, mqtt, serial, stream, tcp, udp};
#[cfg(unix)]
use crate::edge::passed_on::Listener;
use crate::edge::{Clock, InputUri};
use crate::thread::caught_async;

/// How long to wait before a lost input is opened again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Retry {
    /// The first pause, half a second by default. It doubles with each attempt.
    pub first: Duration,
    /// The longest pause, ten seconds by default.
    pub longest: Duration,
}

impl Retry {
    /// Stations send at once what waited when a broker is there again: whoever subscribes later than
    /// five seconds may miss it.
    fn soon(self) -> Self {
        Self { longest: self.longest.min(Duration::from_secs(2)), ..self }
    }
}

impl Default for Retry {
    fn default() -> Self {
        Self { first: Duration::from_millis(500), longest: Duration::from_secs(10) }
    }
}

/// Starts an input as a task of its own. Needs a tokio runtime with IO and time.
///
/// What is `important` is not dropped in a flood of datagrams; `stations` are shared by the inputs of
/// one program.
///
/// The task says everything over `tx`, as input number `input`. It ends when the receiver is
/// dropped, and a finite input with [`What::Ended`]; all others are opened again for ever. A file
/// that cannot be read is not tried again: `Lost` and `Ended` follow each other.
pub fn spawn(
    input: usize,
    uri: InputUri,
    clock: Clock,
    retry: Retry,
    tx: Sender<Arrival>,
    important: Important,
    stations: Stations,
) -> JoinHandle<()> {
    tokio::spawn(async move {
        let sender = ArrivalSender::new(input, clock, tx.clone(), important, stations);
        let run = async {
            match &uri {
                InputUri::File(path) => finite::file(sender, path).await,
                InputUri::Stdin => finite::standard_input(sender).await,
                _ => {
                    let retry = if matches!(uri, InputUri::Mqtt(_)) { retry.soon() } else { retry };
                    let open = || Source::open(uri.clone());
                    let listen = |source: Source| source.listen(sender.clone());
                    supervise(&sender, &uri, retry, open, listen).await
                }
            }
        };
        tokio::select! {
            () = tx.closed() => {}
            // Either it ended or nobody listens: there is nobody left to tell which.
            _ = run => {}
        }
    })
}

/// Opens and listens for ever, until nobody hears it.
///
/// A panic in either is a cause like any other. `listen` says whether anything was heard, and why it
/// broke.
async fn supervise<S, O, L>(
    sender: &ArrivalSender,
    uri: &InputUri,
    retry: Retry,
    mut open: impl FnMut() -> O,
    mut listen: impl FnMut(S) -> L,
) -> Result<(), Unheard>
where
    O: Future<Output = Result<S, String>>,
    L: Future<Output = Result<(bool, String), Unheard>>,
{
    let mut pause = retry.first;
    let mut told = false;
    loop {
        let cause = match caught_async(open()).await.unwrap_or_else(Err) {
            Ok(source) => {
                sender.say(What::Opened).await?;
                told = false;
                let broken = caught_async(listen(source)).await;
                let (heard, cause) = broken.unwrap_or_else(|why| Ok((false, why)))?;
                // A server that hangs up at once, every time, is not called twice a second.
                if heard {
                    pause = retry.first;
                }
                cause
            }
            Err(cause) => cause,
        };
        if told {
            tracing::debug!("{uri}: {cause}");
        } else {
            let longest = retry.longest.as_secs_f64();
            let lost = format!("{uri}: {cause}; trying again, at least every {longest} s");
            sender.say(What::Lost(lost)).await?;
            told = true;
        }
        tokio::time::sleep(pause).await;
        pause = pause.saturating_mul(2).min(retry.longest);
    }
}

/// An input without an end of its own, open.
enum Source {
    Serial(tokio_serial::SerialStream),
    Tcp(tokio::net::TcpStream),
    Udp(tokio::net::UdpSocket),
    Mqtt(Box<mqtt::Subscription>),
    #[cfg(unix)]
    ThroughWatch(Box<Listener>),
}

impl Source {
    async fn open(uri: InputUri) -> Result<Self, String> {
        match uri {
            InputUri::Serial { path, baud } => serial::open(&path, baud).map(Self::Serial),
            InputUri::Tcp { host, port } => tcp::open(&host, port).await.map(Self::Tcp),
            InputUri::Udp(address) => udp::open(address).map(Self::Udp),
            InputUri::Mqtt(broker) => mqtt::open(&broker).await.map(|it| Self::Mqtt(Box::new(it))),
            #[cfg(unix)]
            InputUri::ThroughWatch(uri) => {
                Listener::open(&uri).await.map(|it| Self::ThroughWatch(Box::new(it)))
            }
            #[cfg(not(unix))]
            InputUri::ThroughWatch(_) => Err("no watch passes anything on here".to_owned()),
            // These two have an end and are never supervised.
            InputUri::File(_) | InputUri::Stdin => Err("it is read once".to_owned()),
        }
    }

    /// Listens until the source breaks; says whether anything was heard, and why it broke.
    async fn listen(self, sender: ArrivalSender) -> Result<(bool, String), Unheard> {
        let (Break { heard, error }, cause): (_, fn(_) -> _) = match self {
            Self::Serial(port) => (stream::listen(port, &sender).await?, serial::cause),
            Self::Tcp(connection) => (stream::listen(connection, &sender).await?, tcp::cause),
            Self::Udp(socket) => (udp::listen(socket, &sender).await?, udp::cause),
            Self::Mqtt(subscription) => return mqtt::listen(*subscription, &sender).await,
            #[cfg(unix)]
            Self::ThroughWatch(listener) => {
                return through_watch::listen(*listener, &sender).await;
            }
        };
        Ok((heard, cause(error)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test(start_paused = true)]
    async fn a_panic_is_told_and_the_input_is_opened_again() {
        let (tx, mut rx) = tokio::sync::mpsc::channel(8);
        let important = Important::default();
        let sender = ArrivalSender::new(1, Clock::start(), tx, important, Stations::default());
        let uri: InputUri = "tcp://192.0.2.1:1".parse().unwrap();
        let mut attempts = 0;
        let open = || {
            attempts += 1;
            let attempt = attempts;
            async move {
                assert_ne!(attempt, 1, "while it opens");
                Ok(attempt)
            }
        };
        let listen = async |attempt| {
            assert_ne!(attempt, 2, "while it listens");
            Err(Unheard)
        };
        supervise(&sender, &uri, Retry::default(), open, listen).await.unwrap_err();
        let mut next = || rx.try_recv().unwrap().what;
        for place in ["while it opens", "while it listens"] {
            let What::Lost(why) = next() else { panic!("it is not lost") };
            assert!(why.contains("it panicked") && why.contains(place), "{why}");
            assert_eq!(next(), What::Opened);
        }
    }
}
