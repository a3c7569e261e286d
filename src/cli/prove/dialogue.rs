//! The proof as it goes: before, while a beacon is tested, and the verdict; one beacon after the
//! other.

use std::collections::VecDeque;
use std::io::{self, Write};
use std::time::Duration;

use tokio::io::{AsyncBufReadExt as _, BufReader, Lines, Stdin};

use super::{Proof, heard_identities, proof, words};
use crate::app::Front;
use crate::cli::Error;
use crate::cli::story::printable;
use crate::config::Config;
use crate::mmsi::Mmsi;
use crate::screen::{Around, Request};
use crate::time::{Mono, Stamp};
use crate::watch::{
    Event, EventBody, InputState, Judgement, Place, Priority, State, Subject, Transmission, Watch,
    Witnessed, judge,
};

/// How long inputs may take to say anything before the receiver is called deaf. Our own.
const LISTENS: Duration = Duration::from_secs(15);

/// So long after a beacon's last message its burst is over: it lasts 14 s, and messages are 2 s apart
/// (M.1371-5 annex 9, section 5). A lost message or two must not end it.
const BURST_OVER: Duration = Duration::from_secs(12);

/// Where all eight were heard, nothing more is waited for; a moment for the DSC call beside them.
const ALL_HEARD: Duration = Duration::from_secs(2);

/// A self-test lasts 14 s (M.1371-5 annex 9, section 5): what is still heard so long after its first
/// message is judged as it is.
const LONGEST_TEST: Duration = Duration::from_secs(30);

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

enum Stage {
    /// Waiting until an input says anything.
    Listening,
    /// Waiting for a person to be ready for the next beacon.
    Ready,
    /// A beacon is being tested.
    Testing {
        since: Stamp,
        from: usize,
        told: usize,
    },
    /// A person is asked whether the radio itself rang, which this program cannot hear.
    Rang,
    Done,
}

/// The proof as a front of the live watch.
pub(super) struct Dialogue {
    waiting: VecDeque<Subject>,
    config: Config,
    longest: Duration,
    out: Box<dyn Write + Send>,
    /// There is a person who can answer, and a line that can be drawn anew.
    asks: bool,
    json: bool,
    keys: Option<Lines<BufReader<Stdin>>>,
    /// What was typed last, and not yet looked at.
    answered: Option<String>,
    stage: Stage,
    begun: Option<Mono>,
    proofs: Vec<Proof>,
    deaf: bool,
    live: bool,
}

impl Dialogue {
    pub(super) fn new(
        subjects: Vec<Subject>,
        config: Config,
        longest: Duration,
        out: Box<dyn Write + Send>,
        asks: bool,
        json: bool,
    ) -> Self {
        Self {
            waiting: subjects.into(),
            config,
            longest,
            out,
            asks,
            json,
            keys: asks.then(|| BufReader::new(tokio::io::stdin()).lines()),
            answered: None,
            stage: Stage::Listening,
            begun: None,
            proofs: Vec::new(),
            deaf: false,
            live: false,
        }
    }

    /// What came of it.
    pub(super) fn end(self) -> Result<Vec<Proof>, Error> {
        if self.deaf {
            return Err(Error::new(
                "the receiver is deaf: no input has said anything, so silence would prove nothing",
                "check power, cable and the input's address; overside watch shows each input",
            ));
        }
        Ok(self.proofs)
    }

    fn say(&mut self, text: &str) -> io::Result<()> {
        if self.json {
            return Ok(());
        }
        if self.asks {
            // What was drawn on this line goes (ECMA-48, erase in line).
            self.out.write_all(b"\r\x1b[K")?;
        }
        self.out.write_all(text.as_bytes())?;
        self.out.flush()
    }

    fn step(&mut self, watch: &Watch, now: Stamp) -> io::Result<()> {
        match self.stage {
            Stage::Listening => self.listen(now),
            Stage::Ready => {
                if !self.asks || self.answered.take().is_some() {
                    self.begin(watch, now)?;
                }
                Ok(())
            }
            Stage::Testing { since, from, told } => self.follow(watch, now, since, from, told),
            Stage::Rang => self.hear_of_radio(),
            Stage::Done => Ok(()),
        }
    }

    /// What a person says of the radio; nobody to ask is no answer.
    fn hear_of_radio(&mut self) -> io::Result<()> {
        if self.asks {
            let Some(answer) = self.answered.take() else { return Ok(()) };
            let rang = answer.trim_start().starts_with(['y', 'Y']);
            if let Some(proof) = self.proofs.last_mut() {
                proof.radio_rang = Some(rang);
            }
        }
        self.next()
    }

    /// Whether there are ears at all.
    fn listen(&mut self, now: Stamp) -> io::Result<()> {
        let begun = *self.begun.get_or_insert(now.at);
        if self.live {
            self.say(BEFORE)?;
            return self.next();
        }
        if now.at.since(begun) >= LISTENS {
            self.deaf = true;
            self.stage = Stage::Done;
        }
        Ok(())
    }

    fn next(&mut self) -> io::Result<()> {
        let Some(subject) = self.waiting.front() else {
            self.stage = Stage::Done;
            return Ok(());
        };
        self.stage = Stage::Ready;
        let name = name(subject);
        if self.asks {
            return self.say(&format!("\n{name}: be ready to test it. Enter begins, q ends.\n"));
        }
        Ok(())
    }

    fn begin(&mut self, watch: &Watch, now: Stamp) -> io::Result<()> {
        let from = watch.witnessed().len();
        self.stage = Stage::Testing { since: now, from, told: from };
        let minutes = self.longest.as_secs() / 60;
        let name = self.waiting.front().map(name).unwrap_or_default();
        self.say(&format!("{name}: test it NOW. Listening for up to {minutes} min.\n"))
    }

    fn follow(
        &mut self,
        watch: &Watch,
        now: Stamp,
        since: Stamp,
        from: usize,
        told: usize,
    ) -> io::Result<()> {
        let Some(subject) = self.waiting.front().cloned() else { return self.next() };
        let all = watch.witnessed();
        for it in &all[told.min(all.len())..] {
            let line = heard_line(it, subject.mmsi);
            self.say(&line)?;
        }
        let heard = &all[from.min(all.len())..];
        self.stage = Stage::Testing { since, from, told: all.len() };
        let of_subject = |it: &&Witnessed| matches!(it.what, Transmission::Beacon { mmsi, .. } if Some(mmsi) == subject.mmsi);
        let first = heard.iter().find(of_subject);
        let last = heard.iter().rev().find(of_subject);
        let enough =
            if heard.iter().filter(of_subject).count() >= 8 { ALL_HEARD } else { BURST_OVER };
        // One that goes on, and one that is ACTIVE most of all, is not waited for.
        let goes_on = first.is_some_and(|first| now.at.since(first.at.at) >= LONGEST_TEST);
        let over = goes_on || last.is_some_and(|last| now.at.since(last.at.at) >= enough);
        let gave_up = self.answered.take().is_some() && self.asks;
        if over || gave_up || now.at.since(since.at) >= self.longest {
            let window = (since.utc, now.utc);
            let proof = proof(&subject, &self.config, window, heard);
            self.tell(&proof, heard)?;
            let silent = proof.verdict.dsc_call == Some(false);
            let asks = self.asks && silent && proof.verdict.verdict != Judgement::ActiveHeard;
            self.proofs.push(proof);
            self.waiting.pop_front();
            if asks {
                self.stage = Stage::Rang;
                return self
                    .say("Did the radio itself ring with a test call? y, or Enter for no\n");
            }
            return self.next();
        }
        if self.asks {
            let verdict = judge(&subject, &[], (since.utc, now.utc), heard);
            let left = self.longest.saturating_sub(now.at.since(since.at)).as_secs();
            let missing = match (verdict.text_messages, verdict.position) {
                (0, Place::Valid) => "; no text yet",
                (0, _) => "; no text, no fix yet",
                (_, Place::Valid) => "",
                _ => "; no fix yet",
            };
            let line = format!(
                "  {} of 8 heard, A {} B {}{missing}; {} min {:02} s left; Enter gives up",
                verdict.messages_heard,
                verdict.channel_a,
                verdict.channel_b,
                left / 60,
                left % 60
            );
            self.say(&line)?;
        }
        Ok(())
    }

    fn tell(&mut self, proof: &Proof, heard: &[Witnessed]) -> io::Result<()> {
        if self.json {
            serde_json::to_writer(&mut self.out, &proof.verdict)?;
            self.out.write_all(b"\n")?;
            return self.out.flush();
        }
        self.say(&words(&proof.verdict))?;
        for mmsi in heard_identities(heard).filter(|mmsi| Some(*mmsi) != proof.verdict.mmsi) {
            self.say(&format!("  also heard, and not judged: beacon {mmsi}\n"))?;
        }
        Ok(())
    }
}

fn name(subject: &Subject) -> String {
    let mmsi = subject.mmsi.map(|mmsi| mmsi.to_string()).unwrap_or_default();
    match &subject.person {
        Some(person) => format!("{}'s beacon {mmsi}", printable(person)),
        None => format!("beacon {mmsi}"),
    }
}

/// A message as it came, in a line.
fn heard_line(it: &Witnessed, asked: Option<Mmsi>) -> String {
    use crate::watch::Said;
    let clock = it.at.utc.clock();
    match &it.what {
        Transmission::Beacon { mmsi, channel, said } => {
            let channel = channel.map_or('?', |channel| channel);
            let other = if Some(*mmsi) == asked { "" } else { "  (another beacon)" };
            let said = match said {
                Said::Report { nav_status, position, .. } => {
                    let place = position.map_or("no position".to_owned(), |it| it.to_string());
                    format!("status {nav_status}, {place}")
                }
                Said::Text { text, .. } => format!("text {text:?}"),
                Said::Other(kind) => format!("message {kind}"),
            };
            format!("  {clock}  {channel}  {mmsi}  {}{other}\n", printable(&said))
        }
        Transmission::Call(call) => {
            let by = call.caller_mmsi.map_or("unknown".to_owned(), |mmsi| mmsi.to_string());
            format!("  {clock}  DSC  {by}  {:?}\n", call.meaning)
        }
    }
}

impl Front for Dialogue {
    fn tell(&mut self, event: &Event) -> io::Result<()> {
        match &event.body {
            EventBody::InputState { state: InputState::Live, .. } => self.live = true,
            EventBody::InputState { input, text, .. } => {
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

    fn show(&mut self, watch: &Watch, now: Stamp, _: Around<'_>) -> io::Result<()> {
        self.step(watch, now)
    }

    fn next_frame(&self) -> Option<Duration> {
        Some(LOOK)
    }

    async fn request(&mut self) -> Request {
        if matches!(self.stage, Stage::Done) {
            return Request::Quit;
        }
        let Some(keys) = &mut self.keys else { return std::future::pending().await };
        match keys.next_line().await {
            Ok(Some(line)) if line.trim().eq_ignore_ascii_case("q") => Request::Quit,
            Ok(Some(line)) => {
                self.answered = Some(line);
                Request::Present
            }
            // The keyboard is gone: it goes on by itself.
            Ok(None) | Err(_) => {
                (self.keys, self.asks) = (None, false);
                Request::Redraw
            }
        }
    }

    fn wants_evidence(&self) -> bool {
        true
    }

    fn ring(&mut self) {
        let _ = io::stderr().write_all(b"\x07");
    }
}
