//! Left of the plot: what was heard, what to do, who else, where.

use std::time::Duration;

use ratatui::layout::Rect;

use super::super::pen::{Pen, wrap};
use super::super::theme::Role;
use super::super::{Screen, words};
use super::{evidence, question, quiet, who};
use crate::advice::{Figures, STRANGER, Step, is_stranger, is_unacknowledged, metres};
use crate::navigation::{Guidance, radio_horizon, working_range};
use crate::units::NauticalMiles;
use crate::watch::{BeaconView, InputState, Picture};

/// Others in danger that are listed; more are counted.
const OTHERS: usize = 4;

/// A column of fewer rows has no room for all that waits.
const LOW: u16 = 10;

/// A column of fewer has no room for some words.
const NARROW: u16 = 40;

pub(super) fn draw(
    screen: &Screen,
    pen: &mut Pen<'_>,
    area: Rect,
    picture: &Picture,
    beacon: &BeaconView,
) {
    // A column stays free before the plot.
    let area = Rect { width: area.width.saturating_sub(1), ..area };
    // A point set by hand has nothing that could be heard, and a call was heard once.
    let is_heard = beacon.mmsi().is_some() && !beacon.is_call();
    let first = if is_heard { evidence::draw(pen, area, picture, beacon) } else { 0 };
    let step = Step::onward(picture, beacon).words(beacon.person.as_deref());
    let mut lines: Vec<_> =
        by_clause(pen, &step, area.width).into_iter().map(|line| (line, Role::Digits)).collect();
    // Where there is no room for both, another person comes before what headline and keys say, too.
    let others = others(pen, picture, beacon).into_iter().map(|line| (line, Role::Alarm));
    let is_low = area.height < LOW;
    lines.extend(others.clone().filter(|_| is_low));
    lines.extend(acknowledge_line(screen, picture, beacon).map(|line| (line, Role::Warning)));
    if let Some(at) = question::joined(beacon) {
        let said = match area.width < NARROW {
            true => format!("as marked {at}; two people: d"),
            false => format!("taken for the one marked {at}; two people: d"),
        };
        lines.extend(by_clause(pen, &said, area.width).into_iter().map(|it| (it, Role::Warning)));
    }
    if is_stranger(picture, beacon) {
        lines.push((STRANGER.to_owned(), Role::Warning));
    }
    lines.extend(beacon.other_place.map(|other| (other.words(), Role::Warning)));
    lines.extend(search_lines(beacon, area.width).into_iter().map(|line| (line, Role::Text)));
    lines.extend(others.filter(|_| !is_low));
    for input in &picture.inputs {
        if !matches!(input.state, Some(InputState::Live) | None) {
            let state = quiet::state_word(input.state);
            lines.push((format!("input {} {state}", input.name), Role::Warning));
        }
    }
    if let Some(route) = screen.parts.as_ref().map(|parts| &parts.route).filter(|it| !it.is_empty())
        && beacon.search.is_some()
    {
        lines.push((route.clone(), Role::Text));
    }
    lines.extend(drift_line(beacon).map(|line| (line, Role::Text)));
    lines.extend(approach_line(beacon).map(|line| (line, Role::Dim)));
    if let Some((datum, from)) = &beacon.datum {
        let place = datum.position_at(picture.now.at);
        let (half, most) = (metres(datum.radius50), metres(datum.radius95));
        lines.push((format!("datum now {place}"), Role::Text));
        // In a narrow column it stands but beside the numbers.
        let most =
            if area.width < NARROW { String::new() } else { format!(", 95 % within {most}") };
        lines.push((format!("half within {half}{most}"), Role::Text));
        lines.push((from.clone(), Role::Dim));
    } else if let Some(position) = beacon.position {
        lines.push((format!("beacon {position}"), Role::Text));
    }
    if let Some(other) = &beacon.other_place {
        let age = words::short_age(other.age);
        lines.push((format!("other {}, {age} ago", other.position), Role::Warning));
    }
    lines.extend(sweep_lines(beacon, area.width).into_iter().map(|line| (line, Role::Dim)));
    let (helpers, far) = who::of_use(beacon);
    lines.extend(helpers.iter().take(2).map(|helper| (who::line(helper), Role::Text)));
    lines.extend(quiet::own_lines(picture).map(|line| (line, Role::Text)));
    lines.extend(weather_line(picture).map(|line| (line, Role::Dim)));
    lines.extend(reach_lines(screen, beacon).map(|line| (line, Role::Dim)));
    lines.extend(helpers.iter().skip(2).take(6).map(|helper| (who::line(helper), Role::Dim)));
    lines.extend(far.map(|far| (far, Role::Dim)));
    lines.extend(beacon.evidence.iter().map(|note| (format!("heard: {note}"), Role::Dim)));
    for (row, (line, role)) in (first..).zip(lines) {
        pen.put(area, row, 1, &line, role);
    }
}

/// The others in danger, in the order of the key that steps through them.
fn others(pen: &Pen<'_>, picture: &Picture, beacon: &BeaconView) -> Vec<String> {
    let others: Vec<_> =
        picture.beacons.iter().filter(|b| b.casualty && b.id != beacon.id).collect();
    let line = |other: &&BeaconView| {
        let waits = picture
            .alerts
            .iter()
            .any(|it| it.casualty() == Some(other.id) && is_unacknowledged(it));
        let place = Figures::of(picture, other)
            .map_or("no position".to_owned(), |numbers| numbers.line(pen.theme.degrees_true()));
        let new = if waits { " NEW" } else { "" };
        format!("{} {} {place}{new}", pen.theme.casualty(), words::name(other))
    };
    let mut lines: Vec<String> = others.iter().take(OTHERS).map(line).collect();
    if others.len() > OTHERS {
        lines.push(format!("and {} more in danger", others.len() - OTHERS));
    }
    lines
}

/// Where it drifts, and what that is from.
fn drift_line(beacon: &BeaconView) -> Option<String> {
    let drift = beacon.drift.filter(|_| beacon.datum.is_none())?;
    let (set, rate, off) = (drift.velocity.towards(), drift.velocity.speed(), drift.rate_sd());
    let minutes = (drift.span.as_secs() + 30) / 60;
    let sure = format!("±{:.1}", off.0);
    Some(format!("drifts {set} {rate} {sure}, {} fixes {minutes} min", drift.fixes))
}

/// How close she comes if she goes on as she does, where that is not there.
fn approach_line(beacon: &BeaconView) -> Option<String> {
    let approach = beacon.way?.approach?;
    // In less than a second it is there.
    let ahead = approach.in_s.filter(|seconds| (1.0..3600.0).contains(seconds))?;
    Some(closest(approach.range, Duration::from_secs_f64(ahead)))
}

/// How near two positions are told apart, in metres. Our own, as in a debrief.
const ACCURACY_M: f64 = 20.0;

/// How close it comes, no finer than that is known.
fn closest(range: NauticalMiles, ahead: Duration) -> String {
    let range = match range.metres() {
        ..ACCURACY_M => format!("under {ACCURACY_M:.0} m"),
        _ => range.to_string(),
    };
    format!("closest {range} in {} on this course", words::minutes(ahead))
}

/// Wind and current, as far as the boat knows them.
fn weather_line(picture: &Picture) -> Option<String> {
    let wind = picture.own.wind.map(|wind| format!("wind {} {:.0} kn", wind.from, wind.speed.0));
    let current = picture.own.current.filter(|current| current.speed().0 >= 0.1);
    let current =
        current.map(|current| format!("current {} {}", current.towards(), current.speed()));
    let parts: Vec<String> = wind.into_iter().chain(current).collect();
    (!parts.is_empty()).then(|| parts.join("  "))
}

/// How far off it can be heard, and was.
fn reach_lines(screen: &Screen, beacon: &BeaconView) -> impl Iterator<Item = String> + use<> {
    let heard = beacon.mmsi().and(beacon.farthest).map(|range| format!("heard out to {range}"));
    let height = beacon.mmsi().and(screen.vessel.antenna_height_m);
    let likely = height.map(|height| {
        let horizon = radio_horizon(BEACON_HEIGHT_M, height);
        format!("reception likely to {}, limit {horizon}", working_range(horizon))
    });
    heard.into_iter().chain(likely)
}

/// An antenna on an inflated lifejacket, above the water. Our own.
const BEACON_HEIGHT_M: f64 = 0.2;

/// Less than this between two legs is no turn. Our own.
const STRAIGHT_ON: f64 = 5.0;

/// The present leg of the search and the turn after it; and why this search.
fn search_lines(beacon: &BeaconView, width: u16) -> Vec<String> {
    let Some(search) = &beacon.search else {
        let why = beacon.unsteerable.map(|why| format!("no SEARCH: {why}"));
        return why.map(|why| wrap(&why, width.saturating_sub(2))).unwrap_or_default();
    };
    let mut lines = Vec::new();
    match &search.guidance {
        // Until then one steers for the datum, which stands above.
        Ok(Some(Guidance { leg, then })) if leg.place.leg == 0 => {
            let first = then.map(|turn| format!("; first leg {}", turn.course));
            let start = if width < NARROW { "search" } else { "start search" };
            lines.push(format!("{start} at datum{}", first.unwrap_or_default()));
        }
        Ok(Some(Guidance { leg, then })) => {
            let pass = if leg.place.pass > 1 { ", 2nd pass" } else { "" };
            let (number, course) = (leg.place.leg, leg.course);
            lines.push(format!("SEARCH leg {number} of {}{pass}: steer {course}", search.legs));
            let then = match then {
                Some(turn) if turn.by.abs() < STRAIGHT_ON => ", then straight on".to_owned(),
                Some(turn) => format!(", then {} {}", words::side(turn.by), turn.course),
                None => String::new(),
            };
            lines.push(format!("  {} {}{then}", leg.length, words::minutes(leg.time)));
        }
        Ok(None) => lines.push("SEARCH: both passes done; ask the coastguard".to_owned()),
        Err(why) => lines.push(format!("SEARCH: {why}")),
    }
    if width >= 50 {
        lines.extend(wrap(&search.why, width.saturating_sub(4)));
    }
    lines
}

/// How wide a strip is searched, and what was taken for granted for that.
fn sweep_lines(beacon: &BeaconView, width: u16) -> Vec<String> {
    let Some(search) = &beacon.search else { return Vec::new() };
    let mut swept = format!("sweep width {}", search.sweep_width);
    if !search.assumed.is_empty() {
        swept = format!("{swept}; {}", search.assumed);
    }
    wrap(&swept, width.saturating_sub(2))
}

/// What waits to be acknowledged, with the key.
fn acknowledge_line(screen: &Screen, picture: &Picture, beacon: &BeaconView) -> Option<String> {
    let alert = screen.alert_in_view(picture).filter(|alert| is_unacknowledged(alert))?;
    Some(match alert.casualty() == Some(beacon.id) {
        true => "acknowledge: a".to_owned(),
        false => format!("acknowledge (a): {}", alert.text),
    })
}

/// One line, or where it is too narrow for that, one a clause.
fn by_clause(pen: &Pen<'_>, text: &str, width: u16) -> Vec<String> {
    match pen.width(text) < width {
        true => vec![text.to_owned()],
        false => text.split_inclusive("; ").map(|clause| clause.trim_end().to_owned()).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn how_close_it_comes_is_said_no_finer_than_it_is_known() {
        let said = |metres| closest(NauticalMiles::from_metres(metres), Duration::from_secs(240));
        assert_eq!(said(0.2), "closest under 20 m in 4 min on this course");
        assert_eq!(said(34.0), "closest 34 m in 4 min on this course");
    }
}
