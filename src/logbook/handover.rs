//! What the relief has to know: the watch since it was last handed over, or since it began.

use std::collections::{BTreeMap, HashMap};

use super::details::{Act, Details, WatchEvent};
use super::draft::Draft;
use super::entry::Entry;
use super::error::Error;
use super::kind::Kind;
use super::reader::{Filter, Reader};
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::Utc;
use crate::watch::{InputState, Mode, State};

/// Items of each kind that are kept; a page holds no more.
const LIMIT: usize = 100;

/// A watch, summed up.
#[derive(Clone, Debug)]
pub struct Handover {
    /// When it began.
    pub from: Utc,
    /// Up to when it is told.
    pub until: Utc,
    /// The last entry of each alert that is open, in the order they were raised.
    pub open: Vec<Entry>,
    /// The last entry of each alert that ended in it, in the order they ended.
    pub resolved: Vec<Entry>,
    /// When each of them was raised, which may be before this watch, by the number of its last entry.
    pub raised: BTreeMap<i64, Utc>,
    /// The entries of all the logbook that cannot be read or were altered: what they said may be
    /// missing here.
    pub damaged: Vec<i64>,
    /// The beacons that were heard testing.
    pub tests: Vec<TestHeard>,
    /// The inputs that failed.
    pub outages: Vec<Outage>,
    /// How far a beacon would have been heard, as it was last written down.
    pub reach: Option<Entry>,
    /// The hour in which that was least, if it was known in more than one.
    pub least_reach: Option<Entry>,
    /// What was noted by hand.
    pub notes: Vec<Entry>,
    /// Where the ship was at its beginning.
    pub first_own: Option<(Utc, Position)>,
    /// Where she was last.
    pub last_own: Option<(Utc, Position)>,
}

/// A beacon that was heard testing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TestHeard {
    /// Which.
    pub mmsi: Mmsi,
    /// Whose it is.
    pub person: Option<String>,
    /// When it was first heard to.
    pub first: Utc,
    /// Reports of it.
    pub reports: u32,
}

/// A time for which an input gave nothing sound.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outage {
    /// Which.
    pub input: String,
    /// Since when.
    pub since: Utc,
    /// How long, in whole seconds.
    pub seconds: u64,
    /// Whether it is over.
    pub over: bool,
    /// Arrival at its beginning, with the watch that counted it.
    counted: Counted,
}

/// An arrival, with the watch that counted it.
type Counted = (Option<i64>, Option<u64>);

impl Reader {
    /// Sums a watch up: since `since`, or else since the last handover or the beginning. A watch
    /// that began again without having ended goes on. `now` is the host's time.
    ///
    /// # Errors
    /// A logbook that cannot be read.
    pub fn handover(&self, since: Option<Utc>, now: Utc) -> Result<Handover, Error> {
        let begin = match since {
            Some(_) => None,
            None => self.begin_of_watch()?,
        };
        let incidents = self.open_incidents()?;
        let mut open: Vec<(Utc, Entry)> =
            incidents.raised.iter().map(|it| it.draft.at()).zip(incidents.open).collect();
        open.sort_by_key(|(raised, entry)| (*raised, entry.entry));
        let mut summed = Summed {
            page: Handover {
                from: since.or(begin.as_ref().map(|it| it.draft.at())).unwrap_or(now),
                until: now,
                raised: open.iter().map(|(raised, entry)| (entry.entry, *raised)).collect(),
                open: open.into_iter().map(|(_, entry)| entry).collect(),
                resolved: Vec::new(),
                damaged: self.damaged()?,
                tests: Vec::new(),
                outages: Vec::new(),
                reach: None,
                least_reach: None,
                notes: Vec::new(),
                first_own: None,
                last_own: None,
            },
            resolved: BTreeMap::new(),
            alerts: self.alerts()?,
        };
        let after = begin.map(|it| it.entry - 1);
        let filter = Filter { since, after, ..Filter::default() };
        self.entries::<Error>(&filter, |entry| {
            summed.take(entry);
            Ok(())
        })?;
        let raised: Vec<(i64, i64)> =
            summed.resolved.iter().map(|(raised, ended)| (ended.entry, *raised)).collect();
        let mut page = summed.finish(now);
        for (ended, raised) in raised {
            let raised = self.get(raised);
            // Where its first entry cannot be read, that is not known.
            if let Ok(Some(raised)) = raised {
                page.raised.insert(ended, raised.draft.at());
            }
        }
        Ok(page)
    }

    /// The entry that began the watch.
    fn begin_of_watch(&self) -> Result<Option<Entry>, Error> {
        let filter = Filter { kind: Some(Kind::Watch), ..Filter::default() };
        let mut begin: Option<Entry> = None;
        let mut ended = true;
        self.entries::<Error>(&filter, |entry| {
            let Details::Watch { event, .. } = entry.draft.details else { return Ok(()) };
            match event {
                Some(WatchEvent::Ended) => ended = true,
                Some(WatchEvent::HandedOver) => begin = Some(entry),
                Some(WatchEvent::Started) if std::mem::take(&mut ended) => begin = Some(entry),
                _ => {}
            }
            Ok(())
        })?;
        Ok(begin)
    }
}

/// A handover while entries are taken.
struct Summed {
    page: Handover,
    /// By the first entry of each alert.
    resolved: BTreeMap<i64, Entry>,
    /// The first entry of the alert that each entry is about.
    alerts: HashMap<i64, i64>,
}

impl Summed {
    fn take(&mut self, entry: Entry) {
        let draft = &entry.draft;
        if let Some(own) = draft.own {
            let here = (draft.at(), own);
            self.page.first_own.get_or_insert(here);
            self.page.last_own = Some(here);
        }
        match &draft.details {
            Details::Alert(change) => {
                let first = self.alerts.get(&entry.entry).copied().unwrap_or(entry.entry);
                if change.state != State::Normal {
                    self.resolved.remove(&first);
                } else if self.resolved.len() < LIMIT {
                    self.resolved.insert(first, entry);
                }
            }
            Details::Beacon { mode: Some(Mode::Test | Mode::TestPresumed), .. } => {
                self.on_test(draft);
            }
            Details::Input { input, state } => {
                let counted = (entry.session, draft.arrival_us);
                self.on_input(input, *state, draft.at(), counted);
            }
            Details::Reach { .. } => self.on_reach(entry),
            Details::Operator { act: Some(Act::Remark), .. } if self.page.notes.len() < LIMIT => {
                self.page.notes.push(entry);
            }
            _ => {}
        }
    }

    fn on_reach(&mut self, entry: Entry) {
        let page = &mut self.page;
        if let Some(range) = range_of(&entry)
            && page.least_reach.as_ref().and_then(range_of).is_none_or(|least| range < least)
        {
            page.least_reach = Some(entry.clone());
        }
        page.reach = Some(entry);
    }

    fn on_test(&mut self, draft: &Draft) {
        let Some(mmsi) = draft.mmsi else { return };
        let tests = &mut self.page.tests;
        if let Some(test) = tests.iter_mut().find(|test| test.mmsi == mmsi) {
            test.reports += 1;
        } else if tests.len() < LIMIT {
            let person = draft.person.clone();
            tests.push(TestHeard { mmsi, person, first: draft.at(), reports: 1 });
        }
    }

    fn on_input(&mut self, input: &str, state: InputState, at: Utc, counted: Counted) {
        let outages = &mut self.page.outages;
        let full = outages.len() >= LIMIT;
        let open = outages.iter_mut().find(|it| it.input == input && !it.over);
        match (open, state) {
            (Some(outage), InputState::Live) => {
                outage.seconds = outage.lasted(at, counted);
                outage.over = true;
            }
            (None, InputState::Silent | InputState::Lost | InputState::Noisy) if !full => {
                let input = input.to_owned();
                outages.push(Outage { input, since: at, seconds: 0, over: false, counted });
            }
            _ => {}
        }
    }

    fn finish(mut self, now: Utc) -> Handover {
        let mut resolved: Vec<Entry> = self.resolved.into_values().collect();
        resolved.sort_by_key(|entry| (entry.draft.at(), entry.entry));
        self.page.resolved = resolved;
        self.page.tests.sort_by_key(|it| it.first);
        self.page.outages.sort_by_key(|it| it.since);
        self.page.notes.sort_by_key(|entry| (entry.draft.at(), entry.entry));
        for outage in self.page.outages.iter_mut().filter(|it| !it.over) {
            outage.seconds = outage.lasted(now, (None, None));
        }
        self.page
    }
}

/// The range of a beacon that an entry tells, in nautical miles; `None` if it was not known.
fn range_of(entry: &Entry) -> Option<f64> {
    let Details::Reach { told, .. } = &entry.draft.details else { return None };
    told["range80_nm"].as_f64()
}

impl Outage {
    /// How long it lasted: by our own count within one watch, else by the times that are shown.
    fn lasted(&self, until: Utc, counted: Counted) -> u64 {
        match (self.counted, counted) {
            ((session, Some(began)), (other, Some(ended))) if session == other => {
                ended.saturating_sub(began) / 1_000_000
            }
            _ => u64::try_from(until.ms_since(self.since) / 1000).unwrap_or(0),
        }
    }
}
