//! Range against time for the terminal, in braille dots or in ASCII.

use super::drill::Casualty;
use super::labels::seconds;
use crate::beacon;
use crate::drawing::{Canvas, Dots};
use crate::time::Utc;
use crate::zone::Zone;

/// Below this no plot is worth its place. Our own.
const LEAST_COLUMNS: usize = 20;

/// Range against time, in so many columns and rows, with axes, the local time beside UTC where there is
/// a zone; empty if no range is known.
pub fn plot(
    casualty: &Casualty,
    (columns, rows): (usize, usize),
    dots: Dots,
    zone: Option<&Zone>,
) -> Vec<String> {
    let ranges = &casualty.ranges;
    let (Some(first), Some(last)) = (ranges.first(), ranges.last()) else { return Vec::new() };
    let span = seconds(first.at, last.at);
    let most = ranges.iter().map(|it| it.range_nm.0).fold(0.0, f64::max);
    let label = |nm: f64| format!("{nm:>6.2} NM ");
    let margin = label(0.0).len();
    let width = columns.saturating_sub(margin + 1);
    if span <= 0.0 || most <= 0.0 || width < LEAST_COLUMNS || rows < 2 {
        return Vec::new();
    }
    let mut canvas = Canvas::new(width, rows, dots);
    for it in ranges {
        canvas.dot(seconds(first.at, it.at) / span, it.range_nm.0 / most);
    }
    let side = if dots == Dots::Braille { '│' } else { '|' };
    let mut lines: Vec<String> = canvas
        .rows()
        .into_iter()
        .enumerate()
        .map(|(row, line)| {
            let label = match row {
                0 => label(most),
                _ if row + 1 == rows => label(0.0),
                _ => " ".repeat(margin),
            };
            format!("{label}{side}{line}")
        })
        .collect();
    lines.push(heard_line(casualty, (first.at, span), (margin, width), dots));
    let (begin, end) = (Zone::both(zone, first.at), Zone::both(zone, last.at));
    let gap = width.saturating_sub(begin.len() + end.len());
    lines.push(format!("{}{begin}{}{end}", " ".repeat(margin + 1), " ".repeat(gap)));
    if casualty.bursts.iter().any(|it| !it.watched) {
        let mark = if dots == Dots::Braille { '░' } else { '/' };
        lines.push(format!("{}{mark} not watched", " ".repeat(margin + 1)));
    }
    lines
}

/// A mark in each column in which a message was heard, another where nobody listened.
fn heard_line(
    casualty: &Casualty,
    (begin, span): (Utc, f64),
    (margin, width): (usize, usize),
    dots: Dots,
) -> String {
    let mut heard = vec![false; width];
    let column = |t: f64| ((t / span).clamp(0.0, 1.0) * (width - 1) as f64).round() as usize;
    let minute = beacon::PERIOD.as_secs_f64();
    let missed = casualty.bursts.iter().filter(|it| !it.watched);
    let unwatched: Vec<(usize, usize)> =
        missed.map(|it| seconds(begin, it.at)).map(|t| (column(t), column(t + minute))).collect();
    for message in &casualty.receptions {
        let share = seconds(begin, message.at) / span;
        if (0.0..=1.0).contains(&share)
            && let Some(column) = heard.get_mut((share * (width - 1) as f64).round() as usize)
        {
            *column = true;
        }
    }
    let (tick, side) = if dots == Dots::Braille { ('╵', '└') } else { ('\'', '+') };
    let not_watched = if dots == Dots::Braille { '░' } else { '/' };
    let mark = |(column, heard): (usize, bool)| match heard {
        true => tick,
        false if unwatched.iter().any(|&(from, until)| (from..=until).contains(&column)) => {
            not_watched
        }
        false => ' ',
    };
    let ticks: String = heard.into_iter().enumerate().map(mark).collect();
    format!("{:>width$} {side}{ticks}", "heard", width = margin - 1)
}
