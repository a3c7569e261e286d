//! A round of tests on a terminal or in plain lines: what the session asks is written, what a person
//! types is handed to it.

use std::collections::HashSet;
use std::io::{self, Write};
use std::time::Duration;

use tokio::io::{AsyncBufReadExt as _, BufReader, Lines, Stdin};

use super::{Book, words};
use crate::cli::Error;
use crate::edge::StandardError;
use crate::frontend::{Context, Frontend, Request};
use crate::proof::{PositionKind, Prompt, SelfTest, Session, Verdict};
use crate::text::{json_line, printable};
use crate::time::Stamp;
use crate::watch::{
    Event, EventBody, InputState, InputView, Priority, Signal, State, Statement, Transmission,
    Watch,
};

/// How often something is looked at although nothing comes in.
const LOOK: Duration = Duration::from_millis(500);

/// What is said before the first test, after the manuals of two makers of AIS-SARTs; the maker's own
/// instructions come first.
const BEFORE: &str = "\
Before a test
  - the maker's instructions come first: how to test, how often; each test
    costs battery
  - test mode only, never ACTIVE; one short burst, then it switches itself off
  - in the open, clear sky: some wait up to 15 minutes for a fix
  - other ships nearby will see it, as a test; local rules hold; tell the
    coastguard before anything but a short test
";

/// The proof as a front of the live watch.
pub(super) struct Dialogue {
    session: Session,
    /// Where each verdict is written down as soon as it is known.
    book: Book,
    minutes: u32,
    out: Box<dyn Write + Send>,
    json: bool,
    /// The inputs that were told to be lost.
    lost: HashSet<String>,
    /// What is to be said of the inputs that give bytes and no sentences.
    garbled: Vec<String>,
    /// The keyboard of a person who can answer; then there is a line that can be drawn anew, too.
    keys: Option<Lines<BufReader<Stdin>>>,
}

impl Dialogue {
    /// A dialogue with whoever is at the keyboard, if anybody is asked; a test lasts so many minutes
    /// at the longest.
    pub(super) fn new(
        session: Session,
        book: Book,
        minutes: u32,
        out: Box<dyn Write + Send>,
        asks: bool,
        json: bool,
    ) -> Self {
        let keys = asks.then(|| BufReader::new(tokio::io::stdin()).lines());
        Self { session, book, minutes, out, json, lost: HashSet::new(), garbled: Vec::new(), keys }
    }

    /// What came of it, and where it is written down.
    pub(super) fn end(self) -> Result<(Vec<SelfTest>, Book), Error> {
        let nothing = |_| Error::nothing_received(&self.garbled);
        let tests = self.session.end().map_err(nothing)?;
        Ok((tests, self.book))
    }

    fn say(&mut self, text: &str) -> io::Result<()> {
        if self.json {
            return Ok(());
        }
        if self.keys.is_some() {
            // What was drawn on this line goes (ECMA-48, erase in line).
            self.out.write_all(b"\r\x1b[K")?;
        }
        self.out.write_all(text.as_bytes())?;
        self.out.flush()
    }

    fn prompt(&mut self, prompt: Prompt) -> io::Result<()> {
        match prompt {
            Prompt::Begin => self.say(BEFORE),
            Prompt::Ready(_) if self.keys.is_none() => Ok(()),
            Prompt::Ready(subject) => {
                let name = subject.name();
                let name = printable(&name);
                self.say(&format!("\n{name}: be ready to test it. Enter begins, q ends.\n"))
            }
            Prompt::Test(subject) => {
                let (name, minutes) = (subject.name(), self.minutes);
                let name = printable(&name);
                self.say(&format!("{name}: test it NOW. Listening for up to {minutes} min.\n"))
            }
            Prompt::Received { transmission, other } => self.say(&line(&transmission, other)),
            Prompt::Progress { so_far, left } => self.say(&progress(&so_far, left)),
            Prompt::Judged { test, .. } if self.json => {
                json_line(&mut self.out, &test.verdict)?;
                self.out.flush()
            }
            Prompt::Judged { test, asked, others } => {
                self.say(&words(&test.verdict))?;
                if let Some(asked) = asked {
                    self.say(&format!("  (you asked for {})\n", printable(&asked.name())))?;
                }
                for mmsi in others {
                    self.say(&format!("  also heard (not tested now): beacon {mmsi}\n"))?;
                }
                Ok(())
            }
            Prompt::AskRadio => {
                self.say("Did the radio itself ring with a test call? y, or Enter for no\n")
            }
        }
    }
}

/// How far a test has come, on a line that is drawn anew.
fn progress(so_far: &Verdict, left: Duration) -> String {
    let missing = match (so_far.text_messages, so_far.position) {
        (0, PositionKind::Valid) => "; no text yet",
        (0, _) => "; no text, no fix yet",
        (_, PositionKind::Valid) => "",
        _ => "; no fix yet",
    };
    let Verdict { messages_heard, messages_expected, channel_a, channel_b, .. } = so_far;
    let (minutes, seconds) = (left.as_secs() / 60, left.as_secs() % 60);
    format!(
        "  {messages_heard} of {messages_expected} heard, A {channel_a} B {channel_b}{missing}; \
         {minutes} min {seconds:02} s left; Enter gives up"
    )
}

/// A message as it came, in a line.
fn line(transmission: &Transmission, other: bool) -> String {
    let clock = transmission.at.utc.clock();
    match &transmission.signal {
        Signal::Beacon { mmsi, channel, statement } => {
            let channel = channel.unwrap_or('?');
            let other = if other { "  (another beacon)" } else { "" };
            let statement = match statement {
                Statement::Report { nav_status, position, .. } => {
                    let position = position.map_or("no position".to_owned(), |it| it.to_string());
                    format!("status {nav_status}, {position}")
                }
                Statement::Text { text, .. } => format!("text {text:?}"),
                Statement::Other(kind) => format!("message {kind}"),
            };
            format!("  {clock}  {channel}  {mmsi}  {}{other}\n", printable(&statement))
        }
        Signal::Call(call) => {
            let by = call.caller_mmsi.map_or("unknown".to_owned(), |mmsi| mmsi.to_string());
            format!("  {clock}  DSC  {by}  {:?}\n", call.meaning)
        }
    }
}

impl Frontend for Dialogue {
    fn tell(&mut self, event: &Event) -> io::Result<()> {
        match &event.body {
            EventBody::InputState { input, state, text } => {
                let was_lost = self.lost.remove(input);
                match state {
                    InputState::Live => {
                        self.session.input_is_live();
                        // From the first it goes without saying.
                        if !was_lost {
                            return Ok(());
                        }
                    }
                    InputState::Lost => drop(self.lost.insert(input.clone())),
                    InputState::Silent | InputState::Noisy => {}
                }
                let line = format!("  input {}: {}\n", printable(input), printable(text));
                self.say(&line)?;
            }
            EventBody::Alert(alert)
                if alert.priority >= Priority::Alarm
                    && alert.state == State::ActiveUnacknowledged
                    && alert.cause.is_about_people() =>
            {
                let line = format!("\n*** {} ***\n", printable(&alert.text));
                self.say(&line)?;
            }
            _ => {}
        }
        Ok(())
    }

    fn show(&mut self, watch: &Watch, now: Stamp, _: Context<'_>) -> io::Result<()> {
        let inputs = watch.inputs(now.at);
        self.session.look(&inputs, now);
        self.garbled = inputs.iter().filter_map(InputView::garble).collect();
        for prompt in self.session.proceed(watch.received(), now) {
            self.prompt(prompt)?;
        }
        self.book.enter(self.session.settled());
        Ok(())
    }

    fn next_frame(&self) -> Option<Duration> {
        Some(LOOK)
    }

    async fn request(&mut self) -> Request {
        if self.session.is_done() {
            return Request::Quit;
        }
        let Some(keys) = &mut self.keys else { return std::future::pending().await };
        match keys.next_line().await {
            Ok(Some(line)) if line.trim().eq_ignore_ascii_case("q") => Request::Quit,
            Ok(Some(line)) => {
                self.session.answer(line);
                Request::Present
            }
            // The keyboard is gone: it goes on by itself.
            Ok(None) | Err(_) => {
                self.keys = None;
                self.session.nobody_answers();
                Request::Redraw
            }
        }
    }

    fn wants_reception(&self) -> bool {
        true
    }

    fn ring(&mut self) {
        let _ = StandardError::get().write_all(b"\x07");
    }
}
