//! The rules of the watch core, one story a file: `tests/scenarios/*.toml` hold input lines with
//! their offsets and the events they must cause.
//!
//! ```toml
//! about = "One message is enough for the alarm."
//! source = "where the rule is from"
//! muster = { "972000017" = "Mate" }      # optional
//! ais_silence_s = 60                     # optional; a day if not given
//! gnss_silence_s = 10                    # optional; a day if not given
//! asking_s = [600, 60]                   # optional: asks who is awake every so often, and waits
//! live = true                            # optional: open inputs that say nothing are missed
//! only = ["alert"]                       # optional: the kinds of events looked at;
//!                                        # all but input_state if not given
//! [[step]]
//! at = 0.0                               # seconds since the beginning, 2026-06-14T02:00:00Z
//! lines = ["beacon 972000017 status 14 place 50.0 -1.5 second 17"]
//! expect = ["alert cause=beacon_active priority=emergency_alarm", "beacon_heard mode=active"]
//! ```
//!
//! Lines are sentences with or without checksum (`$GPRMC,…`, `!AIVDM,…`), or in short:
//! `beacon MMSI status N [place LAT LON] [second S] [channel A]`, `text MMSI words…`,
//! `own LAT LON` (an RMC of that moment), `ship MMSI LAT LON` (a message 18), and what is no line:
//! `do acknowledge|silence|resolve ID`, `do mark`, `do part MMSI`, `do place LAT LON`, `do answer`, `fails PART reason…`, `works PART`, `opened`, `lost reason…`,
//! `serial RATE`, `through INPUT` (it is a station of that broker), `unended HEX…` (eight times over). `by NAME:` before any of them names
//! the input (else `ais`), and `tagged t:WORDS` a TAG block. An expectation is an event and some of its keys: `key=value` as JSON
//! prints it, bare words for strings, `key~number` within half a unit of the last digit, and
//! `key^words` for a text, or a list, that contains them. The events of a step are all of those
//! that its time and its lines cause, in order.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a scenario that cannot be read says so")]

mod support;

use std::collections::HashMap;
use std::path::Path;
use std::time::Duration;

use overside::mmsi::Mmsi;
use overside::navigation::Position;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{AlertId, Asking, Command, Input, Part, Settings, Watch};
use serde::Deserialize;
use serde_json::Value;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Scenario {
    about: String,
    source: String,
    #[serde(default)]
    muster: HashMap<String, String>,
    ais_silence_s: Option<u64>,
    gnss_silence_s: Option<u64>,
    asking_s: Option<[u64; 2]>,
    #[serde(default)]
    live: bool,
    only: Option<Vec<String>>,
    step: Vec<Step>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Step {
    at: f64,
    #[serde(default)]
    lines: Vec<String>,
    #[serde(default)]
    expect: Vec<String>,
}

fn run(path: &Path, text: String) -> datatest_stable::Result<()> {
    let scenario: Scenario = toml::from_str(&text)?;
    assert!(!scenario.about.is_empty() && !scenario.source.is_empty());
    let day = Duration::from_secs(24 * 3600);
    let muster = scenario
        .muster
        .iter()
        .map(|(mmsi, person)| (Mmsi::new(mmsi.parse().unwrap()).unwrap(), Some(person.clone())));
    let mut watch = Watch::new(Settings {
        muster: muster.collect(),
        ais_silence: scenario.ais_silence_s.map_or(day, Duration::from_secs),
        gnss_silence: scenario.gnss_silence_s.map_or(day, Duration::from_secs),
        asking: scenario.asking_s.map(|[every, within]| Asking {
            every: Duration::from_secs(every),
            answer_within: Duration::from_secs(within),
        }),
        expects_inputs: scenario.live,
        ..Settings::default()
    });
    for step in &scenario.step {
        let stamp = stamp(step.at);
        watch.handle(Input::Tick { stamp });
        let mut events = drain(&mut watch);
        for line in &step.lines {
            feed(&mut watch, line, stamp);
            events.extend(drain(&mut watch));
        }
        events.retain(|event| match &scenario.only {
            Some(only) => only.iter().any(|kind| event["event"] == **kind),
            None => event["event"] != "input_state",
        });
        let fits = events.len() == step.expect.len()
            && events.iter().zip(&step.expect).all(|(event, expected)| agrees(event, expected));
        if !fits {
            let came: Vec<String> = events.iter().map(ToString::to_string).collect();
            panic!(
                "{}: {}\nat {} s expected:\n  {}\nbut there came:\n  {}\n",
                path.display(),
                scenario.about,
                step.at,
                step.expect.join("\n  "),
                came.join("\n  ")
            );
        }
    }
    Ok(())
}

fn stamp(seconds: f64) -> Stamp {
    let begin = Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap();
    let span = Duration::from_micros((seconds * 1e6).round() as u64);
    Stamp { at: Mono::START + span, utc: begin.plus(span) }
}

fn drain(watch: &mut Watch) -> Vec<Value> {
    std::iter::from_fn(|| watch.poll_output())
        .map(|event| serde_json::to_value(event).unwrap())
        .collect()
}

fn feed(watch: &mut Watch, line: &str, stamp: Stamp) {
    let (name, line) = match line.strip_prefix("by ").and_then(|rest| rest.split_once(": ")) {
        Some((name, rest)) => (name, rest),
        None => ("ais", line),
    };
    let input = watch.input(name);
    let (tag, line) = match line.strip_prefix("tagged ").and_then(|rest| rest.split_once(' ')) {
        Some((tag, rest)) => (support::tag(tag), rest),
        None => (String::new(), line),
    };
    let words: Vec<&str> = line.split_whitespace().collect();
    let number = |word: &str| word.parse::<f64>().unwrap();
    let after = |key: &str| words.iter().position(|word| *word == key).map(|place| place + 1);
    let bytes = match words[..] {
        ["do", "part", mmsi] => {
            let command = Command::Part(mmsi.parse().ok().and_then(Mmsi::new).unwrap());
            return watch.handle(Input::Command { stamp, command });
        }
        ["do", act, id] => {
            let id = AlertId(id.parse().unwrap());
            let command = match act {
                "acknowledge" => Command::Acknowledge(id),
                "silence" => Command::Silence(id),
                "resolve" => Command::Resolve(id),
                _ => panic!("no such act: {act}"),
            };
            return watch.handle(Input::Command { stamp, command });
        }
        ["do", "mark"] => {
            return watch.handle(Input::Command { stamp, command: Command::MarkOverboard });
        }
        ["do", "place", lat, lon] => {
            let position = Position::new(number(lat), number(lon)).unwrap();
            let command = Command::PlaceShip(position);
            return watch.handle(Input::Command { stamp, command });
        }
        ["do", "answer"] => {
            return watch.handle(Input::Command { stamp, command: Command::Present });
        }
        ["works", part] => {
            return watch.handle(Input::Fault { stamp, part: named(part), fault: None });
        }
        ["fails", part, ..] => {
            let fault = line.splitn(3, ' ').nth(2).unwrap_or("no reason");
            return watch.handle(Input::Fault { stamp, part: named(part), fault: Some(fault) });
        }
        ["serial", rate] => return watch.set_bit_rate(input, rate.parse().unwrap()),
        ["unended", ref bytes @ ..] => {
            let bytes: Vec<u8> =
                bytes.iter().map(|it| u8::from_str_radix(it, 16).unwrap()).collect();
            return watch.handle(Input::Unended { stamp, input, bytes: &bytes.repeat(8) });
        }
        ["through", broker] => {
            let broker = watch.input(broker);
            watch.station(name, broker);
            return;
        }
        ["opened"] => return watch.handle(Input::Opened { stamp, input }),
        ["lost", ..] => {
            let reason = line.trim_start_matches("lost ");
            return watch.handle(Input::Lost { stamp, input, reason });
        }
        ["beacon", mmsi, "status", status, ..] => {
            let place = after("place").map(|at| (number(words[at]), number(words[at + 1])));
            let second = after("second").map_or(17, |at| words[at].parse().unwrap());
            let channel = after("channel").map_or('A', |at| words[at].parse().unwrap());
            let status = status.parse().unwrap();
            support::vdm(&support::position(mmsi.parse().unwrap(), status, place, second), channel)
        }
        ["text", mmsi, ..] => {
            let text = line.splitn(3, ' ').nth(2).unwrap_or_default();
            support::vdm(&support::text(mmsi.parse().unwrap(), text), 'A')
        }
        ["ship", mmsi, lat, lon] => {
            support::vdm(&support::class_b(mmsi.parse().unwrap(), number(lat), number(lon)), 'A')
        }
        ["own", lat, lon] => {
            let time = stamp.utc.to_string();
            let digits = |range: std::ops::Range<usize>| time[range].replace([':', '-'], "");
            let date = [digits(8..10), digits(5..7), digits(2..4)].concat();
            let place = support::nmea_position(number(lat), number(lon));
            let clock = digits(11..19);
            support::sealed(&format!("GPRMC,{clock}.00,A,{place},5.0,090.0,{date},,,A"))
        }
        _ if line.contains('*') => line.to_owned(),
        _ => support::sealed(line),
    };
    let bytes = tag + &bytes;
    watch.handle(Input::Line { stamp, input, bytes: bytes.as_bytes() });
}

/// A part around the watch.
fn named(part: &str) -> Part {
    match part {
        "logbook" => Part::Logbook,
        "recorder" => Part::Recorder,
        "sounder" => Part::Sounder,
        "every_sounder" => Part::EverySounder,
        "hook" => Part::Hook,
        _ => panic!("no such part: {part}"),
    }
}

/// Whether an event is what an expectation says.
fn agrees(event: &Value, expected: &str) -> bool {
    let mut words = expected.split_whitespace().peekable();
    if words.next().is_none_or(|kind| event["event"] != kind) {
        return false;
    }
    while let Some(word) = words.next() {
        if let Some((key, text)) = word.split_once('^') {
            // The words of a text go on to the end.
            let rest: Vec<&str> = std::iter::once(text).chain(words).collect();
            let said = match &event[key] {
                Value::String(said) => said.clone(),
                other => other.to_string(),
            };
            return said.contains(&rest.join(" "));
        }
        let fits = if let Some((key, number)) = word.split_once('~') {
            let decimals = number.split_once('.').map_or(0, |(_, decimals)| decimals.len());
            let tolerance = 0.5 * 10_f64.powi(-(decimals as i32)) + 1e-9;
            let expected: f64 = number.parse().unwrap();
            at_path(event, key).as_f64().is_some_and(|value| (value - expected).abs() <= tolerance)
        } else if let Some((key, value)) = word.split_once('=') {
            match at_path(event, key) {
                Value::String(text) => text == value,
                other => format!("{other}") == value,
            }
        } else {
            panic!("no such expectation: {word}");
        };
        if !fits {
            return false;
        }
    }
    true
}

/// `position.lat` is the `lat` in the `position`.
fn at_path<'a>(event: &'a Value, path: &str) -> &'a Value {
    path.split('.').fold(event, |value, key| &value[key])
}

datatest_stable::harness! {
    { test = run, root = "tests/scenarios", pattern = r"\.toml$" },
}
