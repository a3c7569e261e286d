//! What stations publish at a broker: their lines, and whether they are there.
//!
//! A message on `…/STATION/heard` holds lines, each with a TAG block that says when it was heard. Its
//! first line may be a TAG block alone, `\c:1781402400123*hh\`: when the message was sent, by the same
//! clock. How old a line is goes by that clock alone, whatever it shows; only the way of the message
//! is judged by two. A DSC call is told in its fields (`outputs/call.rs`). On `…/STATION/state` stands `{"state":"live"}`, or else that it is gone.

use rumqttc::{AsyncClient, Event, EventLoop, Packet, Publish, QoS, SubscribeReasonCode};

use super::sender::{ArrivalSender, Unheard};
use super::stations::find;
use super::{Arrival, What};
use crate::edge::Broker;
use crate::edge::broker::{CONNECT_TIMEOUT, LARGEST, cause, connection, is_unreadable};
use crate::outputs::told_call;
use crate::time::{Stamp, Utc};
use crate::watch::Relayed;
use crate::wire::{Line, Splitter, Tag};

/// The kinds of message, at the end of a topic.
const HEARD: &str = "heard";
const STATE: &str = "state";

/// What a lost station is said to be without a word of its own.
const GONE: &str = "the station is not connected to the broker";

/// Requests that may wait for the connection. Our own.
const REQUESTS: usize = 16;

/// A subscription at a broker.
pub(super) struct Subscription {
    broker: Broker,
    /// Without it the connection ends.
    _client: AsyncClient,
    events: EventLoop,
    /// What waited at the broker came before it had answered.
    early: Vec<Publish>,
}

/// Connects and subscribes.
///
/// # Errors
/// Why it cannot be, and what to look at.
pub(super) async fn open(broker: &Broker) -> Result<Subscription, String> {
    let (client, mut events) = connection(broker.options("input")?, REQUESTS);
    let state = broker.topic.strip_suffix(HEARD).map(|it| format!("{it}{STATE}"));
    let mut early = Vec::new();
    let subscribe = async {
        for topic in [Some(broker.topic.clone()), state].into_iter().flatten() {
            client
                .subscribe(topic, QoS::AtLeastOnce)
                .await
                .map_err(|why| format!("nothing can be subscribed to ({why})"))?;
        }
        loop {
            match events.poll().await {
                Ok(Event::Incoming(Packet::SubAck(ack))) => {
                    return match ack.return_codes.as_slice() {
                        [SubscribeReasonCode::Failure, ..] => {
                            Err(format!("the broker does not let us read {}", broker.topic))
                        }
                        _ => Ok(()),
                    };
                }
                Ok(Event::Incoming(Packet::Publish(message))) => early.push(message),
                Ok(_) => {}
                Err(why) => return Err(lost(broker, &why).await),
            }
        }
    };
    let done = tokio::time::timeout(CONNECT_TIMEOUT, subscribe).await;
    done.map_err(|_| format!("the broker did not answer in {} s", CONNECT_TIMEOUT.as_secs()))??;
    Ok(Subscription { broker: broker.clone(), _client: client, events, early })
}

/// Why the connection broke. Where a message cannot be read, the broker is made to forget what waits
/// for this program: it would come again at each connection, and nothing after it.
async fn lost(broker: &Broker, why: &rumqttc::ConnectionError) -> String {
    if is_unreadable(why)
        && let Ok(mut options) = broker.options("input")
    {
        let (client, mut events) = connection(options.set_clean_session(true).clone(), REQUESTS);
        let forgets = async {
            while let Ok(event) = events.poll().await {
                if matches!(event, Event::Incoming(Packet::ConnAck(_))) {
                    let _ = client.disconnect().await;
                }
            }
        };
        let _ = tokio::time::timeout(CONNECT_TIMEOUT, forgets).await;
    }
    cause(why)
}

/// Passes on what the stations publish until the connection breaks; says whether anything was heard,
/// and why it broke.
pub(super) async fn listen(
    mut subscription: Subscription,
    sender: &ArrivalSender,
) -> Result<(bool, String), Unheard> {
    let mut heard = false;
    for message in std::mem::take(&mut subscription.early) {
        heard = true;
        sender.pass_at_once(arrivals(&message, sender)).await?;
    }
    loop {
        match subscription.events.poll().await {
            Ok(Event::Incoming(Packet::Publish(message))) => {
                heard = true;
                sender.pass_at_once(arrivals(&message, sender)).await?;
            }
            Ok(_) => {}
            Err(why) => return Ok((heard, lost(&subscription.broker, &why).await)),
        }
    }
}

/// What a message has to say.
fn arrivals(message: &Publish, sender: &ArrivalSender) -> Vec<Arrival> {
    if message.payload.len() > LARGEST {
        tracing::warn!("a message of {} bytes is passed over", message.payload.len());
        return Vec::new();
    }
    let mut parts = message.topic.rsplit('/');
    let (kind, name) = (parts.next(), parts.next().unwrap_or_default());
    match kind {
        Some(HEARD) => lines(name, &message.payload, sender.even_now(), sender),
        Some(STATE) => state(name, &message.payload, sender),
        _ => Vec::new(),
    }
}

/// The lines of a station that have not come yet. Each is told how long ago it was heard.
fn lines(name: &str, payload: &[u8], now: Stamp, sender: &ArrivalSender) -> Vec<Arrival> {
    let mut stations = sender.stations.lock();
    let mut station = find(&mut stations, name);
    let mut arrivals = Vec::new();
    let stamp = sender.clock.now();
    let here = station.as_mut().is_some_and(|it| it.is_there(sender.input, true));
    if let Some(station) = station.as_ref().filter(|_| here) {
        arrivals.push(sender.of_station(&station.name, stamp, What::Opened));
    }
    let mut sent = None;
    let mut each = |line: &[u8]| {
        if let Some(time) = sent_at(line) {
            sent = Some(time);
            return;
        }
        let call = told_call(line);
        let line = call.as_deref().unwrap_or(line);
        if line.is_empty() || station.as_mut().is_some_and(|it| !it.is_new(line)) {
            return;
        }
        let heard = Line::parse(line).ok().and_then(|line| line.time());
        let waited = match (sent.or(heard), station.as_mut()) {
            (Some(sent), Some(station)) => station.clock.waited_ms(now.utc.ms_since(sent), now.at),
            _ => 0,
        };
        let before = sent.zip(heard).map_or(0, |(sent, heard)| sent.ms_since(heard).max(0));
        let ago = std::time::Duration::from_millis((waited + before).max(0).unsigned_abs());
        let mut bytes = Relayed { ago }.tag(name).into_bytes();
        bytes.extend_from_slice(line);
        let what = What::Line(bytes);
        arrivals.push(match &station {
            Some(station) => sender.of_station(&station.name, stamp, what),
            None => sender.arrival(what),
        });
    };
    let mut splitter = Splitter::new();
    splitter.push(payload, &mut each);
    splitter.finish(&mut each);
    arrivals
}

/// The time of a TAG block that stands alone.
fn sent_at(line: &[u8]) -> Option<Utc> {
    Tag::parse(line.strip_prefix(b"\\")?.strip_suffix(b"\\")?)?.time
}

/// Whether a station is there.
fn state(name: &str, payload: &[u8], sender: &ArrivalSender) -> Vec<Arrival> {
    // It was taken back: nobody misses it.
    if payload.is_empty() {
        return Vec::new();
    }
    let said: serde_json::Value = serde_json::from_slice(payload).unwrap_or_default();
    let there = said.get("state").and_then(|it| it.as_str()) == Some("live");
    let mut stations = sender.stations.lock();
    let Some(station) = find(&mut stations, name) else { return Vec::new() };
    if !station.is_there(sender.input, there) {
        return Vec::new();
    }
    let what = if there { What::Opened } else { What::Lost(GONE.to_owned()) };
    vec![sender.of_station(&station.name, sender.clock.now(), what)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edge::Clock;
    use crate::edge::input::{Important, Stations};
    use crate::wire::checksum;

    const SENTENCE: &str = "!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D";

    fn block(body: &str) -> String {
        format!("\\{body}*{:02X}\\", checksum(body.as_bytes()))
    }

    fn sender(input: usize, stations: &Stations) -> ArrivalSender {
        let (tx, _) = tokio::sync::mpsc::channel(8);
        let (clock, important) = (Clock::start(), Important::default());
        ArrivalSender::new(input, clock, tx, important, stations.clone())
    }

    fn ago(arrival: &Arrival) -> Option<u128> {
        let What::Line(bytes) = &arrival.what else { return None };
        Relayed::of_line(bytes).map(|it| it.ago.as_millis())
    }

    #[test]
    fn a_line_is_as_old_as_the_station_says_whatever_its_clock_shows() {
        let stations = Stations::default();
        let sender = sender(1, &stations);
        // Its clock is three seconds behind.
        let station = |age: i64| sender.even_now().utc.unix_ms() - 3_000 - age;
        let message = |age: i64| {
            let heard = block(&format!("s:ais,c:{}", station(age)));
            format!("{}\r\n{heard}{SENTENCE}\r\n", block(&format!("c:{}", station(0))))
        };
        let came = lines("pier", message(45_000).as_bytes(), sender.even_now(), &sender);
        assert_eq!(came[0].what, What::Opened);
        assert_eq!(came[0].station.as_deref(), Some("station pier"));
        let told = ago(&came[1]).unwrap();
        assert!((45_000..45_100).contains(&told), "{told}");
        let came = lines("pier", message(0).as_bytes(), sender.even_now(), &sender);
        assert!(ago(&came[0]).unwrap() < 100, "{came:?}");
    }

    #[test]
    fn what_comes_twice_or_by_two_brokers_comes_once() {
        let stations = Stations::default();
        let (one, other) = (sender(1, &stations), sender(2, &stations));
        let payload = format!("{}{SENTENCE}", block("s:ais,c:1781402400123"));
        let count = |sender: &ArrivalSender| {
            let came = lines("pier", payload.as_bytes(), sender.even_now(), sender);
            came.iter().filter_map(ago).count()
        };
        assert_eq!([count(&one), count(&one), count(&other)], [1, 0, 0]);
        // A name that is none is the broker's own.
        let came = lines("\u{7}", payload.as_bytes(), one.even_now(), &one);
        assert_eq!((came.len(), &came[0].station), (1, &None));
    }

    #[test]
    fn a_will_loses_the_station_and_a_line_brings_it_back() {
        let stations = Stations::default();
        let sender = sender(1, &stations);
        let what = |payload: &[u8]| state("pier", payload, &sender).pop().map(|it| it.what);
        assert_eq!(what(b"{\"state\":\"live\"}"), Some(What::Opened));
        assert_eq!(what(b"{\"state\":\"lost\"}"), Some(What::Lost(GONE.to_owned())));
        let came = lines("pier", SENTENCE.as_bytes(), sender.even_now(), &sender);
        assert_eq!(came[0].what, What::Opened);
        assert_eq!(what(b"no json"), Some(What::Lost(GONE.to_owned())));
        assert_eq!(what(b""), None);
    }
}
