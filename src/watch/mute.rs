//! What the operator does not want to sound any more: identities and inputs that lie. They are heard,
//! told of and counted as before, and raise no alert.
//!
//! *Invariant:* nothing of the muster is ever muted, by whichever input it comes; nor a crew alarm
//! on board. What another input hears too is not muted with an input. A restart ends it all.

use super::Watch;
use super::alert::{Alert, Matter};
use super::alerts::Raise;
use super::beacon::MessageEffect;
use super::casualty::Casualty;
use crate::mmsi::Mmsi;
use crate::wire::InputId;

/// What is muted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Muted {
    /// All alerts about this identity, which is none of the muster.
    Station(Mmsi),
    /// All alerts about identities outside the muster that this input alone has heard.
    Input(InputId),
}

impl Muted {
    /// How many identities are muted at most: who would have to mute more one by one is in a flood,
    /// and mutes the input. Our own.
    pub const STATIONS_LIMIT: usize = 32;
}

impl Watch {
    /// Whether this may be muted: it is known, none of the muster, and not one too many.
    pub fn may_mute(&self, what: Muted) -> bool {
        let stations = self.muted.iter().filter(|it| matches!(it, Muted::Station(_))).count();
        !self.muted.contains(&what)
            && match what {
                Muted::Station(mmsi) => {
                    !self.settings.is_ours(mmsi) && stations < Muted::STATIONS_LIMIT
                }
                Muted::Input(input) => self.inputs.name(input).is_some(),
            }
    }

    /// What is muted, in that order.
    pub fn muted(&self) -> &[Muted] {
        &self.muted
    }

    /// What a person calls it; `None` of an input that is not known.
    pub fn muted_name(&self, what: Muted) -> Option<String> {
        match what {
            Muted::Station(mmsi) => Some(mmsi.to_string()),
            Muted::Input(input) => Some(format!("input {}", self.inputs.name(input)?)),
        }
    }

    /// What is open of it ends, as if it were declared over.
    pub(super) fn mute(&mut self, what: Muted) {
        if !self.may_mute(what) {
            return;
        }
        self.muted.push(what);
        let open = self.alerts.open().iter().filter(|alert| {
            let theirs = match what {
                Muted::Station(mmsi) => alert.mmsi == Some(mmsi),
                Muted::Input(input) => alert.heard_by == Some(input),
            };
            theirs && can_be_muted(&alert.matter, |mmsi| self.settings.is_ours(mmsi))
        });
        let ended: Vec<(Matter, Option<Mmsi>)> =
            open.map(|alert| (alert.matter.clone(), alert.mmsi)).collect();
        if let Muted::Station(mmsi) = what {
            self.mute_beacon(mmsi);
        }
        for (matter, mmsi) in ended {
            self.alerts.end(&matter);
            mmsi.into_iter().for_each(|mmsi| self.mute_beacon(mmsi));
        }
    }

    fn mute_beacon(&mut self, mmsi: Mmsi) {
        if let Some(beacon) = self.beacons.find(mmsi).filter(|beacon| !beacon.in_muster) {
            beacon.muted = true;
        }
    }

    /// Hears again all that is muted and that `of` is true for, and raises what there is to raise.
    pub(super) fn unmute(&mut self, of: impl Fn(Muted) -> bool) {
        if self.muted.extract_if(.., |it| of(*it)).count() == 0 {
            return;
        }
        let stations = self.muted.clone();
        let by_input = self.muted.iter().any(|it| matches!(it, Muted::Input(_)));
        let still = |mmsi| by_input || stations.contains(&Muted::Station(mmsi));
        let heard = self.beacons.iter().filter(|beacon| beacon.muted);
        let again = heard.filter(|beacon| beacon.in_muster || !still(beacon.mmsi));
        for mmsi in again.map(|beacon| beacon.mmsi).collect::<Vec<_>>() {
            self.hear_again(mmsi);
        }
    }

    /// A beacon that was muted is not any more.
    fn hear_again(&mut self, mmsi: Mmsi) {
        if let Some(beacon) = self.beacons.find(mmsi) {
            beacon.muted = false;
            self.alert_beacon(mmsi, MessageEffect::default());
        }
    }

    /// Nothing of the muster is muted.
    pub(super) fn unmute_muster(&mut self) {
        let settings = self.settings.clone();
        self.unmute(|it| matches!(it, Muted::Station(mmsi) if settings.is_ours(mmsi)));
        let in_muster = self.beacons.iter().filter(|beacon| beacon.muted && beacon.in_muster);
        for mmsi in in_muster.map(|beacon| beacon.mmsi).collect::<Vec<_>>() {
            self.hear_again(mmsi);
        }
    }

    /// What was just heard of a beacon by an input: it is muted for as long as no other input has
    /// heard it.
    pub(super) fn mute_heard(&mut self, mmsi: Mmsi, input: InputId) {
        let station = self.muted.contains(&Muted::Station(mmsi));
        let by_input = self.muted.contains(&Muted::Input(input));
        if let Some(beacon) = self.beacons.find(mmsi).filter(|beacon| !beacon.in_muster) {
            beacon.muted = station || by_input && (beacon.muted || !beacon.is_casualty());
        }
    }

    /// Another input has heard the same transmission.
    pub(super) fn heard_also(&mut self, mmsi: Mmsi, input: InputId) {
        self.alerts.heard_also_by(mmsi, input);
        let muted = self.beacons.get(mmsi).is_some_and(|beacon| beacon.muted);
        if muted && !self.muted.contains(&Muted::Station(mmsi)) && !self.is_muted_input(input) {
            self.hear_again(mmsi);
        }
    }

    /// Whether another input has told of the same call or text. What a muted one tells is not known
    /// yet.
    pub(super) fn is_repeat(&mut self, digest: u64, input: InputId) -> bool {
        !self.is_muted_input(input) && self.is_heard_twice(digest, input)
    }

    /// Whether another input has told the same a moment ago. What is heard really is no repetition
    /// of what is rehearsed.
    pub(super) fn is_heard_twice(&mut self, digest: u64, input: InputId) -> bool {
        let digest = digest ^ u64::from(self.alerts.rehearsed.is_some());
        self.transmissions.is_repeat(digest, input, self.heard_at().at)
    }

    pub(super) fn is_muted_input(&self, input: InputId) -> bool {
        self.muted.contains(&Muted::Input(input))
    }

    /// Whether an alert is not to be raised. Of a beacon that a muted input hears,
    /// [`Self::mute_heard`] decides.
    pub(super) fn is_muted(&self, raise: &Raise) -> bool {
        if self.muted.is_empty() || !can_be_muted(&raise.matter, |mmsi| self.settings.is_ours(mmsi))
        {
            return false;
        }
        let station = raise.mmsi.is_some_and(|it| self.muted.contains(&Muted::Station(it)));
        let beacon =
            matches!(raise.matter, Matter::Emergency(_) | Matter::Mode(_) | Matter::Silent(_));
        let by_input = self.alerts.line_of().is_some_and(|input| self.is_muted_input(input));
        station || by_input && !beacon && self.alerts.get(&raise.matter).is_none()
    }
}

impl Alert {
    /// Whether the operator may mute what it is about: never the muster, the crew or the ship.
    /// `is_ours` tells who is of the muster.
    pub fn can_be_muted(&self, is_ours: impl Fn(Mmsi) -> bool) -> bool {
        can_be_muted(&self.matter, is_ours)
    }
}

fn can_be_muted(matter: &Matter, is_ours: impl Fn(Mmsi) -> bool) -> bool {
    match matter {
        Matter::Emergency(mmsi) | Matter::Mode(mmsi) | Matter::Silent(mmsi) => !is_ours(*mmsi),
        Matter::Distress(mmsi)
        | Matter::Relay(mmsi)
        | Matter::UnnamedRelay(mmsi)
        | Matter::Urgency(mmsi)
        | Matter::TestCall(mmsi)
        | Matter::Text(mmsi, _) => !mmsi.is_some_and(is_ours),
        Matter::TooManyBeacons | Matter::TooManyAlerts | Matter::TooManyEmergencies(_) => true,
        Matter::Notice(_)
        | Matter::Mark(_)
        | Matter::Input(_)
        | Matter::Set(..)
        | Matter::Channel(..)
        | Matter::Reach
        | Matter::OwnPosition
        | Matter::Clock
        | Matter::Part(_)
        | Matter::Watchkeeper => false,
    }
}
