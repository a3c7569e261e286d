//! The answer: range and bearing of a casualty, as large as the terminal allows, and how sure.

use ratatui::layout::{Constraint, Layout, Rect};

use super::super::digits::{self, Dot};
use super::super::pen::Pen;
use super::super::theme::Role;
use super::super::{Screen, words};
use super::{below, details, plot, right_of};
use crate::advice::{
    Ages, Figures, ToSteer, Whereabouts, fix_is_old, headline_name, metres, miles, own_is_old,
};
use crate::navigation::{AheadFrom, range_and_bearing};
use crate::watch::{BeaconView, CasualtyId, Picture};

/// Columns for what stands right of the numbers.
const FACTS: u16 = 20;

/// So much room and who it is is written large, too: in columns and rows.
const NAMED: (u16, u16) = (120, 28);

/// With so many rows the captions have one of their own, where they cannot stand on the rule.
const CAPTIONED: u16 = 17;

pub(super) fn draw(
    screen: &Screen,
    pen: &mut Pen<'_>,
    body: Rect,
    picture: &Picture,
    beacon: &BeaconView,
) {
    let whole = body;
    let body = below(body, name(pen, body, beacon));
    let rows = match Figures::of(picture, beacon) {
        Some(numbers) => {
            let dot = size(&numbers, whole);
            let captions = captions(screen, pen, (whole, body), &numbers, dot);
            captions + large(pen, below(body, captions), picture, beacon, &numbers, dot)
        }
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

/// Where the bearing begins.
fn second(figures: &Figures, dot: Dot) -> u16 {
    dot.columns(&figures.range) + 10
}

/// How many columns both take, with their units.
fn columns(figures: &Figures, dot: Dot) -> u16 {
    dot.columns(&figures.range) + dot.columns(figures.bearing.as_deref().unwrap_or_default()) + 15
}

/// Who it is, where there is room for it. How many rows that takes.
fn name(pen: &mut Pen<'_>, body: Rect, beacon: &BeaconView) -> u16 {
    let name = headline_name(beacon);
    if body.width < NAMED.0 || body.height < NAMED.1 || !digits::can_write(&name) {
        return 0;
    }
    let sizes = [Dot { wide: 2, tall: 1 }, Dot::SMALL];
    let Some(dot) = sizes.into_iter().find(|dot| dot.columns(&name) + 3 <= body.width) else {
        return 0;
    };
    pen.large(right_of(body, 2), &name, dot, Role::Digits);
    // Who it is may be in doubt.
    if let Some(other) = &beacon.other_place {
        pen.put(body, 0, dot.columns(&name) + 5, &other.words(), Role::Warning);
    }
    dot.rows()
}

/// The largest dots with which range and bearing fit on a page.
fn size(numbers: &Figures, page: Rect) -> Dot {
    let fits = |dot: &Dot| {
        columns(numbers, *dot) <= page.width && (dot.tall == 1 || page.height >= 2 * dot.rows() + 6)
    };
    Dot::SIZES.into_iter().find(fits).unwrap_or(Dot::SMALL)
}

/// What the numbers are, above them: on the rule over the page, or where something else stands there,
/// in a row of their own if there is one to spare. How many rows that takes.
fn captions(
    screen: &Screen,
    pen: &mut Pen<'_>,
    (page, body): (Rect, Rect),
    numbers: &Figures,
    dot: Dot,
) -> u16 {
    let on_rule = screen.replay.is_none() && page.y == body.y && page.y > 0;
    if !on_rule && page.height < CAPTIONED {
        return 0;
    }
    let line = if on_rule { Rect { y: page.y - 1, height: 1, ..page } } else { body };
    pen.put(line, 0, 1, " RANGE ", Role::Dim);
    if numbers.bearing.is_some() {
        pen.put(line, 0, second(numbers, dot) - 1, " BEARING ", Role::Dim);
    }
    u16::from(!on_rule)
}

/// The numbers, and right of them what they rest on. How many rows they take.
fn large(
    pen: &mut Pen<'_>,
    body: Rect,
    picture: &Picture,
    beacon: &BeaconView,
    numbers: &Figures,
    dot: Dot,
) -> u16 {
    let role = if numbers.stale { Role::Stale } else { Role::Digits };
    let bearing = numbers.bearing.as_deref().unwrap_or_default();
    let last = dot.rows() - 1;
    pen.large(right_of(body, 2), &numbers.range, dot, role);
    let unit = dot.columns(&numbers.range) + 3;
    pen.put(body, last, unit, numbers.unit(), role);
    if numbers.stale && beacon.datum.is_some() {
        pen.put(body, 0, unit, "est.", Role::Text);
        pen.put(body, 1, unit, "pos.", Role::Text);
    } else if numbers.stale {
        pen.put(body, 0, unit, "last", Role::Text);
        pen.put(body, 1, unit, "known", Role::Text);
    }
    let second = second(numbers, dot);
    pen.large(right_of(body, second), bearing, dot, role);
    let side = second + dot.columns(bearing) + 1;
    if !bearing.is_empty() {
        pen.put(body, last, side, pen.theme.degrees_true().trim(), role);
    }
    let facts = facts(picture, beacon);
    if columns(numbers, dot) + FACTS <= body.width {
        for (row, fact) in (0..).zip(&facts) {
            pen.put(body, row, side + 4, &fact.words, fact.role);
        }
        return dot.rows();
    }
    // Below the numbers: in the row that would be empty, and in one more.
    let (mut row, mut column) = (dot.rows(), 2);
    for fact in &facts {
        if column > 2 && column + pen.width(&fact.words) > body.width {
            (row, column) = (row + 1, 2);
        }
        if row > dot.rows() + 1 {
            return dot.rows() + 1;
        }
        column = pen.put(body, row, column, &fact.words, fact.role) + 2;
    }
    row
}

/// One thing that stands beside the numbers.
struct Fact {
    words: String,
    role: Role,
}

impl Fact {
    fn new(words: impl Into<String>, role: Role) -> Self {
        Self { words: words.into(), role }
    }
}

/// How old it all is, and which way it is from the bow.
fn facts(picture: &Picture, beacon: &BeaconView) -> Vec<Fact> {
    let mut facts = ages(picture, beacon);
    facts.extend(steering(picture, beacon));
    facts
}

fn ages(picture: &Picture, beacon: &BeaconView) -> Vec<Fact> {
    let ages = Ages::of(picture, beacon);
    let worry = |is_bad| if is_bad { Role::Warning } else { Role::Text };
    let mut facts = vec![match beacon.id {
        CasualtyId::Beacon(_) => Fact::new(ages.fix_words(), worry(fix_is_old(beacon.fix_age))),
        CasualtyId::Mark(_) => Fact::new(ages.heard_words(), Role::Text),
    }];
    facts.push(match &beacon.datum {
        Some((datum, _)) => {
            Fact::new(format!("95 % within {}", metres(datum.radius95)), Role::Warning)
        }
        None => Fact::new(ages.heard_words(), worry(beacon.silent)),
    });
    if let Some(age) = picture.own.age.filter(|age| own_is_old(*age)) {
        facts.push(Fact::new(format!("own pos. {} old", words::short_age(age)), Role::Warning));
    }
    facts
}

fn steering(picture: &Picture, beacon: &BeaconView) -> Vec<Fact> {
    let fact = |words: String| Fact::new(words, Role::Digits);
    let steer = |it: ToSteer| [format!("steer {}", it.course), it.time].map(fact);
    if let Some(leg) = ToSteer::on_leg(picture, beacon) {
        return steer(leg).into();
    }
    if let Some(place) = Whereabouts::of(picture, beacon).filter(Whereabouts::is_close) {
        let look = place.rough.map_or("all round".to_owned(), |rough| rough.words());
        return vec![fact("SLOW DOWN, LOOK:".to_owned()), fact(look)];
    }
    let mut facts = Vec::new();
    if let Some((relative, from)) = beacon.way.and_then(|way| way.relative) {
        let stand_in = from == AheadFrom::CourseOverGround;
        let of = if stand_in { " (by COG)" } else { "" };
        facts.push(fact(format!("{}{of}", words::relative(relative))));
    }
    facts.extend(beacon.way.iter().flat_map(|way| match ToSteer::on_way(way) {
        Some(to) => steer(to),
        None => ["drifts too fast".to_owned(), "for any course".to_owned()].map(fact),
    }));
    facts
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
    let mut lines = vec![
        ("NO POSITION YET".to_owned(), Role::Digits),
        ("usual within a minute or two".to_owned(), Role::Text),
    ];
    if let Some(first) = beacon.own_at_first {
        // One of the crew fell where the ship was; a stranger need not have.
        let ours = beacon.person.is_some();
        let what = if ours { "head back to where you were" } else { "first heard from here" };
        lines.push((what.to_owned(), Role::Text));
        let way = picture.own.position.map_or(String::new(), |own| {
            let (range, bearing) = range_and_bearing(own, first);
            format!(" {} {} NM {bearing}", pen.theme.place_to_return_to(), miles(range))
        });
        lines.push((format!("at {}:{way}", beacon.since.utc.clock()), Role::Digits));
        lines.push((first.to_string(), Role::Text));
    }
    lines.push((Ages::of(picture, beacon).heard_words(), Role::Text));
    in_words(pen, body, "NO FIX", &lines)
}

/// The beacon has a position, and the ship has none.
fn own_not_known(pen: &mut Pen<'_>, body: Rect, picture: &Picture, beacon: &BeaconView) -> u16 {
    let ages = Ages::of(picture, beacon);
    let lines = [
        ("OWN POSITION NOT KNOWN".to_owned(), Role::Warning),
        ("so no range and no bearing".to_owned(), Role::Text),
        ("beacon at".to_owned(), Role::Text),
        (beacon.position.map_or(String::new(), |it| it.to_string()), Role::Digits),
        (ages.fix_words(), Role::Text),
        (ages.heard_words(), Role::Text),
    ];
    in_words(pen, body, "--- ---", &lines)
}
