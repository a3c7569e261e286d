//! The common map: areas and gaps against known geometry, the drawing read back, places at the ends
//! of the earth.

use std::f64::consts::PI;

use overside::drawing::Dots;
use overside::hearing::{CommonMap, Hearing, SectorTogether, StationTogether, lines, page};
use overside::navigation::{destination, range_and_bearing};
use overside::position::Position;
use overside::units::{Degrees, NauticalMiles};
use overside::watch::SectorFrom;

/// A station that hears so far in all directions, and so far in some: where they begin, how far.
pub fn station(
    name: &str,
    (lat, lon): (f64, f64),
    all: f64,
    some: &[(u16, f64)],
) -> StationTogether {
    let sector = |&(sector_deg, nm): &(u16, f64)| SectorTogether {
        from: SectorFrom::North,
        sector_deg,
        expected: 100,
        received: 80,
        median_nm: Some(NauticalMiles(nm)),
    };
    StationTogether {
        station: format!("station {name}"),
        position: Position::new(lat, lon),
        now: None,
        median_nm: Some(NauticalMiles(all)),
        expected: 1200,
        received: 960,
        by_sector: some.iter().map(sector).collect(),
    }
}

/// A station that is known to hear so far all round.
fn round(name: &str, at: (f64, f64), nm: f64) -> StationTogether {
    let all: Vec<(u16, f64)> = (0..12).map(|it| (it * 30, nm)).collect();
    station(name, at, nm, &all)
}

fn among(stations: Vec<StationTogether>) -> Hearing {
    Hearing::of(Vec::new(), None, None).among(None, stations)
}

fn map(stations: Vec<StationTogether>) -> CommonMap {
    among(stations).map.unwrap()
}

fn towards((lat, lon): (f64, f64), bearing: f64, nm: f64) -> (f64, f64) {
    let from = Position::new(lat, lon).unwrap();
    let there = destination(from, Degrees::new(bearing), NauticalMiles(nm));
    (there.lat(), there.lon())
}

#[track_caller]
fn near(is: f64, wanted: f64, within: f64) {
    assert!((is - wanted).abs() <= within, "{is}, not {wanted}");
}

const BAY: (f64, f64) = (57.7, 10.6);
const PLACES: [(f64, f64); 5] = [BAY, (0.0, 179.99), (-45.0, -179.99), (89.95, 40.0), (-90.0, 0.0)];

/// Two circles: what both hear is a lens, wherever on earth.
#[test]
fn areas_are_those_of_circles() {
    for place in PLACES {
        let alone = map(vec![round("a", place, 4.0)]);
        near(alone.one_nm2, PI * 16.0, 1e-6);
        assert_eq!((alone.more_nm2, alone.not_sure_nm2, alone.neighbours), (0.0, 0.0, 0));
        let two = |apart| {
            map(vec![round("a", place, 4.0), round("b", towards(place, 130.0, apart), 4.0)])
        };
        let (lens, d): (f64, f64) = (two(5.0).more_nm2, 5.0);
        let formula = 32.0 * (d / 8.0).acos() - d / 2.0 * (64.0 - d * d).sqrt();
        near(lens, formula, 0.03 * formula);
        near(two(5.0).one_nm2, 2.0 * (PI * 16.0 - formula), 0.03 * formula);
        near(two(0.0).more_nm2, PI * 16.0, 1e-6);
        near(two(9.0).one_nm2, 2.0 * PI * 16.0, 1e-6);
    }
}

/// What is not known of a direction by itself is told apart, and never counted twice.
#[test]
fn directions_that_are_not_known_are_told_apart() {
    let half: Vec<(u16, f64)> = (0..6).map(|it| (it * 30, 2.0)).collect();
    let east = map(vec![station("a", BAY, 4.0, &half)]);
    near(east.one_nm2, PI * 2.0, 1e-6);
    near(east.not_sure_nm2, PI * 8.0, 1e-6);
    // To its west, where it may hear, another does.
    let both = map(vec![station("a", BAY, 4.0, &half), round("b", BAY, 4.0)]);
    near(both.not_sure_nm2, 0.0, 1e-6);
    near(both.more_nm2, PI * 2.0, 0.4);
    near(both.one_nm2 + both.more_nm2, PI * 16.0, 0.4);
    // A bow has pointed anywhere.
    let mut aboard = station("a", BAY, 4.0, &half);
    for it in &mut aboard.by_sector {
        it.from = SectorFrom::Bow;
    }
    near(map(vec![aboard]).not_sure_nm2, PI * 16.0, 1e-6);
}

#[test]
fn nobody_hears_between_what_both_hear() {
    for place in PLACES {
        let there = towards(place, 75.0, 10.0);
        let gaps = map(vec![round("a", place, 3.0), round("b", there, 4.0)]).gaps;
        let [gap] = gaps.as_slice() else { panic!("{gaps:?}") };
        assert_eq!(gap.between, [1, 2]);
        near(gap.apart_nm.0, 10.0, 1e-6);
        near(gap.unheard_nm.0, 3.0, 0.06);
        assert_eq!(gap.heard_nm.map(|it| it.0), [3.0, 4.0]);
        // A third in the middle is the neighbour of both.
        let middle = towards(place, 75.0, 5.0);
        let three =
            map(vec![round("a", place, 3.0), round("b", there, 4.0), round("c", middle, 1.0)]);
        assert_eq!(three.neighbours, 2);
        near(three.gaps[0].unheard_nm.0, 1.0, 0.03);
        assert_eq!((three.gaps.len(), three.gaps[0].between), (1, [1, 3]));
        // One aside that hears across closes it, and is no neighbour of less.
        let aside = towards(middle, 165.0, 9.0);
        let across =
            map(vec![round("a", place, 3.0), round("b", there, 4.0), round("c", aside, 12.0)]);
        assert!(across.gaps.is_empty(), "{:?}", across.gaps);
    }
    // What is known of other directions alone closes no gap for sure.
    let there = towards(BAY, 75.0, 10.0);
    let hearing = among(vec![station("a", BAY, 6.0, &[]), round("b", there, 3.0)]);
    let gap = &hearing.map.as_ref().unwrap().gaps[0];
    near(gap.unheard_nm.0, 1.0, 0.06);
    near(gap.not_sure_nm.0, 6.0, 0.06);
    assert_eq!(gap.known, [false, true]);
    let text = lines(&hearing, Dots::Ascii).join("\n");
    let told = "nobody would hear it on 1.0 NM of the way, perhaps nobody on 6.0 NM more: 1 hears perhaps to 6.0 NM that way, 2 to 3.0 NM.";
    assert!(text.contains(told), "{text}");
    // Whoever hears nothing that is known closes no gap and makes none.
    let mut unknown = round("c", towards(BAY, 75.0, 5.0), 3.0);
    unknown.median_nm = None;
    let hearing =
        among(vec![round("a", BAY, 3.0), round("b", towards(BAY, 75.0, 10.0), 4.0), unknown]);
    let map = hearing.map.as_ref().unwrap();
    assert_eq!((map.receivers.len(), map.receivers[2].range_nm, map.gaps.len()), (3, None, 1));
    let text = lines(&hearing, Dots::Ascii).join("\n");
    assert!(text.contains("How far 3 would hear a beacon is not known: no area."), "{text}");
    let told = "Between 1 and 2, 10 NM apart, nobody would hear it on 3.0 NM of the way: 1 hears to 3.0 NM that way, 2 to 4.0 NM.";
    assert!(text.contains(told), "{text}");
}

/// The drawings of the map on a page: the wide one, the narrow one.
fn drawings(html: &str) -> Vec<&str> {
    let all = html.split("<svg ").skip(1).map(|it| it.split("</svg>").next().unwrap());
    all.filter(|it| it.contains("id=\"map-")).collect()
}

fn number(text: &str, before: &str) -> f64 {
    let rest = text.split(before).nth(1).unwrap();
    rest.split('"').next().unwrap().parse().unwrap()
}

fn points(path: &str) -> Vec<(f64, f64)> {
    let path = path.trim_start_matches('M').trim_end_matches('Z');
    let point = |it: &str| {
        let (x, y) = it.split_once(' ').unwrap();
        (x.parse().unwrap(), y.parse().unwrap())
    };
    path.split('L').map(point).collect()
}

/// What is drawn, read back by the drawing's own scale: each area's rim lies where the station hears to,
/// and the stations lie to each other as on the ellipsoid.
#[test]
fn the_drawing_is_true_to_scale() {
    let (pier, mole) = (BAY, towards(BAY, 60.0, 9.0));
    let some = [(0, 3.0), (30, 5.0), (60, 4.0), (180, 1.5)];
    let hearing = among(vec![station("pier", pier, 3.5, &some), round("mole", mole, 2.5)]);
    let html = page(&hearing, None);
    left("two", &hearing);
    let charts = drawings(&html);
    assert_eq!(charts.len(), 2);
    for chart in charts {
        let bar = chart.lines().find(|it| it.contains("class=\"bar\"")).unwrap();
        let nm: f64 =
            chart.split(" NM (").next().unwrap().rsplit('>').next().unwrap().parse().unwrap();
        let unit = nm / (number(bar, "x2=\"") - number(bar, "x1=\""));
        let mut marks = chart.lines().filter(|it| it.contains("class=\"dot\""));
        let mut mark = || {
            let line = marks.next().unwrap();
            (number(line, "cx=\""), number(line, "cy=\""))
        };
        let (first, second) = (mark(), mark());
        let polar = |(x, y): (f64, f64), (x2, y2): (f64, f64)| {
            let (east, north) = (x2 - x, y - y2);
            (east.hypot(north) * unit, Degrees::new(east.atan2(north).to_degrees()))
        };
        let at = |(lat, lon)| Position::new(lat, lon).unwrap();
        let (range, bearing) = range_and_bearing(at(pier), at(mole));
        let (drawn, towards) = polar(first, second);
        near(drawn, range.0, 0.1);
        near(towards.relative_to(bearing), 0.0, 0.5);
        let paths = |class: &str| -> Vec<Vec<(f64, f64)>> {
            let of = chart.lines().filter(|it| it.contains(&format!("class=\"{class}\"")));
            of.map(|it| points(it.split('"').nth(1).unwrap())).collect()
        };
        let areas = paths("sector");
        assert_eq!(areas.len(), 2);
        for point in &areas[1] {
            near(polar(second, *point).0, 2.5, 0.1);
        }
        let mut rims = [0; 12];
        for (range, bearing) in areas[0].iter().map(|it| polar(first, *it)).filter(|it| it.0 > 0.1)
        {
            // A point on the border of two sectors belongs to either.
            let is_claimed = |&(sector, nm): &(u16, f64)| {
                let from_middle = bearing.relative_to(Degrees::new(f64::from(sector) + 15.0));
                (range - nm).abs() < 0.1 && from_middle.abs() < 16.5
            };
            let (sector, _) = some.iter().find(|it| is_claimed(it)).unwrap();
            rims[usize::from(sector / 30)] += 1;
        }
        assert_eq!(rims, [6, 6, 6, 0, 0, 0, 6, 0, 0, 0, 0, 0]);
        // Elsewhere a dashed arc, as far out as all directions together.
        let arcs = paths("line second");
        assert_eq!(arcs.len(), 8);
        for point in arcs.iter().flatten() {
            near(polar(first, *point).0, 3.5, 0.1);
        }
    }
}

/// The same on a terminal, with braille and without.
#[test]
fn a_terminal_shows_the_map() {
    let some = [(0, 3.0), (30, 5.0), (60, 4.0), (180, 1.5)];
    let pair = vec![station("pier", BAY, 3.5, &some), round("mole", towards(BAY, 60.0, 9.0), 2.5)];
    let shown = |dots| lines(&among(pair.clone()), dots).join("\n");
    insta::assert_snapshot!(format!("{}\n\n{}", shown(Dots::Braille), shown(Dots::Ascii)));
}

/// Leaves a page where a browser looks at it and another library measures it, by what is said beside it.
fn left(name: &str, hearing: &Hearing) {
    super::left(&format!("map-{name}.html"), page(hearing, None).as_bytes());
    super::left(&format!("map-{name}.json"), &serde_json::to_vec(hearing).unwrap());
}

/// Poles, the date line, the same place, an ocean apart, 128 of them, over the whole earth.
#[test]
fn no_place_makes_an_absurd_map() {
    let many: Vec<StationTogether> = (0..128_u32)
        .map(|it| {
            let at = towards(BAY, f64::from(it) * 137.5, f64::from(it).sqrt() * 2.2);
            station(&format!("{it:03}"), at, 3.0, &[(0, 3.0), (30, 4.0), (180, 2.0)])
        })
        .collect();
    let pair = |a, b| vec![round("a", a, 4.0), round("b", b, 4.0)];
    let scenes = [
        ("pole", pair((89.95, 10.0), (89.9, -170.0)), true),
        ("dateline", pair((-17.0, 179.95), (-17.1, -179.9)), true),
        ("same", pair(BAY, BAY), true),
        ("ocean", pair((50.0, -60.0), (50.0, 10.0)), true),
        ("antipodes", pair((10.0, 0.0), (-10.0, 180.0)), false),
        ("whole-earth", pair((0.0, -120.0), (0.0, 100.0)), true),
        ("alone", vec![round("a", BAY, 0.05)], true),
        ("many", many, true),
    ];
    for (name, stations, is_drawn) in scenes {
        let hearing = among(stations);
        let html = page(&hearing, None);
        assert_eq!(drawings(&html).len(), if is_drawn { 2 } else { 0 }, "{name}");
        for chart in drawings(&html) {
            assert!(!chart.contains("NaN") && !chart.contains("inf"), "{name}");
            let size = chart.split("viewBox=\"0 0 ").nth(1).unwrap().split('"').next().unwrap();
            let (width, height) = points(size)[0];
            for line in chart.lines().filter(|it| it.starts_with("<path")) {
                for (x, y) in points(line.split('"').nth(1).unwrap()) {
                    assert!(
                        (0.0..=width).contains(&x) && (0.0..=height).contains(&y),
                        "{name} {line}"
                    );
                }
            }
            for [plus, minus] in [["N", "S"], ["E", "W"]] {
                let is_said = |it| chart.contains(&format!("&#39;{it}</text>"));
                assert!(is_said(plus) || is_said(minus) || name == "pole", "{name} {plus}");
            }
        }
        assert!(html.len() < 900_000, "{name} {}", html.len());
        let map = hearing.map.as_ref().unwrap();
        assert!([map.one_nm2, map.more_nm2, map.not_sure_nm2].iter().all(|it| it.is_finite()));
        let has_gaps = ["pole", "dateline", "many"].contains(&name);
        assert!(map.gaps.is_empty() != has_gaps, "{name}");
        if ["pole", "many"].contains(&name) {
            left(name, &hearing);
        }
    }
}

/// Whoever's place nobody knows is named, and nowhere on the map; the watch's own receiver is on it.
#[test]
fn a_station_without_a_place_is_not_on_the_map() {
    let mut nowhere = round("nowhere", BAY, 3.0);
    nowhere.position = None;
    assert_eq!(among(vec![nowhere.clone()]).map, None);
    let own = Hearing::of(super::days("ais"), None, None);
    let at = Position::new(57.72, 10.7);
    let hearing = own.clone().among(at, vec![nowhere, round("pier", BAY, 3.0)]);
    let map = hearing.map.as_ref().unwrap();
    let names: Vec<Option<&str>> = map.receivers.iter().map(|it| it.station.as_deref()).collect();
    assert_eq!(names, [None, Some("station pier")]);
    // By the bow alone: no direction of it is known.
    assert_eq!(
        (map.receivers[0].range_nm, map.receivers[0].sectors_nm),
        (own.median_nm, [None; 12])
    );
    let html = page(&hearing, None);
    assert_eq!(drawings(&html)[0].matches("class=\"dot\"").count(), 2 * 2);
    for words in ["1 is this watch's own receiver", "1 station is not on the map"] {
        assert!(html.contains(&overside::drawing::escaped(words)), "{words}");
        assert!(lines(&hearing, Dots::Ascii).iter().any(|it| it.starts_with(words)), "{words}");
    }
    left("own", &hearing);
}

/// Three invented stations at the bay of the demo, as the manual shows them.
#[test]
fn the_picture_of_the_manual_is_what_is_drawn() {
    let pier = [(30, 4.2), (60, 4.6), (90, 4.4), (120, 3.8)];
    let mole = [(0, 3.1), (30, 3.6), (60, 3.9), (90, 3.9), (120, 3.2), (150, 2.6)];
    let stations = vec![
        station("pier", (57.70117, 10.59817), 4.2, &pier),
        station("mole", (57.585, 10.51), 3.4, &mole),
        round("lightship", (57.68, 10.79), 3.8),
    ];
    let html = page(&among(stations), None);
    let drawn = overside::drawing::alone(&format!("<svg {}</svg>\n", drawings(&html)[0]));
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/images/stations.svg");
    if std::env::var_os("OVERSIDE_RENEW_PICTURES").is_some_and(|value| value == "1") {
        std::fs::write(path, &drawn).unwrap();
    }
    assert!(
        std::fs::read_to_string(path).is_ok_and(|kept| kept == drawn),
        "docs/images/stations.svg is not what is drawn. Renew it with \
         OVERSIDE_RENEW_PICTURES=1 cargo test --test hearing, and look at it"
    );
}

#[test]
fn where_no_reach_is_known_nothing_is_sketched() {
    let deaf = StationTogether { median_nm: None, ..station("pier", BAY, 4.0, &[]) };
    let said = |stations| lines(&among(stations), Dots::Braille).join("\n");
    let told = said(vec![deaf]);
    assert!(told.contains("no area") && !told.contains("north up"), "{told}");
    assert!(said(vec![round("pier", BAY, 4.0)]).contains("north up"));
}
