//! The one loop, and the only place that knows all parts.
//!
//! *Invariant:* one input, then outputs until none, then the next input. What is told goes out
//! before anything that can block.

mod beside;
mod candidates;
mod enrol;
mod entries;
mod finding;
mod hearing;
mod input_change;
mod inputs;
mod keeping;
mod kept;
mod live;
mod notices;
mod outputs;
mod plan;
mod playback;
mod readiness;
mod relay;
mod reload;
mod reread;
mod resume;
mod self_tests;
mod services;
mod signals;
mod stops;
mod survey;

use std::io;
use std::path::PathBuf;
use std::time::Duration;

pub use beside::through_watches;
pub use candidates::{Candidate, candidates};
pub use enrol::Proposal;
pub use entries::{damaged, entry_of, entry_of_act};
pub use hearing::{Heard, hear};
pub use input_change::{InputChange, proposed};
pub use live::watch;
pub use plan::{Finds, Plan};
pub use playback::{Replay, beginning, observe, receive, replay};
pub use relay::relay;
pub use resume::{LONGEST, Left, Ours, number_without_a_book, place};
pub use signals::end_signal;
pub use survey::{Surveyed, survey};

use crate::capture::Unreadable;
use crate::config::{Beacon, Config};
use crate::edge::InUse;
use crate::navigation::{Lookout, Seas, Wishes};
use crate::proof::Subject;
use crate::units::{Knots, NauticalMiles};
use crate::watch::{Asking, Settings};

/// The folder of the recordings, in that of the logbook.
pub const RECORDINGS: &str = "recordings";

/// Why a watch or a replay ended early.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A recording that cannot be read.
    #[error(transparent)]
    Unreadable(#[from] Unreadable),
    /// Another watch keeps the logbook.
    #[error("another watch{} keeps the logbook: {}", process(*pid), path.display())]
    Taken {
        /// Its process.
        pid: Option<u32>,
        /// The file that says so.
        path: PathBuf,
    },
    /// Another program of this kind reads one of the inputs.
    #[error("{}", in_use(.0))]
    InUse(InUse),
    /// Another program of this kind reads one of the inputs, and why it cannot be heard through it.
    #[error("{}; it cannot be heard through that watch: {}", in_use(.0), .1)]
    NotThrough(InUse, String),
    /// The output does not take events any more.
    #[error("cannot tell of events: {0}")]
    OutputClosed(#[from] io::Error),
}

/// What the configuration tells the watch.
pub fn settings(config: &Config) -> Settings {
    Settings {
        muster: config.beacons.iter().map(|beacon| (beacon.mmsi, beacon.holder.clone())).collect(),
        ais_silence: Duration::from_secs(config.watch.ais_silence_s.into()),
        gnss_silence: Duration::from_secs(config.watch.gnss_silence_s.into()),
        asking: None,
        approach_speed: Knots(config.vessel.approach_speed_kn.unwrap_or(5.0)),
        lookout: Lookout {
            height_of_eye_m: config.search.height_of_eye_m,
            visibility: config.search.visibility_nm.map(NauticalMiles),
            seas: config.search.sea_m.map(Seas::of_height),
            tired: false,
        },
        wishes: Wishes { pattern: None, down_drift: config.search.square_down_drift },
        // The identity programmed into a beacon with DSC is the ship's.
        own_mmsi: config
            .vessel
            .mmsi
            .or_else(|| config.beacons.iter().find_map(|beacon| beacon.dsc_mmsi)),
        one_channel: config
            .inputs
            .iter()
            .filter(|input| input.channels == 1)
            .map(|input| input.name.clone())
            .collect(),
        usual_reach: Vec::new(),
        receiver_at: None,
        expects_inputs: false,
    }
}

/// The beacons of the muster, as their tests are judged.
pub fn subjects(config: &Config) -> Vec<Subject> {
    let subject = |beacon: &Beacon| Subject {
        mmsi: Some(beacon.mmsi),
        person: beacon.holder.clone(),
        dsc_mmsi: beacon.dsc_mmsi,
        stranger: false,
    };
    config.beacons.iter().map(subject).collect()
}

/// The same for a live watch, where somebody can answer.
pub fn live_settings(config: &Config) -> Settings {
    let minutes = |minutes: u32| Duration::from_secs(60 * u64::from(minutes));
    let asking = config.watch.awake_every_min.map(|every| Asking {
        every: minutes(every),
        answer_within: Duration::from_secs(config.watch.awake_answer_s.into()),
    });
    Settings { asking, ..settings(config) }
}

/// Who reads an input, in words.
fn in_use(what: &InUse) -> String {
    let InUse { input, uri, by } = what;
    let address = uri.to_string();
    let name = if *input == address { String::new() } else { format!("{input} ") };
    let Some(by) = by else { return format!("input {name}{address}: another watch reads it") };
    let folder = by.folder.as_ref().map(|it| format!(", logbook {}", it.display()));
    let who = if by.folder.is_some() { "another watch" } else { "another overside" };
    format!(
        "input {name}{address}: {who} reads it (process {}{}, since {})",
        by.pid,
        folder.unwrap_or_default(),
        by.since
    )
}

fn process(pid: Option<u32>) -> String {
    pid.map(|pid| format!(" (process {pid})")).unwrap_or_default()
}
