//! Who could help: ships, aircraft and craft near the casualty, the first to be there first.

use std::time::Duration;

use ratatui::layout::Rect;

use super::super::pen::Pen;
use super::super::theme::Role;
use super::super::{Screen, words};
use super::below;
use crate::watch::{BeaconView, Helper, Picture};

/// Who takes longer than this is of no use. Our own.
const TOO_LONG: Duration = Duration::from_secs(2 * 3600);

/// Narrower than this, how far they are from own ship is not told.
const FROM_US: u16 = 76;

pub(super) fn draw(screen: &Screen, pen: &mut Pen<'_>, area: Rect, picture: &Picture) {
    let casualty = screen.beacon_in_view(picture).filter(|beacon| beacon.casualty);
    let Some(casualty) = casualty else {
        pen.put(area, 0, 2, "nobody is known to be in danger", Role::Text);
        return;
    };
    let name = words::name(casualty);
    pen.put(
        area,
        0,
        2,
        &format!("Who could help {name}, the first to be there first"),
        Role::Digits,
    );
    if casualty.helpers.is_empty() {
        let why = match casualty.place(picture.now.at) {
            Some(_) => "no ship within 25 NM of the casualty, by positions of the last 6 min",
            None => "the casualty's position is not known",
        };
        pen.put(area, 2, 2, why, Role::Text);
        return;
    }
    let from_us = area.width >= FROM_US;
    let head = format!("{:<14} {:<20} {:>11} {:>9}", "", "name", "to casualty", "time");
    let head = head + if from_us { "  from us" } else { "" };
    pen.put(area, 1, 2, &head, Role::Dim);
    let (helpers, far) = of_use(casualty);
    let far = far.into_iter().map(|far| (far, Role::Dim));
    let lines = helpers.into_iter().map(|helper| (row_of(helper, from_us), Role::Text)).chain(far);
    for (row, (line, role)) in (0..).zip(lines.skip(screen.line)) {
        pen.put(below(area, 2), row, 2, &line, role);
    }
    let note = "call on channel 16; times at last speed, else usual speed";
    pen.put(area, area.height.saturating_sub(1), 2, note, Role::Dim);
}

/// Those who can be there in time, and how many more there are, in words.
pub(super) fn of_use(casualty: &BeaconView) -> (Vec<&Helper>, Option<String>) {
    let is_far = |it: &&Helper| !it.passed && it.time.is_some_and(|time| time > TOO_LONG);
    let (far, near): (Vec<_>, Vec<_>) = casualty.helpers.iter().partition(is_far);
    let more = if near.is_empty() { "ships" } else { "more" };
    let more = if far.len() == 1 && near.is_empty() { "ship" } else { more };
    let words = (!far.is_empty()).then(|| format!("{} {more}, over 2 h away", far.len()));
    (near, words)
}

/// One of them in the list.
fn row_of(helper: &Helper, from_us: bool) -> String {
    let time = helper.time.map_or("cannot".to_owned(), words::minutes);
    let us = helper.from_own.filter(|_| from_us);
    let us = us.map_or(String::new(), |(range, bearing)| format!("  {range} {bearing}"));
    let passed = if helper.passed { "  has just passed" } else { "" };
    let (kind, range) = (helper.kind.name(), helper.range.to_string());
    format!("{kind:<14} {:<20} {range:>11} {time:>9}{us}{passed}", name_of(helper))
}

/// What it is called: its name, else its identity.
fn name_of(helper: &Helper) -> String {
    helper.name.clone().unwrap_or_else(|| helper.mmsi.to_string())
}

/// One of them in a line.
pub(super) fn line(helper: &Helper) -> String {
    let time = helper.time.map_or(String::new(), |time| format!(" {}", words::minutes(time)));
    let passed = if helper.passed { " just passed" } else { "" };
    format!("{} {} {}{time}{passed}", helper.kind.name(), name_of(helper), helper.range)
}
