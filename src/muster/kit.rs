//! What the judgement gives: each person's beacon and lifejacket, what is due, and how it stands.

use std::fmt;

use chrono::NaiveDate;
use serde::{Serialize, Serializer};

use crate::mmsi::Mmsi;
use crate::time::Utc;

/// How everybody stands on a day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Muster {
    /// The day.
    pub as_of: NaiveDate,
    /// Everybody of the register, in its order.
    pub persons: Vec<Member>,
    /// How many of them are ready.
    pub ready: usize,
    /// How many there are.
    pub of: usize,
    /// Beacons and lifejackets beyond those; they are in no count.
    pub spares: Vec<Spare>,
}

/// A person of the register.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Member {
    /// A name or a role.
    pub name: String,
    /// What that person has.
    #[serde(flatten)]
    pub kit: Kit,
}

/// A beacon that nobody holds, a second one of somebody, or a lifejacket without a beacon.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Spare {
    /// Whose second beacon it is.
    pub holder: Option<String>,
    /// The beacon, the lifejacket it is fitted to, or a lifejacket alone.
    #[serde(flatten)]
    pub kit: Kit,
}

/// A beacon and the lifejacket it is fitted to.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Kit {
    /// The beacon's identity.
    pub beacon: Option<Mmsi>,
    /// The lifejacket's name.
    pub lifejacket: Option<String>,
    /// The worst of the findings.
    pub status: Status,
    /// What is to be done.
    pub findings: Vec<Finding>,
    /// The last self-test that was proven.
    pub last_test: Option<LastTest>,
    /// The last day of the next self-test; `None` if none was proven or no interval is set.
    pub next_test: Option<NaiveDate>,
    /// The last day of the battery; `None` if it is not watched.
    pub battery_expires: Option<NaiveDate>,
    /// The last day of the lifejacket's service; `None` if it is not watched.
    pub service_due: Option<NaiveDate>,
    /// The last day for weighing the gas cylinder; `None` if it was never weighed.
    pub cylinder_due: Option<NaiveDate>,
}

/// A self-test that was proven.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LastTest {
    /// When.
    pub at: Utc,
    /// How it was received, in a few words.
    pub summary: String,
    /// The number of its entry in the logbook.
    pub entry: i64,
}

/// How a person stands, the worst last.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Status {
    /// Nothing is due.
    #[default]
    Ready,
    /// Something is due within 30 days, or a self-test is still to be proven.
    Due,
    /// A last valid day has passed, or something has failed.
    Overdue,
    /// There is no beacon.
    Unprotected,
}

impl fmt::Display for Status {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Ready => "ready",
            Self::Due => "due",
            Self::Overdue => "overdue",
            Self::Unprotected => "unprotected",
        })
    }
}

/// Something that is to be done; in JSON its text alone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// How bad it is.
    pub status: Status,
    /// `battery`, `test`, `lifejacket`, `cylinder` or `beacon`, a colon, then what is the matter
    /// and what to do.
    pub text: String,
}

impl Serialize for Finding {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.text)
    }
}

/// A date by which something is to be done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Due {
    /// What is to be done.
    pub kind: DueKind,
    /// The beacon's nine digits, or the lifejacket's name.
    pub item: String,
    /// Who holds it.
    pub person: Option<String>,
    /// The last day on which it is in time.
    pub last_day: NaiveDate,
}

/// What is done again and again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DueKind {
    /// A beacon's self-test.
    Test,
    /// A beacon's battery.
    Battery,
    /// A lifejacket's service.
    Service,
    /// Weighing a lifejacket's gas cylinder.
    Cylinder,
}

impl Muster {
    /// Whether everybody is ready.
    pub const fn everybody_is_ready(&self) -> bool {
        self.ready == self.of
    }

    /// Every date by which something is to be done, spares included, in the order of the muster.
    /// A beacon that was never proven has no date for its test.
    pub fn dues(&self) -> Vec<Due> {
        let persons = self.persons.iter().map(|it| (Some(&it.name), &it.kit));
        let spares = self.spares.iter().map(|it| (it.holder.as_ref(), &it.kit));
        persons.chain(spares).flat_map(|(person, kit)| kit.dues(person)).collect()
    }
}

impl Kit {
    fn dues(&self, person: Option<&String>) -> impl Iterator<Item = Due> {
        let beacon = self.beacon.map(|mmsi| mmsi.to_string());
        let jacket = self.lifejacket.clone();
        let due = |kind, item: &Option<String>, last_day: Option<NaiveDate>| {
            let (item, last_day) = item.clone().zip(last_day)?;
            Some(Due { kind, item, person: person.cloned(), last_day })
        };
        [
            due(DueKind::Test, &beacon, self.next_test),
            due(DueKind::Battery, &beacon, self.battery_expires),
            due(DueKind::Service, &jacket, self.service_due),
            due(DueKind::Cylinder, &jacket, self.cylinder_due),
        ]
        .into_iter()
        .flatten()
    }
}
