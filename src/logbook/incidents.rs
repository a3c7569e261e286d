//! What the watch before this one left open: read back when a watch begins again.

use super::draft::{Draft, Kind};
use super::error::Error;
use super::reader::Reader;
use crate::navigation::Position;
use crate::time::Utc;
use crate::watch::{Cause, State};

/// How many alerts of before are remembered for the eye.
const HISTORY: u32 = 500;

/// An alert that was open.
#[derive(Clone, Debug)]
pub struct LastAlert {
    /// Its last entry.
    pub last: Draft,
    /// When it was raised.
    pub raised: Utc,
}

/// A beacon behind such an alert.
#[derive(Clone, Debug)]
pub struct Heard {
    /// Its last entry that it was heard with.
    pub last: Draft,
    /// Since when it has been in that mode.
    pub since: Utc,
    /// Where the ship was then.
    pub own_at_first: Option<Position>,
}

/// What a watch left open.
#[derive(Clone, Debug, Default)]
pub struct Incidents {
    /// The alerts about people that were not over, by number.
    pub alerts: Vec<LastAlert>,
    /// The beacons behind them.
    pub beacons: Vec<Heard>,
    /// The highest number an alert has had.
    pub last_alert: u32,
    /// The last entries about alerts, oldest first.
    pub history: Vec<Draft>,
}

impl Reader {
    /// What the last watch left open, whether it ended or was cut off.
    ///
    /// # Errors
    /// As [`Reader::entries`].
    pub fn open_incidents(&self) -> Result<Incidents, Error> {
        let last_alert = "SELECT COALESCE(MAX(alert), 0) FROM entries WHERE kind = 'alert'";
        let last_alert = self
            .connection()
            .query_row(last_alert, [], |row| row.get(0))
            .map_err(|why| self.fault(why))?;
        // Each alert's last entry, of the newest watch that wrote one.
        let open = self.drafts(
            "SELECT entry, body, previous, hash FROM entries WHERE entry IN (
                 SELECT MAX(entry) FROM entries WHERE kind = 'alert' AND session = (
                     SELECT MAX(session) FROM entries WHERE kind = 'alert'
                 ) GROUP BY alert
             ) ORDER BY alert",
            &[],
        )?;
        let is_open = |it: &Draft| {
            it.state != Some(State::Normal) && it.cause.is_some_and(Cause::is_about_people)
        };
        let mut incidents = Incidents { last_alert, ..Incidents::default() };
        for last in open.into_iter().filter(is_open) {
            let raised = self.raised(&last)?;
            incidents.alerts.push(LastAlert { last, raised });
        }
        let mut identities: Vec<_> =
            incidents.alerts.iter().filter_map(|alert| alert.last.mmsi).collect();
        identities.sort_unstable();
        identities.dedup();
        for mmsi in identities {
            incidents.beacons.extend(self.heard(mmsi.value())?);
        }
        incidents.history = self.drafts(
            "SELECT * FROM (SELECT entry, body, previous, hash FROM entries WHERE kind = 'alert'
                 ORDER BY entry DESC LIMIT ?1) ORDER BY entry",
            &[HISTORY.into()],
        )?;
        Ok(incidents)
    }

    fn drafts(&self, sql: &str, values: &[i64]) -> Result<Vec<Draft>, Error> {
        let fault = |why| self.fault(why);
        let mut query = self.connection().prepare(sql).map_err(fault)?;
        let mut rows = query.query(rusqlite::params_from_iter(values)).map_err(fault)?;
        let mut drafts = Vec::new();
        while let Some(row) = rows.next().map_err(fault)? {
            drafts.push(self.entry(row)?.draft);
        }
        Ok(drafts)
    }

    /// When an alert was raised: its first entry, in whichever watch.
    fn raised(&self, last: &Draft) -> Result<Utc, Error> {
        let Some(alert) = last.alert else { return Ok(last.host()) };
        let sql = "SELECT entry, body, previous, hash FROM entries
                   WHERE kind = 'alert' AND alert = ?1 ORDER BY entry LIMIT 1";
        let first = self.drafts(sql, &[alert.0.into()])?;
        Ok(first.first().unwrap_or(last).host())
    }

    /// How a beacon was heard last, and since when like that.
    fn heard(&self, mmsi: u32) -> Result<Option<Heard>, Error> {
        let sql = "SELECT entry, body, previous, hash FROM entries
                   WHERE kind = 'beacon' AND mmsi = ?1 ORDER BY entry DESC LIMIT 2000";
        let said = |draft: &Draft, what: &str| draft.details["event"] == what;
        let mut drafts = self.drafts(sql, &[mmsi.into()])?.into_iter();
        let Some(last) = drafts.find(|draft| !said(draft, "beacon_silent")) else {
            return Ok(None);
        };
        debug_assert_eq!(last.kind, Kind::Beacon);
        let same = |draft: &Draft| draft.mode == last.mode;
        let first = drafts.take_while(same).last();
        let first = first.as_ref().unwrap_or(&last);
        let (since, own_at_first) = (first.host(), first.own);
        Ok(Some(Heard { since, own_at_first, last }))
    }
}
