//! A drill over restarts: the watch was killed twice on the way, and once somebody said by mistake that
//! it was over. What the logbook and the recordings know together is in the debrief.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/drills.rs"]
mod drills;

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use assert_cmd::{Command as Process, cargo::cargo_bin_cmd};
use drills::*;
use overside::app::{Ours, RECORDINGS, entry_of, entry_of_act, place};
use overside::logbook::{Details, Draft, Logbook, Moment, Reader, WatchEvent, WriterReport};
use overside::mmsi::Mmsi;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{AlertId, Cause, Command, Input, Priority, Settings, State, Watch};
use serde_json::Value;
use tempfile::TempDir;

const CONFIG: &str =
    "[[person]]\nname = \"Mate\"\n[[beacon]]\nmmsi = 972000017\nholder = \"Mate\"\n";

/// The seconds of the drill in which nobody kept the watch.
type Gap = (f64, f64);

/// A drill of which a watch that was killed on the way kept logbook and recordings.
struct Kept {
    folder: TempDir,
    truth: Rehearsed,
    alarm: f64,
    acknowledged: f64,
    over: f64,
    /// The entries of the first alarm, of the mistaken word, and of the last alarm.
    entries: [i64; 3],
}

/// One session of the watch, with what it writes.
struct Session {
    watch: Watch,
    book: Logbook,
    recording: String,
    lines: String,
}

impl Session {
    fn begin(folder: &Path, number: usize, second: f64) -> Self {
        let muster = [(Mmsi::new(MMSI).unwrap(), Some("Mate".to_owned()))].into();
        let mut watch = Watch::new(Settings { muster, ..Settings::default() });
        let now = stamp(second);
        let found = Reader::open(folder).unwrap().map(|it| it.open_incidents().unwrap());
        watch.resume(place(found.unwrap_or_default(), &Ours::default(), now).open, now);
        let moment = Moment {
            arrival: now.at,
            host: now.utc,
            gnss: None,
            own: None,
            own_age_s: None,
            sog: None,
            cog: None,
        };
        let begun = Draft::watch(WatchEvent::Started, "watch started", Value::Null, &moment);
        let book = Logbook::open(folder.to_owned(), begun, |_: WriterReport| {});
        let label = now.utc.to_string().split('.').next().unwrap().replace([':', '-'], "");
        let recording = format!("{number:06}-{label}Z.nmea");
        Self { watch, book, recording, lines: String::new() }
    }

    fn take(&mut self, second: f64, line: &str) {
        let input = self.watch.input("radio");
        let bytes = line.as_bytes();
        self.watch.handle(Input::Line { stamp: stamp(second), input, bytes });
        self.lines += line;
        self.lines += "\r\n";
        self.write(second, Some(bytes));
    }

    fn press(&mut self, second: f64, command: Command) {
        let now = stamp(second);
        let act = entry_of_act(command, None, &self.watch, now).unwrap();
        self.note(act, second);
        self.watch.handle(Input::Command { stamp: now, command });
        self.write(second, None);
    }

    fn write(&mut self, second: f64, line: Option<&[u8]>) {
        while let Some(event) = self.watch.poll_output() {
            if let Some(draft) = entry_of(&event, &self.watch, stamp(second), line) {
                self.note(draft, second);
            }
        }
    }

    fn note(&self, mut draft: Draft, second: f64) {
        if draft.is_about_people() {
            draft.recording = Some(self.recording.clone());
            draft.recording_ms = Some(utc(second).unix_ms());
        }
        self.book.write(draft);
    }

    fn emergency(&self) -> AlertId {
        let is = |cause, priority| {
            matches!(cause, Cause::BeaconActive | Cause::DscDistress) && priority > Priority::Alarm
        };
        self.watch.alerts().iter().find(|it| is(it.cause, it.priority)).unwrap().id
    }

    /// Killed: nothing is said of an end.
    fn kill(self, folder: &Path) {
        assert_eq!(self.book.close(Duration::from_secs(60)), 0);
        fs::create_dir_all(folder.join(RECORDINGS)).unwrap();
        fs::write(folder.join(RECORDINGS).join(self.recording), self.lines).unwrap();
    }
}

fn stamp(second: f64) -> Stamp {
    let at = Mono::from_micros(((second + 36_000.0) * 1e6) as u64);
    Stamp { at, utc: utc(second) }
}

/// When a line of a rehearsal is heard, and its sentence as it came.
fn heard(line: &str) -> f64 {
    let time = line.split("c:").nth(1).unwrap();
    let ms: i64 =
        time.chars().take_while(char::is_ascii_digit).collect::<String>().parse().unwrap();
    let ms = if ms < 10_000_000_000 { ms * 1000 } else { ms };
    seconds(Utc::from_unix_ms(ms).unwrap())
}

/// Keeps the watch over a drill, but for the gaps.
fn kept(seed: u64, gaps: impl Fn(&Rehearsed) -> Vec<Gap>) -> Kept {
    let truth = Rehearsed::of(seed);
    let (text, gaps) = (recorded(&truth.toml), gaps(&truth));
    kept_of(truth, &text, gaps)
}

fn kept_of(truth: Rehearsed, text: &str, mut gaps: Vec<Gap>) -> Kept {
    let folder = tempfile::tempdir().unwrap();
    file(&folder, "overside.toml", CONFIG);
    let books = folder.path().join("books");
    fs::create_dir_all(&books).unwrap();
    gaps.reverse();
    let acknowledged = truth.fallen as f64 + 60.0;
    let over = truth.fallen as f64 + 75.0;
    let (mut said, mut over_id) = (0, None);
    let mut session = Session::begin(&books, 1, 0.0);
    let mut number = 1;
    for line in text.lines() {
        let second = heard(line);
        if let Some(&(from, until)) = gaps.last() {
            if (from..until).contains(&second) {
                continue;
            }
            if second >= until {
                gaps.pop();
                session.kill(&books);
                number += 1;
                session = Session::begin(&books, number, second);
            }
        }
        if said == 0 && second >= acknowledged {
            let id = session.emergency();
            session.press(acknowledged, Command::Acknowledge(id));
            said = 1;
        }
        if said == 1 && second >= over {
            over_id = Some(session.emergency());
            session.press(over, Command::Resolve(over_id.unwrap()));
            said = 2;
        }
        session.take(second, line);
    }
    session.kill(&books);
    let mut entries = [0; 3];
    let mut alarm = f64::NAN;
    let all = overside::logbook::Filter::default();
    Reader::open(&books)
        .unwrap()
        .unwrap()
        .entries::<overside::logbook::Error>(&all, |entry| {
            match &entry.draft.details {
                Details::Alert(change) if change.priority > Priority::Alarm => {
                    let raised = change.state == State::ActiveUnacknowledged;
                    if entries[0] == 0 && raised {
                        entries[0] = entry.entry;
                        alarm = seconds(entry.draft.host());
                    }
                    entries[2] = entry.entry;
                }
                Details::Operator { alert, .. } if alert.is_some() && *alert == over_id => {
                    entries[1] = entry.entry;
                }
                _ => {}
            }
            Ok(())
        })
        .unwrap();
    Kept { folder, truth, alarm, acknowledged, over, entries }
}

impl Kept {
    fn overside(&self, arguments: &[&str]) -> Process {
        let mut command = cargo_bin_cmd!("overside");
        command.env_clear().current_dir(self.folder.path()).args(arguments);
        command
    }

    fn debrief(&self, entry: i64, more: &[&str]) -> String {
        let entry = entry.to_string();
        let mut command =
            self.overside(&["debrief", "--storage", "books", "--from-logbook", &entry]);
        command.args(more);
        String::from_utf8(command.assert().success().get_output().stdout.clone()).unwrap()
    }

    fn json(&self, entry: i64) -> Value {
        serde_json::from_str(&self.debrief(entry, &["--json"])).unwrap()
    }

    fn books(&self) -> PathBuf {
        self.folder.path().join("books")
    }
}

fn second(value: &Value) -> f64 {
    seconds(Utc::parse_rfc3339(value.as_str().unwrap_or_else(|| panic!("{value}"))).unwrap())
}

/// Sails on after the recovery; every burst is heard well enough.
const SEED: u64 = 18;

/// Two restarts, one of them before she is alongside.
fn two_gaps(truth: &Rehearsed) -> Vec<Gap> {
    let there = truth.there.unwrap() as f64;
    let first = truth.turned as f64 + 20.0;
    vec![(first, first + 110.0), (there + 20.0, there + 40.0)]
}

#[test]
fn whatever_entry_is_named_all_recordings_and_the_logbook_tell_together() {
    let kept = kept(SEED, two_gaps);
    assert_eq!(fs::read_dir(kept.books().join(RECORDINGS)).unwrap().count(), 3);
    for entry in [kept.entries[0], kept.entries[2]] {
        let told = kept.json(entry);
        let activated = second(&told["activated_at"]) - kept.truth.fallen as f64;
        assert!((0.0..60.0).contains(&activated), "{entry}: {activated}");
        assert!((second(&told["alarm_at"]) - kept.alarm).abs() < 1.5, "{entry}: {told}");
        assert!((second(&told["acknowledged_at"]) - kept.acknowledged).abs() < 1.5, "{told}");
        assert!((second(&told["turn_begun_at"]) - kept.truth.turned as f64).abs() < 8.0, "{told}");
    }
}

#[test]
fn a_word_that_was_a_mistake_is_no_recovery() {
    let kept = kept(SEED, two_gaps);
    let told = kept.json(kept.entries[0]);
    let recovered = told["recovered_at"].as_str().map(|_| second(&told["recovered_at"]));
    assert!(recovered.is_none_or(|at| at > kept.truth.there.unwrap() as f64 - 5.0), "{told}");
    assert_ne!(told["recovered_by"], "logbook", "{told}");
    let report = kept.debrief(kept.entries[0], &["--folder", "report"]);
    let words = "declared over; not taken as the recovery";
    assert!(report.contains(words), "{report}");
    let page = fs::read_to_string(kept.folder.path().join("report/debrief.html")).unwrap();
    assert!(page.contains(words));
    assert!(kept.over < kept.truth.there.unwrap() as f64);
}

/// The beacon says nothing more after the word: then a note alone corrects it.
#[test]
fn a_note_that_corrects_it_is_believed() {
    let silent =
        |truth: &Rehearsed| vec![(truth.fallen as f64 + 80.0, truth.way.len() as f64 - 1.0)];
    let kept = kept(SEED, silent);
    let told = kept.json(kept.entries[0]);
    assert_eq!(told["recovered_by"], "logbook", "{told}");
    let corrects = kept.entries[1].to_string();
    let note = ["logbook", "--storage", "books", "note", "wrong person", "--corrects", &corrects];
    kept.overside(&note).assert().success();
    let told = kept.json(kept.entries[0]);
    assert_eq!((&told["recovered_at"], &told["recovered_by"]), (&Value::Null, &Value::Null));
}

#[test]
fn what_nobody_listened_to_is_not_counted_as_lost() {
    let kept = kept(SEED, two_gaps);
    let told = kept.json(kept.entries[2]);
    let gaps = two_gaps(&kept.truth);
    let unwatched = told["not_watched"].as_array().unwrap();
    assert_eq!(unwatched.len(), 2, "{told}");
    for (told, (from, until)) in unwatched.iter().zip(&gaps) {
        assert!((second(&told["from"]) - from).abs() < 3.0, "{told} {from}");
        assert!((second(&told["until"]) - until).abs() < 3.0, "{told} {until}");
    }
    let (heard, sent) = (&told["messages_heard"], &told["messages_expected"]);
    let share = heard.as_f64().unwrap() / sent.as_f64().unwrap();
    assert!(share > 0.72, "{heard} of {sent}");
    assert!(told["longest_silence_s"].as_f64().unwrap() < 110.0, "{told}");
    let report = kept.debrief(kept.entries[2], &["--folder", "report"]);
    assert!(report.contains("Not watched until"), "{report}");
    let read =
        |name: &str| fs::read_to_string(kept.folder.path().join("report").join(name)).unwrap();
    let page = read("debrief.html");
    assert!(page.contains("class=\"unwatched\"") && page.contains("not watched"));
    let document: Value = serde_json::from_str(&read("debrief.json")).unwrap();
    let drill = &document["recordings"][0];
    assert_eq!(drill["not_watched"].as_array().unwrap().len(), 2);
    let bursts = drill["casualties"][0]["bursts"].as_array().unwrap();
    assert!(bursts.iter().any(|it| it["watched"] == false && it["expected"] == 0));
}

/// The events of a restart are those of one drill, not of two.
#[test]
fn all_drills_are_one() {
    let kept = kept(SEED, two_gaps);
    let mut all = kept.overside(&["debrief", "--storage", "books", "--from-logbook", "all"]);
    let told = all.arg("--json").assert().success().get_output().stdout.clone();
    assert_eq!(String::from_utf8(told).unwrap().lines().count(), 1);
}

/// Of somebody known by DSC alone as well: over a restart, with the name of the muster.
#[test]
fn a_drill_of_dsc_alone_is_one_of_them() {
    let truth = Rehearsed::of(SEED);
    let times = (truth.fallen + 12..truth.there.unwrap()).step_by(60);
    let calls: String = times
        .map(|at| {
            format!(
                "[[call]]\nat_s = {at}\nmeaning = \"distress_alert\"\ncaller = {MMSI}\n\
                 nature = \"man_overboard\"\nposition_of = {MMSI}\nexpansion = true\n"
            )
        })
        .collect();
    let text = recorded(&(truth.toml.clone() + &calls));
    let text: String =
        text.lines().filter(|it| !it.contains("VDM")).map(|it| format!("{it}\n")).collect();
    let gaps = two_gaps(&truth);
    let kept = kept_of(truth, &text, gaps);
    let mut all = kept.overside(&["debrief", "--storage", "books", "--from-logbook", "all"]);
    let told = all.arg("--json").assert().success().get_output().stdout.clone();
    let told = String::from_utf8(told).unwrap();
    let [line] = told.lines().collect::<Vec<_>>()[..] else { panic!("{told}") };
    let told: Value = serde_json::from_str(line).unwrap();
    assert_eq!((&told["mmsi"], &told["person"]), (&MMSI.into(), &"Mate".into()), "{told}");
    assert!((second(&told["alarm_at"]) - kept.alarm).abs() < 1.5, "{told}");
    assert!((second(&told["acknowledged_at"]) - kept.acknowledged).abs() < 1.5, "{told}");
    assert!(told["closest_approach_m"].is_number(), "{told}");
    assert_eq!(told["messages_heard"], 0, "{told}");
}
