//! The DSC calls that a beacon makes by itself, in open or in closed loop.
//!
//! Open loop, as RTCM 11901.1 is described: an alert at once, without position if there is no fix
//! yet; another one with the first fix; then one every 5 min for 30 min and every 10 min after that,
//! until it is acknowledged. Closed loop, as a column quotes the RTCM on it: a distress relay, with
//! the nature man overboard, to own ship. How soon the first call, the second one and the
//! acknowledgement come is our own choice, no source.

use super::Stage;
use super::scenario::{Beacon, Call, CallMeaning};
use super::values::Within;
use crate::mmsi::Mmsi;

/// From activation to the first call.
const FIRST_S: std::ops::Range<f64> = 5.0..15.0;

/// From a fix to the call that tells it.
const TELLS_FIX_S: f64 = 2.0;

/// From a call to its acknowledgement.
const ACKNOWLEDGED_S: std::ops::Range<f64> = 10.0..40.0;

/// From then on calls come half as often.
const LATER_S: f64 = 1800.0;

/// A coast station of no country.
const COAST_STATION: u32 = 2_000_000;

/// The calls of a beacon, in the order of time.
pub(super) fn calls(stage: &Stage<'_>, beacon: &Beacon) -> Vec<Call> {
    // Its dice for its bursts stay as they are.
    let mut dice = stage.dice(1 << 32 | u64::from(beacon.mmsi.value()));
    let mut within = |span: std::ops::Range<f64>| span.start + dice.f64() * (span.end - span.start);
    let activated = beacon.activate_s.0;
    let first = activated + within(FIRST_S);
    if beacon.closed_loop.as_ref().is_some_and(|it| *it.get_ref()) {
        let relay = Call {
            casualty: Some(beacon.mmsi),
            ..call(beacon, first, CallMeaning::DistressRelay, beacon.mmsi)
        };
        let answer = Mmsi::new(COAST_STATION).map(|coast| Call {
            casualty: Some(beacon.mmsi),
            ..call(
                beacon,
                first + within(ACKNOWLEDGED_S),
                CallMeaning::DistressAcknowledgement,
                coast,
            )
        });
        return std::iter::once(relay).chain(answer).collect();
    }
    let Some(every) = beacon.dsc_repeats_s.as_ref().map(|every| every.get_ref().0) else {
        return Vec::new();
    };
    let end = beacon.off_s.as_ref().map_or(f64::INFINITY, |off| *off.get_ref());
    let end = end.min(stage.scenario.duration_s.0);
    let fix = activated + beacon.fix_delay_s.0 + TELLS_FIX_S;
    let mut times = vec![first];
    times.extend((fix > first).then_some(fix));
    let mut after = every;
    while first + after < end {
        times.push(first + after);
        after += if after < LATER_S { every } else { 2.0 * every };
    }
    times.retain(|&at| at < end);
    times.sort_by(f64::total_cmp);
    let alert = |at| call(beacon, at, CallMeaning::DistressAlert, beacon.mmsi);
    times.into_iter().map(alert).collect()
}

/// A call with the beacon's place, as far as it is known to it, and the decimals behind it.
fn call(beacon: &Beacon, at_s: f64, meaning: CallMeaning, caller: Mmsi) -> Call {
    Call {
        at_s: Within(at_s),
        meaning,
        caller,
        casualty: None,
        nature: None,
        position_of: Some(toml::Spanned::new(0..0, beacon.mmsi)),
        lat: None,
        lon: None,
        expansion: true,
    }
}
