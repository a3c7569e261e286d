//! One survivor beacon: what was heard of it, and what of that is to be raised and shown.

use std::collections::VecDeque;

use serde::Serialize;

use super::activity::{Activity, Evidence};
use super::alert::{Alert, Cause, Priority};
use super::casualty::{Casualty, CasualtyId};
use super::declaration::Declaration;
use super::hearers::Hearers;
use super::left_open::{OpenAlert, OpenBeacon};
use super::levels::Level;
use super::mark::{Joined, Mark};
use super::mode::Mode;
use super::rehearsed::Origin;
use super::settings::SELF_TEST_LONGEST;
use super::trail::Trail;
use super::two_places::TwoPlaces;
use crate::beacon::{self, ANOTHER_BURST, SILENCE};
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::{Position, range_and_bearing};
use crate::time::{Mono, Stamp};
use crate::units::NauticalMiles;
use crate::wire::ais::{BeaconWord, PositionReport};

/// One transmission of a beacon, as it is shown.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Reception {
    /// When it came in.
    #[serde(rename = "at_s")]
    pub at: Mono,
    /// `A` or `B`, as far as the receiver tells.
    pub channel: Option<char>,
    /// The word of a text, `None` for a position report or a text without one.
    pub word: Option<BeaconWord>,
    /// With what signal, if a receiver tells.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub level: Option<Level>,
}

/// How many receptions are kept: twenty minutes of eight a minute. Our own.
const RECEPTIONS_LIMIT: usize = 20 * beacon::MESSAGES;

/// How many places of its way are kept: one a minute for three hours. Our own.
const TRACK_LIMIT: usize = 180;

/// What hearing a message changed.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct MessageEffect {
    pub first: bool,
    /// After more than five minutes of nothing.
    pub again: bool,
    /// Switched on anew, so far as can be heard: the first after a gap, with nobody in danger.
    pub anew: bool,
    pub mode_changed: bool,
    /// The message said that it is over.
    pub off: bool,
    pub new_burst: bool,
    pub first_position: bool,
}

/// A beacon that was heard.
#[derive(Debug)]
pub(super) struct Beacon {
    pub mmsi: Mmsi,
    pub kind: BeaconKind,
    pub person: Option<String>,
    pub in_muster: bool,
    /// What it does.
    pub activity: Activity,
    pub messages: u32,
    pub bursts: u32,
    pub last: Option<Stamp>,
    pub position: Option<Position>,
    /// When the last position that was fresh came in.
    pub fix_at: Option<Mono>,
    /// Heard first in its present mode.
    pub since: Option<Stamp>,
    /// Where the ship was when it was heard first.
    pub own_at_first: Option<Position>,
    pub receptions: VecDeque<Reception>,
    /// Where it was, one place a burst.
    pub track: VecDeque<Position>,
    /// Where it goes.
    pub trail: Trail,
    /// The point set by hand that it is taken for.
    pub joined: Option<Joined>,
    /// The position is a DSC call's, not the beacon's own.
    pub placed_by_call: bool,
    /// The position is the last that the beacon knew before it lost its fix.
    fix_lost: bool,
    /// Where it was heard too, though nobody can be at both.
    pub two_places: TwoPlaces,
    /// The Cospas-Sarsat identity of an EPIRB-AIS, as sent.
    other_identity: Option<String>,
    pub silent: bool,
    /// Whether it is rehearsed.
    pub origin: Origin,
    /// The operator's word that it is over, while the beacon goes on and nothing worse is heard.
    pub declared: Option<Declaration>,
    /// The operator has muted it, or all that has heard it.
    pub muted: bool,
    /// Who has heard it since it was switched on.
    pub hearers: Hearers,
    burst_began: Mono,
}

impl Beacon {
    pub(super) fn new(mmsi: Mmsi, kind: BeaconKind, muster: Option<&Option<String>>) -> Self {
        Self {
            mmsi,
            kind,
            person: muster.cloned().flatten(),
            in_muster: muster.is_some(),
            activity: Activity::default(),
            messages: 0,
            bursts: 0,
            last: None,
            position: None,
            fix_at: None,
            since: None,
            own_at_first: None,
            receptions: VecDeque::new(),
            track: VecDeque::new(),
            trail: Trail::default(),
            joined: None,
            placed_by_call: false,
            fix_lost: false,
            two_places: TwoPlaces::default(),
            other_identity: None,
            silent: false,
            origin: Origin::default(),
            declared: None,
            muted: false,
            hearers: Hearers::default(),
            burst_began: Mono::START,
        }
    }

    /// Takes a transmission: counts it and judges its evidence.
    pub(super) fn hear(&mut self, evidence: Evidence, now: Stamp) -> MessageEffect {
        let quiet = self.last.map(|last| now.at.since(last.at));
        let again = self.silent || quiet.is_some_and(|quiet| quiet > SILENCE);
        let first = self.messages == 0;
        let anew = quiet.is_some_and(|quiet| quiet > SELF_TEST_LONGEST) && !self.may_be_active();
        if anew {
            self.forget_way();
            self.hearers = Hearers::default();
        }
        let new_burst = first || now.at.since(self.burst_began) > ANOTHER_BURST;
        if new_burst {
            self.bursts += 1;
            self.burst_began = now.at;
        }
        self.messages += 1;
        self.last = Some(now);
        if again && self.is_declared() {
            // The operator ended what went before: what comes now is judged afresh.
            self.declared = None;
            self.activity.begin_afresh();
        }
        self.silent = false;
        self.trail.found();
        let (before, priority) = (self.activity.mode, self.priority());
        self.activity.judge(evidence, now.at);
        let mode_changed = self.activity.mode != before;
        let worse = self.priority() > priority;
        if (mode_changed || worse) && self.declared.take().is_some() {
            // What was ACTIVE before the operator's word is over with it.
            self.activity.in_danger = self.is_active();
        }
        if mode_changed {
            self.since = Some(now);
        }
        MessageEffect {
            first: first || before.is_none(),
            anew,
            again,
            mode_changed,
            off: matches!(evidence, Evidence::Word(BeaconWord::Off | BeaconWord::Cancel)),
            new_burst,
            first_position: false,
        }
    }

    /// It was switched on anew, and nobody was in danger before: where it was then, in a test or
    /// before it was switched off, is no place of the person's now. What a call told since is.
    fn forget_way(&mut self) {
        if !self.placed_by_call {
            (self.position, self.fix_at) = (None, None);
        }
        (self.trail, self.two_places) = (Trail::default(), TwoPlaces::default());
        self.fix_lost = false;
        self.track.clear();
        if self.joined.is_none() {
            self.own_at_first = None;
        }
    }

    /// Another message type in this name: a reason to look, not evidence of a mode.
    pub(super) fn misuse(&mut self, kind: u8) {
        let priority = self.priority();
        self.activity.misused = true;
        if self.priority() > priority {
            self.declared = None;
        }
        self.activity.note(format!("message {kind}, which no beacon sends"));
    }

    /// Takes the place a position report gives. Whether it is the first.
    ///
    /// The age counts from the last report whose UTC second was 0 to 59. 63 repeats the last known
    /// position of a beacon that lost its fix (EN 303 098, 5.2.2.1).
    pub(super) fn place(&mut self, report: &PositionReport, now: Mono) -> bool {
        let Some(position) = report.position() else { return false };
        let first = self.position.is_none() || self.placed_by_call;
        if let Some(before) = self.position.filter(|_| !first) {
            let then = self.fix_at.unwrap_or(now);
            self.two_places.note((before, then), (position, now));
        }
        self.position = Some(position);
        self.placed_by_call = false;
        self.fix_lost = report.utc_second == 63;
        if report.utc_second < 60 {
            self.fix_at = Some(now);
            self.trail.fixes.note(now, position);
        } else if first {
            self.fix_at = None;
        }
        first
    }

    /// Keeps for the eye that and where it was heard.
    pub(super) fn remember(
        &mut self,
        reception: Reception,
        own: Option<Position>,
        heard: MessageEffect,
    ) {
        self.since = self.since.or(self.last);
        if heard.first || heard.anew {
            // What is known from before a restart stays.
            self.own_at_first = self.own_at_first.or(own);
        }
        if self.receptions.len() >= RECEPTIONS_LIMIT {
            self.receptions.pop_front();
        }
        self.receptions.push_back(reception);
        let Some(position) = self.position else { return };
        if let Some(own) = own {
            let range = range_and_bearing(own, position).0;
            let farthest = self.trail.farthest.map_or(range.0, |before| before.0.max(range.0));
            self.trail.farthest = Some(NauticalMiles(farthest));
        }
        if heard.new_burst || heard.first_position {
            if self.track.len() >= TRACK_LIMIT {
                self.track.pop_front();
            }
            self.track.push_back(position);
        }
    }

    /// Takes the place a DSC call gives, which is coarser, if the beacon gave none itself.
    pub(super) fn place_by_call(&mut self, position: Position, at: Mono) {
        let heard_lately = self.last.is_some_and(|last| at.since(last.at) <= SELF_TEST_LONGEST);
        let of_before = !heard_lately && !self.may_be_active();
        if self.position.is_none() || self.placed_by_call || of_before {
            self.position = Some(position);
            self.placed_by_call = true;
            self.fix_at = Some(at);
        }
    }

    /// A DSC cancel in its name, which ends what went before like an OFF text.
    pub(super) fn cancel(&mut self, now: Mono) {
        self.activity.judge(Evidence::Word(BeaconWord::Cancel), now);
    }

    /// Keeps the other identity of an EPIRB-AIS.
    pub(super) fn identify(&mut self, other: &str) {
        self.other_identity = Some(other.to_owned());
    }

    /// What the mode and the position rest on, in short words.
    pub(super) fn evidence(&self) -> Vec<String> {
        let fix_lost = self.fix_lost.then(|| "its position is the last it knew".to_owned());
        let other = self.other_identity.as_ref().map(|other| format!("identity {other}"));
        let two = self.last.and_then(|last| self.two_places.other(self.position, last.at));
        let two = two.map(|other| other.words());
        self.activity.notes.iter().cloned().chain(two).chain(fix_lost).chain(other).collect()
    }

    /// The alert its mode calls for.
    pub(super) fn alert(&self) -> Option<(Cause, Priority)> {
        let unverified = |priority| Some((Cause::BeaconUnverified, priority));
        match self.activity.mode {
            Some(Mode::Active) => Some((Cause::BeaconActive, Priority::EmergencyAlarm)),
            _ if self.activity.prolonged => unverified(Priority::Alarm),
            Some(Mode::ActivePresumed) if self.in_muster || self.activity.damaged_text => {
                unverified(Priority::Alarm)
            }
            Some(Mode::ActivePresumed | Mode::TestPresumed) => unverified(Priority::Warning),
            _ if self.activity.misused => unverified(Priority::Warning),
            Some(Mode::Test) => Some((Cause::BeaconTest, Priority::Caution)),
            // An EPIRB-AIS that sent its other identity and no word yet.
            None if self.messages > 0 => unverified(Priority::Warning),
            Some(Mode::Off) | None => None,
        }
    }

    /// Whether it says ACTIVE.
    pub(super) fn is_active(&self) -> bool {
        self.activity.mode == Some(Mode::Active)
    }

    /// Whether somebody may be in the water behind it, whatever the operator says.
    pub(super) fn may_be_active(&self) -> bool {
        let in_doubt = matches!(self.activity.mode, Some(Mode::Active | Mode::ActivePresumed));
        in_doubt || self.activity.prolonged || self.activity.in_danger
    }

    fn priority(&self) -> Option<Priority> {
        self.alert().map(|(_, priority)| priority)
    }

    /// When it will be silent, if it counts and is not yet.
    pub(super) fn silent_at(&self) -> Option<Mono> {
        let last = self.last?.at;
        (self.is_casualty() && !self.silent).then(|| last + SILENCE)
    }

    /// Somebody had set the point by hand where this person went overboard.
    pub(super) fn join(&mut self, mark: Mark, alert: Alert) {
        let own_at_first = self.own_at_first;
        self.own_at_first = mark.position.or(own_at_first);
        self.activity.note(mark.words());
        self.joined = Some(Joined { mark, alert, own_at_first });
    }

    /// That was another person.
    pub(super) fn part(&mut self) -> Option<Joined> {
        let joined = self.joined.take()?;
        self.own_at_first = joined.own_at_first;
        let words = joined.mark.words();
        self.activity.notes.retain(|note| *note != words);
        Some(joined)
    }

    /// Takes what the muster says of it.
    pub(super) fn set_holder(&mut self, muster: Option<&Option<String>>) {
        self.person = muster.cloned().flatten();
        self.in_muster = muster.is_some();
    }

    /// Goes on with what was heard before a restart, `alerts` about it being open. One that was
    /// ACTIVE without an emergency any more is judged afresh.
    pub(super) fn resume(&mut self, open: &OpenBeacon, alerts: &[&OpenAlert]) {
        // What was over is not taken up again, though nobody has taken note.
        let goes_on = |it: &&&OpenAlert| !it.rectified;
        let find = |cause| alerts.iter().filter(goes_on).find(move |it| it.cause == cause);
        let over = alerts.iter().filter(goes_on).all(|it| it.priority < Priority::EmergencyAlarm);
        // Its emergency is open, whatever it said since.
        let raised = find(Cause::BeaconActive).map(|it| it.raised);
        let prolonged =
            find(Cause::BeaconUnverified).is_some_and(|it| it.priority >= Priority::Alarm);
        self.declared = open.declared.filter(|_| !alerts.iter().any(|it| goes_on(&it)));
        self.activity.resume(open, over && self.declared.is_none(), raised, prolonged);
        self.silent = find(Cause::BeaconSilent).is_some();
        (self.since, self.last) = (Some(open.since), Some(open.last));
        (self.position, self.fix_at) = (open.position, open.fix_at);
        self.own_at_first = open.own_at_first;
        alerts.iter().for_each(|it| self.origin.on_line(it.rehearsed));
        self.track.extend(open.position);
        self.activity.note("known from the logbook".to_owned());
    }

    /// What a person calls it: the holder, else kind and identity.
    pub(super) fn name(&self) -> String {
        match &self.person {
            Some(person) => format!("{person} ({})", self.mmsi),
            None => format!("{} {}", self.kind, self.mmsi),
        }
    }

    /// Who it is and what the beacon does, to be read aloud.
    pub(super) fn sentence(&self) -> String {
        let does = match self.activity.mode {
            Some(Mode::Active) => "beacon ACTIVE",
            _ if self.activity.prolonged => "status 15 for longer than a self-test takes",
            Some(Mode::ActivePresumed) => "beacon heard, not clear if active or test",
            Some(Mode::TestPresumed) => "beacon heard, probably a test",
            _ if self.activity.misused => "identity heard, not behaving like a beacon",
            Some(Mode::Test) => "beacon TEST",
            Some(Mode::Off) => "beacon switched off",
            None => "beacon heard, nothing said yet",
        };
        format!("{}: {does}", self.name())
    }
}

impl Casualty for Beacon {
    fn id(&self) -> CasualtyId {
        CasualtyId::Beacon(self.mmsi)
    }

    fn trail(&self) -> &Trail {
        &self.trail
    }

    fn trail_mut(&mut self) -> &mut Trail {
        &mut self.trail
    }

    fn position(&self) -> Option<Position> {
        self.position
    }

    fn fix_at(&self) -> Option<Mono> {
        self.fix_at
    }

    fn heard(&self) -> Option<(Stamp, Stamp)> {
        let last = self.last?;
        Some((self.since.unwrap_or(last), last))
    }

    fn is_casualty(&self) -> bool {
        self.may_be_active() && !self.is_declared() && !self.muted
    }

    fn unheard_since(&self) -> Option<Mono> {
        let last = self.last.filter(|_| self.silent)?;
        Some(last.at + SILENCE)
    }

    fn searched_from(&self) -> Option<Mono> {
        self.unheard_since()
    }
}
