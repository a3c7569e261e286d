//! The plan on a page of 80 columns, to be read at the wheel.

use std::fmt::Write as _;
use std::time::Duration;

use super::super::event_printer::wrapped;
use super::Planned;
use crate::advice::{age, magnetic};
use crate::navigation::{BY_DAY, Leg, Variation, variation};
use crate::time::Utc;
use crate::units::NauticalMiles;

const FIRST: &str = "The coastguard's plan comes before this one: call, and do what they say. While \
                     the beacon is still heard, steer to it and do not search.";

/// Writes it all.
pub(super) fn of(planned: &Planned) -> String {
    let Planned { search, legs, now, since, speed, assumed, .. } = planned;
    let (datum, plan) = (search.datum(), search.shape());
    let mut page = wrapped(FIRST, "");
    page.push('\n');
    let drift = datum.velocity;
    let moves = if drift.speed().0 < 0.05 {
        "not known to drift".to_owned()
    } else {
        format!("drifting {} at {}", drift.towards(), drift.speed())
    };
    let place = format!(
        "Datum at {}: {}, {moves}. Half of such casualties are within {} of it, 95 % within {}. \
         Last position {} ago.",
        now.clock(),
        datum.position,
        datum.radius50,
        datum.radius95,
        age(*since),
    );
    page.push_str(&wrapped(&place, ""));
    page.push_str(&wrapped(&capital(&plan.why), ""));
    let taken = if assumed.is_empty() { String::new() } else { format!(" ({assumed})") };
    let width = format!("Sweep width {}{taken}; {BY_DAY}.", plan.sweep_width);
    page.push_str(&wrapped(&width, ""));
    page.push('\n');
    let variation = variation(datum.position, *now)
        .map(|degrees_east| Variation { degrees_east, is_models: true });
    let magnetic = if variation.is_some() { "  MAGN." } else { "" };
    let _ = writeln!(
        page,
        "PASS LEG  STEER{magnetic}    LENGTH       TIME  UNTIL      LEG END POSITION"
    );
    let mut until = *now;
    for leg in legs {
        until = until.plus(leg.time);
        // She is there already, unless it was said where she is.
        if leg.time.is_zero() {
            continue;
        }
        row(&mut page, leg, until, variation);
    }
    let total: Duration = legs.iter().map(|leg| leg.time).sum();
    let way = NauticalMiles(legs.iter().map(|leg| leg.length.0).sum());
    page.push('\n');
    let compass = if variation.is_some() {
        "°M is by a compass without deviation (World Magnetic Model). "
    } else {
        ""
    };
    let sum = format!(
        "Together {way} and {} at {speed}. {compass}Courses are true and steered through the water, lengths \
         by the log: the pattern moves with the datum. The second pass runs between the legs of \
         the first.",
        length_of_time(total)
    );
    page.push_str(&wrapped(&sum, ""));
    page
}

fn row(page: &mut String, leg: &Leg, until: Utc, variation: Option<Variation>) {
    let number = match leg.place.leg {
        0 => "-".to_owned(),
        number => number.to_string(),
    };
    let by_compass = variation.map(|it| format!("  {}", magnetic(it.magnetic(leg.course))));
    let by_compass = by_compass.unwrap_or_default();
    // One unit in the whole table, whatever the length.
    let length = format!("{:.2} NM", leg.length.0);
    let _ = writeln!(
        page,
        "{:>4} {number:>3}  {}{by_compass}  {length:>8}  {:>9}  {}  {}",
        leg.place.pass,
        leg.course,
        length_of_time(leg.time),
        until.clock(),
        leg.to
    );
}

/// `1 h 05 min`, `4:48 min`.
fn length_of_time(time: Duration) -> String {
    let seconds = (time.as_secs_f64().round()) as u64;
    match seconds / 60 {
        minutes if minutes < 60 => format!("{minutes}:{:02} min", seconds % 60),
        minutes => format!("{} h {:02} min", minutes / 60, minutes % 60),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_ascii_uppercase());
    first.into_iter().chain(letters).chain(['.']).collect()
}
