//! What the page at the helm shows: the same figures as the terminal, in every state; what comes from
//! the air is inert. It leaves the pages of all states in target/tmp/helm-pages/, where
//! `tests/oracle/helm.py` opens them in a browser.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/frames.rs"]
mod frames;
#[path = "support/large.rs"]
mod large;
#[path = "support/scenes.rs"]
mod scenes;
mod support;

use std::fs;
use std::path::PathBuf;

use frames::{frame, text};
use overside::helm::Snapshot;
use overside::helm::page::{Options, State, render, script, style};
use overside::mmsi::Mmsi;
use overside::time::Mono;
use scenes::Stage;

/// The states that the page may have to show.
const STATES: &[&str] = &[
    "quiet",
    "first_minute",
    "deaf",
    "one_input_silent",
    "test",
    "test_presumed",
    "unlisted",
    "presumed_active",
    "no_fix",
    "casualty",
    "acknowledged",
    "silenced",
    "three",
    "two_places",
    "stale",
    "silent",
    "searched",
    "own_lost",
    "own_unknown",
    "over",
    "distress",
    "replay_held",
    "drill",
    "drill_known",
    "close",
    "marked",
    "wrong_rate_deaf",
];

fn state_of(stage: &Stage) -> State {
    let snapshot = Snapshot {
        picture: stage.picture(),
        replay: stage.screen.replay.clone(),
        parts: None,
        handed: Mono::START,
    };
    State::of(&snapshot, &stage.screen.vessel, true)
}

fn page(stage: &Stage) -> String {
    render(&state_of(stage), &Options::default())
}

/// The text of a page without its marks.
fn words(html: &str) -> String {
    let mut text = String::new();
    for piece in html.split('<') {
        text += piece.split_once('>').map_or(piece, |(_, after)| after);
    }
    let text = text.replace("&#39;", "'").replace("&quot;", "\"").replace("&amp;", "&");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What is between two marks, the first time.
fn between<'a>(html: &'a str, from: &str, to: &str) -> Option<&'a str> {
    html.split_once(from)?.1.split_once(to).map(|(inner, _)| inner)
}

#[test]
fn every_state_is_left_for_the_browser() {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("helm-pages");
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    for name in STATES {
        fs::write(folder.join(format!("{name}.html")), page(&scenes::stage(name))).unwrap();
    }
    for (name, stage) in [("hostile", hostile()), ("two", two()), ("near", near())] {
        fs::write(folder.join(format!("{name}.html")), page(&stage)).unwrap();
    }
    fs::write(folder.join("helm.css"), style()).unwrap();
    fs::write(folder.join("helm.js"), script()).unwrap();
}

/// Two in danger, of whom the first is acknowledged.
fn two() -> Stage {
    let mut stage = scenes::stage("acknowledged");
    stage.overboard(scenes::COOK, 10);
    stage.pass(70);
    stage
}

/// Inside 0.2 NM and outside 100 m.
fn near() -> Stage {
    let mut stage = Stage::new();
    stage.pass(300);
    stage.overboard(scenes::MATE, 0);
    stage.pass(90);
    stage
}

/// Names and texts that would be marks, scripts or turned round.
fn hostile() -> Stage {
    let name = "<img src=x onerror=alert(1)>\"'&</section>\u{202e}\u{1b}[2J";
    let muster = [(Mmsi::new(scenes::MATE).unwrap(), Some(name.to_owned()))];
    let mut stage = Stage::with_muster(muster.into());
    stage.pass(120);
    stage.line("ais", &support::vdm(&support::text(scenes::STRANGER, "<B ONLOAD=X>"), 'A'));
    stage.overboard(scenes::MATE, 0);
    stage.pass(100);
    stage
}

/// Range, bearing, course, time and ages: letter by letter what the terminal shows of the same picture.
#[test]
fn the_figures_are_those_of_the_terminal() {
    let mut compared = 0;
    for name in STATES {
        let stage = scenes::stage(name);
        let picture = stage.picture();
        let html = page(&stage);
        let Some(section) = between(&html, "<section class=\"casualty chosen\"", "</section>")
        else {
            continue;
        };
        let terminal = frame(&stage.screen, &picture, (120, 40));
        let said = text(&terminal);
        let range = between(section, "<p class=\"range", "</p>").unwrap();
        let number = between(range, "<b>", "</b>").unwrap();
        let miles = between(range, "<small>", "</small>").unwrap().rsplit(", ").next().unwrap();
        let number = miles.strip_suffix(" NM").unwrap_or(number);
        if number.trim_matches(['[', ']', '.']).chars().all(|c| c.is_ascii_digit() || c == '.') {
            assert!(large::reads(&terminal, number), "{name}: no {number}\n{said}");
        }
        let mut facts = Vec::new();
        for fact in section.split("<div class=\"fact").skip(1) {
            let what = between(fact, "<dt>", "</dt>").unwrap();
            let figure =
                words(between(fact, "<dd>", "</dd>").unwrap().split("<small>").next().unwrap());
            let more = between(fact, "<small>", "</small>").map(words).unwrap_or_default();
            facts.push((what.to_owned(), figure, more));
        }
        for (what, figure, more) in &facts {
            let sought = match what.as_str() {
                "bearing" => {
                    let bearing = figure.trim_end_matches("°T");
                    assert!(large::reads(&terminal, bearing), "{name}: no {bearing}\n{said}");
                    more.clone()
                }
                "steer" if figure != "no course" => {
                    assert!(said.contains(&format!("steer {figure}")), "{name}: {figure}\n{said}");
                    more.clone()
                }
                "age of fix" if figure != "not known" => format!("fix {figure} old"),
                "heard" => format!("heard {figure}"),
                "marked" => format!("marked {figure}"),
                "95 % within" => {
                    assert!(said.contains(more.as_str()), "{name}: {more}\n{said}");
                    format!("95 % within {figure}")
                }
                _ => continue,
            };
            assert!(said.contains(&sought), "{name}: {what}: {sought:?}\n{said}");
            compared += 1;
        }
        let step = words(between(section, "<p class=\"step\">", "</p>").unwrap());
        for clause in step.split("; ") {
            assert!(said.contains(clause), "{name}: {clause}\n{said}");
        }
    }
    assert!(compared >= 40, "{compared} figures");
}

/// One of the crew overboard, and no place yet: the arrow leads back to where the ship was, and the words
/// say so to who cannot see it.
#[test]
fn without_a_position_the_way_back_is_told() {
    let html = page(&scenes::stage("no_fix"));
    let turn = words(between(&html, "<p class=\"turn\">", "</p>").unwrap());
    let angle =
        turn.strip_prefix("TURN BACK ON YOUR TRACK: to ").unwrap_or_else(|| panic!("{turn}"));
    let angle = angle.split_once(", ").unwrap().1.trim_end_matches('°');
    assert!(angle.parse::<u32>().unwrap() >= 170, "{turn}");
    assert!(words(&html).contains("NO POSITION YET head back to where you were at"), "{html}");
}

#[test]
fn inside_two_tenths_of_a_mile_the_range_is_in_metres() {
    let stage = near();
    let range = stage.picture().beacons[0].range.unwrap();
    assert!(range.0 < 0.2 && range.metres() > 100.0, "{range}");
    let html = page(&stage);
    let shown = words(between(&html, "<p class=\"range", "</p>").unwrap());
    let both = format!("{:.0} m {:.2} NM", range.metres(), range.0);
    assert!(shown.ends_with(&both), "{shown}");
}

#[test]
fn what_comes_from_the_air_or_the_muster_is_inert() {
    let html = page(&hostile());
    assert!(!html.contains("<img") && !html.contains("<B ONLOAD") && !html.contains('\u{202e}'));
    assert!(html.contains("&lt;IMG SRC=X"), "{html}");
    let tags = html.matches("<section").count();
    assert_eq!(tags, html.matches("</section>").count());
}

/// A test is never taken for an emergency, nor the reverse; what is played says so.
#[test]
fn real_and_test_and_replay_and_drill_are_told_apart() {
    for (name, real, test, replay, drill) in [
        ("casualty", true, false, false, false),
        ("test", false, true, false, false),
        ("replay_held", false, false, true, false),
        ("drill", true, false, false, false),
        ("drill_known", false, false, false, true),
        ("quiet", false, false, false, false),
    ] {
        let said = words(&page(&scenes::stage(name)));
        assert_eq!(said.contains("TAKE AS REAL"), real, "{name}: {said}");
        assert_eq!(said.contains("This is a TEST"), test, "{name}: {said}");
        assert_eq!(said.contains("REPLAY"), replay, "{name}: {said}");
        assert_eq!(said.contains("DRILL"), drill, "{name}: {said}");
    }
}

/// What the headline says is not said a second time above it, and can be acknowledged all the same.
#[test]
fn nothing_is_said_twice() {
    let html = page(&scenes::stage("distress"));
    assert!(html.contains("<h1>DSC distress, sinking") && !html.contains("<p>DSC"), "{html}");
    assert!(html.contains("action=\"/acknowledge\""), "{html}");
    let deaf = words(&page(&scenes::stage("deaf")));
    assert_eq!(deaf.matches("A beacon would not be noticed").count(), 1, "{deaf}");
}

/// Without a script the page loads itself again; everything in danger is in it, whichever is chosen.
#[test]
fn everybody_in_danger_is_on_the_page() {
    let html = page(&scenes::stage("three"));
    assert_eq!(html.matches("<section class=\"casualty").count(), 3);
    assert_eq!(html.matches("<section class=\"casualty chosen\"").count(), 1);
    let said = words(&html);
    assert!(said.contains("NEW: ") && said.contains("count heads"), "{said}");
    assert!(html.contains("<noscript><meta http-equiv=\"refresh\" content=\"5\"></noscript>"));
}
