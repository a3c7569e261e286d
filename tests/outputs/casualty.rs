//! Where the casualties are: targets, waypoints, notices, a way there, deltas of Signal K.

use super::*;

#[test]
fn a_casualty_is_a_target_a_waypoint_a_notice_and_a_way_until_it_is_over() {
    let (display, uri) = display();
    let more = "rate = 60\nmob = true\nsteer = true\n";
    let watch = Talking::start(&(output("plotter", &uri, "\"casualty\"") + more));
    watch.send(&sealed(OWN));
    // A test is no casualty.
    for (status, channel) in [(15, 'A'), (15, 'B')] {
        watch.send(&vdm(&position(972_000_018, status, Some((54.51, 10.25)), 5), channel));
    }
    watch.send(&vdm(&text(972_000_018, "MOB TEST"), 'A'));
    watch.event(|it| it["cause"] == "beacon_test");
    nothing_more(&display);
    // One without a place: a notice with null fields alone.
    watch.send(&vdm(&position(972_000_017, 14, None, 60), 'B'));
    let notice = own(&display, "MOB");
    assert!(notice.starts_with("U8MOB,00011,A,"), "{notice}");
    assert!(notice.ends_with(",,,,,,,,211000001,"), "{notice}");
    // 1.5 NM to the east.
    watch.send(&sealed(OWN));
    watch.send(&vdm(&position(972_000_017, 14, Some((54.5, 10.293)), 9), 'A'));
    let target = own(&display, "TLL");
    assert!(target.starts_with("U8TLL,99,5430.0000,N,01017.5800,E,Mate,"), "{target}");
    assert!(target.ends_with(",T,"), "{target}");
    watch.send(&sealed(OWN));
    let way = own(&display, "RMB");
    assert!(way.starts_with("U8RMB,A,0.00,L,,MOB99,5430.000,N,01017.580,E,1.5,09"), "{way}");
    assert!(way.ends_with(",V,A"), "{way}");
    // Once a second, with all that belongs to it in one datagram.
    let all = next(&display);
    let kinds: Vec<&str> = all.lines().map(|it| &it[3..6]).collect();
    assert_eq!(kinds, ["TLL", "WPL", "MOB", "RMB", "BOD"]);
    assert!(all.contains("$U8WPL,5430.0000,N,01017.5800,E,MOB99*"), "{all}");
    // Near by, somebody must take the helm.
    watch.send(&sealed("GPRMC,120010.00,A,5430.00000,N,01017.40000,E,5.0,90.0,140626,,,A"));
    let until = Instant::now() + PATIENCE;
    while !own(&display, "RMB").starts_with("U8RMB,V,") {
        assert!(Instant::now() < until);
    }
    // Over: said once, and nothing after it.
    watch.send(&vdm(&text(972_000_017, "MOB OFF"), 'B'));
    let until = Instant::now() + PATIENCE;
    while !own(&display, "TLL").ends_with(",Mate,,L,") {
        assert!(Instant::now() < until);
    }
    std::thread::sleep(Duration::from_millis(200));
    nothing_more(&display);
    watch.stop();
}

#[test]
fn signal_k_is_told_who_is_overboard_and_when_nobody_is_any_more() {
    let (display, uri) = display();
    let watch = Talking::start(&(output("server", &uri, "\"signalk\"") + "rate = 60\n"));
    watch.send(&vdm(&position(972_000_017, 14, Some((54.5, 10.293)), 9), 'A'));
    let deltas: Vec<Value> =
        next(&display).lines().map(|it| serde_json::from_str(it).unwrap()).collect();
    let value = &deltas[0]["updates"][0]["values"][0];
    assert_eq!(deltas[0]["context"], "vessels.urn:mrn:imo:mmsi:211000001");
    assert_eq!(value["path"], "notifications.mob");
    assert_eq!(value["value"]["state"], "emergency");
    assert_eq!(value["value"]["message"], "Person overboard: Mate");
    assert_eq!(deltas[1]["context"], "sar.urn:mrn:imo:mmsi:972000017");
    let place = &deltas[1]["updates"][0]["values"][0];
    assert_eq!(place["path"], "navigation.position");
    assert!((place["value"]["latitude"].as_f64().unwrap() - 54.5).abs() < 1e-5);
    watch.send(&vdm(&text(972_000_017, "MOB OFF"), 'B'));
    let until = Instant::now() + PATIENCE;
    while !next(&display).contains("\"normal\"") {
        assert!(Instant::now() < until);
    }
    nothing_more(&display);
    watch.stop();
}

/// Whoever was told of somebody real hears that this is over, though a rehearsal goes on.
#[test]
fn signal_k_is_told_that_a_real_one_is_over_while_another_is_rehearsed() {
    let (display, uri) = display();
    let watch = Talking::start(&(output("server", &uri, "\"signalk\"") + "rate = 60\n"));
    watch.send(&vdm(&position(972_000_017, 14, Some((54.5, 10.293)), 9), 'A'));
    let rehearsed = vdm(&position(972_000_018, 14, Some((54.5, 10.293)), 9), 'B');
    watch.send(&format!("{}{rehearsed}", tag("t:REHEARSAL")));
    watch.event(|it| it["event"] == "alert" && it["rehearsed"] == "rehearsal");
    watch.send(&vdm(&text(972_000_017, "MOB OFF"), 'B'));
    let mut told = std::iter::repeat_with(|| next(&display)).take(100);
    assert!(told.any(|it| it.contains("\"normal\"")));
    assert!(told.next().unwrap().contains("REHEARSAL"));
    watch.stop();
}

fn line_of<'a>(said: &'a str, formatter: &str) -> &'a str {
    let begin = format!("$U8{formatter},");
    said.lines().find(|it| it.starts_with(&begin)).unwrap_or_else(|| panic!("{said}"))
}

#[test]
fn while_it_is_silent_the_datum_is_told_and_moves_and_nothing_is_steered_for() {
    let mut scene = Scene::new();
    scene.hear(&sealed(OWN));
    // It drifts to the east, half a knot: a fix a minute.
    for minute in 0..5 {
        let place = Some((54.52, 10.30 + f64::from(minute) * 0.000_24));
        scene.hear(&vdm(&position(972_000_017, 14, place, 9), 'A'));
        scene.wait(60);
    }
    let (heard, _) = scene.say();
    assert!(line_of(&heard, "TLL").contains(",Mate,"), "{heard}");
    assert!(line_of(&heard, "MOB").contains(",1,0,"), "{heard}");
    let mut east = Vec::new();
    for _ in 0..3 {
        scene.wait(600);
        scene.hear(&sealed(OWN));
        let (said, gone) = scene.say();
        assert_eq!(gone, "");
        let target = line_of(&said, "TLL");
        assert!(target.contains(",Mate EST,") && target.contains(",T,*"), "{target}");
        // Estimated by the ship.
        assert!(line_of(&said, "MOB").contains(",0,0,"), "{said}");
        assert!(line_of(&said, "RMB").starts_with("$U8RMB,V,"), "{said}");
        assert!(line_of(&said, "RMB").contains(",E*"), "{said}");
        east.push(target.split(',').nth(4).unwrap().parse::<f64>().unwrap());
    }
    assert!(east.is_sorted() && east[2] - east[0] > 0.05, "{east:?}");
    // The operator says that it is over.
    scene.resolve();
    let (said, gone) = scene.say();
    assert_eq!(said, "");
    assert!(line_of(&gone, "TLL").contains("TLL,99,,,,,Mate EST,,L,"), "{gone}");
    assert_eq!(scene.say(), (String::new(), String::new()));
}

/// Whoever listens only since somebody is in the water is told at once, not at the next change.
#[test]
fn an_output_that_comes_later_is_told_what_is_open() {
    let watch = Talking::start("");
    watch.send(&vdm(&position(972_000_017, 14, Some((54.5, 10.293)), 9), 'A'));
    watch.event(|it| it["event"] == "alert" && it["priority"] == "emergency_alarm");
    let ((plotter, to_plotter), (bams, to_bams)) = (display(), display());
    let plotter_at = output("plotter", &to_plotter, "\"casualty\"");
    watch.reload(&(plotter_at + &output("bams", &to_bams, "\"alerts\"")));
    assert!(own(&plotter, "TLL").contains(",Mate,"));
    let first = next(&bams);
    assert!(first.contains(",E,V,OVS,10001,"), "{first}");
    let list = own(&bams, "ALC");
    assert!(list.contains(",1,OVS,10001,"), "{list}");
    // One that was there is told again, under the same revision.
    let (more, to_more) = display();
    watch.reload(&output("more", &to_more, "\"alerts\""));
    let again = next(&more);
    let which = |told: &str| {
        told.lines()
            .next()
            .unwrap()
            .split(',')
            .skip(4)
            .take(8)
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    assert_eq!(which(&again), which(&first));
    watch.stop();
}

/// What is only rehearsed says so to a display on this computer, and nothing steers for it.
#[test]
fn a_rehearsed_casualty_says_so_and_is_never_steered_for() {
    let mut scene = Scene::new();
    for mark in ["REHEARSAL", "DRILL"] {
        scene.hear(&sealed(OWN));
        let line = vdm(&position(972_000_017, 14, Some((54.5, 10.293)), 9), 'A');
        scene.hear(&format!("{}{line}", tag(&format!("t:{mark}"))));
        let (said, _) = scene.say();
        let name = format!(",{mark} Mate,");
        assert!(line_of(&said, "TLL").contains(&name), "{said}");
        assert!(line_of(&said, "MOB").starts_with("$U8MOB,00011,T,"), "{said}");
        let way = line_of(&said, "RMB");
        assert!(way.starts_with("$U8RMB,V,") && way.contains(",S*"), "{said}");
        scene = Scene::new();
    }
}

/// However many strangers are heard, the crew's casualty is told, under its number, and nobody who may
/// be in the water is told as lost.
#[test]
fn a_flood_of_strangers_hides_nobody_and_loses_nobody() {
    let mut scene = Scene::new();
    scene.hear(&sealed(OWN));
    let stranger = |number: u32| {
        // Each nearer than those before.
        let place = Some((54.5 + 0.1 / f64::from(number + 1), 10.25));
        vdm(
            &position(972_100_000 + number, 14, place, 9),
            if number.is_multiple_of(2) { 'A' } else { 'B' },
        )
    };
    for number in 0..150 {
        scene.hear(&stranger(number));
        let (said, gone) = scene.say();
        assert!(said.matches("$U8TLL,").count() <= 10, "{said}");
        assert_eq!(gone, "", "{number}");
        let numbers: Vec<_> = said.lines().filter(|it| it.starts_with("$U8TLL")).collect();
        let unique: std::collections::HashSet<_> = numbers.iter().map(|it| &it[7..9]).collect();
        assert_eq!(unique.len(), numbers.len(), "{said}");
        // Nobody's way is shown to a stranger.
        assert!(!said.contains("RMB"), "{said}");
    }
    scene.hear(&vdm(&position(972_000_017, 14, Some((54.6, 10.25)), 9), 'A'));
    let (said, gone) = scene.say();
    assert!(said.lines().next().unwrap().contains(",Mate,"), "{said}");
    assert!(said.contains("$U8RMB,A,"), "{said}");
    assert_eq!(gone, "");
}
