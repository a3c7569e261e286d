//! Drills of all kinds, to be drawn.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

use std::fs;
use std::path::PathBuf;

use overside::app;
use overside::debrief::{About, Drill, LogEntry, Logged, Observer};
use overside::mmsi::Mmsi;
use overside::watch::Settings;
use overside::zone::Zone;

use super::drills::*;

const SHIP: &str = "FICTIONAL YACHT";

fn mmsi(value: u32) -> Mmsi {
    Mmsi::new(value).unwrap()
}

/// What the program makes of a recording, with these people in the muster.
fn observed(text: &str, about: About, people: &[(u32, &str)]) -> Drill {
    let muster = people.iter().map(|(it, name)| (mmsi(*it), Some((*name).to_owned()))).collect();
    let folder = tempfile::tempdir().unwrap();
    let path = file(&folder, "drill.nmea", text);
    let mut observer = Observer::new();
    let settings = Settings { muster, ..Settings::default() };
    app::observe(&[path], None, settings, &mut observer, |_| {}).unwrap();
    observer.finish(about)
}

fn called(recording: &str) -> About {
    About { recording: recording.to_owned(), ship: Some(SHIP.to_owned()), ..About::default() }
}

fn capture() -> String {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("captures/overboard_drill.nmea");
    fs::read_to_string(path).unwrap()
}

fn kept(text: &str, keep: impl Fn(&str) -> bool) -> String {
    text.lines().filter(|line| keep(line)).map(|line| format!("{line}\n")).collect()
}

/// The drill of the captures.
pub fn demo() -> Drill {
    observed(&capture(), called("overboard_drill"), &[(MMSI, "Mate")])
}

/// A zone two hours ahead (TZif, RFC 8536, of the first form).
pub fn zone() -> Zone {
    let mut bytes = b"TZif\0".to_vec();
    bytes.extend([0; 15]);
    for count in [0_u32, 0, 0, 0, 1, 5] {
        bytes.extend(count.to_be_bytes());
    }
    bytes.extend(7200_i32.to_be_bytes());
    bytes.extend([0, 0]);
    bytes.extend(b"CEST\0");
    Zone::read("Fictional/Harbour", &bytes).unwrap()
}

/// The drill of the captures, where the local time stands beside UTC.
pub fn local() -> Drill {
    let about = About { zone: Some(zone()), ..called("overboard_drill") };
    observed(&capture(), about, &[(MMSI, "Mate")])
}

/// The drill of a seed.
pub fn scene(seed: u64) -> Drill {
    let text = recorded(&Rehearsed::of(seed).toml);
    observed(&text, called(&format!("scene-{seed}")), &[(MMSI, "Mate")])
}

/// The same drill with what the logbook has of it: more remarks than a chart has room for.
pub fn noted() -> Drill {
    let said = |s: f64, text: &str| LogEntry {
        at: utc(s),
        what: Logged::Remark { by: Some("Skipper".to_owned()), text: text.to_owned() },
    };
    let mut log = vec![
        LogEntry { at: utc(207.0), what: Logged::Acknowledged(mmsi(MMSI)) },
        said(290.0, "Lost sight of the Mate behind the second wave; the Cook goes on pointing"),
    ];
    log.extend((0..60).map(|it| said(420.0 + f64::from(it) * 9.0, "Nothing seen")));
    let about = About { log: Some(log), ..called("overboard_drill") };
    observed(&capture(), about, &[(MMSI, "Mate")])
}

/// Two in the water.
pub fn two_in_the_water() -> Drill {
    let toml = Rehearsed::of(4).toml
        + "[[beacon]]\nmmsi = 972000018\nmode = \"active\"\nactivate_s = 420\n\
           drift = { set_deg = 30, rate_kn = 1 }\njitter_m = 5\n\
           reception = { base = 0.8, sure_nm = 3, horizon_nm = 6 }\n";
    let people = [(MMSI, "Mate"), (972_000_018, "Cook")];
    observed(&recorded(&toml), called("two"), &people)
}

/// A recording that begins after the beacon was activated.
fn late() -> Drill {
    let text = capture();
    let begin = text.lines().count() / 3;
    let text: String = text.lines().skip(begin).map(|line| format!("{line}\n")).collect();
    observed(&text, called("late"), &[(MMSI, "Mate")])
}

/// Without compass, log, wind instrument, ship's name and muster.
fn bare() -> Drill {
    let text =
        kept(&capture(), |it| !["HDT", "VHW", "MWV", "MWD"].iter().any(|id| it.contains(id)));
    observed(&text, About { recording: "bare".to_owned(), ..About::default() }, &[])
}

/// Without own position.
pub fn blind() -> Drill {
    let text = kept(&capture(), |line| line.contains("!AIVDM"));
    observed(&text, called("blind"), &[(MMSI, "Mate")])
}

/// Without a line.
pub fn empty() -> Drill {
    observed("", About { recording: "empty".to_owned(), ..About::default() }, &[])
}

/// Hostile text wherever text comes from.
pub fn hostile() -> Drill {
    let text = format!(
        "<script>alert(1)</script> \"&' \u{1b}[2J \u{202e}gnp.exe =1+1 {} {}",
        "long ".repeat(30),
        "x".repeat(300)
    );
    let by = Some(text.clone());
    let log = vec![LogEntry { at: utc(300.0), what: Logged::Remark { by, text: text.clone() } }];
    let about = About {
        recording: text.clone(),
        ship: Some(text.clone()),
        log: Some(log),
        ..About::default()
    };
    observed(&capture(), about, &[(MMSI, &text)])
}

/// Pages to be looked at, each with its drills.
pub fn all() -> Vec<(String, Vec<Drill>)> {
    let alone = [
        ("demo", demo()),
        ("noted", noted()),
        ("two", two_in_the_water()),
        ("late", late()),
        ("bare", bare()),
        ("blind", blind()),
        ("empty", empty()),
        ("hostile", hostile()),
        ("local", local()),
        ("dsc", called_by_dsc()),
        ("crew-alarm", called_by_crew_alarm()),
        ("quick", quick()),
        ("one-burst", one_burst()),
        ("restarted", restarted()),
    ];
    let mut pages: Vec<(String, Vec<Drill>)> =
        alone.into_iter().map(|(name, drill)| (name.to_owned(), vec![drill])).collect();
    let scenes: Vec<Drill> = (0..10).map(scene).collect();
    pages.extend(scenes.iter().map(|drill| (drill.recording.clone(), vec![drill.clone()])));
    pages.push(("pair".to_owned(), scenes[1..3].to_vec()));
    let mut many = scenes;
    many.extend([demo(), empty(), two_in_the_water(), hostile()]);
    pages.push(("many".to_owned(), many));
    pages
}

/// Known by DSC alone.
pub fn called_by_dsc() -> Drill {
    let calls = calls("distress_alert", &format!("caller = {MMSI}"), &Rehearsed::of(9), true);
    observed(&without_ais(9, &calls).1, called("dsc"), &[(MMSI, "Mate")])
}

/// Known by a crew alarm on board alone.
pub fn called_by_crew_alarm() -> Drill {
    observed(&by_crew_alarm(9, 1), called("crew-alarm"), &[(MMSI, "Mate")])
}

/// Turned at once, and back within a minute.
pub fn quick() -> Drill {
    let toml = format!(
        "about = \"A quick rescue.\"\nstart = {START}\nduration_s = 620\nseed = 7\n\
         [own]\nmmsi = 200000000\nlat = 57.8\nlon = 10.4\nheading_deg = 320\njitter_m = 1\n\
         hdt_every_s = 1\nvhw_every_s = 2\n\
         [[own.leg]]\ncourse_deg = 320\nspeed_kn = 5\nminutes = 3\n\
         [[own.leg]]\ncourse_deg = 140\nspeed_kn = 5\nminutes = 0.45\nturn_deg_min = 720\n\
         [[own.leg]]\ncourse_deg = 100\nspeed_kn = 0.4\nminutes = 3\n\
         [[own.leg]]\ncourse_deg = 140\nspeed_kn = 5\nminutes = 5\n\
         [[beacon]]\nmmsi = {MMSI}\nmode = \"active\"\nactivate_s = 172\n\
         drift = {{ set_deg = 100, rate_kn = 0.4 }}\njitter_m = 4\naboard_from_s = 300\noff_s = 500\n"
    );
    observed(&recorded(&toml), called("quick"), &[(MMSI, "Mate")])
}

/// One burst is heard, and nothing after it.
pub fn one_burst() -> Drill {
    let truth = Rehearsed::of(4);
    let toml = truth.all_heard();
    let toml = format!(
        "{toml}fades = [{{ from_s = {}, until_s = {} }}]\n",
        truth.fallen + 40,
        truth.way.len()
    );
    observed(&recorded(&toml), called("one-burst"), &[(MMSI, "Mate")])
}

/// The watch was restarted twice: nothing was recorded then.
pub fn restarted() -> Drill {
    let (from, until) = (utc(330.0).unix_ms(), utc(450.0).unix_ms());
    let is_there = |line: &str| {
        let ms = ms_of(line);
        !(from..until).contains(&ms) && !(from + 400_000..until + 330_000).contains(&ms)
    };
    observed(&kept(&capture(), is_there), called("restarted"), &[(MMSI, "Mate")])
}
