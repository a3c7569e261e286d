//! What an input says, in a line for a person.

use super::{Access, Traffic};
use crate::text::counted;
use crate::time::Mono;

/// AIS messages on one channel alone from which on it is said that the other is not heard: by chance
/// that happens once in half a million. Our own.
pub(super) const TELLING: u64 = 20;

/// At which rates a serial port was listened to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Serial {
    /// The rate that is written for it, if one is.
    pub asked: Option<u32>,
    /// The rate at which sentences came.
    pub fits: Option<u32>,
    /// The rates at which bytes came and no sentence.
    pub garbled: Vec<u32>,
}

/// What there is to say of an input at a time.
pub fn words(access: &Access, traffic: &Traffic, serial: Option<&Serial>, now: Mono) -> String {
    let heard = || heard(traffic, serial, now);
    match access {
        Access::Open => heard(),
        Access::NoPermission(Some(group)) => {
            format!("no permission: add yourself to the group {group}, then log in again")
        }
        Access::NoPermission(None) => {
            "no permission: ask who keeps this computer to let you open it".to_owned()
        }
        Access::InUse => "another program uses it: not taken from it".to_owned(),
        Access::Watched { pid, name, unheard } => {
            let process = pid.map(|pid| format!(" (process {pid})")).unwrap_or_default();
            let who = format!("the watch that runs{process} reads it as {name}: not taken from it");
            match unheard {
                None => format!("{}; {who}, heard through it", heard()),
                Some(why) => format!("{who}, and not heard through it: {why}"),
            }
        }
        Access::Missing => "it is not there: is it plugged in?".to_owned(),
        Access::Failed(why) => why.clone(),
    }
}

fn heard(traffic: &Traffic, serial: Option<&Serial>, now: Mono) -> String {
    if !traffic.speaks() {
        return unspoken(traffic, serial);
    }
    let mut parts = Vec::new();
    if let Some(Serial { asked: Some(asked), fits: Some(fits), .. }) = serial
        && asked != fits
    {
        parts.push(format!("bytes but no sentences at {asked}: {fits} fits"));
    }
    let instruments = instruments(traffic);
    if traffic.hears_ais() || traffic.has_transponder {
        parts.push(ais(traffic, now));
        parts.extend(instruments);
    } else if instruments.is_empty() {
        let kinds: Vec<_> = traffic.sentences.keys().take(6).map(String::as_str).collect();
        parts.push(format!("sentences, none that a watch needs: {}", kinds.join(", ")));
    } else {
        parts.push(format!("navigation only, no AIS: {}", instruments.join(", ")));
    }
    let sound: u64 = traffic.sentences.values().sum();
    if traffic.damaged > 2 && traffic.damaged * 10 > sound {
        parts.push(format!(
            "{} of {} lines damaged: check cable and plugs",
            traffic.damaged,
            sound + traffic.damaged
        ));
    }
    if traffic.without_checksum > 0 {
        let n = traffic.without_checksum;
        parts.push(format!("{n} without a checksum, not taken"));
    }
    parts.extend(other_datagrams(traffic));
    parts.join("; ")
}

/// `12 datagrams that are no sentences: N2K messages (NkPgN)`.
fn other_datagrams(traffic: &Traffic) -> Option<String> {
    let count: u64 = traffic.other_datagrams.values().sum();
    let kinds: Vec<_> = traffic.other_datagrams.keys().map(ToString::to_string).collect();
    let datagrams = if count == 1 { "datagram that is" } else { "datagrams that are" };
    (count > 0).then(|| format!("{count} {datagrams} no sentences: {}", kinds.join(", ")))
}

/// Of an input that gave no sound sentence.
fn unspoken(traffic: &Traffic, serial: Option<&Serial>) -> String {
    if traffic.without_checksum > 0 {
        return "no checksums: a watch takes no sentence without one; switch them on at the sender"
            .to_owned();
    }
    match serial {
        Some(Serial { garbled, .. }) if !garbled.is_empty() => {
            let rates: Vec<_> = garbled.iter().map(u32::to_string).collect();
            let rates = rates.join(", ");
            format!(
                "bytes but no sentences at {rates}: is it a receiver or an instrument, and are the \
                 wires the right way round?"
            )
        }
        _ if traffic.damaged > 0 => "bytes arrive, but no sentences".to_owned(),
        _ => other_datagrams(traffic)
            .unwrap_or_else(|| "nothing at all: is it switched on?".to_owned()),
    }
}

/// `AIS receiver: 214 ships, both channels, last 0.4 s ago`.
fn ais(traffic: &Traffic, now: Mono) -> String {
    let what = if traffic.has_transponder { "AIS transponder" } else { "AIS receiver" };
    let Some(last) = traffic.last_ais else {
        return format!("{what}: its own reports; no other station heard yet");
    };
    let count = |n: usize, word: &str| match n {
        1 => format!("1 {word}"),
        n => format!("{n} {word}s"),
    };
    let mut parts = vec![count(traffic.ships.len(), "ship")];
    if !traffic.others.is_empty() {
        parts.push(count(traffic.others.len(), "other station"));
    }
    parts.push(match traffic.channels {
        [0, 0, _] => "channels not told".to_owned(),
        [a, b, _] if a > 0 && b > 0 => "both channels".to_owned(),
        [a, b, _] => {
            let only = if a > 0 { "A" } else { "B" };
            let early = if a + b < TELLING { " so far" } else { "" };
            format!("channel {only} only{early}")
        }
    });
    parts.push(format!("last {:.1} s ago", now.since(last).as_secs_f64()));
    format!("{what}: {}", parts.join(", "))
}

fn instruments(traffic: &Traffic) -> Vec<String> {
    let mut parts = Vec::new();
    match (traffic.fix, traffic.satellites) {
        (Some(true), Some(n)) => parts.push(format!("GNSS: fix, {}", counted(n, "satellite"))),
        (Some(true), None) => parts.push("GNSS: fix".to_owned()),
        (Some(false), _) => parts.push("GNSS: no fix".to_owned()),
        (None, _) => {}
    }
    let named = [
        (traffic.heading, "heading"),
        (traffic.wind, "wind"),
        (traffic.calls > 0, "DSC"),
        (traffic.has_button, "MOB button"),
    ];
    parts.extend(named.into_iter().filter(|(is, _)| *is).map(|(_, word)| word.to_owned()));
    parts
}
