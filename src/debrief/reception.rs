//! What was heard of what was sent: the one measurement a crew can make of its own antenna.

use std::cmp::Ordering::Equal;

use super::drill::{Burst, Received};
use super::found::Found;
use super::measured::{Measured, known, within};
use super::measures::{RangeBand, ReceptionMeasures};
use super::ranges;
use super::scene::{BURST_S, Scene, Step};
use crate::advice::about;
use crate::beacon::{self, PERIOD, SPACING};
use crate::text::counted;
use crate::time::Utc;
use crate::units::NauticalMiles;
use crate::watch::{NotKnown, Reach};

/// Messages in a burst.
const MESSAGES: u32 = beacon::MESSAGES as u32;

/// Bursts listed: more than two days of one a minute. Our own.
const BURSTS: usize = 4_096;

/// Where bands of range end, in nautical miles. Our own.
const BANDS: [f64; 14] = [0.1, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0];

/// So many bursts in a row that nobody heard are not counted for sure: each eight minutes a beacon
/// shifts its slot by up to 6 s (ITU-R M.1371-5 annex 9, section 5). Our own.
const IN_STEP: usize = 10;
const SHIFT_S: f64 = 6.0;

/// How often own position comes is judged by so many seconds to either side. Our own.
const USUAL_S: f64 = 120.0;

const IN_WATER: &str = "those of the bursts that began before the recovery";
const CRAMMED: &str = "more was heard than a beacon sends in that time: the times of the recording \
                       are not those on the air";
const NOT_PARTED: &str = "when the casualty was out of the water is not known";
const SILENCE: &str = "the longest time between two messages, or from the last one to the end of \
                       the recording where the beacon did not say OFF; 46 s is the pause between \
                       bursts";

/// The numbers of it.
pub(super) fn measured(
    scene: &Scene<'_>,
    found: &Found,
    receptions: &[Received],
    bursts: &[Burst],
) -> ReceptionMeasures {
    let beacon = scene.beacon;
    let all = u32::try_from(beacon.messages.len()).unwrap_or(u32::MAX);
    let on =
        |channel: char| receptions.iter().filter(|it| it.channel == Some(channel)).count() as u32;
    let silence = longest_silence(receptions, scene);
    let ranged = || receptions.iter().filter(|it| it.range_nm.is_some());
    let range = |of: Option<&Received>| {
        let of = of.and_then(|it| Some((scene.t(it.at), it.range_nm?)));
        ranges::measured(scene, of.map(|(t, range)| (t, range.metres())))
    };
    // The bursts that began before the recovery; all of them where it is not known.
    let recovered = found.recovery.as_ref().map(|it| scene.utc(it.t));
    let before =
        |at: Utc| bursts.get(..bursts.partition_point(|it| it.at < at)).unwrap_or_default();
    let in_water = recovered.map_or(bursts, before);
    // Those of the time in which the recovery may have been.
    let off = found.recovery.as_ref().and_then(|it| Some(scene.utc(it.t - it.off?)));
    let doubtful = off.map(|at| in_water.get(before(at).len()..).unwrap_or_default());
    let sum = |of: &[Burst], count: fn(&Burst) -> u32| of.iter().map(count).sum::<u32>();
    // As those of a rehearsal that was played faster than its times go.
    let is_crammed = all > sum(bursts, |it| it.expected) + sent_off(scene, bursts);
    let expected = |of: &[Burst]| match is_crammed && !bursts.is_empty() {
        true => Measured::not_known(CRAMMED),
        false => expected(scene, of),
    };
    let doubted = |count| doubtful.map(|of| f64::from(sum(of, count)));
    let one = "no message was heard, or a single one";
    ReceptionMeasures {
        messages_heard: Measured::known(
            all.saturating_add(beacon.beyond),
            "each transmission once, however many receivers heard it",
        ),
        messages_expected: expected(bursts),
        heard_in_water: within(
            known(recovered.map(|_| sum(in_water, |it| it.heard)), IN_WATER, NOT_PARTED),
            doubted(|it| it.heard),
        ),
        expected_in_water: match recovered {
            Some(_) => {
                let sent = expected(in_water);
                let off = doubted(|it| it.expected).zip(sent.tolerance());
                within(sent, off.map(|(doubted, off)| doubted + off))
            }
            None => Measured::not_known(NOT_PARTED),
        },
        heard_a: Measured::known(on('A'), "messages the receiver marked as of channel A"),
        heard_b: Measured::known(on('B'), "messages the receiver marked as of channel B"),
        longest_silence_s: known(silence.map(|(_, length)| length), SILENCE, one),
        longest_silence_from: known(silence.map(|(from, _)| scene.utc(from)), SILENCE, one),
        first_heard_range_nm: range(ranged().next()),
        last_heard_range_nm: range(ranged().next_back()),
        greatest_heard_range_nm: range(
            ranged()
                .max_by(|one, other| one.range_nm.partial_cmp(&other.range_nm).unwrap_or(Equal)),
        ),
        estimated_range_nm: estimated(beacon.reach.as_ref()),
        reception_by_range: match is_crammed {
            true => Measured::not_known(CRAMMED),
            false => by_range(in_water),
        },
    }
}

/// What was estimated beside what was heard.
fn estimated(reach: Option<&Reach>) -> Measured<NauticalMiles> {
    let Some(reach) = reach else { return Measured::not_known("no message of it was heard") };
    match reach.interval() {
        Some((range, low, high)) => {
            let (low, high) = (about(low), about(high));
            let stations = counted(reach.stations, "ship");
            let how = format!(
                "where eight of ten messages of a beacon were to be expected at its first message, by the reports of {stations}; between {low} and {high}"
            );
            Measured::known(range, how)
        }
        None => {
            let why = reach.why_not.map_or("too little was heard", NotKnown::words);
            Measured::not_known(format!("by the reports of ships: {why}"))
        }
    }
}

fn expected(scene: &Scene<'_>, bursts: &[Burst]) -> Measured<u32> {
    if scene.beacon.beyond > 0 || bursts.len() >= BURSTS {
        return Measured::not_known("more was heard than is kept burst by burst");
    }
    if bursts.is_empty() {
        return Measured::not_known("no AIS message of it was heard");
    }
    let sent = bursts.iter().map(|burst| burst.expected).sum();
    Measured::known(
        sent,
        "eight a burst, one burst a minute from the first message to the last (ITU-R M.1371-5 \
         annex 9, section 5), as far as something was recorded; ±1 burst in ten silent minutes and \
         where a silence has a gap, and what was not heard of bursts that a gap cuts",
    )
    .within(f64::from(sent_off(scene, bursts)))
}

/// How many more or fewer may have been sent: the minutes of a long silence are not counted to the
/// second, nor where in it a gap was; a burst cut by the edge of the recording may have had more, and
/// one in a pause of the whole recording may not have been there to be heard.
fn sent_off(scene: &Scene<'_>, bursts: &[Burst]) -> u32 {
    let cut = bursts.iter().filter(|it| it.heard > 0).map(|it| MESSAGES - it.expected);
    let paused = bursts.iter().filter(|it| it.watched && pauses(scene, scene.t(it.at)));
    let runs = bursts.chunk_by(|one, next| (one.heard == 0) == (next.heard == 0));
    let silences = runs.filter(|run| run.iter().all(|it| it.heard == 0)).map(|run| {
        let has_gap = run.iter().any(|it| !it.watched);
        MESSAGES * (run.len() / IN_STEP + usize::from(has_gap)) as u32
    });
    cut.chain(paused.map(|it| it.expected.saturating_sub(it.heard))).chain(silences).sum()
}

/// Whether own position paused during a burst, for much longer than it does: too short a time to tell
/// that nobody listened.
fn pauses(scene: &Scene<'_>, t: f64) -> bool {
    let gap = |two: &[Step]| two[1].t - two[0].t;
    let mut usual: Vec<f64> = scene.steps(t - USUAL_S, t + USUAL_S).windows(2).map(gap).collect();
    usual.sort_by(f64::total_cmp);
    let usual = usual.get(usual.len() / 2).copied().unwrap_or_default();
    let (from, until) = (t - SHIFT_S, t + BURST_S);
    let near = scene.steps(from - USUAL_S, until + USUAL_S).windows(2);
    near.filter(|two| two[1].t > from && two[0].t < until)
        .any(|two| gap(two) > (3.0 * usual).max(2.0 * SHIFT_S))
}

fn by_range(bursts: &[Burst]) -> Measured<Vec<RangeBand>> {
    let bands = bands(bursts);
    if bands.is_empty() {
        return Measured::not_known(ranges::NO_RANGE);
    }
    Measured::known(bands, "burst by burst until the recovery, at the range of its first message")
}

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
fn longest_silence(received: &[Received], scene: &Scene<'_>) -> Option<(f64, f64)> {
    let times: Vec<f64> = received.iter().map(|it| scene.t(it.at)).collect();
    let between = times.windows(2).filter_map(|two| Some((*two.first()?, *two.last()?)));
    let last = scene.t(scene.beacon.last?);
    let at_end = scene.beacon.off.is_none().then_some((last, scene.end));
    let watched = between.chain(at_end).flat_map(|(from, until)| scene.watched(from, until));
    watched.map(|(from, until)| (from, until - from)).max_by(|one, other| one.1.total_cmp(&other.1))
}

/// Heard of expected, by range.
fn bands(bursts: &[Burst]) -> Vec<RangeBand> {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_to_be_expected_says_from_what_or_why_it_is_not_known() {
        let reach: Reach = serde_json::from_value(serde_json::json!({
            "range80_nm": 2.13, "low_nm": 1.42, "high_nm": 3.04, "stations": 37, "expected": 1204,
            "received": 912, "minutes": 60,
        }))
        .unwrap();
        let known = estimated(Some(&reach));
        assert_eq!(known.value(), Some(&NauticalMiles(2.13)));
        assert!(known.how().ends_with("of 37 ships; between 1.4 NM and 3.0 NM"), "{}", known.how());
        let unknown = Reach { range80_nm: None, why_not: Some(NotKnown::OneStation), ..reach };
        let unknown = estimated(Some(&unknown));
        assert_eq!(
            (unknown.value(), unknown.how()),
            (None, "by the reports of ships: only one ship heard")
        );
        assert_eq!(estimated(None).value(), None);
    }
}
