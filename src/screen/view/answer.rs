//! The answer: range and bearing of a casualty, as large as the terminal allows, and how sure.

use ratatui::layout::{Constraint, Layout, Rect};

use super::super::digits::Dot;
use super::super::pen::Pen;
use super::super::theme::Role;
use super::super::{Screen, words};
use super::{below, details, plot, right_of};
use crate::navigation::range_and_bearing;
use crate::units::{Degrees, NauticalMiles};
use crate::watch::{BeaconView, Picture};

/// A fix older than this is "last known": two bursts were missed.
const STALE_S: u64 = 150;

/// An own position older than this makes a range that is last known too.
const OWN_STALE_S: u64 = 30;

/// Columns for what stands right of the numbers.
const FACTS: u16 = 20;

pub(super) fn draw(
    screen: &Screen,
    pen: &mut Pen<'_>,
    body: Rect,
    picture: &Picture,
    beacon: &BeaconView,
) {
    let rows = match numbers(picture, beacon) {
        Some(numbers) => large(pen, body, picture, beacon, &numbers),
        None if beacon.position.is_some() => own_not_known(pen, body, picture, beacon),
        None => no_fix(pen, body, picture, beacon),
    };
    let rest = below(body, rows + 1);
    let plot_width = match body.width {
        0..70 => 24,
        70..100 => body.width / 2 - 2,
        _ => body.width / 2,
    };
    let [left, right] =
        Layout::horizontal([Constraint::Min(28), Constraint::Length(plot_width)]).areas(rest);
    plot::draw(screen, pen, right, picture, Some(beacon));
    details::draw(screen, pen, left, picture, beacon);
}

/// Whether the numbers are those of a place that may no longer hold.
fn is_stale(picture: &Picture, beacon: &BeaconView) -> bool {
    beacon.silent
        || beacon.fix_age.is_none_or(|age| age.as_secs() > STALE_S)
        || picture.own.age.is_none_or(|age| age.as_secs() > OWN_STALE_S)
}

/// Range and bearing as they are shown.
pub(super) struct Numbers {
    /// In nautical miles, bracketed if it is the last known.
    pub range: String,
    /// In three figures, bracketed if it is the last known.
    pub bearing: String,
    /// Whether they are the last known.
    pub stale: bool,
}

pub(super) fn numbers(picture: &Picture, beacon: &BeaconView) -> Option<Numbers> {
    let (range, bearing) = beacon.range.zip(beacon.bearing)?;
    let (range, bearing) = (miles(range), figures(bearing));
    let stale = is_stale(picture, beacon);
    let shown = |number| if stale { format!("[{number}]") } else { number };
    Some(Numbers { range: shown(range), bearing: shown(bearing), stale })
}

fn miles(range: NauticalMiles) -> String {
    match range.0 {
        miles if miles < 9.995 => format!("{miles:.2}"),
        miles if miles < 99.95 => format!("{miles:.1}"),
        miles => format!("{miles:.0}"),
    }
}

/// A bearing in three figures.
fn figures(bearing: Degrees) -> String {
    format!("{:03}", bearing.value().round() as u32 % 360)
}

/// The numbers, and right of them what they rest on. How many rows they take.
fn large(
    pen: &mut Pen<'_>,
    body: Rect,
    picture: &Picture,
    beacon: &BeaconView,
    numbers: &Numbers,
) -> u16 {
    let role = if numbers.stale { Role::Stale } else { Role::Digits };
    let columns = |dot: &Dot| dot.columns(&numbers.range) + dot.columns(&numbers.bearing) + 15;
    let fits = |dot: &Dot| {
        columns(dot) <= body.width && (dot.tall == 1 || body.height >= 2 * dot.rows() + 6)
    };
    let dot = Dot::SIZES.into_iter().find(fits).unwrap_or(Dot::SMALL);
    let last = dot.rows() - 1;
    pen.large(right_of(body, 2), &numbers.range, dot, role);
    let unit = dot.columns(&numbers.range) + 3;
    pen.put(body, last, unit, "NM", role);
    if numbers.stale {
        pen.put(body, 0, unit, "last", Role::Text);
        pen.put(body, 1, unit, "known", Role::Text);
    }
    let second = unit + 7;
    pen.large(right_of(body, second), &numbers.bearing, dot, role);
    let side = second + dot.columns(&numbers.bearing) + 1;
    pen.put(body, last, side, pen.theme.degrees_true().trim(), role);
    let facts = facts(picture, beacon);
    if columns(&dot) + FACTS <= body.width {
        for (row, (fact, role)) in (0..).zip(&facts) {
            pen.put(body, row, side + 4, fact, *role);
        }
    } else {
        // Below the numbers, in the row that would be empty.
        let mut column = 2;
        for (fact, role) in &facts {
            column = pen.put(body, dot.rows(), column, fact, *role) + 2;
        }
    }
    dot.rows()
}

/// How old it all is, and which way it is from the bow.
fn facts(picture: &Picture, beacon: &BeaconView) -> Vec<(String, Role)> {
    let old = beacon.fix_age.is_none_or(|age| age.as_secs() > STALE_S);
    let heard = words::short_age(picture.now.at.since(beacon.last.at));
    let worry = |is_bad| if is_bad { Role::Warning } else { Role::Text };
    let mut facts = vec![(fix_age(beacon), worry(old))];
    facts.push((format!("heard {heard} ago"), worry(beacon.silent)));
    if let Some(age) = picture.own.age.filter(|age| age.as_secs() > OWN_STALE_S) {
        facts.push((format!("own pos. {} old", words::short_age(age)), Role::Warning));
    }
    if let Some((relative, _)) = beacon.way.and_then(|way| way.relative) {
        facts.push((words::relative(relative), Role::Digits));
    }
    facts
}

fn fix_age(beacon: &BeaconView) -> String {
    beacon.fix_age.map_or("age of fix not known".to_owned(), |age| {
        format!("fix {} old", words::short_age(age))
    })
}

/// A word where the numbers would be, and lines right of it.
fn in_words(pen: &mut Pen<'_>, body: Rect, word: &str, lines: &[(String, Role)]) -> u16 {
    let longest = lines.iter().map(|(line, _)| pen.width(line)).max().unwrap_or_default();
    let fits = |dot: &Dot| dot.tall == 1 && dot.columns(word) + 4 + longest <= body.width;
    let dot = Dot::SIZES.into_iter().find(fits).unwrap_or(Dot::SMALL);
    pen.large(right_of(body, 2), word, dot, Role::Digits);
    let side = right_of(body, dot.columns(word) + 4);
    for (row, (line, role)) in (0..).zip(lines) {
        pen.put(side, row, 0, line, *role);
    }
    dot.rows()
}

/// The beacon has no position: where to go meanwhile.
fn no_fix(pen: &mut Pen<'_>, body: Rect, picture: &Picture, beacon: &BeaconView) -> u16 {
    let heard = words::short_age(picture.now.at.since(beacon.last.at));
    let mut lines = vec![
        ("NO POSITION YET".to_owned(), Role::Digits),
        ("usual within a minute or two".to_owned(), Role::Text),
    ];
    if let Some(first) = beacon.own_at_first {
        // One of the crew fell where the ship was; a stranger need not have.
        let ours = beacon.person.is_some();
        let what = if ours { "steer for your place of" } else { "first heard from here," };
        lines.push((format!("{what} {}:", beacon.since.utc.clock()), Role::Text));
        if let Some(own) = picture.own.position {
            let (range, bearing) = range_and_bearing(own, first);
            let mark = pen.theme.place_to_return_to();
            lines.push((format!("{mark} {} NM {bearing}", miles(range)), Role::Digits));
        }
        lines.push((first.to_string(), Role::Text));
    }
    lines.push((format!("heard {heard} ago"), Role::Text));
    in_words(pen, body, "NO FIX", &lines)
}

/// The beacon has a position, and the ship has none.
fn own_not_known(pen: &mut Pen<'_>, body: Rect, picture: &Picture, beacon: &BeaconView) -> u16 {
    let heard = words::short_age(picture.now.at.since(beacon.last.at));
    let lines = [
        ("OWN POSITION NOT KNOWN".to_owned(), Role::Warning),
        ("so no range and no bearing".to_owned(), Role::Text),
        ("beacon at".to_owned(), Role::Text),
        (beacon.position.map_or(String::new(), |it| it.to_string()), Role::Digits),
        (fix_age(beacon), Role::Text),
        (format!("heard {heard} ago"), Role::Text),
    ];
    in_words(pen, body, "--- ---", &lines)
}
