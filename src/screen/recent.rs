//! What has just happened on the way to somebody: a pass, a turn of the search, a new datum. It is
//! told for a moment only, and stays before the eye long enough to be seen by who looks up late.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use crate::advice;
use crate::mmsi::Mmsi;
use crate::navigation::{LegNumber, Position};
use crate::time::Utc;
use crate::units::{Degrees, NauticalMiles};
use crate::watch::{
    BeaconReport, BeaconView, CasualtyId, Event, EventBody, Mode, Picture, SearchView,
};

/// How long it stays. Our own: longer than a minute, after which the next datum comes.
const STAYS_MS: u64 = 90_000;

/// No more are kept. Our own.
const KEPT: usize = 16;

#[derive(Clone, Debug, PartialEq)]
enum What {
    /// So near by.
    Passed(NauticalMiles),
    /// Its beacon was switched off: the alert may have been acknowledged, and ends without a word.
    SwitchedOff,
    /// Onto the next leg, as is to be read.
    Turned(String),
    /// It was entered in the muster, as this says.
    Entered(String),
    /// It is taken for the one who was marked by hand then.
    Joined(Utc),
    /// There.
    Datum(Position),
}

#[derive(Clone, Debug)]
struct Happening {
    at: Utc,
    about: CasualtyId,
    what: What,
}

/// The last of them, bounded.
#[derive(Clone, Debug, Default)]
pub(super) struct Recent {
    /// Newest first.
    happenings: VecDeque<Happening>,
    /// Which leg each search was on when it was looked at last.
    legs: BTreeMap<CasualtyId, LegNumber>,
    /// Beacons that were taken for a point set by hand when they were looked at last.
    joined: BTreeSet<CasualtyId>,
    /// Entered since it was looked at last.
    entered: Option<(CasualtyId, String)>,
}

impl Recent {
    /// Takes an event.
    pub(super) fn tell(&mut self, event: &Event) {
        let (about, what) = match &event.body {
            EventBody::Passed { mmsi, range_nm } => {
                (Some(CasualtyId::Beacon(*mmsi)), Some(What::Passed(*range_nm)))
            }
            EventBody::BeaconHeard(BeaconReport { mmsi, mode: Mode::Off, .. }) => {
                (Some(CasualtyId::Beacon(*mmsi)), Some(What::SwitchedOff))
            }
            EventBody::Datum(datum) => {
                let beacon = datum.mmsi.map(CasualtyId::Beacon);
                let about = beacon.or_else(|| datum.mark.map(CasualtyId::Mark));
                (about, Position::new(datum.lat, datum.lon).map(What::Datum))
            }
            _ => return,
        };
        if let Some((about, what)) = about.zip(what) {
            self.note(Happening { at: event.at, about, what });
        }
    }

    /// Looks for turns of a search and for beacons taken for a point: no event tells of them.
    pub(super) fn look(&mut self, picture: &Picture) {
        let mut legs = BTreeMap::new();
        for beacon in &picture.beacons {
            let Some((search, leg)) = beacon.search.as_ref().and_then(leg_of) else { continue };
            legs.insert(beacon.id, leg.0);
            let before = self.legs.get(&beacon.id);
            if before.is_some_and(|before| *before != leg.0) && leg.0.leg > 0 {
                let turned = format!("leg {} of {}, steer {}", leg.0.leg, search.legs, leg.1);
                let (at, about) = (picture.now.utc, beacon.id);
                self.note(Happening { at, about, what: What::Turned(turned) });
            }
        }
        self.legs = legs;
        let taken = |it: &&BeaconView| it.mmsi().is_some() && it.marked.is_some();
        let joined: BTreeSet<CasualtyId> =
            picture.beacons.iter().filter(taken).map(|it| it.id).collect();
        for beacon in picture.beacons.iter().filter(|it| joined.contains(&it.id)) {
            if let Some((at, _)) = beacon.marked.filter(|_| !self.joined.contains(&beacon.id)) {
                let what = What::Joined(at.utc);
                self.note(Happening { at: picture.now.utc, about: beacon.id, what });
            }
        }
        self.joined = joined;
        if let Some((about, text)) = self.entered.take() {
            self.note(Happening { at: picture.now.utc, about, what: What::Entered(text) });
        }
    }

    /// A beacon was entered in the muster, as the text says.
    pub(super) fn entered(&mut self, mmsi: Mmsi, text: &str) {
        self.entered = Some((CasualtyId::Beacon(mmsi), text.to_owned()));
    }

    fn note(&mut self, happening: Happening) {
        if matches!(happening.what, What::Datum(_)) {
            // The one before it has drifted away.
            let is_old =
                |it: &Happening| it.about == happening.about && matches!(it.what, What::Datum(_));
            self.happenings.retain(|it| !is_old(it));
        }
        self.happenings.push_front(happening);
        self.happenings.truncate(KEPT);
    }

    /// Those of the last moments, newest first.
    fn lately(&self, picture: &Picture) -> impl Iterator<Item = &Happening> {
        let now = picture.now.utc;
        self.happenings.iter().filter(move |it| now.ms_since(it.at).unsigned_abs() < STAYS_MS)
    }

    /// How a beacon was entered in the muster, if it just was.
    pub(super) fn entry_of(&self, beacon: &BeaconView, picture: &Picture) -> Option<&str> {
        self.lately(picture).filter(|it| it.about == beacon.id).find_map(|it| match &it.what {
            What::Entered(text) => Some(text.as_str()),
            _ => None,
        })
    }

    /// What is to be shown now beside a page about this test, if about any: what happened once before
    /// what comes every minute, newest first.
    pub(super) fn words(&self, picture: &Picture, test: Option<CasualtyId>) -> Vec<String> {
        // There it stands on the page.
        let elsewhere =
            |it: &&Happening| Some(it.about) != test || !matches!(it.what, What::Entered(_));
        let mut shown: Vec<&Happening> = self.lately(picture).filter(elsewhere).collect();
        shown.sort_by_key(|it| matches!(it.what, What::Datum(_)));
        shown
            .into_iter()
            .filter_map(|it| {
                let beacon = picture.beacons.iter().find(|beacon| beacon.id == it.about)?;
                let (name, at) = (advice::name(beacon), it.at.clock());
                let at = at.trim_end_matches('Z');
                if let What::Joined(marked) = it.what
                    && beacon.marked.is_none_or(|(at, _)| at.utc != marked)
                {
                    // Somebody has parted them.
                    return None;
                }
                Some(match &it.what {
                    What::Passed(range) => format!("{at} passed {name} at {range}"),
                    What::SwitchedOff => format!("{at} beacon of {name} switched OFF"),
                    What::Entered(text) => format!("{at} {text}"),
                    What::Joined(marked) => {
                        let marked = marked.clock();
                        let marked = marked.trim_end_matches('Z');
                        format!("{at} {name} taken for the one marked {marked}")
                    }
                    What::Turned(leg) => format!("{at} {leg} ({name})"),
                    What::Datum(place) => format!("{at} datum of {name} {place}"),
                })
            })
            .collect()
    }
}

/// The leg a search is on, and the course to steer.
fn leg_of(search: &SearchView) -> Option<(&SearchView, (LegNumber, Degrees))> {
    let guidance = search.guidance.as_ref().ok()?.as_ref()?;
    Some((search, (guidance.leg.place, guidance.leg.course)))
}
