//! What no single key of a scenario can tell.

use std::ops::Range;

use super::{Beacon, BeaconMode, Edition, GnssLost, LastWord, Scenario};
use crate::mmsi::BeaconKind;

/// Where something is wrong, and what.
type Fault = (Range<usize>, &'static str);

const BACKWARDS: &str = "`until_s` must be later than `from_s`";

pub(super) fn check(scenario: &Scenario) -> Result<(), Fault> {
    for lost in &scenario.own.gnss_lost {
        let GnssLost { from_s, until_s, .. } = lost.get_ref();
        ordered(*from_s, *until_s, lost.span(), BACKWARDS)?;
    }
    let sources = &scenario.sources;
    for (index, receiver) in scenario.receivers.iter().enumerate() {
        let name = &receiver.name.get_ref().0;
        let others = [&sources.gnss, &sources.instruments, &sources.vhf];
        let mut taken = scenario.receivers[..index].iter().map(|it| it.name.get_ref());
        if others.into_iter().chain(&mut taken).any(|other| other.0 == *name) {
            return Err((receiver.name.span(), "another input has this name already"));
        }
    }
    for beacon in &scenario.beacons {
        check_beacon(scenario, beacon)?;
    }
    for of in scenario.calls.iter().filter_map(|call| call.position_of.as_ref()) {
        let is_beacon = scenario.beacons.iter().any(|beacon| beacon.mmsi == *of.get_ref());
        if !is_beacon && scenario.own.mmsi != *of.get_ref() {
            return Err((of.span(), "neither own ship nor a beacon of this scenario"));
        }
    }
    Ok(())
}

fn check_beacon(scenario: &Scenario, beacon: &Beacon) -> Result<(), Fault> {
    let is_test = beacon.mode == BeaconMode::Test;
    if let Some(off) = &beacon.off_s {
        const EARLY: &str = "`off_s` must be later than `activate_s`";
        ordered(beacon.activate_s.0, *off.get_ref(), off.span(), EARLY)?;
        if is_test {
            return Err((off.span(), "a test ends by itself after one burst"));
        }
        let is_sart = beacon.mmsi.beacon_kind() == Some(BeaconKind::Sart);
        if is_sart && beacon.off_says == LastWord::Cancel {
            return Err((off.span(), "an AIS-SART says OFF: it has no CANCEL"));
        }
    }
    for lost in &beacon.fix_lost {
        ordered(lost.get_ref().from_s, lost.get_ref().until_s, lost.span(), BACKWARDS)?;
    }
    for fade in &beacon.fades {
        ordered(fade.get_ref().from_s, fade.get_ref().until_s, fade.span(), BACKWARDS)?;
    }
    if let Some(suffix) = beacon.suffix.as_ref().filter(|_| beacon.edition == Some(Edition::Fifth))
    {
        return Err((suffix.span(), "texts have a suffix from edition 6 on"));
    }
    if let Some(leeway) = beacon.leeway.as_ref().filter(|_| scenario.own.wind.is_none()) {
        return Err((leeway.span(), "leeway needs a wind: set `wind` in [own]"));
    }
    let open = beacon.dsc_repeats_s.as_ref().map(toml::Spanned::span);
    let closed = beacon.closed_loop.as_ref().filter(|it| *it.get_ref()).map(toml::Spanned::span);
    match (open, closed) {
        (Some(span), _) | (None, Some(span)) if is_test => {
            Err((span, "a test sends no distress call; a [[call]] can be a test call"))
        }
        (Some(span), Some(_)) => {
            Err((span, "a closed loop repeats no call: leave out this or `closed_loop`"))
        }
        _ => Ok(()),
    }
}

fn ordered(early: f64, late: f64, span: Range<usize>, reason: &'static str) -> Result<(), Fault> {
    if early < late { Ok(()) } else { Err((span, reason)) }
}
