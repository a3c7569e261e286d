//! The rules of the muster: what is due, what is overdue, and why.

use chrono::{Months, NaiveDate};

use super::facts::{Check, CheckKind, Facts, Proof};
use super::kit::{Finding, Kit, LastTest, Member, Muster, Spare, Status};
use crate::config::{Beacon, Config, Lifejacket};
use crate::proof::Judgement;
use crate::text::counted;

/// How many days before its last valid day something is due. Our own.
const AHEAD_DAYS: i64 = 30;
/// How long a weighed gas cylinder is held to be full, in months: weigh it once a year (Sea Angler
/// of 4 April 2019, on the care of lifejackets). Twice if it is used all year: our register has one
/// interval, our own.
const CYLINDER_MONTHS: u32 = 12;

/// Judges everybody of the register on a day.
///
/// What was written down after that day is left out. A last valid day itself is in time; `due`
/// begins 30 days before it. A month ends with its last day, and months are added by the calendar:
/// six after 31 August is the last of February.
pub fn judge(config: &Config, facts: &Facts, as_of: NaiveDate) -> Muster {
    let rules = Rules { config, facts, as_of };
    let persons: Vec<Member> = config
        .persons
        .iter()
        .map(|person| Member { name: person.name.clone(), kit: rules.person(&person.name) })
        .collect();
    let ready = persons.iter().filter(|it| it.kit.status == Status::Ready).count();
    let of = persons.len();
    Muster { as_of, persons, ready, of, spares: rules.spares() }
}

struct Rules<'a> {
    config: &'a Config,
    facts: &'a Facts,
    as_of: NaiveDate,
}

impl<'a> Rules<'a> {
    /// The first beacon of the register that names this person as its holder.
    fn beacon_of(&self, name: &str) -> Option<&'a Beacon> {
        self.config.beacons.iter().find(|beacon| beacon.holder.as_deref() == Some(name))
    }

    fn person(&self, name: &str) -> Kit {
        if let Some(beacon) = self.beacon_of(name) {
            return self.kit(Some(beacon), self.jacket_of(beacon));
        }
        let text = format!(
            "beacon: {name} has none: hand one out and enter it as a [[beacon]] with this holder"
        );
        let findings = vec![Finding { status: Status::Unprotected, text }];
        Kit { status: Status::Unprotected, findings, ..Kit::default() }
    }

    /// Beacons that are nobody's first, then lifejackets without a beacon.
    fn spares(&self) -> Vec<Spare> {
        let first = |beacon: &Beacon| {
            let holder = beacon.holder.as_deref().and_then(|name| self.beacon_of(name));
            holder.is_some_and(|it| it.mmsi == beacon.mmsi)
        };
        let beacons = self.config.beacons.iter().filter(|beacon| !first(beacon)).map(|beacon| {
            let kit = self.kit(Some(beacon), self.jacket_of(beacon));
            Spare { holder: beacon.holder.clone(), kit }
        });
        let fitted = |jacket: &Lifejacket| {
            self.config.beacons.iter().any(|it| it.fitted_to.as_ref() == Some(&jacket.name))
        };
        let jackets = self.config.lifejackets.iter().filter(|jacket| !fitted(jacket));
        let jackets = jackets.map(|it| Spare { holder: None, kit: self.kit(None, Some(it)) });
        beacons.chain(jackets).collect()
    }

    fn jacket_of(&self, beacon: &Beacon) -> Option<&'a Lifejacket> {
        let name = beacon.fitted_to.as_ref()?;
        self.config.lifejackets.iter().find(|jacket| jacket.name == *name)
    }

    fn kit(&self, beacon: Option<&Beacon>, jacket: Option<&Lifejacket>) -> Kit {
        let mut kit = Kit::default();
        if let Some(beacon) = beacon {
            self.look_at_beacon(beacon, &mut kit);
        }
        if let Some(jacket) = jacket {
            self.look_at_jacket(jacket, &mut kit);
        }
        kit.status = kit.findings.iter().map(|it| it.status).max().unwrap_or_default();
        kit
    }

    fn look_at_beacon(&self, beacon: &Beacon, kit: &mut Kit) {
        let mmsi = beacon.mmsi;
        let item = mmsi.to_string();
        kit.beacon = Some(mmsi);
        kit.battery_expires = beacon.battery_expires.map(|label| label.last_day());
        kit.findings.extend(kit.battery_expires.and_then(|last_day| {
            let what = format!("battery: its replacement in {mmsi}");
            let then = "have it replaced, the whole beacon if it cannot be opened, and write the \
                        new date into battery_expires";
            self.dated(&what, last_day, then)
        }));
        self.look_at_tests(beacon, kit);
        kit.findings.extend(self.active_use(&item, beacon));
        for kind in [CheckKind::Battery, CheckKind::Lamp] {
            let name = if kind == CheckKind::Battery { "battery" } else { "beacon" };
            let then = "out of service until it has been seen to and a good check is recorded";
            kit.findings.extend(self.failed(name, &item, kind, then));
        }
    }

    fn look_at_tests(&self, beacon: &Beacon, kit: &mut Kit) {
        let mmsi = beacon.mmsi;
        let tests: Vec<&Proof> = self.tests(beacon).collect();
        let latest = tests.iter().max_by_key(|it| (it.at, it.entry));
        let proven = tests.iter().filter(|it| it.verdict == Judgement::Proven);
        let proven = proven.max_by_key(|it| (it.at, it.entry));
        // The last try is told if it did not prove anything.
        let tried =
            latest.filter(|it| matches!(it.verdict, Judgement::Partial | Judgement::NotHeard));
        let tried = tried.map(|it| {
            let how = match it.verdict {
                Judgement::Partial => "received only in part",
                _ => "not received",
            };
            format!("that of {} with {mmsi} was {how} (entry {})", it.at.date(), it.entry)
        });
        let repeat = format!("prove it with `overside prove --beacon {mmsi}`");
        let Some(proven) = proven else {
            let why = tried.map_or(String::new(), |tried| format!("; {tried}"));
            let text = format!("test: {mmsi} was never proven{why}: {repeat}");
            kit.findings.push(Finding { status: Status::Due, text });
            return;
        };
        let (at, summary, entry) = (proven.at, proven.summary.clone(), proven.entry);
        kit.last_test = Some(LastTest { at, summary, entry });
        kit.next_test = months_after(at.date(), beacon.test_every_months);
        let what = format!("test: the next with {mmsi}");
        let due = kit.next_test.and_then(|last_day| self.dated(&what, last_day, &repeat));
        let tried = tried.map(|tried| {
            let text = format!("test: {tried}: see that entry for what to do, then {repeat}");
            Finding { status: Status::Due, text }
        });
        kit.findings.extend(due.into_iter().chain(tried));
    }

    /// A beacon that was heard ACTIVE has used its battery: replace that after any use (the
    /// manuals of two makers of AIS search and rescue transmitters).
    fn active_use(&self, item: &str, beacon: &Beacon) -> Option<Finding> {
        let active = self.tests(beacon).filter(|it| it.verdict == Judgement::ActiveHeard);
        let active = active.max_by_key(|it| (it.at, it.entry))?;
        let day = active.at.date();
        let later = |it: &Check| it.entry > active.entry && it.on >= day;
        let seen_to = self.latest(item, CheckKind::Battery).is_some_and(later);
        let text = format!(
            "battery: {item} was ACTIVE on {day} (entry {}): have the battery checked as its maker \
             says, then record it with `overside muster record --check battery`",
            active.entry
        );
        (!seen_to).then_some(Finding { status: Status::Overdue, text })
    }

    fn look_at_jacket(&self, jacket: &Lifejacket, kit: &mut Kit) {
        let name = &jacket.name;
        kit.lifejacket = Some(name.clone());
        kit.service_due = jacket.service_due.map(|label| label.last_day());
        kit.findings.extend(kit.service_due.and_then(|last_day| {
            let done = self.latest(name, CheckKind::Service).filter(|it| it.ok);
            let then = match done {
                Some(done) => {
                    format!("one is recorded for {}: write the next date into service_due", done.on)
                }
                None => "send it, and write the next date into service_due".to_owned(),
            };
            self.dated(&format!("lifejacket: the service of {name}"), last_day, &then)
        }));
        self.look_at_cylinder(jacket, kit);
        for kind in [
            CheckKind::Service,
            CheckKind::Inflation,
            CheckKind::Cartridge,
            CheckKind::CrotchStrap,
            CheckKind::Light,
        ] {
            let then = "do not wear it until it has been seen to and a good check is recorded";
            kit.findings.extend(self.failed("lifejacket", name, kind, then));
        }
    }

    /// The later of the date in the register and the recorded check counts.
    fn look_at_cylinder(&self, jacket: &Lifejacket, kit: &mut Kit) {
        let name = &jacket.name;
        let written = jacket.cylinder_weighed;
        let checked = self
            .latest(name, CheckKind::Cylinder)
            .filter(|check| written.is_none_or(|label| check.on >= label.last_day()));
        if checked.is_some_and(|check| !check.ok) {
            let then = "replace the cylinder, weigh it, and record that";
            kit.findings.extend(self.failed("cylinder", name, CheckKind::Cylinder, then));
            return;
        }
        kit.cylinder_due = match checked {
            Some(check) => months_after(check.on, CYLINDER_MONTHS),
            None => written.and_then(|label| label.months_after(CYLINDER_MONTHS)),
        };
        kit.findings.extend(kit.cylinder_due.and_then(|last_day| {
            let then = "weigh it against the minimum stamped on it, and record that with \
                        `overside muster record --check cylinder`";
            self.dated(&format!("cylinder: the weighing of that of {name}"), last_day, then)
        }));
    }

    /// The finding about something with a last valid day, if it is near or past.
    fn dated(&self, what: &str, last_day: NaiveDate, then: &str) -> Option<Finding> {
        let left = last_day.signed_duration_since(self.as_of).num_days();
        let (status, is, when) = match left {
            ..0 => (Status::Overdue, "was", format!("{} ago", counted(left.unsigned_abs(), "day"))),
            0 => (Status::Due, "is", "today".to_owned()),
            1..=AHEAD_DAYS => {
                (Status::Due, "is", format!("in {}", counted(left.unsigned_abs(), "day")))
            }
            _ => return None,
        };
        let text = format!("{what} {is} due by {last_day} ({when}): {then}");
        Some(Finding { status, text })
    }

    /// The finding about a check, if the last one of this kind failed.
    fn failed(&self, name: &str, item: &str, kind: CheckKind, then: &str) -> Option<Finding> {
        let check = self.latest(item, kind).filter(|check| !check.ok)?;
        let by = check.by.as_ref().map_or(String::new(), |by| format!(" by {by}"));
        let (words, on, entry) = (kind.words(), check.on, check.entry);
        let text =
            format!("{name}: {item} failed its {words} check on {on}{by} (entry {entry}): {then}");
        Some(Finding { status: Status::Overdue, text })
    }

    fn tests(&self, beacon: &Beacon) -> impl Iterator<Item = &'a Proof> {
        let (mmsi, as_of) = (beacon.mmsi, self.as_of);
        self.facts.proofs.iter().filter(move |it| it.mmsi == mmsi && it.at.date() <= as_of)
    }

    fn latest(&self, item: &str, kind: CheckKind) -> Option<&'a Check> {
        let checks = self.facts.checks.iter();
        let checks = checks.filter(|it| it.item == item && it.kind == kind && it.on <= self.as_of);
        checks.max_by_key(|it| (it.on, it.entry))
    }
}

/// So many months after a day, held at the end of a shorter month; `None` after the year 9999.
fn months_after(day: NaiveDate, months: u32) -> Option<NaiveDate> {
    use chrono::Datelike as _;
    day.checked_add_months(Months::new(months)).filter(|day| day.year() <= 9999)
}
