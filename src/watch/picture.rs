//! What there is to see: a copy of all that a screen needs, at one moment.

use std::time::Duration;

use serde::{Serialize, Serializer};

use super::Watch;
use super::alert::{Alert, Matter};
use super::beacon::{Beacon, Reception};
use super::called::Called;
use super::casualty::{Casualty, CasualtyId};
use super::clocks::ClockView;
use super::contacts::Contact;
use super::declaration::DeclaredSafe;
use super::health::InputView;
use super::mode::Mode;
use super::mute::Muted;
use super::reach::Reach;
use super::rehearsed::Rehearsed;
use super::rescuers::{self, Helper};
use super::searching::SearchView;
use super::two_places::OtherPlace;
use super::way::made_from;
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::{
    AheadFrom, Datum, Drift, Grade, Position, Unsteerable, Variation, Velocity, Way, Wind,
    range_and_bearing,
};
use crate::time::{Mono, Stamp, seconds};
use crate::units::{Celsius, Degrees, Knots, NauticalMiles};

/// How many other stations are shown, the nearest first. Our own.
const NEAREST: usize = 32;

/// For how many casualties is reckoned who could help. Our own.
const HELPED: usize = 4;

/// The watch at one moment.
#[derive(Clone, Debug, Serialize)]
pub struct Picture {
    /// The moment.
    pub now: Stamp,
    /// Since when this watch has listened: what it knows of an earlier time is from the logbook.
    /// `None` before its first line.
    #[serde(skip)]
    pub listening_since: Option<Mono>,
    /// The open alerts, in the order they were raised.
    pub alerts: Vec<Alert>,
    /// Every beacon that matters and every point set by hand: those in danger
    /// first; the muster's before strangers'; then the nearest, then the first heard.
    pub beacons: Vec<BeaconView>,
    /// The inputs, in the order they were opened.
    pub inputs: Vec<InputView>,
    /// The own ship.
    pub own: OwnView,
    /// The computer's clock and the position receiver's.
    pub clock: ClockView,
    /// How far a beacon would be heard.
    pub reach: Reach,
    /// Whether that is much less than usual on this boat.
    pub reach_reduced: bool,
    /// What is rehearsed just now; `None` where nothing is, and as soon as anybody is in danger
    /// outside of it.
    pub rehearsed: Option<Rehearsed>,
    /// Whether somebody has taken note of an alert about people since that began.
    #[serde(skip)]
    pub rehearsal_noted: bool,
    /// How long the watchkeeper has been asked to answer, and within which time.
    #[serde(rename = "asked_for_and_within_s", serialize_with = "both_seconds")]
    pub asked: Option<(Duration, Duration)>,
    /// How many other stations were heard lately.
    pub stations: usize,
    /// The nearest of them that said where they are.
    pub nearest: Vec<ContactView>,
    /// What the operator has muted, in that order.
    #[serde(skip)]
    pub muted: Vec<Muted>,
    /// The beacons of the muster, and the ship: they never are.
    #[serde(skip)]
    pub muster: Vec<Mmsi>,
    /// Who is watched for: the beacons of the muster in the order of their numbers, and who carries
    /// each, if anybody.
    #[serde(skip)]
    pub watched: Vec<(Mmsi, Option<String>)>,
}

/// A beacon, or a point set by hand: all of it in one row, since whoever shows it picks what fits,
/// and a reader of the JSON finds each name at one level.
#[derive(Clone, Debug, Serialize)]
pub struct BeaconView {
    /// Which.
    pub id: CasualtyId,
    /// Its kind; that of a person overboard for a point set by hand.
    pub kind: BeaconKind,
    /// Whose it is.
    pub person: Option<String>,
    /// What it does; `None` if it never said.
    pub mode: Option<Mode>,
    /// Whether somebody may be in the water behind it.
    pub casualty: bool,
    /// Whether it is declared safe while the beacon goes on.
    pub declared: Option<DeclaredSafe>,
    /// Whether it has not been heard for five minutes.
    pub silent: bool,
    /// How it is rehearsed; `None` as soon as anything of it was heard really.
    pub rehearsed: Option<Rehearsed>,
    /// When it was heard first in its mode, and last.
    pub since: Stamp,
    /// When it was heard last.
    pub last: Stamp,
    /// Where it is or was.
    pub position: Option<Position>,
    /// How old that is.
    #[serde(rename = "fix_age_s", serialize_with = "seconds")]
    pub fix_age: Option<Duration>,
    /// Whether a DSC call gave the place, and no message of the beacon.
    pub fix_by_call: bool,
    /// Where it was heard too, though nobody can be at both; the place above is the later.
    pub other_place: Option<OtherPlace>,
    /// How far it is; of a silent one, how far the place is where it is reckoned to be.
    #[serde(rename = "range_nm")]
    pub range: Option<NauticalMiles>,
    /// Where that bears.
    #[serde(rename = "bearing_deg")]
    pub bearing: Option<Degrees>,
    /// The way there.
    pub way: Option<Way>,
    /// How it drifts, by its own fixes.
    pub drift: Option<Drift>,
    /// Where it is reckoned to be while it is silent, and what that is made from.
    pub datum: Option<(Datum, String)>,
    /// The search for it while it is silent.
    pub search: Option<SearchView>,
    /// Why there is none, if one of its legs could not be steered.
    pub unsteerable: Option<Unsteerable>,
    /// How near it was passed, and how long ago, until the ship closes again.
    #[serde(rename = "passed_nm_and_s_ago", serialize_with = "range_and_seconds")]
    pub passed: Option<(NauticalMiles, Duration)>,
    /// From how far off it was heard.
    #[serde(rename = "farthest_nm")]
    pub farthest: Option<NauticalMiles>,
    /// When and where somebody set the point by hand where this person went overboard.
    pub marked: Option<(Stamp, Option<Position>)>,
    /// Who could help, the first to be there first; of the first few casualties.
    pub helpers: Vec<Helper>,
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

impl BeaconView {
    /// The beacon's identity; a point set by hand has none.
    pub fn mmsi(&self) -> Option<Mmsi> {
        self.id.parts().0
    }

    /// Whether all that is known is that somebody of the crew has called by DSC.
    pub fn is_call(&self) -> bool {
        self.casualty && self.mode.is_none() && self.mmsi().is_some()
    }

    /// Where to steer for: the place where it is reckoned to be, else where it was last.
    pub fn place(&self, now: Mono) -> Option<Position> {
        self.datum.as_ref().map(|(datum, _)| datum.position_at(now)).or(self.position)
    }
}

/// The own ship.
#[derive(Clone, Debug, Default, Serialize)]
pub struct OwnView {
    /// Where she is, if known within ten minutes.
    pub position: Option<Position>,
    /// How old that is.
    #[serde(rename = "age_s", serialize_with = "seconds")]
    pub age: Option<Duration>,
    /// What kind of source it is from.
    pub grade: Option<Grade>,
    /// Course over ground.
    #[serde(rename = "cog_deg")]
    pub cog: Option<Degrees>,
    /// Speed over ground.
    #[serde(rename = "sog_kn")]
    pub sog: Option<Knots>,
    /// True heading.
    #[serde(rename = "heading_deg")]
    pub heading: Option<Degrees>,
    /// Where the bow points by the best that is known, and what that is.
    pub ahead: Option<(Degrees, AheadFrom)>,
    /// The magnetic variation.
    pub variation: Option<Variation>,
    /// The current, as heading, log and GNSS show it.
    pub current: Option<Velocity>,
    /// The true wind.
    pub wind: Option<Wind>,
    /// The temperature of the water, as measured on board.
    #[serde(rename = "water_temperature_c")]
    pub water_temperature: Option<Celsius>,
    /// Where she was, oldest first.
    pub track: Vec<Position>,
}

/// Another station.
#[derive(Clone, Debug, Serialize)]
pub struct ContactView {
    /// What is known of it.
    pub contact: Contact,
    /// How far it is.
    #[serde(rename = "range_nm")]
    pub range: NauticalMiles,
    /// Where it bears.
    #[serde(rename = "bearing_deg")]
    pub bearing: Degrees,
}

impl Watch {
    /// How the inputs do, in the order they were opened.
    pub fn inputs(&self, now: Mono) -> Vec<InputView> {
        self.inputs.views(now.max(self.now.at)).collect()
    }

    /// An alert in the words of this moment: own ship moves on after the message that raised it, and
    /// a range and a bearing with it. A beacon that is silent keeps those of its last message.
    fn told_now(&self, alert: &Alert, own: Option<Position>, at: Mono) -> Alert {
        let mut told = alert.clone();
        let is_of = |it: &&Beacon| {
            let matter =
                [Matter::Emergency(it.mmsi), Matter::Mode(it.mmsi)].contains(&alert.matter);
            matter && alert.is_active() && it.alert() == Some((alert.cause, alert.priority))
        };
        let beacon = self.beacons.iter().find(is_of);
        told.text = beacon.map_or(told.text, |it| match it.last.filter(|_| it.silent) {
            Some(last) => it.silent_text(last, own),
            None => it.alert_text(own, at),
        });
        told
    }

    /// What there is to see at `now`, which lies not before the last input.
    pub fn picture(&self, now: Stamp) -> Picture {
        let at = now.at.max(self.now.at);
        let own = self.own(at);
        let mut beacons: Vec<BeaconView> =
            self.beacons.iter().filter_map(|beacon| self.beacon_view(beacon, &own, at)).collect();
        beacons.extend(self.marks.iter().filter_map(|mark| self.casualty_view(mark, &own, at)));
        for call in self.called(now) {
            let others = beacons.iter().filter(|it| it.casualty).map(|it| (it.id, it.position));
            if !self.is_known(&call, others) {
                beacons.retain(|it| it.id != call.id());
                beacons.extend(self.call_view(&call, &own, at));
            }
        }
        beacons.sort_by(|a, b| {
            let rank = |it: &BeaconView| (rank(it), self.is_strangers(it.id));
            let range = |it: &BeaconView| it.range.map_or(f64::INFINITY, |range| range.0);
            let order = rank(a).cmp(&rank(b)).then(range(a).total_cmp(&range(b)));
            order.then(a.since.at.cmp(&b.since.at))
        });
        let present: Vec<&Contact> = self.contacts.present(at).collect();
        for casualty in beacons.iter_mut().filter(|beacon| beacon.casualty).take(HELPED) {
            let Some(place) = casualty.place(at) else { continue };
            let drift = casualty.datum.as_ref().map(|(datum, _)| datum.velocity);
            let drift = drift.or(casualty.drift.map(|drift| drift.velocity));
            let place = (place, drift.unwrap_or(Velocity::STILL));
            let ours = (self.settings.own_mmsi, own.position);
            casualty.helpers = rescuers::near(present.iter().copied(), place, ours, at);
        }
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
            listening_since: self.resumed.into_iter().chain(self.first.map(|it| it.at)).min(),
            now,
            alerts: self
                .alerts
                .open()
                .iter()
                .map(|it| self.told_now(it, own.position, at))
                .collect(),
            beacons,
            inputs: self.inputs(at),
            own,
            reach: self.reach.now(at),
            reach_reduced: self.reach.reduced().is_some(),
            rehearsed: self.rehearsal(at),
            rehearsal_noted: self.rehearsal_noted,
            clock: self.clocks.view(at),
            asked: self
                .wakefulness
                .asked_for(at, self.settings.asking)
                .zip(self.settings.asking.map(|asking| asking.answer_within)),
            stations: present.len(),
            nearest,
            muted: self.muted.clone(),
            muster: self.settings.ours().collect(),
            watched: self.watched(),
        }
    }

    fn watched(&self) -> Vec<(Mmsi, Option<String>)> {
        let muster = self.settings.muster.iter();
        let mut watched: Vec<_> = muster.map(|(mmsi, who)| (*mmsi, who.clone())).collect();
        watched.sort_by_key(|(mmsi, _)| *mmsi);
        watched
    }

    /// Whether it is nobody's of the muster; a point set by hand is about one of the crew.
    pub(super) fn is_strangers(&self, id: CasualtyId) -> bool {
        id.parts().0.is_some_and(|mmsi| !self.settings.is_ours(mmsi))
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
            ahead: self.own.ahead(at),
            variation: self.own.variation(at),
            current: self.own.current(at),
            wind: self.own.wind(at),
            water_temperature: self.own.water_temperature(at),
            track: self.own_track.iter().copied().collect(),
        }
    }

    /// A casualty as it is seen; `None` if it was never heard.
    fn casualty_view(&self, it: &dyn Casualty, own: &OwnView, at: Mono) -> Option<BeaconView> {
        let (since, last) = it.heard()?;
        let trail = it.trail();
        let weather = (own.wind, own.current);
        let datum = trail.datum.map(|datum| (datum, made_from(&datum, trail, weather)));
        let place = datum.as_ref().map(|(datum, _)| datum.position_at(at)).or(it.position());
        let placed = own.position.zip(place);
        let (range, bearing) = placed.map(|(own, it)| range_and_bearing(own, it)).unzip();
        Some(BeaconView {
            id: it.id(),
            kind: BeaconKind::Mob,
            person: None,
            mode: None,
            casualty: it.is_casualty(),
            declared: None,
            silent: false,
            rehearsed: None,
            since,
            last,
            position: it.position(),
            fix_age: it.fix_at().map(|fix| at.since(fix)),
            fix_by_call: false,
            other_place: None,
            range,
            bearing,
            way: self.way_to(it, at),
            drift: trail.drift(),
            datum,
            search: trail.search_view(own.position, at, &self.conditions()),
            unsteerable: trail.unsteerable,
            passed: trail.passing.passed.map(|(range, noticed)| (range, at.since(noticed))),
            farthest: trail.farthest,
            marked: Some((since, it.position())),
            helpers: Vec::new(),
            own_at_first: it.position(),
            messages: 0,
            bursts: 0,
            receptions: Vec::new(),
            track: it.position().into_iter().collect(),
            evidence: Vec::new(),
        })
    }

    fn call_view(&self, call: &Called, own: &OwnView, at: Mono) -> Option<BeaconView> {
        let view = self.casualty_view(call, own, at)?;
        let person = self.settings.muster.get(&view.mmsi()?).cloned().flatten();
        let (marked, own_at_first) = (None, None);
        Some(BeaconView {
            person,
            marked,
            own_at_first,
            fix_by_call: true,
            evidence: vec!["DSC distress, man overboard".to_owned()],
            ..view
        })
    }

    fn beacon_view(&self, beacon: &Beacon, own: &OwnView, at: Mono) -> Option<BeaconView> {
        Some(BeaconView {
            kind: beacon.kind,
            person: beacon.person.clone(),
            mode: beacon.activity.mode,
            declared: beacon.declared_safe(at),
            silent: beacon.silent,
            fix_by_call: beacon.placed_by_call,
            rehearsed: beacon.origin.rehearsed(),
            other_place: beacon.two_places.other(beacon.position, at),
            marked: beacon.joined.as_ref().map(|it| (it.mark.at, it.mark.position)),
            own_at_first: beacon.own_at_first,
            messages: beacon.messages,
            bursts: beacon.bursts,
            receptions: beacon.receptions.iter().copied().collect(),
            track: beacon.track.iter().copied().collect(),
            evidence: beacon.evidence(),
            ..self.casualty_view(beacon, own, at)?
        })
    }
}

/// How long the watchkeeper has been asked and within which time to answer, in seconds.
fn both_seconds<S: Serializer>(
    asked: &Option<(Duration, Duration)>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    asked.map(|(asked, within)| (asked.as_secs_f64(), within.as_secs_f64())).serialize(serializer)
}

/// How near it was passed and how many seconds ago.
fn range_and_seconds<S: Serializer>(
    passed: &Option<(NauticalMiles, Duration)>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    passed.map(|(range, ago)| (range, ago.as_secs_f64())).serialize(serializer)
}

/// Those in danger first; of the others, the worst.
fn rank(beacon: &BeaconView) -> u8 {
    match beacon.mode {
        _ if beacon.casualty => 0,
        Some(Mode::Active | Mode::ActivePresumed) => 1,
        None => 2,
        Some(Mode::TestPresumed) => 3,
        Some(Mode::Test) => 4,
        Some(Mode::Off) => 5,
    }
}
