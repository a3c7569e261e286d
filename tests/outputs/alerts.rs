//! The alerts as a bridge is told them.

use overside::outputs::{AlertAct, AlertList, Asked};

use super::*;

#[test]
fn alerts_are_told_by_state_and_acknowledged_only_where_that_is_accepted() {
    let ((strict, to_strict), (open, to_open)) = (display(), display());
    let refuses = Talking::start(&output("bams", &to_strict, "\"alerts\""));
    let accepts = Talking::start(&(output("bams", &to_open, "\"alerts\"") + "accept = true\n"));
    // At once: nothing is open, and this program is alive.
    assert!(own(&open, "ALC").starts_with("U8ALC,01,01,"));
    let line = vdm(&position(972_000_017, 14, Some((54.5, 10.293)), 9), 'A');
    for watch in [&refuses, &accepts] {
        watch.send(&line);
    }
    let raised = own(&open, "ALF");
    let fields: Vec<&str> = raised.split(',').collect();
    assert_eq!(fields[1..3], ["2", "1"], "{raised}");
    assert_eq!(fields[5..10], ["B", "E", "V", "OVS", "10001"], "{raised}");
    assert_eq!(fields[11..], ["1", "0", "PERSON OVERBOARD"], "{raised}");
    let instance = fields[10].to_owned();
    assert!(own(&strict, "ALF").contains(",E,V,OVS,10001,"));
    let ask = |command: &str| sealed(&format!("CAACN,120000.00,OVS,10001,{instance},{command},C"));
    // Silenced, then acknowledged.
    accepts.send(&ask("S"));
    assert!(own(&open, "ALF").contains(",E,S,OVS,10001,"));
    accepts.send(&ask("A"));
    assert!(own(&open, "ALF").contains(",E,A,OVS,10001,"));
    accepts.event(|it| it["event"] == "alert" && it["state"] == "active_acknowledged");
    // Nobody here gives the responsibility away.
    accepts.send(&ask("O"));
    assert!(own(&open, "ARC").ends_with(&format!(",OVS,10001,{instance},O")));
    // Told again when it is asked for.
    accepts.send(&ask("Q"));
    assert!(own(&open, "ALF").contains(",E,A,OVS,10001,"));
    for command in ["A", "S"] {
        refuses.send(&ask(command));
        assert!(own(&strict, "ARC").ends_with(&format!(",OVS,10001,{instance},{command}")));
    }
    nothing_more(&strict);
    // An acknowledged emergency is still an emergency; OFF ends it.
    accepts.send(&vdm(&text(972_000_017, "MOB OFF"), 'B'));
    let until = Instant::now() + PATIENCE;
    while !own(&open, "ALF").contains(",E,N,OVS,10001,") {
        assert!(Instant::now() < until);
    }
    refuses.stop();
    accepts.stop();
}

/// A command for all instances of an identifier, or for every alert, silences those that sound; nobody
/// takes note of several at once.
#[test]
fn all_are_silenced_at_once_and_none_of_several_is_taken_note_of() {
    let mut scene = Scene::new();
    for (mmsi, channel) in [(972_000_017, 'A'), (972_000_018, 'B')] {
        scene.hear(&vdm(&position(mmsi, 14, Some((54.5, 10.3)), 9), channel));
    }
    let mut list = AlertList::default();
    let told = list.follow(scene.watch.alerts(), |_| true, scene.stamp());
    assert_eq!(told.len(), 2);
    let ask = |which: &str, accepted: bool| {
        let line = sealed(&format!("CAACN,120000.00,{which},C"));
        list.asked(line.as_bytes(), accepted, scene.stamp())
    };
    let both: Vec<_> = scene.watch.alerts().iter().map(|it| AlertAct::Silence(it.id)).collect();
    for which in ["OVS,10001,0,S", "OVS,10001,,S", ",0,0,S", ",0,,S"] {
        assert_eq!(ask(which, true), (Asked::Acts(both.clone()), None), "{which}");
        let (asked, answer) = ask(which, false);
        assert_eq!(asked, Asked::Refused, "{which}");
        assert!(answer.unwrap().contains("ARC,"), "{which}");
    }
    let [_, second] = scene.watch.alerts() else { panic!("two alerts") };
    let one = AlertAct::Acknowledge(second.id);
    assert_eq!(ask("OVS,10001,2,A", true), (Asked::Acts(vec![one]), None));
    for refused in ["OVS,10001,0,A", "OVS,10001,0,O", "OVS,10002,0,S"] {
        let (asked, answer) = ask(refused, true);
        assert_eq!(asked, Asked::Refused, "{refused}");
        assert!(body(answer.unwrap().trim_end()).ends_with(refused), "{refused}");
    }
    // What is for all that there are is not for us alone.
    for nothing in [",0,0,A", ",3044,0,S"] {
        assert_eq!(ask(nothing, true), (Asked::Nothing, None), "{nothing}");
    }
}

/// A text is told whole: what has a meaning of its own in a sentence is told by its number, and our
/// own decoder reads it back.
#[test]
fn a_text_is_read_back_as_it_was_and_a_rehearsed_one_says_so() {
    let mut scene = Scene::new();
    scene.hear(&format!(
        "{}{}",
        tag("t:DRILL"),
        vdm(&position(972_000_017, 14, Some((54.5, 10.3)), 9), 'A')
    ));
    let mut alerts = scene.watch.alerts().to_vec();
    alerts[0].text = "Jörg, 7 °C*".to_owned();
    let mut list = AlertList::default();
    let told = list.follow(&alerts, |_| true, scene.stamp());
    let second = told[0].1.lines().nth(1).unwrap().to_owned();
    body(&second);
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), &second).unwrap();
    let home = tempfile::tempdir().unwrap();
    let decode = ["decode", file.path().to_str().unwrap()];
    let read = overside(home.path(), &decode).output().unwrap().stdout;
    let read: Value = serde_json::from_slice(&read).unwrap();
    assert_eq!(read["alf"]["text"], "DRILL: Jörg, 7 °C*", "{second}");
}

/// However many alerts strangers raise, the crew's are told, none that is open is told as over, and
/// the list says how many there are, each sentence as long as it may be.
#[test]
fn a_flood_of_alerts_hides_none_of_the_crew() {
    let mut scene = Scene::new();
    let mut list = AlertList::default();
    let mut told = String::new();
    for number in 0..300_u32 {
        let channel = if number.is_multiple_of(2) { 'A' } else { 'B' };
        scene.hear(&vdm(&position(972_100_000 + number, 14, None, 60), channel));
        let ours = |it: &overside::watch::Alert| it.mmsi == Mmsi::new(972_000_017);
        for (_, text) in list.follow(scene.watch.alerts(), ours, scene.stamp()) {
            told += &text;
        }
    }
    scene.hear(&vdm(&position(972_000_017, 14, None, 60), 'A'));
    let ours = |it: &overside::watch::Alert| it.mmsi == Mmsi::new(972_000_017);
    let said = list.follow(scene.watch.alerts(), ours, scene.stamp());
    let said: String = said.into_iter().map(|it| it.1).collect();
    assert!(said.contains("Mate"), "{said}");
    told += &said;
    let [all, real] = list.cycle(scene.stamp());
    assert_eq!(all, real);
    let (mut entries, mut total) = (0, 0);
    for line in told.lines().chain(all.lines()) {
        let body = body(line);
        assert!(!body.contains(",B,E,N,"), "{body}");
        if let Some(fields) = body.strip_prefix("U8ALC,") {
            let fields: Vec<&str> = fields.split(',').collect();
            entries += fields[3].parse::<usize>().unwrap();
            assert_eq!(fields.len(), 4 + 4 * fields[3].parse::<usize>().unwrap());
            total = fields[0].parse().unwrap();
        }
    }
    let lists = all.lines().filter(|it| it.contains("ALC")).count();
    assert_eq!((entries, lists), (48, total));
    // Equipment takes no more of one list.
    assert!(total <= 16, "{total}");
}

/// What counts in the sentences wraps as the standard says: sequences from 9 and 99 to 0, revisions
/// from 99 to 1.
#[test]
fn counters_wrap_within_their_fields() {
    let mut scene = Scene::new();
    scene.hear(&vdm(&position(972_000_017, 14, None, 60), 'A'));
    let mut open = scene.watch.alerts().to_vec();
    let mut list = AlertList::default();
    let field = |line: &str, number: usize| {
        let value = body(line).split(',').nth(number).unwrap().to_owned();
        value.parse::<u32>().unwrap()
    };
    let (mut revisions, mut pairs, mut lists, mut beats) = (vec![], vec![], vec![], vec![]);
    for number in 0..250 {
        open.truncate(1);
        open[0].text = format!("text {number}");
        for (_, text) in list.follow(&open, |_| true, scene.stamp()) {
            let [first, second] = text.lines().collect::<Vec<_>>().try_into().unwrap();
            assert_eq!(field(first, 3), field(second, 3), "{text}");
            assert_eq!(field(first, 11), field(second, 11), "{text}");
            pairs.push(field(first, 3));
            revisions.push(field(first, 11));
        }
        let [all, _] = list.cycle(scene.stamp());
        for line in all.lines() {
            match &line[3..6] {
                "ALC" => lists.push(field(line, 3)),
                "HBT" => beats.push(field(line, 3)),
                other => panic!("{other}"),
            }
        }
    }
    let wraps = |values: &[u32], least: u32, most: u32| {
        let next = |it: u32| if it == most { least } else { it + 1 };
        assert!(values.len() == 250 && values.contains(&most) && values.contains(&least));
        assert!(values.is_sorted_by(|a, b| next(*a) == *b), "{values:?}");
    };
    wraps(&revisions, 1, 99);
    wraps(&beats, 0, 9);
    // One number for what belongs together, of either kind: each takes every other one here.
    assert!(pairs.iter().all(|it| *it <= 9) && lists.iter().all(|it| *it <= 99));
    assert!(lists.is_sorted_by(|a, b| (a + 2) % 100 == *b), "{lists:?}");
    assert!(pairs.is_sorted_by(|a, b| (a + 2) % 10 == *b), "{pairs:?}");
}
