//! What the watch does with the messages of survivor beacons.

use super::Watch;
use super::activity::Evidence;
use super::alert::{Alert, Cause, Matter, Priority};
use super::alerts::Raise;
use super::beacon::{Beacon, MessageEffect, Reception};
use super::casualty::Casualty as _;
use super::event::{BeaconReport, BeaconUpdate, EventBody};
use super::received::{Signal, Statement};
use super::rehearsed::Origin;
use super::settings::BEACONS_LIMIT;
use super::words::whereabouts;
use crate::beacon::SILENCE;
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::range_and_bearing;
use crate::time::rounded_up;
use crate::wire::ais::{Body, Message};
use crate::wire::{AisReport, InputId};

impl Watch {
    /// Takes a message in a survivor beacon's name.
    pub(super) fn on_beacon(&mut self, input: InputId, kind: BeaconKind, report: &AisReport) {
        let AisReport { channel, ref message, .. } = *report;
        let Message { mmsi, ref body, kind: message_type, .. } = *message;
        let own = self.own_position().0;
        let evidence = match body {
            Body::Position(report) => Evidence::Status(report.nav_status),
            Body::SafetyText(text) => Evidence::of_text(kind, &text.text, text.word()),
            _ if self.decoder.is_nonsense() => return,
            _ => Evidence::OtherType,
        };
        let (heard_at, late) = (self.counts_from(), self.late().is_some());
        if self.is_heard_twice(self.decoder.digest(), input) {
            self.heard_also(mmsi, input);
            self.note_hearer(mmsi, input);
            return;
        }
        if !late {
            self.receive(|| {
                let statement = Statement::of(body, message_type);
                Signal::Beacon { mmsi, channel, statement }
            });
        }
        if self.beacons.enter(mmsi, &self.settings).is_none() {
            self.tell_of_flood();
            return;
        }
        if !self.note_origin(mmsi) {
            return;
        }
        self.mute_heard(mmsi, input);
        let Some(beacon) = self.beacons.find(mmsi) else { return };
        if evidence == Evidence::OtherType {
            beacon.misuse(message_type);
            self.alert_beacon(mmsi, MessageEffect::default());
            return;
        }
        if late && beacon.knows_better_than(heard_at.at) {
            let effect = self.hear_overtaken(mmsi, evidence, body, heard_at);
            self.note_hearer(mmsi, input);
            if effect.mode_changed || effect.first_position {
                self.alert_beacon(mmsi, effect);
                self.tell_of_beacon(mmsi, effect);
            }
            return;
        }
        let mut heard = match late {
            true => beacon.hear_late(evidence, heard_at, self.now.at),
            false => beacon.hear(evidence, heard_at),
        };
        beacon.hearers.note(input, self.relayed.is_some());
        if !beacon.silent {
            self.alerts.rectify(&Matter::Silent(mmsi));
        }
        match body {
            Body::Position(report) if beacon.fix_at.is_none_or(|fix| fix <= heard_at.at) => {
                heard.first_position = beacon.place(report, heard_at.at);
                beacon
                    .activity
                    .note(format!("message {message_type}, status {}", report.nav_status));
            }
            Body::SafetyText(text) if evidence == Evidence::HexIdentity => {
                beacon.identify(&text.text);
            }
            Body::SafetyText(text) => beacon.activity.note(format!("text \"{}\"", &*text.text)),
            _ => {}
        }
        let word = match evidence {
            Evidence::Word(word) => Some(word),
            _ => None,
        };
        // Where the ship was then is another matter.
        let (own, at) = (own.filter(|_| !late), heard_at.at);
        beacon.remember(Reception { at, channel, word, level: None }, own, heard);
        self.review_declared();
        self.join_mark(mmsi);
        self.alert_beacon(mmsi, heard);
        self.tell_of_beacon(mmsi, heard);
    }

    /// Raises what the beacon's mode calls for, and ends what it no longer does. An emergency that
    /// is open is ended by OFF or CANCEL alone.
    pub(super) fn alert_beacon(&mut self, mmsi: Mmsi, heard: MessageEffect) {
        let (own, now) = (self.own_position().0, self.now.at);
        // It may be silent, or have a datum, at another time now.
        self.stale = true;
        let Some(beacon) = self.beacons.find(mmsi) else { return };
        if heard.off {
            self.rectify_casualty(mmsi);
            return;
        }
        if heard.mode_changed {
            self.alerts.end(&Matter::Mode(mmsi));
        }
        if let Some((cause, priority)) =
            beacon.alert().filter(|_| !beacon.is_declared() && !beacon.muted)
        {
            let emergency = cause == Cause::BeaconActive;
            let matter = if emergency { Matter::Emergency(mmsi) } else { Matter::Mode(mmsi) };
            let text = beacon.alert_text(own, now);
            let rehearsed = beacon.origin.rehearsed().is_some();
            let noted = self.alerts.get(&Matter::Distress(Some(mmsi))).is_some_and(|call| {
                call.state == super::State::ActiveAcknowledged
                    && (call.rehearsed.is_none() || rehearsed)
            });
            let acknowledged = emergency && noted;
            let (mmsi_of, place) = (Some(mmsi), None);
            let raise = Raise { matter, cause, priority, mmsi: mmsi_of, text, place, acknowledged };
            self.raise(raise);
            self.alerts.give_way_to_beacon(mmsi);
            self.review_own_position();
        }
    }

    fn tell_of_beacon(&mut self, mmsi: Mmsi, heard: MessageEffect) {
        let Some(report) = self.report(mmsi) else { return };
        if heard.first || heard.again || heard.mode_changed {
            self.tell(EventBody::BeaconHeard(report));
        } else if heard.new_burst || heard.first_position {
            let counts = self.beacons.find(mmsi).map(|beacon| (beacon.messages, beacon.bursts));
            let (messages_heard, bursts_heard) = counts.unwrap_or_default();
            self.tell(EventBody::BeaconUpdate(BeaconUpdate {
                beacon: report,
                messages_heard,
                bursts_heard,
                way: self.report_way(mmsi),
            }));
        }
    }

    /// The beacon as it is now; `None` while it has no mode.
    fn report(&mut self, mmsi: Mmsi) -> Option<BeaconReport> {
        let now = self.now.at;
        let (own, own_age_s) = self.own_position();
        let heard_ago_s = self.late().map(|ago| rounded_up(ago, 1));
        let beacon = self.beacons.find(mmsi)?;
        let hearers = beacon.hearers.words(|input| self.inputs.name(input));
        let (range_nm, bearing_deg) =
            own.zip(beacon.position).map(|(own, it)| range_and_bearing(own, it)).unzip();
        Some(BeaconReport {
            mmsi,
            kind: beacon.kind,
            mode: beacon.activity.mode?,
            person: beacon.person.clone(),
            position: beacon.position,
            fix_age_s: beacon.fix_at.map(|at| rounded_up(now.since(at), 1)),
            range_nm,
            bearing_deg,
            own,
            own_age_s,
            evidence: beacon.evidence().into_iter().chain(hearers).collect(),
            heard_ago_s,
            rehearsed: beacon.origin.rehearsed(),
        })
    }

    /// Beacons that have fallen silent by now.
    pub(super) fn beacons_due(&mut self) {
        let now = self.now.at;
        let own = self.own_position().0;
        let mut fallen = Vec::new();
        for beacon in self.beacons.iter_mut() {
            let (Some(due), Some(last)) = (beacon.silent_at(), beacon.last) else { continue };
            if due > now {
                continue;
            }
            beacon.silent = true;
            let (mmsi, position) = (beacon.mmsi, beacon.position);
            let fix_age_s = beacon.fix_at.map(|at| rounded_up(now.since(at), 1));
            let text = format!(
                "{} not heard since {}, last known {}",
                beacon.name(),
                last.utc.clock(),
                whereabouts(position, own)
            );
            fallen.push((text, mmsi, last.utc, position, fix_age_s));
        }
        for (text, mmsi, last_heard, position, fix_age_s) in fallen {
            self.raise(Raise {
                matter: Matter::Silent(mmsi),
                cause: Cause::BeaconSilent,
                priority: Priority::Warning,
                mmsi: Some(mmsi),
                text,
                place: None,
                acknowledged: false,
            });
            self.tell(EventBody::BeaconSilent { mmsi, last_heard, position, fix_age_s });
        }
        self.datums_due();
    }

    /// OFF, CANCEL or a DSC cancel: the incident is over, and who has not taken note still can.
    pub(super) fn rectify_casualty(&mut self, mmsi: Mmsi) {
        for key in Matter::of_incident(mmsi) {
            self.alerts.rectify(&key);
        }
        // What is rehearsed ends nothing real.
        let stands = self.alerts.get(&Matter::Emergency(mmsi)).is_some_and(Alert::is_active);
        if let Some(beacon) = self.beacons.find(mmsi) {
            beacon.activity.in_danger &= stands;
        }
    }

    /// The operator says that an alert about a casualty is over, and with it the incident; but a
    /// lesser one takes no emergency with it.
    pub(super) fn resolve_with(&mut self, resolved: &Matter, mmsi: Mmsi) {
        let emergency = [Matter::Emergency(mmsi), Matter::Distress(Some(mmsi))]
            .into_iter()
            .filter_map(|key| self.alerts.get(&key))
            .map(Alert::is_active)
            .reduce(|one, other| one || other);
        match (resolved, emergency) {
            (Matter::Emergency(_) | Matter::Distress(_), _) | (Matter::Mode(_), None) => {
                self.resolve_casualty(mmsi);
            }
            (Matter::Mode(_), Some(false)) => self.declare_safe(mmsi),
            // Nobody is safe of whom an emergency goes on.
            _ => {}
        }
    }

    /// The operator says that the incident is over: all that is open of it ends.
    fn resolve_casualty(&mut self, mmsi: Mmsi) {
        self.declare_safe(mmsi);
        for key in Matter::of_incident(mmsi) {
            self.alerts.end(&key);
        }
    }

    fn tell_of_flood(&mut self) {
        self.raise(Raise {
            matter: Matter::TooManyBeacons,
            cause: Cause::BeaconUnverified,
            priority: Priority::Warning,
            mmsi: None,
            text: format!(
                "More than {BEACONS_LIMIT} beacon identities: the muster's and the first are kept, others are not followed"
            ),
            place: None,
            acknowledged: false,
        });
    }

    /// A line tells of a beacon. What was rehearsed of it is forgotten with the first that is real,
    /// and what was real and is over with one that is rehearsed. Whether the line counts: no
    /// rehearsal ends anything of somebody who is in danger really, nor moves anybody.
    pub(super) fn note_origin(&mut self, mmsi: Mmsi) -> bool {
        let (rehearsed, now) = (self.alerts.rehearsed, self.now.at);
        let Some(beacon) = self.beacons.find(mmsi) else { return true };
        let before = beacon.origin;
        if rehearsed.is_some() && before.is_real() {
            if beacon.is_casualty() || beacon.declared.is_some() {
                return false;
            }
            if beacon.last.is_none_or(|last| now.since(last.at) <= SILENCE) {
                return true;
            }
            beacon.origin = Origin::default();
        }
        beacon.origin.on_line(rehearsed);
        if before != Origin::default() && before.is_real() != beacon.origin.is_real() {
            let (origin, muster) = (beacon.origin, self.settings.muster.get(&mmsi));
            *beacon = Beacon::new(mmsi, beacon.kind, muster);
            beacon.origin = origin;
            for matter in Matter::of_incident(mmsi) {
                let unreal = self.alerts.get(&matter).is_some_and(|it| it.rehearsed.is_some());
                if unreal {
                    self.alerts.end(&matter);
                }
            }
        }
        true
    }
}
