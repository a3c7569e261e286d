//! A family of four beacons in one sitting on the screen: each tested, entered in the muster and
//! proven, without an editor; from a second screen, too; and what is refused loses nothing.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/pty.rs"]
mod pty;
mod support;

use std::fs::{self, Permissions};
use std::net::UdpSocket;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use overside::config::Config;
use overside::logbook::{Entry, Filter, Kind, Reader};
use pty::{Terminal, overside};

const OWN: (f64, f64) = (57.7003, 10.5836);
const HERE: (f64, f64) = (57.70032, 10.58365);

/// The crew of the yacht Example, each with the last figures of their beacon.
const CREW: [(&str, u32); 4] = [("Skipper", 1), ("Mate", 2), ("Cook", 3), ("Guest", 4)];

/// A watch with a configuration file in which nobody is.
struct Sitting {
    state: tempfile::TempDir,
    port: u16,
    sender: UdpSocket,
    terminal: Terminal,
    begun: String,
}

impl Sitting {
    fn begin() -> Self {
        let state = tempfile::tempdir().unwrap();
        let port = UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let begun = format!(
            "# The yacht Example, before her first season.\n[vessel]\nname = \"Example\" # no beacon yet\n\
             \n[[input]]\nname = \"ais\"\nuri = \"udp://127.0.0.1:{port}\"\n\n[alarm]\nsound = false"
        );
        fs::write(state.path().join("overside.toml"), &begun).unwrap();
        let mut command = Self::command(state.path());
        command.args(["watch", "--by", "Skipper"]);
        let terminal = Terminal::start(command);
        let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
        let sitting = Self { state, port, sender, terminal, begun };
        sitting.until_listening();
        sitting
    }

    /// Sockets of a watch lie in a folder whose path may not be long.
    fn command(state: &Path) -> portable_pty::CommandBuilder {
        overside(&[("XDG_RUNTIME_DIR", &state.display().to_string())], state)
    }

    fn send(&self, line: &str) {
        let _ = self.sender.send_to(format!("{line}\r\n").as_bytes(), ("127.0.0.1", self.port));
    }

    /// Sends the own position until it shows: the port opens some time after the screen.
    fn until_listening(&self) {
        let place = support::nmea_position(OWN.0, OWN.1);
        let gga = support::sealed(&format!("GPGGA,083000.00,{place},1,08,1.0,2.0,M,40.0,M,,"));
        let shown = (0..300).any(|_| {
            self.send(&gga);
            let shows = |screen: &vt100::Screen| screen.contents().contains("own 57°");
            self.terminal.waited(Duration::from_millis(100), shows)
        });
        assert!(shown, "the own position does not show:\n{}", self.terminal.text());
    }

    /// One burst of a self-test (M.1371-5 annex 9, section 5).
    fn test(&self, mmsi: u32) {
        for message in 0..8_u8 {
            let body = match message {
                0 | 7 => support::text(mmsi, "MOB TEST"),
                _ => support::position(mmsi, 15, Some(HERE), 17 + message),
            };
            self.send(&support::vdm(&body, if message % 2 == 0 { 'A' } else { 'B' }));
        }
    }

    fn path(&self) -> PathBuf {
        self.state.path().join("overside.toml")
    }

    fn text(&self) -> String {
        fs::read_to_string(self.path()).unwrap()
    }

    /// What somebody did, and who.
    fn acts(&self) -> Vec<(String, Option<String>)> {
        let folder = self.state.path().join(".local/share/overside");
        let mut acts = Vec::new();
        let Some(reader) = Reader::open(&folder).unwrap() else { return acts };
        let filter = Filter { kind: Some(Kind::Operator), ..Filter::default() };
        let each = |entry: Entry| {
            acts.push((entry.draft.text, entry.draft.operator));
            Ok(())
        };
        reader.entries::<overside::logbook::Error>(&filter, each).unwrap();
        acts
    }

    fn until_written(&self, part: &str) -> (String, Option<String>) {
        let found = (0..1000).find_map(|_| {
            std::thread::sleep(Duration::from_millis(10));
            self.acts().into_iter().find(|(text, _)| text.contains(part))
        });
        found.unwrap_or_else(|| panic!("{part} is not in the logbook: {:?}", self.acts()))
    }

    fn run(&self, arguments: &[&str]) -> (i32, String) {
        let mut command = Command::new(env!("CARGO_BIN_EXE_overside"));
        command.env_clear().env("HOME", self.state.path()).current_dir(self.state.path());
        let output = command.args(arguments).output().unwrap();
        let said = [output.stdout, output.stderr].map(|it| String::from_utf8(it).unwrap()).concat();
        (output.status.code().unwrap(), said)
    }
}

/// Waits for the TEST screen of a beacon that is on no list, and asks to enter it.
fn ask(terminal: &Terminal, mmsi: u32) {
    terminal.wait_for("the TEST screen", |screen| {
        let text = screen.contents();
        text.contains(&format!("MOB {mmsi}, heard")) && text.contains("[e] enter it in the muster")
    });
    terminal.press("e");
    terminal.wait_for_text(&format!("Enter beacon {mmsi} in the muster"));
}

#[test]
fn four_beacons_are_entered_and_proven_in_one_sitting() {
    let sitting = Sitting::begin();
    let terminal = &sitting.terminal;
    for (who, number) in CREW {
        let mmsi = 972_000_010 + number;
        sitting.test(mmsi);
        ask(terminal, mmsi);
        terminal.press(&format!("{who}\rjacket {number}\r0{number}/2099\r"));
        terminal.wait_for("the lines", |screen| {
            let text = screen.contents();
            text.contains("To be added to ") && text.contains(&format!("mmsi = {mmsi}"))
        });
        assert!(!sitting.text().contains(&mmsi.to_string()), "written before it was asked");
        terminal.press("y");
        terminal.wait_for_text(&format!("Entered in the muster: {mmsi}, {who}, jacket {number}"));
        // The watch knows it at once: the test on the screen is theirs.
        terminal.wait_for("the name", |screen| {
            let text = screen.contents();
            text.contains(&format!("{who} {mmsi}")) && !text.contains("[e] enter it")
        });
        let (_, by) = sitting.until_written(&format!("Entered in the muster: {mmsi}, {who}"));
        assert_eq!(by.as_deref(), Some("Skipper"));
    }
    // What was there is there, comment by comment.
    let text = sitting.text();
    assert!(text.starts_with(&sitting.begun), "{text}");
    let config = Config::parse(&text, &sitting.path()).unwrap();
    let of = |it: &overside::config::Beacon| (it.mmsi.value(), it.holder.clone().unwrap());
    let expected = CREW.map(|(who, number)| (972_000_010 + number, who.to_owned()));
    assert_eq!(config.beacons.iter().map(of).collect::<Vec<_>>(), expected);
    terminal.press("qy");
    assert!(terminal.exit_status().success());
    // The tests that were heard meanwhile are judged from the recording.
    let folder = sitting.state.path().join(".local/share/overside/recordings");
    let recordings = fs::read_dir(folder).unwrap().map(|it| it.unwrap().path());
    let recordings: Vec<String> = recordings.map(|it| it.display().to_string()).collect();
    let captures = recordings.iter().flat_map(|it| ["--capture", it]);
    let arguments: Vec<&str> = ["prove", "--record"].into_iter().chain(captures).collect();
    let (code, said) = sitting.run(&arguments);
    assert_eq!(code, 0, "{said}");
    let (code, said) = sitting.run(&["muster"]);
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("4 of 4 ready"), "{said}");
    assert_eq!(said.matches("  8 of 8 heard, A 4, B 4, at ").count(), 4, "{said}");
}

#[test]
fn a_second_screen_enters_a_beacon_under_its_own_name() {
    let sitting = Sitting::begin();
    let mut command = Sitting::command(sitting.state.path());
    command.args(["attach"]);
    let other = Terminal::start(command);
    other.wait_for_text("own 57°");
    sitting.test(972_000_011);
    ask(&other, 972_000_011);
    other.press("Skipper\r\r\r");
    other.wait_for_text("To be added to ");
    // The other screen is asked nothing.
    assert!(!sitting.terminal.text().contains("To be added to "));
    other.press("y");
    for terminal in [&other, &sitting.terminal] {
        terminal.wait_for_text("Entered in the muster: 972000011, Skipper");
    }
    let (_, by) = sitting.until_written("Entered in the muster: 972000011");
    assert!(by.as_deref().is_some_and(|who| who.contains("@pts/")), "{by:?}");
}

#[test]
fn what_the_file_refuses_loses_nothing_of_what_was_typed() {
    let sitting = Sitting::begin();
    let terminal = &sitting.terminal;
    sitting.test(972_000_011);
    ask(terminal, 972_000_011);
    terminal.press("Skipper\rjacket 1\r05/29\r");
    terminal.wait_for_text("not understood: write 2029-05");
    terminal.press(&"\x7f".repeat(5));
    terminal.press("05/2099\r");
    terminal.wait_for_text("To be added to ");
    // Somebody else writes the file meanwhile.
    let theirs = format!("{}\n# by another hand\n", sitting.begun);
    fs::write(sitting.path(), &theirs).unwrap();
    terminal.press("y");
    terminal.wait_for_text("changed meanwhile");
    terminal.wait_for_text("> Skipper_");
    assert_eq!(sitting.text(), theirs);
    // It is read-only; nor can it be read at all.
    fs::set_permissions(sitting.path(), Permissions::from_mode(0o444)).unwrap();
    terminal.press("\r\r\r");
    terminal.wait_for_text("To be added to ");
    terminal.press("y");
    terminal.wait_for_text("read-only");
    fs::set_permissions(sitting.path(), Permissions::from_mode(0o644)).unwrap();
    fs::write(sitting.path(), "[vessel]\nnme = 1\n").unwrap();
    terminal.press("\r\r\r");
    terminal.wait_for_text("there is no key `nme`");
    fs::write(sitting.path(), &theirs).unwrap();
    terminal.press("\r\r\r");
    terminal.wait_for_text("battery to the end of May 2099");
    terminal.press("y");
    terminal.wait_for_text("Entered in the muster: 972000011, Skipper, jacket 1");
    assert!(sitting.text().starts_with(&theirs), "{}", sitting.text());
}

/// Whoever had a test judged before its beacon was entered in the muster had "not in the muster"
/// written down of it, and the key judged it no more.
#[test]
fn a_test_judged_before_its_beacon_is_entered_is_judged_again_as_theirs() {
    let sitting = Sitting::begin();
    let terminal = &sitting.terminal;
    let enter = |mmsi: u32, who: &str| {
        ask(terminal, mmsi);
        terminal.press(&format!("{who}\r\r05/2099\r"));
        terminal.wait_for_text("To be added to ");
        terminal.press("y");
        terminal.wait_for_text(&format!("Entered in the muster: {mmsi}, {who}"));
        terminal.wait_for_text(&format!("{who} {mmsi}"));
    };
    sitting.test(972_000_011);
    enter(972_000_011, "Skipper");
    sitting.test(972_000_012);
    terminal.wait_for_text("MOB 972000012, heard");
    terminal.press("v");
    terminal.wait_for_text("written down as entry");
    enter(972_000_012, "Mate");
    terminal.wait_for("no verdict of before", |screen| {
        !screen.contents().contains("written down as entry")
    });
    terminal.press("v");
    terminal.wait_for_text("PROVEN");
    terminal.wait_for_text("written down as entry");
    let (code, said) = sitting.run(&["muster"]);
    assert_eq!(code, 1, "Skipper's is not judged yet: {said}");
    assert!(said.contains("1 of 2 ready"), "{said}");
}

/// The line that confirms it was cut before the date, which is what it is checked for.
#[test]
fn what_was_entered_is_said_to_the_last_word_at_every_size() {
    let sitting = Sitting::begin();
    let terminal = &sitting.terminal;
    sitting.test(972_000_011);
    ask(terminal, 972_000_011);
    terminal.press("Skipper of the yacht Example\rjacket 1, forward locker\r05/2099\r");
    terminal.wait_for_text("To be added to ");
    terminal.press("y");
    for (columns, rows) in [(80, 24), (60, 20), (120, 40)] {
        terminal.resize(columns, rows);
        terminal.wait_for(&format!("the date at {columns} columns"), |screen| {
            let words = screen.contents().split_whitespace().collect::<Vec<_>>().join(" ");
            let part = "Skipper of the yacht Example, jacket 1, forward locker, battery to the end of May 2099";
            words.contains(part) && words.contains("[v]")
        });
    }
}
