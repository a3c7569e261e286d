//! From nothing to a watch: `overside init` on a terminal and with options alone, `config check`,
//! `config show`, in an empty home.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/pty.rs"]
mod pty;
mod support;
#[path = "support/system.rs"]
mod system;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use overside::config::Config;
use pty::Terminal;
use support::vdm;
use system::{Plugged, System, gnss, ships};

const MATE: u32 = 972_000_017;

fn command(home: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_overside"));
    command.env_clear().env("HOME", home).env("XDG_RUNTIME_DIR", home).current_dir(home);
    command.args(arguments).stdin(Stdio::null());
    command
}

fn run(home: &Path, arguments: &[&str]) -> Output {
    command(home, arguments).output().unwrap()
}

fn written(home: &Path) -> PathBuf {
    home.join(".config/overside/overside.toml")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// On a terminal: answers, wrong ones among them, a receiver and a compass that are found; shown, written,
/// right by `config check`, and a watch that alarms for the beacon that was entered.
#[test]
fn one_sitting_leads_from_nothing_to_an_alarm() {
    let mut system = System::new();
    let mut lines = ships(200_000_001..200_000_005, &['A', 'B']);
    lines.push(vdm(&support::position(MATE, 14, Some((57.7, 10.58)), 20), 'B'));
    system.plug("ttyUSB0", "Receiver", Plugged::new(38_400, lines));
    system.plug("ttyUSB1", "Compass", Plugged::new(4_800, gnss()));
    let root = system.root.path();
    let begin = |arguments: &[&str]| {
        let mut command = pty::overside(&[("XDG_RUNTIME_DIR", &root.display().to_string())], root);
        // As for a user whose home is empty.
        command.env_remove("XDG_CONFIG_HOME");
        command.args(arguments);
        Terminal::start(command)
    };
    let folder = root.display().to_string();
    let sitting = begin(&["init", "--no-network", "--root", &folder]);
    let say = |question: &str, answer: &str| {
        sitting.wait_for_text(question);
        sitting.press(&format!("{answer}\r"));
    };
    // What is heard while it listens is no watch's, and nobody may overlook it.
    sitting.wait_for_text("BEACON 972000017 IS ACTIVE");
    say("What is the ship called?", "Example");
    say("The ship's MMSI", "20000000");
    say("nine digits and begins with 2 to 7", "200000000");
    say("call sign", "");
    say("Who is aboard?", "Skipper, Mate");
    say("How many persons", "1");
    say("no fewer than", "");
    say("Beacon of Skipper", "");
    say("Beacon of Mate", "972000017");
    // No word is cut at the edge of the screen.
    let widest = sitting.look(|screen| screen.rows(0, 80).map(|row| row.trim_end().len()).max());
    assert!(widest < Some(80), "{}", sitting.text());
    say("In which lifejacket", "jacket 2");
    say("date on its battery", "31.2.2029");
    say("no date", "05/2029");
    say("Write the inputs", "");
    say("Where are logbook", "");
    say("Begin the watch with the computer", "n");
    say("Sound the alarm", "n");
    sitting.wait_for_text("Write it to");
    let path = root.join(".config/overside/overside.toml");
    assert!(!path.exists());
    sitting.press("y\r");
    sitting.wait_for_text("3 of 3 needs met");
    assert!(sitting.exit_status().success());
    let config = Config::parse(&fs::read_to_string(&path).unwrap(), &path).unwrap();
    assert_eq!(config.vessel.persons_aboard, Some(2));
    assert_eq!(config.beacons[0].holder.as_deref(), Some("Mate"));
    assert_eq!(config.beacons[0].battery_expires.unwrap().to_string(), "2029-05");
    let names: Vec<_> = config.inputs.iter().map(|it| it.name.as_str()).collect();
    assert_eq!(names, ["ais", "gnss"]);
    assert_eq!(run(root, &["config", "check"]).status.code(), Some(0));
    let watch = begin(&["watch"]);
    watch.wait_for_text("MATE");
    watch.wait_for_bell();
    // A second sitting overwrites nothing.
    let before = fs::read_to_string(&path).unwrap();
    let again = run(root, &["init", "--name", "Other", "--persons-aboard", "1", "--yes"]);
    assert_eq!(again.status.code(), Some(2));
    assert!(text(&again.stderr).contains("there already: nothing is overwritten"));
    assert_eq!(fs::read_to_string(&path).unwrap(), before);
}

/// A sitting that has come to its second question.
fn asked_for_the_mmsi(home: &Path) -> Terminal {
    let mut command = pty::overside(&[], home);
    command.env_remove("XDG_CONFIG_HOME");
    command.args(["init", "--no-inputs"]);
    let sitting = Terminal::start(command);
    sitting.wait_for_text("What is the ship called?");
    sitting.press("Example\r");
    sitting.wait_for_text("The ship's MMSI");
    assert!(!sitting.text().contains("?:"), "a question ends once: {}", sitting.text());
    sitting
}

/// Ctrl-C, the end of the input and a no in the middle write nothing.
#[test]
fn who_leaves_in_the_middle_has_written_nothing() {
    for leave in ["\u{3}", "\u{4}"] {
        let home = tempfile::tempdir().unwrap();
        let sitting = asked_for_the_mmsi(home.path());
        sitting.press(leave);
        assert!(!sitting.exit_status().success());
        assert!(!written(home.path()).exists());
    }
}

/// A letter of a terminal that is not set to UTF-8 is asked for again; what was answered is kept.
#[test]
fn a_terminal_of_another_encoding_ends_no_sitting() {
    let home = tempfile::tempdir().unwrap();
    let sitting = asked_for_the_mmsi(home.path());
    sitting.press("\r\r");
    sitting.wait_for_text("Who is aboard?");
    sitting.send(b"J\xf8rgen\r");
    sitting.wait_for_text("not UTF-8");
    sitting.press("Mate\r");
    sitting.wait_for_text("How many persons");
    sitting.press("\r\r\r\r\r");
    sitting.wait_for_text("Write it to");
    assert!(sitting.text().contains("name = \"Mate\""), "{}", sitting.text());
}

/// A disk that takes nothing keeps no half of a file: the next sitting would be refused because of it,
/// and a watch begin without what was answered.
#[test]
fn a_full_disk_leaves_nothing_behind() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    // As a full disk: no file takes a byte.
    let script = "trap '' XFSZ; ulimit -f 0; exec \"$0\" \"$@\"";
    let arguments = ["init", "--no-inputs", "--name", "Example", "--persons-aboard", "1", "--yes"];
    let mut full = Command::new("bash");
    full.env_clear().env("HOME", home).current_dir(home).stdin(Stdio::null());
    full.args(["-c", script, env!("CARGO_BIN_EXE_overside")]).args(arguments);
    let output = full.output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("was not written"), "{}", text(&output.stderr));
    assert!(!written(home).exists());
    assert_eq!(run(home, &arguments).status.code(), Some(0));
    assert!(written(home).exists());
}

/// Without a terminal: options alone. What is missing is named; what is wrong, too.
#[test]
fn without_a_terminal_options_answer_all() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    let init = |arguments: &[&str]| run(home, &[&["init", "--no-inputs"], arguments].concat());
    let output = init(&[]);
    assert_eq!(output.status.code(), Some(2));
    let said = text(&output.stderr);
    assert!(said.contains("missing: --name, --persons-aboard, --yes"), "{said}");
    for (wrong, part) in [
        (["--mmsi", "20000000"], "begins with 2 to 7"),
        (["--beacon", "Mate=200000000"], "970, 972 or 974"),
        (["--beacon", "Mate=972000017,,31.2.2029"], "is no date"),
        (["--beacon", "Cook=972000017"], "nobody aboard"),
        (["--beacon", "972000017"], "write NAME=MMSI"),
        (["--persons-aboard", "0"], "1 to 9999"),
    ] {
        let base = ["--name", "Example", "--person", "Mate", "--yes"];
        let output = init(&[base.as_slice(), &wrong].concat());
        assert_eq!(output.status.code(), Some(2), "{wrong:?}");
        assert!(text(&output.stderr).contains(part), "{wrong:?}: {}", text(&output.stderr));
        assert!(!written(home).exists());
    }
    let all = [
        ["--name", "Example"],
        ["--person", "Mate"],
        ["--person", "Cook"],
        ["--beacon", "Mate=972000017,jacket 2,2029-05"],
        ["--folder", "kept \"here\""],
    ];
    let output = init(&[all.concat().as_slice(), &["--service", "--yes"]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let path = written(home);
    let config = Config::parse(&fs::read_to_string(&path).unwrap(), &path).unwrap();
    assert_eq!(config.storage.folder.as_deref(), Some(Path::new("kept \"here\"")));
    assert_eq!((config.persons.len(), config.lifejackets.len()), (2, 1));
    let unit = fs::read_to_string(home.join(".config/systemd/user/overside.service")).unwrap();
    assert!(unit.contains(&format!("--config \"{}\"", path.display())), "{unit}");
    let output = run(home, &["config", "check", "--json"]);
    let told: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(told["errors"], serde_json::json!([]));
}

/// Five errors are five lines; nothing that follows from another one is told.
#[test]
fn every_error_is_listed_at_once() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    let broken = "[vessel]\nnme = \"Example\"\nmmsi = \"200000000\"\n\n[[input]]\nname = \"ais\"\n\
                  uri = \"udp:10110\"\n\n[[person]]\nname = 7\n\n[[beacon]]\nmmsi = 972000017\n\
                  holder = \"Mate\"\n\n[storage]\nkeep_days = 0\n";
    fs::write(home.join("overside.toml"), broken).unwrap();
    let output = run(home, &["config", "check"]);
    assert_eq!(output.status.code(), Some(2));
    let said = text(&output.stdout);
    let errors: Vec<_> = said.lines().take_while(|line| line.starts_with("line ")).collect();
    assert_eq!(errors.len(), 5, "{said}");
    for (line, begin, part) in [
        (0, "line 2, vessel.nme: ", "write one of `name`"),
        (1, "line 3, vessel.mmsi: ", "cannot stand here"),
        (2, "line 7, input.uri: ", "is no input"),
        (3, "line 10, person.name: ", "text in quotation marks"),
        (4, "line 17, storage.keep_days: ", "write 1 or more"),
    ] {
        assert!(errors[line].starts_with(begin) && errors[line].contains(part), "{}", errors[line]);
    }
    assert!(said.contains("\nsound: on, by a player that is installed"), "{said}");
    let output = run(home, &["config", "check", "--json"]);
    let told: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(told["errors"].as_array().unwrap().len(), 5);
    assert_eq!(told["errors"][4]["key"], "storage.keep_days");
    // No TOML at all, on one line; what stands elsewhere is told beside it.
    fs::write(home.join("overside.toml"), "[vessel]\nname = \"a\n\n[storage]\nkeep_days = 0\n")
        .unwrap();
    let said = text(&run(home, &["config", "check"]).stdout);
    let lines: Vec<_> = said.lines().take_while(|line| line.starts_with("line ")).collect();
    assert_eq!(lines.len(), 2, "{said}");
    fs::remove_file(home.join("overside.toml")).unwrap();
    let output = run(home, &["config", "check"]);
    assert_eq!(output.status.code(), Some(0));
    assert!(
        text(&output.stdout)
            .contains("recording: on, kept 30 days, up to 50 % of the disk (default)")
    );
}

/// What is shown can be read back.
#[test]
fn what_is_shown_is_a_configuration() {
    let home = tempfile::tempdir().unwrap();
    let output = run(home.path(), &["config", "show"]);
    let shown = text(&output.stdout);
    assert_eq!(Config::parse(&shown, Path::new("shown")).unwrap(), Config::default());
    assert!(shown.contains("keep_days = 30  # default"), "{shown}");
}
