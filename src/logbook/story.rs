//! What is written down of one alert, told from that of another with the same number.
//!
//! Numbers rise for ever; but a watch that cannot read its logbook counts from its clock, and two whose
//! clocks had lost the time may have given the same. Within one watch a number is that of one alert.
//! In the next it is, where that says the same of the same station: for then it went on.

use std::collections::{BTreeMap, HashMap};

use super::entry::Entry;
use super::error::Error;
use super::reader::Reader;
use crate::watch::Matter;

/// The entries that have one alert number, by an index that holds all that is asked: no body that is
/// damaged is looked into.
#[derive(Debug, Default)]
pub(super) struct Rows {
    /// Each, and whether it says that the alert is over, in order.
    entries: Vec<(i64, bool)>,
    /// A watch may have begun between the first and the last.
    over_watches: bool,
}

impl Rows {
    /// Whether an alert among them may be open: the last, or one before it that it hides.
    pub(super) fn may_be_open(&self) -> bool {
        self.over_watches || self.entries.last().is_some_and(|(_, over)| !over)
    }
}

/// What is written down of one alert, from its raise on, over restarts.
#[derive(Debug, Default)]
pub(super) struct Story {
    /// The numbers of its entries, in order; those that cannot be read are among them.
    rows: Vec<i64>,
    /// Those that can be read.
    pub(super) entries: Vec<Entry>,
    /// Whether the last says that the alert is over.
    pub(super) over: bool,
}

impl Story {
    /// Its last entry, where that cannot be read.
    pub(super) fn unread(&self) -> Option<i64> {
        let read = self.entries.last().map(|it| it.entry);
        self.rows.last().copied().filter(|&last| read != Some(last))
    }

    /// Whether an entry says the same of the same station as one of its own, be a letter altered in
    /// either.
    fn says_the_same(&self, entry: &Entry) -> bool {
        let Some(change) = entry.draft.alert() else { return false };
        self.entries.iter().any(|it| {
            let Some(other) = it.draft.alert().filter(|it| it.cause == change.cause) else {
                return false;
            };
            let station = it.draft.mmsi.is_some() && it.draft.mmsi == entry.draft.mmsi;
            let matters = change.matter.is_none() || other.matter.is_none();
            // Of these there is but one, whatever a damaged text says.
            let is_full = matches!(
                change.matter,
                Some(
                    Matter::TooManyBeacons | Matter::TooManyAlerts | Matter::TooManyEmergencies(_)
                )
            );
            alike(&it.draft.text, &entry.draft.text)
                || is_full && change.matter == other.matter
                || station && (matters || change.matter == other.matter)
        })
    }

    fn may_go_on(&self) -> bool {
        !self.over || self.entries.last().is_some_and(|it| it.joined_by().is_some())
    }

    fn is_of_watch(&self, entry: &Entry) -> bool {
        entry.session.is_some() && self.entries.iter().any(|it| it.session == entry.session)
    }
}

/// Whether two texts are the same, but for words at the end of one that say why it is over.
fn alike(one: &str, other: &str) -> bool {
    let goes_on = |rest: Option<&str>| rest.is_some_and(|it| it.is_empty() || it.starts_with("; "));
    goes_on(one.strip_prefix(other)) || goes_on(other.strip_prefix(one))
}

impl Reader {
    /// The entries of alerts by the numbers of these.
    pub(super) fn numbers(&self) -> Result<BTreeMap<i64, Rows>, Error> {
        let query = || {
            let mut numbers: BTreeMap<i64, Rows> = BTreeMap::new();
            let mut statement = self.connection.prepare(
                "SELECT alert, entry, state IS 'normal' FROM entry INDEXED BY entry_by_alert
                 WHERE alert IS NOT NULL AND kind = 'alert'",
            )?;
            let mut rows = statement.query([])?;
            while let Some(row) = rows.next()? {
                let number = numbers.entry(row.get(0)?).or_default();
                number.entries.push((row.get(1)?, row.get(2)?));
            }
            // Whatever may have begun a watch; all that comes often is the question whether somebody
            // is awake.
            let mut statement = self.connection.prepare(
                "SELECT entry FROM entry WHERE entry IN (
                    SELECT entry FROM entry INDEXED BY entry_by_kind WHERE kind = 'watch'
                ) AND instr(body, 'watchkeeper asked') = 0 ORDER BY entry",
            )?;
            let watches = statement.query_map([], |row| row.get(0))?;
            let watches: Vec<i64> = watches.collect::<rusqlite::Result<_>>()?;
            for Rows { entries, over_watches } in numbers.values_mut() {
                entries.sort_unstable();
                let (first, last) = (entries.first(), entries.last());
                let before = |row: Option<&(i64, bool)>| {
                    watches.partition_point(|it| row.is_some_and(|row| *it < row.0))
                };
                *over_watches = before(first) != before(last);
            }
            Ok(numbers)
        };
        query().map_err(|cause| Error::of(&self.path, cause))
    }

    /// The alerts that have had this number: one, unless two watches gave it.
    pub(super) fn stories(&self, number: i64, rows: &Rows) -> Result<Vec<Story>, Error> {
        let mut entries = self.all(
            "SELECT entry, hash, body FROM entry WHERE entry IN (
                SELECT entry FROM entry INDEXED BY entry_by_alert WHERE alert = ?1 AND kind = 'alert'
            ) ORDER BY entry",
            [number],
        )?;
        entries.retain(|it| it.draft.alert().is_some());
        let mut entries = entries.into_iter().peekable();
        let mut stories: Vec<Story> = Vec::new();
        for &(row, over) in &rows.entries {
            let entry = entries.next_if(|it| it.entry == row);
            let place = match rows.over_watches {
                true => place_of(&stories, entry.as_ref()),
                false => stories.len().checked_sub(1),
            };
            let place = place.unwrap_or_else(|| {
                stories.push(Story::default());
                stories.len() - 1
            });
            if let Some(story) = stories.get_mut(place) {
                story.rows.push(row);
                story.entries.extend(entry);
                story.over = over;
            }
        }
        Ok(stories)
    }

    /// The first entry of the alert that each entry about one is of.
    ///
    /// # Errors
    /// A logbook that cannot be read.
    pub fn alerts(&self) -> Result<HashMap<i64, i64>, Error> {
        let mut alerts = HashMap::new();
        for (number, rows) in self.numbers()? {
            let stories: Vec<Vec<i64>> = match rows.over_watches {
                true => self.stories(number, &rows)?.into_iter().map(|it| it.rows).collect(),
                false => vec![rows.entries.into_iter().map(|(entry, _)| entry).collect()],
            };
            for story in stories {
                let first = story.first().copied();
                alerts.extend(story.into_iter().zip(std::iter::repeat(first.unwrap_or_default())));
            }
        }
        Ok(alerts)
    }
}

/// Which of these alerts the next entry of their number is of; `None` if it is of another. None that is
/// over goes on, but a point from which the beacon is parted that had taken its place. What cannot be read is of the one that is open, if it is one alone: it ends nobody's
/// emergency that it may not be about.
fn place_of(stories: &[Story], entry: Option<&Entry>) -> Option<usize> {
    let open = || stories.iter().enumerate().rev().filter(|(_, it)| it.may_go_on());
    let Some(entry) = entry else {
        let mut all = open().map(|(place, _)| place);
        return all.next().filter(|_| all.next().is_none());
    };
    let such = |is_it: &dyn Fn(&Story) -> bool| open().find(|(_, it)| is_it(it)).map(|it| it.0);
    such(&|it| it.says_the_same(entry))
        .or_else(|| such(&|it| it.is_of_watch(entry)))
        .or_else(|| such(&|it| it.entries.is_empty()))
}
