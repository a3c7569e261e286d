//! How far a beacon at the water would be heard now, without any test: from the ships heard, of whom
//! it is known when they speak next, and from what comes of it.
//!
//! ```text
//! a report, and when the next is due (interval.rs) ─▶ did it come? (stations.rs)
//!   ─▶ by range, direction, channel, input (hour.rs)
//!   ─▶ how good are receiver and antenna? (likelihood.rs) ─▶ what of a beacon? (radio.rs)
//!   ─▶ in the last hour, lately, in each direction (estimate.rs) ─▶ less than usual? (usual.rs)
//! ```
//!
//! *Invariant:* what nobody listened to is not missed: a gap in the feed, or a time without own
//! position, counts for nothing. The tables are bounded, and no number stands for what is not known.

mod bins;
mod change;
mod estimate;
mod hour;
mod interval;
mod likelihood;
mod radio;
mod report;
mod signals;
mod stations;
mod usual;

pub use report::{
    AisClass, ChannelCount, InputCount, NotKnown, PastHour, RangeCount, Reach, ReachHour,
    SectorCount, SectorFrom,
};

pub(super) use usual::Reduced;

use std::time::Duration;

use self::bins::{Bin, Sector, near};
use self::estimate::Found;
use self::hour::{Hour, Parts};
use self::likelihood::Posterior;
use self::stations::{Counted, INPUTS, Report, Stations, piece};
use self::usual::Usual;
use super::levels::Level;
use crate::mmsi::{Mmsi, Station};
use crate::navigation::OwnShip;
use crate::position::Position;
use crate::time::{Mono, Stamp};
use crate::wire::{AisReport, InputId};

/// What is told comes so often. Our own.
const HOUR: Duration = Duration::from_secs(3600);

/// How often it is looked at how far a beacon would be heard. Our own.
const REVIEW: Duration = Duration::from_secs(180);

/// After so long without any line nobody has listened; and an own position older than this makes no
/// range. Our own.
const GAP: Duration = Duration::from_secs(60);

/// Without any AIS for so long nothing is known of now. Our own.
const AIS_LASTS: Duration = Duration::from_secs(10 * 60);

/// What is known of how far this boat hears.
#[derive(Debug)]
pub(super) struct Hearing {
    stations: Stations,
    /// The inputs that are counted each for itself, in the order they gave AIS.
    inputs: Vec<InputId>,
    /// `None` as long as nothing was heard.
    hour: Option<Hour>,
    /// Whether a ship was heard in this hour.
    heard: bool,
    ais: Option<Mono>,
    /// Since when AIS has come in without a long silence.
    listening: Option<Mono>,
    placed: Option<Mono>,
    fed: Mono,
    reviewed: Mono,
    reach: Reach,
    /// What that is made from, if it is known.
    found: Option<Posterior>,
    usual: Usual,
}

impl Default for Hearing {
    fn default() -> Self {
        Self {
            stations: Stations::default(),
            inputs: Vec::new(),
            hour: None,
            heard: false,
            ais: None,
            listening: None,
            placed: None,
            fed: Mono::START,
            reviewed: Mono::START,
            reach: Reach::not_known(NotKnown::NoAis),
            found: None,
            usual: Usual::default(),
        }
    }
}

impl Hearing {
    /// A line came in that was heard aboard.
    pub(super) fn fed(&mut self, now: Mono) {
        if now.since(self.fed) > GAP {
            self.stations.interrupt();
        }
        self.fed = now;
    }

    /// An input was opened, broke off or was taken away.
    pub(super) fn interrupt(&mut self) {
        self.stations.interrupt();
    }

    /// When there is something to look at next.
    pub(super) fn deadline(&self) -> Option<Mono> {
        let hour = self.hour.as_ref()?;
        Some((hour.begun.at + HOUR).min(self.reviewed + REVIEW))
    }

    /// The place of an input among those that are counted each for itself.
    fn place_of(&mut self, input: InputId) -> Option<usize> {
        let known = self.inputs.iter().position(|it| *it == input);
        if known.is_none() && self.inputs.len() < INPUTS {
            self.inputs.push(input);
            return Some(self.inputs.len() - 1);
        }
        known
    }

    /// How far a beacon would be heard now.
    pub(super) fn now(&self, now: Mono) -> Reach {
        if self.ais.is_none_or(|ais| now.since(ais) > AIS_LASTS) {
            return Reach::not_known(NotKnown::NoAis);
        }
        if self.reach.why_not == Some(NotKnown::NoAis) {
            // AIS has come in since it was looked at.
            return Reach::not_known(NotKnown::TooFewReports);
        }
        self.reach.clone()
    }

    fn review(&mut self, past: &[PastHour], now: Mono) {
        self.reviewed = now;
        self.stations.forget(piece(now), now);
        let (reach, found) = self.estimate(now);
        if let Some(found) = found.filter(|_| reach.why_not != Some(NotKnown::Thinned)) {
            self.usual.judge(&found, reach.stations, past);
        }
        self.found = found.map(|it| it.is).filter(|_| reach.why_not.is_none());
        self.reach = reach;
    }

    /// That it hears less far than it used to, if it does.
    pub(super) fn reduced(&self) -> Option<Reduced> {
        self.usual.reduced()
    }

    fn estimate(&self, now: Mono) -> (Reach, Option<Found>) {
        let why = match (self.ais, self.placed) {
            (Some(ais), _) if now.since(ais) > AIS_LASTS => NotKnown::NoAis,
            (None, _) => NotKnown::NoAis,
            (_, placed) if placed.is_none_or(|it| now.since(it) > AIS_LASTS) => {
                NotKnown::NoOwnPosition
            }
            _ => {
                let minutes = self.listening.map_or(0, |since| now.since(since).as_secs() / 60);
                return estimate::reach(&self.stations, minutes.min(60) as u16, now);
            }
        };
        (Reach::not_known(why), None)
    }

    /// Counts a report of a ship and what was due before it, as heard at a fixed place, else aboard.
    pub(super) fn hear(
        &mut self,
        input: InputId,
        report: &AisReport,
        fixed: Option<Position>,
        own: &OwnShip,
        now: Stamp,
    ) {
        let message = &report.message;
        if self.ais.is_none_or(|ais| now.at.since(ais) > AIS_LASTS) {
            self.listening = Some(now.at);
        }
        self.ais = Some(now.at);
        if self.hour.is_none() {
            self.hour = Some(Hour::new(now));
            self.reviewed = now.at;
        }
        self.heard = true;
        // What a repeater sends has not come from where the ship is.
        if message.repeat != 0 || message.mmsi.station() != Station::Ship {
            return;
        }
        let Some((class, interval)) = interval::due(&message.body) else { return };
        let aboard = || own.position_within(now.at, GAP).map(|(here, _)| here);
        let Some(here) = fixed.or_else(aboard) else {
            self.stations.interrupt();
            return;
        };
        self.placed = Some(now.at);
        let Some(there) = message.body.motion().and_then(|it| it.position) else { return };
        let (range, bearing) = near(here, there);
        let Some(bin) = Bin::of(range) else { return };
        let ahead = own.ahead(now.at).filter(|_| fixed.is_none()).map(|(ahead, _)| ahead);
        let sector = Sector::of(bearing, ahead);
        let input = self.place_of(input);
        let (at, mmsi) = (now.at, message.mmsi);
        let heard = Report { at, mmsi, class, interval, bin, sector, input };
        let counted = self.stations.hear(&heard);
        let Some(hour) = &mut self.hour else { return };
        match counted {
            Counted::Due(due) => hour.due(&heard, due, report.channel),
            Counted::Again => hour.again(&heard),
            Counted::Nothing => {}
        }
    }

    /// Takes with what signal an input heard the last message of a station.
    pub(super) fn measure(&mut self, input: InputId, mmsi: Mmsi, level: Level, now: Mono) {
        if let Some(above_db) = signals::above_db(level) {
            self.stations.measure(input, mmsi, above_db, now);
        }
    }

    /// Looks how far a beacon would be heard, if it is time to. The hour that has ended, if one has.
    /// `past` is what the last weeks were like.
    pub(super) fn look<'a>(
        &mut self,
        past: &[PastHour],
        now: Stamp,
        name: impl Fn(InputId) -> Option<&'a str>,
    ) -> Option<ReachHour> {
        if self.deadline().is_none_or(|due| due > now.at) {
            return None;
        }
        self.review(past, now.at);
        let ended = self.hour.take_if(|hour| hour.begun.at + HOUR <= now.at)?;
        // After an hour in which nothing was heard the next begins with what is heard.
        if !std::mem::take(&mut self.heard) {
            return None;
        }
        self.hour = Some(Hour::new(now));
        Some(self.told_of(&ended, name))
    }

    /// The hour under way, as far as it goes; `None` if nothing was heard in it.
    pub(super) fn under_way<'a>(
        &self,
        name: impl Fn(InputId) -> Option<&'a str>,
    ) -> Option<ReachHour> {
        self.hour.as_ref().filter(|_| self.heard).map(|hour| self.told_of(hour, name))
    }

    fn told_of<'a>(&self, hour: &Hour, name: impl Fn(InputId) -> Option<&'a str>) -> ReachHour {
        let parts = self.found.map(|all| estimate::parts(&self.stations, &all, self.reviewed));
        let (sectors, by_input) = parts.unwrap_or_default();
        let names = self.inputs.iter().zip(by_input);
        let names = names.filter_map(|(it, range)| Some((name(*it)?.to_owned(), range)));
        let parts = Parts { sectors, inputs: names.collect() };
        hour.close(self.reach.clone(), parts)
    }
}
