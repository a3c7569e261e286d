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
use std::time::Duration;

use frames::{frame, text};
use overside::advice::Vessel;
use overside::helm::Snapshot;
use overside::helm::page::{Options, State, render, script, style};
use overside::mmsi::Mmsi;
use overside::screen::{Action, Screen, Theme};
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{CasualtyId, Input, Picture, Settings, Watch};
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
/// How many were compared.
fn compare(name: &str, section: &str, screen: &Screen, picture: &Picture) -> usize {
    let mut compared = 0;
    let terminal = frame(screen, picture, (120, 40));
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
    compared
}

#[test]
fn the_figures_are_those_of_the_terminal() {
    let mut compared = 0;
    for name in STATES {
        let stage = scenes::stage(name);
        let html = page(&stage);
        if let Some(section) = between(&html, "<section class=\"casualty chosen\"", "</section>") {
            compared += compare(name, section, &stage.screen, &stage.picture());
        }
    }
    assert!(compared >= 40, "{compared} figures");
}

/// The drill of the captures with its DSC calls, as if it were real, and in it a second casualty and
/// two tests: every ten seconds all those in danger, each as the terminal shows it at that moment, and
/// nobody else among them.
#[test]
fn a_whole_drill_reads_as_on_the_terminal() {
    let named = [(scenes::MATE, "Mate"), (scenes::COOK, "Cook"), (scenes::SKIPPER, "Skipper")];
    let muster = named.map(|(mmsi, name)| (Mmsi::new(mmsi).unwrap(), Some(name.to_owned())));
    let mut watch = Watch::new(Settings { muster: muster.into(), ..Settings::default() });
    let (mut compared, mut by_call, mut told) = (0, 0, Vec::<String>::new());
    for (second, input, line) in drill() {
        let span = Duration::from_millis((second * 1000.0) as u64);
        let utc = Utc::parse_rfc3339("2026-06-14T14:00:00Z").unwrap().plus(span);
        let stamp = Stamp { at: Mono::START + span, utc };
        let input = watch.input(&input);
        watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
        while watch.poll_output().is_some() {}
        if !line.is_empty() {
            continue;
        }
        let picture = watch.picture(stamp);
        let snapshot =
            Snapshot { picture: picture.clone(), replay: None, parts: None, handed: Mono::START };
        let html = render(&State::of(&snapshot, &Vessel::default(), true), &Options::default());
        let sections: Vec<&str> = html.split("<section ").skip(1).collect();
        let mut screen = Screen::new(Theme::default());
        screen.look(&picture);
        let mut names = Vec::new();
        for _ in &sections {
            screen.act(Action::NextCasualty, &picture);
            let shown = match screen.selected() {
                Some(CasualtyId::Beacon(mmsi)) => format!("id=\"beacon-{mmsi}\""),
                _ => "chosen".to_owned(),
            };
            let is_shown = |it: &&&str| it.contains(&shown) || it.starts_with("class=\"quiet");
            let section = sections.iter().find(is_shown).unwrap();
            let section = section.split_once("</section>").unwrap().0;
            names.push(words(between(section, "<h1>", "</h1>").unwrap()));
            if section.starts_with("class=\"casualty") {
                compared += compare(&format!("{second} s"), section, &screen, &picture);
                by_call += usize::from(section.contains("by DSC"));
                assert!(words(section).contains("TAKE AS REAL"), "{second} s: {section}");
            }
        }
        names.sort();
        let heads = names.join(" + ");
        if told.last() != Some(&heads) {
            told.push(heads);
        }
    }
    assert!(compared > 300 && by_call > 0, "{compared} figures, {by_call} by DSC: {told:#?}");
    let whole = [
        "Listening. Nothing heard from any beacon.",
        "TEST of Skipper",
        "Listening. TEST heard 3 min ago.",
        "MATE OVERBOARD",
        "COOK OVERBOARD (2 of 2) + MATE OVERBOARD (1 of 2)",
        "COOK OVERBOARD, SIGNAL LOST (2 of 2) + MATE OVERBOARD (1 of 2)",
        "COOK OVERBOARD, SIGNAL LOST (2 of 2) + MATE OVERBOARD, SIGNAL LOST (1 of 2)",
        "COOK OVERBOARD, SIGNAL LOST (2 of 2) + MATE OVERBOARD (1 of 2)",
        "COOK OVERBOARD, SIGNAL LOST",
    ];
    assert_eq!(told, whole);
}

/// The lines of the drill with seconds and inputs, an empty one every ten seconds; what a second
/// casualty and two tests send besides.
fn drill() -> Vec<(f64, String, String)> {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/captures/overboard_drill.nmea");
    let text = fs::read_to_string(file).unwrap();
    let begun = Utc::parse_rfc3339("2026-06-14T14:00:00Z").unwrap().unix_ms();
    let mut lines = Vec::new();
    for line in text.lines() {
        let Some((tag, sentence)) = line.strip_prefix('\\').and_then(|it| it.split_once('\\'))
        else {
            continue;
        };
        let value = |key: &str| tag.split([',', '*']).find_map(|it| it.strip_prefix(key)).unwrap();
        let at = value("c:").parse::<i64>().unwrap() - begun;
        lines.push((at as f64 / 1000.0, value("s:").to_owned(), sentence.to_owned()));
    }
    let mut send = |second: u32, message, channel| {
        lines.push((f64::from(second), "ais".to_owned(), support::vdm(&message, channel)));
    };
    for begins in [60, 660] {
        for (place, channel) in (0..8).zip("ABABABAB".chars()) {
            let message = match place {
                0 | 4 => support::text(scenes::SKIPPER, "MOB TEST"),
                _ => support::position(scenes::SKIPPER, 15, None, 60),
            };
            send(begins + 2 * place, message, channel);
        }
    }
    // Three bursts, then nothing more.
    for (burst, place) in (0..3).flat_map(|burst| (0..8).map(move |place| (burst, place))) {
        let second = 300 + 60 * burst + 2 * place;
        let there = Some((57.82, 10.45 + f64::from(burst) / 5000.0));
        let message = support::position(scenes::COOK, 14, there, (second % 60) as u8);
        send(second, message, if place % 2 == 0 { 'A' } else { 'B' });
    }
    lines
        .extend((0..125).map(|ten| (f64::from(ten) * 10.0 + 5.0, "ais".to_owned(), String::new())));
    lines.sort_by(|one, other| one.0.total_cmp(&other.0));
    lines
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
