//! The judge: knows what was truly on the air, which lines arrived intact, what was done by hand
//! and what the disk has; and says whether what was told is what contract.md asks for. Written
//! without a look at the core's ways, and simpler: a set of who is in danger.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::fmt;

use overside::watch::{Alert, AlertReport, Cause, Command, Event, EventBody, Priority, State};

use crate::air::{Call, Says, Truth};
use crate::books::Row;
use crate::script::{DAY, HOUR, MINUTE, MUSTER};

/// Longer ago than this the same transmission is another one (contract: equal transmissions).
const SAME_MS: u64 = 1500;
/// Declared over and still ACTIVE, it is an emergency again after this.
const DECLARED_MS: u64 = 10 * MINUTE;
/// And it goes on for so long after it was heard.
const GOES_ON_MS: u64 = 5 * MINUTE;
/// A restart goes on with what was open within this.
const BACK_MS: u64 = 2000;

/// Who may be in the water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Who {
    Station(u32),
    Emitter(u32),
    /// A point set by hand, by the number of its alert.
    Mark(u32),
}

/// What is known of somebody.
#[derive(Clone, Copy, Debug, Default)]
struct Incident {
    /// An emergency must be open.
    danger: bool,
    /// Since when.
    since: u64,
    /// When the operator said that it is over, if the beacon may go on since.
    declared: Option<u64>,
    /// The same, also when it was in danger again since: that may be lost with the disk.
    word: Option<u64>,
    last_heard: Option<u64>,
    /// When its beacon was first heard active in this danger.
    active_since: Option<u64>,
    /// It has taken the place of a point set by hand in this danger.
    took: bool,
    /// Evidence of it came in this life of the program.
    fresh: bool,
}

/// An alert as it was told last.
#[derive(Clone, Debug)]
pub struct Told {
    pub cause: Cause,
    pub priority: Priority,
    pub state: State,
    pub mmsi: Option<u32>,
    pub text: String,
}

impl Told {
    pub fn is_active(&self) -> bool {
        !matches!(self.state, State::RectifiedUnacknowledged | State::Normal)
    }

    fn is_emergency(&self) -> bool {
        self.priority == Priority::EmergencyAlarm && self.is_active()
    }

    fn who(&self, id: u32) -> Option<Who> {
        match self.cause {
            Cause::OverboardMarked => Some(Who::Mark(id)),
            Cause::MobNotice => {
                let (_, rest) = self.text.split_once("crew alarm ")?;
                u32::from_str_radix(rest.get(..5)?, 16).ok().map(Who::Emitter)
            }
            _ => self.mmsi.map(Who::Station),
        }
    }
}

/// A breach of the contract.
#[derive(Clone, Debug)]
pub struct Breach {
    pub at: u64,
    /// The rule, in a word or two: what a failing script is reduced by.
    pub rule: &'static str,
    pub what: String,
}

/// What happened in one step: one input, and all that it caused.
#[derive(Debug, Default)]
struct Step {
    /// The beacons of which anything was heard.
    heard: BTreeSet<u32>,
    /// About whom the operator said that it is over.
    over: Option<Who>,
    acknowledged: Option<u32>,
    silenced: Option<u32>,
    mark: bool,
    told_any: bool,
}

#[derive(Clone, Copy, Debug, Default)]
pub struct Figures {
    pub days: u64,
    pub casualties: u64,
    /// Of those: the alarm came.
    pub alarmed: u64,
    pub restarts: u64,
    pub resumed: u64,
    pub faults: u64,
    /// In danger when the power failed, and not on the disk, or damaged there.
    pub lost_with_disk: u64,
    /// From the first transmission to the alarm.
    pub worst_ms: u64,
    pub logged: u64,
    /// Days on which nobody was in danger.
    pub quiet_days: u64,
}

pub struct Judge {
    now: u64,
    pub board: BTreeMap<u32, Told>,
    /// The highest number ever given, as far as the logbook can know.
    highest: u32,
    /// All that are in the logbook.
    given: BTreeSet<u32>,
    incidents: BTreeMap<Who, Incident>,
    step: Step,
    /// Alerts that must come back after a restart.
    owed: BTreeMap<u32, Row>,
    /// Alerts of which an entry is damaged: they may come back.
    excused: BTreeSet<u32>,
    /// Alerts of the watch before about itself, which are found again or not.
    of_itself: BTreeSet<u32>,
    /// By when it must have been told that something cannot be read.
    damage_due: Option<u64>,
    began: u64,
    muster: BTreeSet<u32>,
    recent: VecDeque<(u64, String, Vec<&'static str>)>,
    /// The highest entry that was said to be logged.
    said_logged: i64,
    overboard: BTreeMap<u32, u64>,
    danger_days: BTreeSet<u64>,
    pub figures: Figures,
    pub breach: Option<Breach>,
}

impl Judge {
    pub fn new() -> Self {
        Self {
            now: 0,
            board: BTreeMap::new(),
            highest: 0,
            given: BTreeSet::new(),
            incidents: BTreeMap::new(),
            step: Step::default(),
            owed: BTreeMap::new(),
            excused: BTreeSet::new(),
            of_itself: BTreeSet::new(),
            damage_due: None,
            began: 0,
            muster: MUSTER.into(),
            recent: VecDeque::new(),
            said_logged: 0,
            overboard: BTreeMap::new(),
            danger_days: BTreeSet::new(),
            figures: Figures::default(),
            breach: None,
        }
    }

    fn find(&mut self, rule: &'static str, what: impl Into<String>) {
        let breach = Breach { at: self.now, rule, what: what.into() };
        self.breach.get_or_insert(breach);
    }

    fn check(&mut self, holds: bool, rule: &'static str, what: impl FnOnce() -> String) {
        if !holds {
            let what = what();
            self.find(rule, what);
        }
    }

    /// A new step, at this time.
    pub fn begin_step(&mut self, now: u64) {
        self.now = now;
        self.step = Step::default();
    }

    /// Somebody goes overboard, whether anything of it is ever heard or not.
    pub fn overboard(&mut self, mmsi: u32) {
        self.figures.casualties += 1;
        // Whoever was never heard before is not found by a later alarm.
        self.overboard.insert(mmsi, self.now);
    }

    pub fn muster(&mut self, muster: impl Iterator<Item = u32>) {
        self.muster = muster.collect();
    }

    /// A line reached the watch intact.
    pub fn heard(&mut self, input: &'static str, line: &str, truth: Truth) {
        if truth == Truth::Other || self.is_repeat(input, line) {
            return;
        }
        match truth {
            Truth::Beacon(mmsi, says) => {
                let now = self.now;
                let incident = self.incidents.entry(Who::Station(mmsi)).or_default();
                incident.last_heard = Some(now);
                self.step.heard.insert(mmsi);
                match says {
                    Says::Active => {
                        // Then it is an emergency again; how the range goes is not known here. A
                        // watch that began since has the age of the word by a clock that may be slow.
                        let began = self.began;
                        let left_alone = |at: u64| now.saturating_sub(at.max(began)) <= DECLARED_MS;
                        if !incident.declared.is_some_and(left_alone) {
                            self.in_danger(Who::Station(mmsi));
                            let incident = self.incidents.entry(Who::Station(mmsi)).or_default();
                            incident.active_since.get_or_insert(now);
                        }
                    }
                    Says::Off => self.over(mmsi),
                    Says::Test | Says::Doubt => {}
                }
            }
            Truth::Call(mmsi, Call::Overboard) => self.in_danger(Who::Station(mmsi)),
            Truth::Call(mmsi, Call::Cancel) => self.over(mmsi),
            Truth::Notice(emitter, 'A' | 'M') => self.in_danger(Who::Emitter(emitter)),
            Truth::Call(_, Call::Lesser) | Truth::Notice(..) | Truth::Other => {}
        }
    }

    /// The same payload by another input within 1.5 s is the same transmission; by the same input
    /// it is a new one.
    fn is_repeat(&mut self, input: &'static str, line: &str) -> bool {
        let now = self.now;
        self.recent.retain(|(at, ..)| now - at <= SAME_MS);
        let same = self.recent.iter_mut().rev();
        let mut same = same.filter(|(_, said, by)| said == line && !by.contains(&input));
        if let Some((_, _, by)) = same.next() {
            by.push(input);
            return true;
        }
        self.recent.push_back((now, line.to_owned(), vec![input]));
        false
    }

    fn in_danger(&mut self, who: Who) {
        let now = self.now;
        let incident = self.incidents.entry(who).or_default();
        if !incident.danger {
            (incident.since, incident.took) = (now, false);
        }
        (incident.danger, incident.fresh) = (true, true);
        incident.declared = None;
        self.danger_days.insert(now / DAY);
    }

    /// OFF, CANCEL or a DSC cancel.
    fn over(&mut self, mmsi: u32) {
        let incident = self.incidents.entry(Who::Station(mmsi)).or_default();
        (incident.danger, incident.declared, incident.active_since) = (false, None, None);
        incident.word = None;
    }

    /// Somebody did this, going by what was told.
    pub fn hand(&mut self, command: Command) {
        match command {
            Command::Acknowledge(id) => self.step.acknowledged = Some(id.0),
            Command::Silence(id) => self.step.silenced = Some(id.0),
            Command::Resolve(id) => {
                let Some(alert) = self.board.get(&id.0) else { return };
                if alert.priority == Priority::EmergencyAlarm {
                    self.step.over = alert.who(id.0);
                }
            }
            Command::MarkOverboard => self.step.mark = true,
            // The hands on these boats mute and part nothing.
            Command::PlaceShip(_)
            | Command::Part(_)
            | Command::Present
            | Command::Mute(_)
            | Command::Unmute
            | Command::Seas(_) => {}
        }
    }

    /// An event was told.
    pub fn told(&mut self, event: &Event, rows: &BTreeMap<i64, Row>) {
        match &event.body {
            EventBody::Alert(alert) => self.told_alert(alert),
            EventBody::Logged { entry, cause, mmsi, state } => {
                let is_there = rows.get(entry).is_some_and(|row| {
                    (row.cause, row.mmsi, row.state)
                        == (*cause, mmsi.map(|mmsi| mmsi.value()), *state)
                });
                self.check(is_there, "logged", || {
                    format!("entry {entry} is said to be logged and is not on the disk")
                });
                self.said_logged = self.said_logged.max(*entry);
                self.figures.logged += 1;
            }
            _ => {}
        }
    }

    fn told_alert(&mut self, report: &AlertReport) {
        self.step.told_any = true;
        // Told is told, though somebody says at once that it is over.
        if report.cause == Cause::LogbookFailed
            && report.state == State::ActiveUnacknowledged
            && self.now >= self.began
        {
            self.damage_due = None;
        }
        let id = report.id.0;
        let told = Told {
            cause: report.cause,
            priority: report.priority,
            state: report.state,
            mmsi: report.mmsi.map(|mmsi| mmsi.value()),
            text: report.text.clone(),
        };
        match self.board.get(&id).cloned() {
            Some(before) => self.goes_on(id, &before, &told),
            None => match self.owed.remove(&id) {
                Some(row) => self.comes_back(id, &row, &told),
                None if self.excused.contains(&id) => {
                    // What is on the disk counts, as far as it can be read.
                    if let Some(who) = told.who(id).filter(|_| told.is_emergency()) {
                        self.in_danger(who);
                        if let Who::Mark(_) = who {
                            // When it was set is not known any more.
                            self.incidents.entry(who).or_default().since = 0;
                        }
                    }
                }
                // What the watch before said of itself is told to be over.
                None if told.state == State::Normal && self.of_itself.remove(&id) => {}
                None => self.is_new(id, &told),
            },
        }
        // An altered byte may stand in what says who it is.
        if told.is_emergency() && !self.excused.contains(&id) {
            self.must_be_true(id, &told);
        }
        if told.state == State::Normal {
            self.board.remove(&id);
        } else {
            self.board.insert(id, told);
        }
    }

    fn is_new(&mut self, id: u32, told: &Told) {
        let highest = self.highest;
        self.check(id > highest && !self.given.contains(&id), "numbers", || {
            format!("alert {id} is raised, and {highest} was given before")
        });
        self.highest = highest.max(id);
        // Whoever took note of a call has taken note of the beacon of the same incident.
        let noted = self.board.values().any(|it| {
            it.mmsi.is_some() && it.mmsi == told.mmsi && it.state == State::ActiveAcknowledged
        });
        let enters = match told.priority {
            Priority::Caution => State::ActiveAcknowledged,
            _ => State::ActiveUnacknowledged,
        };
        let noted = noted && told.state == State::ActiveAcknowledged;
        self.check(told.state == enters || noted, "enters", || {
            format!("alert {id} enters {:?}: {}", told.state, told.text)
        });
    }

    fn goes_on(&mut self, id: u32, before: &Told, told: &Told) {
        let same = before.cause == told.cause && before.mmsi == told.mmsi;
        self.check(same, "identity", || {
            format!("alert {id} is about something else: {}", told.text)
        });
        self.check(told.priority >= before.priority, "lowered", || {
            format!("alert {id} falls to {:?}: {}", told.priority, told.text)
        });
        let by_hand = match told.state {
            State::ActiveAcknowledged if told.priority > Priority::Caution => {
                self.step.acknowledged == Some(id)
            }
            State::ActiveSilenced => self.step.silenced == Some(id),
            _ => true,
        };
        self.check(by_hand || told.state == before.state, "by nobody", || {
            format!("alert {id} is {:?} without a hand: {}", told.state, told.text)
        });
    }

    fn comes_back(&mut self, id: u32, row: &Row, told: &Told) {
        self.figures.resumed += 1;
        let same =
            (row.cause, row.mmsi) == (told.cause, told.mmsi) && told.priority >= row.priority;
        let emergency = row.priority == Priority::EmergencyAlarm;
        let was_active = row.state != State::RectifiedUnacknowledged;
        // Heard again before the logbook could be read: then that alert goes on in its place.
        let who = told.who(id);
        let again = who.and_then(|who| self.incidents.get(&who)).is_some_and(|it| it.fresh);
        let state = !emergency
            || !was_active
            || told.state == State::ActiveUnacknowledged
            || (again && told.state == State::Normal);
        self.check(same && state, "resumed", || {
            format!("alert {id} comes back as {:?} {:?}: {}", told.priority, told.state, told.text)
        });
        // What was heard before the logbook could be read ends nothing that is in it.
        if let Some(who) = who.filter(|_| told.is_emergency()) {
            self.in_danger(who);
        }
    }

    /// No emergency without a reason.
    fn must_be_true(&mut self, id: u32, told: &Told) {
        let who = told.who(id);
        let now = self.now;
        // By the clock of a watch that began since, which may be slow.
        let lately = |at: u64| now.saturating_sub(at.max(self.began)) <= GOES_ON_MS;
        let goes_on = |it: &&Incident| it.declared.is_some() && it.last_heard.is_some_and(lately);
        // Declared over, and it goes on: the range may have grown before the time is over.
        if let Some(who) = who.filter(|who| self.incidents.get(who).is_some_and(|it| goes_on(&it)))
        {
            self.in_danger(who);
            self.incidents.entry(who).or_default().active_since.get_or_insert(now);
        }
        let marked = matches!(who, Some(Who::Mark(_))) && self.step.mark;
        let true_one = who.and_then(|who| self.incidents.get(&who)).is_some_and(|it| it.danger);
        self.check(true_one || marked, "false emergency", || {
            format!("alert {id} is an emergency, and nobody is in danger: {}", told.text)
        });
    }

    /// The end of a step: what must be open is open. `open` is what the watch itself says.
    pub fn settle(&mut self, open: &[Alert]) {
        if self.step.mark {
            self.marked();
        }
        if let Some(who) = self.step.over {
            let left = self.emergency_of(who);
            let now = self.now;
            let incident = self.incidents.entry(who).or_default();
            incident.danger &= left;
            incident.active_since = incident.active_since.filter(|_| left);
            incident.declared = (!left).then_some(now);
            incident.word = incident.declared;
        }
        let owed: BTreeSet<Who> =
            self.owed.iter().filter_map(|(id, row)| owed_who(*id, row)).collect();
        let in_danger: Vec<(Who, u64)> = self
            .incidents
            .iter()
            .filter(|(who, it)| it.danger && (it.fresh || !owed.contains(who)))
            .map(|(who, it)| (*who, it.since))
            .collect();
        if !in_danger.is_empty() {
            self.danger_days.insert(self.now / DAY);
        }
        for (who, since) in in_danger {
            if self.emergency_of(who) {
                self.alarm_came(who);
            } else if self.taken_over(who, since) {
                self.incidents.remove(&who);
            } else {
                let rule = if since == self.now { "no emergency" } else { "ended" };
                self.find(rule, format!("{who:?} is in danger since {since} ms"));
            }
        }
        // In a storm only now and then: there are a thousand.
        if self.step.told_any && (open.len() < 64 || self.board.len().is_multiple_of(64)) {
            self.compare(open);
        }
        // A point that is over never comes again.
        self.incidents.retain(|who, it| it.danger || !matches!(who, Who::Mark(_)));
        self.step = Step::default();
        self.due();
    }

    /// The fold of what was told is what is open.
    fn compare(&mut self, open: &[Alert]) {
        let same = open.len() == self.board.len()
            && open.iter().all(|alert| {
                let told = self.board.get(&alert.id.0);
                told.is_some_and(|it| (it.state, it.priority) == (alert.state, alert.priority))
            });
        self.check(same, "fold", || "what was told is not what is open".to_owned());
    }

    fn emergency_of(&self, who: Who) -> bool {
        self.board.iter().any(|(id, it)| it.is_emergency() && it.who(*id) == Some(who))
    }

    fn marked(&mut self) {
        let now = self.now;
        let marks: Vec<u32> = self
            .board
            .iter()
            .filter(|(_, it)| it.cause == Cause::OverboardMarked && it.is_emergency())
            .map(|(id, _)| *id)
            .filter(|id| !self.incidents.contains_key(&Who::Mark(*id)))
            .collect();
        self.check(marks.len() == 1, "mark", || format!("one point was set: {marks:?}"));
        for id in marks {
            self.incidents.insert(
                Who::Mark(id),
                Incident { danger: true, since: now, ..Incident::default() },
            );
        }
    }

    /// The emergency of a beacon of the muster that is first heard active after the point was set
    /// takes its place: of one point, for one beacon is one person. Where the muster or the logbook
    /// was read in between, with its next message, whatever that says.
    fn taken_over(&mut self, who: Who, since: u64) -> bool {
        let Who::Mark(_) = who else { return false };
        let takes = |mmsi: &u32| {
            let station = Who::Station(*mmsi);
            let beacon = self.incidents.get(&station).filter(|it| !it.took);
            let first = beacon.and_then(|it| it.active_since);
            self.muster.contains(mmsi)
                && first.is_some_and(|at| at >= since)
                && self.emergency_of(station)
        };
        let Some(taker) = self.step.heard.iter().copied().find(takes) else { return false };
        self.incidents.entry(Who::Station(taker)).or_default().took = true;
        true
    }

    fn alarm_came(&mut self, who: Who) {
        let Who::Station(mmsi) = who else { return };
        if let Some(began) = self.overboard.remove(&mmsi) {
            let passed = self.now.saturating_sub(began);
            // An alarm of the next day is about something else.
            if passed < 2 * HOUR {
                self.figures.alarmed += 1;
                self.figures.worst_ms = self.figures.worst_ms.max(passed);
            }
        }
    }

    /// When something must have come by the time alone.
    pub fn next_due(&self) -> Option<u64> {
        let back = (!self.owed.is_empty()).then_some(self.began + BACK_MS);
        back.into_iter().chain(self.damage_due).min()
    }

    /// The figures of so many days.
    pub fn figures(&self, days: u64) -> Figures {
        let quiet_days = days.saturating_sub(self.danger_days.len() as u64);
        Figures { days, quiet_days, ..self.figures }
    }

    /// Lets time pass to here.
    pub fn pass(&mut self, now: u64) {
        self.now = now;
        self.due();
    }

    fn due(&mut self) {
        if self.now >= self.began + BACK_MS
            && let Some((id, row)) = self.owed.first_key_value()
        {
            let what = format!("alert {id} was open and is forgotten: {}", row.text);
            self.find("forgotten", what);
        }
        if self.damage_due.is_some_and(|due| due <= self.now) {
            self.damage_due = None;
            self.find("damage", "an entry of an open alert is damaged, and nobody is told");
        }
    }

    /// The power fails; this is what the disk has.
    pub fn power_lost(&mut self, now: u64, last: i64) {
        self.now = now;
        let said = self.said_logged;
        self.check(said <= last, "lost entry", || {
            format!("entry {said} was said to be logged and is lost")
        });
        (self.board, self.owed) = Default::default();
        self.excused.clear();
        self.damage_due = None;
        self.recent.clear();
        // What was said in the step that the power ended may be on the disk all the same.
        if let Some(who) = self.step.over {
            self.incidents.entry(who).or_default().word = Some(now);
        }
        self.step = Step::default();
    }

    /// A watch begins with this on the disk, which it can read so many milliseconds later.
    pub fn begin(&mut self, now: u64, later: u64, rows: &BTreeMap<i64, Row>) {
        (self.now, self.began) = (now, now + later);
        self.figures.restarts += 1;
        let mut newest: BTreeMap<u32, &Row> = BTreeMap::new();
        for row in rows.values() {
            newest.insert(row.alert, row);
        }
        // Numbers that never reached the logbook may be given again.
        self.highest = newest.keys().max().copied().unwrap_or(0);
        self.given = newest.keys().copied().collect();
        if later > 0 {
            // Who cannot read them, and whose clock may have lost the time, gives one of its own.
            self.highest = 0;
        }
        for row in rows.values().filter(|row| row.damaged && row.cause.is_about_people()) {
            self.excused.insert(row.alert);
            if newest[&row.alert].damaged || newest[&row.alert].state != State::Normal {
                self.damage_due = Some(self.began + BACK_MS);
            }
        }
        let of_itself = newest.iter().filter(|(_, row)| !row.cause.is_about_people());
        self.of_itself = of_itself.map(|(id, _)| *id).collect();
        for (id, row) in newest {
            let open = row.cause.is_about_people() && row.state != State::Normal;
            if open && !self.excused.contains(&id) {
                self.owed.insert(id, row.clone());
            }
        }
        let emergency = |row: &Row| {
            row.priority == Priority::EmergencyAlarm && row.state != State::RectifiedUnacknowledged
        };
        let mut open: BTreeSet<Who> = self
            .owed
            .iter()
            .filter(|(_, row)| emergency(row))
            .filter_map(|(id, row)| owed_who(*id, row))
            .collect();
        for (who, incident) in &mut self.incidents {
            let still = open.remove(who);
            if incident.danger && !still {
                self.figures.lost_with_disk += 1;
                incident.declared = incident.word;
            }
            (incident.danger, incident.fresh) = (still, false);
            incident.active_since = incident.active_since.filter(|_| still);
        }
        for who in open {
            self.incidents
                .insert(who, Incident { danger: true, since: now, ..Incident::default() });
        }
    }
}

fn owed_who(id: u32, row: &Row) -> Option<Who> {
    let Row { cause, priority, state, mmsi, text, .. } = row.clone();
    Told { cause, priority, state, mmsi, text }.who(id)
}

impl Figures {
    pub fn add(&mut self, other: &Self) {
        self.days += other.days;
        self.quiet_days += other.quiet_days;
        self.casualties += other.casualties;
        self.alarmed += other.alarmed;
        self.restarts += other.restarts;
        self.resumed += other.resumed;
        self.faults += other.faults;
        self.lost_with_disk += other.lost_with_disk;
        self.logged += other.logged;
        self.worst_ms = self.worst_ms.max(other.worst_ms);
    }
}

impl fmt::Display for Figures {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { days, quiet_days, casualties, alarmed, restarts, resumed, faults, .. } = self;
        let Self { lost_with_disk, logged, worst_ms, .. } = self;
        let worst = *worst_ms as f64 / 1000.0;
        write!(
            f,
            "{days} days, {quiet_days} of them quiet; {casualties} casualties, {alarmed} alarmed, \
             the slowest {worst:.1} s after the first transmission; {restarts} restarts, {resumed} \
             alerts resumed, {lost_with_disk} in danger that no entry told of; {faults} faults; \
             {logged} entries said to be logged"
        )
    }
}
