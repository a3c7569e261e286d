//! A self-test as it comes in: unmistakably a test.

use ratatui::layout::Rect;

use super::super::digits::Dot;
use super::super::pen::{Pen, wrap};
use super::super::theme::Role;
use super::super::{Screen, words};
use super::{below, quiet, right_of};
use crate::advice::last_burst;
use crate::beacon::MESSAGES;
use crate::frontend::TestVerdict;
use crate::watch::{BeaconView, Mode, Picture};
use crate::wire::ais::BeaconWord;

pub(super) fn draw(
    screen: &Screen,
    pen: &mut Pen<'_>,
    body: Rect,
    picture: &Picture,
    beacon: &BeaconView,
) {
    let sure = beacon.mode == Some(Mode::Test);
    let title = if sure {
        "This is a TEST, no emergency."
    } else {
        "Probably a TEST: its text has not come yet. Count heads."
    };
    pen.put(body, 0, 2, title, Role::Test);
    // Two columns a dot: that fits the narrowest.
    let dot = Dot { wide: 2, tall: 1 };
    pen.large(right_of(below(body, 2), 2), "TEST", dot, Role::Test);
    let beside = right_of(below(body, 2), 2 + dot.columns("TEST") + 3);
    burst(pen, beside, beacon);
    let heard = words::short_age(picture.now.at.since(beacon.last.at));
    let place = match (beacon.position, beacon.range) {
        (Some(_), Some(range)) => format!("its position is {range} from here"),
        (Some(position), None) => format!("its position is {position}"),
        (None, _) => "no position yet: it may wait for its fix".to_owned(),
    };
    pen.put(body, 8, 2, &format!("{}, heard {heard} ago", who(beacon)), Role::Text);
    pen.put(body, 9, 2, &place, Role::Text);
    let unlisted = screen.enrols_in_view(picture);
    let unlisted = unlisted.then_some("It is on no list. [e] enter it in the muster");
    let listed = screen.recent.entry_of(beacon, picture).or(unlisted);
    let listed = listed.map(|it| wrap(it, body.width.saturating_sub(6))).unwrap_or_default();
    for (row, line) in (10..).zip(&listed) {
        pen.put(body, row, 2, line, Role::Test);
    }
    let body = below(body, 10 + listed.len() as u16);
    let rows = verdict(screen, pen, body, beacon);
    let gap = u16::from(rows > 0 || listed.is_empty());
    quiet::draw_watch(screen, pen, below(body, gap + rows), picture);
}

/// How it was judged, if somebody asked for that. How many rows it takes.
fn verdict(screen: &Screen, pen: &mut Pen<'_>, area: Rect, beacon: &BeaconView) -> u16 {
    let Some(TestVerdict { verdict, record, .. }) = screen.verdict_on(beacon) else { return 0 };
    let mut lines = wrap(verdict, area.width.saturating_sub(6));
    // What became of it is never what does not fit.
    let room = usize::from(area.height.saturating_sub(1));
    let is_cut = lines.len() > room;
    lines.truncate(room);
    if let Some(last) = lines.last_mut().filter(|_| is_cut) {
        last.push_str(pen.theme.pick(" …", " .."));
    }
    lines.push(record.clone());
    for (row, line) in (0..).zip(&lines) {
        pen.put(area, row, 2, line, Role::Digits);
    }
    lines.len() as u16
}

/// Whose beacon it is, and its identity.
fn who(beacon: &BeaconView) -> String {
    match beacon.person {
        Some(_) => format!("{} {}", words::name(beacon), words::identity(beacon)),
        // Its name is its identity.
        None => words::name(beacon),
    }
}

/// The eight messages of a burst, as they come in.
fn burst(pen: &mut Pen<'_>, area: Rect, beacon: &BeaconView) {
    if last_burst(beacon).next().is_none() {
        let said = ["heard before this", "watch began; to have", "it judged, test again"];
        for (row, line) in (0..).zip(said) {
            pen.put(area, row, 0, line, Role::Test);
        }
        return;
    }
    let (full, empty) = pen.theme.pick(("■ ", "□ "), ("# ", ". "));
    for (row, channel) in [(0, 'A'), (1, 'B')] {
        let heard = last_burst(beacon).filter(|r| r.channel == Some(channel)).count().min(4);
        let boxes = full.repeat(heard) + &empty.repeat(4 - heard);
        let text = format!("channel {channel} {boxes} {heard} of 4");
        pen.put(area, row, 0, &text, Role::Test);
    }
    let total = last_burst(beacon).count().min(MESSAGES);
    pen.put(area, 2, 0, &format!("heard     {total} of {MESSAGES}"), Role::Text);
    let texts = last_burst(beacon).filter(|r| r.word == Some(BeaconWord::Test)).count();
    let said = match texts {
        0 => "text      not yet".to_owned(),
        1 => "text      TEST, once".to_owned(),
        count => format!("text      TEST, {count} times"),
    };
    pen.put(area, 3, 0, &said, Role::Text);
}
