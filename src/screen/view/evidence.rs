//! The reception strip: one column a minute for the last twenty, channel A above B, and the words.

use std::time::Duration;

use ratatui::layout::Rect;

use super::super::pen::Pen;
use super::super::theme::{Role, Theme};
use crate::watch::{BeaconView, Picture, Reception};
use crate::wire::ais::BeaconWord;

/// Columns, one a minute.
const MINUTES: usize = 20;

/// Columns left of the strip, and right of it.
const LABEL: u16 = 6;
const TALLY: u16 = 14;

/// Draws the strip in three rows; minutes before this watch began are hatched. The row after it.
pub(super) fn draw(pen: &mut Pen<'_>, area: Rect, picture: &Picture, beacon: &BeaconView) -> u16 {
    let age = picture.now.at.since(beacon.since.at).as_secs() / 60;
    let since = usize::try_from(age).unwrap_or(usize::MAX).saturating_add(1);
    let room = usize::from(area.width.saturating_sub(LABEL + TALLY));
    let shown = since.min(MINUTES).min(room);
    // What was heard before a restart is not known here: it is not drawn as nothing.
    let watched = picture.listening_since.map_or(shown, |since| {
        let minutes = picture.now.at.since(since).as_secs() / 60;
        usize::try_from(minutes).unwrap_or(usize::MAX).saturating_add(1).min(shown)
    });
    let strip = |cell: &dyn Fn(usize) -> char| (0..shown).rev().map(cell).collect::<String>();
    let theme = pen.theme;
    let mut end = LABEL;
    for (row, channel) in [(0, 'A'), (1, 'B')] {
        pen.put(area, row, 1, &format!("ch {channel}"), Role::Dim);
        let bars = strip(&|ago| match ago < watched {
            true => {
                bar(theme, in_minute(picture, beacon, ago).filter(|r| is_on(r, channel)).count())
            }
            false => theme.pick('░', '/'),
        });
        end = pen.put(area, row, LABEL, &bars, Role::Text);
    }
    pen.put(area, 2, 1, "text", Role::Dim);
    let letters = strip(&|ago| letter(in_minute(picture, beacon, ago)));
    pen.put(area, 2, LABEL, &letters, Role::Text);
    let heard: usize = (0..shown).map(|ago| in_minute(picture, beacon, ago).count()).sum();
    pen.put(area, 0, end + 1, &format!("{heard} in {watched} min"), Role::Dim);
    3
}

/// A receiver that does not tell the channel counts for both rows, halved by nothing.
fn is_on(reception: &Reception, channel: char) -> bool {
    reception.channel.is_none_or(|on| on == channel)
}

fn in_minute<'a>(
    picture: &Picture,
    beacon: &'a BeaconView,
    ago: usize,
) -> impl Iterator<Item = &'a Reception> + use<'a> {
    let now = picture.now.at;
    let minute = Duration::from_secs(60);
    let (from, to) = (minute * ago as u32, minute * (ago as u32 + 1));
    beacon.receptions.iter().filter(move |r| {
        let age = now.since(r.at);
        age >= from && age < to
    })
}

/// Of four messages a minute on a channel. None reaches the row above.
fn bar(theme: Theme, heard: usize) -> char {
    let unicode = ['·', '▂', '▃', '▅', '▆'];
    let ascii = ['.', '1', '2', '3', '4'];
    theme.pick(unicode, ascii)[heard.min(4)]
}

/// The word that came in that minute; ACTIVE before TEST.
fn letter<'a>(minute: impl Iterator<Item = &'a Reception>) -> char {
    let words: Vec<BeaconWord> = minute.filter_map(|r| r.word).collect();
    match words {
        _ if words.contains(&BeaconWord::Active) => 'A',
        _ if words.contains(&BeaconWord::Test) => 'T',
        _ if !words.is_empty() => 'O',
        _ => ' ',
    }
}
