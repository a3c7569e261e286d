//! What keys do to the screen, over every state: what is offered makes sense, and no key loses an
//! alert.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/frames.rs"]
mod frames;
#[path = "support/scenes.rs"]
mod scenes;
mod support;

use overside::advice::somebody_is_in_danger;
use overside::frontend::{Enrolled, NewBeacon, Request};
use overside::mmsi::Mmsi;
use overside::navigation::Seas;
use overside::screen::{Action, Glyphs, KEYS};
use overside::watch::{Cause, Command, Event, EventBody, Priority, State};
use scenes::{SCENES, Stage};

/// What every key does, and what comes without a row in the table of keys.
fn actions() -> Vec<Action> {
    let rest = [
        Action::Confirm,
        Action::Other,
        Action::Resized,
        Action::Typed('5'),
        Action::Erase,
        Action::Enter,
        Action::End,
        Action::Choice(2),
    ];
    KEYS.iter().map(|key| key.action).chain(rest).collect()
}

fn key_line(stage: &Stage, size: (u16, u16)) -> String {
    frames::rows(&frames::frame(&stage.screen, &stage.picture(), size)).pop().unwrap()
}

fn shown(stage: &Stage, size: (u16, u16)) -> String {
    frames::text(&frames::frame(&stage.screen, &stage.picture(), size))
}

fn is_unacknowledged(state: State) -> bool {
    !matches!(state, State::ActiveAcknowledged | State::Normal)
}

#[test]
fn no_key_loses_an_alert() {
    for scene in SCENES {
        let stage = (scene.stage)();
        let picture = stage.picture();
        let open = &picture.alerts;
        // Every pair of keys, one after the other.
        for first in actions() {
            for second in actions() {
                let mut screen = stage.screen.clone();
                // Some scenes begin with a question.
                let mut asked = ["over_asked", "mute_asked"].contains(&scene.name);
                for action in [first, second] {
                    let request = screen.act(action, &picture);
                    let what = format!("{}: {first:?}, {second:?}: {request:?}", scene.name);
                    match request {
                        Some(Request::Command(Command::Acknowledge(id) | Command::Silence(id))) => {
                            assert!(open.iter().any(|alert| alert.id == id), "{what}");
                        }
                        Some(Request::Command(Command::Resolve(id))) => {
                            assert!(asked && action == Action::Confirm, "{what}");
                            let alert = open.iter().find(|alert| alert.id == id).unwrap();
                            let own = [Cause::InputSilent, Cause::OwnPositionLost];
                            assert!(!own.contains(&alert.cause), "{what}");
                        }
                        Some(Request::Command(Command::Mute(_) | Command::Unmute)) => {
                            assert!(asked && action == Action::Confirm, "{what}");
                            assert!(screen.replay.is_none(), "{what}");
                        }
                        // At any time, and never by the same key twice.
                        Some(Request::Quit) => {
                            assert!(asked && action == Action::Confirm, "{what}");
                            let danger = somebody_is_in_danger(&picture);
                            assert!(!danger || screen.replay.is_some(), "{what}");
                        }
                        _ => {}
                    }
                    let asks = [Action::Quit, Action::End, Action::Resolve, Action::Mute];
                    let quietly = action == Action::Resized && asked;
                    // A key that answers asks nothing, but the one that mutes.
                    asked = asks.contains(&action) && (!asked || action == Action::Mute) || quietly;
                }
            }
        }
    }
}

#[test]
fn acknowledging_acts_on_what_is_in_view() {
    let mut stage = scenes::stage("three");
    // The crew come before a stranger, heard sooner though it was (contract: order of casualties).
    for expected in [scenes::COOK, scenes::STRANGER] {
        let size = (80, 24);
        let text = frames::text(&frames::frame(&stage.screen, &stage.picture(), size));
        let who = if expected == scenes::COOK { "COOK" } else { "972000091" };
        assert!(text.lines().next().unwrap().contains(who), "{text}");
        let request = stage.press(Action::Acknowledge);
        let Some(Request::Command(Command::Acknowledge(id))) = request else {
            panic!("{request:?}")
        };
        let alerts = stage.picture().alerts;
        let alert = alerts.iter().find(|alert| alert.id == id).unwrap();
        assert_eq!(alert.mmsi.map(|mmsi| mmsi.value()), Some(expected));
        assert_eq!(alert.state, State::ActiveAcknowledged);
    }
    // All are acknowledged: the worst is large again, and the key asks for nothing.
    assert_eq!(stage.press(Action::Acknowledge), None);
}

#[test]
fn a_selected_casualty_is_the_one_that_is_acknowledged() {
    let mut stage = scenes::stage("three");
    let mut met = Vec::new();
    for _ in 0..3 {
        stage.press(Action::NextCasualty);
        let picture = stage.picture();
        let head = frames::rows(&frames::frame(&stage.screen, &picture, (80, 24))).remove(0);
        let shown = picture.beacons.iter().find(|beacon| {
            let name = beacon
                .person
                .as_ref()
                .map_or(beacon.mmsi().unwrap().to_string(), |it| it.to_uppercase());
            head.contains(&name)
        });
        let shown = shown.unwrap().mmsi().unwrap();
        let own = picture.alerts.iter().find(|alert| alert.mmsi == Some(shown)).unwrap();
        if is_unacknowledged(own.state) {
            let request = stage.screen.act(Action::Acknowledge, &picture);
            assert_eq!(request, Some(Request::Command(Command::Acknowledge(own.id))));
        }
        met.push(shown);
    }
    met.sort_unstable();
    met.dedup();
    assert_eq!(met.len(), 3, "the key steps through all of them");
}

#[test]
fn a_new_alarm_comes_into_view() {
    let mut stage = scenes::stage("acknowledged");
    stage.press(Action::NextCasualty);
    stage.press(Action::History);
    stage.overboard(scenes::COOK, 30);
    stage.pass(12);
    let text = frames::text(&frames::frame(&stage.screen, &stage.picture(), (80, 24)));
    assert!(text.starts_with(" COOK OVERBOARD"), "{text}");
    assert!(!text.contains("History"), "{text}");
}

/// Nobody who is reading a MAYDAY aloud loses the page to less than another emergency, nor the text
/// to another casualty.
#[test]
fn a_reader_is_interrupted_by_another_emergency_alone() {
    let mut stage = scenes::stage("say_mayday");
    let shown = |stage: &Stage| shown(stage, (80, 24));
    // An alarm: another ship is sinking.
    stage.line("gnss", &support::sealed("CDDSC,12,2190000030,12,05,00,0574001031,0211,,,S,"));
    // A warning: a stranger's beacon, perhaps active.
    stage.tested(scenes::STRANGER, None, 0);
    stage.pass(20);
    let text = shown(&stage);
    assert!(text.contains("[MAYDAY]") && text.contains("MAYDAY, MAYDAY, MAYDAY"), "{text}");
    assert!(text.starts_with(" MATE OVERBOARD") && text.contains("NEW "), "{text}");
    stage.overboard(scenes::COOK, 30);
    stage.pass(12);
    assert!(!shown(&stage).contains("[MAYDAY]"), "{}", shown(&stage));
    assert!(shown(&stage).starts_with(" COOK OVERBOARD"), "{}", shown(&stage));
    // Back to it: now it is two.
    stage.press(Action::Voice);
    assert!(shown(&stage).contains("2 PERSONS OVERBOARD"), "{}", shown(&stage));
    stage.press(Action::Quit);
    assert!(!shown(&stage).contains("[MAYDAY]"), "{}", shown(&stage));
}

/// A silent casualty is said where it was last. This one was heard too shortly for a drift: none is
/// said, and no place that would follow from it.
#[test]
fn of_a_silent_casualty_no_unknown_drift_is_said() {
    let mut stage = scenes::stage("silent");
    stage.press(Action::Voice);
    let text = frames::text(&frames::frame(&stage.screen, &stage.picture(), (120, 60)));
    for part in ["LAST KNOWN,", "RANGE"] {
        assert!(text.contains(part), "{part:?} is not in:\n{text}");
    }
    for part in ["DRIFTING", "KNOTS", "ESTIMATED POSITION NOW"] {
        assert!(!text.contains(part), "{part:?} is in:\n{text}");
    }
}

/// A crew's own casualty is called for first, whatever is looked at.
#[test]
fn the_own_crew_comes_first() {
    let mut stage = scenes::stage("three");
    while !frames::text(&frames::frame(&stage.screen, &stage.picture(), (80, 24)))
        .starts_with(" PERSON 972000091")
    {
        stage.press(Action::NextCasualty);
    }
    stage.press(Action::Voice);
    let shown = |stage: &Stage| shown(stage, (80, 40));
    assert!(shown(&stage).contains("[MAYDAY]"), "{}", shown(&stage));
    assert!(!shown(&stage).contains("972 000 091"), "{}", shown(&stage));
    stage.press(Action::NextCasualty);
    assert!(shown(&stage).contains("[MAYDAY RELAY]"), "{}", shown(&stage));
    assert!(shown(&stage).contains("AIS BEACON 972 000 091"), "{}", shown(&stage));
}

#[test]
fn only_keys_that_make_sense_are_offered() {
    for scene in SCENES {
        let stage = (scene.stage)();
        let picture = stage.picture();
        for size in [(60, 20), (80, 24), (120, 40)] {
            let line = key_line(&stage, size);
            let text = frames::text(&frames::frame(&stage.screen, &picture, size));
            let asked: &[&str] = match scene.name {
                "quitting" => &["MATE is overboard.", "To end the watch type: end", "> _"],
                "over_asked" => &["Is Mate aboard and safe?", "[y] yes, any other key: no"],
                "mute_asked" => &["Mute 972000091?", "[y] yes, [z] another, any other key: no"],
                "placing" => &["> 57,42 10,35_", "not understood: write 57 42.07N"],
                "asked" => &["Watch alarm: are you awake? Press any key within 15 s."],
                _ => &[],
            };
            for part in asked {
                assert!(text.contains(part), "{} {size:?}: no {part:?} in\n{text}", scene.name);
            }
            let waiting = picture.alerts.iter().any(|alert| is_unacknowledged(alert.state));
            let sounds = picture.alerts.iter().any(|it| it.state == State::ActiveUnacknowledged);
            let several = picture.beacons.iter().filter(|beacon| beacon.casualty).count() > 1;
            let is_test = matches!(
                scene.name,
                "test" | "test_presumed" | "test_written" | "test_not_complete"
            );
            let several = several || is_test && picture.beacons.len() > 1;
            assert_eq!(line.contains("[a]"), waiting, "{} {size:?} {line}", scene.name);
            assert!(!line.contains("[s]") || sounds, "{} {line}", scene.name);
            // What cannot wait comes before it.
            let offers = line.contains("[v]");
            let may = is_test || ["unlisted", "enrolling", "enrol_asked"].contains(&scene.name);
            assert!(!offers || may, "{} {line}", scene.name);
            // What was judged is judged once.
            let is_judged = ["test_written", "test_not_complete"].contains(&scene.name);
            assert!(!offers || !is_judged, "{} {size:?} {line}", scene.name);
            let must = is_test && !is_judged && !waiting;
            assert!(offers || !must, "{} {size:?} {line}", scene.name);
            let says = scene.name.starts_with("say_");
            assert!(!line.contains("[tab]") || several || says, "{} {line}", scene.name);
            assert!(!line.contains("[space]") || stage.screen.replay.is_some(), "{line}");
            assert!(!line.contains("[enter]") || scene.name == "history", "{line}");
            let way = if ["history", "help", "who", "outputs"].contains(&scene.name) || says {
                "[esc] back"
            } else {
                "[?] help"
            };
            assert!(line.contains(way), "{} {size:?} {line}", scene.name);
            for label in line.split("  ").map(str::trim).filter(|label| !label.is_empty()) {
                let known = KEYS.iter().any(|key| label.starts_with(&format!("[{}] ", key.name)));
                assert!(known, "{label} is cut or unknown: {line}");
            }
        }
    }
}

/// What can be done now, and not later or elsewhere, is offered at every size.
#[test]
fn what_can_be_done_now_stays_in_the_key_line() {
    let joined = |overboard: &[u32]| {
        let mut stage = scenes::stage("quiet");
        stage.press(Action::MarkOverboard);
        stage.pass(30);
        for mmsi in overboard {
            stage.overboard(*mmsi, 0);
            stage.pass(40);
        }
        stage
    };
    for (stage, keys) in [
        (joined(&[scenes::MATE]), "a m d"),
        (joined(&[scenes::MATE, scenes::COOK]), "a m tab"),
        (scenes::stage("unlisted"), "e v p"),
        (scenes::stage("casualty"), "a m p"),
        (scenes::stage("three"), "a m tab p"),
        (scenes::stage("replay_held"), "space right"),
    ] {
        for size in [(60, 20), (80, 24), (120, 40)] {
            let line = key_line(&stage, size);
            for key in keys.split(' ') {
                assert!(line.contains(&format!("[{key}]")), "{size:?}: no {key} in {line}");
            }
        }
    }
}

/// A test is judged once; the next one of the same beacon is another, of which the verdict says
/// nothing.
#[test]
fn a_verdict_is_that_of_one_test() {
    let mut stage = scenes::stage("test_written");
    assert!(shown(&stage, (80, 24)).contains("entry 113"));
    assert!(!key_line(&stage, (80, 24)).contains("[v]"));
    stage.press(Action::NextCasualty);
    assert!(key_line(&stage, (80, 24)).contains("[v]"), "the other has not been judged");
    // Tested again at once.
    stage.drowned();
    stage.pass(9);
    stage.tested(scenes::SKIPPER, Some("MOB TEST"), 15);
    stage.pass(6);
    let text = shown(&stage, (80, 24));
    assert!(text.contains("TEST of Skipper: 3 of 8 heard"), "{text}");
    assert!(text.contains("Skipper 972") && !text.contains("entry 113"), "{text}");
    assert!(key_line(&stage, (80, 24)).contains("[v]"));
}

/// After a restart it is known that a test was heard, and nothing more: that was shown as 0 of 8.
#[test]
fn a_test_from_before_a_restart_is_not_counted_as_none_heard() {
    let stage = scenes::stage("test");
    let mut picture = stage.picture();
    picture.beacons.iter_mut().for_each(|it| it.receptions.clear());
    for size in [(60, 20), (80, 24), (120, 40)] {
        let text = frames::text(&frames::frame(&stage.screen, &picture, size));
        assert!(text.contains("TEST of Skipper: heard before this watch began"), "{text}");
        assert!(!text.contains("of 8") && !text.contains("of 4"), "{text}");
        assert!(text.contains("test again") && !text.contains("[v]"), "{text}");
    }
}

/// Whoever is declared safe while the beacon goes on stays on the screen, whatever has the headline.
#[test]
fn who_is_declared_safe_stays_on_the_screen() {
    let declared = || {
        let mut stage = scenes::stage("acknowledged");
        stage.press(Action::Resolve);
        stage.press(Action::Confirm);
        stage
    };
    let mut another = declared();
    another.overboard(scenes::COOK, 0);
    another.pass(20);
    let mut called = declared();
    called.line("ais", &support::sealed("CDDSC,12,2010000000,12,06,00,1574201034,0155,,,S,E"));
    let mut tested = declared();
    tested.tested(scenes::SKIPPER, Some("MOB TEST"), 15);
    tested.pass(15);
    let mut deaf = declared();
    deaf.ais = false;
    deaf.pass(70);
    for (what, stage) in [
        ("alone", declared()),
        ("another casualty", another),
        ("a call", called),
        ("a test", tested),
        ("no AIS", deaf),
    ] {
        for size in [(60, 20), (80, 24), (120, 40)] {
            let rows = frames::rows(&frames::frame(&stage.screen, &stage.picture(), size));
            // Where there is a plot beside it, the words stand left of that.
            let left: Vec<&str> = rows.iter().map(|row| row.split('│').next().unwrap()).collect();
            let text = left.join(" ").split_whitespace().collect::<Vec<_>>().join(" ");
            let said = "MATE declared safe; the beacon is still ACTIVE 0.";
            assert!(text.contains(said), "{what} {size:?}:\n{}", rows.join("\n"));
        }
    }
}

/// After a look at a test that is over, the one that begins was not shown.
#[test]
fn a_test_that_begins_comes_into_view_from_one_that_is_over() {
    let mut stage = scenes::stage("test_written");
    let head = |stage: &Stage| shown(stage, (80, 24)).lines().next().unwrap()[..30].to_owned();
    assert!(head(&stage).contains("Skipper"), "{}", head(&stage));
    stage.press(Action::NextCasualty);
    assert!(head(&stage).contains("Mate"), "{}", head(&stage));
    stage.pass(1);
    assert!(head(&stage).contains("Mate"), "nothing has begun: {}", head(&stage));
    stage.tested(scenes::COOK, Some("MOB TEST"), 15);
    stage.pass(14);
    assert!(head(&stage).contains("Cook"), "{}", head(&stage));
    // One that is still coming in is looked at in peace.
    stage.tested(scenes::MATE, Some("MOB TEST"), 15);
    stage.pass(14);
    stage.press(Action::NextCasualty);
    let chosen = head(&stage);
    stage.pass(2);
    assert_eq!(head(&stage), chosen);
    // Somebody in danger comes into view from any of them.
    stage.overboard(scenes::STRANGER, 0);
    stage.pass(20);
    assert!(head(&stage).contains("972000091"), "{}", head(&stage));
}

/// One message that is not of the drill, and the drill is none any more.
#[test]
fn a_drill_that_becomes_real_is_no_drill() {
    let mut stage = scenes::stage("drill");
    let head = |stage: &scenes::Stage| {
        let text = frames::text(&frames::frame(&stage.screen, &stage.picture(), (80, 24)));
        text.lines().next().unwrap_or_default().to_owned()
    };
    // It surprises until somebody has acknowledged it.
    assert!(!head(&stage).contains("DRILL"));
    stage.press(Action::Acknowledge);
    assert!(head(&stage).contains("DRILL"));
    stage.drill = false;
    stage.pass(70);
    let now = head(&stage);
    assert!(now.contains("MATE OVERBOARD") && !now.contains("DRILL"), "{now}");
}

/// What flashes is dark for a moment, and says the same.
#[test]
fn what_flashes_keeps_its_words() {
    for scene in SCENES {
        let mut stage = (scene.stage)();
        let picture = stage.picture();
        let lit = frames::frame(&stage.screen, &picture, (80, 24));
        stage.screen.lit = false;
        let dark = frames::frame(&stage.screen, &picture, (80, 24));
        assert_eq!(frames::text(&lit), frames::text(&dark), "{}", scene.name);
        assert_eq!(lit.content[80..], dark.content[80..], "{}: one thing flashes", scene.name);
        let flashes = picture.alerts.iter().any(|alert| {
            alert.state == State::ActiveUnacknowledged && alert.priority > Priority::Caution
        });
        assert_eq!(lit != dark, flashes, "{}", scene.name);
    }
}

/// By a test nobody is in danger: nobody is asked to be safe, and a word too many ends nothing.
#[test]
fn a_test_is_nobody_to_be_declared_safe() {
    let mut stage = scenes::stage("test");
    let text = |stage: &scenes::Stage| {
        frames::text(&frames::frame(&stage.screen, &stage.picture(), (80, 24)))
    };
    assert!(!text(&stage).contains("[o]"), "{}", text(&stage));
    stage.press(Action::Resolve);
    assert!(text(&stage).contains("a test or a text ends by itself"), "{}", text(&stage));
    assert!(!text(&stage).contains("aboard and safe"), "{}", text(&stage));
    assert_eq!(stage.press(Action::Confirm), None);
    // One that goes on for too long is an alarm, and somebody to be asked about.
    let mut stage = scenes::stage("test_too_long");
    stage.press(Action::Resolve);
    assert!(text(&stage).contains("aboard and safe"), "{}", text(&stage));
}

/// A deaf watch that somebody took note of is still deaf, and cannot be talked out of it.
#[test]
fn deafness_is_not_over_by_a_key() {
    let mut stage = scenes::stage("deaf");
    for action in [Action::Resolve, Action::Confirm, Action::Acknowledge, Action::Resolve] {
        stage.press(action);
        stage.press(Action::Confirm);
    }
    let text = frames::text(&frames::frame(&stage.screen, &stage.picture(), (80, 24)));
    assert!(text.contains("NO AIS"), "{text}");
    assert!(text.contains("acknowledged"), "{text}");
}

/// A point is set by one key, a position by typing; in a replay neither is.
#[test]
fn a_point_and_a_position_are_set_by_hand() {
    let mut stage = scenes::stage("quiet");
    let request = stage.press(Action::MarkOverboard);
    assert_eq!(request, Some(Request::Command(Command::MarkOverboard)));
    let alerts = stage.picture().alerts;
    assert!(alerts.iter().any(|alert| alert.cause == Cause::OverboardMarked));
    assert!(key_line(&stage, (80, 24)).contains("[a] acknowledge"));

    let mut stage = Stage::new();
    stage.gnss = false;
    stage.pass(5);
    assert_eq!(stage.press(Action::PlaceShip), None);
    for c in "57 42.07N 010 35.8x".chars() {
        stage.press(Action::Typed(c));
    }
    stage.press(Action::Erase);
    for c in "9E".chars() {
        stage.press(Action::Typed(c));
    }
    let Some(Request::Command(Command::PlaceShip(position))) = stage.press(Action::Enter) else {
        panic!("not taken")
    };
    assert_eq!(position.to_string(), "57°42.07'N 010°35.89'E");
    assert_eq!(stage.picture().own.position, Some(position));
    // Esc enters nothing, and an alarm takes the keys.
    stage.press(Action::PlaceShip);
    assert!(stage.screen.is_typing());
    stage.press(Action::Leave);
    assert!(!stage.screen.is_typing());
    stage.press(Action::PlaceShip);
    stage.overboard(scenes::MATE, 0);
    stage.pass(15);
    assert!(!stage.screen.is_typing());

    stage.screen.replay = scenes::stage("replay_held").screen.replay;
    assert_eq!(stage.press(Action::MarkOverboard), None);
    stage.press(Action::PlaceShip);
    assert!(!stage.screen.is_typing());
}

/// The route of a search is asked for by one key, while there is a search.
#[test]
fn the_route_of_a_search_is_asked_for_by_a_key() {
    let mut stage = scenes::stage("casualty");
    assert_eq!(stage.press(Action::Export), None, "a live beacon is not searched for");
    let mut stage = scenes::stage("searched");
    let Some(Request::Export(id)) = stage.press(Action::Export) else {
        panic!("nothing asked for")
    };
    assert_eq!(stage.picture().beacons[0].id, id);
}

/// The key names what it mutes; of the muster it says that it does not, and it hears again what was
/// muted.
#[test]
fn a_stranger_and_its_input_are_muted_by_a_key_and_the_muster_is_not() {
    let mut stage = scenes::stage("mute_asked");
    assert!(shown(&stage, (60, 20)).contains("Mute 972000091?"));
    assert_eq!(stage.press(Action::Mute), None);
    assert!(shown(&stage, (60, 20)).contains("Mute strangers of ais?"));
    assert_eq!(stage.press(Action::Mute), None, "after the last question there is none");
    assert!(key_line(&stage, (80, 24)).contains("[a] acknowledge"));
    stage.press(Action::Mute);
    assert_eq!(stage.press(Action::Other), None);
    assert!(stage.picture().muted.is_empty());
    stage.press(Action::Mute);
    stage.press(Action::Confirm);
    assert_eq!(stage.picture().muted.len(), 1);
    for size in [(40, 12), (60, 20), (80, 24), (120, 40)] {
        let text = frames::text(&frames::frame(&stage.screen, &stage.picture(), size));
        assert!(text.contains("muted: 1 identity, [z]"), "{text}");
    }
    // It goes on and is silent; then it is heard again and alarms at once.
    stage.pass(70);
    assert!(stage.picture().alerts.is_empty());
    stage.press(Action::Mute);
    assert!(shown(&stage, (60, 20)).contains("Hear all that is muted?"));
    assert_eq!(stage.press(Action::Confirm), Some(Request::Command(Command::Unmute)));
    assert_eq!(stage.picture().alerts[0].cause, Cause::BeaconActive);

    let mut stage = scenes::stage("casualty");
    let before = stage.picture().alerts.len();
    stage.press(Action::Mute);
    assert!(shown(&stage, (60, 20)).contains("A beacon of the muster is never muted."));
    assert_eq!(stage.press(Action::Confirm), None);
    // Its input may be: the muster alarms through it as ever.
    stage.press(Action::Mute);
    stage.press(Action::Mute);
    assert!(matches!(stage.press(Action::Confirm), Some(Request::Command(Command::Mute(_)))));
    assert_eq!(stage.picture().alerts.len(), before);
}

/// What is asked hides neither the headline, nor the numbers, nor the keys of an emergency.
#[test]
fn a_question_hides_no_key_and_no_number() {
    let questions = [
        ("over_asked", "Is Mate aboard"),
        ("quitting", "To end the watch type: end"),
        ("placing", "> 57,42"),
        ("mute_asked", "Mute 972000091?"),
    ];
    for (name, asked) in questions {
        let stage = scenes::stage(name);
        let mut before = scenes::stage(name);
        before.press(match name {
            "over_asked" | "mute_asked" => Action::Other,
            _ => Action::Leave,
        });
        for size in [(60, 20), (80, 24), (120, 40)] {
            let with = frames::rows(&frames::frame(&stage.screen, &stage.picture(), size));
            let without = frames::rows(&frames::frame(&before.screen, &before.picture(), size));
            assert!(with.join("\n").contains(asked), "{name} {size:?}");
            assert_eq!(with[..8], without[..8], "{name} {size:?}");
            assert_eq!(with.last(), without.last(), "{name} {size:?}");
        }
    }
}

/// The key that answers a question does nothing else, whichever it is.
#[test]
fn the_key_that_answers_is_swallowed() {
    let mut stage = scenes::stage("casualty");
    for action in [Action::Acknowledge, Action::Silence, Action::Quit, Action::Voice, Action::Help]
    {
        stage.press(Action::Resolve);
        let before = shown(&stage, (80, 24));
        assert!(before.contains("Is Mate aboard and safe?"), "{before}");
        assert_eq!(stage.press(action), None, "{action:?}");
        let after = shown(&stage, (80, 24));
        assert!(!after.contains("aboard and safe?") && after.contains("UNACKN"), "{after}");
        assert!(!after.contains("End the watch") && !after.contains("MAYDAY"), "{after}");
    }
    // The watch alarm: no key does what it does else, not even the one that ends the watch.
    for key in KEYS {
        let mut stage = scenes::stage("asked");
        assert_eq!(stage.press(key.action), Some(Request::Present), "{}", key.name);
        stage.command(Command::Present);
        let after = shown(&stage, (80, 24));
        assert!(!after.contains("awake?") && !after.contains("End the watch"), "{after}");
        assert!(after.contains("[h] history"), "{after}");
    }
}

/// Back is esc, and q on a page; whoever presses q twice is still on watch.
#[test]
fn a_double_press_never_ends_the_watch() {
    for name in ["quiet", "deaf", "casualty", "acknowledged", "three", "distress", "replay_held"] {
        for (first, second) in
            [(Action::Quit, Action::Quit), (Action::End, Action::End), (Action::Quit, Action::End)]
        {
            for page in [None, Some(Action::History), Some(Action::Help), Some(Action::Voice)] {
                let mut stage = scenes::stage(name);
                page.map(|page| stage.press(page));
                for action in [first, second, second] {
                    assert_eq!(stage.press(action), None, "{name} {page:?} {action:?}");
                }
            }
        }
        let mut stage = scenes::stage(name);
        for action in [Action::Leave, Action::Leave, Action::Confirm] {
            assert_eq!(stage.press(action), None, "{name}: esc ends nothing");
        }
    }
    for name in ["quiet", "deaf", "replay_held"] {
        let mut stage = scenes::stage(name);
        stage.press(Action::Quit);
        assert_eq!(stage.press(Action::Confirm), Some(Request::Quit), "{name}");
    }
}

/// While somebody is in danger the question names them, and wants a word.
#[test]
fn a_watch_with_a_person_in_danger_is_ended_by_a_word() {
    let mut stage = scenes::stage("three");
    stage.press(Action::End);
    let asked = shown(&stage, (80, 24));
    for part in ["COOK is overboard.", "MATE is overboard.", "To end the watch type: end"] {
        assert!(asked.contains(part), "no {part:?} in\n{asked}");
    }
    let typed = |stage: &mut Stage, word: &str| {
        for c in word.chars() {
            stage.press(Action::Typed(c));
        }
        stage.press(Action::Enter)
    };
    assert_eq!(typed(&mut stage, "q"), None);
    assert!(shown(&stage, (80, 24)).contains("the word is end"), "{}", shown(&stage, (80, 24)));
    stage.press(Action::Erase);
    assert_eq!(typed(&mut stage, "END"), Some(Request::Quit));
    // Another alarm: the word was not meant for it.
    let mut stage = scenes::stage("acknowledged");
    stage.press(Action::Quit);
    for c in "end".chars() {
        stage.press(Action::Typed(c));
    }
    stage.overboard_unseen(scenes::COOK, 30);
    assert_eq!(stage.press(Action::Enter), None);
}

/// Nobody is asked whether they are awake while somebody is overboard.
#[test]
fn the_watch_alarm_rests_in_an_emergency() {
    let mut stage = scenes::stage("asked");
    assert!(stage.picture().asked.is_some());
    stage.overboard(scenes::MATE, 0);
    stage.pass(20);
    assert!(stage.picture().asked.is_none());
    stage.pass(3 * 3600);
    let picture = stage.picture();
    assert!(picture.asked.is_none());
    assert!(picture.alerts.iter().all(|it| it.cause != Cause::WatchkeeperSilent));
}

/// Who reads aloud reads one text to its end: it changes when they say so.
#[test]
fn what_is_read_aloud_stands_still_until_it_is_renewed() {
    let mut stage = scenes::stage("acknowledged");
    stage.press(Action::Voice);
    let spoken = |stage: &Stage| {
        let rows = frames::rows(&frames::frame(&stage.screen, &stage.picture(), (80, 40)));
        rows[4..39].join("\n")
    };
    let before = spoken(&stage);
    stage.pass(130);
    assert_eq!(spoken(&stage), before);
    assert!(shown(&stage, (80, 40)).contains("as of 3 min ago, [r] renew"));
    stage.press(Action::Renew);
    assert_ne!(spoken(&stage), before);
    assert!(shown(&stage, (80, 40)).contains("as of 0 s ago, [r] renew"));
}

/// What next stands there though an alert waits.
#[test]
fn what_next_is_there_beside_what_waits() {
    let text = shown(&scenes::stage("casualty"), (80, 24));
    assert!(text.contains("turn to starboard onto") && text.contains("acknowledge: a"), "{text}");
}

/// A beacon that is taken for a point set by hand: the screen says so and how to part them, asks, and
/// then both are in danger.
#[test]
fn a_point_and_its_beacon_are_parted_by_a_key() {
    let mut stage = scenes::stage("joined");
    let picture = stage.picture();
    stage.screen.look(&picture);
    for size in [(80, 24), (60, 20), (120, 40)] {
        let text = shown(&stage, size);
        assert!(text.contains("Mate taken for the one marked 02:12:00 "), "{size:?}:\n{text}");
        assert!(text.contains("two people: d"), "{size:?}:\n{text}");
        assert!(key_line(&stage, size).contains("[d] two people"), "{text}");
    }
    stage.press(Action::Resolve);
    let asked = shown(&stage, (80, 24));
    assert!(asked.contains("The point of") && asked.contains("ends with it."), "{asked}");
    stage.press(Action::Other);
    // Only on a yes.
    stage.press(Action::Part);
    let asked = shown(&stage, (80, 24));
    assert!(asked.contains("Are Mate and the one marked by hand at 02:"), "{asked}");
    assert_eq!(stage.press(Action::Other), None);
    stage.press(Action::Part);
    let part = Command::Part(Mmsi::new(scenes::MATE).unwrap());
    assert_eq!(stage.press(Action::Confirm), Some(Request::Command(part)));
    let casualties = stage.picture().beacons.iter().filter(|it| it.casualty).count();
    assert_eq!(casualties, 2);
    let text = shown(&stage, (80, 24));
    assert!(text.contains("UNACKNOWLEDGED") && !text.contains("two people"), "{text}");
    assert!(!text.contains("taken for the one"), "{text}");
    // There is nothing to part any more, nor in another scene.
    for name in ["casualty", "marked", "quiet"] {
        let mut stage = scenes::stage(name);
        stage.press(Action::Part);
        assert_eq!(stage.press(Action::Confirm), None, "{name}");
    }
}

/// A beacon on no list, heard as TEST, is entered in the muster: typed, shown, written on a yes; what is
/// refused loses nothing of what was typed.
#[test]
fn a_new_beacon_is_entered_in_the_muster() {
    let mut stage = scenes::stage("unlisted");
    for size in [(80, 24), (60, 20), (120, 40)] {
        assert!(shown(&stage, size).contains("[e] enter it in the muster"));
        assert!(key_line(&stage, size).contains("[e] enter"), "{}", key_line(&stage, size));
    }
    stage.press(Action::Enrol);
    assert!(shown(&stage, (60, 20)).contains("Enter beacon 972000091 in the muster"));
    let Some(Request::Enrol(new)) = stage.fill_in(&["Guest", "", "05/2029"]) else { panic!() };
    assert_eq!((new.mmsi.value(), &*new.holder, &*new.jacket), (scenes::STRANGER, "Guest", ""));
    // While the file is looked at nothing else is done but what cannot wait: a disk may hang. Going
    // back loses nothing.
    for action in [Action::Quit, Action::History, Action::Confirm] {
        assert_eq!(stage.press(action), None);
        assert!(shown(&stage, (80, 24)).contains("Looking at the configuration file"));
    }
    let overboard = stage.screen.clone().act(Action::MarkOverboard, &stage.picture());
    assert_eq!(overboard, Some(Request::Command(Command::MarkOverboard)));
    stage.press(Action::Leave);
    assert!(shown(&stage, (80, 24)).contains("> Guest_"), "{}", shown(&stage, (80, 24)));
    let again = stage.fill_in(&["", "", ""]);
    assert_eq!(again, Some(Request::Enrol(new.clone())));
    // Refused, at the field that is wrong.
    stage.seen(new.clone(), Enrolled::Refused(2, "the file is read-only".to_owned()));
    let text = shown(&stage, (80, 24));
    assert!(text.contains("> 05/2029_") && text.contains("the file is read-only"), "{text}");
    assert_eq!(stage.fill_in(&[""]), Some(Request::Enrol(new.clone())));
    // What another screen asked for is not this one's.
    let other = NewBeacon { holder: "Cook".to_owned(), ..new.clone() };
    stage.seen(other, Enrolled::Proposed(vec!["holder = \"Cook\"".to_owned()]));
    assert!(!shown(&stage, (80, 24)).contains("To be added"));
    for answer in [Action::Other, Action::Confirm] {
        let lines = vec!["holder = \"Guest\"".to_owned()];
        stage.seen(new.clone(), Enrolled::Proposed(lines));
        let text = shown(&stage, (60, 20));
        assert!(text.contains("To be added to overside.toml:"), "{text}");
        assert!(text.contains("holder = \"Guest\"") && text.contains("[y] write it"), "{text}");
        let request = stage.press(answer);
        if answer == Action::Other {
            assert_eq!(request, None);
            stage.seen(new.clone(), Enrolled::Waits);
            assert_eq!(stage.fill_in(&["", "", ""]), Some(Request::Enrol(new.clone())));
        } else {
            assert_eq!(request, Some(Request::Enter(new.clone())));
        }
    }
    let text = "Entered in the muster: 972000091, Guest".to_owned();
    stage.seen(new.clone(), Enrolled::Entered(text.clone()));
    let picture = stage.picture();
    stage.screen.look(&picture);
    // It is told once, whatever else of the parts changes meanwhile.
    let enrolled = Some((new, Enrolled::Entered(text.clone())));
    let mut parts = stage.screen.parts.clone().unwrap();
    (parts.enrolled, parts.logbook) = (enrolled, "entry 113".to_owned());
    stage.screen.set_parts(Some(&parts));
    stage.screen.look(&picture);
    assert_eq!(shown(&stage, (200, 50)).matches(&text).count(), 1);
    assert!(shown(&stage, (80, 24)).contains(&text), "{}", shown(&stage, (80, 24)));
    assert_eq!(stage.press(Action::MarkOverboard), Some(Request::Command(Command::MarkOverboard)));
}

/// A boat on which nothing sounds could test no beacon: the alarm that says so, acknowledged, kept the
/// screen.
#[test]
fn what_is_known_to_be_broken_hides_no_test() {
    let mut stage = scenes::stage("unlisted");
    stage.every_sounder_fails();
    let text = shown(&stage, (80, 24));
    assert!(text.starts_with(" No audible alarm works") && !text.contains("[e] enter"), "{text}");
    stage.press(Action::Acknowledge);
    let text = shown(&stage, (80, 24));
    assert!(text.contains("[e] enter") && text.contains("No audible alarm works"), "{text}");
    // Whoever calls for help comes before it as before.
    let call = support::sealed("CDDSC,12,2000001040,12,05,00,1500100501,1950,,,S,");
    stage.line("ais", &call);
    for _ in 0..2 {
        let text = shown(&stage, (80, 24));
        assert!(
            text.starts_with(" DSC distress, sinking") && !text.contains("[e] enter"),
            "{text}"
        );
        stage.press(Action::Acknowledge);
    }
}

/// A new alarm closes the form, and what was typed is there afterwards; the beacon that went ACTIVE
/// meanwhile is entered nowhere.
#[test]
fn an_alarm_comes_before_the_muster() {
    let mut stage = scenes::stage("unlisted");
    stage.press(Action::Enrol);
    stage.fill_in(&["Guest"]);
    stage.overboard(scenes::MATE, 0);
    stage.pass(20);
    let text = shown(&stage, (80, 24));
    assert!(text.contains("MATE OVERBOARD") && !text.contains("Enter beacon"), "{text}");
    stage.press(Action::Enrol);
    assert!(!shown(&stage, (80, 24)).contains("Enter beacon"));
    let mut stage = scenes::stage("enrol_asked");
    stage.overboard_unseen(scenes::STRANGER, 20);
    assert_eq!(stage.press(Action::Confirm), None);
}

/// Nothing but a sure TEST of a beacon on no list is offered; a rehearsal, a replay and a watch without
/// a file say why not.
#[test]
fn only_what_was_heard_as_test_may_be_entered() {
    for name in ["test", "test_presumed", "test_too_long", "presumed_active", "three", "quiet"] {
        let mut stage = scenes::stage(name);
        stage.press(Action::Enrol);
        let text = shown(&stage, (80, 24));
        assert!(!text.contains("Enter beacon") && !text.contains("[e]"), "{name}\n{text}");
    }
    let refused = |mut stage: Stage, part: &str| {
        stage.press(Action::Enrol);
        let text = shown(&stage, (80, 24));
        assert!(text.contains(part) && !text.contains("Enter beacon"), "{part}\n{text}");
    };
    let mut stage = scenes::stage("unlisted");
    stage.screen.parts.as_mut().unwrap().muster_file = None;
    refused(stage, "without a configuration file");
    let mut stage = scenes::stage("unlisted");
    stage.screen.replay = scenes::stage("replay_held").screen.replay;
    refused(stage, "A replay enters nothing");
    let mut stage = Stage::new();
    stage.drill = true;
    stage.pass(20);
    stage.tested(scenes::STRANGER, Some("MOB TEST"), 15);
    stage.pass(11);
    assert!(!shown(&stage, (80, 24)).contains("[e]"), "{}", shown(&stage, (80, 24)));
    refused(stage, "a rehearsal: it enters nothing");
}

/// A drill that somebody has acknowledged is one to its end: also when none of its alerts is open any
/// more. The next one surprises again.
#[test]
fn a_drill_that_is_known_is_called_so_to_its_end() {
    let headline = |stage: &Stage| shown(stage, (80, 24)).lines().next().unwrap().to_owned();
    let mut stage = scenes::stage("drill_known");
    assert!(headline(&stage).contains("DRILL"), "{}", headline(&stage));
    while !stage.picture().alerts.is_empty() {
        let id = stage.picture().alerts[0].id;
        stage.command(Command::Resolve(id));
    }
    stage.pass(70);
    assert!(headline(&stage).contains("DRILL"), "{}", headline(&stage));
    // It is over, and another begins.
    stage.drill = false;
    stage.pass(20 * 60);
    assert!(!headline(&stage).contains("DRILL"), "{}", headline(&stage));
}

/// A point too many is an emergency all the same, and says what to do.
#[test]
fn a_point_too_many_is_told() {
    let mut stage = scenes::stage("quiet");
    for _ in 0..17 {
        stage.press(Action::MarkOverboard);
    }
    let alerts = stage.picture().alerts;
    let told = alerts.iter().filter(|it| it.text.starts_with("Point not set: 16 are open"));
    assert_eq!(told.map(|it| it.priority).collect::<Vec<_>>(), [Priority::EmergencyAlarm]);
}

/// A pass is told for a moment: it stays before the eye, and so do the turns of a search.
#[test]
fn a_pass_and_a_turn_stay_before_the_eye() {
    let mut stage = scenes::stage("searched");
    let datum = "datum of Mate 57°";
    assert!(shown(&stage, (80, 24)).contains(datum), "{}", shown(&stage, (80, 24)));
    let at = stage.picture().now.utc;
    let mmsi = Mmsi::new(scenes::MATE).unwrap();
    let range_nm = overside::units::NauticalMiles(0.02);
    stage.screen.tell(&Event { at, body: EventBody::Passed { mmsi, range_nm } });
    stage.pass(65);
    let text = shown(&stage, (60, 20));
    assert!(text.contains("passed Mate at 37 m"), "{text}");
    stage.pass(60);
    assert!(!shown(&stage, (60, 20)).contains("passed Mate"), "{}", shown(&stage, (60, 20)));
    let mut picture = stage.picture();
    stage.screen.look(&picture);
    let search = picture.beacons.iter_mut().find_map(|beacon| beacon.search.as_mut()).unwrap();
    search.guidance.as_mut().unwrap().as_mut().unwrap().leg.place.leg = 2;
    stage.screen.look(&picture);
    let text = frames::text(&frames::frame(&stage.screen, &picture, (80, 24)));
    assert!(text.contains(" leg 2 of") && text.contains("(Mate)"), "{text}");
}

/// People come before things in the memory, and what is open before what has ended.
#[test]
fn people_come_before_things_in_the_memory() {
    let stage = scenes::stage("own_lost");
    let rows = frames::rows(&frames::frame(&stage.screen, &stage.picture(), (80, 24)));
    let row = |what: &str| rows.iter().rposition(|row| row.contains(what)).unwrap();
    assert!(row("EMERGENCY") < row("WARNING   Own position lost"), "{rows:#?}");
}

/// A call of somebody overboard on another ship has no row but that of its alert: three calls of less
/// that came after it, or three tests, took that away.
#[test]
fn an_emergency_is_pushed_out_of_the_memory_by_nothing_less() {
    let mut stage = scenes::stage("quiet");
    let call = |nature: &str, ship: u32| {
        support::sealed(&format!("$CDDSC,12,{ship}0,12,{nature},00,1500100501,1950,,,S,"))
    };
    let has_room = |stage: &Stage| {
        for size in [(60, 20), (80, 24), (120, 40)] {
            let text = shown(stage, size);
            assert!(text.contains("EMERGENCY DSC distress, man overb"), "{size:?}:\n{text}");
        }
    };
    stage.line("ais", &call("10", 200_000_103));
    for ship in 200_000_104..200_000_110 {
        stage.line("ais", &call("05", ship));
    }
    has_room(&stage);
    while stage.picture().alerts.iter().any(|it| is_unacknowledged(it.state)) {
        stage.press(Action::Acknowledge);
    }
    for beacon in 972_000_041..972_000_047 {
        stage.line("ais", &support::vdm(&support::text(beacon, "MOB TEST"), 'A'));
    }
    has_room(&stage);
}

/// A console without their letters called all of a crew ????: nobody could tell who is who.
#[test]
fn who_cannot_be_spelt_is_called_by_the_beacon() {
    let named = |mmsi: u32, who: &str| (Mmsi::new(mmsi).unwrap(), Some(who.to_owned()));
    let muster = [named(scenes::MATE, "Саша"), named(scenes::COOK, "Søren")];
    let mut stage = Stage::with_muster(muster.into());
    stage.overboard(scenes::MATE, 0);
    stage.pass(40);
    assert!(shown(&stage, (80, 24)).starts_with(" САША OVERBOARD"));
    stage.screen.theme.glyphs = Glyphs::Ascii;
    let text = shown(&stage, (80, 24));
    assert!(text.starts_with(" PERSON 972000017 OVERBOARD"), "{text}");
    stage.overboard(scenes::COOK, 0);
    stage.pass(40);
    let text = shown(&stage, (80, 24));
    assert!(text.contains("S?ren") || text.contains("S?REN"), "{text}");
}

/// Two who went over one after the other, the second taken for the point set by hand.
fn two_and_a_point() -> Stage {
    let mut stage = scenes::stage("quiet");
    stage.overboard(scenes::COOK, 0);
    stage.pass(40);
    stage.press(Action::Acknowledge);
    stage.press(Action::MarkOverboard);
    stage.pass(30);
    stage.overboard(scenes::MATE, 0);
    stage.pass(40);
    stage.press(Action::Acknowledge);
    stage
}

/// A point that was parted from a beacon is an emergency again, and did not come into view where
/// somebody looked at another person or read.
#[test]
fn what_is_raised_again_comes_into_view() {
    for page in [Action::NextCasualty, Action::Voice, Action::History] {
        let mut stage = two_and_a_point();
        stage.press(page);
        stage.command(Command::Part(Mmsi::new(scenes::MATE).unwrap()));
        let text = shown(&stage, (80, 24));
        assert!(text.starts_with(" PERSON OVERBOARD ("), "{page:?}:\n{text}");
        // It is what the small screen has room for, too.
        let rows = frames::rows(&frames::frame(&stage.screen, &stage.picture(), (60, 20)));
        let waits = rows[17].contains("marked") && rows[17].contains("unackn.");
        assert!(waits, "{rows:#?}");
    }
}

/// On a small terminal the others in danger had no row beside what waits to be acknowledged.
#[test]
fn the_others_in_danger_have_a_row_at_every_size() {
    let mut stage = two_and_a_point();
    for acknowledged in [true, false] {
        if !acknowledged {
            stage.overboard(scenes::SKIPPER, 0);
            stage.pass(40);
        }
        for size in [(60, 20), (80, 24), (120, 40)] {
            let text = shown(&stage, size);
            assert!(text.contains("⊗ Cook 0."), "{size:?}:\n{text}");
        }
    }
}

/// Of two, the beacon of one is switched off: nothing said so but a row that had ended.
#[test]
fn who_was_switched_off_is_said_beside_the_other() {
    let mut stage = scenes::stage("acknowledged");
    stage.overboard(scenes::COOK, 0);
    stage.pass(40);
    stage.press(Action::Acknowledge);
    stage.line("ais", &support::vdm(&support::text(scenes::COOK, "MOB OFF"), 'A'));
    for size in [(60, 20), (80, 24), (120, 40)] {
        let text = shown(&stage, size);
        assert!(text.contains("beacon of Cook switched OFF"), "{size:?}:\n{text}");
        assert!(text.starts_with(" MATE OVERBOARD"), "{size:?}:\n{text}");
    }
}

/// Of several in danger one is said to be safe, not everybody; the others are named.
#[test]
fn who_is_said_to_be_safe_is_named_and_who_is_not() {
    let mut stage = two_and_a_point();
    stage.command(Command::Part(Mmsi::new(scenes::MATE).unwrap()));
    stage.press(Action::Resolve);
    for size in [(60, 20), (80, 24), (120, 40)] {
        let text = shown(&stage, size).split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(text.contains("Is the one marked by hand at 02:12:40 aboard and safe?"), "{text}");
        assert!(text.contains("2 others stay in danger."), "{text}");
    }
    stage.press(Action::Other);
    let mut two = scenes::stage("acknowledged");
    two.overboard(scenes::STRANGER, 0);
    two.pass(40);
    two.press(Action::Resolve);
    let text = shown(&two, (80, 24)).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("Is the person with MOB 972000091 aboard and safe?"), "{text}");
    assert!(text.contains("Mate stays in danger."), "{text}");
}

/// How high the seas are is asked with three answers; any other key leaves it as it is.
#[test]
fn the_seas_are_named_by_one_of_three_keys() {
    let mut stage = scenes::stage("searched");
    for size in [(120, 40), (80, 24)] {
        assert!(shown(&stage, size).contains("seas under 1 m"), "{}", shown(&stage, size));
    }
    let before = sweep_width(&stage);
    for (number, seas) in [(1, Seas::Low), (2, Seas::Middle), (3, Seas::High)] {
        stage.press(Action::Seas);
        let text = shown(&stage, (80, 24));
        assert!(text.contains("1: under 1 m, 2: 1 to 1.5 m, 3: over 1.5 m"), "{text}");
        let request = stage.press(Action::Choice(number));
        assert_eq!(request, Some(Request::Command(Command::Seas(seas))));
    }
    assert!(sweep_width(&stage) < before);
    let text = shown(&stage, (120, 40));
    let width = format!("sweep width {}", sweep_width(&stage));
    assert!(text.contains(&width) && !text.contains("seas under 1 m"), "{text}");
    for other in [Action::Choice(4), Action::Confirm, Action::Quit, Action::Acknowledge] {
        stage.press(Action::Seas);
        assert_eq!(stage.press(other), None);
        assert!(!shown(&stage, (80, 24)).contains("How high"));
    }
    // Without anybody to search for, and in a replay, nothing is asked.
    for name in ["quiet", "replay_held"] {
        let mut stage = scenes::stage(name);
        stage.press(Action::Seas);
        assert_eq!(stage.press(Action::Choice(3)), None, "{name}");
    }
}

fn sweep_width(stage: &Stage) -> overside::units::NauticalMiles {
    stage.picture().beacons.iter().find_map(|it| it.search.as_ref()).unwrap().sweep_width
}

/// A note is typed, and says so where it would be lost.
#[test]
fn a_note_is_asked_for_where_there_is_a_logbook() {
    let mut stage = scenes::stage("quiet");
    stage.press(Action::Note);
    assert_eq!(stage.press(Action::Enter), None);
    assert!(shown(&stage, (60, 20)).contains("nothing is written yet"));
    for c in " reef ".chars() {
        stage.press(Action::Typed(c));
    }
    assert_eq!(stage.press(Action::Enter), Some(Request::Note("reef".to_owned())));
    stage.screen.parts.as_mut().unwrap().keeps_logbook = false;
    stage.press(Action::Note);
    assert!(shown(&stage, (60, 20)).contains("No logbook is kept"));
}

/// Who is hours away is of no use, and is counted.
#[test]
fn helpers_over_two_hours_away_are_counted() {
    let stage = scenes::stage("acknowledged");
    let mut picture = stage.picture();
    let casualty = picture.beacons.iter_mut().find(|beacon| beacon.casualty).unwrap();
    let count = casualty.helpers.len();
    assert!(count > 1);
    for helper in casualty.helpers.iter_mut().skip(1) {
        helper.time = Some(std::time::Duration::from_secs(9 * 3600));
    }
    let mut screen = stage.screen.clone();
    for page in [Action::Other, Action::Who] {
        screen.act(page, &picture);
        let text = frames::text(&frames::frame(&screen, &picture, (120, 40)));
        assert!(text.contains(&format!("{} more, over 2 h away", count - 1)), "{text}");
        assert!(!text.contains("219000003"), "{text}");
    }
}

/// A drift that is known is read aloud of a silent casualty, with the place that follows from it.
#[test]
fn of_a_silent_casualty_a_known_drift_is_said() {
    let mut stage = scenes::stage("searched");
    stage.press(Action::Voice);
    let text = shown(&stage, (120, 60));
    for part in ["LAST KNOWN,", "DRIFTING 0", "KNOTS", "ESTIMATED POSITION NOW 57 DEGREES"] {
        assert!(text.contains(part), "{part:?} is not in:\n{text}");
    }
}
