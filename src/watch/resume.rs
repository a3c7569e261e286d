//! A watch that begins again in the middle of an emergency: what was open before goes on,
//! unacknowledged again. Where it is read from is not known here.

use super::alert::{Alert, Cause, Matter, Priority, State};
use super::beacon::Beacon;
use super::event::{AlertReport, EventBody, Known};
use super::left_open::{LeftOpen, OpenAlert, OpenBeacon};
use super::mark::Mark;
use super::settings::HAND_POSITION_LOST;
use super::{Watch, own_ship};
use crate::navigation::Position;
use crate::time::{Mono, Stamp};

impl Watch {
    /// Goes on with what a watch before this one left open: before the first input, or as soon as
    /// it can be read. What was heard since counts. What it tells is to be polled as after an input.
    pub fn resume(&mut self, left: LeftOpen, now: Stamp) {
        self.now = now;
        self.resumed = Some(now.at);
        self.wakefulness.answer(now.at);
        self.alerts.count_from(left.last_id);
        for beacon in &left.beacons {
            let joined = beacon.joined.clone();
            let about = left.alerts.iter().filter(|it| it.mmsi == Some(beacon.mmsi));
            // What was heard in this watch is newer; but whose emergency was open may have taken the
            // place of a point set by hand, and takes no other.
            if let Some(known) = self.beacons.find(beacon.mmsi) {
                let emergency = |it: &OpenAlert| it.cause == Cause::BeaconActive && !it.rectified;
                known.activity.took_point |= about.into_iter().any(emergency);
            } else if let Some(known) = self.beacons.enter(beacon.mmsi, &self.settings) {
                known.resume(beacon, &about.collect::<Vec<_>>());
            }
            if let Some(joined) = joined {
                self.resume_joined(beacon.mmsi, joined, now);
            }
        }
        for open in left.alerts {
            if !open.cause.is_about_people() {
                // What is about the watch itself is found again, or not: what was told is over.
                self.alerts.tell_again(open.id);
                self.tell(EventBody::Alert(open.over()));
                continue;
            }
            let matter = if open.cause == Cause::OverboardMarked {
                self.resume_mark(&open, now)
            } else {
                open.matter_told()
            };
            let was = open.was;
            self.alerts.put_back(open.into_alert(matter, now.at));
            if let Some(was) = was {
                self.alerts.tell_other_number(was);
            }
        }
        self.stale = true;
        self.settle();
    }
}

impl OpenAlert {
    /// What its entry says that it is about. Where an altered one names two stations, it is about
    /// the one that is told: it must not be taken for an alert of the other, should that be heard.
    fn matter_told(&self) -> Matter {
        let told = |it: &Matter| it.station().is_none_or(|mmsi| self.mmsi == Some(mmsi));
        self.matter.clone().filter(told).unwrap_or_else(|| self.matter_by_cause())
    }

    /// What an entry that does not say so is about. A crew alarm's emitter and the text of a
    /// station are not known: what comes next raises an alert of its own.
    fn matter_by_cause(&self) -> Matter {
        let call = self.mmsi;
        let text = || Matter::Text(None, self.text.clone());
        match self.cause {
            Cause::BeaconActive => call.map_or_else(text, Matter::Emergency),
            Cause::BeaconUnverified => call.map_or(Matter::TooManyBeacons, Matter::Mode),
            Cause::BeaconTest => call.map_or_else(text, Matter::Mode),
            Cause::BeaconSilent => call.map_or_else(text, Matter::Silent),
            Cause::DscDistress => Matter::Distress(call),
            Cause::DscRelay if call.is_none() => Matter::UnnamedRelay(None),
            Cause::DscRelay => Matter::Relay(call),
            Cause::DscUrgency => Matter::Urgency(call),
            Cause::DscTest => Matter::TestCall(call),
            Cause::MobNotice => Matter::Notice(Some(self.text.clone())),
            Cause::SafetyText
            | Cause::OverboardMarked
            | Cause::InputSilent
            | Cause::SetAlarm
            | Cause::ChannelSilent
            | Cause::ReachReduced
            | Cause::OwnPositionLost
            | Cause::ClockSuspect
            | Cause::LogbookFailed
            | Cause::SounderFailed
            | Cause::OutputFailed
            | Cause::WatchkeeperSilent => text(),
        }
    }

    /// That it is over.
    fn over(self) -> AlertReport {
        let Self { id, cause, priority, mmsi, text, matter, rehearsed, .. } = self;
        let (state, known) = (State::Normal, Known::default());
        AlertReport { id, cause, priority, state, mmsi, text, rehearsed, matter, known }
    }

    /// Open again, unacknowledged. What counts for some minutes and was raised longer ago is over;
    /// who did not take note still can.
    pub(super) fn into_alert(self, matter: Matter, now: Mono) -> Alert {
        let Self {
            id, cause, priority, mmsi, text, raised, sentence, place, heard, rehearsed, ..
        } = self;
        let lifetime = cause.lifetime(priority);
        let rectified = self.rectified || lifetime.is_some_and(|span| now.since(raised) >= span);
        let mut alert = Alert {
            id,
            cause,
            priority,
            state: State::Normal,
            mmsi,
            text,
            raised,
            repeats: 0,
            sentence,
            matter,
            rehearsed,
            place,
            heard,
            heard_by: None,
            silent_until: None,
            repeated_at: None,
            expires_at: lifetime.filter(|_| !rectified).map(|span| now + span),
        };
        alert.enter(now);
        if rectified {
            let cautious = priority == Priority::Caution;
            alert.state = if cautious { State::Normal } else { State::RectifiedUnacknowledged };
            alert.repeated_at = None;
        }
        alert
    }
}

impl Watch {
    /// An alert of it, as one that takes its place is told of it: with the operator's word that a
    /// point is not of the beacon that had taken its place.
    pub fn left_open(&self, alert: &Alert) -> OpenAlert {
        let its = |it: &&Mark| alert.matter == Matter::Mark(it.number);
        let joined_by = self.marks.iter().find(its).and_then(|it| it.not_of);
        OpenAlert { joined_by, ..OpenAlert::from(alert) }
    }

    /// The own position, if it was given by hand and holds yet, and when that was.
    pub fn placed_by_hand(&self) -> Option<(Position, Mono)> {
        let fix = self.own.fix().filter(|it| it.source == own_ship::BY_HAND)?;
        let holds = self.now.at.since(fix.at) < HAND_POSITION_LOST;
        holds.then_some((fix.position, fix.at))
    }

    /// The beacons that it knows, as one that takes its place is told of them.
    pub fn known_beacons(&self) -> Vec<OpenBeacon> {
        self.beacons.iter().filter_map(OpenBeacon::of).collect()
    }
}

impl OpenBeacon {
    /// `None` of one that never said what it does.
    fn of(beacon: &Beacon) -> Option<Self> {
        let last = beacon.last?;
        Some(Self {
            mmsi: beacon.mmsi,
            mode: beacon.activity.mode?,
            since: beacon.since.unwrap_or(last),
            last,
            position: beacon.position,
            fix_at: beacon.fix_at,
            own_at_first: beacon.own_at_first,
            declared: beacon.declared,
            joined: beacon.joined.as_ref().map(|it| OpenAlert::from(&it.alert)),
        })
    }
}
