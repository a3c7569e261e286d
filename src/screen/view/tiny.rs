//! A terminal too small for anything but the answer.

use ratatui::layout::Rect;

use super::super::digits::Dot;
use super::super::pen::Pen;
use super::super::theme::Role;
use super::super::{Screen, muting, words};
use super::{below, headline, keys, question, quiet};
use crate::advice::{Ages, Figures, Subject, Whereabouts, subject};
use crate::watch::{BeaconView, Picture};

pub(super) fn draw(screen: &Screen, pen: &mut Pen<'_>, area: Rect, picture: &Picture) {
    headline::draw(screen, pen, Rect { height: area.height.min(1), ..area }, picture);
    let bottom = area.height.saturating_sub(1);
    let room = if area.height >= 8 {
        keys::draw(screen, pen, below(area, bottom), picture);
        Rect { height: bottom, ..area }
    } else {
        area
    };
    let body = below(room, 1);
    match subject(picture, screen.selected) {
        Subject::Casualty(beacon) => casualty(pen, body, picture, beacon),
        Subject::Test(_) => {}
        Subject::Quiet => quiet::draw_watch(screen, pen, body, picture),
    }
    if let Some(muted) = muting::summary(picture).filter(|_| body.height > 4) {
        pen.put_right(body, body.height - 1, &muted, Role::Warning);
    }
    question::draw(screen, pen, body, picture);
}

fn casualty(pen: &mut Pen<'_>, area: Rect, picture: &Picture, beacon: &BeaconView) {
    let ages = Ages::of(picture, beacon);
    let Some(numbers) = Figures::of(picture, beacon) else {
        pen.put(area, 0, 0, "no range, no bearing", Role::Digits);
        pen.put(area, 1, 0, &ages.heard_words(), Role::Text);
        return;
    };
    let role = if numbers.stale { Role::Stale } else { Role::Digits };
    let both = format!("{} {}", numbers.range, numbers.bearing.as_deref().unwrap_or_default());
    let large = Dot::SMALL.columns(&both) <= area.width && area.height >= Dot::SMALL.rows();
    let mut row = 0;
    if large {
        pen.large(area, &both, Dot::SMALL, role);
        row = Dot::SMALL.rows();
    }
    let said = numbers.line(pen.theme.degrees_true());
    pen.put(area, row, 0, &said, role);
    pen.put(area, row + 1, 0, &ages.words(), Role::Text);
    let place = Whereabouts::of(picture, beacon);
    let rough = place.and_then(|place| place.rough).map(|rough| rough.words());
    let relative = place.and_then(|place| place.relative).map(words::relative);
    if let Some(direction) = rough.or(relative) {
        pen.put(area, row + 2, 0, &direction, Role::Digits);
    }
    if let Some(steer) = beacon.way.and_then(|way| way.steer.or(way.steer_at_set_speed)) {
        let time = words::minutes(steer.time);
        pen.put(area, row + 3, 0, &format!("steer {}, {time}", steer.course), Role::Digits);
    }
}
