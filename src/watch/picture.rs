//! What there is to see: a copy of all that a screen needs, at one moment.

use std::time::Duration;

use super::Watch;
use super::alert::Alert;
use super::beacon::{Beacon, Mode, Reception};
use super::clocks::ClockView;
use super::contacts::Contact;
use super::health::InputState;
use super::settings::DRILL_HOLDS;
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::{Grade, Position, range_and_bearing};
use crate::time::{Mono, Stamp};
use crate::units::{Degrees, Knots, NauticalMiles};

/// How many other stations are shown, the nearest first.
const NEAREST: usize = 32;

/// The watch at one moment.
#[derive(Clone, Debug)]
pub struct Picture {
    /// The moment.
    pub now: Stamp,
    /// The open alerts, in the order they were raised.
    pub alerts: Vec<Alert>,
    /// Every beacon that matters, the worst first.
    pub beacons: Vec<BeaconView>,
    /// The inputs, in the order they were opened.
    pub inputs: Vec<InputView>,
    /// The own ship.
    pub own: OwnView,
    /// The computer's clock and the position receiver's.
    pub clock: ClockView,
    /// A drill is played, and nobody is in the water outside of it.
    pub drill: bool,
    /// How long the watchkeeper has been asked to answer, and within which time.
    pub asked: Option<(Duration, Duration)>,
    /// How many other stations were heard lately.
    pub stations: usize,
    /// The nearest of them that said where they are.
    pub nearest: Vec<ContactView>,
}

/// A beacon.
#[derive(Clone, Debug)]
pub struct BeaconView {
    /// Its identity.
    pub mmsi: Mmsi,
    /// Its kind.
    pub kind: BeaconKind,
    /// Whose it is.
    pub person: Option<String>,
    /// What it does; `None` if it never said.
    pub mode: Option<Mode>,
    /// Whether somebody may be in the water behind it.
    pub casualty: bool,
    /// Whether it has not been heard for five minutes.
    pub silent: bool,
    /// When it was heard first in its mode, and last.
    pub since: Stamp,
    /// When it was heard last.
    pub last: Stamp,
    /// Where it is or was.
    pub position: Option<Position>,
    /// How old that is.
    pub fix_age: Option<Duration>,
    /// How far it is.
    pub range: Option<NauticalMiles>,
    /// Where it bears.
    pub bearing: Option<Degrees>,
    /// Where it bears from the bow, starboard positive.
    pub relative: Option<f64>,
    /// Where the ship was when it was heard first.
    pub own_at_first: Option<Position>,
    /// Transmissions heard.
    pub messages: u32,
    /// Bursts of which anything was heard.
    pub bursts: u32,
    /// What was heard of it lately, oldest first.
    pub receptions: Vec<Reception>,
    /// Where it was, one place a burst, oldest first.
    pub track: Vec<Position>,
    /// What its mode rests on.
    pub evidence: Vec<String>,
}

/// An input.
#[derive(Clone, Debug)]
pub struct InputView {
    /// Its name.
    pub name: String,
    /// How it is doing; `None` before anything was heard.
    pub state: Option<InputState>,
    /// How long ago it said anything sound.
    pub heard: Option<Duration>,
    /// Whether it gave AIS of other stations.
    pub hears_ais: bool,
}

/// The own ship.
#[derive(Clone, Debug, Default)]
pub struct OwnView {
    /// Where she is, if known within ten minutes.
    pub position: Option<Position>,
    /// How old that is.
    pub age: Option<Duration>,
    /// What kind of source it is from.
    pub grade: Option<Grade>,
    /// Course over ground.
    pub cog: Option<Degrees>,
    /// Speed over ground.
    pub sog: Option<Knots>,
    /// True heading.
    pub heading: Option<Degrees>,
    /// Where she was, oldest first.
    pub track: Vec<Position>,
}

/// Another station.
#[derive(Clone, Debug)]
pub struct ContactView {
    /// What is known of it.
    pub contact: Contact,
    /// How far it is.
    pub range: NauticalMiles,
    /// Where it bears.
    pub bearing: Degrees,
}

impl Watch {
    /// What there is to see at `now`, which lies not before the last input.
    pub fn picture(&self, now: Stamp) -> Picture {
        let at = now.at.max(self.now.at);
        let own = self.own(at);
        let mut beacons: Vec<BeaconView> =
            self.beacons.iter().filter_map(|beacon| self.beacon_view(beacon, &own, at)).collect();
        beacons.sort_by_key(|beacon| (!beacon.casualty, rank(beacon.mode), beacon.since.at));
        let present: Vec<&Contact> = self.contacts.present(at).collect();
        let mut nearest: Vec<ContactView> = present
            .iter()
            .filter_map(|contact| {
                let (range, bearing) = range_and_bearing(own.position?, contact.position?);
                Some(ContactView { contact: (*contact).clone(), range, bearing })
            })
            .collect();
        nearest.sort_by(|a, b| {
            a.range.0.total_cmp(&b.range.0).then(a.contact.mmsi.cmp(&b.contact.mmsi))
        });
        nearest.truncate(NEAREST);
        Picture {
            now,
            alerts: self.alerts.open().to_vec(),
            beacons,
            inputs: self.inputs.views(at).collect(),
            own,
            drill: self.drilled.is_some_and(|last| at.since(last) < DRILL_HOLDS)
                && self.beacons.iter().all(|beacon| beacon.in_drill || !beacon.is_casualty()),
            clock: self.clocks.view(at),
            asked: self
                .wakefulness
                .asked_for(at, self.settings.asking)
                .zip(self.settings.asking.map(|asking| asking.answer_within)),
            stations: present.len(),
            nearest,
        }
    }

    /// The own ship at `at`.
    pub fn own(&self, at: Mono) -> OwnView {
        let found = self.own.position_within(at, super::settings::OWN_POSITION_NONE);
        let (position, age) = found.unzip();
        OwnView {
            position,
            age,
            grade: self.own.fix().map(|fix| fix.grade),
            cog: self.own.cog(at),
            sog: self.own.sog(at),
            heading: self.own.heading(at),
            track: self.own_track.iter().copied().collect(),
        }
    }

    fn beacon_view(&self, beacon: &Beacon, own: &OwnView, at: Mono) -> Option<BeaconView> {
        let last = beacon.last?;
        let placed = own.position.zip(beacon.position);
        let (range, bearing) = placed.map(|(own, it)| range_and_bearing(own, it)).unzip();
        let ahead = own.heading.or(own.cog);
        Some(BeaconView {
            mmsi: beacon.mmsi,
            kind: beacon.kind,
            person: beacon.person.clone(),
            mode: beacon.mode,
            casualty: beacon.is_casualty(),
            silent: beacon.silent,
            since: beacon.since.unwrap_or(last),
            last,
            position: beacon.position,
            fix_age: beacon.fix_at.map(|fix| at.since(fix)),
            range,
            bearing,
            relative: bearing.zip(ahead).map(|(bearing, ahead)| bearing.relative_to(ahead)),
            own_at_first: beacon.own_at_first,
            messages: beacon.messages,
            bursts: beacon.bursts,
            receptions: beacon.receptions.iter().copied().collect(),
            track: beacon.track.iter().copied().collect(),
            evidence: beacon.evidence(),
        })
    }
}

/// The worst first.
fn rank(mode: Option<Mode>) -> u8 {
    match mode {
        Some(Mode::Active) => 0,
        Some(Mode::ActivePresumed) => 1,
        None => 2,
        Some(Mode::TestPresumed) => 3,
        Some(Mode::Test) => 4,
        Some(Mode::Off) => 5,
    }
}
