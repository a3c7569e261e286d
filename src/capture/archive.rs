//! The folder of recordings: their names, which there are, and which may go.
//!
//! A name has a number that only rises and the time its first line is labelled with:
//! `000042-20260614T020000Z.nmea`. The number gives the order, whatever the clock said.

use std::collections::HashSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::time::Utc;

/// How much is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Retention {
    /// For how many days.
    pub days: u32,
    /// Of the disk's size, all recordings together, in per cent.
    pub disk_percent: u32,
}

/// One recording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedFile {
    /// Its number.
    pub number: u64,
    /// What its name says of its beginning.
    pub begun: Utc,
    /// Its file name.
    pub name: String,
    /// Its size in bytes.
    pub bytes: u64,
}

/// The name of a recording.
pub(super) fn name(number: u64, begun: Utc) -> String {
    let label = begun.to_string();
    // 2026-06-14T02:00:00.000Z without what stands between the numbers.
    let short: String = label.split('.').next().unwrap_or_default().replace([':', '-'], "");
    format!("{number:06}-{short}Z.nmea")
}

fn parse(name: &str) -> Option<(u64, Utc)> {
    let (number, rest) = name.strip_suffix("Z.nmea")?.split_once('-')?;
    let (date, clock) = rest.split_once('T')?;
    if !rest.is_ascii() || date.len() != 8 || clock.len() != 6 {
        return None;
    }
    let label = format!(
        "{}-{}-{}T{}:{}:{}Z",
        &date[..4],
        &date[4..6],
        &date[6..],
        &clock[..2],
        &clock[2..4],
        &clock[4..]
    );
    Some((number.parse().ok()?, Utc::parse_rfc3339(&label)?))
}

/// The recordings in a folder, in the order they were made. Other files are not looked at.
///
/// # Errors
/// The folder cannot be read; one that is not there is empty.
pub fn recordings(folder: &Path) -> io::Result<Vec<RecordedFile>> {
    let entries = match fs::read_dir(folder) {
        Err(why) if why.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries?,
    };
    let mut found = Vec::new();
    for entry in entries {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if let Some((number, begun)) = parse(&name) {
            let bytes = entry.metadata().map_or(0, |it| it.len());
            found.push(RecordedFile { number, begun, name, bytes });
        }
    }
    found.sort_by_key(|it| it.number);
    Ok(found)
}

/// The recordings to be replayed for what is in `name`: it and its neighbours, for what happened
/// before and after may lie in them.
///
/// # Errors
/// The folder cannot be read, or there is no such recording in it.
pub fn around(folder: &Path, name: &str) -> io::Result<Vec<PathBuf>> {
    let all = recordings(folder)?;
    let place = all.iter().position(|it| it.name == name);
    let place = place.ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))?;
    let begun = all[place].begun;
    // A neighbour from another time, before the clock was set, has nothing to do with it.
    let (before, after) = (&all[..place], &all[place + 1..]);
    let before = before.last().filter(|it| it.begun <= begun);
    let after = after.first().filter(|it| it.begun >= begun);
    let files = before.into_iter().chain([&all[place]]).chain(after);
    Ok(files.map(|it| folder.join(&it.name)).collect())
}

/// The recordings to be read for what lasted over several: all from the first of these to the last,
/// in the order they were made, and their neighbours, as far as one of them is there. After the last
/// follow those that began before `until`.
///
/// # Errors
/// The folder cannot be read.
pub fn spanning(folder: &Path, names: &[String], until: Utc) -> io::Result<Vec<PathBuf>> {
    let all = recordings(folder)?;
    let is_named = |it: &RecordedFile| names.contains(&it.name);
    let (Some(first), Some(last)) = (all.iter().position(is_named), all.iter().rposition(is_named))
    else {
        return Ok(Vec::new());
    };
    // A neighbour from another time, before the clock was set, has nothing to do with it.
    let before = all[..first].last().filter(|it| it.begun <= all[first].begun);
    let follows = |two: &&[RecordedFile]| two[0].begun <= two[1].begun && two[1].begun <= until;
    let after = all[last..].windows(2).take_while(follows).map(|two| &two[1]);
    let files = before.into_iter().chain(&all[first..=last]).chain(after);
    Ok(files.map(|it| folder.join(&it.name)).collect())
}

/// Which recordings may go, oldest first: those past their days, and what is over the share of the
/// disk. Never one that is `referred` to, its neighbours, or the latest. `now` is `None` while
/// nobody knows the date: then nothing is too old.
pub(super) fn superfluous(
    all: &[RecordedFile],
    referred: &HashSet<String>,
    keep: Retention,
    disk_bytes: Option<u64>,
    now: Option<Utc>,
) -> Vec<String> {
    let is_kept = |place: usize| {
        let near = place.saturating_sub(1)..(place + 2).min(all.len());
        place + 1 >= all.len() || all[near].iter().any(|it| referred.contains(&it.name))
    };
    let mut total: u64 = all.iter().map(|it| it.bytes).sum();
    let share = disk_bytes.map(|bytes| bytes / 100 * u64::from(keep.disk_percent));
    let days_ms = i64::from(keep.days) * 86_400_000;
    let mut gone = Vec::new();
    for (place, recording) in all.iter().enumerate().filter(|(place, _)| !is_kept(*place)) {
        // It is as old as its last line: as the beginning of the one after it.
        let ended = all.get(place + 1).map_or(recording.begun, |next| next.begun);
        let old = now.is_some_and(|now| now.ms_since(ended.max(recording.begun)) > days_ms);
        if old || share.is_some_and(|share| total > share) {
            total -= recording.bytes;
            gone.push(recording.name.clone());
        }
    }
    gone
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(day: u32) -> Utc {
        Utc::from_date_and_ms(2026, 6, day, 0).unwrap()
    }

    fn made(count: u32) -> Vec<RecordedFile> {
        let one = |day_of: u32| {
            let (number, begun) = (u64::from(day_of), day(day_of));
            RecordedFile { number, begun, name: name(number, begun), bytes: 100 }
        };
        (1..=count).map(one).collect()
    }

    fn gone(referred: &[u32], keep: Retention, disk: u64, now: Option<Utc>) -> Vec<u32> {
        let all = made(10);
        let referred =
            referred.iter().map(|&day| all[day as usize - 1].name.clone()).collect::<HashSet<_>>();
        let gone = superfluous(&all, &referred, keep, Some(disk), now);
        gone.iter().map(|name| parse(name).unwrap().0 as u32).collect()
    }

    #[test]
    fn a_name_gives_number_and_time_back() {
        let begun = Utc::parse_rfc3339("2026-06-14T02:00:07Z").unwrap();
        assert_eq!(name(42, begun), "000042-20260614T020007Z.nmea");
        assert_eq!(parse("000042-20260614T020007Z.nmea"), Some((42, begun)));
        for other in ["notes.nmea", "1-2T3Z.nmea", "x-20260614T020007Z.nmea", "1-2026061éT020007Z"]
        {
            assert_eq!(parse(other), None, "{other}");
        }
    }

    #[test]
    fn the_old_go_and_what_an_alert_refers_to_stays() {
        let keep = Retention { days: 3, disk_percent: 100 };
        // Each is as old as its end: that of the 5th ended on the 6th.
        assert_eq!(gone(&[], keep, 10_000, Some(day(10))), [1, 2, 3, 4, 5]);
        assert_eq!(gone(&[3], keep, 10_000, Some(day(10))), [1, 5], "and its neighbours");
        assert_eq!(gone(&[], keep, 10_000, None), [0; 0], "nobody knows the date");
    }

    #[test]
    fn the_oldest_go_when_the_share_of_the_disk_is_full() {
        let keep = Retention { days: 365, disk_percent: 10 };
        assert_eq!(gone(&[], keep, 6_000, Some(day(10))), [1, 2, 3, 4]);
        assert_eq!(gone(&[2], keep, 6_000, Some(day(10))), [4, 5, 6, 7]);
        assert_eq!(gone(&[], keep, 0, Some(day(10))), [1, 2, 3, 4, 5, 6, 7, 8, 9]);
    }
}
