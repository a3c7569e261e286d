//! What the texts to be read aloud are filled in with: the picture, the calls that came in, and
//! what the configuration knows of the vessel.

use std::collections::{HashMap, VecDeque};
use std::time::Duration;

use chrono::Datelike as _;

use super::attention::beacon_in_view;
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::{Position, range_and_bearing};
use crate::time::Utc;
use crate::units::Celsius;
use crate::voice::{
    AgedPosition, Casualty, Drift, Facts, Nature, Occasion, Ship, Text, Water, WaterSource, Whose,
    Words, figures,
};
use crate::watch::{
    Alert, BeaconView, CasualtyId, Cause, Event, EventBody, Matter, Picture, Priority, nature,
};
use crate::zone::Zone;

/// How many calls are remembered, the newest.
const CALLS: usize = 16;

/// Before this year no clock of a computer that this program runs on is right.
const CLOCK_LOST_BEFORE: i32 = 2020;

/// A position that a call says is at most this far ahead of the time is one of now.
const AHEAD_MIN: u32 = 5;

/// What the configuration knows that is said or counted on.
#[derive(Clone, Debug, Default)]
pub struct Vessel {
    /// How she calls herself.
    pub ship: Ship,
    /// The beacons of her muster, and whether each is fitted to a lifejacket.
    pub beacons: HashMap<Mmsi, bool>,
    /// The texts.
    pub words: Words,
    /// Whether figures of survival are shown.
    pub survival_figures: bool,
    /// The water temperature, where no thermometer tells it.
    pub water_by_hand: Option<Celsius>,
    /// The height of the AIS receiver's antenna above the water, in metres.
    pub antenna_height_m: Option<f64>,
    /// The zone of the local time that is shown beside UTC; never said.
    pub zone: Option<Zone>,
}

/// What told of it: where nobody is named, that alone tells two of them apart.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Source {
    /// A call by DSC, of this station.
    Dsc(Option<Mmsi>),
    /// A crew alarm on board, with this emitter.
    Notice(Option<String>),
}

/// Where and why somebody called, by DSC or by a crew alarm on board.
#[derive(Clone, Debug)]
struct Call {
    at: Utc,
    /// The station in distress.
    about: Option<Mmsi>,
    source: Source,
    nature: &'static str,
    position: Option<Position>,
    /// The time of the position, UTC, in four digits.
    hhmm: Option<String>,
}

/// The calls that came in lately, oldest first.
#[derive(Clone, Debug, Default)]
pub struct Calls(VecDeque<Call>);

impl Calls {
    /// Takes an event.
    pub fn tell(&mut self, event: &Event) {
        let call = match &event.body {
            EventBody::DscCall(dsc) => Call {
                at: event.at,
                about: dsc.about(),
                source: Source::Dsc(dsc.caller_mmsi),
                nature: nature(dsc),
                position: dsc.position(),
                hhmm: dsc.utc_hhmm.clone(),
            },
            EventBody::MobNotice(notice) => Call {
                at: event.at,
                about: notice.mmsi,
                source: Source::Notice(notice.emitter.clone()),
                nature: "person overboard",
                position: notice.position(),
                hhmm: None,
            },
            _ => return,
        };
        if self.0.len() >= CALLS {
            self.0.pop_front();
        }
        self.0.push_back(call);
    }

    /// The last one behind an alert, up to now.
    fn behind(&self, alert: &Alert, now: Utc) -> Option<&Call> {
        let belongs = |it: &&Call| match (&alert.matter, &it.source) {
            (Matter::Notice(emitter), Source::Notice(by)) => emitter == by,
            (Matter::UnnamedRelay(sender), Source::Dsc(by)) => it.about.is_none() && sender == by,
            (_, Source::Dsc(by)) => {
                it.about == alert.mmsi && (alert.mmsi.is_some() || by.is_none())
            }
            (_, Source::Notice(_)) => false,
        };
        self.0.iter().rev().filter(|it| it.at <= now).find(belongs)
    }
}

/// What the texts are filled in with beside the picture.
#[derive(Clone, Copy, Debug)]
pub struct Speaker<'a> {
    /// What the configuration knows.
    pub vessel: &'a Vessel,
    /// The calls that came in.
    pub calls: &'a Calls,
    /// Who is looked at.
    pub selected: Option<CasualtyId>,
}

impl Speaker<'_> {
    /// The figures of survival, if they are wanted and the water temperature is known.
    pub fn survival(&self, picture: &Picture) -> Option<Text> {
        let water = |temperature, source| Water { temperature, source };
        let measured = picture.own.water_temperature.map(|it| water(it, WaterSource::Measured));
        let by_hand = self.vessel.water_by_hand.map(|it| water(it, WaterSource::ByHand));
        let known = measured.or(by_hand).filter(|_| self.vessel.survival_figures);
        known.and_then(figures).map(|figures| figures.text())
    }

    /// The text that fits. Somebody of the own crew comes first, whatever is looked at.
    pub fn proposed(&self, picture: &Picture) -> Occasion {
        Occasion::of(&self.facts(picture, Occasion::Mayday))
    }

    /// How long ago somebody of the crew, else anybody, was first known to be in danger.
    pub fn elapsed(&self, picture: &Picture) -> Option<Duration> {
        self.facts(picture, Occasion::Mayday).casualty?.since
    }

    /// All that is known, about the casualty that the occasion is for.
    pub fn facts(&self, picture: &Picture, occasion: Occasion) -> Facts {
        let utc = picture.clock.best(picture.now.utc);
        let now = Some(utc).filter(|utc| utc.date().year() >= CLOCK_LOST_BEFORE);
        let wanted = if occasion == Occasion::Relay { Whose::Another } else { Whose::Own };
        let mut casualties = self.casualties(picture);
        let place = casualties.iter().position(|it| it.whose == wanted).unwrap_or_default();
        let casualty = (place < casualties.len()).then(|| casualties.swap_remove(place));
        let sent = self.calls.0.iter().rev().find(|it| {
            it.about.is_some() && it.about == self.vessel.ship.mmsi && it.at <= picture.now.utc
        });
        Facts {
            ship: self.vessel.ship.clone(),
            now,
            own: picture
                .own
                .position
                .map(|position| AgedPosition { position, age: picture.own.age }),
            casualty,
            alert_sent: sent.map(|it| it.at),
        }
    }

    /// Everybody in danger, who is in view first.
    fn casualties(&self, picture: &Picture) -> Vec<Casualty> {
        let shown = beacon_in_view(picture, self.selected).map(|beacon| beacon.id);
        let (mut beacons, calls) = people_in_danger(picture);
        beacons.sort_by_key(|beacon| Some(beacon.id) != shown);
        // A point that somebody on board set by hand is about one of the own crew.
        let own = |beacon: &BeaconView| {
            beacon.person.is_some() || beacon.mmsi().is_none_or(|mmsi| self.is_own(mmsi))
        };
        let overboard = |it: &&&BeaconView| own(it) && it.kind == BeaconKind::Mob;
        let others = beacons.iter().filter(overboard).count().saturating_sub(1);
        let by_beacon = beacons.iter().map(|beacon| Casualty {
            others: if overboard(&beacon) { u32::try_from(others).unwrap_or(u32::MAX) } else { 0 },
            other_places: match overboard(&beacon) {
                true => (beacons.iter())
                    .filter(|other| overboard(other) && other.id != beacon.id)
                    .map(|other| place(other))
                    .collect(),
                false => Vec::new(),
            },
            ..self.by_beacon(picture, beacon, own(beacon))
        });
        let by_call = calls.into_iter().map(|alert| self.by_call(picture, alert));
        by_beacon.chain(by_call).collect()
    }

    fn is_own(&self, mmsi: Mmsi) -> bool {
        self.vessel.beacons.contains_key(&mmsi) || self.vessel.ship.mmsi == Some(mmsi)
    }

    fn by_beacon(&self, picture: &Picture, beacon: &BeaconView, own: bool) -> Casualty {
        let nature = match beacon.kind {
            BeaconKind::Mob => Nature::PersonOverboard,
            BeaconKind::Sart => Nature::SurvivalCraft,
            BeaconKind::Epirb => Nature::EmergencyBeacon,
        };
        // From the place that is said, which for a silent one is not where it is reckoned to be.
        let placed = picture.own.position.zip(beacon.position);
        let (range, bearing) = placed.map(|(own, it)| range_and_bearing(own, it)).unzip();
        let datum = beacon.datum.as_ref().map(|(datum, _)| datum);
        let drift = beacon.drift.map(|drift| drift.velocity).or(datum.map(|datum| datum.velocity));
        let began = beacon.marked.map_or(beacon.since.at, |(at, _)| at.at.min(beacon.since.at));
        Casualty {
            nature: Some(nature),
            name: beacon.person.clone(),
            identity: beacon.mmsi(),
            place: place(beacon),
            bearing,
            range,
            drift: drift.map(|drift| Drift { set: drift.towards(), rate: drift.speed() }),
            // One that nobody knows the drift of is reckoned to be where it was.
            reckoned: datum
                .map(|datum| datum.position_at(picture.now.at))
                .filter(|reckoned| Some(*reckoned) != beacon.position),
            since: Some(picture.now.at.since(began)),
            lifejacket: beacon
                .mmsi()
                .and_then(|mmsi| self.vessel.beacons.get(&mmsi).copied())
                .filter(|fitted| *fitted),
            ..Casualty::of(if own { Whose::Own } else { Whose::Another })
        }
    }

    fn by_call(&self, picture: &Picture, alert: &Alert) -> Casualty {
        let is_notice = alert.cause == Cause::MobNotice;
        let own = is_notice || alert.mmsi.is_some_and(|mmsi| self.is_own(mmsi));
        let call = self.calls.behind(alert, picture.now.utc);
        let position = call.and_then(|call| call.position);
        let placed = position.zip(picture.own.position);
        let (range, bearing) = placed.map(|(it, own)| range_and_bearing(own, it)).unzip();
        let utc = picture.clock.best(picture.now.utc);
        let age = call.and_then(|call| age_of(call.hhmm.as_deref()?, utc));
        Casualty {
            nature: call.map(|call| Nature::Called(call.nature)),
            identity: alert.mmsi,
            place: position.map(|position| AgedPosition { position, age }),
            bearing,
            range,
            since: Some(picture.now.at.since(alert.raised)),
            report: Some(alert.text.clone()),
            ..Casualty::of(if own { Whose::Own } else { Whose::Another })
        }
    }
}

/// Where a beacon, or a point, is or was last.
fn place(beacon: &BeaconView) -> Option<AgedPosition> {
    beacon.position.map(|position| AgedPosition { position, age: beacon.fix_age })
}

/// Whether there is anybody to call for.
pub fn somebody_is_in_danger(picture: &Picture) -> bool {
    let (beacons, calls) = people_in_danger(picture);
    !beacons.is_empty() || !calls.is_empty()
}

/// Everybody there is to call for: by beacon or point, and by a call that is of none of these.
pub fn people_in_danger(picture: &Picture) -> (Vec<&BeaconView>, Vec<&Alert>) {
    let beacons: Vec<&BeaconView> = picture.beacons.iter().filter(|it| it.casualty).collect();
    let same = |alert: &&Alert| beacons.iter().any(|it| Some(it.id) == alert.casualty());
    let calls = calls(picture).filter(|alert| !same(alert)).collect();
    (beacons, calls)
}

/// The open alerts of somebody's call for help.
fn calls(picture: &Picture) -> impl Iterator<Item = &Alert> {
    picture.alerts.iter().filter(|alert| {
        alert.is_active()
            && matches!(alert.cause, Cause::DscDistress | Cause::DscRelay | Cause::MobNotice)
            && alert.priority > Priority::Caution
    })
}

/// How long ago it was this time of day last.
fn age_of(hhmm: &str, now: Utc) -> Option<Duration> {
    let is_time = hhmm.len() == 4 && hhmm.bytes().all(|byte| byte.is_ascii_digit());
    let digits: u32 = hhmm.parse().ok().filter(|_| is_time)?;
    let (hours, minutes) = (digits / 100, digits % 100);
    let day = 24 * 60;
    let present = u32::try_from(now.unix_ms().div_euclid(60_000).rem_euclid(day.into())).ok()?;
    let ago = (present + day - (hours * 60 + minutes) % day) % day;
    let ago = if ago > day - AHEAD_MIN { 0 } else { ago };
    (hours < 24 && minutes < 60).then(|| Duration::from_secs(60 * u64::from(ago)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_of_day_was_there_within_the_last_day() {
        let now = Utc::parse_rfc3339("2026-06-14T00:05:30Z").unwrap();
        let minutes = |hhmm| age_of(hhmm, now).map(|age| age.as_secs() / 60);
        assert_eq!(minutes("0003"), Some(2));
        assert_eq!(minutes("2355"), Some(10));
        // The other's clock is a little ahead.
        assert_eq!(minutes("0007"), Some(0));
        assert_eq!(minutes("0100"), Some(23 * 60 + 5));
        for wrong in ["", "8888", "2400", "0060", "003", "+003"] {
            assert_eq!(minutes(wrong), None, "{wrong}");
        }
    }
}
