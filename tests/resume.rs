//! A watch that begins again with what the one before it left open, through a real logbook.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

#[path = "support/book.rs"]
mod book;
#[path = "support/frames.rs"]
mod frames;
#[path = "support/night.rs"]
mod night;
mod support;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::time::Duration;

use overside::app::{Ours, entry_of_act, number_without_a_book, place};
use overside::logbook::{FILE, Incidents};
use overside::mmsi::Mmsi;
use overside::navigation::{Position, range_and_bearing};
use overside::screen::{Screen, Theme};
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{AlertId, Cause, Command, Input, Priority, Relayed, Watch};
use proptest::prelude::*;
use proptest::sample::subsequence;
use rusqlite::Connection;

use book::{reader, watch};
use night::{MATE, Night};

const STRANGER: u32 = 972_000_099;

/// What makes an alert of each cause about people.
const PEOPLE: [Cause; 11] = [
    Cause::BeaconActive,
    Cause::BeaconUnverified,
    Cause::BeaconTest,
    Cause::BeaconSilent,
    Cause::DscDistress,
    Cause::DscRelay,
    Cause::DscUrgency,
    Cause::DscTest,
    Cause::MobNotice,
    Cause::OverboardMarked,
    Cause::SafetyText,
];

/// The sentence that raises an alert of this cause; `None` if none does.
fn sentence(cause: Cause) -> Option<String> {
    let status =
        |mmsi, status| support::vdm(&support::position(mmsi, status, Some((50.02, -5.0)), 10), 'A');
    let text = |mmsi, text| support::vdm(&support::text(mmsi, text), 'B');
    Some(match cause {
        Cause::BeaconActive => status(MATE, 14),
        Cause::BeaconUnverified => status(STRANGER, 0),
        Cause::BeaconTest => text(STRANGER + 1, "SART TEST"),
        Cause::BeaconSilent => status(STRANGER + 2, 14),
        Cause::DscDistress => support::sealed("CDDSC,12,2110000010,12,10,26,1502000510,0201,,,S,"),
        Cause::DscRelay => {
            support::sealed("CDDSC,16,0021100010,12,12,26,1502000510,0201,2110000020,10,S,")
        }
        Cause::DscUrgency => support::sealed("CDDSC,20,2110000030,10,09,26,,,,,S,"),
        Cause::DscTest => support::sealed("CDDSC,20,2110000040,08,18,26,,,,,S,"),
        Cause::MobNotice => {
            support::sealed("IIMOB,000FF,A,020000,1,0,020000,5000.000,N,00130.000,W,,,,0")
        }
        Cause::SafetyText => text(211_000_050, "MAYDAY SINKING"),
        _ => return None,
    })
}

/// An alert, by what a restart must keep.
type Kept = (AlertId, Cause, Priority);

/// What is open about people, in order.
fn open(watch: &Watch) -> Vec<Kept> {
    let mut open: Vec<Kept> = watch
        .alerts()
        .iter()
        .filter(|alert| alert.cause.is_about_people())
        .map(|alert| (alert.id, alert.cause, alert.priority))
        .collect();
    open.sort_by_key(|alert| alert.0);
    open
}

impl Night {
    /// These causes one after the other, and what somebody does in between.
    fn of(causes: &[Cause], acts: &[u32]) -> Self {
        let mut night = Self::begin();
        night.own(0, 50.0);
        if causes.contains(&Cause::BeaconSilent) {
            night.line(1, "radio", &sentence(Cause::BeaconSilent).unwrap());
            night.own(400, 50.01);
        }
        for (&cause, act) in causes.iter().zip(acts.iter().cycle()) {
            match sentence(cause) {
                _ if cause == Cause::BeaconSilent => {}
                Some(line) => night.line(2, "radio", &line),
                None => night.command(2, Command::MarkOverboard),
            }
            let id = AlertId(act % 16);
            let command = [Command::Acknowledge, Command::Silence][(act / 16) as usize % 2];
            night.command(1, command(id));
            night.own(1, 50.0 + f64::from(*act) * 1e-4);
        }
        night
    }

    /// Does something as the live watch does: written down, then done.
    fn act(&mut self, seconds: u64, command: Command) {
        let stamp = self.after(seconds);
        self.drafts.extend(entry_of_act(command, None, &self.watch, stamp));
        self.command(0, command);
    }

    /// Begins again with what a logbook tells, as the live watch does.
    fn again(&mut self, found: Incidents) {
        self.drafts.clear();
        self.watch = Self::begin().watch;
        let now = self.after(5);
        self.watch.resume(place(found, &Ours::default(), now).open, now);
        self.write(now, None);
    }
}

fn incidents(folder: &Path) -> Incidents {
    reader(folder).open_incidents().unwrap()
}

/// What was heard before a restart is not known to this watch: the strip does not say that it was
/// nothing.
#[test]
fn minutes_before_a_restart_are_not_drawn_as_silent() {
    let folder = tempfile::tempdir().unwrap();
    let mut night = Night::of(&[Cause::BeaconActive], &[0]);
    watch(folder.path(), night.drafts.drain(..));
    night.second += 600;
    night.again(incidents(folder.path()));
    night.line(1, "radio", &sentence(Cause::BeaconActive).unwrap());
    let now = night.after(0);
    let shown = frames::frame(&Screen::new(Theme::default()), &night.watch.picture(now), (80, 24));
    let text = frames::text(&shown);
    let strip = text.lines().find(|line| line.contains("ch A")).unwrap();
    assert!(strip.contains("░░░░░░░░░░") && strip.contains("1 in 1 min"), "{text}");
}

/// A watch that was killed before it could say so leaves what an earlier one had open about inputs and
/// parts: the next that can ends it in the book, and nobody's emergency with it.
#[test]
fn what_is_open_about_things_ends_in_the_book_however_many_watches_ago_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let mut night = Night::of(&[Cause::BeaconActive], &[0]);
    let (stamp, input) = (night.after(5), night.watch.input("gnss"));
    night.watch.handle(Input::Lost { stamp, input, reason: "unplugged" });
    night.write(stamp, None);
    watch(folder.path(), night.drafts.drain(..));
    watch(folder.path(), []);
    let things = |folder: &Path| {
        let open = incidents(folder).open;
        let open = open.iter().filter_map(|it| it.draft.alert());
        open.filter(|it| !it.cause.is_about_people()).count()
    };
    assert_eq!(things(folder.path()), 1);
    night.again(incidents(folder.path()));
    assert_eq!(causes(&night), [Cause::BeaconActive]);
    watch(folder.path(), night.drafts.drain(..));
    assert_eq!(things(folder.path()), 0);
    night.again(incidents(folder.path()));
    assert_eq!(causes(&night), [Cause::BeaconActive]);
}

/// A beacon has taken the place of a point: after a restart they can still be parted, and who is parted
/// stays so over another one.
#[test]
fn a_point_and_its_beacon_are_parted_over_restarts() {
    let folder = tempfile::tempdir().unwrap();
    let mate = sentence(Cause::BeaconActive).unwrap();
    let mut night = Night::of(&[Cause::OverboardMarked], &[0]);
    night.line(30, "radio", &mate);
    let point = |night: &mut Night| {
        let now = night.after(0);
        let picture = night.watch.picture(now);
        let it = picture.beacons.iter().find(|it| it.mmsi().is_some()).unwrap();
        (it.marked.map(|(at, place)| (at.utc, place)), it.own_at_first)
    };
    let joined = point(&mut night);
    assert!(joined.0.is_some());
    assert_eq!(causes(&night), [Cause::BeaconActive]);
    watch(folder.path(), night.drafts.drain(..));
    night.again(incidents(folder.path()));
    assert_eq!(point(&mut night), joined, "the place where they fell is known again");
    let mmsi = Mmsi::new(MATE).unwrap();
    night.act(1, Command::Part(mmsi));
    assert_eq!(causes(&night), [Cause::OverboardMarked, Cause::BeaconActive]);
    let act = night.drafts.iter().find(|it| it.text.starts_with("Parted: marked by hand at "));
    assert_eq!(act.unwrap().mmsi, Some(mmsi));
    let alert = night.watch.alerts().iter().find(|it| it.cause == Cause::OverboardMarked).unwrap();
    assert_eq!((alert.id, alert.text.contains("taken for")), (AlertId(1), false));
    watch(folder.path(), night.drafts.drain(..));
    night.again(incidents(folder.path()));
    night.line(30, "radio", &mate);
    assert_eq!(causes(&night), [Cause::OverboardMarked, Cause::BeaconActive]);
    assert_eq!(point(&mut night).0, None);
    let now = night.after(0);
    let picture = night.watch.picture(now);
    let mark = picture.beacons.iter().find(|it| it.mmsi().is_none()).unwrap();
    assert_eq!(Some(mark.since.utc), joined.0.map(|it| it.0), "since it was set, not parted");
    // Switched off, and on again: still another person.
    night.line(5, "radio", &support::vdm(&support::text(MATE, "MOB OFF"), 'A'));
    night.line(60, "radio", &mate);
    assert!(causes(&night).contains(&Cause::OverboardMarked), "{:?}", causes(&night));
}

/// The causes of what is open, in the order of the numbers.
fn causes(night: &Night) -> Vec<Cause> {
    open(&night.watch).iter().map(|alert| alert.1).collect()
}

#[test]
fn every_cause_about_people_is_among_them() {
    for cause in PEOPLE {
        assert!(cause.is_about_people());
        let night = Night::of(&[cause], &[0]);
        assert!(open(&night.watch).iter().any(|alert| alert.1 == cause), "{cause:?}");
    }
    let why = serde_json::from_str::<Cause>("\"\"").unwrap_err().to_string();
    let all = why.split('`').skip(3).step_by(2);
    let all = all.map(|name| serde_json::from_value::<Cause>(name.into()).unwrap());
    assert_eq!(all.filter(|cause| cause.is_about_people()).count(), PEOPLE.len());
}

/// The numbers of all entries, each with that of its alert.
fn numbers(folder: &Path) -> Vec<(i64, Option<u32>)> {
    let connection = Connection::open(folder.join(FILE)).unwrap();
    let mut query = connection.prepare("SELECT entry, alert FROM entry").unwrap();
    let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    rows.collect::<Result<_, _>>().unwrap()
}

/// The file, with a byte of the body of this entry as a disk may give it back: where `cut` is set it
/// is no JSON any more, else another text.
fn damaged(file: &[u8], entry: i64, cut: bool) -> Vec<u8> {
    let mut file = file.to_vec();
    let body = format!("{{\"v\":1,\"entry\":{entry},");
    let key = b"\"text\":";
    let places = |file: &[u8], wanted: &[u8]| -> Vec<usize> {
        file.windows(wanted.len()).enumerate().filter(|it| it.1 == wanted).map(|it| it.0).collect()
    };
    for begin in places(&file, body.as_bytes()) {
        let at = begin + places(&file[begin..], key)[0];
        file[at + if cut { key.len() - 1 } else { 1 }] = b'X';
    }
    file
}

/// The file, with this instead of that in the body of this entry, of the same length.
fn altered(file: &[u8], entry: i64, was: &str, is: &str) -> Vec<u8> {
    let mut file = file.to_vec();
    let body = format!("{{\"v\":1,\"entry\":{entry},");
    let bodies: Vec<usize> = memchr::memmem::find_iter(&file, &body).collect();
    for begin in bodies {
        let at = begin + memchr::memmem::find(&file[begin..], was.as_bytes()).unwrap();
        file[at..at + is.len()].copy_from_slice(is.as_bytes());
    }
    file
}

/// Goes on with an emergency of the mate whose entry has this instead of that.
fn again_with(was: &str, is: &str) -> (Night, Vec<Kept>) {
    let folder = tempfile::tempdir().unwrap();
    let mut night = Night::of(&[Cause::BeaconActive], &[0]);
    let before = open(&night.watch);
    watch(folder.path(), night.drafts.drain(..));
    let (path, numbers) = (folder.path().join(FILE), numbers(folder.path()));
    let whole = fs::read(&path).unwrap();
    let of_alert: Vec<i64> =
        numbers.iter().filter(|it| it.1 == Some(before[0].0.0)).map(|it| it.0).collect();
    fs::write(&path, altered(&whole, *of_alert.last().unwrap(), was, is)).unwrap();
    night.again(incidents(folder.path()));
    (night, before)
}

#[test]
fn whoever_is_active_is_told_though_an_altered_entry_names_another() {
    for (was, is) in [
        ("\"mmsi\":972000017", "\"mmsi\":972000018"),
        ("\"mmsi\":972000017", "\"mmsi\":\"7200001\""),
        ("\"emergency\":972000017", "\"emergency\":972000018"),
    ] {
        let (mut night, before) = again_with(was, is);
        assert_eq!(open(&night.watch)[0], before[0], "{is}");
        night.line(2, "radio", &sentence(Cause::BeaconActive).unwrap());
        let active = |it: &overside::watch::Alert| {
            it.cause == Cause::BeaconActive && it.mmsi.is_some_and(|mmsi| mmsi.value() == MATE)
        };
        assert!(night.watch.alerts().iter().any(active), "{is}: {:?}", night.watch.alerts());
    }
}

#[test]
fn an_alert_keeps_its_number_though_its_entry_has_another() {
    let (night, before) = again_with("\"alert\":1,", "\"alert\":7,");
    assert_eq!(open(&night.watch), before);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn what_was_open_goes_on_and_is_raised_no_second_time(
        causes in subsequence(PEOPLE.to_vec(), 1..=PEOPLE.len()).prop_shuffle(),
        acts in prop::collection::vec(0u32..32, 4),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let mut night = Night::of(&causes, &acts);
        let before = open(&night.watch);
        watch(folder.path(), night.drafts.drain(..));
        night.again(incidents(folder.path()));
        prop_assert_eq!(open(&night.watch), before.clone());
        for sentence in causes.iter().filter_map(|&cause| sentence(cause)) {
            night.line(2, "radio", &sentence);
        }
        let ids = |open: &[Kept]| open.iter().map(|alert| alert.0).collect::<BTreeSet<_>>();
        let after = ids(&open(&night.watch));
        prop_assert!(after.is_subset(&ids(&before)), "{after:?} of {before:?}");
        for (id, ..) in before.iter().filter(|alert| alert.2 == Priority::EmergencyAlarm) {
            prop_assert!(after.contains(id));
        }
    }

    #[test]
    fn one_damaged_entry_takes_nothing_with_it_and_is_told(
        causes in subsequence(PEOPLE.to_vec(), 2..=5).prop_shuffle(),
        acts in prop::collection::vec(0u32..32, 4),
        cut in any::<bool>(),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let mut night = Night::of(&causes, &acts);
        let before = open(&night.watch);
        watch(folder.path(), night.drafts.drain(..));
        let (path, numbers) = (folder.path().join(FILE), numbers(folder.path()));
        let whole = fs::read(&path).unwrap();
        for (entry, alert) in &numbers {
            fs::write(&path, damaged(&whole, *entry, cut)).unwrap();
            let found = incidents(folder.path());
            prop_assert_eq!(reader(folder.path()).damaged().unwrap(), vec![*entry]);
            let others = numbers.iter().any(|it| it.1.is_some() && it.1 == *alert && it.0 != *entry);
            let unread = found.unread.contains(entry);
            night.again(found);
            let after = open(&night.watch);
            for kept in &before {
                let lost = cut && !others && Some(kept.0.0) == *alert;
                prop_assert!(after.contains(kept) || (lost && unread), "{kept:?}: {after:?}");
            }
        }
    }

    /// Nor do two starts without a logbook whose clocks have lost the time, however alike: they would
    /// have to draw one chance in a million. No clock that is right gives those numbers.
    #[test]
    fn starts_that_cannot_read_the_logbook_give_no_number_twice(
        boot_ms in 0i64..100_000, later_ms in 0i64..10, chances in (any::<u32>(), any::<u32>()),
        right_s in 1_646_092_800i64..2_500_000_000,
    ) {
        let at = |ms| Utc::from_unix_ms(ms).unwrap();
        let (one, other) = (chances.0 % 0x1000_0000, chances.1 % 0x1000_0000);
        prop_assume!(one.abs_diff(other) >= 100);
        let first = number_without_a_book(at(boot_ms), chances.0);
        let second = number_without_a_book(at(boot_ms + later_ms), chances.1);
        prop_assert!(first.abs_diff(second) >= 100, "{first} {second}");
        prop_assert!(first.min(second) >= 1_000_000);
        let right = number_without_a_book(at(right_s * 1000), chances.0);
        prop_assert!(first.max(second) + 100 < right, "{first} {second} {right}");
        let later = number_without_a_book(at((right_s + 1) * 1000), chances.1);
        prop_assert!(later > right);
    }

    /// Over restarts, and where the logbook is read late or never.
    #[test]
    fn numbers_rise_for_ever(readable in prop::collection::vec(0u8..3, 2..6)) {
        let folder = tempfile::tempdir().unwrap();
        let mut night = Night::of(&PEOPLE[..2], &[0]);
        let mut given: Vec<AlertId> = open(&night.watch).iter().map(|alert| alert.0).collect();
        watch(folder.path(), night.drafts.drain(..));
        for (turn, how) in (0u32..).zip(readable) {
            let found = incidents(folder.path());
            let last = number_without_a_book(night.after(1).utc, 0);
            night.again(match how {
                0 => found,
                _ => Incidents { highest_alert: Some(AlertId(last)), ..Incidents::default() },
            });
            let call = |n: u32| format!("CDDSC,12,2119{:05}0,12,10,26,1502000510,0201,,,S,", turn * 10 + n);
            night.line(1, "radio", &support::sealed(&call(0)));
            if how == 1 {
                let now = night.after(1);
                let numbers = last + 1..night.watch.summary().alerts + 1;
                let ours = Ours { numbers, session: None };
                night.watch.resume(place(incidents(folder.path()), &ours, now).open, now);
                night.write(now, None);
            }
            night.line(1, "radio", &support::sealed(&call(1)));
            let mut new: Vec<AlertId> = open(&night.watch).iter().map(|alert| alert.0).collect();
            new.retain(|id| !given.contains(id));
            prop_assert_eq!(new.len(), 2);
            prop_assert!(new.iter().min() > given.iter().max(), "{new:?} after {given:?}");
            given.extend(new);
            watch(folder.path(), night.drafts.drain(..));
        }
    }
}

/// Somebody who called by DSC alone is where the expansion says: the call itself tells whole minutes,
/// which may be a mile off.
#[test]
fn who_called_is_where_the_expansion_of_the_call_says() {
    let folder = tempfile::tempdir().unwrap();
    let mut night = Night::begin();
    let place_at = |lat, lon| Position::new(lat, lon).unwrap();
    let shown = |night: &mut Night| {
        let now = night.after(0);
        let picture = night.watch.picture(now);
        (picture.beacons[0].position.unwrap(), picture.alerts[0].text.clone())
    };
    let call = "CDDSC,12,9720000170,12,10,26,1500000130,0201,,,S,E";
    night.line(1, "radio", &support::sealed(call));
    assert_eq!(shown(&mut night).0, place_at(50.0, -1.5));
    night.line(1, "radio", &support::sealed("CDDSE,1,1,A,9720000170,00,50002500"));
    let refined = shown(&mut night);
    assert_eq!(refined.0, place_at(50.0 + 0.5 / 60.0, -1.5 - 0.25 / 60.0));
    assert!(refined.1.contains("50°00.50'N"), "{}", refined.1);
    // A silence ends, and with that it is written down where that is.
    night.command(1, Command::Acknowledge(AlertId(1)));
    watch(folder.path(), night.drafts.drain(..));
    night.again(incidents(folder.path()));
    let off = range_and_bearing(shown(&mut night).0, refined.0).0;
    assert!(off.0 < 1e-6, "{off:?}");
}

/// What a station heard half an hour before it could pass it on is no younger after a restart.
#[test]
fn what_was_heard_late_is_as_old_after_a_restart() {
    let late = Relayed { ago: Duration::from_secs(1800) }.tag("pier");
    let call = support::sealed("CDDSC,12,9720000170,12,10,26,1500200500,0201,,,S,");
    for sentence in [sentence(Cause::BeaconActive).unwrap(), call] {
        let folder = tempfile::tempdir().unwrap();
        let mut night = Night::begin();
        night.second = 7200;
        night.own(1, 50.0);
        night.line(1, "station pier", &format!("{late}{sentence}"));
        let ages = |night: &mut Night| {
            let now = night.after(0);
            let picture = night.watch.picture(now);
            let [mate] = &picture.beacons[..] else { panic!("{:?}", picture.beacons) };
            let utc = now.utc.ms_since(mate.last.utc) / 1000;
            [now.at.since(mate.last.at).as_secs(), utc as u64, mate.fix_age.unwrap().as_secs()]
        };
        assert_eq!(ages(&mut night), [1800; 3], "{sentence}");
        night.own(60, 50.0);
        watch(folder.path(), night.drafts.drain(..));
        night.again(incidents(folder.path()));
        assert_eq!(ages(&mut night), [1865; 3], "{sentence}");
    }
}

/// Reads what is written down of what somebody did, too.
#[test]
fn who_was_declared_safe_a_while_ago_comes_back_over_a_restart() {
    let active = sentence(Cause::BeaconActive).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut night = Night::of(&[Cause::BeaconActive], &[0]);
    night.act(1, Command::Resolve(AlertId(1)));
    night.line(60, "radio", &active);
    assert_eq!(open(&night.watch), []);
    watch(folder.path(), night.drafts.drain(..));
    night.again(incidents(folder.path()));
    let declared = |night: &Night| {
        let second = std::time::Duration::from_secs(night.second);
        let now = Stamp { at: Mono::START + second, utc: Utc::EPOCH };
        night.watch.picture(now).beacons[0].declared.map(|it| it.ago.as_secs())
    };
    assert_eq!(declared(&night), Some(65));
    night.line(235, "radio", &active);
    night.line(235, "radio", &active);
    assert_eq!(open(&night.watch), []);
    night.line(70, "radio", &active);
    let again = open(&night.watch);
    assert!(matches!(again[..], [(AlertId(2..), _, Priority::EmergencyAlarm)]), "{again:?}");
}

#[test]
fn who_is_active_anew_long_after_the_operators_word_is_an_emergency_over_a_restart() {
    let active = sentence(Cause::BeaconActive).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut night = Night::of(&[Cause::BeaconActive], &[0]);
    night.act(290, Command::Resolve(AlertId(1)));
    watch(folder.path(), night.drafts.drain(..));
    night.again(incidents(folder.path()));
    let test = support::vdm(&support::position(MATE, 15, Some((50.02, -5.0)), 12), 'A');
    night.line(429, "radio", &test);
    assert!(open(&night.watch).iter().all(|it| it.2 < Priority::EmergencyAlarm));
    night.line(180, "radio", &active);
    let again = open(&night.watch);
    assert!(again.iter().any(|it| it.2 == Priority::EmergencyAlarm), "{again:?}");
}

/// A clock that has lost the time tells of no word how old it is: it may be long over, and does not
/// hold. Found by a boat-year (seed 9124).
#[test]
fn a_word_whose_age_is_not_known_does_not_hold_over_a_restart() {
    let active = sentence(Cause::BeaconActive).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut night = Night::of(&[Cause::BeaconActive], &[0]);
    night.act(1, Command::Resolve(AlertId(1)));
    watch(folder.path(), night.drafts.drain(..));
    let now = Stamp { at: Mono::START, utc: Utc::EPOCH };
    // Nor by a clock that has gone far ahead (seed 20240).
    let ahead = Utc::parse_rfc3339("2027-01-01T00:00:00Z").unwrap();
    for utc in [ahead, now.utc] {
        let left = place(incidents(folder.path()), &Ours::default(), Stamp { utc, ..now });
        assert!(left.open.beacons.iter().all(|it| it.declared.is_none()), "{left:?}");
    }
    let left = place(incidents(folder.path()), &Ours::default(), now);
    night.watch = Night::begin().watch;
    night.watch.resume(left.open, now);
    night.line(1, "radio", &active);
    let again = open(&night.watch);
    assert!(again.iter().any(|it| it.2 == Priority::EmergencyAlarm), "{again:?}");
}

#[test]
fn who_was_declared_safe_and_drifts_away_comes_back_over_a_restart() {
    let folder = tempfile::tempdir().unwrap();
    let mut night = Night::of(&[Cause::BeaconActive], &[0]);
    night.act(1, Command::Resolve(AlertId(1)));
    watch(folder.path(), night.drafts.drain(..));
    night.again(incidents(folder.path()));
    // It was 1.2 NM off.
    night.own(1, 50.0);
    night.line(
        1,
        "radio",
        &support::vdm(&support::position(MATE, 14, Some((50.0205, -5.0)), 1), 'A'),
    );
    assert_eq!(open(&night.watch), []);
    night.own(1, 49.9965);
    assert_eq!(open(&night.watch), [(AlertId(2), Cause::BeaconActive, Priority::EmergencyAlarm)]);
}

/// Who is in danger, or was heard ACTIVE only afterwards, was not declared safe.
#[test]
fn the_word_for_one_is_not_taken_for_another() {
    let folder = tempfile::tempdir().unwrap();
    let mut night = Night::of(&[Cause::BeaconTest, Cause::BeaconActive], &[0]);
    night.act(1, Command::Resolve(AlertId(1)));
    watch(folder.path(), night.drafts.drain(..));
    night.again(incidents(folder.path()));
    let active = support::vdm(&support::position(STRANGER + 1, 14, Some((50.02, -5.0)), 10), 'A');
    night.line(1, "radio", &active);
    let active = open(&night.watch).into_iter().filter(|it| it.1 == Cause::BeaconActive).count();
    assert_eq!(active, 2);
}
