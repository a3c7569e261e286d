//! What is said: the order of its parts after the Radio Regulations, what stands where something is
//! not known, and that no number is invented.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::collections::BTreeSet;
use std::time::Duration;

use overside::config::{Config, Error};
use overside::mmsi::Mmsi;
use overside::navigation::Position;
use overside::time::Utc;
use overside::units::{Celsius, Degrees, Knots, NauticalMiles};
use overside::voice::{
    AgedPosition, Casualty, Drift, Facts, GAP, Kind, Nature, Occasion, PLACEHOLDERS, Ship, Text,
    Water, WaterSource, Whose, Words, figures,
};
use proptest::prelude::*;

fn minutes(minutes: u64) -> Duration {
    Duration::from_secs(60 * minutes)
}

fn place(lat: f64, lon: f64, age: Duration) -> AgedPosition {
    AgedPosition { position: Position::new(lat, lon).unwrap(), age: Some(age) }
}

/// The fictional yacht, with the Mate overboard.
fn facts() -> Facts {
    Facts {
        ship: Ship {
            name: Some("Example".to_owned()),
            call_sign: Some("XX1234".to_owned()),
            mmsi: Mmsi::new(200_000_000),
            persons_aboard: Some(4),
        },
        now: Utc::parse_rfc3339("2026-06-14T02:14:07Z"),
        own: Some(place(57.0 + 43.15 / 60.0, 10.0 + 33.18 / 60.0, Duration::ZERO)),
        casualty: Some(Casualty {
            nature: Some(Nature::PersonOverboard),
            name: Some("Mate".to_owned()),
            identity: Mmsi::new(972_000_017),
            place: Some(place(57.0 + 42.07 / 60.0, 10.0 + 35.89 / 60.0, Duration::from_secs(12))),
            bearing: Some(Degrees::new(251.4)),
            range: Some(NauticalMiles(0.43)),
            drift: Some(Drift { set: Degrees::new(77.0), rate: Knots(0.8) }),
            since: Some(minutes(4)),
            lifejacket: Some(true),
            light: Some(true),
            ..Casualty::of(Whose::Own)
        }),
        alert_sent: None,
    }
}

fn say(occasion: Occasion, facts: &Facts) -> Text {
    Words::default().text(occasion, facts)
}

fn spoken(occasion: Occasion, facts: &Facts) -> String {
    say(occasion, facts).spoken().collect::<Vec<_>>().join(". ")
}

/// Checks that the parts stand in the text in this order.
#[track_caller]
fn in_order(text: &str, parts: &[&str]) {
    let mut rest = text;
    for part in parts {
        let Some((_, after)) = rest.split_once(part) else {
            panic!("{part:?} does not follow in:\n{rest}\nof:\n{text}")
        };
        rest = after;
    }
}

/// Radio Regulations (edition 2024, WRC-23) 32.13C, the call: MAYDAY three times; THIS IS; the name
/// three times; call sign; MMSI. 32.13D, the message: MAYDAY once; name, call sign, MMSI; position;
/// nature; assistance; other information. Seen in a radio course that cites the numbers.
#[test]
fn a_mayday_has_the_parts_of_radio_regulations_32_13_in_their_order() {
    let text = spoken(Occasion::Mayday, &facts());
    let call = [
        "MAYDAY, MAYDAY, MAYDAY",
        "THIS IS",
        "EXAMPLE, EXAMPLE, EXAMPLE",
        "CALL SIGN XX1234",
        "MMSI 200 000 000",
    ];
    let message = [
        "MAYDAY",
        "EXAMPLE, CALL SIGN XX1234, MMSI 200 000 000",
        "POSITION 57 DEGREES 43.15 MINUTES NORTH, 010 DEGREES 33.18 MINUTES EAST",
        "PERSON OVERBOARD",
        "IMMEDIATE ASSISTANCE",
        "4 PERSONS IN ALL, CASUALTIES INCLUDED",
        "OVER",
    ];
    in_order(&text, &[call.as_slice(), &message].concat());
    assert_eq!(text.matches("MAYDAY").count(), 4, "{text}");
}

/// Radio Regulations 32.19E (WRC-12): MAYDAY RELAY three times; ALL STATIONS, or a coast station,
/// three times; THIS IS; the relaying station's name three times; its call sign; its MMSI; then the
/// distress message.
#[test]
fn a_relay_has_the_parts_of_radio_regulations_32_19e_in_their_order() {
    let mut facts = facts();
    let casualty = facts.casualty.as_mut().unwrap();
    (casualty.whose, casualty.identity) = (Whose::Another, Mmsi::new(219_000_003));
    casualty.nature = Some(Nature::Called("sinking"));
    let text = spoken(Occasion::Relay, &facts);
    in_order(
        &text,
        &[
            "MAYDAY RELAY, MAYDAY RELAY, MAYDAY RELAY",
            "ALL STATIONS, ALL STATIONS, ALL STATIONS",
            "THIS IS",
            "EXAMPLE, EXAMPLE, EXAMPLE",
            "CALL SIGN XX1234",
            "MMSI 200 000 000",
            "MAYDAY",
            "STATION 219 000 003",
            "IN POSITION 57 DEGREES 42.07 MINUTES NORTH, 010 DEGREES 35.89 MINUTES EAST",
            "AT 0213 UTC",
            "SINKING",
            "OVER",
        ],
    );
}

/// ITU Resolution 349 (Rev.WRC-23), annex, item 1, in three training texts that agree: ALL STATIONS
/// three times; THIS IS the name three times, call sign, MMSI; "please cancel my distress alert of
/// (time) UTC". Before it: the radio's own screen, else off, 10 s, on; DSC where it can; channel 16
/// always.
#[test]
fn a_cancellation_has_the_parts_of_resolution_349_in_their_order() {
    let alert_sent = Utc::parse_rfc3339("2026-06-14T02:11:40Z");
    let text = say(Occasion::Cancel, &Facts { alert_sent, casualty: None, ..facts() });
    let said: Vec<&str> = text.spoken().collect();
    assert_eq!(
        said,
        [
            "ALL STATIONS, ALL STATIONS, ALL STATIONS",
            "THIS IS EXAMPLE, EXAMPLE, EXAMPLE",
            "CALL SIGN XX1234, MMSI 200 000 000",
            "PLEASE CANCEL MY DISTRESS ALERT OF 0211 UTC",
        ]
    );
    let whole: Vec<&str> = text.lines.iter().map(|line| line.words.as_str()).collect();
    in_order(
        &whole.join("\n"),
        &["radio's screen", "Off, 10 s, on", "by DSC", "channel 16 always", "Stay on 16", "EPIRB"],
    );
}

/// The whole text, as it is read.
#[test]
fn the_mayday_of_a_fictional_ship() {
    let said = say(Occasion::Mayday, &facts());
    assert_eq!(
        said.spoken().collect::<Vec<_>>(),
        [
            "MAYDAY, MAYDAY, MAYDAY",
            "THIS IS EXAMPLE, EXAMPLE, EXAMPLE",
            "CALL SIGN XX1234, MMSI 200 000 000",
            "MAYDAY",
            "EXAMPLE, CALL SIGN XX1234, MMSI 200 000 000",
            "MY POSITION 57 DEGREES 43.15 MINUTES NORTH, 010 DEGREES 33.18 MINUTES EAST",
            "AT 0214 UTC",
            "PERSON OVERBOARD",
            "IN POSITION 57 DEGREES 42.07 MINUTES NORTH, 010 DEGREES 35.89 MINUTES EAST",
            "AT 0213 UTC",
            "BEARING 251 DEGREES TRUE, RANGE 0.4 MILES FROM ME",
            "DRIFTING 077 DEGREES TRUE AT 0.8 KNOTS",
            "I REQUIRE IMMEDIATE ASSISTANCE",
            "4 PERSONS IN ALL, CASUALTIES INCLUDED",
            "CASUALTY HAS LIFEJACKET, LIGHT, AIS BEACON 972 000 017",
            "FIRST ALARM AT 0210 UTC",
            "OVER",
        ]
    );
    let notes: Vec<&str> = said
        .lines
        .iter()
        .filter(|line| line.kind == Kind::Note)
        .map(|line| line.words.as_str())
        .collect();
    let notes = notes.join("\n");
    for part in ["alerts no coastguard by itself", "DSC distress button", "channel 16"] {
        assert!(notes.contains(part), "{part:?} is not in:\n{notes}");
    }
    assert!(notes.contains("What the coastguard says comes first"), "{notes}");
}

#[test]
fn south_west_and_near_are_said_so() {
    let mut facts = facts();
    facts.own = Some(place(-33.85, -1.5, Duration::ZERO));
    let casualty = facts.casualty.as_mut().unwrap();
    casualty.range = Some(NauticalMiles(0.04));
    casualty.bearing = Some(Degrees::new(359.7));
    casualty.others = 1;
    let text = spoken(Occasion::Mayday, &facts);
    in_order(
        &text,
        &[
            "33 DEGREES 51.00 MINUTES SOUTH, 001 DEGREES 30.00 MINUTES WEST",
            "2 PERSONS OVERBOARD",
            "BEARING 000 DEGREES TRUE, RANGE 74 METRES FROM ME",
            "FIRST PERSON HAS LIFEJACKET",
        ],
    );
}

#[test]
fn what_is_not_known_is_left_out_or_a_gap() {
    let nothing = Facts { casualty: None, ..Facts::default() };
    for occasion in Occasion::ALL {
        let text = spoken(occasion, &nothing);
        assert!(!text.contains(|c: char| c.is_ascii_digit()), "{text}");
        assert!(!text.contains("DRIFTING") && !text.contains("RANGE"), "{text}");
        assert!(text.contains("THIS IS ____, ____, ____"), "{text}");
    }
    let text = spoken(Occasion::Mayday, &nothing);
    in_order(&text, &["MY POSITION ____, ____", "AT ____ UTC", "____ IN ALL"]);
    let text = spoken(Occasion::Cancel, &nothing);
    assert!(text.ends_with("MY DISTRESS ALERT OF ____ UTC"), "{text}");
    // A position whose time nobody knows has a gap for it.
    let mut facts = facts();
    facts.casualty.as_mut().unwrap().place.as_mut().unwrap().age = None;
    in_order(&spoken(Occasion::Mayday, &facts), &["IN POSITION 57", "AT ____ UTC", "BEARING"]);
    // A computer that does not know the time says none.
    facts.now = None;
    let text = spoken(Occasion::Mayday, &facts);
    in_order(&text, &["MY POSITION 57", "AT ____ UTC", "IN POSITION 57", "AT ____ UTC"]);
    assert!(!text.contains("FIRST ALARM"), "{text}");
}

#[test]
fn an_old_position_says_how_old() {
    let mut facts = facts();
    facts.casualty.as_mut().unwrap().place.as_mut().unwrap().age = Some(minutes(31));
    facts.own.as_mut().unwrap().age = Some(minutes(6));
    let parts = ["AT 0208 UTC", "6 MINUTES AGO", "AT 0143 UTC", "LAST KNOWN, 31 MINUTES AGO"];
    in_order(&spoken(Occasion::Mayday, &facts), &parts);
}

#[test]
fn a_silent_casualty_is_where_it_is_reckoned_to_be() {
    let mut facts = facts();
    facts.casualty.as_mut().unwrap().reckoned = Position::new(57.75, 10.5);
    let parts = ["IN POSITION 57", "DRIFTING", "ESTIMATED POSITION NOW 57 DEGREES 45.00 MINUTES"];
    in_order(&spoken(Occasion::Mayday, &facts), &parts);
}

#[test]
fn the_occasion_is_mayday_unless_it_is_surely_another() {
    let alert_sent = facts().now;
    let none = Facts { casualty: None, ..facts() };
    let whose = |whose| Facts { casualty: Some(Casualty::of(whose)), ..facts() };
    assert_eq!(Occasion::of(&facts()), Occasion::Mayday);
    assert_eq!(Occasion::of(&whose(Whose::Another)), Occasion::Relay);
    assert_eq!(Occasion::of(&none), Occasion::Mayday);
    assert_eq!(Occasion::of(&Facts { alert_sent, ..none }), Occasion::Cancel);
    // While somebody may be in the water nothing is cancelled.
    assert_eq!(Occasion::of(&Facts { alert_sent, ..whose(Whose::Own) }), Occasion::Mayday);
    assert_eq!(Occasion::of(&Facts { alert_sent, ..whose(Whose::Another) }), Occasion::Relay);
}

/// The RYA drill as schools publish it, in the order of the issue; recovery after
/// MSC.1/Circ.1185/Rev.1 section 6.
#[test]
fn the_checklist_has_the_parts_of_the_drill() {
    let list = |facts: &Facts| {
        let list = Words::default().checklist(facts);
        list.lines.iter().map(|line| line.words.clone()).collect::<Vec<_>>().join("\n")
    };
    in_order(
        &list(&facts()),
        &[
            "Shout",
            "points",
            "Throw",
            "Mark",
            "Call",
            "No lines in the water",
            "into the wind; propeller stopped",
            "A line round the casualty",
            "strops under arms and knees",
            "Airway in danger",
            "cold casualty",
        ],
    );
    // Two aboard and one of them in the water: mark, throw and the button come before the turn.
    let mut two = facts();
    two.ship.persons_aboard = Some(2);
    in_order(&list(&two), &["before you turn", "Throw", "Mark", "DSC distress button", "Back"]);
    assert_eq!(list(&Facts::default()), list(&facts()), "not knowing is no short hand");
}

/// The table as printed in manuals of lifejackets approved by the US Coast Guard, with its own
/// degrees Celsius; 21 to 27 °C is 2 to 12 h in two prints and 3 to 12 h in another.
#[test]
fn survival_figures_are_those_of_the_table() {
    for (celsius, exhaustion, survival) in [
        (-1.0, "under 15 min", "under 15 to 45 min"),
        (0.3, "under 15 min", "under 15 to 45 min"),
        (0.4, "15 to 30 min", "30 to 90 min"),
        (4.0, "15 to 30 min", "30 to 90 min"),
        (5.0, "30 to 60 min", "1 to 3 h"),
        (10.0, "30 to 60 min", "1 to 3 h"),
        (11.5, "1 to 2 h", "1 to 6 h"),
        (15.5, "1 to 2 h", "1 to 6 h"),
        (16.0, "2 to 7 h", "2 to 40 h"),
        (21.0, "2 to 7 h", "2 to 40 h"),
        (22.0, "2 to 12 h (3 to 12 h in other prints)", "3 h and more, no end given"),
        (28.0, "no figure", "no end given"),
    ] {
        let water = Water { temperature: Celsius(celsius), source: WaterSource::ByHand };
        let row = figures(water).unwrap();
        assert_eq!((row.exhaustion, row.survival), (exhaustion, survival), "{celsius}");
    }
    for celsius in [-3.1, 40.1, f64::NAN, f64::INFINITY] {
        let water = Water { temperature: Celsius(celsius), source: WaterSource::Measured };
        assert_eq!(figures(water), None, "{celsius}");
    }
}

/// The five cautions: no deadline (MSC.1/Circ.1185/Rev.1 section 6), the first minutes (TP 13822),
/// variation (an American survival manual), the source of the temperature, a range.
#[test]
fn no_survival_figure_comes_without_its_cautions() {
    let water = Water { temperature: Celsius(11.5), source: WaterSource::Measured };
    let text = figures(water).unwrap().text();
    let all: Vec<&str> = text.lines.iter().map(|line| line.words.as_str()).collect();
    in_order(
        &all.join("\n"),
        &[
            "Water 11.5 °C, measured on board",
            "1 to 2 h",
            "1 to 6 h",
            "1. No deadline: never a reason to stop or slow a search",
            "ask the rescue centre how long",
            "2. The first 3 to 30 min",
            "Without a lifejacket",
            "3. It differs with size, clothing, sea, alcohol and injury",
            "4. It is as good as the water temperature: measured on board",
            "5. A range",
        ],
    );
}

#[test]
fn the_skippers_own_texts_replace_those_that_are_built_in() {
    let own = "[mayday]\ntitle = \"NOTRUF\"\nlines = [{ say = \"{ship} {ship}, {range}\" }]\n";
    let words = Words::parse(own).unwrap();
    assert_eq!(words.title(Occasion::Mayday), "NOTRUF");
    let text = words.text(Occasion::Mayday, &facts());
    assert_eq!(text.spoken().collect::<Vec<_>>(), ["EXAMPLE EXAMPLE, 0.4 MILES"]);
    assert_eq!(words.text(Occasion::Cancel, &facts()), say(Occasion::Cancel, &facts()));
    assert_eq!(Words::parse("").unwrap(), Words::default());
}

#[test]
fn a_wrong_text_is_refused_with_its_line_and_what_is_known() {
    let wrong = |line: &str, parts: &[&str]| {
        let text = format!("# ours\n[cancel]\ntitle = \"C\"\nlines = [\n  {line},\n]\n");
        let why = Words::parse(&text).unwrap_err();
        assert_eq!((why.line, why.excerpt.trim()), (5, format!("{line},").as_str()), "{why}");
        for part in parts {
            assert!(why.what.contains(part), "{part:?} is not in {why}");
        }
    };
    wrong("{ say = \"{shp}\" }", &["{shp} is no placeholder", "ship", "call_sign", "alert_time"]);
    wrong("{ say = \"a\", only_with = \"rnge\" }", &["{rnge} is no placeholder", "range"]);
    wrong("{ say = \"{ship\" }", &["a brace stands alone"]);
    wrong("{ say = \"ship}\" }", &["a brace stands alone"]);
    wrong("{ shout = \"a\" }", &["no key `shout`", "`say`"]);
    wrong("{ say = \"a\", note = \"b\" }", &["one of heading, say, do and note"]);
    wrong("{ only_with = \"ship\" }", &["one of heading, say, do and note"]);
    assert!(Words::parse("[maday]\n").unwrap_err().what.contains("`mayday`"));
}

fn configured(words: &str) -> (tempfile::TempDir, Result<Option<Config>, Error>) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("overside.toml");
    std::fs::write(&path, "[voice]\nwords = \"ours.toml\"\nsurvival_figures = true\n").unwrap();
    if !words.is_empty() {
        std::fs::write(folder.path().join("ours.toml"), words).unwrap();
    }
    let found = Config::load(Some(&path), |_| None);
    (folder, found.map(|found| found.map(|(config, _)| config)))
}

#[test]
fn the_configuration_names_the_texts() {
    let own = "[cancel]\ntitle = \"OURS\"\nlines = []\n";
    let config = configured(own).1.unwrap().unwrap();
    assert!(config.voice.survival_figures);
    assert_eq!(config.voice.texts.title(Occasion::Cancel), "OURS");
    for (words, parts) in [
        ("", ["ours.toml, named by voice.words, is not there", "correct the path"]),
        ("[cancel]\ntitle = 1\n", ["ours.toml:\nLine 2:", "title = 1"]),
    ] {
        let message = configured(words).1.unwrap_err().to_string();
        assert!(parts.iter().all(|part| message.contains(part)), "{message}");
    }
}

#[test]
fn a_wrong_text_ends_the_program_before_it_begins() {
    let wrong = "[cancel]\ntitle = \"C\"\nlines = [{ say = \"{shp}\" }]\n";
    let (folder, _) = configured(wrong);
    let mut program = assert_cmd::cargo::cargo_bin_cmd!("overside");
    let config = folder.path().join("overside.toml");
    let done = program.args(["watch", "--headless", "--config"]).arg(config).assert().code(2);
    let said = String::from_utf8_lossy(&done.get_output().stderr).into_owned();
    for part in ["ours.toml:\nLine 3:", "{shp} is no placeholder", "What to do:"] {
        assert!(said.contains(part), "{part:?} is not in:\n{said}");
    }
}

#[test]
fn every_placeholder_is_explained() {
    let manual = include_str!("../docs/what-to-say.md");
    for it in PLACEHOLDERS {
        assert!(manual.contains(&format!("`{{{}}}`", it.name)), "{} is not explained", it.name);
    }
}

/// A name from the air, from a file, from an enemy.
fn name() -> impl Strategy<Value = Option<String>> {
    let nasty = prop_oneof![
        Just("{mmsi}{ship}".to_owned()),
        Just("\u{1b}[2J\u{7}\r\n\u{9b}31m".to_owned()),
        Just("____ 99 {".to_owned()),
        Just("x".repeat(200)),
        Just("a\u{202e}b\u{200b}".to_owned()),
        ".{0,60}",
    ];
    proptest::option::of(nasty)
}

fn some_place() -> impl Strategy<Value = Option<AgedPosition>> {
    let place = (-90.0..=90.0, -180.0..=180.0, proptest::option::of(0_u64..1_000_000));
    proptest::option::of(place.prop_map(|(lat, lon, age)| AgedPosition {
        position: Position::new(lat, lon).unwrap(),
        age: age.map(Duration::from_secs),
    }))
}

fn some_identity() -> impl Strategy<Value = Option<Mmsi>> {
    proptest::option::of((0_u32..1_000_000_000).prop_map(|value| Mmsi::new(value).unwrap()))
}

prop_compose! {
    fn some_casualty()(
        own in any::<bool>(),
        name in name(),
        identity in some_identity(),
        place in some_place(),
        reckoned in some_place(),
        motion in proptest::option::of((0.0..360.0, 0.0..5.0)),
        bearing in proptest::option::of(0.0..360.0),
        range in proptest::option::of(0.0..30.0),
        since in proptest::option::of(0_u64..1_000_000),
        others in 0_u32..4,
        report in name(),
        gear in any::<(Option<bool>, Option<bool>)>(),
    ) -> Casualty {
        Casualty {
            nature: Some(Nature::PersonOverboard),
            name,
            identity,
            place,
            bearing: bearing.map(Degrees::new),
            range: range.map(NauticalMiles),
            reckoned: reckoned.map(|place| place.position),
            drift: motion.map(|(set, rate)| Drift { set: Degrees::new(set), rate: Knots(rate) }),
            since: since.map(Duration::from_secs),
            others,
            lifejacket: gear.0,
            light: gear.1,
            report,
            ..Casualty::of(if own { Whose::Own } else { Whose::Another })
        }
    }
}

prop_compose! {
    fn some_facts()(
        name in name(),
        call_sign in name(),
        mmsi in some_identity(),
        persons_aboard in proptest::option::of(0_u32..300),
        now in proptest::option::of(1_600_000_000_000_i64..2_000_000_000_000),
        own in some_place(),
        casualty in proptest::option::of(some_casualty()),
        sent in proptest::option::of(1_600_000_000_000_i64..2_000_000_000_000),
    ) -> Facts {
        Facts {
            ship: Ship { name, call_sign, mmsi, persons_aboard },
            now: now.and_then(Utc::from_unix_ms),
            own,
            casualty,
            alert_sent: sent.and_then(Utc::from_unix_ms),
        }
    }
}

/// Hours and minutes so many seconds before a moment, counted here.
fn clock(utc: Utc, before: Option<Duration>) -> Option<String> {
    let seconds = (utc.unix_ms() - before?.as_millis() as i64).div_euclid(1000);
    let minutes = seconds.div_euclid(60);
    Some(format!("{:02}{:02}", minutes.div_euclid(60).rem_euclid(24), minutes.rem_euclid(60)))
}

/// Every number that may be said of these facts, but for positions.
fn sayable(facts: &Facts) -> BTreeSet<String> {
    let group = |mmsi: Option<Mmsi>| mmsi.map(|it| it.to_string()).unwrap_or_default();
    let casualty = facts.casualty.as_ref();
    let at = |age| facts.now.and_then(|now| clock(now, age));
    let age = |place: Option<AgedPosition>| place.and_then(|place| place.age);
    let ages = [age(facts.own), age(casualty.and_then(|it| it.place))];
    let mut known = BTreeSet::new();
    for digits in [group(facts.ship.mmsi), group(casualty.and_then(|it| it.identity))] {
        known.extend(digits.as_bytes().chunks(3).map(|it| String::from_utf8_lossy(it).into()));
    }
    known.extend(facts.ship.persons_aboard.map(|n| n.to_string()));
    known.extend(facts.alert_sent.and_then(|sent| clock(sent, Some(Duration::ZERO))));
    known.extend(ages.iter().filter_map(|age| at(*age)));
    known.extend(ages.iter().flatten().map(|age| age.as_secs().div_ceil(60).to_string()));
    if let Some(it) = casualty {
        let three = |it: Degrees| format!("{:03}", (it.value().round() as u32) % 360);
        known.extend(at(it.since));
        known.insert((it.others + 1).to_string());
        known.extend(it.bearing.map(three));
        known.extend(it.drift.map(|drift| three(drift.set)));
        known.extend(it.drift.map(|drift| format!("{:.1}", drift.rate.0)));
        known.extend(it.range.map(|range| format!("{:.1}", range.0)));
        known.extend(it.range.map(|range| format!("{:.0}", range.0 * 1852.0)));
    }
    known
}

/// Takes the positions out of a phrase, each checked against where somebody is.
fn without_positions(phrase: &str, facts: &Facts) -> String {
    let mut left = String::new();
    let words: Vec<&str> = phrase.split([' ', ',']).collect();
    let mut at = 0;
    while at < words.len() {
        let [degrees, "DEGREES", minutes, "MINUTES", side] = words[at..(at + 5).min(words.len())]
        else {
            left.push_str(words[at]);
            left.push(' ');
            at += 1;
            continue;
        };
        let angle: f64 = degrees.parse::<f64>().unwrap() + minutes.parse::<f64>().unwrap() / 60.0;
        let signed = if ["SOUTH", "WEST"].contains(&side) { -angle } else { angle };
        let casualty = facts.casualty.as_ref();
        let places = [
            facts.own.map(|own| own.position),
            casualty.and_then(|it| it.place).map(|it| it.position),
            casualty.and_then(|it| it.reckoned),
        ];
        let near = places.iter().flatten().any(|position| {
            let truth = match side {
                "NORTH" | "SOUTH" => position.lat(),
                _ => position.lon(),
            };
            (truth - signed).abs() <= 0.005_001 / 60.0
        });
        assert!(near, "{phrase} is nobody's place");
        at += 5;
    }
    left
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 600,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn nothing_survives_that_is_not_words(facts in some_facts()) {
        let words = Words::default();
        let texts = Occasion::ALL.map(|occasion| words.text(occasion, &facts));
        for text in texts.iter().chain([&words.checklist(&facts)]) {
            for line in &text.lines {
                let wrong = |c: char| c.is_control() || "{}\u{202e}\u{200b}".contains(c);
                prop_assert!(!line.words.contains(wrong), "{:?}", line.words);
                prop_assert!(line.words.chars().count() <= 200, "{:?}", line.words);
                let gaps = line.words.replace(GAP, "");
                prop_assert!(!gaps.contains('_'), "a name looks like a gap: {:?}", line.words);
            }
        }
    }

    #[test]
    fn no_number_is_invented(facts in some_facts()) {
        // Numbers in names are names.
        let mut facts = facts;
        facts.ship.name = Some("Example".to_owned());
        facts.ship.call_sign = None;
        let known = sayable(&facts);
        for occasion in Occasion::ALL {
            for phrase in say(occasion, &facts).spoken() {
                let rest = without_positions(phrase, &facts);
                let numbers = rest.split(|c: char| !c.is_ascii_digit() && c != '.');
                for number in numbers.filter(|it| it.contains(|c: char| c.is_ascii_digit())) {
                    prop_assert!(known.contains(number), "{number} in {phrase:?}: {known:?}");
                }
            }
        }
    }
}

/// A drift that nobody knows is not read as none; and of two persons each is said where it is.
#[test]
fn no_drift_is_said_of_nobody_knows_and_each_person_has_a_place() {
    let place = |lat: f64| {
        let position = Position::new(lat, 10.6).unwrap();
        Some(AgedPosition { position, age: Some(Duration::from_secs(60)) })
    };
    let said = |others: Vec<Option<AgedPosition>>| {
        let casualty = Casualty {
            nature: Some(Nature::PersonOverboard),
            place: place(57.7),
            drift: Some(Drift { set: Degrees::new(0.0), rate: Knots(0.0) }),
            others: others.len() as u32,
            other_places: others,
            ..Casualty::of(Whose::Own)
        };
        let facts = Facts { casualty: Some(casualty), ..Facts::default() };
        Words::default().text(Occasion::Mayday, &facts).spoken().collect::<Vec<_>>().join("\n")
    };
    let alone = said(Vec::new());
    assert!(!alone.contains("DRIFTING") && !alone.contains("FIRST PERSON"), "{alone}");
    let two = said(vec![place(57.8)]);
    for part in ["FIRST PERSON\n", "SECOND PERSON IN POSITION 57 DEGREES 48.00 MINUTES NORTH"] {
        assert!(two.contains(part), "{two}");
    }
    assert!(said(vec![None]).contains("SECOND PERSON: POSITION NOT KNOWN"));
    let five = said(vec![place(57.71), place(57.72), place(57.73), None]);
    assert!(five.contains("3 PERSONS MORE WITHIN 1.8 MILES OF THE FIRST"), "{five}");
    assert!(five.contains("1 PERSON: POSITION NOT KNOWN"), "{five}");
}

/// What is good practice without a source: to call again, and to ask for medical advice by radio; and
/// that an AIS beacon alerts nobody ashore (USCG Marine Safety Advisory 01-22), that a distress call
/// nobody acknowledges for five minutes is passed on (Radio Regulations 32.16, 32.17, 32.29A), and
/// that it is passed on by voice (COMSAR/Circ.25).
#[test]
fn the_notes_say_what_to_do_beside_the_call() {
    let notes = |occasion| {
        let said = say(occasion, &facts());
        let notes = said.lines.iter().filter(|line| line.kind != Kind::Say);
        notes.map(|line| line.words.clone()).collect::<Vec<_>>().join("\n")
    };
    let mayday = notes(Occasion::Mayday);
    assert!(mayday.contains("Nobody answers? Say it again"), "{mayday}");
    let relay = notes(Occasion::Relay);
    for part in
        ["alerts no coastguard by itself", "By voice, channel 16", "unanswered for 5 minutes"]
    {
        assert!(relay.contains(part), "{part:?} is not in:\n{relay}");
    }
    let list = Words::default().checklist(&facts());
    assert!(list.lines.iter().any(|line| line.words == "Ask for medical advice by radio"));
}
