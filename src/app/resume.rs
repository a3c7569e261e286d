//! What a watch before this one left open, read back from the logbook.

use std::collections::BTreeSet;
use std::io;
use std::ops::Range;
use std::path::PathBuf;
use std::time::Duration;

use crate::logbook::{self, AlertChange, Draft, Entry, Incidents, Reader};
use crate::navigation::range_and_bearing;
use crate::thread;
use crate::time::{Mono, Stamp, Utc};
use crate::watch::{
    AlertId, AlertReport, DECLARED_HOLDS, Declaration, Event, EventBody, Known, LeftOpen,
    OpenAlert, OpenBeacon, PastHour, Reach, Rehearsed, State,
};

/// Nothing older than this is reckoned with: then the clocks are wrong. Our own.
pub const LONGEST: Duration = Duration::from_secs(30 * 86_400);

/// How long a watch waits for it before it begins: alarms come first. Our own.
pub(super) const BEFORE_THE_WATCH: Duration = Duration::from_millis(250);

/// Fewer alerts than this are counted one by one in the life of a logbook. Our own.
const COUNTED: u32 = 1_000_000;

/// How many hours tell how the boat usually hears: four weeks of them, whenever they were. Our own.
pub(super) const USUAL_HOURS: usize = 28 * 24;

/// How long until a logbook that could not be read is tried again. Our own.
const AGAIN: Duration = Duration::from_millis(500);

/// What the logbook tells of the watch before.
#[derive(Debug)]
pub(super) enum Found {
    /// It cannot be read yet.
    NotYet,
    /// What was left open; `None` if that can never be read.
    LeftOpen(Option<Box<Incidents>>),
    /// How the boat heard in the last weeks.
    Hours(Vec<PastHour>),
    /// Reading it has failed for good: why.
    Failed(String),
    /// Entries that cannot be read or were altered.
    Damaged(Vec<i64>),
    /// Whether entries are damaged, but for these, cannot be found out: why.
    Unchecked(Vec<i64>, String),
}

/// What goes on, and what is only remembered.
#[derive(Debug, Default)]
pub struct Left {
    /// What goes on.
    pub open: LeftOpen,
    /// The alerts of the watch before, for the eye.
    pub history: Vec<Event>,
}

/// Reads it on a thread of its own, however long that takes, and tells it: first what was open, then
/// which entries are damaged. A logbook that is none leaves nothing open: its writer says so.
///
/// `tell` says whether anybody still wants to know.
///
/// # Errors
/// No thread can be started.
pub(super) fn read(
    folder: PathBuf,
    tell: impl Fn(Found) -> bool + Send + 'static,
) -> io::Result<()> {
    let look = move |panicked: Option<&str>| loop {
        if let Some(why) = panicked {
            tell(Found::LeftOpen(None));
            tell(Found::Failed(why.to_owned()));
            return;
        }
        match Reader::open(&folder).and_then(|reader| {
            let incidents = reader.as_ref().map(Reader::open_incidents).transpose()?;
            Ok((reader, incidents.unwrap_or_default()))
        }) {
            Ok((reader, incidents)) => {
                let unread = incidents.unread.clone();
                let wanted = tell(Found::LeftOpen(Some(Box::new(incidents))));
                if !wanted {
                    return;
                }
                let hours = reader.as_ref().map(past_hours);
                if let Some(hours) = hours.filter(|hours| !hours.is_empty()) {
                    tell(Found::Hours(hours));
                }
                match reader.map(|reader| reader.damage_not_known(&unread)) {
                    None => {}
                    Some(Ok(none)) if none.is_empty() => {}
                    Some(Ok(damaged)) => drop(tell(Found::Damaged(damaged))),
                    Some(Err(why)) => drop(tell(Found::Unchecked(unread, why.to_string()))),
                }
                return;
            }
            // Another program holds it, or the disk does not answer: it may later.
            Err(why @ logbook::Error::Unusable { .. }) if tell(Found::NotYet) => {
                tracing::debug!("cannot read yet what was open before: {why}");
                std::thread::sleep(AGAIN);
            }
            Err(why) => {
                tracing::debug!("cannot read what was open before: {why}");
                tell(Found::LeftOpen(None));
                return;
            }
        }
    };
    thread::spawn("resume", look).map(drop)
}

/// How the boat heard lately. It is memory and no evidence: where it cannot be read, nothing is compared
/// until it is gathered again.
fn past_hours(reader: &Reader) -> Vec<PastHour> {
    // Of an hour the estimate alone is read.
    let hours = reader.hours::<Reach>(None, USUAL_HOURS).unwrap_or_else(|why| {
        tracing::debug!("cannot read how the boat heard: {why}");
        Vec::new()
    });
    hours.iter().filter_map(Reach::past).collect()
}

/// The number after which alerts are counted while the logbook cannot be read: four a second since
/// 2020, which lasts to 2053 and is above what is counted one by one. With a clock that has lost the
/// time, as it has at each start of a computer without a battery for it, that would be the same
/// again: then `chance`, any number, decides on one of the lowest quarter of a billion, below what a
/// clock gives after January 2022. Of two such starts that give a hundred alerts each, one in a
/// million gives a number twice.
pub fn number_without_a_book(now: Utc, chance: u32) -> u32 {
    const BEGINNING_OF_2020_S: i64 = 1_577_836_800;
    const BY_CHANCE: u32 = 0x1000_0000;
    let quarters = (now.unix_ms() / 1000 - BEGINNING_OF_2020_S).saturating_mul(4);
    match u32::try_from(quarters) {
        Ok(quarters) if quarters > COUNTED + BY_CHANCE => quarters.min(u32::MAX - AlertId::ROOM),
        _ => COUNTED + chance % BY_CHANCE,
    }
}

/// A clock that was set back in between makes nothing younger than now.
fn ago(utc: Utc, now: Utc) -> Duration {
    Duration::from_millis(u64::try_from(now.ms_since(utc)).unwrap_or(0)).min(LONGEST)
}

/// What this watch itself has done where it reads the logbook late.
#[derive(Clone, Debug, Default)]
pub struct Ours {
    /// The numbers that it has given.
    pub numbers: Range<u32>,
    /// The entry that began it, if it is written down already: what is of that is not of one before.
    pub session: Option<i64>,
}

impl Ours {
    fn wrote(&self, entry: &Entry) -> bool {
        self.session.is_some() && entry.session == self.session
    }
}

/// Gives what happened its place in the count of this watch, which began with [`LONGEST`]. An alert
/// whose number another has too, by a watch that could not read the logbook, gets a fresh one.
pub fn place(incidents: Incidents, ours: &Ours, now: Stamp) -> Left {
    let Incidents {
        open,
        raised,
        beacons,
        beacons_began,
        highest_alert,
        history,
        declared,
        joined,
        ..
    } = incidents;
    let at = |utc: Utc| Mono::START + now.at.since(Mono::START).saturating_sub(ago(utc, now.utc));
    let back = |at: Mono, seconds| {
        Mono::START + at.since(Mono::START).saturating_sub(Duration::from_secs(seconds))
    };
    let mut numbers = Numbers::new(highest_alert, &ours.numbers);
    let mut open_alert = |last: Entry, raised: Entry| {
        let draft = Some(last).filter(|it| !ours.wrote(it))?.draft;
        let AlertChange { alert, cause, priority, state, matter, joined_by } =
            draft.alert()?.clone();
        let (id, was) = match cause.is_about_people() {
            true => numbers.keep(alert),
            false => (alert, None),
        };
        // What was said of the end of a point whose place was taken is no part of it.
        let text = if joined_by.is_some() { &raised.draft.text } else { &draft.text };
        let (rehearsed, text) = Rehearsed::unmarked(text);
        Some(OpenAlert {
            id,
            was,
            cause,
            priority,
            rectified: state == State::RectifiedUnacknowledged,
            mmsi: draft.mmsi,
            text: text.to_owned(),
            rehearsed,
            matter,
            raised: at(raised.draft.host()),
            place: draft.position,
            heard: draft
                .fix_age_s
                .map_or(at(raised.draft.host()), |age| back(at(draft.host()), age)),
            sentence: raised.draft.sentences.first().cloned(),
            joined_by,
        })
    };
    let alerts = open.into_iter().zip(raised);
    let alerts: Vec<_> = alerts.filter_map(|(last, raised)| open_alert(last, raised)).collect();
    let beacons = beacons.into_iter().zip(beacons_began).filter_map(|(last, first)| {
        // One that began to be so later is not what was declared over; and a word is over after its
        // time, or if its age is not known because this clock has lost the time.
        let may_hold = |it: &Entry| {
            let said = it.draft.host();
            said <= now.utc && ago(said, now.utc) <= DECLARED_HOLDS
        };
        let declared = declared.iter().find(|it| it.draft.mmsi == last.draft.mmsi);
        let declared = declared.filter(|it| it.entry > first.entry && may_hold(it)).map(
            |Entry { draft, .. }| {
                let range =
                    draft.own.zip(draft.position).map(|(own, it)| range_and_bearing(own, it).0);
                Declaration::new(at(draft.host()), range)
            },
        );
        let is_its = |(ended, _): &&(Entry, Entry)| {
            ended.draft.alert().is_some_and(|it| it.joined_by == last.draft.mmsi)
        };
        let joined = joined.iter().find(is_its).cloned();
        let (draft, first) = (last.draft, first.draft);
        // What a station passed on late was heard before it came.
        let heard = |it: &Draft| {
            let ago = i64::try_from(it.heard_ago_s()).unwrap_or(i64::MAX).saturating_mul(1000);
            let utc = it.host().unix_ms().saturating_sub(ago);
            let utc = Utc::from_unix_ms(utc).unwrap_or(it.host());
            Stamp { at: at(utc), utc }
        };
        Some(OpenBeacon {
            mmsi: draft.mmsi?,
            mode: draft.mode()?,
            since: heard(&first),
            last: heard(&draft),
            position: draft.position,
            fix_at: draft.fix_age_s.map(|age| back(at(draft.host()), age)),
            own_at_first: first.own,
            declared,
            joined: joined.and_then(|(ended, raised)| open_alert(ended, raised)),
        })
    });
    let beacons = beacons.collect();
    let history = history.iter().filter(|it| !ours.wrote(it)).filter_map(|it| event(&it.draft));
    let history = history.collect();
    Left { open: LeftOpen { alerts, beacons, last_id: numbers.last }, history }
}

/// The numbers that alerts have.
struct Numbers {
    taken: BTreeSet<AlertId>,
    ours: Range<u32>,
    last: u32,
}

impl Numbers {
    fn new(highest: Option<AlertId>, ours: &Range<u32>) -> Self {
        let last = highest.map_or(0, |id| id.0).max(ours.end.saturating_sub(1));
        Self { taken: BTreeSet::new(), ours: ours.clone(), last }
    }

    /// The number of an alert that had this one, and this one if it is another's.
    fn keep(&mut self, id: AlertId) -> (AlertId, Option<AlertId>) {
        if !self.ours.contains(&id.0) && self.taken.insert(id) {
            return (id, None);
        }
        self.last = self.last.saturating_add(1);
        (AlertId(self.last), Some(id))
    }
}

/// An entry about an alert as the event that it was.
fn event(draft: &Draft) -> Option<Event> {
    let change = draft.alert()?.clone();
    let AlertChange { alert: id, cause, priority, state, matter, .. } = change;
    let (rehearsed, text) = Rehearsed::unmarked(&draft.text);
    let body = EventBody::Alert(AlertReport {
        id,
        cause,
        priority,
        state,
        mmsi: draft.mmsi,
        text: text.to_owned(),
        rehearsed,
        matter,
        known: Known { sentence: draft.sentences.first().cloned(), ..Known::default() },
    });
    Some(Event { at: draft.host(), body })
}
