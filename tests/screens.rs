//! The screen: what is seen in every state, at three sizes, in every palette; and what must hold
//! whatever is seen. `INSTA_UPDATE=always cargo test --test screens` writes the snapshots anew.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/frames.rs"]
mod frames;
#[path = "support/large.rs"]
mod large;
#[path = "support/scenes.rs"]
mod scenes;
mod support;

use std::collections::HashMap;

use frames::{frame, styles, text};
use overside::mmsi::Mmsi;
use overside::screen::{Depth, Glyphs, Palette, ROLES, Role, Theme};
use overside::watch::{BeaconView, Picture};
use ratatui::buffer::Cell;
use ratatui::style::Color;
use scenes::{SCENES, Stage};
use support::{class_b, vdm};

const SIZES: [(u16, u16); 3] = [(60, 20), (80, 24), (120, 40)];

#[test]
fn every_state_at_every_size_in_every_palette() {
    for scene in SCENES {
        let mut stage = (scene.stage)();
        let picture = stage.picture();
        let mut shown = String::new();
        let mut show = |what: &str, said: &str| shown += &format!("== {what}\n{said}");
        for size in SIZES {
            let buffer = frame(&stage.screen, &picture, size);
            show(&format!("{}x{} dusk", size.0, size.1), &text(&buffer));
            show("styles", &styles(&buffer));
        }
        stage.screen.theme =
            Theme { palette: Palette::Mono, glyphs: Glyphs::Ascii, depth: Depth::True };
        let buffer = frame(&stage.screen, &picture, SIZES[1]);
        show("80x24 mono, ASCII", &text(&buffer));
        show("styles", &styles(&buffer));
        for palette in [Palette::Day, Palette::Night] {
            stage.screen.theme = Theme { palette, ..Theme::default() };
            let buffer = frame(&stage.screen, &picture, SIZES[1]);
            show(&format!("styles, 80x24 {}", palette.name()), &styles(&buffer));
        }
        insta::assert_snapshot!(scene.name, shown);
    }
}

/// Every scene with every palette and set of glyphs.
fn each(mut check: impl FnMut(&'static str, &Stage, &Picture)) {
    for scene in SCENES {
        let mut stage = (scene.stage)();
        let picture = stage.picture();
        for palette in [Palette::Day, Palette::Dusk, Palette::Night, Palette::Mono] {
            for glyphs in [Glyphs::Unicode, Glyphs::Ascii] {
                stage.screen.theme = Theme { palette, glyphs, ..Theme::default() };
                check(scene.name, &stage, &picture);
            }
        }
    }
}

/// An alert raised before the first position goes on to say "position not known" in the logbook, not
/// under the range.
#[test]
fn what_is_open_is_told_as_it_is_known_now() {
    let stage = scenes::stage("casualty");
    let text = text(&frame(&stage.screen, &stage.picture(), (120, 40)));
    assert!(!text.contains("position not known"), "{text}");
    assert!(text.contains("beacon ACTIVE, 0.43 NM, bearing 133°T"), "{text}");
    // Own ship goes on until the next message; the figures in large digits do, and these with them.
    let mut stage = stage;
    stage.pass(40);
    let picture = stage.picture();
    let text = self::text(&frame(&stage.screen, &picture, (120, 40)));
    let range = picture.beacons[0].range.unwrap();
    assert_ne!(range.to_string(), "0.43 NM");
    assert!(text.contains(&format!("beacon ACTIVE, {range}, bearing")), "{range}: {text}");
}

#[test]
fn ascii_is_ascii() {
    each(|name, stage, picture| {
        for size in SIZES.into_iter().filter(|_| stage.screen.theme.glyphs == Glyphs::Ascii) {
            let text = text(&frame(&stage.screen, picture, size));
            assert!(text.is_ascii(), "{name} {size:?}:\n{text}");
        }
    });
}

/// MSC.191(79) 5.7.1: alarms are red, warnings yellow. By hue, in degrees: red about 0, yellow about
/// 45. The night has red alone.
#[test]
fn alarms_are_red_and_warnings_yellow() {
    let hue = |[r, g, b]: [u8; 3]| {
        let [r, g, b] = [r, g, b].map(f64::from);
        let (most, least) = (r.max(g).max(b), r.min(g).min(b));
        assert!(most == r && most > least + 80.0, "a colour, and mostly red or yellow");
        60.0 * (g - b) / (most - least)
    };
    for palette in [Palette::Day, Palette::Dusk] {
        let of = |role| palette.colours(role).unwrap();
        for colour in [of(Role::Alarm).0, of(Role::AlarmBackground).1] {
            assert!((-15.0..15.0).contains(&hue(colour)), "{palette:?} {colour:?}");
        }
        for colour in [of(Role::Warning).0, of(Role::WarningBackground).1] {
            assert!((35.0..60.0).contains(&hue(colour)), "{palette:?} {colour:?}");
        }
    }
}

/// SN.1/Circ.243: a survivor beacon is a crossed circle; without Unicode a cross.
#[test]
fn a_casualty_is_a_crossed_circle() {
    let scene = SCENES.iter().find(|scene| scene.name == "casualty").unwrap();
    let mut stage = (scene.stage)();
    let picture = stage.picture();
    for (glyphs, sign) in [(Glyphs::Unicode, '\u{2297}'), (Glyphs::Ascii, 'X')] {
        stage.screen.theme = Theme { glyphs, ..Theme::default() };
        let shown = text(&frame(&stage.screen, &picture, (120, 40)));
        assert!(shown.contains(sign), "{shown}");
    }
}

#[test]
fn no_colour_is_from_elsewhere() {
    each(|name, stage, picture| {
        let palette = stage.screen.theme.palette;
        let known: Vec<_> = ROLES.iter().map(|role| palette.colours(*role)).collect();
        for size in SIZES {
            for cell in frame(&stage.screen, picture, size).content {
                let colours = match (cell.fg, cell.bg) {
                    (Color::Reset, Color::Reset) => None,
                    (Color::Rgb(r, g, b), Color::Rgb(gr, gg, gb)) => {
                        Some(([r, g, b], [gr, gg, gb]))
                    }
                    other => panic!("{name}: {other:?}"),
                };
                assert!(known.contains(&colours), "{name} {palette:?} {colours:?}");
                if palette == Palette::Night {
                    let (text, ground) = colours.unwrap();
                    // The night palette's own rule, as theme.rs states it: dim, and red alone.
                    for [r, g, b] in [text, ground] {
                        assert!(r <= 0xE0 && g <= r / 3 && b <= r / 3, "{name}");
                    }
                }
            }
        }
    });
}

#[test]
fn a_casualty_is_answered_at_every_size() {
    each(|name, stage, picture| {
        let Some(beacon) = in_view(name, picture) else { return };
        let (range, bearing) = (beacon.range.unwrap(), beacon.bearing.unwrap());
        let stale = ["stale", "silent", "searched", "own_lost"].contains(&name);
        let shown = |number: String| if stale { format!("[{number}]") } else { number };
        let range = shown(format!("{:.2}", range.0));
        let bearing = shown(format!("{:03}", bearing.value().round()));
        for size in SIZES {
            let buffer = frame(&stage.screen, picture, size);
            let text = text(&buffer);
            if beacon.range.is_some_and(|range| range.metres() < 100.0) {
                // Close by there is no bearing, and the range is in metres.
                let metres = beacon.range.unwrap().metres().round().to_string();
                assert!(large::reads(&buffer, &metres), "{name} {size:?}: no {metres}\n{text}");
                continue;
            }
            assert!(large::reads(&buffer, &range), "{name} {size:?}: no {range}\n{text}");
            assert!(large::reads(&buffer, &bearing), "{name} {size:?}: no {bearing}\n{text}");
            let heard = picture.now.at.since(beacon.last.at).as_secs();
            let heard = if heard < 120 {
                format!("{heard} s")
            } else {
                format!("{} min", heard.div_ceil(60))
            };
            let (age, sure) = match (&beacon.datum, beacon.mmsi()) {
                // The headline says since when it is not heard; here is how sure the place is.
                (Some(_), Some(_)) => ("fix ", "95 % within ".to_owned()),
                (_, None) => ("marked ", "95 % within ".to_owned()),
                (None, Some(_)) => ("fix ", format!("heard {heard} ago")),
            };
            assert!(text.contains(&sure), "{name} {size:?}\n{text}");
            assert!(text.contains(age), "{name} {size:?}\n{text}");
            let head = text.lines().next().unwrap();
            let states = ["UNACKN", "SILENCED", "ackn", "ACKN.", "NEW "];
            assert!(states.iter().any(|state| head.contains(state)), "{name} {size:?}: {head}");
            let who = beacon
                .person
                .as_ref()
                .map_or(beacon.mmsi().map_or("PERSON".to_owned(), |it| it.to_string()), |it| {
                    it.to_uppercase()
                });
            assert!(head.contains(&who), "{name} {size:?}: {head}");
            let said = if beacon.datum.is_some() { "est." } else { "last" };
            assert_eq!(text.contains(said), stale, "{name} {size:?}\n{text}");
        }
    });
}

/// The casualty that is large in a scene where the answer is open to view.
fn in_view<'a>(name: &str, picture: &'a Picture) -> Option<&'a BeaconView> {
    let first = picture.beacons.first().filter(|beacon| beacon.range.is_some())?;
    match name {
        "history" | "who" => None,
        says if says.starts_with("say_") => None,
        _ => Some(first).filter(|beacon| beacon.casualty),
    }
}

#[test]
fn a_replay_says_so_whatever_is_open() {
    for scene in SCENES {
        let mut stage = (scene.stage)();
        stage.screen.replay = scenes::stage("replay_held").screen.replay;
        let picture = stage.picture();
        for size in SIZES.into_iter().chain([(40, 12), (20, 4)]) {
            let text = text(&frame(&stage.screen, &picture, size));
            assert!(text.contains("REPLAY"), "{} {size:?}\n{text}", scene.name);
        }
    }
}

/// What is read aloud says it always, and tells nobody to press what would call others.
#[test]
fn what_is_read_aloud_in_a_drill_says_so_from_the_first_second() {
    let stage = scenes::stage("say_drill");
    for size in SIZES {
        let text = text(&frame(&stage.screen, &stage.picture(), size));
        assert!(text.contains("DRILL: do not transmit"), "{size:?}\n{text}");
        assert!(!text.to_lowercase().contains("distress button"), "{size:?}\n{text}");
    }
}

/// A fix that a call gave and a beacon that was heard before it: each says by what.
#[test]
fn the_ages_of_a_fix_by_dsc_and_of_what_was_heard_by_ais_say_so() {
    let mut stage = scenes::stage("quiet");
    stage.line("ais", &vdm(&support::position(972_000_017, 14, None, 60), 'A'));
    stage.pass(20);
    stage.line("gnss", &support::sealed("CDDSC,12,9720000170,12,10,26,0574201035,0211,,,S,"));
    stage.pass(2);
    let text = text(&frame(&stage.screen, &stage.picture(), (80, 24)));
    assert!(text.contains("s old DSC") && text.contains("s ago AIS"), "{text}");
}

#[test]
fn a_test_never_looks_like_an_emergency() {
    each(|name, stage, picture| {
        if !["test", "test_presumed"].contains(&name) {
            return;
        }
        for size in SIZES {
            let buffer = frame(&stage.screen, picture, size);
            let text = text(&buffer);
            let head = text.lines().next().unwrap();
            assert!(head.contains("TEST"), "{head}");
            for word in ["OVERBOARD", "EMERGENCY", "ACTIVE"] {
                assert!(!text.contains(word), "{name} {size:?} says {word}\n{text}");
            }
            let alarm = stage.screen.theme.style(Role::AlarmBackground);
            let red = |cell: &Cell| alarm.bg == Some(cell.bg) && alarm.fg == Some(cell.fg);
            assert!(!buffer.content.iter().any(red), "{name} has the ground of an alarm");
        }
    });
}

/// In monochrome ASCII no two states have the same headline and answer.
#[test]
fn no_two_states_look_alike() {
    let mut seen: HashMap<String, &str> = HashMap::new();
    // A drill surprises: until it is acknowledged it looks like what it is a drill of.
    // What differs by a page, a question, a verdict or a caution only is no state of its own.
    let same = [
        "replay_held",
        "history",
        "help",
        "help_at_helm",
        "quitting",
        "over_asked",
        "asked",
        "clock_behind",
        "drill",
        "enrolling",
        "enrol_asked",
        "test_written",
        "test_not_complete",
        "reach",
        "reach_reduced",
    ];
    let states = SCENES.iter().filter(|scene| !same.contains(&scene.name));
    for scene in states.filter(|scene| !scene.name.starts_with("say_")) {
        let mut stage = (scene.stage)();
        stage.screen.theme =
            Theme { palette: Palette::Mono, glyphs: Glyphs::Ascii, depth: Depth::True };
        let picture = stage.picture();
        for size in SIZES {
            let rows = frames::rows(&frame(&stage.screen, &picture, size));
            // Without the digits of ages and clocks, which differ by themselves.
            let words = |row: &String| row.replace(|c: char| c.is_ascii_digit(), "");
            let look: String = rows[..8].iter().map(words).collect();
            let look = format!("{size:?} {look}");
            if let Some(other) = seen.insert(look, scene.name) {
                panic!("{} looks like {other} at {size:?}", scene.name);
            }
        }
    }
}

#[test]
fn no_size_is_too_small() {
    let step = |n: u16, by: u16| n < 20 || n.is_multiple_of(by);
    for scene in SCENES {
        let stage = (scene.stage)();
        let picture = stage.picture();
        for width in (1..=130).filter(|width| step(*width, 7)) {
            for height in (1..=50).filter(|height| step(*height, 5)) {
                frame(&stage.screen, &picture, (width, height));
            }
        }
    }
}

#[test]
fn hostile_names_stay_text() {
    let names = [
        "\u{1b}[2J\u{1b}]0;owned\u{7}".to_owned(),
        "a\u{202e}b\u{2066}c\u{200b}d\u{feff}e\u{ad}f\r\n\t\u{9b}31m".to_owned(),
        "é\u{301}\u{301} 船員 👩‍👩‍👧 ∞".to_owned(),
        "X".repeat(500),
        String::new(),
    ];
    for name in names {
        let muster = HashMap::from([(Mmsi::new(scenes::MATE).unwrap(), Some(name.clone()))]);
        let mut stage = Stage::with_muster(muster);
        stage.line(&name, &vdm(&class_b(211_000_004, 57.71, 10.6), 'A'));
        stage.pass(20);
        stage.overboard(scenes::MATE, 5);
        stage.pass(40);
        for glyphs in [Glyphs::Unicode, Glyphs::Ascii] {
            stage.screen.theme = Theme { glyphs, ..Theme::default() };
            let picture = stage.picture();
            for size in SIZES.into_iter().chain([(30, 10), (9, 3), (1, 1)]) {
                for cell in frame(&stage.screen, &picture, size).content {
                    let symbol = cell.symbol();
                    let unseen = |c: char| {
                        c.is_control()
                            || ('\u{200b}'..='\u{200f}').contains(&c)
                            || ('\u{202a}'..='\u{202e}').contains(&c)
                            || ('\u{2060}'..='\u{206f}').contains(&c)
                            || c == '\u{feff}'
                            || c == '\u{ad}'
                    };
                    assert!(!symbol.contains(unseen), "{symbol:?}");
                    assert!(glyphs == Glyphs::Unicode || symbol.is_ascii(), "{symbol:?}");
                }
            }
        }
    }
}

/// A column is half as wide as a row is high.
#[test]
fn a_ring_is_round() {
    let stage = scenes::stage("quiet");
    let picture = stage.picture();
    for size in [(60, 20), (80, 24), (100, 30), (120, 40), (130, 50)] {
        let buffer = frame(&stage.screen, &picture, size);
        let width = usize::from(buffer.area.width);
        let dots: Vec<(usize, usize)> = (buffer.content.iter().enumerate())
            .filter(|(_, cell)| cell.symbol() == "·")
            .map(|(place, _)| (place % width, place / width))
            .collect();
        let extent = |of: fn(&(usize, usize)) -> usize| {
            dots.iter().map(of).max().unwrap() - dots.iter().map(of).min().unwrap()
        };
        let (wide, high) = (extent(|dot| dot.0), extent(|dot| dot.1));
        assert!(wide.abs_diff(2 * high) <= 2, "{size:?}: {wide} columns, {high} rows");
    }
}

/// The quiet watch says how many outputs there are, and how many of them have a fault.
#[test]
fn the_quiet_watch_counts_the_outputs() {
    let mut stage = scenes::stage("outputs");
    stage.press(overside::screen::Action::Outputs);
    for size in SIZES {
        let shown = text(&frame(&stage.screen, &stage.picture(), size));
        assert!(shown.contains("outputs  1 of 3 with a fault"), "{shown}");
    }
    let outputs = &mut stage.screen.parts.as_mut().unwrap().outputs;
    outputs.each.retain(|it| it.fault.is_none());
    let shown = text(&frame(&stage.screen, &stage.picture(), SIZES[1]));
    assert!(shown.contains("outputs  2 on"), "{shown}");
}
