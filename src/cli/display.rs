//! The front that a person looks at: the screen, the bell, and events in plain lines where the
//! screen fails.

use std::ffi::OsString;
use std::io::{self, Write as _};
use std::time::Duration;

use anstream::ColorChoice;

use super::event_printer::EventPrinter;
use crate::advice::{Vessel, flashes, unacknowledged};
use crate::edge::{Clock, Held, NonBlockingWriter, StandardError, remembered};
use crate::frontend::{Context, Frontend, HelmSign, Request};
use crate::mmsi::Mmsi;
use crate::screen::{Action, Depth, FRAME, Glyphs, Keys, Pace, Palette, Screen, Terminal, Theme};
use crate::thread;
use crate::time::Stamp;
use crate::watch::{Command, Event, EventBody, Picture, Watch};

/// How long a terminal may take for what it was given, when it is to be given back.
const LEAVE: Duration = Duration::from_secs(1);

/// The name under which the colours are remembered.
const COLOURS: &str = "colours";

/// Set in the environment of a debug build, it makes the first frame with an open alert panic: so
/// that a test can see what is left then.
const TEST_PANIC: &str = "OVERSIDE_TEST_PANIC";

/// The screen, or what is left of it.
pub(super) struct Display {
    terminal: Option<Terminal>,
    keys: Option<Keys>,
    screen: Screen,
    printer: EventPrinter<Box<dyn io::Write + Send>>,
    writer: NonBlockingWriter,
    /// What is said beside it waits for the terminal to be given back.
    held: Option<Held>,
    clock: Clock,
    picture: Option<Picture>,
    pace: Pace,
    /// Colours were asked not to be used.
    without_colours: bool,
    test_panic: bool,
}

impl Display {
    /// Takes the terminal over.
    ///
    /// # Errors
    /// Standard output is no terminal, or does not obey.
    pub(super) fn enter(vessel: Vessel) -> io::Result<Self> {
        let env = |name: &str| std::env::var_os(name);
        let without_colours = colours_unwanted();
        let theme = theme(without_colours, env);
        if !without_colours {
            // Else NO_COLOR would be obeyed once more below, though colours were asked for.
            crossterm::style::force_color_output(true);
        }
        let writer = NonBlockingWriter::stdout()?;
        let mut screen = Screen::new(theme);
        screen.vessel = vessel;
        let held = StandardError::hold();
        let (terminal, keys) = Terminal::enter(writer.clone(), theme.depth)?;
        Ok(Self {
            terminal: Some(terminal),
            keys: Some(keys),
            screen,
            printer: EventPrinter::new(super::out(&writer), false),
            writer,
            held,
            clock: Clock::start(),
            picture: None,
            pace: Pace::default(),
            without_colours,
            test_panic: cfg!(debug_assertions) && std::env::var_os(TEST_PANIC).is_some(),
        })
    }

    /// The terminal is given back, the alert state told in plain lines; the watch goes on, and
    /// still takes the one key that it needs.
    fn fall_back(&mut self, watch: &Watch, now: Stamp, why: &io::Error) -> io::Result<()> {
        self.leave();
        // Where nobody can be told any more, the printer below says so by its error.
        let _ = writeln!(
            StandardError::get(),
            "error: {why}; the watch goes on without a screen\n\
             What to do: it tells what happens in lines such as these; a and Enter acknowledges, Ctrl-C \
             ends it\n\
             alerts open: {}",
            watch.alerts().len()
        );
        for alert in watch.alerts() {
            let body = EventBody::Alert(alert.clone().into());
            self.printer.tell(&Event { at: now.utc, body })?;
        }
        self.printer.flush()
    }

    /// Gives the terminal back, once it has taken what it was given; not if it takes nothing.
    fn leave(&mut self) {
        let settled = self.writer.settle(LEAVE);
        if let Some(terminal) = self.terminal.as_mut().filter(|_| !settled) {
            terminal.abandon();
        }
        self.terminal = None;
        self.held = None;
    }
}

impl Drop for Display {
    fn drop(&mut self) {
        self.leave();
    }
}

/// Whether colours were asked not to be used, by the arguments or the environment.
pub(super) fn colours_unwanted() -> bool {
    without_colours(ColorChoice::global(), |name| std::env::var_os(name))
}

/// Whether colours were asked not to be used; `--color` outranks `NO_COLOR`.
fn without_colours(choice: ColorChoice, env: impl Fn(&str) -> Option<OsString>) -> bool {
    match choice {
        ColorChoice::Never => true,
        ColorChoice::Auto => env("NO_COLOR").is_some_and(|value| !value.is_empty()),
        ColorChoice::Always | ColorChoice::AlwaysAnsi => false,
    }
}

/// Keeps the name of the colours that were chosen.
pub(super) fn remember_colours(name: &str) {
    remembered::remember(COLOURS, name, |name| std::env::var_os(name));
}

/// The look that was chosen last, and what the terminal can show.
pub(super) fn theme(without_colours: bool, env: impl Fn(&str) -> Option<OsString>) -> Theme {
    let named = |name: &str| {
        env(name).map(|value| value.to_string_lossy().to_ascii_lowercase()).unwrap_or_default()
    };
    let term = named("TERM");
    // Terminals of one colour, as they are named.
    let plain = ["dumb", "vt52", "vt100", "vt102", "vt220"].contains(&term.as_str());
    let palette = if without_colours || plain {
        Palette::Mono
    } else {
        let chosen = remembered::recall(COLOURS, &env);
        chosen.and_then(|name| Palette::named(&name)).unwrap_or_default()
    };
    // The Linux console has no fonts for most of what lies beyond ASCII.
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .find_map(|name| env(name).filter(|value| !value.is_empty()));
    let utf8 = locale.is_none_or(|name| {
        let name = name.to_string_lossy().to_ascii_lowercase();
        name.contains("utf-8") || name.contains("utf8")
    });
    let console = term == "linux" || plain;
    let glyphs = if utf8 && !console { Glyphs::Unicode } else { Glyphs::Ascii };
    Theme { palette, glyphs, depth: Depth::told(&named("COLORTERM"), &term) }
}

impl Frontend for Display {
    fn tell(&mut self, event: &Event) -> io::Result<()> {
        self.pace.stale = true;
        self.screen.tell(event);
        if matches!(event.body, EventBody::AwakePrompt { .. }) {
            self.ring();
        }
        if self.terminal.is_none() {
            self.printer.tell(event)?;
        }
        Ok(())
    }

    fn let_go(&mut self) -> io::Result<()> {
        self.printer.flush()
    }

    fn show(&mut self, watch: &Watch, now: Stamp, context: Context<'_>) -> io::Result<()> {
        let real = self.clock.now().at;
        let Some(terminal) = &mut self.terminal else {
            // What a key acts on.
            if std::mem::take(&mut self.pace.stale) {
                self.picture = thread::caught(|| watch.picture(now)).ok();
            }
            return self.printer.flush();
        };
        // A terminal that takes nothing just now gets a later frame.
        if !self.pace.wait(real).is_zero() || !self.writer.is_idle() {
            return Ok(());
        }
        // A screen that stands still would be worse than none.
        let picture = match thread::caught(|| watch.picture(now)) {
            Ok(picture) => picture,
            Err(why) => return self.fall_back(watch, now, &io::Error::other(why)),
        };
        self.screen.lit = Pace::is_lit(flashes(&picture), real);
        let (parts, replay) = match context {
            Context::Live(parts) => (Some(parts), None),
            Context::Replay(replay) => (None, Some(replay)),
        };
        if self.screen.replay.as_ref() != replay {
            self.screen.replay = replay.cloned();
        }
        self.screen.set_parts(parts);
        self.screen.turn_to_new_alarm();
        self.screen.look(&picture);
        let panics = self.test_panic && !picture.alerts.is_empty();
        let drawn = terminal.draw(|frame| {
            assert!(!panics, "asked for by {TEST_PANIC}");
            self.screen.draw(frame, &picture);
        });
        self.pace = Pace::drawn(real, flashes(&picture));
        self.picture = Some(picture);
        drawn.or_else(|why| self.fall_back(watch, now, &why))
    }

    fn next_frame(&self) -> Option<Duration> {
        self.terminal.as_ref()?;
        let wait = self.pace.wait(self.clock.now().at);
        // While the terminal takes nothing, it is looked after ten times a second.
        Some(if self.writer.is_idle() { wait } else { wait.max(FRAME) })
    }

    async fn request(&mut self) -> Request {
        let typing = self.terminal.is_some() && self.screen.is_typing();
        let action = match &mut self.keys {
            Some(keys) => keys.action(typing).await,
            None => None,
        };
        let Some(action) = action else {
            // The keys are gone, and with them whoever could quit: the watch goes on.
            return std::future::pending().await;
        };
        if self.terminal.is_none() {
            let alert = self.picture.as_ref().and_then(unacknowledged);
            let alert = alert.filter(|_| action == Action::Acknowledge);
            let acknowledged = alert.map(|it| Request::Command(Command::Acknowledge(it.id)));
            return acknowledged.unwrap_or(Request::Present);
        }
        let before = self.screen.theme.palette;
        if action == Action::Colours && self.without_colours {
            // Who asked for none gets none by a slip of the finger either.
            return Request::Redraw;
        }
        self.pace.stale = true;
        let request = self.picture.as_ref().and_then(|picture| self.screen.act(action, picture));
        if self.screen.theme.palette != before {
            remember_colours(self.screen.theme.palette.name());
        }
        request.unwrap_or(match action {
            Action::Resized => Request::Redraw,
            _ => Request::Present,
        })
    }

    fn ring(&mut self) {
        match &mut self.terminal {
            // A terminal that is gone is found out by the next frame.
            Some(terminal) => drop(terminal.bell()),
            None => self.printer.ring(),
        }
    }

    fn recall(&mut self, event: &Event) {
        self.screen.recall(event);
        self.pace.stale = true;
    }

    fn enrolled(&mut self, beacon: Mmsi, fitted: bool) {
        self.screen.vessel.beacons.insert(beacon, fitted);
        self.pace.stale = true;
    }

    fn set_helm(&mut self, sign: &HelmSign) {
        self.screen.helm = Some(sign.clone());
        self.pace.stale = true;
    }

    fn forget(&mut self) {
        self.screen.history = Default::default();
        self.pace.stale = true;
    }

    fn hang_up(&mut self) {
        if let Some(keys) = self.keys.take() {
            keys.abandon();
        }
        self.held = None;
    }

    fn stays(&self) -> bool {
        self.terminal.is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_are_left_out_where_that_is_asked() {
        let env =
            |value: &'static str| move |name: &str| (name == "NO_COLOR").then(|| value.into());
        for (choice, value, without) in [
            (ColorChoice::Auto, "1", true),
            (ColorChoice::Auto, "", false),
            (ColorChoice::Always, "1", false),
            (ColorChoice::Never, "", true),
        ] {
            assert_eq!(without_colours(choice, env(value)), without, "{choice:?} {value}");
        }
        assert_eq!(theme(true, env("")).palette, Palette::Mono);
        // And where the terminal has none.
        for (term, palette) in
            [("dumb", Palette::Mono), ("vt100", Palette::Mono), ("linux", Palette::Dusk)]
        {
            let theme = theme(false, |name| (name == "TERM").then(|| term.into()));
            assert_eq!(theme.palette, palette, "{term}");
        }
    }

    #[test]
    fn ascii_is_for_the_console_and_for_other_encodings() {
        for (name, value, glyphs) in [
            ("TERM", "linux", Glyphs::Ascii),
            ("TERM", "vt100", Glyphs::Ascii),
            ("TERM", "tmux-256color", Glyphs::Unicode),
            ("LANG", "C", Glyphs::Ascii),
            ("LC_ALL", "en_GB.UTF-8", Glyphs::Unicode),
            ("LANG", "", Glyphs::Unicode),
        ] {
            let theme = theme(true, |asked| (asked == name).then(|| value.into()));
            assert_eq!(theme.glyphs, glyphs, "{name}={value}");
        }
    }
}
