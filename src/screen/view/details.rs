//! Left of the plot: what was heard, what to do, who else, where.

use ratatui::layout::Rect;

use super::super::pen::Pen;
use super::super::theme::Role;
use super::super::{Screen, is_unacknowledged, words};
use super::{answer, evidence, quiet};
use crate::watch::{BeaconView, InputState, Mode, Picture};

/// Others in danger that are listed; more are counted.
const OTHERS: usize = 4;

pub(super) fn draw(
    screen: &Screen,
    pen: &mut Pen<'_>,
    area: Rect,
    picture: &Picture,
    beacon: &BeaconView,
) {
    // A column stays free before the plot.
    let area = Rect { width: area.width.saturating_sub(1), ..area };
    let first = evidence::draw(pen, area, picture, beacon);
    let mut lines = vec![(next_step(screen, picture, beacon), Role::Digits)];
    lines.extend(others(pen, picture, beacon).into_iter().map(|line| (line, Role::Alarm)));
    for input in &picture.inputs {
        if !matches!(input.state, Some(InputState::Live) | None) {
            let state = quiet::state_word(input.state);
            lines.push((format!("input {} {state}", input.name), Role::Warning));
        }
    }
    if let Some(position) = beacon.position {
        lines.push((format!("beacon {position}"), Role::Text));
    }
    lines.extend(quiet::own_lines(picture).map(|line| (line, Role::Text)));
    for ship in picture.nearest.iter().take(8) {
        let name = quiet::ship_name(ship);
        lines.push((format!("ship {name} {} {}", ship.range, ship.bearing), Role::Dim));
    }
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
        let place = answer::numbers(picture, other).map_or("no position".to_owned(), |numbers| {
            format!("{} NM {}{}", numbers.range, numbers.bearing, pen.theme.degrees_true())
        });
        let new = if waits { " NEW" } else { "" };
        format!("{} {} {place}{new}", pen.theme.casualty(), words::name(other))
    };
    let mut lines: Vec<String> = others.iter().take(OTHERS).map(line).collect();
    if others.len() > OTHERS {
        lines.push(format!("and {} more in danger", others.len() - OTHERS));
    }
    lines
}

/// What to do next, in one line.
fn next_step(screen: &Screen, picture: &Picture, beacon: &BeaconView) -> String {
    let waiting = screen.alert_in_view(picture).filter(|alert| is_unacknowledged(alert));
    if let Some(alert) = waiting {
        return match alert.casualty() {
            Some(id) if id == beacon.id => "acknowledge: a".to_owned(),
            _ => format!("acknowledge: a ({})", alert.text),
        };
    }
    let bearing = beacon.bearing.map(|it| it.to_string());
    let stale = answer::numbers(picture, beacon).is_some_and(|numbers| numbers.stale);
    let crew = beacon.person.is_some() && beacon.mode == Some(Mode::Active);
    match bearing {
        Some(bearing) if stale => format!("steer {bearing} to last known place"),
        Some(bearing) => format!("steer {bearing}, point, keep lookout"),
        None if crew && beacon.position.is_none() => "turn back on your track".to_owned(),
        None => "count heads: is everybody aboard?".to_owned(),
    }
}
