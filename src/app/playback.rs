//! Runs the watch over a recording: at any speed, held, from event to event.

use std::path::PathBuf;
use std::time::Duration;

use super::self_tests::{SelfTests, judged, remember, unjudged};
use super::stops::Stops;
use super::{Error, end_signal};
use crate::beacon;
use crate::capture::{PlacedLine, Recording, is_standard_input};
use crate::debrief::Observer;
use crate::edge::Clock;
use crate::frontend::{Context, Frontend, ReplayState, Request};
use crate::mmsi::Mmsi;
use crate::proof::{LastTest, Listening, Subject};
use crate::time::{Mono, Stamp, Utc};
use crate::watch::{Event, EventBody, Input, Priority, Settings, State, Summary, Watch};

/// Lines between two looks at what a person wants, when there is no waiting. Our own.
const LINES_AT_A_TIME: usize = 2048;

/// The speeds a key steps through. Our own.
const SPEEDS: [f64; 3] = [1.0, 10.0, 60.0];

/// A recording to be watched again.
#[derive(Clone, Debug, Default)]
pub struct Replay {
    /// The files, in order; `-` is standard input.
    pub files: Vec<PathBuf>,
    /// How many times as fast as it happened; without waiting if `None`.
    pub speed: Option<f64>,
    /// Events before this moment are remembered and not told; the lines before it are heard all the
    /// same.
    pub from: Option<Utc>,
    /// The replay ends with this moment.
    pub until: Option<Utc>,
    /// The beacons of the muster, as their tests are judged.
    pub muster: Vec<Subject>,
}

/// Runs the watch over a recording, and sums it up as far as it ran.
///
/// # Errors
/// A file that cannot be read; an output that is closed.
pub async fn replay(
    replay: &Replay,
    settings: Settings,
    front: &mut impl Frontend,
) -> Result<Summary, Error> {
    let mut playback = Playback::open(replay, settings)?;
    // Without a screen the signals do what they always do: there is nothing to put in order.
    let on_screen = front.stays();
    if on_screen {
        playback.state.span = replay.span()?;
    }
    let mut ended = std::pin::pin!(end_signal(on_screen));
    loop {
        // Where the screen has failed there is nobody left to let a held replay go on.
        let held = playback.state.ended || playback.state.paused && front.stays();
        if playback.state.ended && !front.stays() {
            break;
        }
        let wait = if held { None } else { Some(playback.wait()) };
        let frame = front.next_frame();
        tokio::select! {
            biased;
            () = &mut ended, if on_screen => return Ok(playback.watch.summary()),
            request = front.request() => {
                if request == Request::Quit {
                    return Ok(playback.watch.summary());
                }
                playback.apply(request, front)?;
            }
            () = sleep(wait), if wait.is_some() => playback.advance(front)?,
            () = sleep(frame), if frame.is_some() => {}
        }
        front.show(&playback.watch, playback.now(), Context::Replay(&playback.state))?;
    }
    let summary = playback.watch.summary();
    let at = summary.last.unwrap_or(playback.last.utc);
    front.tell(&Event { at, body: EventBody::Summary(summary.clone()) })?;
    front.show(&playback.watch, playback.now(), Context::Replay(&playback.state))?;
    Ok(summary)
}

/// Reads a recording for what was received in it of survivor beacons, without telling of anything
/// else.
///
/// # Errors
/// A file that cannot be read.
pub fn receive(files: &[PathBuf], settings: Settings) -> Result<Listening, Error> {
    let mut watch = Watch::new(settings);
    watch.record_reception();
    let mut recording = Recording::open(files, &mut watch)?;
    let mut listening = Listening::default();
    while let Some(line) = recording.next(&mut watch)? {
        let utc = line.stamp.utc;
        listening.span = Some((listening.span.map_or(utc, |(first, _)| first), utc));
        watch.handle(line.as_input());
        while watch.poll_output().is_some() {}
        listening.transmissions.append(&mut watch.take_received());
        listening.transmissions.truncate(Listening::LIMIT);
    }
    Ok(listening)
}

/// The time of the first line of a recording; `None` if it has none.
///
/// # Errors
/// A file that cannot be read.
pub fn beginning(files: &[PathBuf]) -> Result<Option<Utc>, Error> {
    let mut watch = Watch::new(Settings::default());
    let mut recording = Recording::open(files, &mut watch)?;
    Ok(recording.next(&mut watch)?.map(|line| line.stamp.utc))
}

/// Lines between two reports of how far a debrief has come. Our own.
const LINES_A_REPORT: usize = 8_192;

/// Reads a recording, or its parts in order, for a debrief. `progress` is told from time to time how many bytes were read.
///
/// # Errors
/// A file that cannot be read.
pub fn observe(
    files: &[PathBuf],
    until: Option<Utc>,
    settings: Settings,
    observer: &mut Observer,
    mut progress: impl FnMut(u64),
) -> Result<(), Error> {
    let mut watch = Watch::new(settings);
    watch.record_reception();
    let mut recording = Recording::open(files, &mut watch)?.each_moment_once();
    let (mut lines, mut bytes) = (0_usize, 0);
    while let Some(line) = recording.next(&mut watch)?
        && until.is_none_or(|until| line.stamp.utc <= until)
    {
        lines += 1;
        bytes += line.bytes.len() as u64 + 2;
        if lines.is_multiple_of(LINES_A_REPORT) {
            progress(bytes);
        }
        watch.handle(line.as_input());
        observer.look(&mut watch, line.stamp);
        while let Some(event) = watch.poll_output() {
            observer.hear(&event);
        }
    }
    if recording.overlaps() {
        observer.note_overlap();
    }
    Ok(())
}

async fn sleep(span: Option<Duration>) {
    match span {
        None => {}
        // No turn of the timer wheel where there is nothing to wait for, but signals get through.
        Some(Duration::ZERO) => tokio::task::yield_now().await,
        Some(span) => tokio::time::sleep(span).await,
    }
}

impl Replay {
    /// The time of the first and last line; `None` where that cannot be looked at beforehand.
    fn span(&self) -> Result<Option<(Utc, Utc)>, Error> {
        if self.files.iter().any(|path| is_standard_input(path)) {
            return Ok(None);
        }
        let mut watch = Watch::new(Settings::default());
        let mut recording = Recording::open(&self.files, &mut watch)?;
        let mut span: Option<(Utc, Utc)> = None;
        while let Some(line) = recording.next(&mut watch)? {
            let utc = line.stamp.utc;
            span = Some((span.map_or(utc, |(first, _)| first), utc));
        }
        Ok(span.map(|(first, last)| (first, self.until.map_or(last, |until| last.min(until)))))
    }
}

/// A recording that is being watched.
struct Playback {
    replay: Replay,
    settings: Settings,
    watch: Watch,
    recording: Recording,
    state: ReplayState,
    clock: Clock,
    /// The line that comes next.
    next: Option<PlacedLine>,
    last: Stamp,
    /// Recorded and real time that the speed counts from.
    anchor: Option<(Mono, Mono)>,
    /// Lines taken.
    count: usize,
    stops: Stops,
}

impl Playback {
    fn open(replay: &Replay, settings: Settings) -> Result<Self, Error> {
        let mut watch = Watch::new(settings.clone());
        watch.record_lately();
        let recording = Recording::open(&replay.files, &mut watch)?;
        let state = ReplayState {
            speed: replay.speed,
            paused: false,
            ended: false,
            span: None,
            marks: Vec::new(),
            verdicts: Vec::new(),
        };
        Ok(Self {
            replay: replay.clone(),
            settings,
            watch,
            recording,
            state,
            clock: Clock::start(),
            next: None,
            last: Stamp { at: Mono::START, utc: Utc::EPOCH },
            anchor: None,
            count: 0,
            stops: Stops::default(),
        })
    }

    /// The present moment of the recording, as far as it has run.
    fn now(&self) -> Stamp {
        let (Some((recorded, real)), Some(speed), false) =
            (self.anchor, self.state.speed, self.state.paused || self.state.ended)
        else {
            return self.last;
        };
        let Some(PlacedLine { stamp: next, .. }) = &self.next else { return self.last };
        // A speed beyond all measure is at the next line at once.
        let elapsed = self.clock.now().at.since(real).as_secs_f64() * speed;
        let elapsed = Duration::try_from_secs_f64(elapsed).unwrap_or(Duration::MAX);
        let ahead = next.at.since(recorded).min(elapsed);
        self.last.at((recorded + ahead).max(self.last.at))
    }

    /// How long until there is something to do.
    fn wait(&mut self) -> Duration {
        let (Some(speed), Some((recorded, real))) = (self.state.speed, self.anchor) else {
            return Duration::ZERO;
        };
        // The next line has to be looked at before it is known when it is due.
        let Some(PlacedLine { stamp: next, .. }) = &self.next else { return Duration::ZERO };
        let due = self.watch.next_deadline().map_or(next.at, |due| due.min(next.at));
        // More than a year of waiting is waiting for ever.
        let span = (due.since(recorded).as_secs_f64() / speed).min(366.0 * 86_400.0);
        (real + Duration::from_secs_f64(span)).since(self.clock.now().at)
    }

    /// Takes what is due by now, a bounded number of lines.
    fn advance(&mut self, front: &mut impl Frontend) -> Result<(), Error> {
        for _ in 0..LINES_AT_A_TIME {
            if !self.fetch()? {
                return Ok(());
            }
            let Some(PlacedLine { stamp, .. }) = &self.next else { return Ok(()) };
            let at = stamp.at;
            if self.replay.from.is_some_and(|from| stamp.utc < from) {
                // What nobody wants to see is not waited for.
                self.anchor = None;
            } else if self.anchor.is_none() {
                self.anchor = Some((at, self.clock.now().at));
            }
            // At the speed of life, what is due between two lines is told when it is due.
            if let Some(due) = self.watch.next_deadline().filter(|&due| due < at)
                && self.state.speed.is_some()
            {
                if self.is_ahead(due) {
                    return Ok(());
                }
                self.last = self.last.at(due);
                self.watch.handle(Input::Tick { stamp: self.last });
                self.drain(front)?;
                continue;
            }
            if self.is_ahead(at) {
                return Ok(());
            }
            self.step(front)?;
        }
        Ok(())
    }

    /// Whether a moment of the recording is still to come.
    fn is_ahead(&self, at: Mono) -> bool {
        let (Some(speed), Some((recorded, real))) = (self.state.speed, self.anchor) else {
            return false;
        };
        let elapsed = self.clock.now().at.since(real).as_secs_f64() * speed;
        at.since(recorded).as_secs_f64() > elapsed + 1e-4
    }

    /// Makes the next line ready. Whether there is one; else the replay has ended.
    fn fetch(&mut self) -> Result<bool, Error> {
        if self.next.is_none() && !self.state.ended {
            let is_wanted =
                |line: &PlacedLine| self.replay.until.is_none_or(|until| line.stamp.utc <= until);
            self.next = self.recording.next(&mut self.watch)?.filter(is_wanted);
            self.state.ended = self.next.is_none();
        }
        Ok(self.next.is_some())
    }

    /// Takes the next line. Whether people care about what came of it.
    fn step(&mut self, front: &mut impl Frontend) -> Result<bool, Error> {
        let Some(line) = self.next.take() else { return Ok(false) };
        self.last = line.stamp;
        self.count += 1;
        self.watch.handle(line.as_input());
        self.drain(front)
    }

    /// Tells what the watch has to say. Whether people care about any of it.
    fn drain(&mut self, front: &mut impl Frontend) -> Result<bool, Error> {
        let mut stop = false;
        while let Some(event) = self.watch.poll_output() {
            stop |= self.stops.is_one(&event);
            if is_alarm(&event) {
                self.state.marks.push(event.at);
            }
            tell(front, &event, self.replay.from)?;
        }
        if stop && self.stops.lines.last() != Some(&self.count) {
            self.stops.lines.push(self.count);
        }
        Ok(stop)
    }

    fn apply(&mut self, request: Request, front: &mut impl Frontend) -> Result<(), Error> {
        self.fetch()?;
        self.last = self.now();
        let speed = self.state.speed.unwrap_or(f64::INFINITY);
        match request {
            Request::Command(command) => {
                self.watch.handle(Input::Command { stamp: self.last, command });
                self.drain(front)?;
            }
            Request::Pause => self.state.paused = !self.state.paused,
            Request::Faster => {
                let faster = SPEEDS.into_iter().find(|&step| step > speed);
                self.state.speed = faster.or(self.state.speed);
            }
            Request::Slower => {
                let slower = SPEEDS.into_iter().rev().find(|&step| step < speed);
                self.state.speed = slower.or(self.state.speed);
            }
            Request::NextEvent => while self.fetch()? && !self.step(front)? {},
            Request::PreviousEvent => self.go_back(front)?,
            Request::JudgeTest(mmsi) => self.judge(mmsi),
            // What fails now was not in the recording.
            Request::Fault(part, Some(why)) => tracing::warn!("{part:?}: {why}"),
            Request::Fault(_, None)
            | Request::Quit
            | Request::Redraw
            | Request::Present
            | Request::Export(_)
            | Request::Note(_)
            | Request::Enrol(_)
            | Request::Enter(_)
            | Request::SoundCheck
            | Request::FindKept
            | Request::Keep => {}
        }
        if self.anchor.is_some() {
            self.anchor = Some((self.last.at, self.clock.now().at));
        }
        Ok(())
    }

    /// Judges a test that was heard. Nothing of a replay is written down.
    fn judge(&mut self, mmsi: Mmsi) {
        let tests = SelfTests::new(self.replay.muster.clone());
        // After the end nothing more comes in.
        let later = if self.state.ended { beacon::PERIOD } else { Duration::ZERO };
        let now = self.last.at(self.last.at + later);
        let verdict = match tests.last(mmsi, &self.watch, now) {
            LastTest::Over(test) => judged(mmsi, &test, "not written down: a replay", now),
            last => unjudged(mmsi, &last, now),
        };
        remember(&mut self.state.verdicts, verdict);
    }

    /// Begins again and runs to just behind the event before the last one; not to before the
    /// beginning that was asked for.
    fn go_back(&mut self, front: &mut impl Frontend) -> Result<(), Error> {
        if self.replay.files.iter().any(|path| is_standard_input(path)) {
            return Ok(());
        }
        let before = self.stops.lines.iter().rev().find(|&&line| line < self.count).copied();
        let mut again = Self::open(&self.replay, self.settings.clone())?;
        again.state.span = self.state.span;
        again.state.speed = self.state.speed;
        again.state.paused = true;
        front.forget();
        *self = again;
        let target = before.unwrap_or(1);
        while self.fetch()? && (self.count < target || self.is_before_beginning()) {
            self.step(front)?;
        }
        Ok(())
    }

    fn is_before_beginning(&self) -> bool {
        let next = self.next.as_ref();
        self.replay.from.zip(next).is_some_and(|(from, next)| next.stamp.utc < from)
    }
}

/// Whether an event is one of those marked on the bar of a replay.
fn is_alarm(event: &Event) -> bool {
    matches!(&event.body, EventBody::Alert(alert)
        if alert.priority >= Priority::Warning && alert.state == State::ActiveUnacknowledged)
}

/// Tells of an event; of one before the beginning that was asked for only that it is remembered.
fn tell(front: &mut impl Frontend, event: &Event, from: Option<Utc>) -> Result<(), Error> {
    if from.is_none_or(|from| event.at >= from) {
        front.tell(event)?;
    } else {
        front.recall(event);
    }
    Ok(())
}
