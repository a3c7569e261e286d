//! Text from elsewhere steers nothing: names of the configuration, sources of TAG blocks and typed
//! texts full of control, direction and unseen characters, and what every command prints of them.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::{Command, cargo::cargo_bin_cmd};
use overside::wire::checksum;
use proptest::prelude::*;

/// Written by hand, so that it does not believe what it judges: what no terminal may be given.
fn steers(c: char) -> bool {
    matches!(c, '\0'..='\x1f' | '\x7f'..='\u{9f}' | '\u{ad}' | '\u{61c}' | '\u{200b}'..='\u{200f}'
        | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}'
        | '\u{e0000}'..='\u{e007f}')
}

/// Names that have one of each kind in them, and a few that look harmless.
fn name() -> impl Strategy<Value = String> {
    let kinds = "\x07\x1b\x7f\u{85}\u{9b}\u{ad}\u{61c}\u{200b}\u{200e}\u{2028}\u{2029}\u{202e}\
                 \u{2066}\u{feff}\u{e0041}";
    let of_kind = prop::sample::select(kinds.chars().collect::<Vec<_>>());
    let other = prop::sample::select("Aé山=;\"'<&\\`".chars().collect::<Vec<_>>());
    prop::collection::vec(prop_oneof![2 => of_kind, 1 => other], 1..6)
        .prop_map(|all| format!("N{}", all.into_iter().collect::<String>()))
}

/// A boat with hostile names, and what it heard from inputs with such names.
struct Boat {
    home: tempfile::TempDir,
    name: String,
}

impl Boat {
    fn new(name: &str) -> Self {
        let home = tempfile::tempdir().unwrap();
        let quoted: String = name.chars().map(|c| format!("\\U{:08X}", u32::from(c))).collect();
        let config = format!(
            "[vessel]\nname = \"{quoted}\"\nmmsi = 200000000\n[[person]]\nname = \"{quoted}\"\n\
             [[lifejacket]]\nname = \"{quoted}\"\nservice_due = \"2020-01\"\n[[beacon]]\n\
             mmsi = 972000017\nholder = \"{quoted}\"\nfitted_to = \"{quoted}\"\n"
        );
        fs::write(home.path().join("overside.toml"), config).unwrap();
        let source = name.replace(['\\', ',', '*'], "");
        let drill = Path::new(env!("CARGO_MANIFEST_DIR")).join("captures/overboard_drill.nmea");
        let drill = fs::read_to_string(drill).unwrap();
        let heard = drill.lines().skip(400).take(500).map(|line| {
            let (_, sentence) = line[1..].split_once('\\').unwrap();
            let time = line.split_once("c:").unwrap().1.split_once('*').unwrap().0;
            let block = format!("s:{source},c:{time}");
            let damaged = format!("{name}\u{9b}\n");
            format!("\\{block}*{:02X}\\{sentence}\n{damaged}", checksum(block.as_bytes()))
        });
        fs::write(home.path().join("heard.nmea"), heard.collect::<String>()).unwrap();
        Self { home, name: name.to_owned() }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    fn overside(&self) -> Command {
        let mut command = cargo_bin_cmd!("overside");
        command.env_clear().env("HOME", self.home.path()).current_dir(self.home.path());
        command
    }

    /// What a command prints, which steers nothing.
    fn says(&self, arguments: &[&str]) -> String {
        let output = self.overside().args(arguments).output().unwrap();
        let code = output.status.code();
        let error = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(matches!(code, Some(0 | 1 | 3)), "{arguments:?}: {code:?}: {error}");
        let said = String::from_utf8(output.stdout).unwrap();
        inert(&format!("{arguments:?} of {:?}", self.name), &said);
        said
    }
}

fn inert(what: &str, text: &str) {
    // Lists for other programs have the line end of their standard.
    let text = text.replace("\r\n", "\n");
    if let Some(c) = text.chars().find(|&c| c != '\n' && steers(c)) {
        let line = text.lines().find(|line| line.contains(c)).unwrap_or_default();
        panic!("{what} gives {c:?} raw: {line:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_command_prints_what_steers(name in name()) {
        let boat = Boat::new(&name);
        let feed = format!("file:{}", boat.path("heard.nmea").display());
        let typed = format!("typed {}", name.replace('\0', ""));
        for arguments in [
            &["decode", "heard.nmea"][..],
            &["decode", "--tally", "heard.nmea"],
            &["replay", "heard.nmea", "--speed", "max", "--headless"],
            &["replay", "heard.nmea", "--speed", "max", "--json"],
            &["watch", "--headless", "--storage", "a", "--input", &feed],
            &["watch", "--json", "--storage", "b", "--input", &feed],
            &["hearing", "heard.nmea"],
            &["hearing", "heard.nmea", "--json", "--page", "hearing.html"],
            &["prove", "--capture", "heard.nmea", "--no-log"],
            &["prove", "--capture", "heard.nmea", "--no-log", "--json"],
            &["muster", "--as-of", "2026-06-14"],
            &["muster", "--as-of", "2026-06-14", "--json", "--ics", "due.ics"],
            &["logbook", "note", &typed, "--by", &typed, "--storage", "a"],
            &["hearing", "--storage", "a", "--since", "2020-01-01", "--page", "kept.html"],
            &["hearing", "--storage", "a", "--since", "2020-01-01", "--json"],
            &["logbook", "list", "--storage", "a"],
            &["logbook", "list", "--storage", "a", "--csv"],
            &["logbook", "list", "--storage", "a", "--json"],
            &["logbook", "handover", "--storage", "a", "--from", &typed, "--to", &typed],
            &["logbook", "handover", "--storage", "a", "--from", &typed, "--json"],
            &["logbook", "check", "--storage", "a", "--json"],
            &["logbook", "export", "--storage", "a", "--gpx", "-"],
            &["debrief", "heard.nmea", "--folder", "report"],
            &["debrief", "heard.nmea", "--json"],
        ] {
            boat.says(arguments);
        }
        let files = fs::read_dir(boat.path("report")).unwrap().map(|it| it.unwrap().path());
        let pages = ["hearing.html", "kept.html"].map(|page| boat.path(page));
        for file in files.chain([boat.path("due.ics")]).chain(pages) {
            let text = fs::read_to_string(&file).unwrap();
            inert(&file.display().to_string(), &text);
            prop_assert!(!text.contains("<script") && !text.contains("<N"), "{}", file.display());
        }
        // What is escaped is still the same text.
        let muster: serde_json::Value =
            serde_json::from_str(&boat.says(&["muster", "--json"])).unwrap();
        prop_assert_eq!(muster["persons"][0]["name"].as_str(), Some(name.as_str()));
    }
}

#[test]
fn a_list_of_the_logbook_shows_what_is_not_seen() {
    let boat = Boat::new("Mate");
    boat.says(&["logbook", "note", "a\u{61c}b\u{2028}c\u{ad}d\u{e0041}e", "--storage", "a"]);
    let list = boat.says(&["logbook", "list", "--storage", "a"]);
    assert!(list.contains(r"a\u{61c}b\u{2028}c\u{ad}d\u{e0041}e"), "{list}");
    boat.says(&["logbook", "note", "a;b\u{202e}", "--storage", "a"]);
    let csv = boat.says(&["logbook", "list", "--storage", "a", "--csv"]);
    assert!(csv.contains("\"a;b\\u{202e}\""), "{csv}");
}

/// Recordings and logbooks that are none, and a database that is damaged: an answer or an error in a
/// few words, and never a panic.
#[test]
fn hearing_of_what_is_no_recording_and_no_logbook() {
    let boat = Boat::new("<script>alert(1)</script>");
    let huge = "\\s:x,c:99999999999999999999*00\\!AIVDM,1,1,,A,13u08p0000QDeLNO=PvHU3M>0>`<,0*07\n";
    for (name, bytes) in [
        ("empty.nmea", Vec::new()),
        ("zeros.nmea", vec![0; 70_000]),
        ("huge.nmea", huge.repeat(200).into_bytes()),
        (
            "noise.nmea",
            (0..90_000_u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 24) as u8).collect(),
        ),
    ] {
        fs::write(boat.path(name), bytes).unwrap();
        let said = boat.says(&["hearing", name, "--page", "hearing.html"]);
        assert!(said.contains("not known: no AIS is coming in"), "{name}: {said}");
        inert(name, &fs::read_to_string(boat.path("hearing.html")).unwrap());
        let json: serde_json::Value =
            serde_json::from_str(&boat.says(&["hearing", name, "--json"])).unwrap();
        assert_eq!(json["now"]["range80_nm"], serde_json::Value::Null);
    }
    boat.says(&["logbook", "note", "x", "--storage", "book"]);
    let book = boat.path("book").join(overside::logbook::FILE);
    let sound = fs::read(&book).unwrap();
    let damaged = |at: usize| [&sound[..at], &vec![0xa5; sound.len() - at][..]].concat();
    for bytes in [Vec::new(), b"no database".to_vec(), damaged(16), damaged(100), damaged(4096)] {
        fs::write(&book, bytes).unwrap();
        let output = boat.overside().args(["hearing", "--storage", "book"]).output().unwrap();
        let error = String::from_utf8(output.stderr).unwrap();
        assert!(matches!(output.status.code(), Some(0..=3)), "{:?}: {error}", output.status);
        assert!(error.len() < 1_000 && !error.contains("panicked"), "{error}");
        inert("an error", &error);
    }
}

#[test]
fn an_error_is_told_in_a_few_words_that_steer_nothing() {
    let boat = Boat::new("Mate");
    let nested = |depth: usize| format!("x = {}\n", "[".repeat(depth));
    let key = |key: &str| format!("{key} = 1\n");
    for text in [
        nested(100_000),
        nested(3),
        key("y\u{9b}2J\u{202e}"),
        key("maß"),
        key(&"long".repeat(9_000)),
    ] {
        fs::write(boat.path("bad.toml"), text).unwrap();
        for arguments in [&["muster", "--config", "bad.toml"][..], &["rehearse", "bad.toml"]] {
            let output = boat.overside().args(arguments).output().unwrap();
            let error = String::from_utf8(output.stderr).unwrap();
            assert_eq!(output.status.code(), Some(2), "{error}");
            assert!(error.len() < 3_000, "{} bytes: {arguments:?}", error.len());
            inert("an error", &error);
            assert!(error.contains("Line 1") && error.contains("What to do: "), "{error}");
        }
    }
}

/// One change of a text: something put in, taken out or doubled at a character.
#[derive(Clone, Debug)]
enum Change {
    Insert(&'static str),
    Remove(usize),
    Double(usize),
}

fn change() -> impl Strategy<Value = (prop::sample::Index, Change)> {
    const ODD: &[&str] =
        &["ü=", "ß", "=", "[", "]]", "[[", "\"", "{", "}", "\n", "# é =\n", "-", "9e99", "\0"];
    let what = prop_oneof![
        2 => prop::sample::select(ODD).prop_map(Change::Insert),
        1 => (1_usize..40).prop_map(Change::Remove),
        1 => (1_usize..40).prop_map(Change::Double),
    ];
    (any::<prop::sample::Index>(), what)
}

fn changed(text: &str, changes: &[(prop::sample::Index, Change)]) -> String {
    let mut all: Vec<char> = text.chars().collect();
    for (place, change) in changes {
        let at = place.index(all.len().max(1)).min(all.len());
        let end = |length: usize| (at + length).min(all.len());
        match *change {
            Change::Insert(odd) => drop(all.splice(at..at, odd.chars())),
            Change::Remove(length) => drop(all.drain(at..end(length))),
            Change::Double(length) => {
                let again = all[at..end(length)].to_vec();
                drop(all.splice(at..at, again));
            }
        }
    }
    all.into_iter().collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_file_of_toml_panics(
        file in any::<prop::sample::Index>(),
        changes in prop::collection::vec(change(), 1..6),
    ) {
        let files = [
            include_str!("../captures/demo.toml"),
            include_str!("../captures/overboard_drill.toml"),
            include_str!("../captures/muster_round.toml"),
            include_str!("../captures/surprise.toml"),
            include_str!("../src/voice/words.toml"),
        ];
        let text = changed(files[file.index(files.len())], &changes);
        let _ = overside::config::Config::parse(&text, Path::new("overside.toml"));
        let _ = overside::rehearse::Scenario::parse(&text).map_err(|why| why.to_string());
        let _ = overside::voice::Words::parse(&text).map_err(|why| why.to_string());
    }
}

#[test]
fn a_scenario_with_an_umlaut_before_an_equals_sign_is_an_error_like_another() {
    let boat = Boat::new("Mate");
    let text = "start = 2026-06-14T14:00:00Z\nduration_s = 1\n# für ü=\n[own]\nlat = 1\n";
    fs::write(boat.path("umlaut.toml"), text).unwrap();
    let output = boat.overside().args(["rehearse", "umlaut.toml"]).output().unwrap();
    let error = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{error}");
    assert!(error.contains("Line 4") && error.contains("What to do: "), "{error}");
}
