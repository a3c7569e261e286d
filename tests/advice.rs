//! What a person is told, judgement by judgement; the picture and the advice as JSON; and that a
//! key acts on what was drawn when it was pressed.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/scenes.rs"]
mod scenes;
mod support;

use overside::advice::{self, Advice, Hold, Reality, Situation, Step};
use overside::frontend::Request;
use overside::mmsi::Mmsi;
use overside::screen::Action;
use overside::watch::{Cause, Command, Picture};
use serde_json::Value;

fn picture(scene: &str) -> Picture {
    scenes::stage(scene).picture()
}

fn advice(scene: &str) -> Advice {
    Advice::of(&picture(scene), None)
}

#[test]
fn a_casualty_is_told_with_who_how_far_which_way_and_how_old() {
    let advice = advice("acknowledged");
    assert_eq!(advice.situation, Situation::Casualty);
    assert_eq!(advice.real, Some(Reality::Active));
    assert_eq!(advice.headline(), "MATE OVERBOARD");
    let place = advice.whereabouts.unwrap();
    assert_eq!(place.hold, Hold::Now);
    assert!(place.range.0 > 0.05 && place.bearing.is_some(), "{place:?}");
    assert!(advice.ages.unwrap().fix.unwrap().as_secs() <= 150);
    assert!(advice.words().starts_with("MATE OVERBOARD. "), "{}", advice.words());
}

#[test]
fn what_waits_to_be_acknowledged_comes_before_any_course() {
    assert_eq!(advice("casualty").next, Some(Step::Acknowledge { other: None }));
    let next = advice("acknowledged").next;
    assert!(!matches!(next, None | Some(Step::Acknowledge { .. })), "{next:?}");
}

#[test]
fn deafness_is_as_old_as_the_ais_whatever_else_the_receiver_gives() {
    let mut stage = scenes::stage("quiet");
    (stage.ais, stage.gnss) = (false, false);
    for _ in 0..14 {
        stage.pass(5);
        stage.line("ais", &support::sealed("HEHDT,318.0,T"));
    }
    stage.line("gnss", &support::sealed("HEHDT,318.0,T"));
    let words = Situation::of_quiet(&stage.picture()).words();
    assert!(
        words.starts_with("NO AIS for 1 min 1") || words.starts_with("NO AIS for 1 min 2"),
        "{words}"
    );
}

#[test]
fn what_was_heard_and_by_what_is_said_with_its_age() {
    let words = |scene| Advice::of(&picture(scene), None).ages.unwrap().words();
    assert!(words("acknowledged").ends_with(" ago"), "{}", words("acknowledged"));
    assert_eq!(words("marked"), "marked 60 s ago");
    let mut stage = scenes::stage("quiet");
    let call = |place| support::sealed(&format!("CDDSC,12,9720000170,12,10,26,{place},0212,,,S,"));
    stage.line("gnss", &call("0574201035"));
    stage.pass(5);
    let words = Advice::of(&stage.picture(), None).ages.unwrap().words();
    assert!(words.ends_with("heard 5 s ago DSC") && words.contains("old DSC"), "{words}");
    let mut stage = scenes::stage("quiet");
    stage.line("gnss", &call(""));
    let words = Advice::of(&stage.picture(), None).ages.unwrap().words();
    assert!(words.ends_with("heard 0 s ago DSC"), "{words}");
}

#[test]
fn an_old_fix_is_last_known() {
    let place = advice("stale").whereabouts.unwrap();
    assert!(place.is_stale() && place.hold == Hold::LastKnown, "{place:?}");
}

#[test]
fn a_silent_casualty_is_reckoned_and_its_signal_lost() {
    let advice = advice("silent");
    assert_eq!(advice.real, Some(Reality::SignalLost));
    assert_eq!(advice.whereabouts.unwrap().hold, Hold::Reckoned);
    assert!(advice.ages.unwrap().heard.as_secs() >= 300);
}

/// Nobody can point at somebody who is but known from before, and what is open says until when it was
/// so.
#[test]
fn nobody_is_to_point_at_a_place_known_from_before() {
    for (scene, place) in
        [("silent", "estimated"), ("stale", "last known"), ("own_lost", "last known")]
    {
        let said = advice(scene).next.unwrap().words(Some("Mate"));
        assert!(!said.contains("pointing"), "{scene}: {said}");
        let picture = picture(scene);
        let step = Step::onward(&picture, &picture.beacons[0]).words(Some("Mate"));
        assert!(step.contains(&format!("to {place} position")), "{scene}: {step}");
    }
    let picture = picture("silent");
    let open = picture.alerts.iter().find(|it| it.cause == Cause::BeaconActive).unwrap();
    let place = picture.beacons[0].range.unwrap();
    assert!(open.text.contains("beacon ACTIVE when last heard 02:"), "{}", open.text);
    assert!(open.text.contains(", last known "), "{} {place}", open.text);
}

/// With an own position of a minute ago nobody knows that the ship is still there.
#[test]
fn an_old_own_position_is_at_no_place() {
    let mut stage = scenes::stage("marked");
    stage.pass(400);
    stage.press(Action::MarkOverboard);
    stage.gnss = false;
    let step = |stage: &scenes::Stage| {
        let picture = stage.picture();
        let point = picture
            .beacons
            .iter()
            .min_by(|a, b| a.range.map(|it| it.0).partial_cmp(&b.range.map(|it| it.0)).unwrap());
        Step::onward(&picture, point.unwrap()).words(None)
    };
    assert!(step(&stage).contains("at estimated position"), "{}", step(&stage));
    stage.pass(40);
    assert_eq!(step(&stage), "own position is old; look all round");
}

#[test]
fn close_by_a_bearing_is_noise() {
    let picture = picture("close");
    let advice = Advice::of(&picture, None);
    let place = advice.whereabouts.unwrap();
    assert!(place.is_close() && place.bearing.is_none() && place.relative.is_none(), "{place:?}");
    assert!(picture.beacons[0].bearing.is_some());
}

/// In the dark a rough direction is better than none, and says that it is rough.
#[test]
fn close_by_the_clock_is_said_as_rough() {
    let advice = advice("close");
    let words = advice.next.unwrap().words(Some("Mate"));
    assert!(words.starts_with("slow down, look about 6 o'clock (rough); "), "{words}");
    assert!(advice.whereabouts.unwrap().words().ends_with("o'clock (rough)"));
    // Without a compass the clock is that of the course over ground, which need not be the bow's.
    let mut stage = scenes::Stage::new();
    stage.compass = false;
    stage.pass(60);
    stage.overboard(scenes::MATE, 0);
    stage.pass(28);
    let picture = stage.picture();
    let words = Advice::of(&picture, None).whereabouts.unwrap().words();
    assert!(words.ends_with("about 6 o'clock by COG (rough)"), "{words}");
}

#[test]
fn whoever_is_in_danger_is_counted_and_stays_overboard_in_silence() {
    assert_eq!(advice("silent").headline(), "MATE OVERBOARD, SIGNAL LOST");
    let picture = picture("three");
    for (place, beacon) in (1..).zip(picture.beacons.iter().filter(|it| it.casualty)) {
        let advice = Advice::of(&picture, Some(beacon.id));
        assert!(advice.headline().ends_with(&format!("OVERBOARD ({place} of 3)")));
        let stranger = advice.words().contains("not on your muster: count heads");
        assert_eq!(stranger, beacon.person.is_none(), "{}", advice.words());
    }
}

/// A man-overboard call by the ship's identity, which her crew's beacons with DSC have: somebody of
/// the crew, from the first second; one person with a beacon that is heard near by.
#[test]
fn a_call_of_the_crew_is_a_casualty() {
    let call = support::sealed("CDDSC,12,2000000000,12,10,00,0574201035,0211,,,S,");
    let own_mmsi = overside::mmsi::Mmsi::new(200_000_000);
    let settings = || overside::watch::Settings { own_mmsi, ..Default::default() };
    let mut stage = scenes::Stage::with_settings(settings());
    stage.pass(20);
    stage.line("gnss", &call);
    let told = Advice::of(&stage.picture(), None);
    assert_eq!((&told.situation, told.real), (&Situation::Casualty, Some(Reality::Called)));
    assert_eq!(told.headline(), "ONE OF YOUR CREW OVERBOARD");
    assert!(told.whereabouts.is_some() && told.next.is_some(), "{told:?}");
    let muster = [(overside::mmsi::Mmsi::new(scenes::MATE).unwrap(), Some("Mate".to_owned()))];
    let settings = overside::watch::Settings { muster: muster.into(), ..settings() };
    let mut stage = scenes::Stage::with_settings(settings);
    stage.pass(20);
    stage.line("gnss", &call);
    stage.overboard(scenes::MATE, 0);
    stage.pass(40);
    let picture = stage.picture();
    let names: Vec<_> = picture.beacons.iter().map(|it| it.person.as_deref()).collect();
    assert_eq!(names, [Some("Mate")], "one person");
}

#[test]
fn a_test_is_a_test_and_asks_for_nothing() {
    let sure = advice("test");
    assert_eq!(
        (sure.situation, sure.real, sure.next),
        (Situation::Test, Some(Reality::Test), None)
    );
    let likely = advice("test_presumed");
    assert_eq!(likely.real, Some(Reality::ProbablyTest));
    assert_eq!(advice("test_too_long").real, Some(Reality::TooLongForATest));
}

#[test]
fn doubt_is_perhaps_active() {
    assert_eq!(advice("presumed_active").real, Some(Reality::PerhapsActive));
    assert_eq!(advice("marked").real, Some(Reality::Marked));
}

#[test]
fn without_a_position_there_are_no_numbers() {
    for scene in ["no_fix", "own_unknown"] {
        assert_eq!(advice(scene).whereabouts, None, "{scene}");
    }
    assert_eq!(advice("own_unknown").ages.unwrap().own, None);
}

#[test]
fn of_several_casualties_the_selected_one_is_told() {
    let picture = picture("three");
    let ids: Vec<_> = picture.beacons.iter().filter(|it| it.casualty).map(|it| it.id).collect();
    assert!(ids.len() > 1);
    for id in &ids {
        assert_eq!(Advice::of(&picture, Some(*id)).who.unwrap().id, *id);
    }
    let mut seen = Vec::new();
    let mut selected = Some(ids[0]);
    for _ in &ids {
        seen.extend(selected);
        selected = advice::next_casualty(&picture, selected);
    }
    assert_eq!((seen, selected), (ids.clone(), Some(ids[0])));
}

#[test]
fn a_quiet_watch_says_whether_it_hears() {
    assert_eq!(advice("quiet").situation, Situation::Listening);
    assert_eq!(advice("first_minute").situation, Situation::NothingYet);
    assert!(matches!(advice("deaf").situation, Situation::Deaf { heard: Some(_) }));
    assert!(matches!(advice("distress").situation, Situation::Alarm(_)));
    assert_eq!(advice("quiet").who, None);
}

fn names_are_plain(value: &Value, path: &str) {
    match value {
        Value::Object(map) => {
            for (name, value) in map {
                let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
                assert!(name.chars().all(plain), "{path}.{name}");
                names_are_plain(value, &format!("{path}.{name}"));
            }
        }
        Value::Array(values) => values.iter().for_each(|value| names_are_plain(value, path)),
        _ => {}
    }
}

#[test]
fn every_picture_and_its_advice_are_json() {
    for scene in scenes::SCENES {
        let picture = (scene.stage)().picture();
        let json = serde_json::to_value(&picture).unwrap();
        names_are_plain(&json, scene.name);
        names_are_plain(&serde_json::to_value(Advice::of(&picture, None)).unwrap(), scene.name);
        for (shown, beacon) in json["beacons"].as_array().unwrap().iter().zip(&picture.beacons) {
            assert_eq!(shown["fix_age_s"].as_f64(), beacon.fix_age.map(|age| age.as_secs_f64()));
            assert_eq!(shown["range_nm"].is_null(), beacon.range.is_none(), "{}", scene.name);
        }
    }
}

#[test]
fn what_is_not_known_is_null_and_never_zero() {
    let json = serde_json::to_value(picture("own_unknown")).unwrap();
    for name in ["position", "age_s", "cog_deg", "sog_kn", "heading_deg", "water_temperature_c"] {
        assert_eq!(json["own"].get(name), Some(&Value::Null), "{name}");
    }
    for name in ["range_nm", "bearing_deg", "way", "drift", "datum", "passed_nm_and_s_ago"] {
        assert_eq!(json["beacons"][0].get(name), Some(&Value::Null), "{name}");
    }
    let json = serde_json::to_value(picture("no_fix")).unwrap();
    for name in ["position", "fix_age_s", "range_nm", "farthest_nm"] {
        assert_eq!(json["beacons"][0].get(name), Some(&Value::Null), "{name}");
    }
    let json = serde_json::to_value(advice("no_fix")).unwrap();
    assert_eq!((&json["whereabouts"], &json["ages"]["fix_s"]), (&Value::Null, &Value::Null));
    let json = serde_json::to_value(picture("first_minute")).unwrap();
    assert_eq!(json["inputs"][0]["heard_s"], Value::Null);
}

/// A frame was drawn; another emergency comes in; the key was meant for what was seen.
#[test]
fn a_key_acts_on_what_was_drawn() {
    let mut stage = scenes::stage("three");
    stage.press(Action::NextCasualty);
    let drawn = stage.picture();
    let seen = advice::alert_in_view(&drawn, stage.screen.selected()).unwrap().id;
    stage.overboard_unseen(scenes::STRANGER + 1, 40);
    assert!(stage.picture().alerts.len() > drawn.alerts.len());
    for (action, wanted) in [
        (Action::Acknowledge, Command::Acknowledge(seen)),
        (Action::Silence, Command::Silence(seen)),
    ] {
        let request = stage.screen.clone().act(action, &drawn);
        assert_eq!(request, Some(Request::Command(wanted)), "{action:?}");
    }
    let mut screen = stage.screen.clone();
    let incident = advice::incident_in_view(&drawn, screen.selected()).unwrap().id;
    assert_eq!(screen.act(Action::Resolve, &drawn), None);
    let request = screen.act(Action::Confirm, &drawn);
    assert_eq!(request, Some(Request::Command(Command::Resolve(incident))));
    // The next frame is of the new one, or of whoever else waits longest.
    stage.screen.turn_to_new_alarm();
    assert_eq!(stage.screen.selected(), None);
}

/// Who leaves a page as an alarm comes in does not end the watch with the same key.
#[test]
fn the_way_back_never_ends_a_watch_that_has_just_heard_an_alarm() {
    let mut stage = scenes::stage("quiet");
    stage.press(Action::History);
    let drawn = stage.picture();
    stage.overboard_unseen(scenes::MATE, 40);
    assert_eq!(stage.screen.act(Action::Quit, &drawn), None, "back from the history");
    assert_eq!(stage.screen.act(Action::Quit, &drawn), None, "it asks, as ever");
    assert_eq!(stage.screen.act(Action::Confirm, &drawn), None, "nobody has seen what for");
}

/// In a round one beacon is tested after the other: that which was heard last is in view, and the
/// others can be looked at and written down, too.
#[test]
fn of_several_tests_the_last_is_in_view_and_each_can_be_written_down() {
    let mut stage = scenes::stage("test_written");
    let asked = |mmsi: u32| Some(Request::JudgeTest(Mmsi::new(mmsi).unwrap()));
    assert_eq!(stage.press(Action::WriteTest), asked(scenes::SKIPPER));
    stage.press(Action::NextCasualty);
    assert_eq!(stage.press(Action::WriteTest), asked(scenes::MATE));
    stage.press(Action::History);
    assert_eq!(stage.press(Action::WriteTest), None, "it is not in view");
    stage.press(Action::Leave);
    // Somebody in danger comes before any test, and there is nothing to be written down of that.
    stage.overboard(scenes::COOK, 0);
    stage.pass(30);
    assert_eq!(
        Advice::of(&stage.picture(), stage.screen.selected()).situation,
        Situation::Casualty
    );
    assert_eq!(stage.press(Action::WriteTest), None);
    assert_eq!(scenes::stage("quiet").press(Action::WriteTest), None);
}
