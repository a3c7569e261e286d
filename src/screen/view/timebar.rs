//! In a replay: how far it has run, with the alarms on the way.

use ratatui::layout::Rect;

use super::super::pen::Pen;
use super::super::theme::Role;
use super::right_of;
use crate::frontend::ReplayState;
use crate::time::Utc;

pub(super) fn draw(pen: &mut Pen<'_>, area: Rect, replay: &ReplayState, now: Utc) {
    let speed = match replay.speed {
        _ if replay.ended => "ended".to_owned(),
        _ if replay.paused => "held".to_owned(),
        Some(times) => format!("×{times}"),
        None => "max".to_owned(),
    };
    let column = pen.put(area, 0, 0, &format!(" REPLAY {speed} "), Role::ReplayBackground);
    let bar = right_of(area, column);
    pen.rule(bar);
    let Some((first, last)) = replay.span else { return };
    let whole = last.ms_since(first).max(1) as f64;
    let place = |at: Utc| {
        let part = (at.ms_since(first) as f64 / whole).clamp(0.0, 1.0);
        (part * f64::from(bar.width.saturating_sub(1))).round() as u16
    };
    for mark in &replay.marks {
        pen.dot(bar, 0, place(*mark), '!', Role::Alarm);
    }
    pen.dot(bar, 0, place(now), pen.theme.pick('◆', '#'), Role::Digits);
}
