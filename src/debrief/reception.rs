//! What was heard of what was sent: the one measurement a crew can make of its own antenna.

use super::drill::{Burst, Received};
use super::measures::RangeBand;
use super::scene::{BURST_S, Scene};
use crate::beacon::{self, PERIOD, SPACING};
use crate::units::NauticalMiles;

/// Messages in a burst.
const MESSAGES: u32 = beacon::MESSAGES as u32;

/// Bursts listed: more than two days of one a minute.
pub(super) const BURSTS: usize = 4_096;

/// Where bands of range end, in nautical miles.
const BANDS: [f64; 14] = [0.1, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0];

/// Every message, with its range.
pub(super) fn received(scene: &Scene<'_>) -> Vec<Received> {
    let messages = scene.beacon.messages.iter();
    messages
        .map(|it| Received {
            at: it.at,
            channel: it.channel,
            word: it.word,
            range_nm: range_at(scene, scene.t(it.at)),
        })
        .collect()
}

/// Every burst from the first to the last, those not heard included.
pub(super) fn bursts(scene: &Scene<'_>, received: &[Received]) -> Vec<Burst> {
    let mut bursts: Vec<Burst> = Vec::new();
    // Each burst that was heard: which it is, and its first and last message.
    let mut spans: Vec<(usize, f64, f64)> = Vec::new();
    for message in received {
        let t = scene.t(message.at);
        let same = spans.last_mut().filter(|(_, first, _)| t - *first <= BURST_S);
        if let (Some(span), Some(burst)) = (same, bursts.last_mut()) {
            span.2 = t;
            count(burst, message);
            continue;
        }
        if let Some(&(_, before, _)) = spans.last() {
            bursts.extend(missed(scene, before, t));
        }
        if bursts.len() >= BURSTS {
            break;
        }
        spans.push((bursts.len(), t, t));
        let range_nm = message.range_nm.or_else(|| range_at(scene, t));
        let mut burst = Burst {
            at: message.at,
            heard: 0,
            expected: MESSAGES,
            watched: true,
            heard_a: 0,
            heard_b: 0,
            range_nm,
        };
        count(&mut burst, message);
        bursts.push(burst);
    }
    let slots = |seconds: f64| {
        ((seconds / SPACING.as_secs_f64()).round() as u32).saturating_add(1).min(MESSAGES)
    };
    // The recording may cut a burst where it begins or ends, or has a gap.
    for (place, first, last) in spans {
        let Some(burst) = bursts.get_mut(place) else { continue };
        let (begins, ends) = scene.watch_around(first);
        if first - begins < BURST_S {
            burst.expected = slots(last - first);
        }
        burst.expected = burst.expected.min(slots(ends - first)).max(burst.heard);
    }
    bursts
}

fn count(burst: &mut Burst, message: &Received) {
    burst.heard = (burst.heard + 1).min(MESSAGES);
    match message.channel {
        Some('A') => burst.heard_a += 1,
        Some('B') => burst.heard_b += 1,
        _ => {}
    }
}

/// The bursts that must have been sent between two that were heard.
fn missed(scene: &Scene<'_>, before: f64, next: f64) -> Vec<Burst> {
    let minutes = ((next - before) / PERIOD.as_secs_f64()).round().min(BURSTS as f64);
    let step = (next - before) / minutes.max(1.0);
    (1..minutes as usize)
        .map(|number| {
            let t = before + step * number as f64;
            let range_nm = range_at(scene, t);
            let at = scene.utc(t);
            let watched = scene.watched(t, t + BURST_S) == [(t, t + BURST_S)];
            let expected = if watched { MESSAGES } else { 0 };
            Burst { at, heard: 0, expected, watched, heard_a: 0, heard_b: 0, range_nm }
        })
        .collect()
}

/// The longest time without a message in which somebody listened, and when it began; the end of the
/// recording ends it where nothing says that the beacon was off.
pub(super) fn longest_silence(received: &[Received], scene: &Scene<'_>) -> Option<(f64, f64)> {
    let times: Vec<f64> = received.iter().map(|it| scene.t(it.at)).collect();
    let between = times.windows(2).filter_map(|two| Some((*two.first()?, *two.last()?)));
    let last = scene.t(scene.beacon.last?);
    let at_end = scene.beacon.off.is_none().then_some((last, scene.end));
    let watched = between.chain(at_end).flat_map(|(from, until)| scene.watched(from, until));
    watched.map(|(from, until)| (from, until - from)).max_by(|one, other| one.1.total_cmp(&other.1))
}

/// Heard of expected, by range.
pub(super) fn by_range(bursts: &[Burst]) -> Vec<RangeBand> {
    let mut from = 0.0;
    let mut bands = Vec::new();
    for to in BANDS.into_iter().chain([f64::INFINITY]) {
        let within = bursts
            .iter()
            .filter(|it| it.range_nm.is_some_and(|range| (from..to).contains(&range.0)));
        let (heard, expected) =
            within.fold((0, 0), |(heard, expected), it| (heard + it.heard, expected + it.expected));
        if expected > 0 {
            let to = if to.is_finite() { to } else { from * 2.0 };
            let (from_nm, to_nm) = (NauticalMiles(from), NauticalMiles(to));
            bands.push(RangeBand { from_nm, to_nm, heard, expected });
        }
        from = to;
    }
    bands
}

fn range_at(scene: &Scene<'_>, t: f64) -> Option<NauticalMiles> {
    scene.range_at(t).map(NauticalMiles::from_metres)
}
