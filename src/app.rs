//! The one loop, and the only place that knows all parts.
//!
//! *Invariant:* one input, then outputs until none, then the next input. What is told goes out
//! before anything that can block.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

use tokio::sync::mpsc;

use crate::capture::Reader;
use crate::config::Config;
use crate::edge::input::{self, Arrival, Retry, What};
use crate::edge::{Clock, InputUri};
use crate::time::{Mono, Stamp, Utc};
use crate::watch::{Event, EventBody, Input, Settings, Watch};
use crate::wire::{InputId, Splitter};

/// Lines that may wait between the inputs and the watch. A full channel holds the inputs back.
const WAITING_LINES: usize = 1024;

/// Read from a recording at a time.
const CHUNK_BYTES: usize = 64 * 1024;

/// Where events go.
pub trait Teller {
    /// Tells of an event.
    ///
    /// # Errors
    /// That of the output.
    fn tell(&mut self, event: &Event) -> io::Result<()>;

    /// Whether events are to be seen at once, and not when it suits.
    fn flush(&mut self) -> io::Result<()>;
}

/// Why a watch or a replay ended early.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A recording that cannot be read.
    #[error("cannot read {}: {cause}", path.display())]
    Unreadable {
        /// Which.
        path: PathBuf,
        /// Why.
        cause: io::Error,
    },
    /// The output does not take events any more.
    #[error("cannot tell of events: {0}")]
    Untold(#[from] io::Error),
}

/// What the configuration tells the watch.
pub fn settings(config: &Config) -> Settings {
    Settings {
        muster: config.beacons.iter().map(|beacon| (beacon.mmsi, beacon.holder.clone())).collect(),
        ais_silence: Duration::from_secs(config.silence.ais_silence_s.into()),
        gnss_silence: Duration::from_secs(config.silence.gnss_silence_s.into()),
        expects_inputs: false,
    }
}

/// A recording to be watched again.
#[derive(Clone, Debug)]
pub struct Replay {
    /// The files, in order; `-` is standard input.
    pub files: Vec<PathBuf>,
    /// How many times as fast as it happened; without waiting if `None`.
    pub speed: Option<f64>,
    /// Events before this moment are not told; the lines before it are heard all the same.
    pub from: Option<Utc>,
    /// The replay ends with this moment.
    pub until: Option<Utc>,
}

/// Runs the watch over a recording.
///
/// # Errors
/// A file that cannot be read; an output that is closed.
pub async fn replay(
    replay: &Replay,
    settings: Settings,
    teller: &mut impl Teller,
) -> Result<(), Error> {
    let mut watch = Watch::new(settings);
    let mut reader = None;
    let mut pace = Pace { clock: Clock::start(), speed: replay.speed, first: None };
    let mut last = Stamp { at: Mono::START, utc: Utc::EPOCH };
    'files: for path in &replay.files {
        let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
        let mut lines = Lines::open(path)?;
        let reader = match &mut reader {
            Some(reader) => {
                Reader::begin_file(reader, &mut watch, &name);
                reader
            }
            none => none.insert(Reader::new(&mut watch, &name)),
        };
        while let Some(line) = lines.next().map_err(|cause| unreadable(path, cause))? {
            let moment = reader.place(&mut watch, &line);
            if replay.until.is_some_and(|until| moment.stamp.utc > until) {
                break 'files;
            }
            // At the speed of life, what is due between two lines is told when it is due.
            while let Some(due) = watch.next_deadline().filter(|&due| due < moment.stamp.at) {
                if replay.speed.is_none() {
                    break;
                }
                pace.wait_for(due).await;
                watch.handle(Input::Tick { stamp: last.at(due) });
                drain(&mut watch, replay.from, teller)?;
                teller.flush()?;
            }
            last = moment.stamp;
            if pace.wait_for(last.at).await {
                teller.flush()?;
            }
            watch.handle(Input::Line { stamp: last, input: moment.input, bytes: &line });
            drain(&mut watch, replay.from, teller)?;
        }
    }
    let at = watch.summary().last.unwrap_or(last.utc);
    teller.tell(&Event { at, body: EventBody::Summary(watch.summary()) })?;
    teller.flush()?;
    Ok(())
}

fn unreadable(path: &Path, cause: io::Error) -> Error {
    Error::Unreadable { path: path.to_owned(), cause }
}

fn drain(watch: &mut Watch, from: Option<Utc>, teller: &mut impl Teller) -> io::Result<()> {
    while let Some(event) = watch.poll_output() {
        if from.is_none_or(|from| event.at >= from) {
            teller.tell(&event)?;
        }
    }
    Ok(())
}

/// Holds a replay to its speed.
struct Pace {
    clock: Clock,
    speed: Option<f64>,
    /// When the first line came, by the recording and by the clock.
    first: Option<(Mono, Mono)>,
}

impl Pace {
    /// Waits until a moment of the recording has come. Whether there was anything to wait for.
    async fn wait_for(&mut self, at: Mono) -> bool {
        let Some(speed) = self.speed else { return false };
        let now = self.clock.now().at;
        let (recorded, real) = *self.first.get_or_insert((at, now));
        // More than a year of waiting is waiting for ever.
        let span = at.since(recorded).as_secs_f64() / speed;
        let target = real + Duration::from_secs_f64(span.min(366.0 * 86_400.0));
        let wait = target.since(now);
        if wait.is_zero() {
            return false;
        }
        tokio::time::sleep(wait).await;
        true
    }
}

/// The lines of a recording, read as they are needed.
struct Lines {
    source: Box<dyn Read>,
    splitter: Splitter,
    chunk: Vec<u8>,
    ready: std::collections::VecDeque<Vec<u8>>,
    ended: bool,
}

impl Lines {
    fn open(path: &Path) -> Result<Self, Error> {
        let source: Box<dyn Read> = if path == Path::new("-") {
            Box::new(io::stdin())
        } else {
            Box::new(File::open(path).map_err(|cause| unreadable(path, cause))?)
        };
        Ok(Self {
            source,
            splitter: Splitter::new(),
            chunk: vec![0; CHUNK_BYTES],
            ready: std::collections::VecDeque::new(),
            ended: false,
        })
    }

    fn next(&mut self) -> io::Result<Option<Vec<u8>>> {
        while self.ready.is_empty() && !self.ended {
            let keep = |line: &[u8]| self.ready.push_back(line.to_vec());
            match self.source.read(&mut self.chunk) {
                Ok(0) => {
                    self.ended = true;
                    self.splitter.finish(keep);
                }
                Ok(count) => self.splitter.push(&self.chunk[..count], keep),
                Err(why) if why.kind() == io::ErrorKind::Interrupted => {}
                Err(why) => return Err(why),
            }
        }
        Ok(self.ready.pop_front())
    }
}

/// Keeps the live watch until it is ended by a signal, or until every input has come to its end.
///
/// # Errors
/// An output that is closed.
pub async fn watch(
    inputs: &[(String, InputUri)],
    settings: Settings,
    teller: &mut impl Teller,
) -> Result<(), Error> {
    let clock = Clock::start();
    let mut watch = Watch::new(Settings { expects_inputs: true, ..settings });
    let (tx, mut arrivals) = mpsc::channel(WAITING_LINES);
    let mut ids: Vec<InputId> = Vec::new();
    for (place, (name, uri)) in inputs.iter().enumerate() {
        ids.push(watch.input(name));
        input::spawn(place, uri.clone(), clock, Retry::default(), tx.clone());
    }
    drop(tx);
    let mut ended = std::pin::pin!(end_signal());
    let mut open = inputs.len();
    while open > 0 {
        let now = clock.now();
        let wait = watch.next_deadline().map(|due| due.since(now.at));
        tokio::select! {
            biased;
            () = &mut ended => break,
            arrival = arrivals.recv() => match arrival {
                Some(arrival) => open -= usize::from(take(&mut watch, &ids, &arrival)),
                None => break,
            },
            () = tokio::time::sleep(wait.unwrap_or_default()), if wait.is_some() => {
                watch.handle(Input::Tick { stamp: clock.now() });
            }
        }
        drain(&mut watch, None, teller)?;
        teller.flush()?;
    }
    Ok(())
}

/// Hands an arrival to the watch. Whether its input has ended for good.
fn take(watch: &mut Watch, ids: &[InputId], arrival: &Arrival) -> bool {
    let stamp = arrival.stamp;
    let Some(&input) = ids.get(arrival.input) else { return false };
    match &arrival.what {
        What::Line(bytes) => watch.handle(Input::Line { stamp, input, bytes }),
        What::Opened => watch.handle(Input::Opened { stamp, input }),
        What::Lost(reason) => watch.handle(Input::Lost { stamp, input, reason }),
        What::Ended => {
            if ids.len() > 1 {
                let reason = "it has come to its end";
                watch.handle(Input::Lost { stamp, input, reason });
            }
            return true;
        }
    }
    false
}

/// Waits for an interrupt or a request to end.
async fn end_signal() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut terminate) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => {}
                _ = terminate.recv() => {}
            }
            return;
        }
    }
    let _ = tokio::signal::ctrl_c().await;
}
