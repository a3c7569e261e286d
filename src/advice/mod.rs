//! What to tell a person about the watch as it stands: is it real, who, how far, which way, how
//! old is that, what next. A screen draws it, a page, a voice or a message can say it.
//!
//! *Invariant:* depends on the picture and the selection alone; what is not known is `None`, never
//! a number; no word of any front end.

mod attention;
mod figures;
mod needs;
mod reach;
mod reality;
mod situation;
mod speech;
mod step;
mod whereabouts;
mod words;

use std::time::Duration;

use serde::Serialize;

pub use attention::{
    about_people_in_view, alert_in_view, beacon_in_view, counted, flashes, incident_in_view,
    is_over, is_stranger, is_unacknowledged, last_burst, next_casualty, rehearsal_known,
    test_begun, tests, unacknowledged,
};
pub use figures::{Figures, ToSteer, metres, miles, ring};
pub use needs::Needs;
pub use reach::{about, reach, reach_in_short, reach_in_the_hour, reach_now};
pub use reality::Reality;
pub use situation::{
    Situation, Subject, alarm_about_no_beacon, all_declared_safe, deafness, ended, still_heard,
    subject,
};
pub use speech::{Calls, Speaker, Vessel, people_in_danger, somebody_is_in_danger};
pub use step::{Step, leg_now};
pub use whereabouts::{Hold, Rough, Whereabouts, fix_is_old, own_is_old};
pub use words::{age, headline_name, identity, magnetic, minutes, name, relative, short_age, side};

use crate::mmsi::BeaconKind;
use crate::time::seconds;
use crate::watch::{BeaconView, CasualtyId, Picture};

/// Who it is about.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Who {
    /// Which beacon, or which point set by hand.
    pub id: CasualtyId,
    /// What kind of beacon.
    pub kind: BeaconKind,
    /// Whose it is, if it is in the muster.
    pub person: Option<String>,
    /// Whether it is on no muster: then heads are to be counted.
    pub stranger: bool,
    /// Its place among those in danger, from 1, and how many those are; `None` for one who is not.
    pub counted: Option<(usize, usize)>,
}

/// How old what is told is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Ages {
    /// Since it was first heard in its mode, or the point was set.
    #[serde(rename = "since_s", serialize_with = "seconds")]
    pub since: Duration,
    /// Since anything was heard of it.
    #[serde(rename = "heard_s", serialize_with = "seconds")]
    pub heard: Duration,
    /// Since its position was taken; `None` if that is not known.
    #[serde(rename = "fix_s", serialize_with = "seconds")]
    pub fix: Option<Duration>,
    /// Since the ship's own position was; `None` without one.
    #[serde(rename = "own_s", serialize_with = "seconds")]
    pub own: Option<Duration>,
    /// Its position is that of a DSC call.
    pub fix_by_call: bool,
    /// It is heard by a DSC call alone.
    pub heard_by_call: bool,
    /// Nothing is heard of it: somebody set the point by hand.
    pub by_hand: bool,
}

/// What is said of a beacon of nobody on board.
pub const STRANGER: &str = "not on your muster: count heads";

/// What to tell a person.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Advice {
    /// What the watch is about just now.
    pub situation: Situation,
    /// Who it is; `None` where it is about no beacon.
    pub who: Option<Who>,
    /// Real or test; `None` where it is about no beacon.
    pub real: Option<Reality>,
    /// How far and which way; `None` while one of the two positions is not known.
    pub whereabouts: Option<Whereabouts>,
    /// How old that is.
    pub ages: Option<Ages>,
    /// What to do next; `None` where nothing is to be done but to listen on.
    pub next: Option<Step>,
}

impl Advice {
    /// What to tell a person who looks at one casualty, or at none in particular.
    pub fn of(picture: &Picture, selected: Option<CasualtyId>) -> Self {
        match subject(picture, selected) {
            Subject::Casualty(beacon) => Self::about(picture, selected, beacon),
            Subject::Test(beacon) => Self {
                situation: Situation::Test,
                next: None,
                ..Self::about(picture, selected, beacon)
            },
            Subject::Quiet => {
                let waiting = alert_in_view(picture, selected).filter(|it| is_unacknowledged(it));
                Self {
                    situation: Situation::of_quiet(picture),
                    who: None,
                    real: None,
                    whereabouts: None,
                    ages: None,
                    next: waiting
                        .map(|alert| Step::Acknowledge { other: Some(alert.text.clone()) }),
                }
            }
        }
    }

    /// What to tell of one casualty, whatever else there is.
    pub fn about(picture: &Picture, selected: Option<CasualtyId>, beacon: &BeaconView) -> Self {
        Self {
            situation: Situation::Casualty,
            who: Some(Who {
                id: beacon.id,
                kind: beacon.kind,
                person: beacon.person.clone(),
                stranger: is_stranger(picture, beacon),
                counted: counted(picture, beacon.id),
            }),
            real: Some(Reality::of(beacon)),
            whereabouts: Whereabouts::of(picture, beacon),
            ages: Some(Ages::of(picture, beacon)),
            next: Some(Step::of(picture, selected, beacon)),
        }
    }

    /// One sentence that is true right now.
    pub fn headline(&self) -> String {
        match (&self.situation, &self.who, self.real) {
            (Situation::Casualty | Situation::Test, Some(who), Some(real)) => {
                let headline = real.headline(who);
                match who.counted {
                    Some((place, of)) if of > 1 => format!("{headline} ({place} of {of})"),
                    _ => headline,
                }
            }
            (situation, ..) => situation.words(),
        }
    }

    /// All of it as sentences to be read aloud.
    pub fn words(&self) -> String {
        let person = self.who.as_ref().and_then(|who| who.person.as_deref());
        let mut sentences = vec![self.headline()];
        let stranger = self.who.as_ref().is_some_and(|who| who.stranger);
        if stranger && self.situation == Situation::Casualty {
            sentences.push(STRANGER.to_owned());
        }
        sentences.extend(self.whereabouts.as_ref().map(Whereabouts::words));
        sentences.extend(self.ages.map(|ages| ages.words()));
        sentences.extend(self.next.as_ref().map(|step| step.words(person)));
        sentences.join(". ")
    }
}

impl Ages {
    /// Those of one casualty or beacon.
    pub fn of(picture: &Picture, beacon: &BeaconView) -> Self {
        Self {
            since: picture.now.at.since(beacon.since.at),
            heard: picture.now.at.since(beacon.last.at),
            fix: beacon.fix_age,
            own: picture.own.age,
            fix_by_call: beacon.fix_by_call,
            heard_by_call: beacon.is_call(),
            by_hand: matches!(beacon.id, CasualtyId::Mark(_)),
        }
    }

    /// How old the position is, and how long ago it was heard.
    pub fn words(&self) -> String {
        match self.by_hand {
            true => self.heard_words(),
            false => format!("{}, {}", self.fix_words(), self.heard_words()),
        }
    }

    /// `fix 12 s old`; by what, where it came by a call.
    pub fn fix_words(&self) -> String {
        let by = if self.fix_by_call { " DSC" } else { "" };
        self.fix.map_or("age of fix not known".to_owned(), |age| {
            format!("fix {} old{by}", short_age(age))
        })
    }

    /// `heard 12 s ago`, `marked 12 s ago`; by what, where a call is part of it: the age of a fix that came by DSC is
    /// another than that of what was heard by AIS.
    pub fn heard_words(&self) -> String {
        if self.by_hand {
            return format!("marked {} ago", short_age(self.heard));
        }
        let by = match (self.fix_by_call, self.heard_by_call) {
            (false, false) => "",
            (_, true) => " DSC",
            (true, false) => " AIS",
        };
        format!("heard {} ago{by}", short_age(self.heard))
    }
}
