//! Reads a recording for how far its receivers hear.

use std::collections::BTreeMap;
use std::path::PathBuf;

use super::Error;
use crate::capture::{PlacedLine, Recording};
use crate::position::Position;
use crate::time::{Mono, Stamp, Utc};
use crate::watch::{EventBody, Input, Reach, ReachHour, Relayed, Settings, Watch};
use crate::wire::{InputId, Line};

/// How many stations are heard each for itself: as many as a watch knows by name. Our own.
const STATIONS: usize = 128;

/// How a receiver heard over a recording.
#[derive(Clone, Debug)]
pub struct Heard {
    /// Hour by hour, the last one as far as it goes.
    pub hours: Vec<ReachHour>,
    /// At the end.
    pub now: Reach,
    /// Where it stands or was at the end; `None` if that is not known.
    pub position: Option<Position>,
}

/// Reads a recording for how far it shows the boat to hear; and the stations whose lines are in it,
/// by their names, each by what it heard alone. A station is where `places` says, else where its own
/// lines say.
///
/// # Errors
/// A file that cannot be read.
pub fn hear(
    files: &[PathBuf],
    settings: Settings,
    places: &BTreeMap<String, Position>,
) -> Result<(Heard, BTreeMap<String, Heard>), Error> {
    let mut stations: BTreeMap<String, Receiver> = BTreeMap::new();
    let mut aboard = Receiver::new(settings.clone());
    let mut recording = Recording::open(files, &mut aboard.watch)?;
    while let Some(line) = recording.next(&mut aboard.watch)? {
        if let Some(relayed) = Relayed::of_line(&line.bytes)
            && let Some(name) = aboard.watch.input_name(line.input)
            && (stations.len() < STATIONS || stations.contains_key(name))
        {
            let station = stations.entry(name.to_owned()).or_insert_with(|| {
                let known = places.iter().find(|it| name.strip_prefix("station ") == Some(it.0));
                let receiver_at = known.map(|it| *it.1);
                Receiver::new(Settings { receiver_at, ..settings.clone() })
            });
            station.take_own(&line, relayed);
        }
        aboard.take(line.input, line.stamp, &line.bytes);
    }
    let stations = stations.into_iter().map(|(name, it)| (name, it.end())).collect();
    Ok((aboard.end(), stations))
}

/// A receiver, and a watch that hears by nothing else.
struct Receiver {
    watch: Watch,
    fixed: Option<Position>,
    hours: Vec<ReachHour>,
    last: Stamp,
}

impl Receiver {
    fn new(settings: Settings) -> Self {
        let (fixed, last) = (settings.receiver_at, Stamp { at: Mono::START, utc: Utc::EPOCH });
        Self { watch: Watch::new(settings), fixed, hours: Vec::new(), last }
    }

    /// A line as the station itself had it: without what was written before it on its way, and when
    /// it was heard there.
    fn take_own(&mut self, line: &PlacedLine, relayed: Relayed) {
        let start = Line::parse(&line.bytes).map_or(0, |parsed| parsed.start());
        let at = relayed.heard_at(line.stamp.at).max(self.last.at);
        let input = self.watch.input("station");
        self.take(input, line.stamp.at(at), line.bytes.get(start..).unwrap_or_default());
    }

    fn take(&mut self, input: InputId, stamp: Stamp, bytes: &[u8]) {
        self.last = stamp;
        self.watch.handle(Input::Line { stamp, input, bytes });
        while let Some(event) = self.watch.poll_output() {
            if let EventBody::Reach(hour) = event.body {
                self.hours.push(*hour);
            }
        }
    }

    fn end(mut self) -> Heard {
        self.hours.extend(self.watch.reach_hour());
        let position = self.fixed.or_else(|| self.watch.picture(self.last).own.position);
        Heard { hours: self.hours, now: self.watch.reach(self.last), position }
    }
}
