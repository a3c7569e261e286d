//! Two watches that could not read the logbook and numbered from clocks that had lost the time may have
//! given one number to two alerts. Neither hides the other.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

#[path = "support/book.rs"]
mod book;
#[path = "support/night.rs"]
mod night;
mod support;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use overside::app::{Ours, place};
use overside::logbook::{Draft, Entry, Error, Filter, write_gpx};
use overside::time::Utc;
use overside::watch::{AlertId, Cause, Command, LeftOpen, Priority, State};
use proptest::prelude::*;

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

/// The logbook can be read at last.
fn read_late(folder: &Path, night: &mut Night, session: Option<i64>) {
    let now = night.after(5);
    let numbers = LAST + 1..night.watch.summary().alerts + 1;
    let found = reader(folder).open_incidents().unwrap();
    night.watch.resume(place(found, &Ours { numbers, session }, now).open, now);
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

/// The power fails while the fresh number is written down: wherever it was cut off, both go on, once each.
#[test]
fn a_power_cut_while_a_fresh_number_is_given_hides_nobody() {
    for kept in 0.. {
        let folder = tempfile::tempdir().unwrap();
        let mut night = unread();
        night.line(1, "radio", &active(MATE));
        watch(folder.path(), night.drafts.drain(..));
        let mut night = unread();
        night.line(1, "radio", &active(STRANGER));
        next(folder.path(), &mut night);
        let all = night.drafts.len();
        night.drafts.truncate(kept);
        for _ in 0..2 {
            next(folder.path(), &mut night);
            let open = emergencies(&night);
            let stations: BTreeSet<_> = open.iter().map(|it| it.2).collect();
            assert_eq!((open.len(), stations), (2, [FIRST.2, SECOND.2].into()), "{kept} of {all}");
        }
        if kept >= all {
            assert!(all >= 3, "the fresh number, the end of the old one, and the other");
            return;
        }
    }
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
        let told = night.drafts.len();
        read_late(folder.path(), &mut night, session);
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

/// How a watch begins: it reads the logbook, never can, or can when it is about to end.
#[derive(Clone, Copy, Debug)]
enum Reads {
    AtOnce,
    Never,
    Late,
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// However many watches count from the same number: who is open is who was heard ACTIVE and is not
    /// declared over, each once, and no number is that of two in one watch.
    #[test]
    fn whoever_is_in_danger_is_open_once_whatever_the_numbers(
        watches in prop::collection::vec(
            (
                prop::sample::select(vec![Reads::AtOnce, Reads::Never, Reads::Late]),
                prop::collection::vec((0u32..24, any::<bool>()), 0..5),
            ),
            2..7,
        ),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let mut night = Night::begin();
        // In danger, as the logbook has it.
        let mut danger = BTreeSet::new();
        // Whoever is declared over stays so for a while, however often heard.
        let mut heard = BTreeSet::new();
        for (how, acts) in watches {
            match how {
                Reads::AtOnce => next(folder.path(), &mut night),
                Reads::Never | Reads::Late => {
                    watch(folder.path(), night.drafts.drain(..));
                    let second = night.second;
                    night = unread();
                    night.second += second;
                }
            }
            let mut open: BTreeSet<u32> = BTreeSet::new();
            if matches!(how, Reads::AtOnce) {
                open.clone_from(&danger);
            }
            let mut silent = danger.difference(&open).copied().collect::<BTreeSet<u32>>();
            for (which, over) in acts {
                let mmsi = STRANGER + which;
                let told = emergencies(&night);
                let alert = told.get(which as usize % told.len().max(1)).filter(|_| over);
                if let Some((number, _, station)) = alert {
                    night.command(1, Command::Resolve(AlertId(*number)));
                    open.remove(&station.unwrap());
                } else if heard.insert(mmsi) {
                    night.line(1, "radio", &active(mmsi));
                    open.insert(mmsi);
                }
            }
            if matches!(how, Reads::Late) {
                read_late(folder.path(), &mut night, None);
                open.append(&mut silent);
            }
            let told = emergencies(&night);
            let stations: Vec<u32> = told.iter().filter_map(|it| it.2).collect();
            let numbers: BTreeSet<u32> = told.iter().map(|it| it.0).collect();
            prop_assert_eq!(stations.iter().copied().collect::<BTreeSet<_>>(), open.clone());
            prop_assert!(stations.len() == open.len() && numbers.len() == open.len(), "{told:?}");
            open.append(&mut silent);
            danger = open;
        }
    }
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

/// Of a table that is full there is one alert, be a letter altered in what is written of it: ended by
/// the operator it stays ended.
#[test]
fn a_letter_altered_in_the_words_of_a_full_table_makes_no_second_alert() {
    let folder = tempfile::tempdir().unwrap();
    let mut night = unread();
    for number in 0..1_100 {
        let text = support::text(213_000_000 + number, "MAYDAY");
        night.line(0, "radio", &support::vdm(&text, if number % 2 == 0 { 'A' } else { 'B' }));
    }
    let full = |night: &Night| -> Vec<AlertId> {
        let open = night.watch.alerts().iter().filter(|it| it.text.starts_with("More than"));
        open.map(|it| it.id).collect()
    };
    let [id] = full(&night)[..] else { panic!("{:?}", full(&night)) };
    night.drafts.retain(|it| it.alert().is_some_and(|it| it.alert == id));
    next(folder.path(), &mut night);
    assert_eq!(full(&night), [id]);
    for draft in &mut night.drafts {
        draft.text = draft.text.replace("first, then", "first,!then");
    }
    night.command(1, Command::Resolve(id));
    next(folder.path(), &mut night);
    assert_eq!(full(&night), []);
}
