//! A broker: what is said is published there, and what is heard while it is away is sent afterwards.
//!
//! ```text
//!            connected: live lines at once, and kept as well
//!   away ──────────────────────────────────────▶ settling ── after SETTLES ──▶ there
//!    ▲  lines are kept on disk                                      what was kept is sent
//!    └──────────────────────────── the connection breaks ─────────────────────────┘
//! ```
//! A broker that was restarted may have forgotten who listens. So what was kept is sent when they
//! have had the time to come back; what they get twice, they know again. Lines of beacons and DSC
//! calls, few as they are, are sent at once as well.
//!
//! The lines of a message follow a TAG block alone that says when it was sent: see
//! `edge/input/mqtt.rs`.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use rumqttc::{AsyncClient, Event, EventLoop, LastWill, Packet, QoS};
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

use super::held::{self, Held};
use super::lane::Lane;
use super::unsent::{Unsent, is_urgent};
use crate::capture::tagged;
use crate::edge::Broker;
use crate::edge::broker::{cause, connection};
use crate::outputs::{Message, What};
use crate::time::{Mono, Stamp};
use crate::watch::Relayed;
use crate::wire::checksum;

/// How long those who listen have to come back to a broker: longer than the longest pause of an input
/// of this program. Our own.
const SETTLES: Duration = Duration::from_secs(5);

/// What arrived at the broker so shortly before it was lost is sent again: it may have gone with it.
/// Our own.
const SENT_AGAIN: Duration = Duration::from_secs(5);

/// How long a broker may take to confirm the last messages: the rest of a second or two of
/// [`super::CLOSING`] is the disk's. Our own.
const ENDS: Duration = Duration::from_secs(1);

/// The pauses between attempts to connect. Our own.
const PAUSE: Duration = Duration::from_millis(500);
const LONGEST_PAUSE: Duration = Duration::from_secs(5);

/// Messages under way, of all and of those that were kept. Our own.
const UNDER_WAY: usize = 900;
const KEPT_UNDER_WAY: usize = 8;

/// Lines of one message at most, in bytes. Our own.
const PIECE: usize = 16 * 1024;

/// A step of the computer's clock that is taken over.
const STEP_MS: u64 = 2_000;

/// What the connection says.
enum News {
    Up,
    Arrived,
    Down(String),
}

/// A message that the broker has not confirmed.
enum UnderWay {
    /// Lines as they came in.
    Live(Vec<(Arc<Message>, Stamp)>),
    /// Lines that were kept, up to here.
    Kept(usize),
    /// Something of our own.
    Own(Arc<Message>),
    Nothing,
}

impl UnderWay {
    const fn is_own(&self) -> bool {
        matches!(self, Self::Own(_))
    }
}

/// How far it is with the broker.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Link {
    Away,
    /// It is there, and the others come back until then.
    Settling(Mono),
    There,
}

struct Publisher<'a> {
    lane: &'a Lane,
    topic: &'a str,
    client: AsyncClient,
    link: Link,
    under_way: VecDeque<UnderWay>,
    /// Lines that have arrived lately.
    arrived: VecDeque<(Arc<Message>, Stamp)>,
    held: Held,
    /// Lines of beacons and calls that came in while the broker was away.
    urgent: VecDeque<(Arc<Message>, Stamp)>,
    unsent: Unsent,
    /// Labels go on evenly from here.
    even: Option<Stamp>,
}

/// Publishes what waits until nothing more comes.
///
/// # Errors
/// A broker that cannot even be tried, in words.
pub(super) async fn publish(lane: &Arc<Lane>, broker: &Broker) -> Result<(), String> {
    let topic = broker.topic.as_str();
    // Two outputs to one station are two: a broker hangs up on the first of two of one name.
    let mut options = broker.options(&format!("output {}", lane.name))?;
    let will = LastWill::new(format!("{topic}/state"), state("lost"), QoS::AtLeastOnce, true);
    options.set_clean_session(true).set_last_will(will);
    let (client, events) = connection(options, 2 * UNDER_WAY);
    let (tx, news) = unbounded_channel();
    let kept = tokio::spawn(connect(events, tx));
    let folder = broker.spool.clone().unwrap_or_else(no_folder);
    let unsent = Unsent::within(&folder, Arc::clone(lane));
    let held = Held::within(&folder, lane.clock.now());
    let mut publisher = Publisher {
        lane,
        topic,
        client,
        link: Link::Away,
        under_way: VecDeque::new(),
        arrived: VecDeque::new(),
        held,
        urgent: VecDeque::new(),
        unsent,
        even: None,
    };
    publisher.run(news).await;
    kept.abort();
    Ok(())
}

/// Where nobody has named a folder.
fn no_folder() -> PathBuf {
    std::env::temp_dir().join(format!("overside-unsent-{}", std::process::id()))
}

fn state(word: &str) -> String {
    format!("{{\"state\":\"{word}\"}}")
}

/// Keeps the connection: a task of its own, because an attempt that is called off begins anew.
async fn connect(mut events: EventLoop, news: UnboundedSender<News>) {
    let mut pause = PAUSE;
    loop {
        let said = match events.poll().await {
            Ok(Event::Incoming(Packet::ConnAck(_))) => {
                pause = PAUSE;
                News::Up
            }
            Ok(Event::Incoming(Packet::PubAck(_))) => News::Arrived,
            Ok(_) => continue,
            Err(why) => News::Down(cause(&why)),
        };
        let down = matches!(said, News::Down(_));
        if news.send(said).is_err() {
            return;
        }
        if down {
            tokio::time::sleep(pause).await;
            pause = (pause * 2).min(LONGEST_PAUSE);
        }
    }
}

impl Publisher<'_> {
    async fn run(&mut self, mut news: UnboundedReceiver<News>) {
        loop {
            let wait = match self.link {
                Link::Settling(until) => Some(until.since(self.lane.clock.now().at)),
                _ => None,
            };
            tokio::select! {
                biased;
                Some(said) = news.recv() => self.on_news(said),
                message = self.lane.queue.next() => match message {
                    Some(message) => self.on_message(message).await,
                    None => return self.end(&mut news).await,
                },
                () = tokio::time::sleep(wait.unwrap_or_default()), if wait.is_some() => {
                    self.link = Link::There;
                    self.unsent.seal();
                }
            }
            self.send_kept();
        }
    }

    fn on_news(&mut self, said: News) {
        match said {
            News::Up => {
                self.lane.works();
                self.link = Link::Settling(self.lane.clock.now().at + SETTLES);
                self.under_way.clear();
                self.send("state", state("live").into_bytes(), true, UnderWay::Nothing);
                for message in self.held.take() {
                    self.send_own(message);
                }
                let urgent = std::mem::take(&mut self.urgent);
                if !urgent.is_empty() {
                    self.send_lines(urgent.into());
                }
            }
            News::Arrived => match self.under_way.pop_front() {
                Some(UnderWay::Live(lines)) => self.remember(lines),
                Some(UnderWay::Kept(end)) => self.unsent.arrived_to(end),
                Some(UnderWay::Own(_)) if !self.under_way.iter().any(UnderWay::is_own) => {
                    self.held.arrived();
                }
                Some(UnderWay::Own(_) | UnderWay::Nothing) | None => {}
            },
            News::Down(why) => {
                self.lane.fail(&why);
                self.lose();
            }
        }
    }

    /// The connection is gone: what has perhaps not arrived waits.
    fn lose(&mut self) {
        if self.link == Link::Away {
            return;
        }
        let settling = matches!(self.link, Link::Settling(_));
        self.link = Link::Away;
        self.unsent.rewind();
        let mut lines = std::mem::take(&mut self.arrived);
        self.held.arrived();
        for it in std::mem::take(&mut self.under_way) {
            match it {
                UnderWay::Live(more) => lines.extend(more),
                UnderWay::Own(message) => self.hold(message),
                UnderWay::Kept(_) | UnderWay::Nothing => {}
            }
        }
        // While it settled all of them were kept anyway.
        for (message, stamp) in lines.into_iter().filter(|_| !settling) {
            self.keep(&message, stamp);
        }
    }

    fn remember(&mut self, lines: Vec<(Arc<Message>, Stamp)>) {
        self.arrived.extend(lines);
        let now = self.lane.clock.now().at;
        while self.arrived.front().is_some_and(|(it, _)| now.since(it.stamp.at) > SENT_AGAIN) {
            self.arrived.pop_front();
        }
    }

    fn hold(&mut self, message: Arc<Message>) {
        match self.held.push(message) {
            Ok(gave_way) => self.lane.queue.count_dropped(gave_way.into()),
            Err(why) => self.lane.fail(&format!("an event cannot be kept on disk ({why})")),
        }
    }

    fn keep(&mut self, message: &Message, stamp: Stamp) {
        self.unsent.keep(input(message), stamp, message.bytes.trim_ascii_end());
    }

    /// Takes a message, and with a line all those that wait as well.
    async fn on_message(&mut self, first: Arc<Message>) {
        let (mut lines, mut bytes, mut next) = (Vec::new(), 0, Some(first));
        while let Some(message) = next.take() {
            if message.what == What::Heard {
                // What another station has published already is its own affair.
                if Relayed::of_line(&message.bytes).is_none() {
                    let stamp = self.even(message.stamp);
                    bytes += message.bytes.len();
                    lines.push((message, stamp));
                }
            } else {
                self.send_own(message);
            }
            if bytes < PIECE && !self.lane.queue.is_empty() {
                next = self.lane.queue.next().await;
            }
        }
        if !lines.is_empty() {
            self.on_lines(lines);
        }
    }

    fn on_lines(&mut self, lines: Vec<(Arc<Message>, Stamp)>) {
        let room = self.under_way.len() < UNDER_WAY;
        if self.link != Link::There || !room {
            for (message, stamp) in &lines {
                self.keep(message, *stamp);
            }
        }
        if self.link == Link::Away {
            self.urgent.extend(lines.into_iter().filter(|(it, _)| is_urgent(&it.bytes)));
            let surplus = self.urgent.len().saturating_sub(held::LIMIT);
            self.urgent.drain(..surplus);
        } else if room {
            self.send_lines(lines);
        }
    }

    fn send_lines(&mut self, lines: Vec<(Arc<Message>, Stamp)>) {
        let mut payload = self.sent_now();
        for (message, stamp) in &lines {
            let line = message.bytes.trim_ascii_end();
            payload.extend(tagged(input(message), stamp.utc, line));
        }
        self.send("heard", payload, false, UnderWay::Live(lines));
    }

    /// The TAG block that says when a message is sent, on a line of its own.
    fn sent_now(&mut self) -> Vec<u8> {
        let now = self.even(self.lane.clock.now());
        let body = format!("c:{}", now.utc.unix_ms());
        format!("\\{body}*{:02X}\\\r\n", checksum(body.as_bytes())).into_bytes()
    }

    fn send_own(&mut self, message: Arc<Message>) {
        if self.link == Link::Away {
            return self.hold(message);
        }
        let (kind, bytes) = (message.what.word(), message.bytes.trim_ascii_end().to_vec());
        self.send(kind, bytes, false, UnderWay::Own(message));
    }

    fn send(&mut self, kind: &str, bytes: Vec<u8>, retain: bool, it: UnderWay) {
        let topic = format!("{}/{kind}", self.topic);
        match self.client.try_publish(topic, QoS::AtLeastOnce, retain, bytes) {
            Ok(()) => self.under_way.push_back(it),
            Err(_) => self.lane.queue.count_dropped(1),
        }
    }

    /// Sends of what was kept as much as may be under way.
    fn send_kept(&mut self) {
        let kept = |it: &&UnderWay| matches!(it, UnderWay::Kept(_));
        while self.link == Link::There
            && self.under_way.iter().filter(kept).count() < KEPT_UNDER_WAY
            && !self.unsent.is_empty()
        {
            // What came in too fast for the connection is kept by a recorder that goes on.
            self.unsent.seal();
            let Some((lines, end)) = self.unsent.next() else { return };
            let mut payload = self.sent_now();
            payload.extend(lines);
            self.send("heard", payload, false, UnderWay::Kept(end));
        }
    }

    /// Says that it ends, and waits until the broker has it; what waits is on disk, and so is what the
    /// broker does not confirm.
    async fn end(&mut self, news: &mut UnboundedReceiver<News>) {
        if self.link == Link::Away {
            return self.unsent.seal();
        }
        self.send("state", state("ended").into_bytes(), true, UnderWay::Nothing);
        let arrived = async {
            while !self.under_way.is_empty() {
                match news.recv().await {
                    Some(said @ News::Arrived) => self.on_news(said),
                    _ => return,
                }
            }
            // By a word of farewell the broker knows that no will is to be told.
            let _ = self.client.disconnect().await;
            tokio::time::sleep(Duration::from_millis(50)).await;
        };
        let _ = tokio::time::timeout(ENDS, arrived).await;
        if !self.under_way.is_empty() {
            self.lose();
        }
        self.unsent.seal();
    }

    /// A stamp in whole milliseconds whose label goes on evenly: so that a line has the same one
    /// however often it is sent.
    fn even(&mut self, stamp: Stamp) -> Stamp {
        let at = Mono::from_micros(stamp.at.micros() / 1000 * 1000);
        let known = self.even.map(|base| match at >= base.at {
            true => base.at(at),
            false => Stamp { at, utc: stamp.utc },
        });
        match known {
            Some(it) if it.utc.ms_since(stamp.utc).unsigned_abs() <= STEP_MS => it,
            _ => *self.even.insert(Stamp { at, utc: stamp.utc }),
        }
    }
}

/// The input by which a line was heard.
fn input(message: &Message) -> &str {
    message.input.as_deref().unwrap_or("-")
}
