//! The page: one HTML file without script and without network.
//!
//! *Invariant:* each text of a person or from the air goes through [`escaped`], and none stands inside
//! a drawing.

use super::chart::{self, Chart};
use super::drawings;
use super::lines;
use super::round::percent;
use super::stations::{map_in_words, number, station_reach};
use super::together::Hearing;
use crate::advice::{about, reach_now};
use crate::drawing::{Layout, document, escaped};

/// The page about a boat of this name.
pub fn page(hearing: &Hearing, ship: Option<&str>) -> String {
    let title = "How far this boat hears";
    let heading = ship.map_or(title.to_owned(), |ship| format!("<bdi>{}</bdi>", escaped(ship)));
    let span =
        hearing.from.zip(hearing.until).map_or("no hour is known".to_owned(), |(from, until)| {
            format!("{} to {}", lines::hour(from), lines::hour(until))
        });
    let mut body = format!(
        "<header>\n<p class=\"about\">{title}</p>\n<h1>{heading}</h1>\n<p class=\"when\">{span}</p>\n</header>\n"
    );
    body += &lead(hearing);
    let figures: [(&str, Draw, &str); 3] = [
        ("Reach over time", drawings::over_time, OVER_TIME),
        ("By direction", drawings::polar, BY_DIRECTION),
        ("Reports received of those due, by range", drawings::by_range, BY_RANGE),
    ];
    for (number, (title, draw, words)) in figures.into_iter().enumerate() {
        body += &figure(hearing, title, &format!("h{number}"), draw, words);
    }
    body += &table(
        "By channel",
        "channel",
        hearing.by_channel.iter().map(|it| {
            (it.channel.to_string(), u64::from(it.expected), u64::from(it.received), None)
        }),
    );
    body += &table(
        "By input",
        "input",
        hearing
            .by_input
            .iter()
            .map(|it| (it.input.clone(), it.expected, it.received, it.median_nm)),
    );
    body += &map(hearing);
    body += &stations(hearing);
    body += &format!(
        "<footer>\n<h2>What this page is</h2>\n{FOOT}<p>overside {}</p>\n</footer>\n",
        env!("CARGO_PKG_VERSION")
    );
    let title = ship.map_or(title.to_owned(), |ship| format!("{title}: {ship}"));
    document(&title, &body)
}

type Draw = fn(&Hearing, Layout, &str) -> Option<String>;

const OVER_TIME: &str = "<p>The range within which eight of ten messages of a beacon in the water would have come in, hour by hour: a line for the estimate, an area for its limits. Where there is no line it was not known.</p>\n";
const BY_DIRECTION: &str = "<p>A mast, a gantry or land throws a shadow: the boat hears less far that way. Ahead is at the top where a heading or a course over ground was known, else north.</p>\n<p class=\"note\">Ships are not equally far off in all directions: a share of reports alone is no measure of a shadow.</p>\n";
const BY_RANGE: &str = "<p>Ships report at known intervals. What was due and did not come is lost: how much, by class and range.</p>\n<p class=\"note\">Class A sends with 12.5 W, class B with 2 or 5 W, a beacon with 1 W from just above the water.</p>\n";
const MAP: &str = "<p class=\"note\">An area is where eight of ten messages of a beacon in the water would have come in, by direction, in the middle of the hours: the darker, the more stations hear it. Where it is an arc of dashes alone, nothing is known of that direction: it is as far out as all directions together. A dotted line leads across a gap that is told of. Neighbours are two stations no more than 100 NM apart, with no third nearer to both.</p>\n";
const FOOT: &str = "<p>An estimate from the ships that were heard, for a beacon of 1 W at 0.2 m above the water. Waves, and a beacon under water or behind a body, make it less. Only a test of the beacon itself proves that it is heard. The program listens, transmits nothing and is not type-approved.</p>\n<p>Times are UTC; 1 NM is 1852 m.</p>\n";

/// What matters, and the few numbers.
fn lead(hearing: &Hearing) -> String {
    let now = hearing.now.as_ref().map(|now| reach_now(now) + ".");
    let now = now.unwrap_or("How far a beacon would be heard now is not known.".to_owned());
    let sentences: String = [Some(now), lines::over_time(hearing)]
        .into_iter()
        .flatten()
        .map(|it| format!("<p>{}</p>\n", escaped(&it)))
        .collect();
    let (least, most) = hearing.extremes().unzip();
    let tiles = [
        ("now", hearing.now.as_ref().and_then(|it| it.range80_nm)),
        ("in the middle", hearing.median_nm),
        ("least", least.and_then(|it| it.range80_nm)),
        ("most", most.and_then(|it| it.range80_nm)),
    ];
    let tiles: String = tiles
        .into_iter()
        .map(|(name, nm)| {
            format!("<div><dt>{name}</dt><dd>{}</dd></div>\n", drawings::distance(nm))
        })
        .collect();
    format!(
        "<section class=\"lead\">\n<div class=\"short\">\n{sentences}</div>\n<dl class=\"tiles\">\n{tiles}</dl>\n</section>\n"
    )
}

fn figure(hearing: &Hearing, title: &str, id: &str, draw: Draw, words: &str) -> String {
    let drawings: String = Layout::BOTH
        .into_iter()
        .filter_map(|layout| draw(hearing, layout, &format!("{id}-{}", layout.class())))
        .collect();
    if drawings.is_empty() {
        return String::new();
    }
    format!(
        "<section class=\"figure\">\n<h2>{title}</h2>\n<div class=\"beside\">\n<div class=\"drawing\">\n{drawings}</div>\n\
         <div class=\"words\">\n{words}</div>\n</div>\n</section>\n"
    )
}

fn table(
    title: &str,
    first: &str,
    rows: impl Iterator<Item = (String, u64, u64, Option<crate::units::NauticalMiles>)>,
) -> String {
    let rows: String = rows
        .map(|(name, expected, received, range)| {
            format!(
                "<tr><th scope=\"row\"><bdi>{}</bdi></th><td>{received} of {expected}</td><td>{:.0} %</td><td>{}</td></tr>\n",
                escaped(&name),
                percent(received, expected),
                range.map_or("–".to_owned(), about)
            )
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    format!(
        "<section>\n<h2>{title}</h2>\n<table>\n<thead><tr><th scope=\"col\">{first}</th><th scope=\"col\">reports received of those due</th>\
         <th scope=\"col\">share</th><th scope=\"col\">a beacon heard to</th></tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n</section>\n"
    )
}

/// Where a beacon would be heard by all of them; nothing without a place of a station.
fn map(hearing: &Hearing) -> String {
    let Some(map) = &hearing.map else { return String::new() };
    let draw = |layout: Layout| chart::draw(map, layout, &format!("map-{}", layout.class()));
    let charts: Vec<Chart> = Layout::BOTH.into_iter().filter_map(draw).collect();
    let drawings: String = charts.iter().map(|it| it.svg.as_str()).collect();
    let drawing = match drawings.is_empty() {
        true => {
            "<p>The stations are strewn over the whole earth: there is no drawing.</p>\n".to_owned()
        }
        false => format!("<div class=\"drawing\">\n{drawings}</div>\n"),
    };
    let mut words: String =
        map_in_words(hearing).iter().map(|it| format!("<p>{}</p>\n", escaped(it))).collect();
    if let Some(most) = charts.iter().map(|it| &it.left_out).max_by_key(|it| it.len())
        && !most.is_empty()
    {
        let count = most.len();
        words += &format!(
            "<p class=\"note\">On a small drawing there is no room for {count} of the numbers: the table has their positions.</p>\n"
        );
    }
    format!(
        "<section class=\"figure\">\n<h2>Where a beacon would be heard</h2>\n<div class=\"beside\">\n{drawing}\
         <div class=\"words\">\n{words}{MAP}</div>\n</div>\n</section>\n"
    )
}

fn stations(hearing: &Hearing) -> String {
    let rows: String = hearing
        .stations
        .iter()
        .map(|it| {
            let place = it.position.map_or("not known".to_owned(), |it| it.to_string());
            let number = number(hearing, Some(&it.station));
            let number = number.map_or("–".to_owned(), |it| format!("<span class=\"no\">{it}</span>"));
            format!(
                "<tr><td>{number}</td><th scope=\"row\"><bdi>{}</bdi></th><td>{}</td><td>{} of {}</td><td>{}</td></tr>\n",
                escaped(&it.station),
                escaped(&station_reach(it)),
                it.received,
                it.expected,
                escaped(&place)
            )
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    format!(
        "<section>\n<h2>By station</h2>\n<table>\n<thead><tr><th scope=\"col\">no.</th><th scope=\"col\">station</th><th scope=\"col\">a beacon heard to</th>\
         <th scope=\"col\">reports received of those due</th><th scope=\"col\">position</th></tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n</section>\n"
    )
}
