//! The answer: range and bearing of a casualty, as large as the terminal allows, and how sure.

use ratatui::layout::{Constraint, Layout, Rect};

use super::super::digits::Dot;
use super::super::pen::Pen;
use super::super::theme::Role;
use super::super::{Screen, words};
use super::{below, details, plot, right_of};
use crate::navigation::{AheadFrom, Leg, Steer, Way, range_and_bearing};
use crate::units::{Degrees, Knots, NauticalMiles};
use crate::watch::{BeaconView, CasualtyId, Picture};

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
    /// In nautical miles, close by in metres; bracketed if it is the last known.
    pub range: String,
    /// In three figures, bracketed if it is the last known; none close by.
    pub bearing: Option<String>,
    /// Whether they are the last known.
    pub stale: bool,
}

impl Numbers {
    /// The unit of the range.
    pub(super) fn unit(&self) -> &'static str {
        if self.bearing.is_some() { "NM" } else { "m" }
    }

    /// Both in a line.
    pub(super) fn line(&self, degrees_true: &str) -> String {
        let bearing = self.bearing.as_ref().map(|bearing| format!(" {bearing}{degrees_true}"));
        format!("{} {}{}", self.range, self.unit(), bearing.unwrap_or_default())
    }
}

pub(super) fn numbers(picture: &Picture, beacon: &BeaconView) -> Option<Numbers> {
    let (range, bearing) = beacon.range.zip(beacon.bearing)?;
    // Close by a bearing is noise, and a mile too large a unit.
    let (range, bearing) = if is_close(beacon) {
        (format!("{:.0}", range.metres()), None)
    } else {
        (miles(range), Some(figures(bearing)))
    };
    let stale = is_stale(picture, beacon);
    let shown = |number| if stale { format!("[{number}]") } else { number };
    Some(Numbers { range: shown(range), bearing: bearing.map(shown), stale })
}

/// Nearer than this a bearing is noise: what counts is to go slowly, and to look.
const CLOSE: NauticalMiles = NauticalMiles(100.0 / 1852.0);

/// Whether the ship is there, as far as positions tell. Where the place is but reckoned she is when
/// she is at the datum.
pub(super) fn is_close(beacon: &BeaconView) -> bool {
    beacon.range.is_some_and(|range| range < CLOSE)
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
    let bearing = numbers.bearing.as_deref().unwrap_or_default();
    let columns = |dot: &Dot| dot.columns(&numbers.range) + dot.columns(bearing) + 15;
    let fits = |dot: &Dot| {
        columns(dot) <= body.width && (dot.tall == 1 || body.height >= 2 * dot.rows() + 6)
    };
    let dot = Dot::SIZES.into_iter().find(fits).unwrap_or(Dot::SMALL);
    let last = dot.rows() - 1;
    pen.large(right_of(body, 2), &numbers.range, dot, role);
    let unit = dot.columns(&numbers.range) + 3;
    pen.put(body, last, unit, numbers.unit(), role);
    if numbers.stale && beacon.datum.is_some() {
        pen.put(body, 0, unit, "est.", Role::Text);
        pen.put(body, 1, unit, "place", Role::Text);
    } else if numbers.stale {
        pen.put(body, 0, unit, "last", Role::Text);
        pen.put(body, 1, unit, "known", Role::Text);
    }
    let second = unit + 7;
    pen.large(right_of(body, second), bearing, dot, role);
    let side = second + dot.columns(bearing) + 1;
    if !bearing.is_empty() {
        pen.put(body, last, side, pen.theme.degrees_true().trim(), role);
    }
    let facts = facts(picture, beacon);
    if columns(&dot) + FACTS <= body.width {
        for (row, (fact, role)) in (0..).zip(&facts) {
            pen.put(body, row, side + 4, fact, *role);
        }
    } else {
        // Below the numbers, in the row that would be empty; the way to turn is told below.
        let mut column = 2;
        for (fact, role) in facts.iter().filter(|(fact, _)| !words::is_relative(fact)) {
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
    let mut facts = vec![match beacon.id {
        CasualtyId::Beacon(_) => (fix_age(beacon), worry(old)),
        CasualtyId::Mark(_) => (format!("marked {heard} ago"), Role::Text),
    }];
    match &beacon.datum {
        Some((datum, _)) => facts.push((
            format!("50% {} 95% {}", metres(datum.radius50), metres(datum.radius95)),
            Role::Warning,
        )),
        None => facts.push((format!("heard {heard} ago"), worry(beacon.silent))),
    }
    if let Some(age) = picture.own.age.filter(|age| age.as_secs() > OWN_STALE_S) {
        facts.push((format!("own pos. {} old", words::short_age(age)), Role::Warning));
    }
    let way = beacon.way;
    if let Some((leg, of)) = leg_now(beacon) {
        let magnetic = picture.own.variation.map(|it| words::magnetic(it.magnetic(leg.course)));
        let magnetic = magnetic.map(|it| format!(" {it}")).unwrap_or_default();
        facts.push((format!("steer {}{magnetic}", leg.course), Role::Digits));
        facts.push((format!("{} leg {of}", words::minutes(leg.time)), Role::Digits));
        return facts;
    }
    if is_close(beacon) {
        facts.push(("SLOW DOWN, LOOK".to_owned(), Role::Digits));
        return facts;
    }
    if let Some((relative, from)) = way.and_then(|way| way.relative) {
        let stand_in = from == AheadFrom::CourseOverGround;
        let of = if stand_in { " of course" } else { "" };
        facts.push((format!("{}{of}", words::relative(relative)), Role::Digits));
    }
    facts.extend(way.iter().flat_map(steer_facts).map(|fact| (fact, Role::Digits)));
    facts
}

/// The course to steer, and how long it takes at which speed: the present one, or else that which
/// is set for this.
fn steer_facts(way: &Way) -> Vec<String> {
    let course = |steer: &Steer| match steer.magnetic {
        Some(magnetic) => format!("steer {} {}", steer.course, words::magnetic(magnetic)),
        None => format!("steer {}", steer.course),
    };
    match (way.steer.zip(way.speed), way.steer_at_set_speed) {
        (Some((steer, speed)), _) if speed >= CREEPS => {
            vec![course(&steer), format!("{} at {speed}", words::minutes(steer.time))]
        }
        (_, Some(steer)) => {
            vec![course(&steer), format!("{} if at {}", words::minutes(steer.time), way.set_speed)]
        }
        (Some((steer, speed)), None) => {
            vec![course(&steer), format!("{} at {speed}", words::minutes(steer.time))]
        }
        (None, None) => vec!["drifts too fast".to_owned(), "for any course".to_owned()],
    }
}

/// Slower than this the time at the present speed says nothing.
const CREEPS: Knots = Knots(1.0);

/// The leg of a search that the ship is on, once she has come to the datum; and of how many.
pub(super) fn leg_now(beacon: &BeaconView) -> Option<(&Leg, String)> {
    let search = beacon.search.as_ref()?;
    let leg = &search.guidance.as_ref().ok()?.as_ref()?.leg;
    (leg.place.leg > 0).then(|| (leg, format!("{} of {}", leg.place.leg, search.legs)))
}

/// A radius in metres, from a mile on in miles.
pub(super) fn metres(range: NauticalMiles) -> String {
    if range.0 < 0.995 { format!("{:.0} m", range.metres()) } else { format!("{:.1} NM", range.0) }
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
