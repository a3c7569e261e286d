//! Two watches that could not read the logbook and numbered from clocks that had lost the time may have
//! given one number to two alerts. Neither hides the other.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

#[path = "support/book.rs"]
mod book;
#[path = "support/night.rs"]
mod night;
mod support;

use std::collections::BTreeMap;
use std::path::Path;

use overside::app::{Ours, place};
use overside::logbook::{Draft, Entry, Error, Filter, write_gpx};
use overside::time::Utc;
use overside::watch::{AlertId, Cause, Command, LeftOpen, Priority, State};

use book::{FIRST as BEGIN_MS, reader, watch};
use night::{MATE, Night};

const STRANGER: u32 = 972_000_099;

/// The number after which both begin to count.
const LAST: u32 = 7_000_000;

fn active(mmsi: u32) -> String {
    support::vdm(&support::position(mmsi, 14, Some((50.02, -5.0)), 10), 'A')
}

/// A watch that could not read the logbook.
fn unread() -> Night {
    let mut night = Night::begin();
    let now = night.after(1);
    night.watch.resume(LeftOpen { last_id: LAST, ..LeftOpen::default() }, now);
    night.own(1, 50.0);
    night.drafts.clear();
    night
}

/// The next watch, which can.
fn next(folder: &Path, night: &mut Night) {
    watch(folder, night.drafts.drain(..));
    night.watch = Night::begin().watch;
    let now = night.after(5);
    let found = reader(folder).open_incidents().unwrap();
    night.watch.resume(place(found, &Ours::default(), now).open, now);
    night.write(now, None);
}

type Open = (u32, Cause, Option<u32>);

fn emergencies(night: &Night) -> Vec<Open> {
    let open = night.watch.alerts().iter();
    let open = open.filter(|it| it.priority == Priority::EmergencyAlarm);
    open.map(|it| (it.id.0, it.cause, it.mmsi.map(|mmsi| mmsi.value()))).collect()
}

const FIRST: Open = (LAST + 1, Cause::BeaconActive, Some(MATE));
const SECOND: Open = (LAST + 1, Cause::BeaconActive, Some(STRANGER));

#[test]
fn an_emergency_is_hidden_by_no_later_one_of_its_number_that_is_over() {
    let folder = tempfile::tempdir().unwrap();
    let mut night = unread();
    night.line(1, "radio", &active(MATE));
    assert_eq!(emergencies(&night), [FIRST]);
    watch(folder.path(), night.drafts.drain(..));
    let mut night = unread();
    night.line(1, "radio", &active(STRANGER));
    assert_eq!(emergencies(&night), [SECOND]);
    night.command(1, Command::Resolve(AlertId(LAST + 1)));
    next(folder.path(), &mut night);
    assert_eq!(emergencies(&night), [FIRST]);
}

#[test]
fn two_emergencies_of_one_number_go_on_under_two_and_end_for_ever() {
    let folder = tempfile::tempdir().unwrap();
    let mut night = unread();
    night.line(1, "radio", &active(MATE));
    watch(folder.path(), night.drafts.drain(..));
    let mut night = unread();
    night.line(1, "radio", &active(STRANGER));
    let fresh = (LAST + 2, SECOND.1, SECOND.2);
    for _ in 0..3 {
        next(folder.path(), &mut night);
        assert_eq!(emergencies(&night), [FIRST, fresh]);
    }
    night.command(1, Command::Resolve(AlertId(LAST + 2)));
    next(folder.path(), &mut night);
    assert_eq!(emergencies(&night), [FIRST]);
    night.command(1, Command::Resolve(AlertId(LAST + 1)));
    next(folder.path(), &mut night);
    assert_eq!(emergencies(&night), []);
    assert!(reader(folder.path()).open_incidents().unwrap().open.is_empty());
}

/// Points set by hand are of no station.
#[test]
fn two_points_of_one_number_are_two() {
    let folder = tempfile::tempdir().unwrap();
    let mut night = unread();
    night.command(1, Command::MarkOverboard);
    watch(folder.path(), night.drafts.drain(..));
    let mut night = unread();
    night.own(3, 50.001);
    night.command(1, Command::MarkOverboard);
    let points = [LAST + 1, LAST + 2].map(|id| (id, Cause::OverboardMarked, None));
    for _ in 0..2 {
        next(folder.path(), &mut night);
        assert_eq!(emergencies(&night), points);
    }
    night.command(1, Command::Resolve(AlertId(LAST + 2)));
    next(folder.path(), &mut night);
    assert_eq!(emergencies(&night), points[..1]);
}

/// What those see who go by what is told: the alerts that are open, by number.
#[derive(Default)]
struct Board(BTreeMap<u32, Option<u32>>);

impl Board {
    fn hear(&mut self, drafts: &[Draft]) {
        for draft in drafts {
            let Some(change) = draft.alert().filter(|it| it.cause.is_about_people()) else {
                continue;
            };
            match change.state {
                State::Normal => self.0.remove(&change.alert.0),
                _ => self.0.insert(change.alert.0, draft.mmsi.map(|it| it.value())),
            };
        }
    }
}

/// The logbook is read late, and one before had given the number that this watch has given meanwhile;
/// whether this one has begun to write or not.
#[test]
fn a_number_that_was_given_meanwhile_hides_nobody_who_is_read_late() {
    for (is_written, is_over) in [(false, false), (true, false), (false, true), (true, true)] {
        let folder = tempfile::tempdir().unwrap();
        let mut night = unread();
        night.line(1, "radio", &active(MATE));
        watch(folder.path(), night.drafts.drain(..));
        let mut night = unread();
        let mut board = Board::default();
        night.line(1, "radio", &active(STRANGER));
        if is_over {
            night.command(1, Command::Resolve(AlertId(LAST + 1)));
        }
        board.hear(&night.drafts);
        let mut session = None;
        if is_written {
            watch(folder.path(), night.drafts.drain(..));
            let numbers = reader(folder.path()).alerts().unwrap();
            let last = numbers.keys().max().unwrap();
            session = reader(folder.path()).get(*last).unwrap().unwrap().session;
        }
        let now = night.after(5);
        let numbers = LAST + 1..night.watch.summary().alerts + 1;
        let found = reader(folder.path()).open_incidents().unwrap();
        let left = place(found, &Ours { numbers, session }, now);
        night.watch.resume(left.open, now);
        let told = night.drafts.len();
        night.write(now, None);
        let mut open = vec![(LAST + 2, FIRST.1, FIRST.2)];
        if !is_over {
            open.insert(0, SECOND);
        }
        assert_eq!(emergencies(&night), open, "written: {is_written}, over: {is_over}");
        board.hear(&night.drafts[told..]);
        let by_number = open.iter().map(|it| (it.0, it.2)).collect();
        assert_eq!(board.0, by_number, "written: {is_written}, over: {is_over}");
        next(folder.path(), &mut night);
        assert_eq!(emergencies(&night), open, "after another restart");
    }
}

/// The second is over: the page, the map and the debriefs tell of both.
#[test]
fn both_are_told_by_all_who_read_the_logbook() {
    let folder = tempfile::tempdir().unwrap();
    let mut night = unread();
    night.line(1, "radio", &active(MATE));
    night.command(1, Command::Resolve(AlertId(LAST + 1)));
    watch(folder.path(), night.drafts.drain(..));
    let mut night = unread();
    night.second += 60;
    night.line(1, "radio", &active(STRANGER));
    watch(folder.path(), night.drafts.drain(..));
    let reader = reader(folder.path());
    let since = Utc::from_unix_ms(BEGIN_MS);
    let page = reader.handover(since, night.after(60).utc).unwrap();
    let is_active = |it: &&Entry| it.draft.is_about_people();
    let stations = |entries: &[Entry]| -> Vec<Option<u32>> {
        entries.iter().filter(is_active).map(|it| it.draft.mmsi.map(|it| it.value())).collect()
    };
    assert_eq!(stations(&page.open), [Some(STRANGER)]);
    assert_eq!(stations(&page.resolved), [Some(MATE)]);
    let (open, ended) = (page.open.iter().find(is_active).unwrap(), &page.resolved[0]);
    assert_eq!(ended.draft.at().ms_since(page.raised[&ended.entry]), 1_000);
    assert_eq!(page.raised[&open.entry], open.draft.at());
    let mut gpx = Vec::new();
    write_gpx::<Failed>(&reader, &Filter::default(), &mut gpx).unwrap();
    let gpx = String::from_utf8(gpx).unwrap();
    assert_eq!(gpx.matches("<wpt").count(), 2, "{gpx}");
}

#[derive(Debug)]
struct Failed;

impl From<Error> for Failed {
    fn from(_: Error) -> Self {
        Self
    }
}

impl From<std::io::Error> for Failed {
    fn from(_: std::io::Error) -> Self {
        Self
    }
}
