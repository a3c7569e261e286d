//! What a watch that begins again goes on with.

use std::collections::BTreeSet;

use super::details::{Act, Details};
use super::entry::Entry;
use super::error::Error;
use super::reader::Reader;
use super::story::Story;
use crate::mmsi::Mmsi;
use crate::time::Utc;
use crate::watch::{AlertId, Cause, DECLARED_HOLDS};

/// Alert entries that a watch is given for its history.
const HISTORY: u32 = 500;

/// Acts of the operator among which one that still holds is looked for: more than ten minutes have.
const LATE_ACTS: u32 = 256;

/// What a watch that begins again goes on with.
#[derive(Clone, Debug, Default)]
pub struct Incidents {
    /// The last entry of every alert that is not over, in the order of the alerts' numbers, and of
    /// one number the earlier first.
    pub open: Vec<Entry>,
    /// The first entry of each of them: when it was raised, and by which sentence.
    pub raised: Vec<Entry>,
    /// The last report of each beacon among them.
    pub beacons: Vec<Entry>,
    /// The first of an unbroken series of reports of each that say the same of its mode.
    pub beacons_began: Vec<Entry>,
    /// What the operator declared over lately, the newest first.
    pub declared: Vec<Entry>,
    /// The highest number of an alert.
    pub highest_alert: Option<AlertId>,
    /// The last 500 entries of alerts, the oldest first.
    pub history: Vec<Entry>,
    /// The points set by hand whose place was taken by beacons whose emergency is open: the last
    /// entry of each one's alert, and the first.
    pub joined: Vec<(Entry, Entry)>,
    /// Entries of open alerts that cannot be read.
    pub unread: Vec<i64>,
}

impl Incidents {
    /// The alerts of points set by hand whose place was taken, as far as the history goes, by a
    /// beacon in the emergency that is open now: not in one before.
    fn joined_lately(&self) -> BTreeSet<i64> {
        let now = |mmsi: Mmsi, joined: &Entry| {
            let emergency = |it: &&Entry| {
                let alert = it.draft.alert();
                it.draft.mmsi == Some(mmsi)
                    && alert.is_some_and(|it| it.cause == Cause::BeaconActive)
                    && (joined.entry > it.entry || joined.draft.host_ms == it.draft.host_ms)
            };
            self.raised.iter().any(|it| emergency(&it))
        };
        let taken = self.history.iter().filter(|it| it.joined_by().is_some_and(|by| now(by, it)));
        taken.filter_map(|it| it.draft.alert()).map(|it| i64::from(it.alert.0)).collect()
    }

    /// Takes an alert that is not over. Numbers are counted by the index: in an altered entry another
    /// may stand.
    fn take(&mut self, number: i64, story: Story) {
        self.unread.extend(story.unread());
        let ends = story.entries.last().cloned().zip(story.entries.first().cloned());
        let Some((mut last, raised)) = ends else { return };
        if let (Details::Alert(change), Ok(id)) = (&mut last.draft.details, u32::try_from(number)) {
            change.alert = AlertId(id);
            // Whoever was parted from it is another person.
            change.joined_by = story.entries.iter().rev().find_map(Entry::joined_by);
        }
        self.open.push(last);
        self.raised.push(raised);
    }
}

impl Reader {
    /// What a watch that begins again goes on with; ask before it writes its first entry.
    ///
    /// An alert is open until an entry says that it is over, however often the program was started
    /// since: the watch that goes on ends those about things. Where the last entry of an alert cannot
    /// be read, the last that can speaks for it.
    ///
    /// # Errors
    /// A logbook that cannot be read.
    pub fn open_incidents(&self) -> Result<Incidents, Error> {
        let mut found = Incidents::default();
        let numbers = self.numbers()?;
        for (number, rows) in numbers.iter().filter(|(_, rows)| rows.may_be_open()) {
            let stories = self.stories(*number, rows)?;
            stories.into_iter().filter(|it| !it.over).for_each(|it| found.take(*number, it));
        }
        if found.unread.is_empty() {
            found.declared = self.declared_lately()?;
        }
        let known = found.open.iter().chain(&found.declared);
        let beacons: BTreeSet<Mmsi> = known.filter_map(|it| it.draft.mmsi).collect();
        for mmsi in beacons {
            if let Some((last, first)) = self.last_mode(mmsi)? {
                found.beacons.push(last);
                found.beacons_began.push(first);
            }
        }
        // Numbers go on where none follows for long: a damaged one at the end of all numbers
        // would leave none.
        let highest: Option<i64> = self.optional(&format!(
            "SELECT alert FROM entry AS it WHERE alert <= {last} AND NOT EXISTS (
                SELECT 1 FROM entry WHERE alert > it.alert AND alert <= it.alert + {room}
            ) ORDER BY alert DESC LIMIT 1",
            room = AlertId::ROOM,
            last = u32::MAX - AlertId::ROOM,
        ))?;
        found.highest_alert = highest.and_then(|id| u32::try_from(id).ok()).map(AlertId);
        found.history = self.all(
            "SELECT entry, hash, body FROM entry WHERE entry IN (
                SELECT entry FROM entry INDEXED BY entry_by_kind WHERE kind = 'alert'
                ORDER BY entry DESC LIMIT ?1
            ) ORDER BY entry",
            [HISTORY],
        )?;
        for number in found.joined_lately() {
            let Some(rows) = numbers.get(&number) else { continue };
            for Story { entries, .. } in self.stories(number, rows)? {
                let ends = entries.last().cloned().zip(entries.first().cloned());
                found.joined.extend(ends.filter(|(last, _)| last.joined_by().is_some()));
            }
        }
        Ok(found)
    }

    /// What the operator declared over so shortly before the last entry that it may hold yet.
    fn declared_lately(&self) -> Result<Vec<Entry>, Error> {
        let mut acts = self.all(
            "SELECT entry, hash, body FROM entry WHERE entry IN (
                SELECT entry FROM entry INDEXED BY entry_by_kind WHERE kind = 'operator'
                ORDER BY entry DESC LIMIT ?1
            ) ORDER BY entry DESC",
            [LATE_ACTS],
        )?;
        let last =
            self.all("SELECT entry, hash, body FROM entry ORDER BY entry DESC LIMIT ?1", [1])?;
        let last = last.first().map_or(Utc::EPOCH, |entry| entry.draft.host());
        let holds = i64::try_from(DECLARED_HOLDS.as_millis()).unwrap_or(i64::MAX);
        acts.retain(|it| {
            let over =
                matches!(it.draft.details, Details::Operator { act: Some(Act::DeclaredOver), .. });
            over && last.ms_since(it.draft.host()) < holds
        });
        Ok(acts)
    }

    /// The last report of a beacon, and the first of the unbroken series of reports before it that
    /// say the same of its mode.
    fn last_mode(&self, mmsi: Mmsi) -> Result<Option<(Entry, Entry)>, Error> {
        let failed = |cause| Error::of(&self.path, cause);
        let sql = "SELECT entry, hash, body FROM entry WHERE entry IN (
            SELECT entry FROM entry INDEXED BY entry_by_mmsi WHERE mmsi = ?1
        ) ORDER BY entry DESC";
        let mut statement = self.connection.prepare(sql).map_err(failed)?;
        let mut rows = statement.query([i64::from(mmsi.value())]).map_err(failed)?;
        let mut series: Option<(Entry, Entry)> = None;
        while let Some(row) = rows.next().map_err(failed)? {
            let Ok(entry) = self.entry(row) else { continue };
            let Some(mode) = entry.draft.mode() else { continue };
            match &mut series {
                None => series = Some((entry.clone(), entry)),
                Some((last, first)) if last.draft.mode() == Some(mode) => *first = entry,
                Some(_) => break,
            }
        }
        Ok(series)
    }
}
