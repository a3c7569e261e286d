//! The plug is pulled at any moment of a scripted night: what was reported as logged is there, the
//! chain holds, the recordings replay, and the emergency goes on when the watch begins again. And
//! the disk is full, read-only, locked, torn or bit-flipped, and the alarm does not wait for it.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use overside::logbook::{Draft, Filter, Kind, Moment, Reader};
use overside::mmsi::Mmsi;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{
    AlertId, Asking, Cause, Input, LeftOpen, OpenAlert, Priority, Settings, Watch,
};
use overside::wire::{Line, Splitter};
use serde_json::Value;

/// Generous: a loaded machine starts a process in this time.
const PATIENCE: Duration = Duration::from_secs(30);

const MATE: u32 = 972_000_017;

/// A watch that is fed by hand.
struct Night {
    child: Child,
    stdin: Option<ChildStdin>,
    events: mpsc::Receiver<Value>,
}

impl Night {
    fn begin(folder: &Path) -> Self {
        Self::begin_by(Command::new(env!("CARGO_BIN_EXE_overside")), folder)
    }

    /// The same by a command that leads to the program.
    fn begin_by(mut command: Command, folder: &Path) -> Self {
        let args = ["watch", "--headless", "--json", "--input", "-", "--storage"];
        let mut child = command
            .args(args)
            .arg(folder)
            .current_dir(std::env::temp_dir())
            // Whether this machine can make a sound is another matter.
            .env("OVERSIDE_CONFIG", support::file("sound_off.toml", "[alarm]\nsound = false\n"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let (tx, events) = mpsc::channel();
        let output = BufReader::new(child.stdout.take().unwrap());
        std::thread::spawn(move || {
            // A killed program leaves half a line.
            let whole = output.lines().map_while(Result::ok);
            for event in whole.filter_map(|line| serde_json::from_str(&line).ok()) {
                if tx.send(event).is_err() {
                    return;
                }
            }
        });
        let stdin = child.stdin.take();
        Self { child, stdin, events }
    }

    fn say(&mut self, lines: &[String]) {
        let text = lines.iter().map(|line| format!("{line}\r\n")).collect::<String>();
        // A watch that was killed hears no more.
        let _ = self.stdin.as_mut().unwrap().write_all(text.as_bytes());
    }

    fn wait_for(&self, wanted: impl Fn(&Value) -> bool) -> Value {
        loop {
            let event = self.events.recv_timeout(PATIENCE).expect("no such event in time");
            if wanted(&event) {
                return event;
            }
        }
    }

    fn kill(mut self) -> Vec<Value> {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        self.events.iter().collect()
    }

    /// The input ends, and with it the watch.
    fn end(mut self) -> Vec<Value> {
        self.stdin = None;
        assert!(self.child.wait().unwrap().success());
        self.events.iter().collect()
    }
}

fn is_alert(event: &Value, cause: &str) -> bool {
    event["event"] == "alert" && event["cause"] == cause
}

fn is_logged(event: &Value, cause: &str) -> bool {
    event["event"] == "logged" && event["cause"] == cause
}

fn active(mmsi: u32) -> String {
    support::vdm(&support::position(mmsi, 14, Some((57.7, 10.6)), 17), 'A')
}

fn test_text(mmsi: u32) -> String {
    support::vdm(&support::text(mmsi, "MOB TEST"), 'B')
}

/// A scripted night: ships, the own position, tests, and a beacon now and then.
fn night(seed: u64) -> Vec<String> {
    let mut dice = fastrand::Rng::with_seed(seed);
    let place = support::nmea_position(57.7, 10.58);
    let line = |dice: &mut fastrand::Rng| match dice.u8(0..10) {
        0 => active(972_000_000 + dice.u32(10..40)),
        1 => test_text(972_000_000 + dice.u32(50..90)),
        2 => support::sealed(&format!("GPRMC,020000.00,A,{place},5.5,320.0,140626,,,A")),
        3 => "noise that is no sentence".to_owned(),
        _ => support::vdm(&support::class_b(211_000_000 + dice.u32(1..99), 57.7, 10.5), 'A'),
    };
    (0..120).map(|_| line(&mut dice)).collect()
}

/// The lines of each recording.
fn recordings(folder: &Path) -> Vec<Vec<Vec<u8>>> {
    let folder = folder.join("recordings");
    let all = overside::capture::recordings(&folder).unwrap();
    let lines = all.into_iter().map(|recording| {
        let bytes = std::fs::read(folder.join(recording.name)).unwrap();
        let mut lines = Vec::new();
        let mut splitter = Splitter::new();
        splitter.push(&bytes, |line| lines.push(line.to_vec()));
        splitter.finish(|line| lines.push(line.to_vec()));
        lines
    });
    lines.collect()
}

/// Every line of every recording.
fn recorded(folder: &Path) -> Vec<Vec<u8>> {
    recordings(folder).into_iter().flatten().collect()
}

fn check(folder: &Path) -> u64 {
    let reader = Reader::open(folder).unwrap().expect("there is no logbook");
    let check = reader.check().unwrap();
    assert!(check.whole, "{check:?}");
    check.entries
}

/// Killed with signal 9 at three hundred moments, ten logbooks of thirty watches each.
#[test]
fn a_killed_watch_loses_nothing_that_it_reported() {
    let mut dice = fastrand::Rng::with_seed(20_261_125);
    for book in 0..10 {
        let folder = tempfile::tempdir().unwrap();
        let mut reported: Vec<(i64, String)> = Vec::new();
        for _ in 0..30 {
            let mut watch = Night::begin(folder.path());
            let lines = night(dice.u64(..));
            let (first, second) = lines.split_at(dice.usize(..lines.len()));
            watch.say(first);
            // Some are killed while they begin, some in the middle of much, some at rest.
            let events = dice.usize(0..90);
            let mut heard: Vec<Value> = (0..events)
                .map_while(|_| watch.events.recv_timeout(Duration::from_millis(100)).ok())
                .collect();
            watch.say(second);
            heard.extend(watch.kill());
            let logged = heard.iter().filter(|event| event["event"] == "logged");
            reported.extend(logged.map(|event| {
                (event["entry"].as_i64().unwrap(), event["cause"].as_str().unwrap().to_owned())
            }));
        }
        let entries = check(folder.path());
        let reader = Reader::open(folder.path()).unwrap().unwrap();
        for (entry, cause) in &reported {
            let found = reader.get(*entry).unwrap();
            let found = found.unwrap_or_else(|| panic!("book {book}: entry {entry} is gone"));
            let logged = serde_json::to_value(found.draft.alert().unwrap().cause).unwrap();
            assert_eq!(logged, **cause, "book {book}: entry {entry}");
        }
        assert!(reported.len() > 50, "book {book}: {} reported of {entries}", reported.len());
        // A line that was cut off is the last of its file; all others have their time and input.
        let mut lines = 0;
        for recording in recordings(folder.path()) {
            for line in &recording[..recording.len().saturating_sub(1)] {
                let tag =
                    Line::parse(line).map_or_else(|_| Line::tag_of_damaged(line), |it| it.tag);
                let tag = tag.unwrap_or_else(|| panic!("{}", String::from_utf8_lossy(line)));
                assert!(tag.time.is_some() && tag.source == Some(b"-"), "{tag:?}");
                lines += 1;
            }
        }
        assert!(lines > 50, "book {book}: {lines} lines were recorded");
    }
}

/// What was recorded before an alert is on the disk at once, and the line that raised it, too.
#[test]
fn the_line_that_raised_an_alert_is_recorded_within_the_second() {
    let folder = tempfile::tempdir().unwrap();
    let mut watch = Night::begin(folder.path());
    watch.say(&[active(MATE)]);
    watch.wait_for(|event| is_logged(event, "beacon_active"));
    // No clock is asked here: it is looked for until it is there, or the patience is at its end.
    let found = (0..200).any(|_| {
        std::thread::sleep(Duration::from_millis(10));
        recorded(folder.path()).iter().any(|line| line.ends_with(active(MATE).as_bytes()))
    });
    watch.kill();
    assert!(found, "the line is not in the recordings");
}

/// The ten minutes around an entry are replayed from the watch's own recording.
#[test]
fn an_entry_leads_to_its_recording() {
    let folder = tempfile::tempdir().unwrap();
    let mut watch = Night::begin(folder.path());
    watch.say(&[test_text(972_000_050), active(MATE)]);
    let logged = watch.wait_for(|event| is_logged(event, "beacon_active"));
    watch.end();
    let replay = |entry: &str| {
        let args = ["replay", "--json", "--from-logbook", entry, "--storage"];
        let mut command = assert_cmd::Command::new(env!("CARGO_BIN_EXE_overside"));
        command.args(args).arg(folder.path()).current_dir(folder.path()).output().unwrap()
    };
    let output = replay(&logged["entry"].to_string());
    let text = String::from_utf8(output.stdout).unwrap();
    let events: Vec<Value> = text.lines().map(|it| serde_json::from_str(it).unwrap()).collect();
    assert!(events.iter().any(|event| is_alert(event, "beacon_test")), "{text}");
    assert!(events.iter().any(|event| is_alert(event, "beacon_active")), "{text}");
    assert!(events.iter().any(|event| event["input"] == "-"), "the input has its name\n{text}");
    // The entry that began the watch refers to none.
    let output = replay("1");
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("refers to no recording"));
}

/// Twelve hours in fast time, line by line, give the entries that a watch gives which looks at the
/// clock every second.
#[test]
fn a_night_in_fast_time_gives_the_same_entries() {
    let begun = Utc::parse_rfc3339("2026-06-14T20:00:00Z").unwrap();
    let stamp = |second: u64| {
        let span = Duration::from_secs(second);
        Stamp { at: Mono::START + span, utc: begun.plus(span) }
    };
    let night = |ticks: bool| {
        let asking = Some(Asking {
            every: Duration::from_secs(1200),
            answer_within: Duration::from_secs(60),
        });
        let mut watch = Watch::new(Settings { asking, ..Settings::default() });
        let (ais, gnss) = (watch.input("ais"), watch.input("gnss"));
        let mut entries = Vec::new();
        let mut dice = fastrand::Rng::with_seed(7);
        for second in 0..12 * 3600_u64 {
            let stamp = stamp(second);
            if ticks {
                watch.handle(Input::Tick { stamp });
            }
            let mut lines = Vec::new();
            if second % 7 == 0 && !(20_000..20_090).contains(&second) {
                let ship = support::class_b(211_000_000 + dice.u32(1..99), 57.7, 10.5);
                lines.push((ais, support::vdm(&ship, 'A')));
            }
            if second % 5 == 0 {
                let place = support::nmea_position(57.7, 10.58);
                let time = stamp.utc.to_string()[11..19].replace(':', "");
                let date = if second < 4 * 3600 { "140626" } else { "150626" };
                let rmc = format!("GPRMC,{time}.00,A,{place},5.5,320.0,{date},,,A");
                lines.push((gnss, support::sealed(&rmc)));
            }
            // A test, then somebody overboard for half an hour, whose beacon falls silent.
            match second {
                3_600..3_614 if second % 2 == 0 => lines.push((ais, test_text(972_000_050))),
                25_000..27_000 if second % 60 < 15 && second % 2 == 0 => {
                    lines.push((ais, active(MATE)));
                }
                _ => {}
            }
            for (input, line) in lines {
                watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
                while let Some(event) = watch.poll_output() {
                    let arrival = Mono::START
                        + Duration::from_millis(event.at.ms_since(begun).unsigned_abs());
                    let (own, sog, cog) = (None, None, None);
                    let moment = Moment {
                        arrival,
                        host: event.at,
                        gnss: None,
                        own,
                        own_age_s: None,
                        sog,
                        cog,
                    };
                    let draft = Draft::of_event(&event, &moment, None);
                    entries.extend(draft.map(|draft| format!("{draft:?}")));
                }
            }
        }
        entries
    };
    let (fast, real) = (night(false), night(true));
    assert!(fast.len() > 40, "{}", fast.len());
    for (place, (fast, real)) in fast.iter().zip(&real).enumerate() {
        assert_eq!(fast, real, "entry {place}");
    }
    assert_eq!(fast.len(), real.len());
}

/// The open emergency is back, unacknowledged, before anything is heard, with its number.
#[test]
fn an_emergency_goes_on_after_the_plug_was_pulled() {
    let folder = tempfile::tempdir().unwrap();
    let mut watch = Night::begin(folder.path());
    let own = support::nmea_position(57.69, 10.6);
    let rmc = support::sealed(&format!("GPRMC,020000.00,A,{own},5.5,320.0,140626,,,A"));
    watch.say(&[rmc.clone(), active(MATE), test_text(972_000_018)]);
    let raised = watch.wait_for(|event| is_alert(event, "beacon_active"));
    watch.wait_for(|event| is_logged(event, "beacon_test"));
    watch.kill();

    let mut watch = Night::begin(folder.path());
    let again = watch.wait_for(|event| is_alert(event, "beacon_active"));
    assert_eq!(again["id"], raised["id"]);
    assert_eq!(again["state"], "active_unacknowledged");
    assert_eq!(again["text"], raised["text"]);
    let test = watch.wait_for(|event| is_alert(event, "beacon_test"));
    assert_eq!(test["state"], "active_acknowledged");
    // It goes on as one incident: the beacon raises nothing new, and OFF ends it.
    let off = support::vdm(&support::text(MATE, "MOB OFF"), 'A');
    watch.say(&[rmc, active(MATE), active(MATE), off]);
    let over = watch.wait_for(|event| event["event"] == "alert");
    assert_eq!((&over["id"], &over["state"]), (&raised["id"], &"rectified_unacknowledged".into()));
    watch.end();
    check(folder.path());

    // What was over and not acknowledged stays so; a new alert has a new number.
    let mut watch = Night::begin(folder.path());
    let again = watch.wait_for(|event| is_alert(event, "beacon_active"));
    assert_eq!(again["state"], "rectified_unacknowledged");
    watch.say(&[active(972_000_019)]);
    let new = watch.wait_for(|event| event["mmsi"] == 972_000_019 && event["event"] == "alert");
    assert!(new["id"].as_i64() > test["id"].as_i64(), "{new}");
    watch.end();
}

/// Who calls again after the plug was pulled is known by the logbook: no second emergency.
#[test]
fn a_crew_alarm_goes_on_after_the_plug_was_pulled() {
    let folder = tempfile::tempdir().unwrap();
    let notice = support::sealed("IIMOB,000FF,A,020000,1,0,020000,5000.000,N,00130.000,W,,,,0");
    let mut watch = Night::begin(folder.path());
    watch.say(std::slice::from_ref(&notice));
    let raised = watch.wait_for(|event| is_alert(event, "mob_notice"));
    watch.wait_for(|event| is_logged(event, "mob_notice"));
    watch.kill();
    let mut watch = Night::begin(folder.path());
    assert_eq!(watch.wait_for(|event| is_alert(event, "mob_notice"))["id"], raised["id"]);
    watch.say(&[notice]);
    let later = watch.end();
    assert!(!later.iter().any(|event| is_alert(event, "mob_notice")), "{later:?}");
    check(folder.path());
}

/// A test or a text of yesterday is over, and is written down as such; an emergency of yesterday is
/// not.
#[test]
fn what_was_over_by_itself_does_not_come_back() {
    let hours = |hours: u64| Duration::from_secs(hours * 3600);
    let now = Stamp { at: Mono::START + hours(24), utc: Utc::EPOCH.plus(hours(24)) };
    let alert = |id: u32, cause: Cause, priority: Priority, ago: Duration| OpenAlert {
        was: None,
        rehearsed: None,
        joined_by: None,
        id: AlertId(id),
        cause,
        priority,
        rectified: false,
        mmsi: Mmsi::new(MATE),
        text: format!("alert {id}"),
        matter: None,
        raised: Mono::START + (hours(24) - ago),
        place: None,
        heard: Mono::START + (hours(24) - ago),
        sentence: None,
    };
    let mut watch = Watch::new(Settings::default());
    let left = LeftOpen {
        alerts: vec![
            alert(3, Cause::BeaconTest, Priority::Caution, hours(20)),
            alert(4, Cause::SafetyText, Priority::Warning, hours(20)),
            alert(5, Cause::BeaconActive, Priority::EmergencyAlarm, hours(20)),
            alert(6, Cause::DscTest, Priority::Caution, Duration::from_secs(60)),
        ],
        beacons: Vec::new(),
        last_id: 9,
    };
    watch.resume(left, now);
    let told: Vec<(u64, String)> = std::iter::from_fn(|| watch.poll_output())
        .map(|event| serde_json::to_value(event).unwrap())
        .map(|it| (it["id"].as_u64().unwrap(), it["state"].as_str().unwrap().to_owned()))
        .collect();
    let expected = [
        (3, "normal"),
        (4, "rectified_unacknowledged"),
        (5, "active_unacknowledged"),
        (6, "active_acknowledged"),
    ];
    assert_eq!(told, expected.map(|(id, state)| (id, state.to_owned())));
    assert_eq!(watch.alerts().len(), 3);
}

#[test]
fn two_watches_do_not_keep_one_logbook() {
    let folder = tempfile::tempdir().unwrap();
    let mut first = Night::begin(folder.path());
    first.say(&[active(MATE)]);
    first.wait_for(|event| is_logged(event, "beacon_active"));
    let mut second = Night::begin(folder.path());
    assert_eq!(second.child.wait().unwrap().code(), Some(2));
    first.end();
    Night::begin(folder.path()).end();
}

/// A file system of one megabyte; `None`, loudly, where none can be mounted.
struct Small(tempfile::TempDir);

impl Small {
    fn mount() -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let mount = ["-t", "tmpfs", "-o", "size=1m", "tmpfs"];
        let mounted = Command::new("mount").args(mount).arg(folder.path()).status();
        if mounted.is_ok_and(|status| status.success()) {
            return Some(Self(folder));
        }
        eprintln!("NOT RUN: no small file system can be mounted here (it needs root)");
        None
    }
}

impl Drop for Small {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(self.0.path()).status();
    }
}

/// The alarm comes although nothing can be written, the failure is told, and what waited is written
/// when there is room again.
#[test]
fn a_full_disk_delays_no_alarm_and_loses_no_entry() {
    let Some(small) = Small::mount() else { return };
    let folder = small.0.path();
    let ballast = folder.join("ballast");
    let fill = |_: &Night| {
        let mut file = std::fs::File::create(&ballast).unwrap();
        while file.write_all(&[0; 4096]).is_ok() {}
    };
    let free = |_: &Night| std::fs::remove_file(&ballast).unwrap();
    survives_without_room(folder, Night::begin(folder), fill, free);
}

/// The same where no file may grow any more: a quota, which needs no root.
#[test]
fn a_quota_delays_no_alarm_and_loses_no_entry() {
    let folder = tempfile::tempdir().unwrap();
    let limit = |watch: &Night, bytes: &str| {
        // The soft limit alone, so that it can be raised again (prlimit of util-linux).
        let limit = format!("--fsize={bytes}:");
        let pid = watch.child.id().to_string();
        let set = Command::new("prlimit").args(["--pid", &pid, &limit]).status().unwrap();
        assert!(set.success());
    };
    let mut command = Command::new("sh");
    // A write beyond the limit is an error, not the end of the program.
    command.args(["-c", "trap '' XFSZ; exec \"$@\"", "sh", env!("CARGO_BIN_EXE_overside")]);
    let watch = Night::begin_by(command, folder.path());
    survives_without_room(
        folder.path(),
        watch,
        |watch| limit(watch, "4096"),
        |watch| limit(watch, "unlimited"),
    );
}

/// Runs a watch out of room and into it again.
fn survives_without_room(
    folder: &Path,
    mut watch: Night,
    fill: impl Fn(&Night),
    free: impl Fn(&Night),
) {
    watch.say(&[test_text(972_000_050)]);
    watch.wait_for(|event| is_logged(event, "beacon_test"));
    fill(&watch);
    // Enough to need more than the pages that are there.
    let many: Vec<String> = (0..200).map(|n| test_text(972_000_100 + n)).collect();
    watch.say(&many);
    watch.say(&[active(MATE)]);
    let (mut alarm, mut failed) = (false, false);
    while !(alarm && failed) {
        let event = watch.events.recv_timeout(PATIENCE).expect("alarm and failure, in time");
        alarm |= is_alert(&event, "beacon_active");
        failed |= is_alert(&event, "logbook_failed");
    }
    free(&watch);
    watch.wait_for(|event| is_logged(event, "beacon_active"));
    watch.end();
    check(folder);
    let reader = Reader::open(folder).unwrap().unwrap();
    let mut tests = 0;
    let wanted = Filter { kind: Some(Kind::Alert), ..Filter::default() };
    reader
        .entries::<overside::logbook::Error>(&wanted, |entry| {
            let cause = serde_json::to_value(entry.draft.alert().unwrap().cause).unwrap();
            tests += u32::from(cause == "beacon_test");
            Ok(())
        })
        .unwrap();
    assert!(tests >= 201, "{tests} of 201 tests are in the logbook");
}

/// A folder that is none: the alarm comes all the same.
#[test]
fn a_folder_that_cannot_be_used_delays_no_alarm() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("a file");
    std::fs::write(&file, "not a folder").unwrap();
    let mut watch = Night::begin(&file);
    watch.say(&[active(MATE)]);
    let (mut alarm, mut failed) = (false, false);
    while !(alarm && failed) {
        let event = watch.events.recv_timeout(PATIENCE).expect("alarm and failure, in time");
        alarm |= is_alert(&event, "beacon_active");
        failed |= is_alert(&event, "logbook_failed");
    }
    watch.end();
    assert_eq!(std::fs::read_to_string(&file).unwrap(), "not a folder");
}

/// Locked by somebody else: told, and written when it is free.
#[test]
fn a_locked_logbook_is_written_when_it_is_free() {
    let folder = tempfile::tempdir().unwrap();
    let mut watch = Night::begin(folder.path());
    watch.say(&[test_text(972_000_050)]);
    watch.wait_for(|event| is_logged(event, "beacon_test"));
    let lock = rusqlite::Connection::open(folder.path().join("logbook.db")).unwrap();
    lock.execute_batch("BEGIN EXCLUSIVE").unwrap();
    watch.say(&[active(MATE)]);
    watch.wait_for(|event| is_alert(event, "logbook_failed"));
    lock.execute_batch("ROLLBACK").unwrap();
    drop(lock);
    watch.wait_for(|event| is_logged(event, "beacon_active"));
    watch.end();
    check(folder.path());
}

/// Torn or bit-flipped: set aside, never deleted, and the watch goes on with a new one.
#[test]
fn a_damaged_logbook_is_set_aside() {
    for (name, damage) in [
        (
            "torn",
            Box::new(|bytes: &mut Vec<u8>| bytes.truncate(5_000)) as Box<dyn Fn(&mut Vec<u8>)>,
        ),
        ("flipped", Box::new(|bytes: &mut Vec<u8>| bytes[3] ^= 0x40)),
        ("noise", Box::new(|bytes: &mut Vec<u8>| bytes.fill(0xA5))),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let mut watch = Night::begin(folder.path());
        watch.say(&[test_text(972_000_050)]);
        watch.wait_for(|event| is_logged(event, "beacon_test"));
        watch.end();
        let path = folder.path().join("logbook.db");
        let mut bytes = std::fs::read(&path).unwrap();
        damage(&mut bytes);
        std::fs::write(&path, &bytes).unwrap();
        let mut watch = Night::begin(folder.path());
        watch.say(&[active(MATE)]);
        let (mut told, mut logged) = (false, false);
        while !(told && logged) {
            let event = watch.events.recv_timeout(PATIENCE);
            let event = event.unwrap_or_else(|_| panic!("{name}: told {told}, logged {logged}"));
            told |= is_alert(&event, "logbook_failed");
            logged |= is_logged(&event, "beacon_active");
        }
        watch.end();
        check(folder.path());
        let kept = std::fs::read_dir(folder.path()).unwrap().any(|entry| {
            let entry = entry.unwrap();
            entry.file_name().to_string_lossy().ends_with(".damaged.db")
                && std::fs::read(entry.path()).unwrap() == bytes
        });
        assert!(kept, "{name}: the damaged logbook is not there any more");
    }
}

/// Leaves the Mate's emergency open in a logbook, and gives its number.
fn left_open(folder: &Path) -> Value {
    let mut watch = Night::begin(folder);
    watch.say(&[active(MATE)]);
    let raised = watch.wait_for(|event| is_alert(event, "beacon_active"));
    watch.wait_for(|event| is_logged(event, "beacon_active"));
    watch.kill();
    raised["id"].clone()
}

/// A pipe in place of the file holds up nothing, and numbers do not begin at 1.
#[test]
fn a_pipe_in_place_of_the_logbook_delays_no_alarm() {
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("logbook.db");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let mut watch = Night::begin(folder.path());
    watch.say(&[active(MATE)]);
    let (mut alarm, mut failed) = (None, false);
    while alarm.is_none() || !failed {
        let event = watch.events.recv_timeout(PATIENCE).expect("alarm and failure, in time");
        failed |= is_alert(&event, "logbook_failed");
        alarm = alarm.or_else(|| is_alert(&event, "beacon_active").then_some(event));
    }
    assert!(alarm.unwrap()["id"].as_i64() > Some(1_000_000));
    watch.kill();
}

/// Held by another program at the start: the alarm comes all the same, and what was open goes on
/// under its number as soon as it can be read, though other alerts were raised since.
#[test]
fn what_was_open_goes_on_once_the_logbook_can_be_read() {
    let folder = tempfile::tempdir().unwrap();
    let id = left_open(folder.path());
    let lock = rusqlite::Connection::open(folder.path().join("logbook.db")).unwrap();
    lock.execute_batch("PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE").unwrap();
    let mut watch = Night::begin(folder.path());
    watch.say(&[active(972_000_018)]);
    let other = watch.wait_for(|event| is_alert(event, "beacon_active"));
    assert_eq!(other["mmsi"], 972_000_018);
    assert!(other["id"].as_i64() > Some(1_000_000), "{other}");
    drop(lock);
    let again = watch.wait_for(|event| is_alert(event, "beacon_active"));
    assert_eq!((&again["id"], &again["mmsi"]), (&id, &MATE.into()), "{again}");
    assert_eq!(again["state"], "active_unacknowledged");
    watch.end();
    check(folder.path());
    let mut next = Night::begin(folder.path());
    let mut open: Vec<Value> = Vec::new();
    while open.len() < 2 {
        open.push(next.wait_for(|event| is_alert(event, "beacon_active"))["mmsi"].clone());
    }
    next.say(&[]);
    next.end();
    assert_eq!(open, [Value::from(MATE), Value::from(972_000_018)]);
}

/// One byte of one entry altered, at each place: the emergency goes on, it is told, and `check`,
/// `list`, `handover` and `export` go on with the others.
#[test]
fn an_altered_entry_makes_no_emergency_forgotten() {
    let kept = tempfile::tempdir().unwrap();
    let id = left_open(kept.path());
    left_open(kept.path());
    let bodies = |connection: &rusqlite::Connection| -> Vec<(i64, String)> {
        let mut query = connection.prepare("SELECT entry, body FROM entry").unwrap();
        query
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
            .unwrap()
            .map(Result::unwrap)
            .collect()
    };
    let book = |folder: &Path| rusqlite::Connection::open(folder.join("logbook.db")).unwrap();
    // All into the one file.
    book(kept.path()).query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(())).unwrap();
    for (entry, body) in bodies(&book(kept.path())) {
        let folder = tempfile::tempdir().unwrap();
        let mut bytes = std::fs::read(kept.path().join("logbook.db")).unwrap();
        // The whole of it may lie on several pages; a page that was split leaves a copy behind.
        let begin = &body.as_bytes()[..body.find("\"arrival_us\"").unwrap()];
        let places: Vec<usize> = bytes
            .windows(begin.len())
            .enumerate()
            .filter_map(|(place, it)| (it == begin).then_some(place))
            .collect();
        assert!(!places.is_empty(), "entry {entry}");
        // No JSON any more.
        places.into_iter().for_each(|place| bytes[place] = b'x');
        std::fs::write(folder.path().join("logbook.db"), bytes).unwrap();
        let mut watch = Night::begin(folder.path());
        let (mut again, mut told) = (None, false);
        watch.say(&[active(972_000_018)]);
        let mut logged = false;
        while !(told && again.is_some() && logged) {
            let event = watch.events.recv_timeout(PATIENCE);
            let event = event.unwrap_or_else(|_| panic!("entry {entry}: told {told}, {again:?}"));
            let text = event["text"].as_str().unwrap_or_default();
            told |= is_alert(&event, "logbook_failed") && text.contains(&format!("({entry})"));
            logged |= event["event"] == "logged" && event["mmsi"] == 972_000_018;
            if is_alert(&event, "beacon_active") && event["mmsi"] == MATE {
                again = again.or(Some(event));
            }
        }
        assert_eq!(again.unwrap()["id"], id, "entry {entry}");
        watch.end();
        let reader = Reader::open(folder.path()).unwrap().unwrap();
        assert_eq!(reader.check().unwrap().first_bad, Some(entry));
        for command in [&["list"][..], &["handover"], &["export", "--gpx"]] {
            let mut program = Command::new(env!("CARGO_BIN_EXE_overside"));
            program.arg("logbook").args(command).arg("--storage").arg(folder.path());
            let output = program.current_dir(std::env::temp_dir()).output().unwrap();
            let said = String::from_utf8_lossy(&output.stderr).into_owned();
            assert!(output.status.success(), "{command:?}: {said}");
        }
    }
}

/// A damaged entry is told until somebody has taken note of it; `check` shows it for ever, and
/// another one is told.
#[test]
fn damage_that_somebody_took_note_of_is_not_told_again() {
    use overside::logbook::{Act, Details, Draft, KNOWN_DAMAGE, WatchEvent};
    let folder = tempfile::tempdir().unwrap();
    let write = |details| {
        let at = Utc::from_unix_ms(1_780_000_000_000).unwrap();
        overside::logbook::append(folder.path(), Draft::outside(details, "text", at)).unwrap()
    };
    for _ in 0..3 {
        write(Details::Operator { act: Some(Act::Remark), alert: None });
    }
    let alter = |entry: i64| {
        let book = rusqlite::Connection::open(folder.path().join("logbook.db")).unwrap();
        book.execute_batch(&format!(
            "DROP TRIGGER IF EXISTS entry_is_never_altered;
             UPDATE entry SET body = replace(body, '\"text\"', '\"texu\"') WHERE entry = {entry}"
        ))
        .unwrap();
    };
    let told = || {
        let reader = Reader::open(folder.path()).unwrap().unwrap();
        (reader.damage_not_known(&[]).unwrap(), reader.damaged().unwrap())
    };
    alter(1);
    assert_eq!(told(), (vec![1], vec![1]));
    let known = serde_json::json!({ KNOWN_DAMAGE: [1] });
    write(Details::Watch { event: Some(WatchEvent::Logbook), told: known });
    assert_eq!(told(), (vec![], vec![1]));
    alter(3);
    assert_eq!(told(), (vec![3], vec![1, 3]));
}
