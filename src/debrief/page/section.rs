//! What stands on the page about a drill.

use super::document::{document, when};
use super::map::{self, phase_class};
use super::near::{self, Near};
use super::text::{day, metres_off};
use super::window::Window;
use super::{compare, figures, motion, number_table, range, reception};
use crate::debrief::approach::range_of;
use crate::debrief::drill::{Casualty, Drill, DrillEventKind, Phase, Unwatched};
use crate::debrief::sentences::in_short;
use crate::drawing::{Layout, escaped, listed};
use crate::time::Utc;
use crate::zone::Zone;

/// The page of one drill.
pub(super) fn of_one(drill: &Drill) -> String {
    let about = "Debrief of a drill";
    let date = drill.begun.map(day);
    let subject = drill.ship.as_ref().or(Some(&drill.recording));
    let title = subject.map(|it| format!("{about}: {it}")).unwrap_or_default();
    let title = date.map_or(title.clone(), |date| format!("{title}, {date}"));
    let mut body = header(drill, about);
    body += &first_words(drill);
    if let Some(window) = Window::of(drill) {
        body += &chart(drill, window, "d1", 2);
        body += &near_charts(drill, "d1", 2);
        body += &range_chart(drill, window, "d1", 2);
        body += &motion_chart(drill, window);
        body += &reception_charts(drill, "d1", 2);
    }
    body += &further_words(drill);
    for casualty in &drill.casualties {
        body += &format!(
            "<section>\n<h2>The numbers{}</h2>\n{}</section>\n",
            of_whom(drill, casualty),
            number_table::table(drill, casualty)
        );
    }
    document(&title, &body, std::slice::from_ref(drill))
}

/// The page of several.
pub(super) fn of_several(drills: &[Drill]) -> String {
    let ship = drills.iter().find_map(|drill| drill.ship.as_deref());
    let about = format!("Debrief of {} drills", drills.len());
    let title = ship.map_or(about.clone(), |ship| format!("{about}: {ship}"));
    let mut body = format!(
        "<header>\n<p class=\"about\">{about}</p>\n<h1>{}</h1>\n</header>\n",
        ship.map_or("Side by side".to_owned(), |ship| format!("<bdi>{}</bdi>", escaped(ship)))
    );
    body += &format!(
        "<section>\n<h2>Side by side</h2>\n{}</section>\n<section>\n<h2>Range against time</h2>\n\
         <p class=\"note\">All on the same scales. {}</p>\n{}</section>\n",
        compare::table(drills),
        step_legend(),
        compare::multiples(drills)
    );
    for (number, drill) in (1..).zip(drills) {
        let id = format!("d{number}");
        body += &format!(
            "<section class=\"break drill\">\n<h2><bdi>{}</bdi></h2>\n<p class=\"when\">{}</p>\n",
            escaped(&drill.recording),
            when(drill)
        );
        body += &first_words(drill);
        if let Some(window) = Window::of(drill) {
            body += &chart(drill, window, &id, 3);
            body += &near_charts(drill, &id, 3);
            body += &range_chart(drill, window, &id, 3);
            body += &reception_charts(drill, &id, 3);
        }
        body += "</section>\n";
    }
    document(&title, &body, drills)
}

fn header(drill: &Drill, about: &str) -> String {
    let name = drill.ship.clone().or(drill.begun.map(day)).unwrap_or(drill.recording.clone());
    let who: Vec<String> = drill.casualties.iter().map(named).collect();
    let who = if who.is_empty() {
        String::new()
    } else {
        format!("<br>In the water: {}", who.join(", "))
    };
    let rehearsed = if drill.rehearsed { " (rehearsal)" } else { "" };
    format!(
        "<header>\n<p class=\"about\">{about}{rehearsed}</p>\n<h1><bdi>{}</bdi></h1>\n\
         <p class=\"when\">{}{who}</p>\n</header>\n",
        escaped(&name),
        when(drill)
    )
}

/// Person and identity.
fn named(casualty: &Casualty) -> String {
    let name = format!("<bdi>{}</bdi>", escaped(&casualty.name()));
    let Some(mmsi) = casualty.mmsi else { return name };
    // A call may be made in the name of a ship.
    let what = if mmsi.beacon_kind().is_some() { "beacon" } else { "called by" };
    match &casualty.person {
        Some(_) => format!("{name} ({what} {mmsi})"),
        None => format!("{what} {mmsi}"),
    }
}

/// A suffix of a heading, where there are several.
fn of_whom(drill: &Drill, casualty: &Casualty) -> String {
    if drill.casualties.len() > 1 { format!(": {}", named(casualty)) } else { String::new() }
}

/// The sentences that matter and the few numbers.
fn first_words(drill: &Drill) -> String {
    let mut html = String::new();
    if drill.casualties.is_empty() {
        html += &paragraphs(&drill.findings, "short");
    }
    for casualty in &drill.casualties {
        let title = if drill.casualties.len() > 1 {
            format!("<p class=\"whose\">{}</p>\n", named(casualty))
        } else {
            String::new()
        };
        html += &format!(
            "<section class=\"lead\">\n{title}{}{}</section>\n",
            paragraphs(&in_short(casualty, drill.zone.as_ref()), "short"),
            figures::tiles(casualty)
        );
    }
    html
}

fn paragraphs(sentences: &[String], class: &str) -> String {
    let all: String = sentences.iter().map(|it| format!("<p>{}</p>\n", escaped(it))).collect();
    format!("<div class=\"{class}\">\n{all}</div>\n")
}

/// What else was found.
fn further_words(drill: &Drill) -> String {
    if drill.casualties.is_empty() {
        return String::new();
    }
    let mut html = "<section>\n<h2>What else the recording tells</h2>\n".to_owned();
    for casualty in &drill.casualties {
        let short = in_short(casualty, drill.zone.as_ref());
        let further: Vec<String> =
            casualty.findings.iter().filter(|it| !short.contains(it)).cloned().collect();
        if drill.casualties.len() > 1 {
            html += &format!("<h3>{}</h3>\n", named(casualty));
        }
        html += &list(&further);
    }
    if !drill.findings.is_empty() {
        html += &format!("<h3>Of the recording</h3>\n{}", list(&drill.findings));
    }
    html + "</section>\n"
}

fn list(sentences: &[String]) -> String {
    if sentences.is_empty() {
        return String::new();
    }
    let items: String = sentences.iter().map(|it| format!("<li>{}</li>\n", escaped(it))).collect();
    format!("<ul class=\"found\">\n{items}</ul>\n")
}

/// A drawing in both layouts, with its title and words beside it.
fn figure(title: &str, level: u8, drawings: &str, words: &str) -> String {
    format!(
        "<section class=\"figure\">\n<h{level}>{title}</h{level}>\n<div class=\"beside\">\n\
         <div class=\"drawing\">\n{drawings}</div>\n<div class=\"words\">\n{words}</div>\n</div>\n</section>\n"
    )
}

fn chart(drill: &Drill, window: Window, id: &str, level: u8) -> String {
    let maps = Layout::BOTH
        .map(|layout| map::draw(drill, window, layout, &format!("{id}-chart-{}", layout.class())));
    let mut words = String::new();
    let drawings = match maps {
        [Some(wide), Some(narrow)] => {
            let left_out = if wide.left_out.is_empty() {
                String::new()
            } else {
                format!(" No room on the chart: {}.", listed(&wide.left_out))
            };
            words += &phase_legend(drill, window);
            let set_of = if drill.casualties.len() > 1 { "A" } else { "the casualty" };
            words += &format!(
                "<p class=\"note\">North is up; the middle is {}. Set is that of {set_of} over ground.{left_out}</p>\n",
                wide.middle
            );
            wide.svg + &narrow.svg
        }
        _ => "<p class=\"unknown\">No place is known: there is no chart.</p>\n".to_owned(),
    };
    figure("The chart of the drill", level, &drawings, &(words + &events(drill, window)))
}

/// The last 200 m to each casualty.
fn near_charts(drill: &Drill, id: &str, level: u8) -> String {
    let all = drill.casualties.iter().enumerate();
    all.filter_map(|it| Some(near_chart(drill, it, Near::of(it.1)?, (id, level)))).collect()
}

fn near_chart(
    drill: &Drill,
    (number, casualty): (usize, &Casualty),
    near: Near,
    (id, level): (&str, u8),
) -> String {
    let title = format!("The last {} m{}", near::NEAR_M, of_whom(drill, casualty));
    let off = metres_off(near.off_m);
    let maps = Layout::BOTH.map(|layout| {
        let id = format!("{id}-near-{number}-{}", layout.class());
        near::draw(drill, (number, casualty), near, layout, &id).filter(|_| near.is_good())
    });
    let [Some((wide, left_out)), Some((narrow, _))] = maps else {
        let why = format!(
            "<p class=\"unknown\">Not drawn: how far the casualty was is known to ±{off} alone.</p>\n"
        );
        return figure(&title, level, &why, "");
    };
    let zone = drill.zone.as_ref();
    let [from, until] =
        [near.window.from, near.window.until].map(|at| escaped(&Zone::both(zone, at)));
    let mut words = format!(
        "<p>From {from} to {until}: the boat as seen from {}, who is in the middle of the rings; the drift is taken out.</p>\n<ul class=\"legend\">\n",
        named(casualty)
    );
    for (phase, said) in PHASES.into_iter().filter(|(phase, _)| near.holds(casualty, *phase)) {
        words += &legend_row(phase_class(phase), said);
    }
    let left_out = match left_out.as_slice() {
        [] => String::new(),
        numbers => format!(" No room on the chart: {}.", listed(numbers)),
    };
    words += &format!(
        "</ul>\n<p class=\"note\">North is up; the rings are {} m apart. The boat's place beside the casualty is known to ±{off} (95 of 100 times): so large is the shaded disc.{left_out}</p>\n",
        near::RING_M
    );
    figure(&title, level, &(wide + &narrow), &words)
}

fn range_chart(drill: &Drill, window: Window, id: &str, level: u8) -> String {
    let drawings: String = Layout::BOTH
        .into_iter()
        .filter_map(|layout| {
            range::draw(drill, window, layout, &format!("{id}-range-{}", layout.class()))
        })
        .collect();
    if drawings.is_empty() {
        return String::new();
    }
    let words = format!(
        "<p>How far the casualty was. A line is drawn by the phases of its casualty, as on the chart; the numbers are those of the events.</p>\n\
         <p>Below, a tick for each burst of eight messages that the beacon sends in a minute: its height is how many were heard, a dot is none.</p>\n{}{}",
        hatch_note(drill, window),
        casualty_legend(drill)
    );
    figure("Range and reception against time", level, &drawings, &words)
}

/// What hatched times are, where there are any.
fn hatch_note(drill: &Drill, window: Window) -> &'static str {
    let is_drawn = |it: &Unwatched| it.until > window.from && it.from < window.until;
    if drill.not_watched.iter().any(is_drawn) {
        "<p>Hatched: not watched. Nothing was recorded then, and nothing is counted as lost.</p>\n"
    } else {
        ""
    }
}

fn motion_chart(drill: &Drill, window: Window) -> String {
    let drawings: String = Layout::BOTH
        .into_iter()
        .filter_map(|layout| {
            motion::draw(drill, window, layout, &format!("d1-motion-{}", layout.class()))
        })
        .collect();
    if drawings.is_empty() {
        return String::new();
    }
    let within = || drill.own_track.iter().filter(|it| window.holds(it.at));
    let mut legend = legend_row("first", "over ground (speed, course)");
    if within().any(|it| it.water_speed_kn.is_some() || it.heading_deg.is_some()) {
        legend += &legend_row("second", "through the water (speed), heading (course)");
    }
    let words = format!(
        "<ul class=\"legend\">\n{legend}</ul>\n<p class=\"note\">Slower than {} kn the course over ground is not drawn: it is chance.</p>\n",
        motion::STILL_KN
    );
    figure("Speed and course against time", 2, &drawings, &words)
}

fn reception_charts(drill: &Drill, id: &str, level: u8) -> String {
    let mut html = String::new();
    for (number, casualty) in drill.casualties.iter().enumerate() {
        let drawings: String = Layout::BOTH
            .into_iter()
            .filter_map(|layout| {
                reception::draw(
                    casualty,
                    layout,
                    &format!("{id}-reception-{number}-{}", layout.class()),
                )
            })
            .collect();
        if drawings.is_empty() {
            continue;
        }
        let wind = drill.wind.value().map_or("The wind is not known".to_owned(), |wind| {
            format!("The wind was {:.0} kn on average", wind.speed_kn.0)
        });
        let words = format!(
            "<p>How many of the messages sent were heard, by how far the casualty was: the one measurement a crew can make of its own antenna.</p>\n\
             <p class=\"note\">{wind}; sea state was not recorded.</p>\n"
        );
        let title = format!("Reception against range{}", of_whom(drill, casualty));
        html += &figure(&title, level, &drawings, &words);
    }
    html
}

/// The list of the events.
fn events(drill: &Drill, window: Window) -> String {
    if drill.events.is_empty() {
        return String::new();
    }
    let clock = if drill.zone.is_some() { "UTC (local)" } else { "UTC" };
    let mut html = format!(
        "<table class=\"events\">\n<thead><tr><th scope=\"col\"><abbr title=\"number\">no.</abbr></th><th scope=\"col\">{}</th>\
                    <th scope=\"col\">range</th><th scope=\"col\">what</th></tr></thead>\n<tbody>\n",
        clock
    );
    for event in &drill.events {
        let range = range_of(event).replace(" NM", "\u{a0}NM");
        let mut classes = Vec::new();
        if event.kind == DrillEventKind::Remark {
            classes.push("remark");
        }
        if !window.holds(event.at) {
            classes.push("outside");
        }
        html += &format!(
            "<tr class=\"{}\"><th scope=\"row\"><span class=\"no\">{}</span></th><td>{}</td><td>{range}</td><td>{}</td></tr>\n",
            classes.join(" "),
            event.number,
            clock_cell(event.at, drill.zone.as_ref()),
            escaped(&event.text)
        );
    }
    html + "</tbody>\n</table>\n"
}

/// A time of day, and the local one: each in one piece.
fn clock_cell(at: Utc, zone: Option<&Zone>) -> String {
    let (utc, local) = (at.clock(), Zone::beside(zone, at));
    let utc = utc.trim_end_matches('Z');
    match local.trim_start() {
        "" => utc.to_owned(),
        local => format!("<span>{utc}</span> <span>{}</span>", escaped(local)),
    }
}

fn legend_row(class: &str, words: &str) -> String {
    format!(
        "<li><svg class=\"swatch\" viewBox=\"0 0 44 12\" aria-hidden=\"true\"><path d=\"M2 6H42\" class=\"line {class}\"/></svg>{words}</li>\n"
    )
}

/// What the lines of own track are.
const PHASES: [(Phase, &str); 5] = [
    (Phase::Before, "own ship before the first message"),
    (Phase::GoingOn, "after the first message"),
    (Phase::Returning, "after the turn"),
    (Phase::AtCasualty, "at the casualty"),
    (Phase::After, "after the recovery"),
];

fn phase_legend(drill: &Drill, window: Window) -> String {
    let mut rows = String::new();
    for (phase, words) in PHASES {
        let occurs = |at| window.holds(at) && drill.phase(at) == phase;
        // Who is not known to be out of the water may be on board long since.
        let is_open =
            drill.casualties.iter().any(|it| it.measures.recovery.recovered_at.value().is_none());
        let words = match phase {
            Phase::AtCasualty if is_open => "since alongside; the recovery is not known",
            _ => words,
        };
        if drill.own_track.iter().any(|point| occurs(point.at)) {
            rows += &legend_row(phase_class(phase), words);
        }
    }
    format!("<ul class=\"legend\">\n{rows}{}</ul>\n", casualty_rows(drill))
}

fn casualty_legend(drill: &Drill) -> String {
    if drill.casualties.len() > 1 {
        format!("<ul class=\"legend\">\n{}</ul>\n", casualty_rows(drill))
    } else {
        String::new()
    }
}

/// A row for each casualty: its line and mark, its letter if there are several, whose it is.
fn casualty_rows(drill: &Drill) -> String {
    let several = drill.casualties.len() > 1;
    let mut rows = String::new();
    for (number, casualty) in drill.casualties.iter().enumerate() {
        let letter =
            if several { format!("<b>{}</b> ", map::letter(number)) } else { String::new() };
        let swatch = map::swatch(number);
        let by = match casualty.calls.first().filter(|_| casualty.is_called_only()) {
            Some(call) if call.emitter.is_some() => "the crew alarm",
            Some(_) => "DSC",
            None => "the beacon",
        };
        rows += &format!(
            "<li>{swatch}<span>{letter}{}, as told by {by}</span></li>\n",
            named(casualty)
        );
    }
    rows
}

fn step_legend() -> &'static str {
    "▲ the turn begins, ● at the casualty, ■ out of the water."
}
