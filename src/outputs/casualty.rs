//! The casualties for displays that know nothing of beacons: as targets, as waypoints, as notices of a
//! person overboard, and, where that is asked for, as a place to steer for.
//!
//! *Invariant:* a test is no casualty; what is not known is a null field; whoever is in the water is
//! never told as lost.

use std::time::Duration;

use super::sentence::{place, plain, sentence, time_of_day};
use crate::mmsi::Mmsi;
use crate::navigation::{Position, range_and_bearing};
use crate::time::{Stamp, Utc};
use crate::units::NauticalMiles;
use crate::watch::{BeaconView, CasualtyId, Mode, Picture};

/// Target numbers from 99 down: those of a radar, which begin at 1, are met last. Our own.
const FIRST_NUMBER: u8 = 99;

/// So many casualties are told, in the order of the screen: at 4 800 bits a second that takes 4 s. Our
/// own.
const MOST: usize = 10;

/// The longest name of a target that displays show; our own.
const NAME: usize = 16;

/// Nearer than this nothing is to be steered for by itself: who is in the water must not be run over.
/// Our own.
const BY_HAND: NauticalMiles = NauticalMiles(0.2);

/// An own position older than this steers nothing. Our own.
const OWN_FRESH: Duration = Duration::from_secs(10);

/// A place older than this, two cycles of a beacon, is one that a person steers for. Our own.
const FIX_FRESH: Duration = Duration::from_secs(120);

/// What of it one output wants.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Form {
    /// Notices of a person overboard (MOB, IEC 61162-1 from edition 4), too.
    pub mob: bool,
    /// The way there, which an autopilot may follow (RMB, BOD).
    pub steer: bool,
}

/// The casualties that are told, and the target number of each.
#[derive(Debug, Default)]
pub struct Casualties {
    told: Vec<Told>,
}

#[derive(Debug)]
struct Told {
    id: CasualtyId,
    number: u8,
    name: String,
    /// Whether it is only rehearsed.
    rehearsed: bool,
}

/// What there is to say of one casualty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Saying {
    /// Of whom it tells where they are; `None` if it says that a target is gone.
    pub about: Option<CasualtyId>,
    /// Whether it is only rehearsed.
    pub rehearsed: bool,
    /// Whole sentences with their ends.
    pub sentences: String,
}

/// Everybody in a picture who may be in the water.
fn in_the_water(picture: &Picture) -> impl Iterator<Item = &BeaconView> {
    picture.beacons.iter().filter(|it| it.casualty && it.declared.is_none())
}

/// Those of them who are told, the most urgent first.
pub fn casualties(picture: &Picture) -> impl Iterator<Item = &BeaconView> {
    in_the_water(picture).take(MOST)
}

impl Casualties {
    /// Whether any is being told.
    pub fn is_empty(&self) -> bool {
        self.told.is_empty()
    }

    /// Takes how things stand. What is to be said of those who are no casualties any more: that their
    /// targets are gone.
    pub fn follow(&mut self, picture: &Picture) -> Vec<Saying> {
        let is_over = |it: &mut Told| in_the_water(picture).all(|view| view.id != it.id);
        let gone = self.told.extract_if(.., is_over).map(|it| {
            let fields = format!("TLL,{:02},,,,,{},,L,", it.number, it.name);
            Saying { about: None, rehearsed: it.rehearsed, sentences: sentence(&fields) }
        });
        let gone = gone.collect();
        for view in casualties(picture) {
            let rehearsed = view.rehearsed.is_some();
            match self.told.iter_mut().find(|it| it.id == view.id) {
                Some(told) => (told.name, told.rehearsed) = (name(view), rehearsed),
                None => {
                    let Some(number) = self.free_number(picture) else { continue };
                    self.told.push(Told { id: view.id, number, name: name(view), rehearsed });
                }
            }
        }
        gone
    }

    /// A number that nobody has; else that of one who is not told any more, since ten others are more
    /// urgent.
    fn free_number(&mut self, picture: &Picture) -> Option<u8> {
        let is_free = |number: &u8| self.told.iter().all(|it| it.number != *number);
        (0..=FIRST_NUMBER).rev().find(is_free).or_else(|| {
            let is_passed_over = |it: &Told| casualties(picture).all(|view| view.id != it.id);
            let place = self.told.iter().position(is_passed_over)?;
            Some(self.told.remove(place).number)
        })
    }

    /// What is to be said of each casualty now. `own` is the ship's identity.
    pub fn say(&self, picture: &Picture, form: Form, own: Option<Mmsi>) -> Vec<Saying> {
        let mut said = Vec::new();
        let mut steers = form.steer;
        for view in casualties(picture) {
            let Some(told) = self.told.iter().find(|it| it.id == view.id) else { continue };
            let mut sentences = String::new();
            let at = view.place(picture.now.at);
            if at.is_some() {
                sentences += &target(told, view, at, picture.now);
                sentences += &sentence(&format!("WPL,{},{}", place(at, 4), waypoint(told)));
            }
            if form.mob {
                sentences += &notice(view, at, own, picture.now);
            }
            // The first of the crew alone: nobody steers for two, and nobody for what a stranger sent.
            if steers && is_ours(view, picture) {
                sentences += &steering(told, view, at, picture).unwrap_or_default();
                steers = false;
            }
            if !sentences.is_empty() {
                let rehearsed = view.rehearsed.is_some();
                said.push(Saying { about: Some(view.id), rehearsed, sentences });
            }
        }
        said
    }
}

/// Who it is: the person, else the kind and the identity. What is rehearsed or reckoned says so.
fn name(view: &BeaconView) -> String {
    let who = match (&view.person, view.id) {
        (Some(person), _) => person.clone(),
        (None, CasualtyId::Beacon(mmsi)) => format!("{} {mmsi}", view.kind.word()),
        (None, CasualtyId::Mark(number)) => format!("POINT {number}"),
    };
    let who = view.rehearsed.map_or(who.clone(), |it| format!("{} {who}", it.word()));
    match view.datum {
        Some(_) => format!("{} EST", plain(&who, NAME - 4)),
        None => plain(&who, NAME),
    }
}

/// What the waypoint is called: few displays show more than six letters.
fn waypoint(told: &Told) -> String {
    format!("MOB{:02}", told.number)
}

/// When it was where it is told to be.
fn time_of_place(view: &BeaconView, now: Stamp) -> Option<Utc> {
    match view.datum {
        Some(_) => Some(now.utc),
        None => {
            let age = i64::try_from(view.fix_age?.as_millis()).ok()?;
            Utc::from_unix_ms(now.utc.unix_ms() - age)
        }
    }
}

/// TLL: tracked as long as it is a casualty, heard or reckoned: a display may delete what is lost.
fn target(told: &Told, view: &BeaconView, at: Option<Position>, now: Stamp) -> String {
    let time = time_of_day(time_of_place(view, now));
    sentence(&format!("TLL,{:02},{},{},{time},T,", told.number, place(at, 4), told.name))
}

/// MOB: status A, M for a point set by hand, T (test) for what is only rehearsed; the place the
/// beacon's own (1) or this ship's (0).
fn notice(view: &BeaconView, at: Option<Position>, own: Option<Mmsi>, now: Stamp) -> String {
    let (status, emitter) = match view.id {
        // Six decimal digits fit into five hexadecimal ones. Our own.
        CasualtyId::Beacon(mmsi) => ('A', format!("{:05X}", mmsi.value() % 1_000_000)),
        CasualtyId::Mark(_) => ('M', String::new()),
    };
    let status = if view.rehearsed.is_some() { 'T' } else { status };
    let reported = view.datum.is_none() && matches!(view.id, CasualtyId::Beacon(_));
    let source = at.map(|_| if reported { "1" } else { "0" }).unwrap_or_default();
    let since = view.since.utc;
    let days = (now.utc.ms_since(since) / 86_400_000).max(0);
    let ship = own.map(|it| it.to_string()).unwrap_or_default();
    sentence(&format!(
        "MOB,{emitter},{status},{},{source},{days},{},{},,,{ship},",
        whole(&time_of_day(Some(since))),
        whole(&time_of_day(at.and_then(|_| time_of_place(view, now)))),
        place(at, 3),
    ))
}

/// A time without its decimals, which a MOB sentence does not use.
fn whole(time: &str) -> &str {
    time.split('.').next().unwrap_or_default()
}

/// Whether it is one of the crew's, or a point set by hand.
fn is_ours(view: &BeaconView, picture: &Picture) -> bool {
    view.mmsi().is_none_or(|mmsi| picture.muster.contains(&mmsi))
}

/// RMB and BOD from where the ship is. Valid for a place that was heard, beyond the distance at which
/// somebody must take the helm; else without a way (status V, which an autopilot does not follow), as
/// always for what is only rehearsed (mode S, simulated).
fn steering(
    told: &Told,
    view: &BeaconView,
    at: Option<Position>,
    picture: &Picture,
) -> Option<String> {
    let own = picture.own.position.filter(|_| picture.own.age.is_some_and(|it| it <= OWN_FRESH))?;
    let (range, bearing) = range_and_bearing(own, at?);
    let is_heard = view.datum.is_none()
        && view.mode != Some(Mode::ActivePresumed)
        && view.fix_age.is_some_and(|age| age <= FIX_FRESH);
    let (status, mode) = match (view.rehearsed, is_heard, range > BY_HAND) {
        (Some(_), ..) => ('V', 'S'),
        (None, true, true) => ('A', 'A'),
        (None, true, false) => ('V', 'A'),
        (None, false, _) => ('V', 'E'),
    };
    let arrived = if range > BY_HAND { 'V' } else { 'A' };
    let waypoint = waypoint(told);
    let bearing = format!("{:05.1}", (bearing.value() * 10.0).round() % 3600.0 / 10.0);
    let magnetic = view.way.as_ref().and_then(|it| it.magnetic);
    let magnetic = magnetic.map_or(",M".to_owned(), |it| {
        format!("{:05.1},M", (it.value() * 10.0).round() % 3600.0 / 10.0)
    });
    let rmb = sentence(&format!(
        "RMB,{status},0.00,L,,{waypoint},{},{:.1},{bearing},,{arrived},{mode}",
        place(at, 3),
        range.0.min(999.9),
    ));
    Some(rmb + &sentence(&format!("BOD,{bearing},T,{magnetic},{waypoint},")))
}
