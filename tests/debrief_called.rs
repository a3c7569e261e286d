//! A casualty that is known by DSC alone is a casualty of the debrief.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/drills.rs"]
mod drills;

use drills::*;
use overside::app;
use overside::debrief::{
    About, Casualty, CasualtySummary, Drill, DrillEventKind, Enrolled, Observer, RecoveredBy,
};
use overside::mmsi::Mmsi;
use overside::watch::Settings;

/// A drill that is sailed back from, with a heading, in a boat with a wind instrument.
const SEED: u64 = 9;

const SHIP: u32 = 200_000_000;

fn crew(person: &str, mmsi: u32) -> Enrolled {
    Enrolled {
        mmsi: Mmsi::new(mmsi).unwrap(),
        person: Some(person.to_owned()),
        dsc_mmsi: Mmsi::new(SHIP),
    }
}

fn debriefed_of(text: &str, crew: Vec<Enrolled>) -> Drill {
    let folder = tempfile::tempdir().unwrap();
    let path = file(&folder, "drill.nmea", text);
    let muster = crew.iter().map(|it| (it.mmsi, it.person.clone())).collect();
    let settings = Settings { muster, own_mmsi: Mmsi::new(SHIP), ..Settings::default() };
    let mut observer = Observer::new();
    app::observe(&[path], None, settings, &mut observer, |_| {}).unwrap();
    observer.finish(About { recording: "drill".to_owned(), crew, ..About::default() })
}

fn only(drill: &Drill) -> &Casualty {
    let [casualty] = drill.casualties.as_slice() else {
        panic!("{} casualties", drill.casualties.len())
    };
    casualty
}

/// What a debrief knows of whoever is known by DSC as well as of anybody.
#[track_caller]
fn is_whole(drill: &Drill, truth: &Rehearsed) {
    let casualty = only(drill);
    assert_eq!((casualty.mmsi.unwrap().value(), casualty.person.as_deref()), (MMSI, Some("Mate")));
    assert!(casualty.fixes.len() >= 3 && casualty.track.len() >= 3, "{}", casualty.fixes.len());
    assert!(casualty.calls.len() >= 3 && casualty.calls.iter().all(|it| !it.is_rough));
    assert!(casualty.is_called_only());
    let measures = &casualty.measures;
    assert!(
        measures.alarm.alarm_at.value().is_some()
            && measures.alarm.first_position_at.value().is_some()
    );
    let turned = seconds(*measures.turn.turn_begun_at.value().unwrap());
    assert!((turned - truth.turned as f64).abs() <= 5.0, "{turned} {}", truth.turned);
    let until = truth.there.unwrap();
    let greatest = truth.ranges(truth.fallen + 12, until).fold(0.0, f64::max);
    let found = measures.approach.greatest_range_nm.value().unwrap().metres();
    assert!((found - greatest).abs() < 40.0, "{found} {greatest}");
    assert!(*measures.approach.closest_approach_m.value().unwrap() < 40.0);
    assert!(measures.recovery.at_casualty_at.value().is_some());
    assert!(drill.wind.value().is_some(), "{:?}", drill.wind);
    let rescue = drill
        .own_track
        .iter()
        .filter(|it| (truth.fallen as f64..until as f64).contains(&seconds(it.at)));
    assert!(rescue.count() + 5 >= until - truth.fallen, "own track second by second");
    let findings = casualty.findings.join(" ");
    assert!(findings.contains("Mate is known by DSC alone: "), "{findings}");
    assert!(findings.contains("The first DSC call about Mate came at"), "{findings}");
    let page = overside::debrief::page(std::slice::from_ref(drill));
    assert!(page.contains("The chart of the drill") && !page.contains("No place is known"));
    assert!(page.contains("Range and reception against time"));
    let line = serde_json::to_value(CasualtySummary::of(drill, casualty)).unwrap();
    assert_eq!(line["person"], "Mate");
}

#[test]
fn a_beacon_that_calls_in_the_name_of_the_ship_is_that_of_the_muster() {
    let truth = Rehearsed::of(SEED);
    let (_, text) =
        without_ais(SEED, &calls("distress_alert", &format!("caller = {SHIP}"), &truth, true));
    is_whole(&debriefed_of(&text, vec![crew("Mate", MMSI)]), &truth);
}

#[test]
fn a_beacon_that_calls_in_its_own_name_is_a_casualty() {
    let truth = Rehearsed::of(SEED);
    let (_, text) =
        without_ais(SEED, &calls("distress_alert", &format!("caller = {MMSI}"), &truth, true));
    is_whole(&debriefed_of(&text, vec![crew("Mate", MMSI)]), &truth);
}

#[test]
fn a_relay_about_a_beacon_is_about_a_casualty() {
    let truth = Rehearsed::of(SEED);
    let about = format!("caller = 244123000\ncasualty = {MMSI}");
    let (_, text) = without_ais(SEED, &calls("distress_relay", &about, &truth, true));
    is_whole(&debriefed_of(&text, vec![crew("Mate", MMSI)]), &truth);
}

/// A call without the identity of the casualty.
fn unnamed(line: &str) -> String {
    let Some((tag, call)) = line.split_once("$CVDSC,") else { return line.to_owned() };
    let (fields, _) = call.split_once('*').unwrap();
    let body = format!("CVDSC,{}", fields.replace(&format!(",{MMSI}0,"), ",,"));
    format!("{tag}${body}*{:02X}", body.bytes().fold(0, |sum, byte| sum ^ byte))
}

/// A coast station passes on what it does not know the identity of.
#[test]
fn a_relay_about_somebody_unknown_is_about_nobody_else() {
    let truth = Rehearsed::of(SEED);
    let about = format!("caller = 2442000\ncasualty = {MMSI}");
    let (_, text) = without_ais(SEED, &calls("distress_relay", &about, &truth, true));
    let text: String = text.lines().map(|line| format!("{}\r\n", unnamed(line))).collect();
    let drill = debriefed_of(&text, vec![crew("Mate", MMSI)]);
    let casualty = only(&drill);
    assert_eq!((casualty.mmsi, casualty.person.as_deref()), (None, None));
    assert!(casualty.calls.iter().all(|it| it.by == Mmsi::new(2_442_000)), "{:?}", casualty.calls);
    assert!(casualty.measures.alarm.alarm_at.value().is_some());
    assert!(casualty.measures.approach.closest_approach_m.value().is_some());
    let findings = casualty.findings.join(" ");
    assert!(findings.contains("The first DSC call about an unknown person"), "{findings}");
    assert!(drill.events.iter().all(|it| it.mmsi.is_none()), "{:?}", drill.events);
    assert!(!overside::debrief::page(std::slice::from_ref(&drill)).contains("called by 002442000"));
    let line = serde_json::to_value(CasualtySummary::of(&drill, casualty)).unwrap();
    assert!(line["mmsi"].is_null() && line["kind"] == "mob", "{line}");
}

#[test]
fn whole_minutes_make_no_range() {
    let truth = Rehearsed::of(SEED);
    let (_, text) =
        without_ais(SEED, &calls("distress_alert", &format!("caller = {SHIP}"), &truth, false));
    let drill = debriefed_of(&text, vec![crew("Mate", MMSI)]);
    let casualty = only(&drill);
    assert!(casualty.calls.iter().all(|it| it.is_rough && it.position.is_some()));
    assert_eq!(casualty.measures.approach.greatest_range_nm.value(), None);
    assert_eq!(casualty.measures.approach.closest_approach_m.value(), None);
    let findings = casualty.findings.join(" ");
    assert!(findings.contains("to whole minutes alone"), "{findings}");
}

#[test]
fn of_several_beacons_in_the_name_of_the_ship_nobody_is_guessed() {
    let truth = Rehearsed::of(SEED);
    let (_, text) =
        without_ais(SEED, &calls("distress_alert", &format!("caller = {SHIP}"), &truth, true));
    let drill = debriefed_of(&text, vec![crew("Mate", MMSI), crew("Cook", 972_000_016)]);
    let casualty = only(&drill);
    assert_eq!((casualty.mmsi.unwrap().value(), casualty.person.as_deref()), (SHIP, None));
    assert!(casualty.measures.approach.closest_approach_m.value().is_some());
}

#[test]
fn calls_in_the_name_of_the_ship_join_the_beacon_that_is_heard() {
    let truth = Rehearsed::of(SEED);
    let calls = calls("distress_alert", &format!("caller = {SHIP}"), &truth, true);
    let text = recorded(&(truth.toml.clone() + &calls));
    let drill = debriefed_of(&text, vec![crew("Cook", 972_000_016), crew("Mate", MMSI)]);
    let casualty = only(&drill);
    assert_eq!((casualty.mmsi.unwrap().value(), casualty.person.as_deref()), (MMSI, Some("Mate")));
    assert!(casualty.calls.len() >= 3 && !casualty.is_called_only());
    let findings = casualty.findings.join(" ");
    assert!(findings.contains("There were "), "{findings}");
    assert!(findings.contains("DSC calls about Mate, "), "{findings}");
}

#[test]
fn a_cancel_ends_it_and_another_call_is_another_incident() {
    let truth = Rehearsed::of(SEED);
    let end = truth.there.unwrap() + 60;
    let cancel = format!(
        "[[call]]\nat_s = {end}\nmeaning = \"distress_cancel\"\ncaller = {SHIP}\nnature = \"man_overboard\"\n"
    );
    let about = format!("caller = {SHIP}");
    let again = format!(
        "[[call]]\nat_s = {}\nmeaning = \"distress_alert\"\n{about}\nnature = \"man_overboard\"\n",
        end + 200
    );
    let (_, text) =
        without_ais(SEED, &(calls("distress_alert", &about, &truth, true) + &cancel + &again));
    let drill = debriefed_of(&text, vec![crew("Mate", MMSI)]);
    assert_eq!(drill.casualties.len(), 2);
    let measures = &drill.casualties[0].measures;
    assert_eq!(measures.recovery.recovered_by, Some(RecoveredBy::Off));
    let at = seconds(*measures.recovery.recovered_at.value().unwrap());
    assert!((at - end as f64).abs() < 2.0, "{at} {end}");
    let off = drill.events.iter().find(|it| it.kind == DrillEventKind::Off).unwrap();
    assert_eq!(off.text, "The distress of Mate is cancelled by DSC");
}

/// A crew alarm on board (IEC 61162-1 MOB), and nothing else, tells of somebody overboard.
#[test]
fn a_crew_alarm_alone_is_a_casualty_and_told_as_what_it_is() {
    let truth = Rehearsed::of(SEED);
    let drill = debriefed_of(&by_crew_alarm(SEED, 1), vec![crew("Mate", MMSI)]);
    let casualty = only(&drill);
    // Whose emitter it is no muster tells.
    assert_eq!((casualty.mmsi, casualty.person.as_deref()), (None, None));
    assert_eq!(casualty.name(), "the person of crew alarm 000FF");
    let measures = &casualty.measures;
    let first = seconds(*measures.alarm.activated_at.value().unwrap());
    assert!((first - truth.fallen as f64 - 4.0).abs() < 1.0, "{first}");
    assert!(measures.alarm.alarm_at.value().is_some());
    let until = truth.there.unwrap();
    let greatest = truth.ranges(truth.fallen + 4, until).fold(0.0, f64::max);
    let found = measures.approach.greatest_range_nm.value().unwrap().metres();
    assert!((found - greatest).abs() < 40.0, "{found} {greatest}");
    assert!(measures.recovery.at_casualty_at.value().is_some());
    assert!(casualty.calls.iter().all(|it| it.emitter.as_deref() == Some("000FF")));
    let findings = casualty.findings.join("\n");
    let first = "Crew alarm 000FF first told of a person overboard at ";
    assert!(findings.contains(first), "{findings}");
    assert!(findings.contains("is known by crew alarm 000FF on board alone"), "{findings}");
    assert!(!findings.contains("DSC call") && !findings.contains("beacon was heard"), "{findings}");
    let page = overside::debrief::page(std::slice::from_ref(&drill));
    assert!(page.contains("The chart of the drill") && !page.contains("No place is known"));
}

/// Where the ship reckons the emitter to be is no place of a casualty: it may go with the ship.
#[test]
fn what_the_ship_reckons_of_a_crew_alarm_makes_no_range() {
    let drill = debriefed_of(&by_crew_alarm(SEED, 0), Vec::new());
    let casualty = only(&drill);
    assert!(casualty.calls.iter().all(|it| it.is_rough && it.position.is_some()));
    let measures = &casualty.measures;
    assert_eq!(measures.approach.greatest_range_nm.value(), None);
    assert_eq!(measures.recovery.recovered_at.value(), None);
    let findings = casualty.findings.join("\n");
    assert!(findings.contains("where the ship reckoned"), "{findings}");
}

/// A test, or an emitter that is not in use, is nobody in the water.
#[test]
fn a_crew_alarm_in_test_is_no_casualty() {
    for status in ["T", "V", "E"] {
        let text = by_crew_alarm(SEED, 1);
        let text: String = text
            .lines()
            .map(|line| match line.split_once("$IIMOB,000FF,A,") {
                Some((tag, rest)) => {
                    let body = format!("IIMOB,000FF,{status},{}", rest.split('*').next().unwrap());
                    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
                    format!("{tag}${body}*{sum:02X}\r\n")
                }
                None => format!("{line}\r\n"),
            })
            .collect();
        assert!(debriefed_of(&text, Vec::new()).casualties.is_empty(), "{status}");
    }
}
