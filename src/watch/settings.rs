//! What the watch is told before it begins, and its limits, each with where it comes from.

use std::collections::{HashMap, HashSet};
use std::time::Duration;

use super::reach::PastHour;
use crate::beacon;
use crate::mmsi::Mmsi;
use crate::navigation::{Lookout, Wishes};
use crate::position::Position;
use crate::units::Knots;

/// What differs from boat to boat.
#[derive(Clone, Debug)]
pub struct Settings {
    /// The beacons of the muster and who carries each, if anybody.
    pub muster: HashMap<Mmsi, Option<String>>,
    /// Those who look out in a search. Default nothing known of them.
    pub lookout: Lookout,
    /// What the skipper wants of a search otherwise than it is chosen. Default nothing.
    pub wishes: Wishes,
    /// The ship's own identity: she is no help to herself.
    pub own_mmsi: Option<Mmsi>,
    /// How long an input that gave AIS may give none. Default 60 s.
    pub ais_silence: Duration,
    /// How long an input that gave a GNSS position may give none. Default 10 s.
    pub gnss_silence: Duration,
    /// The inputs that hear one channel of AIS alone, by name: the other is not missed.
    pub one_channel: HashSet<String>,
    /// Whether the watchkeeper is asked to say that they are awake, and how often. Default not.
    pub asking: Option<Asking>,
    /// The speed at which the skipper would go to a casualty, whatever she makes now. Default 5 kn.
    pub approach_speed: Knots,
    /// How far this boat has heard in the last weeks, an hour each: what later hours are compared with.
    /// Empty if nothing is known of that.
    pub usual_reach: Vec<PastHour>,
    /// Where the receiver stands if it is fixed ashore: ranges of ships are counted from there, and
    /// not from the own position. Default not.
    pub receiver_at: Option<Position>,
    /// Whether an input that is open and never said anything is missed too: on a live watch.
    pub expects_inputs: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            muster: HashMap::new(),
            own_mmsi: None,
            lookout: LOOKOUT,
            wishes: Wishes::default(),
            ais_silence: Duration::from_secs(60),
            gnss_silence: Duration::from_secs(10),
            one_channel: HashSet::new(),
            asking: None,
            approach_speed: Knots(5.0),
            usual_reach: Vec::new(),
            receiver_at: None,
            expects_inputs: false,
        }
    }
}

impl Settings {
    /// The beacons of the muster, and the ship.
    pub fn ours(&self) -> impl Iterator<Item = Mmsi> {
        self.muster.keys().copied().chain(self.own_mmsi)
    }

    /// Whether it is one of them.
    pub fn is_ours(&self, mmsi: Mmsi) -> bool {
        self.muster.contains_key(&mmsi) || self.own_mmsi == Some(mmsi)
    }
}

/// How often the watchkeeper is asked, and how long an answer may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Asking {
    /// From one answer to the next question.
    pub every: Duration,
    /// From the question to the warning, and from the warning to the alarm.
    pub answer_within: Duration,
}

/// Nothing is known of those who look out, but what the skipper has set.
pub(super) const LOOKOUT: Lookout =
    Lookout { height_of_eye_m: None, visibility: None, seas: None, tired: false };

/// How long evidence for a mode counts. M.1371-6 lets the link between a beacon's messages time out
/// after 8 min, which is also one cycle of eight bursts.
pub(super) const EVIDENCE_HOLDS: Duration = beacon::CYCLE;

/// Status 15 for longer than this is no self-test, which is one burst; and a gap as long begins a
/// new series. The margin is our own.
pub const SELF_TEST_LONGEST: Duration = Duration::from_secs(90);

/// How often the place of a silent casualty is reckoned anew: at least once a minute. Our own.
pub(super) const DATUM_EVERY: Duration = Duration::from_secs(60);

/// Over a gap longer than this, a datum is reckoned only when the gap has grown by half, and at its
/// end: a recording with a day's gap in it, a line whose time is wrong or a computer that slept must
/// not give a line a minute for every casualty. A gap lies between two inputs of a live watch, which
/// is ticked and tells each minute though no line comes; in a recording it lies between two lines,
/// so that a replay tells the same at any speed. Our own.
pub(super) const DATUM_GAP: Duration = Duration::from_secs(3600);

/// No input makes more steps than this happen, however far ahead its time is; looked at in tests
/// alone. Every beacon silent: an hour of minutes each, and then as [`DATUM_GAP`] says. Our own.
pub(super) const STEPS_LIMIT: u32 = 50_000;

/// Equal payloads from two inputs within this time are one transmission: less than the
/// [`beacon::SPACING`] of the messages of a burst. Our own.
pub(super) const SAME_TRANSMISSION: Duration = Duration::from_millis(1500);

/// What another station heard longer ago than this is told as late: more than a line takes over a
/// network that works, and less than a helmsman would act on as if it were now. Our own.
pub(super) const LATE: Duration = Duration::from_secs(10);

/// An own position older than this is not good enough while somebody is in the water. Our own.
pub(super) const OWN_POSITION_LOST: Duration = Duration::from_secs(30);

/// A position given by hand is a matter of minutes: it is lost no sooner than it is none.
pub(super) const HAND_POSITION_LOST: Duration = OWN_POSITION_NONE;

/// An own position older than this is none: no range is made from it. Our own.
pub(super) const OWN_POSITION_NONE: Duration = Duration::from_secs(10 * 60);

/// How often the ship's place is kept for her track, and for how many places: an hour. Our own.
pub(super) const TRACK_STEP: Duration = Duration::from_secs(10);
pub(super) const TRACK_LIMIT: usize = 360;

/// A silenced alert sounds again after this (MSC.302(87) 7.3.5; IEC 62923-1 6.3.4).
pub(super) const TEMPORARY_SILENCE: Duration = Duration::from_secs(30);

/// An unacknowledged warning is repeated after this: at most 5 min (IEC 62923-1 6.3.5). A minute is
/// what a type-approved radar has.
pub(super) const WARNING_REPEATS: Duration = Duration::from_secs(60);

/// How long a DSE may come after its call: nothing lies between them by IEC 61162-1, but a busy
/// port may delay it. Our own.
pub(super) const EXPANSION_WAIT: Duration = Duration::from_secs(10);

/// How long a text, a test call or an urgency call counts as an alert. Our own.
pub(super) const MESSAGE_LIFETIME: Duration = Duration::from_secs(8 * 60);

/// A rehearsal is one until nothing marked as such has come for this long. Our own.
pub(super) const REHEARSAL_HOLDS: Duration = Duration::from_secs(120);

/// How many beacon identities are followed. Ten beacons are a large accident; a flood of forged
/// ones must not push out the first. Our own.
pub(super) const BEACONS_LIMIT: usize = 256;

/// How many alerts are kept open, but for emergencies and what is about the muster or the ship.
/// Our own.
pub(super) const ALERTS_LIMIT: usize = 1024;

/// How many emergencies of one cause about strangers are kept one by one: as many as beacons.
pub(super) const STRANGERS_LIMIT: usize = BEACONS_LIMIT;

/// How many inputs are told apart. Our own.
pub(super) const INPUTS_LIMIT: usize = 256;
