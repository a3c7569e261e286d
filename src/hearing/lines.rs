//! How the boat hears, for a terminal of 80 columns.

use super::round::{Round, class, percent};
use super::sketch::sketch;
use super::stations::{map_in_words, number, station_reach};
use super::together::{Hearing, HourShown};
use crate::advice::{about, reach_now};
use crate::drawing::{Canvas, Dots};
use crate::text::shortened;
use crate::time::Utc;
use crate::units::NauticalMiles;

/// The plot of the hours: characters across and down.
const ACROSS: usize = 66;
const DOWN: usize = 7;

/// The plot of the directions. A character of braille is two dots by four, and a terminal's is about
/// twice as high as wide: round is what has twice as many across.
const ROUND: (usize, usize) = (26, 13);

/// Dots of a line, each way. Our own.
const STEPS: u16 = 240;

/// Hours further apart than this have a gap between them. Our own.
const GAP_MS: i64 = 90 * 60_000;

/// Columns of a bar.
const BAR: usize = 20;

/// All of it, each line for itself and harmless.
pub fn lines(hearing: &Hearing, dots: Dots) -> Vec<String> {
    let mut lines = Vec::new();
    match &hearing.now {
        Some(now) => lines.push(reach_now(now) + "."),
        None => lines.push("How far a beacon would be heard now is not known.".to_owned()),
    }
    lines.extend(over_time(hearing));
    lines.extend(plot(&hearing.hours, dots));
    lines.extend(by_direction(hearing, dots));
    let bar = if dots == Dots::Braille { '█' } else { '#' };
    let row = |name: &str, received: u64, expected: u64, further: String| {
        let share = percent(received, expected);
        let filled = bar.to_string().repeat((share * BAR as f64 / 100.0).round() as usize);
        let line = format!("  {name:<22} {share:>3.0} % {filled:<BAR$} of {expected}{further}");
        line.trim_end().to_owned()
    };
    let known = |it: &(&str, Vec<String>)| !it.1.is_empty();
    let ranges = hearing.by_range.iter().map(|it| {
        let name = format!("{} {:.1}–{:.1} NM", class(it.class), it.from_nm.0, it.to_nm.0);
        row(&name, it.received.into(), it.expected.into(), String::new())
    });
    let channels = hearing.by_channel.iter().map(|it| {
        let name = shortened(&format!("channel {}", it.channel), 22);
        row(&name, it.received.into(), it.expected.into(), String::new())
    });
    let inputs = hearing.by_input.iter().map(|it| {
        let further = it.median_nm.map_or(String::new(), |nm| format!(", beacon to {}", about(nm)));
        row(&shortened(&it.input, 20), it.received, it.expected, further)
    });
    let tables = [
        ("Reports received of those due, by range", ranges.collect()),
        ("By channel", channels.collect()),
        ("By input", inputs.collect::<Vec<_>>()),
    ];
    for (title, rows) in tables.into_iter().filter(known) {
        lines.extend([String::new(), title.to_owned()]);
        lines.extend(rows);
    }
    lines.extend(by_station(hearing));
    if let Some(map) = &hearing.map {
        let title = "Where a beacon would be heard, by the numbers of the stations";
        lines.extend([String::new(), title.to_owned()]);
        // Where no station is known to hear anywhere there is nothing to draw.
        if map.receivers.iter().any(|it| it.range_nm.is_some()) {
            lines.extend(sketch(map, dots));
        }
        lines.extend(map_in_words(hearing));
    }
    lines
}

/// A row for each station.
fn by_station(hearing: &Hearing) -> Vec<String> {
    if hearing.stations.is_empty() {
        return Vec::new();
    }
    let rows = hearing.stations.iter().map(|it| {
        let place = it.position.map_or("position not known".to_owned(), |it| it.to_string());
        let share = match it.expected {
            0 => "-".to_owned(),
            due => format!("{:.0} % of {due}", percent(it.received, due)),
        };
        let number = number(hearing, Some(&it.station)).map_or(String::new(), |it| it.to_string());
        let name = shortened(&it.station, 16);
        format!("{number:>3} {name:<16} {:<20} {share:<14} {place}", station_reach(it))
            .trim_end()
            .to_owned()
    });
    [
        String::new(),
        "By station: how far each would hear a beacon, reports received of those due".to_owned(),
    ]
    .into_iter()
    .chain(rows)
    .collect()
}

/// How the hours were, in a sentence; nothing where there is no more than one.
pub(super) fn over_time(hearing: &Hearing) -> Option<String> {
    let (from, until) = hearing.from.zip(hearing.until)?;
    let hours = hearing.hours.len();
    let known = hearing.hours.iter().filter(|it| it.range80_nm.is_some()).count();
    let span = format!("From {} to {}", hour(from), hour(until));
    let at = |it: &HourShown| {
        it.range80_nm.map_or(String::new(), |nm| format!("{} ({})", about(nm), hour(it.start)))
    };
    Some(match (hearing.median_nm, hearing.extremes()) {
        (Some(median), Some((least, most))) if hours > 1 => format!(
            "{span}, known in {known} of {hours} hours: {} in the middle, {} at least, {} at most.",
            about(median),
            at(&least),
            at(&most)
        ),
        (Some(_), _) => return None,
        _ if hours == 1 => format!("Not known for the hour from {}.", hour(from)),
        _ => format!("{span}: not known in any of {hours} hours."),
    })
}

/// `2026-06-14 02:00Z`.
pub(super) fn hour(at: Utc) -> String {
    format!("{} {}Z", at.date(), at.clock().chars().take(5).collect::<String>())
}

/// Reach against time: a dot for each hour, and its limits.
fn plot(hours: &[HourShown], dots: Dots) -> Vec<String> {
    let known: Vec<(&HourShown, NauticalMiles)> =
        hours.iter().filter_map(|it| Some((it, it.range80_nm?))).collect();
    let (Some((first, _)), Some((last, _))) = (known.first(), known.last()) else {
        return Vec::new();
    };
    let (begin, end) = (first.start, last.start);
    let span = end.ms_since(begin) as f64;
    if span <= 0.0 {
        return Vec::new();
    }
    let most = known.iter().map(|(it, nm)| it.high_nm.map_or(nm.0, |high| high.0.max(nm.0)));
    let most = most.fold(0.1, f64::max);
    let mut canvas = Canvas::new(ACROSS, DOWN, dots);
    let x = |it: &HourShown| it.start.ms_since(begin) as f64 / span;
    for &(it, _) in &known {
        for limit in [it.low_nm, it.high_nm].into_iter().flatten() {
            canvas.dot(x(it), limit.0 / most);
        }
    }
    // A line from hour to hour; across a gap none.
    for pair in known.windows(2) {
        let ((a, from), (b, to)) = (pair[0], pair[1]);
        let together = b.start.ms_since(a.start) <= GAP_MS;
        for step in 0..=if together { STEPS } else { 0 } {
            let part = f64::from(step) / f64::from(STEPS);
            canvas.dot(x(a) + (x(b) - x(a)) * part, (from.0 + (to.0 - from.0) * part) / most);
        }
    }
    let side = if dots == Dots::Braille { '│' } else { '|' };
    let mut lines = vec![String::new(), "Reach over time: a line, its limits dotted".to_owned()];
    for (row, line) in canvas.rows().into_iter().enumerate() {
        let label = match row {
            0 => format!("{most:>6.1} NM "),
            _ if row + 1 == DOWN => format!("{:>6.1} NM ", 0.0),
            _ => " ".repeat(10),
        };
        lines.push(format!("{label}{side}{line}").trim_end().to_owned());
    }
    let (begin, end) = (hour(begin), hour(end));
    let gap = ACROSS.saturating_sub(begin.len() + end.len());
    lines.push(format!("{}{begin}{}{end}", " ".repeat(11), " ".repeat(gap)));
    lines
}

/// The directions: a circle with each sector as far out as its number, and the numbers beside it.
fn by_direction(hearing: &Hearing, dots: Dots) -> Vec<String> {
    let Some(round) = Round::of(hearing) else { return Vec::new() };
    let what = if round.miles { "how far a beacon is heard" } else { "reports received" };
    let title = format!("By direction {}: {what}", round.ahead());
    let mut canvas = Canvas::new(ROUND.0, ROUND.1, dots);
    let mut dot = |degrees: f64, share: f64| {
        let (across, up) = degrees.to_radians().sin_cos();
        canvas.dot(0.5 + across * share / 2.0, 0.5 + up * share / 2.0);
    };
    for step in 0..12_u16 {
        dot(f64::from(step) * 30.0, 1.0);
    }
    dot(0.0, 0.0);
    for (number, it) in round.sectors.iter().enumerate() {
        let Some(value) = it.and_then(|it| it.value) else { continue };
        let (begin, share) = (number as f64 * 30.0, (value / round.most).clamp(0.0, 1.0));
        for step in 0..=STEPS {
            let part = f64::from(step) / f64::from(STEPS);
            dot(begin + 30.0 * part, share);
            dot(begin, share * part);
            dot(begin + 30.0, share * part);
        }
    }
    let mut lines = vec![String::new(), title];
    let rows = canvas.rows();
    for (row, line) in rows.iter().enumerate() {
        let beside = match row {
            0 if round.miles => format!("outer marks: {}", about(NauticalMiles(round.most))),
            0 => "outer marks: 100 %".to_owned(),
            _ => format!("{:<13} {}", round.name(row - 1), round.words(row - 1)),
        };
        lines.push(format!("  {line}   {beside}").trim_end().to_owned());
    }
    lines
}
