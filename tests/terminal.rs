//! The program on a real terminal: what a person sees and presses, and that the terminal is whole
//! afterwards, however it ended.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/pty.rs"]
mod pty;
mod support;

use std::net::UdpSocket;
use std::path::Path;
use std::time::Duration;

use portable_pty::CommandBuilder;
use pty::{Terminal, overside};

/// A position report of an active beacon, without a position.
fn active(mmsi: u32) -> String {
    support::vdm(&support::position(mmsi, 14, None, 60), 'A')
}

/// A watch of a UDP port, on a terminal of 80 columns and 24 rows.
struct Watching {
    terminal: Terminal,
    port: u16,
}

impl Watching {
    fn start(environment: &[(&str, &str)], state: &Path) -> Self {
        let port = UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let terminal = Terminal::start(Self::command(environment, state, port));
        terminal.wait_for("the quiet screen", |screen| {
            let text = screen.contents();
            screen.alternate_screen() && text.contains("Nothing heard") && text.contains("[q] end")
        });
        Self { terminal, port }
    }

    fn command(environment: &[(&str, &str)], state: &Path, port: u16) -> CommandBuilder {
        let mut command = overside(environment, state);
        command.args(["watch", "--input", &format!("udp://127.0.0.1:{port}")]);
        command
    }

    /// Sends a sentence until it shows: the port opens some time after the screen.
    fn send_until(&self, line: &str, shows: impl Fn(&vt100::Screen) -> bool) {
        let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
        let shown = (0..300).any(|_| {
            let _ = sender.send_to(format!("{line}\r\n").as_bytes(), ("127.0.0.1", self.port));
            self.terminal.waited(Duration::from_millis(100), &shows)
        });
        assert!(shown, "not shown within the patience:\n{}", self.terminal.text());
    }

    fn alarm(&self) {
        self.send_until(&active(972_000_017), |screen| {
            let top = headline(screen);
            top.contains("PERSON 972000017 OVERBOARD") && top.contains("UNACKNOWLEDGED")
        });
    }
}

fn headline(screen: &vt100::Screen) -> String {
    screen.rows(0, screen.size().1.get()).next().unwrap_or_default()
}

/// The time in the headline.
fn clock(screen: &vt100::Screen) -> String {
    let top = headline(screen);
    top.split_whitespace().rev().find(|word| word.contains(':')).unwrap_or_default().to_owned()
}

/// Whether a sequence of the output sets a colour (ECMA-48 8.3.117; 38 and 48 are of ISO 8613-6).
fn sets_colours(bytes: &[u8]) -> bool {
    let text = String::from_utf8_lossy(bytes);
    text.split("\x1b[").skip(1).any(|rest| {
        let end = rest.find(|c: char| !c.is_ascii_digit() && c != ';' && c != ':');
        let Some((parameters, 'm')) =
            end.and_then(|end| Some((&rest[..end], rest[end..].chars().next()?)))
        else {
            return false;
        };
        parameters
            .split([';', ':'])
            .filter_map(|it| it.parse::<u32>().ok())
            .any(|it| matches!(it, 30..=38 | 40..=48 | 90..=97 | 100..=107))
    })
}

#[test]
fn an_alarm_is_shown_acknowledged_and_not_left_by_accident() {
    let state = tempfile::tempdir().unwrap();
    let watching = Watching::start(&[], state.path());
    let terminal = &watching.terminal;
    assert!(terminal.is_raw());
    watching.alarm();
    terminal.wait_for_bell();
    let gone = |screen: &vt100::Screen| !screen.contents().contains("type: end");
    // It is asked for a word, whatever is pressed and how often.
    for key in ["q", "\x03"] {
        terminal.press(key);
        terminal.wait_for_text("PERSON 972000017 is overboard. ");
        terminal.press("qq\r");
        terminal.wait_for_text("the word is end");
        terminal.press("\x1b");
        terminal.wait_for("the question gone", gone);
    }
    terminal.press("a");
    terminal.wait_for("acknowledged, and still listed", |screen| {
        let text = screen.contents();
        !text.contains("UNACKNOWLEDGED")
            && headline(screen).contains("OVERBOARD")
            && text.contains("EMERGENCY")
            && text.contains("ackn.")
    });
    // Another one, and the program is left all the same, on purpose.
    watching.send_until(&active(972_000_016), |screen| headline(screen).contains("UNACKNOWLEDGED"));
    terminal.press("q");
    terminal.wait_for_text("To end the watch type: end");
    terminal.press("end\r");
    assert!(terminal.exit_status().success());
    terminal.assert_whole();
}

#[test]
fn a_quiet_watch_is_ended_by_a_yes_and_by_no_double_press() {
    let state = tempfile::tempdir().unwrap();
    let watching = Watching::start(&[], state.path());
    let gone = |screen: &vt100::Screen| !screen.contents().contains("End the watch?");
    for key in ["q", "\x03"] {
        watching.terminal.press(key);
        watching.terminal.wait_for_text("End the watch?");
        watching.terminal.press(key);
        watching.terminal.wait_for("the question gone", gone);
    }
    watching.terminal.press("qy");
    assert!(watching.terminal.exit_status().success());
    watching.terminal.assert_whole();
}

/// What is said of a strange datagram waits until no screen is spoilt by it.
#[test]
fn nothing_that_is_said_on_standard_error_lands_on_the_screen() {
    let state = tempfile::tempdir().unwrap();
    let watching = Watching::start(&[], state.path());
    let terminal = &watching.terminal;
    watching.send_until(&format!("!AIVDM{}\r\n{}", "x".repeat(2_000), active(972_000_017)), |it| {
        headline(it).contains("UNACKNOWLEDGED")
    });
    let said = |text: &str| text.contains("a datagram of");
    assert!(!said(&String::from_utf8_lossy(&terminal.bytes())), "{}", terminal.text());
    terminal.press("q");
    terminal.wait_for_text("To end the watch type: end");
    terminal.press("end\r");
    assert!(terminal.exit_status().success());
    terminal.assert_whole();
    terminal.wait_for("what was said", |screen| said(&screen.contents()));
}

#[test]
fn another_size_is_drawn_at_once() {
    let state = tempfile::tempdir().unwrap();
    let watching = Watching::start(&[], state.path());
    for (columns, rows) in [(60, 20), (120, 40), (30, 6), (80, 24)] {
        watching.terminal.resize(columns, rows);
        watching.terminal.wait_for("the time at the right edge", |screen| {
            let bottom = screen.rows(0, columns).last().unwrap_or_default();
            columns < 60
                || clock(screen).len() >= 8
                    && headline(screen).trim_end().len() >= usize::from(columns) - 2
                    && bottom.contains("[h] history")
        });
    }
    watching.alarm();
}

#[test]
fn the_colours_are_remembered() {
    let state = tempfile::tempdir().unwrap();
    let ground = |screen: &vt100::Screen| screen.cell(12, 1).unwrap().bgcolor();
    let first = Watching::start(&[], state.path());
    let before = first.terminal.look(ground);
    first.terminal.press("n");
    first.terminal.wait_for("other colours", |screen| ground(screen) != before);
    let chosen = first.terminal.look(ground);
    first.terminal.press("qy");
    assert!(first.terminal.exit_status().success());
    let second = Watching::start(&[], state.path());
    assert_eq!(second.terminal.look(ground), chosen);
}

#[test]
fn no_colour_means_none() {
    let state = tempfile::tempdir().unwrap();
    let watching = Watching::start(&[("NO_COLOR", "1")], state.path());
    // The key cannot bring them back by accident; the help shows that it was taken.
    watching.terminal.press("n");
    watching.terminal.press("?");
    watching.terminal.wait_for_text("acknowledge the alert");
    watching.terminal.press("?");
    watching.alarm();
    watching.terminal.wait_for("reversed video in place of red", |screen| {
        screen.cell(0, 2).is_some_and(vt100::Cell::inverse)
    });
    assert!(!sets_colours(&watching.terminal.bytes()));
    assert!(!state.path().join("overside").exists());
    drop(watching);
    // The same check finds colours where there are some.
    let other = tempfile::tempdir().unwrap();
    let coloured = Watching::start(&[], other.path());
    assert!(sets_colours(&coloured.terminal.bytes()));
}

/// The plug is pulled in the middle of an emergency: the next watch shows it before anything is
/// heard, unacknowledged, and has its history.
#[test]
fn an_emergency_is_back_on_the_screen_after_a_restart() {
    let state = tempfile::tempdir().unwrap();
    let watching = Watching::start(&[], state.path());
    watching.alarm();
    watching.terminal.press("a");
    watching.terminal.wait_for("the state", |screen| headline(screen).contains(" acknowledged"));
    // Not before it is written down: what was not may be lost.
    let folder = state.path().join(".local/share/overside");
    let written = (0..1000).any(|_| {
        std::thread::sleep(Duration::from_millis(10));
        let reader = overside::logbook::Reader::open(&folder).unwrap();
        let left = reader.map(|reader| reader.open_incidents().unwrap()).unwrap_or_default();
        left.open
            .iter()
            .any(|it| it.draft.alert().unwrap().state == overside::watch::State::ActiveAcknowledged)
    });
    assert!(written, "the acknowledgement is not in the logbook");
    watching.terminal.signal("-KILL");
    watching.terminal.exit_status();
    let again = Terminal::start(Watching::command(&[], state.path(), watching.port));
    again.wait_for("the emergency of before", |screen| {
        let top = headline(screen);
        top.contains("PERSON 972000017 OVERBOARD") && top.contains("UNACKNOWLEDGED")
    });
    again.press("h");
    again.wait_for_text("History");
    again.wait_for_text("EMERGENCY");
}

#[test]
fn the_linux_console_gets_ascii_alone() {
    let state = tempfile::tempdir().unwrap();
    let watching = Watching::start(&[("TERM", "linux")], state.path());
    watching.alarm();
    watching.terminal.press("?");
    watching.terminal.wait_for_text("acknowledge the alert");
    watching.terminal.press("?h");
    watching.terminal.wait_for_text("History");
    let odd: Vec<u8> = watching.terminal.bytes().into_iter().filter(|b| !b.is_ascii()).collect();
    assert!(odd.is_empty(), "{}", String::from_utf8_lossy(&odd));
}

#[test]
fn a_request_to_end_leaves_the_terminal_whole() {
    let state = tempfile::tempdir().unwrap();
    for signal in ["-TERM", "-INT"] {
        let watching = Watching::start(&[], state.path());
        watching.terminal.signal(signal);
        assert!(watching.terminal.exit_status().success(), "{signal}");
        watching.terminal.assert_whole();
    }
}

/// Somebody is in the water, and the window is closed: the watch is kept on, and the terminal, if
/// there still is one, given back.
#[test]
fn a_hang_up_ends_no_watch_that_keeps_a_logbook() {
    for is_closed in [false, true] {
        let state = tempfile::tempdir().unwrap();
        let watching = Watching::start(&[], state.path());
        watching.alarm();
        let terminal = &watching.terminal;
        if is_closed {
            terminal.hang_up();
        } else {
            terminal.signal("-HUP");
            terminal.wait_for_text("the watch goes on without it");
            terminal.assert_whole();
        }
        std::thread::sleep(Duration::from_millis(300));
        terminal.signal("-TERM");
        assert!(terminal.ended().success());
    }
}

/// The panic is one that only a debug build can be asked for.
#[cfg(debug_assertions)]
#[test]
fn a_panic_in_drawing_leaves_the_watch_without_a_screen() {
    let state = tempfile::tempdir().unwrap();
    let watching = Watching::start(&[("OVERSIDE_TEST_PANIC", "1")], state.path());
    let terminal = &watching.terminal;
    watching.send_until(&active(972_000_017), |screen| !screen.alternate_screen());
    // The message of the panic, what it means, and the alert that was open.
    terminal.wait_for("the alert in a plain line", |screen| {
        let text = screen.contents();
        text.contains("asked for by OVERSIDE_TEST_PANIC")
            && text.contains("the watch goes on without a screen")
            && text.lines().any(|line| line.contains("EMERGENCY") && line.contains("972000017"))
    });
    terminal.assert_whole();
    // It is still a watch.
    watching.send_until(&active(972_000_016), |screen| {
        let text = screen.contents();
        text.lines().any(|line| line.contains("EMERGENCY") && line.contains("972000016"))
    });
    // The keys are still read: both are acknowledged, one after the other.
    for acknowledged in 1..=2 {
        terminal.press("a\r");
        terminal.wait_for("an acknowledgement", |screen| {
            screen.contents().matches(" acknowledged: ").count() == acknowledged
        });
    }
    terminal.press("\x03");
    assert!(terminal.exit_status().success());
}

/// A replay of one of the drills in the project.
fn replay(name: &str, speed: &str, state: &Path) -> portable_pty::CommandBuilder {
    let captures = Path::new(env!("CARGO_MANIFEST_DIR")).join("captures");
    let [recording, config] = [name, "demo.toml"].map(|it| captures.join(it).display().to_string());
    let mut command = overside(&[], state);
    command.args(["replay", &recording, "--config", &config, "--speed", speed]);
    command
}

#[test]
fn a_replay_is_held_stepped_and_never_taken_for_real() {
    let state = tempfile::tempdir().unwrap();
    let command = replay("overboard_drill.nmea", "60", state.path());
    let terminal = Terminal::start(command);
    terminal.wait_for_text("REPLAY ×60");
    terminal.expect_from_now_on("REPLAY");
    terminal.press(" ");
    terminal.wait_for_text("REPLAY held");
    let held = terminal.look(clock);
    terminal.press("\x1b[C");
    terminal.wait_for("the first alarm", |screen| headline(screen).contains("MATE OVERBOARD"));
    let first = terminal.look(clock);
    assert!(first > held && terminal.text().contains("REPLAY held"), "{held} {first}");
    terminal.press("\x1b[C");
    terminal.wait_for("the second alarm", |screen| clock(screen) > first);
    terminal.press("\x1b[D");
    terminal.wait_for("the first alarm again", |screen| clock(screen) == first);
    // A key that has nothing to do with it does not move the time.
    terminal.press("n");
    terminal.press(" ");
    terminal.wait_for_text("REPLAY ×60");
    terminal.wait_for("time that runs", |screen| clock(screen) > first);
    for (key, speed) in [("-", "×10"), ("-", "×1 "), ("-", "×1 "), ("+", "×10"), ("+", "×60")]
    {
        terminal.press(key);
        terminal.wait_for_text(&format!("REPLAY {speed}"));
    }
    let before = terminal.look(clock);
    let stepped = (0..200).any(|_| {
        terminal.press("\x1b[C");
        terminal
            .waited(Duration::from_millis(200), |screen| screen.contents().contains("REPLAY ended"))
    });
    assert!(stepped, "{}", terminal.text());
    assert!(terminal.look(clock) > before);
    // It stays, and one can look back.
    terminal.press("\x1b[D");
    terminal.wait_for_text("REPLAY held");
    terminal.press("q");
    terminal.wait_for_text("End the replay?");
    terminal.press("y");
    assert!(terminal.exit_status().success());
    terminal.assert_whole();
    assert!(terminal.expectation_held());
}

#[test]
fn a_replay_without_waiting_ends_on_request() {
    let state = tempfile::tempdir().unwrap();
    let command = replay("night_watch.nmea", "max", state.path());
    let terminal = Terminal::start(command);
    terminal.wait_for_text("REPLAY ended");
    terminal.signal("-TERM");
    assert!(terminal.exit_status().success());
    terminal.assert_whole();
}

/// A note that is typed on the screen stands in the logbook.
#[test]
fn a_note_is_written_into_the_logbook() {
    let state = tempfile::tempdir().unwrap();
    let watching = Watching::start(&[], state.path());
    watching.terminal.wait_for_text("entry ");
    watching.terminal.press("j");
    watching.terminal.wait_for_text("Note for the logbook");
    watching.terminal.press("Qa reef taken in\r");
    let folder = state.path().join(".local/share/overside");
    let written = (0..1000).any(|_| {
        std::thread::sleep(Duration::from_millis(10));
        let Some(reader) = overside::logbook::Reader::open(&folder).unwrap() else { return false };
        let mut found = false;
        let each = |entry: overside::logbook::Entry| {
            found |= entry.draft.text == "Qa reef taken in"
                && entry.draft.kind() == Some(overside::logbook::Kind::Operator);
            Ok(())
        };
        reader
            .entries::<overside::logbook::Error>(&overside::logbook::Filter::default(), each)
            .unwrap();
        found
    });
    assert!(written, "the note is not in the logbook");
}
