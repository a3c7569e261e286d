//! What the app and a front end agree on: a screen, a page, a voice or a script gets events and the
//! watch as it stands, and says what a person wants.
//!
//! *Invariant:* knows no front end and nothing of the app; holds no judgement.

use std::io;
use std::time::Duration;

use crate::mmsi::Mmsi;
use crate::time::{Mono, Stamp, Utc};
use crate::watch::{CasualtyId, Command, Event, Input, Part, Watch};

/// The side of the program that a person or a script sees.
pub trait Frontend {
    /// Tells of an event.
    ///
    /// # Errors
    /// That of the output.
    fn tell(&mut self, event: &Event) -> io::Result<()>;

    /// Lets go what was told, at the end of the events of an input: before any of it is written down.
    ///
    /// # Errors
    /// That of the output.
    fn let_go(&mut self) -> io::Result<()> {
        Ok(())
    }

    /// After the outputs of an input, and when a frame is due: shows how things stand.
    ///
    /// # Errors
    /// That of the output.
    fn show(&mut self, watch: &Watch, now: Stamp, context: Context<'_>) -> io::Result<()>;

    /// How long until [`Self::show`] is wanted although nothing happens.
    fn next_frame(&self) -> Option<Duration>;

    /// The next thing a person wants; pending for ever where nobody can want anything.
    fn request(&mut self) -> impl Future<Output = Request>;

    /// Who asked for the last request, where it was not who keeps the watch.
    fn who(&self) -> Option<&str> {
        None
    }

    /// Rings the terminal's bell, where there is one: the last way an alarm sounds.
    fn ring(&mut self) {}

    /// Takes an event of a watch before this one, for the eye alone.
    fn recall(&mut self, _event: &Event) {}

    /// Hears what an input of a live watch gave, by its name, for others who listen. Must not block.
    fn overhear(&mut self, _input: &str, _what: Input<'_>) {}

    /// Whether what is received of beacons is to be kept, message by message.
    fn wants_reception(&self) -> bool {
        false
    }

    /// A beacon is in the muster from now on; whether it is fitted to a lifejacket.
    fn enrolled(&mut self, _beacon: Mmsi, _fitted: bool) {}

    /// Where the page at the helm is, and how it does.
    fn set_helm(&mut self, _sign: &HelmSign) {}

    /// Forgets what was told: a replay begins again.
    fn forget(&mut self) {}

    /// The terminal has hung up: it is given up, and the front goes on without it.
    fn hang_up(&mut self) {}

    /// Whether a replay stays open at its end, for a person to look back.
    fn stays(&self) -> bool {
        false
    }
}

/// What a person asked for that a front end cannot do itself.
#[derive(Clone, Debug, PartialEq)]
pub enum Request {
    /// Something for the watch.
    Command(Command),
    /// End the program.
    Quit,
    /// Hold the replay, or go on.
    Pause,
    /// Replay faster.
    Faster,
    /// Replay slower.
    Slower,
    /// Go on to the next event.
    NextEvent,
    /// Go back to the event before.
    PreviousEvent,
    /// Write the legs of the search for a casualty as a route for a plotter.
    Export(CasualtyId),
    /// Write a remark into the logbook.
    Note(String),
    /// Look whether this beacon can be entered in the muster, and say which lines that takes.
    Enrol(NewBeacon),
    /// Enter it with the lines that were shown.
    Enter(NewBeacon),
    /// Look which lines keep the inputs that were found, and say so.
    FindKept,
    /// Write them, as they were shown.
    Keep,
    /// Judge the last self-test of a beacon, and write that into the logbook.
    JudgeTest(Mmsi),
    /// Sound the alarm by every way there is, to hear which works.
    SoundCheck,
    /// A part of the front end itself fails, and why; it works again if `None`. Nobody asked for it.
    Fault(Part, Option<String>),
    /// Nothing but that somebody is there.
    Present,
    /// Nothing: the front end itself has changed.
    Redraw,
}

/// What the watch is surrounded by: its parts when it is live, or the recording.
#[derive(Clone, Copy, Debug)]
pub enum Context<'a> {
    /// A live watch.
    Live(&'a Parts),
    /// A replay.
    Replay(&'a ReplayState),
}

/// How the self-test of a beacon was judged that somebody asked for, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TestVerdict {
    /// Of which beacon.
    pub mmsi: Mmsi,
    /// When it was judged: of a test that began later it says nothing. `None` while it is coming in.
    pub judged: Option<Mono>,
    /// What was heard, and what is left to look at.
    pub verdict: String,
    /// Whether it is written down.
    pub record: String,
}

/// How the parts around a live watch are doing, in words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Parts {
    /// By which way an alarm sounds.
    pub sound: String,
    /// Whether there is a logbook that takes remarks.
    pub keeps_logbook: bool,
    /// What was written into the logbook last.
    pub logbook: String,
    /// Whether what is heard is recorded.
    pub recording: String,
    /// Where the route of a search was written to, or why it was not; empty before.
    pub route: String,
    /// The verdicts that somebody asked for, each beacon's last one.
    pub verdicts: Vec<TestVerdict>,
    /// The configuration file that holds the muster; `None` where the watch was begun without one.
    pub muster_file: Option<String>,
    /// The beacon that was to be entered last, and what has become of it.
    pub enrolled: Option<(NewBeacon, Enrolled)>,
    /// Of a watch for which no input is named: what was told last of those that it finds, and what has
    /// become of keeping them.
    pub found: Option<(String, KeptInputs)>,
    /// What is said to other equipment.
    pub outputs: OutputsView,
}

/// How the outputs are doing.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OutputsView {
    /// Each of them, in the order in which they were begun.
    pub each: Vec<OutputView>,
    /// Sentences that were not passed on, since they might make something transmit.
    pub withheld: u64,
    /// Sentences that were not passed on, since they had been before.
    pub returned: u64,
}

/// How one output is doing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OutputView {
    /// What messages call it.
    pub name: String,
    /// Where it goes, as in the configuration.
    pub uri: String,
    /// What it says, in the words of the configuration.
    pub what: String,
    /// What is wrong with it; `None` if nothing is known to be.
    pub fault: Option<String>,
    /// Since when that is so.
    pub since: Utc,
    /// Messages that were sent, since it was begun.
    pub sent: u64,
    /// Messages that were never sent, since then: to any of those who are connected.
    pub dropped: u64,
    /// How many displays are connected; `None` where none ever connects.
    pub connected: Option<usize>,
}

/// What has become of keeping the inputs that were found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum KeptInputs {
    /// Nobody has asked for it.
    #[default]
    No,
    /// The file is being looked at or written.
    Waits,
    /// This file would change so.
    Proposed(String, Vec<String>),
    /// Nothing was written, and why.
    Refused(String),
    /// They are in this file.
    Written(String),
}

/// A beacon that is to be entered in the muster, as a person has typed it. What is empty is left out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewBeacon {
    /// Its identity, as it was heard.
    pub mmsi: Mmsi,
    /// Who is to carry it; a spare if empty.
    pub holder: String,
    /// The lifejacket it is fitted to.
    pub jacket: String,
    /// The battery's date on the label.
    pub battery: String,
}

/// What has become of a beacon that was to be entered in the muster.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Enrolled {
    /// The file is being looked at or written.
    Waits,
    /// These lines would be added, in the words of [`Parts::muster_file`].
    Proposed(Vec<String>),
    /// Nothing was written: which of the fields that were typed is wrong, if it is one of them,
    /// from 0; and why.
    Refused(usize, String),
    /// It is in the muster, as this says.
    Entered(String),
}

/// The page at the helm, as it is told on a terminal.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HelmSign {
    /// Its address.
    pub address: String,
    /// The code of six digits that lets a phone in.
    pub code: String,
    /// How many look at it.
    pub phones: usize,
    /// Why it is not served just now.
    pub fault: Option<String>,
}

impl HelmSign {
    /// Address and code in one: the code is in the part that a browser keeps to itself.
    pub fn link(&self) -> String {
        format!("{}/#{}", self.address, self.code)
    }
}

/// Where a replay stands.
#[derive(Clone, Debug, PartialEq)]
pub struct ReplayState {
    /// How many times as fast as it happened; without waiting if `None`.
    pub speed: Option<f64>,
    /// Whether it is held.
    pub paused: bool,
    /// Whether it has come to its end.
    pub ended: bool,
    /// The time of the first and the last line, as far as known.
    pub span: Option<(Utc, Utc)>,
    /// When alarms were raised, as far as it has run.
    pub marks: Vec<Utc>,
    /// The verdicts that somebody asked for, each beacon's last one.
    pub verdicts: Vec<TestVerdict>,
}
