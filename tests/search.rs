//! The search for a casualty that has fallen silent: sweep widths, patterns, legs, and searches that
//! are followed to their end.
//!
//! Rows marked \[calc\] were computed with geographiclib 2.1 and by hand from the published rules,
//! and not with this program or the library it uses.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

#[path = "support/silent.rs"]
mod silent;

use std::time::Duration;

use overside::navigation::{
    Conditions, Datum, Drift, Leg, LegNumber, Lookout, Offset, Pattern, Position, Search, Seas,
    Velocity, Wind, Wishes, coverage, even_detection, random_detection,
};
use overside::time::Mono;
use overside::units::{Degrees, Knots, NauticalMiles};
use proptest::prelude::*;

fn north() -> Degrees {
    Degrees::new(0.0)
}

fn at_second(second: u64) -> Mono {
    Mono::START + Duration::from_secs(second)
}

fn somewhere() -> Position {
    Position::new(50.0, -5.0).unwrap()
}

/// Still air, still water, 5 kn, eyes at 2.4 m, poor visibility: a sweep width of 0.2 NM.
fn calm() -> Conditions {
    Conditions {
        speed: Knots(5.0),
        current: Some(Velocity::STILL),
        wind: Some(Wind { from: north(), speed: Knots(0.0) }),
        lookout: Lookout::default(),
    }
}

/// A datum at `somewhere` that does not move, and is known within so much.
fn datum(radius50: f64, radius95: f64) -> Datum {
    let mut datum = Datum::begin(somewhere(), at_second(0), None);
    datum.radius50 = NauticalMiles(radius50);
    datum.radius95 = NauticalMiles(radius95);
    datum
}

fn only(pattern: Pattern) -> Wishes {
    Wishes { pattern: Some(pattern), ..Wishes::default() }
}

fn plan(datum: &Datum, conditions: &Conditions, wishes: &Wishes) -> Search {
    Search::plan(datum, datum.position, datum.at, conditions, wishes).unwrap()
}

fn first_pass(legs: &[Leg]) -> impl Iterator<Item = &Leg> {
    legs.iter().filter(|leg| leg.place.pass == 1 && leg.place.leg > 0)
}

#[track_caller]
fn assert_vertices(found: &[Offset], size: NauticalMiles, expected: &[(f64, f64)]) {
    assert_eq!(found.len(), expected.len());
    for (found, (east, north)) in found.iter().zip(expected) {
        let (e, n) = (found.east_m / size.metres(), found.north_m / size.metres());
        assert!((e - east).abs() < 1e-4 && (n - north).abs() < 1e-4, "{e} {n}: {east} {north}");
    }
}

/// Positions are published to six decimals, 0.1 m.
#[track_caller]
fn assert_places(found: &[Offset], expected: &[(f64, f64)]) {
    assert_eq!(found.len(), expected.len());
    for (found, (lat, lon)) in found.iter().zip(expected) {
        let place = found.from(somewhere());
        let off = (place.lat() - lat).abs().max((place.lon() - lon).abs());
        assert!(off < 1.5e-6, "{} {}, not {lat} {lon}", place.lat(), place.lon());
    }
}

/// Australian National SAR Manual (2023 ed. v1), table D-5:3: uncorrected sweep widths for a person
/// in the water from a vessel, in NM, by visibility in NM; for an eye at 14 ft from 8.1 NM on the 0.5
/// of the US Coast Guard Addendum to the National SAR Supplement (COMDTINST M16130.2F, 2013; public
/// domain data set `Boat-14ft`: 0.3 0.4 0.5 0.5 0.5 0.5 at 1, 3, 5, 10, 15 and 20 NM).
#[test]
fn sweep_widths_of_the_table() {
    let visibilities = [1.1, 2.7, 5.4, 8.1, 10.8, 13.5];
    let low = [0.2, 0.2, 0.3, 0.3, 0.3, 0.3];
    let high = [0.3, 0.4, 0.5, 0.5, 0.5, 0.5];
    for (height, widths) in [(2.4, low), (4.3, high)] {
        for (visibility, width) in visibilities.into_iter().zip(widths) {
            let lookout = lookout(height, visibility);
            assert_eq!(lookout.sweep_width(Some(Knots(5.0))), NauticalMiles(width), "{lookout:?}");
        }
    }
    // Between two columns or rows the lower holds.
    assert_eq!(lookout(4.2, 8.0).sweep_width(Some(Knots(5.0))), NauticalMiles(0.3));
    assert_eq!(lookout(4.3, 5.3).sweep_width(Some(Knots(5.0))), NauticalMiles(0.4));
}

fn lookout(height: f64, visibility: f64) -> Lookout {
    Lookout {
        height_of_eye_m: Some(height),
        visibility: Some(NauticalMiles(visibility)),
        seas: Some(Seas::Low),
        tired: false,
    }
}

/// US National SAR Manual, volume I, table D-1: a person in the water, winds above 15 kn 0.5, above
/// 25 kn 0.25; fatigue 0.9. The three products are \[calc\].
#[test]
fn weather_and_fatigue_narrow_the_sweep() {
    let width = |lookout: Lookout, wind| lookout.sweep_width(Some(Knots(wind))).0;
    assert!((width(lookout(4.3, 6.0), 20.0) - 0.25).abs() < 1e-9);
    let tired = Lookout { tired: true, ..lookout(4.3, 6.0) };
    assert!((width(tired, 20.0) - 0.225).abs() < 1e-9);
    let gale = NauticalMiles(width(lookout(2.4, 6.0), 30.0));
    assert!((gale.0 - 0.075).abs() < 1e-9);
    assert_eq!(gale.to_string(), "139 m");
    // Wind or seas, whichever is worse (IAMSAR volume II, table N-7, with the limits of a person in
    // the water): up to 1 m 1.0, up to 1.5 m 0.5, above 0.25. A swell of 2 m without wind too.
    for (metres, wind, factor) in [
        (0.0, 8.0, 1.0),
        (1.0, 8.0, 1.0),
        (1.1, 8.0, 0.5),
        (1.5, 8.0, 0.5),
        (1.6, 8.0, 0.25),
        (2.0, 8.0, 0.25),
        (0.5, 20.0, 0.5),
        (2.0, 20.0, 0.25),
        (1.2, 30.0, 0.25),
    ] {
        let at_sea = Lookout { seas: Some(Seas::of_height(metres)), ..lookout(2.4, 6.0) };
        let found = width(at_sea, wind);
        assert!((found - 0.3 * factor).abs() < 1e-9, "{metres} m, {wind} kn: {found}");
    }
    let flat = Lookout { seas: None, ..lookout(2.4, 6.0) };
    assert!((width(flat, 8.0) - 0.3).abs() < 1e-9);
    assert_eq!(flat.assumed(Some(Knots(8.0))), "seas under 1 m assumed");
    // The limits belong to the lighter weather.
    assert!((width(lookout(2.4, 6.0), 15.0) - 0.3).abs() < 1e-9);
    assert!((width(lookout(2.4, 6.0), 25.0) - 0.15).abs() < 1e-9);
}

#[test]
fn what_is_not_known_is_assumed_and_said() {
    let nothing = Lookout::default();
    assert_eq!(nothing.sweep_width(None), NauticalMiles(0.1));
    assert_eq!(
        nothing.assumed(None),
        "seas under 1 m, height of eye 2.4 m, poor visibility, wind above 15 kn assumed"
    );
    assert_eq!(lookout(3.0, 5.0).assumed(Some(Knots(3.0))), "");
    // In fog one sees no farther than the visibility, to either side.
    assert_eq!(lookout(4.3, 0.05).sweep_width(Some(Knots(3.0))), NauticalMiles(0.1));
    for odd in [f64::NAN, -1.0, f64::INFINITY] {
        let width = lookout(odd, odd).sweep_width(Some(Knots(odd))).0;
        assert!((0.01..=0.6).contains(&width), "{odd}: {width}");
    }
}

/// Coverage W/S, 1 - e^-C and erf(√π/2 C): formulas from memory, figures \[calc\] in whole per cent;
/// three passes at 63 % give 63, 86 and 95.
#[test]
fn probability_of_detection() {
    let rows = [(0.5, 39.0, 47.0), (1.0, 63.0, 79.0), (1.5, 78.0, 94.0), (2.0, 86.0, 99.0)];
    for (c, random, even) in rows {
        assert_eq!(coverage(NauticalMiles(c), NauticalMiles(1.0)), c);
        assert_eq!((100.0 * random_detection(c)).round(), random, "{c}");
        assert_eq!((100.0 * even_detection(c)).round(), even, "{c}");
    }
    for (passes, together) in [(1, 63.0), (2, 86.0), (3, 95.0)] {
        let missed = (1.0 - random_detection(1.0)).powi(passes);
        assert_eq!((100.0 * (1.0 - missed)).round(), together);
    }
    assert_eq!((even_detection(0.0), even_detection(9.0)), (0.0, 1.0));
}

/// Legs after the US National SAR Manual and the teaching of IAMSAR: S, S, 2S, 2S, 3S, 3S, all turns
/// 90° to starboard; vertices in units of S \[calc\].
#[test]
fn the_expanding_square_has_its_vertices() {
    let size = NauticalMiles(0.2);
    let found = Pattern::Square.vertices(north(), size, 12);
    #[rustfmt::skip]
    let expected = [
        (0.0, 1.0), (1.0, 1.0), (1.0, -1.0), (-1.0, -1.0), (-1.0, 2.0), (2.0, 2.0),
        (2.0, -2.0), (-2.0, -2.0), (-2.0, 3.0), (3.0, 3.0), (3.0, -3.0), (-3.0, -3.0),
    ];
    assert_vertices(&found, size, &expected);
    let mut sum = 0.0;
    let mut before = Offset::default();
    let cumulative = [1.0, 2.0, 4.0, 6.0, 9.0, 12.0, 16.0, 20.0, 25.0, 30.0, 36.0, 42.0];
    for (vertex, expected) in found.into_iter().zip(cumulative) {
        sum += (vertex - before).range().0 / size.0;
        before = vertex;
        assert!((sum - expected).abs() < 1e-9, "{sum} {expected}");
    }
}

/// \[calc\]: S = 0.2 NM from 50 N 5 W, first leg north.
#[test]
fn the_expanding_square_on_the_ground() {
    let found = Pattern::Square.vertices(north(), NauticalMiles(0.2), 6);
    #[rustfmt::skip]
    let expected = [
        (50.003330, -5.000000), (50.003330, -4.994833), (49.996670, -4.994834),
        (49.996670, -5.005166), (50.006660, -5.005167), (50.006660, -4.989666),
    ];
    assert_places(&found, &expected);
}

/// Legs R, R, 2R, R, 2R, R, R after the US National SAR Manual, turns of 120° to starboard, second
/// pass 30° to starboard of the first; vertices in units of R \[calc\].
#[test]
fn the_sector_search_has_its_vertices() {
    let size = NauticalMiles(0.5);
    let pattern = Pattern::Sector;
    #[rustfmt::skip]
    let first = [
        (0.0, 1.0), (0.8660, 0.5), (-0.8660, -0.5), (-0.8660, 0.5), (0.8660, -0.5), (0.0, -1.0),
        (0.0, 0.0),
    ];
    assert_vertices(&pattern.vertices(north(), size, 7), size, &first);
    #[rustfmt::skip]
    let second = [
        (0.5, 0.8660), (1.0, 0.0), (-1.0, 0.0), (-0.5, 0.8660), (0.5, -0.8660), (-0.5, -0.8660),
        (0.0, 0.0),
    ];
    let turned = Degrees::new(pattern.second_pass());
    assert_vertices(&pattern.vertices(turned, size, 7), size, &second);
}

/// \[calc\]: R = 0.5 NM about 50 N 5 W, first leg north.
#[test]
fn the_sector_search_on_the_ground() {
    let found = Pattern::Sector.vertices(north(), NauticalMiles(0.5), 7);
    #[rustfmt::skip]
    let expected = [
        (50.008325, -5.000000), (50.004162, -4.988814), (49.995837, -5.011184),
        (50.004162, -5.011186), (49.995837, -4.988816), (49.991675, -5.000000),
        (50.0, -5.0),
    ];
    assert_places(&found, &expected);
}

/// \[calc\]: a pass of a sector search is 9 R long; minutes at 4, 5 and 6 kn.
#[test]
fn a_sector_search_takes_its_time() {
    let rows = [(0.25, [33.8, 27.0, 22.5]), (0.5, [67.5, 54.0, 45.0]), (1.0, [135.0, 108.0, 90.0])];
    for (radius, minutes) in rows {
        for (knots, minutes) in [4.0, 5.0, 6.0].into_iter().zip(minutes) {
            let gale = Some(Wind { from: north(), speed: Knots(30.0) });
            let conditions = Conditions { speed: Knots(knots), wind: gale, ..calm() };
            // A radius covers at least the circle of 50 %.
            let search = plan(&datum(radius, 2.0), &conditions, &only(Pattern::Sector));
            let legs = search.legs(somewhere(), at_second(0)).unwrap();
            let time: Duration = first_pass(&legs).map(|leg| leg.time).sum();
            let found = time.as_secs_f64() / 60.0;
            assert!((found - minutes).abs() <= 0.051, "{radius} at {knots}: {found}");
        }
    }
}

#[test]
fn the_place_decides_the_pattern_and_a_line_says_why() {
    let near = plan(&datum(0.05, 0.12), &calm(), &Wishes::default());
    assert_eq!(
        near.why(),
        "sector search, radius 0.40 NM, first leg down the wind: on arrival the place is known \
         within 0.12 NM (95 %), from its last position alone"
    );
    let far = plan(&datum(0.2, 0.42), &calm(), &Wishes::default());
    assert_eq!(
        far.why(),
        "expanding square, track spacing 0.20 NM out to 0.50 NM, first leg into the wind: on \
         arrival the place is only known within 0.42 NM (95 %), from its last position alone"
    );
    assert_eq!(far.shape().legs, 9);
    assert_eq!(plan(&datum(0.3, 0.63), &calm(), &Wishes::default()).shape().legs, 13);
    assert_eq!(plan(&datum(9.0, 20.0), &calm(), &Wishes::default()).shape().legs, 13);
}

/// First leg of the sector search down-drift, of the square into the wind; down-drift as the US
/// Coast Guard's boats run it on request.
#[test]
fn the_first_leg_has_its_direction() {
    let drift = Velocity::of(Degrees::new(77.0), Knots(0.8));
    let told = Drift::given(drift, somewhere(), at_second(0));
    let drifting = Datum::begin(somewhere(), at_second(0), Some(told));
    let windy = Conditions {
        current: None,
        wind: Some(Wind { from: Degrees::new(250.0), speed: Knots(12.0) }),
        ..calm()
    };
    let first = |wishes| plan(&drifting, &windy, &wishes).shape().first_leg.value();
    assert!((first(only(Pattern::Sector)) - 77.0).abs() < 1e-9);
    assert!((first(only(Pattern::Square)) - 250.0).abs() < 1e-9);
    let down = Wishes { down_drift: true, ..only(Pattern::Square) };
    assert!((first(down) - 77.0).abs() < 1e-9);
}

#[test]
fn a_leg_that_cannot_be_steered_is_an_error_and_no_plan() {
    let drift = Velocity::of(Degrees::new(90.0), Knots(3.0));
    let told = Drift::given(drift, somewhere(), at_second(0));
    let datum = Datum::begin(somewhere(), at_second(0), Some(told));
    let slow = Conditions { speed: Knots(2.0), ..calm() };
    let west = Offset::of(Degrees::new(270.0), NauticalMiles(0.5)).from(somewhere());
    let why = Search::plan(&datum, west, at_second(60), &slow, &Wishes::default()).unwrap_err();
    assert_eq!(
        why.to_string(),
        "the way to the datum cannot be steered at 2.0 kn through the water: it takes more speed"
    );
    // She is at the datum already, and loses it on a later leg.
    let there = datum.position_at(at_second(60));
    let why = Search::plan(&datum, there, at_second(60), &slow, &Wishes::default()).unwrap_err();
    assert!(why.place.leg > 0, "{why}");
    // With the same current under both, nothing is lost.
    let carried = Conditions { current: Some(drift), ..slow };
    assert!(Search::plan(&datum, there, at_second(60), &carried, &Wishes::default()).is_ok());
}

/// A boat that does just as she is told, once a second.
fn follow(search: &mut Search, mut own: Position, until: LegNumber) -> (Position, u64) {
    for second in 0..20_000 {
        search.advance(own, at_second(second));
        if search.place() == Some(until) {
            return (own, second);
        }
        let Some(guidance) = search.guidance(own, at_second(second)).unwrap() else {
            panic!("{until} was never reached");
        };
        let way = Velocity::of(guidance.leg.course, Knots(5.0));
        own = way.over(Duration::from_secs(1)).from(own);
    }
    panic!("{until} was not reached in time");
}

#[test]
fn a_search_is_followed_from_leg_to_leg_and_into_the_second_pass() {
    let mut search = plan(&datum(0.05, 0.12), &calm(), &Wishes::default());
    let own = Offset::of(Degrees::new(200.0), NauticalMiles(0.3)).from(somewhere());
    assert_eq!(search.place(), Some(LegNumber { pass: 1, leg: 0 }));
    let (own, second) = follow(&mut search, own, LegNumber { pass: 1, leg: 1 });
    // Down the wind that comes from north, then 120° to starboard.
    let guidance = search.guidance(own, at_second(second)).unwrap().unwrap();
    assert!((guidance.leg.course.value() - 180.0).abs() < 3.0, "{guidance:?}");
    let turn = guidance.then.unwrap();
    assert!((turn.by - 120.0).abs() < 3.0, "{turn:?}");
    assert_eq!(turn.to_string(), "turn to starboard to 300°T");
    assert!((guidance.leg.length.0 - 0.4).abs() < 0.02);

    let (own, second) = follow(&mut search, own, LegNumber { pass: 1, leg: 7 });
    let turn = search.guidance(own, at_second(second)).unwrap().unwrap().then.unwrap();
    let (own, _) = follow(&mut search, own, LegNumber { pass: 2, leg: 1 });
    assert!((turn.course.value() - 210.0).abs() < 3.0, "{turn:?}");
    follow(&mut search, own, LegNumber { pass: 2, leg: 7 });
}

#[test]
fn a_search_ends() {
    let mut search = plan(&datum(0.05, 0.12), &calm(), &Wishes::default());
    let marks = search.legs(somewhere(), at_second(0)).unwrap();
    for (second, leg) in (0..).zip(&marks) {
        assert_eq!(search.place(), Some(leg.place));
        search.advance(leg.to, at_second(second));
    }
    assert_eq!(search.place(), None);
    assert_eq!(search.guidance(somewhere(), at_second(99)), Ok(None));
    assert_eq!(search.legs(somewhere(), at_second(99)), Ok(Vec::new()));
    search.advance(somewhere(), at_second(100));
}

#[test]
fn a_mark_is_passed_near_by_or_abeam_and_not_from_afar() {
    let begin = || {
        let mut search = plan(&datum(0.05, 0.12), &calm(), &Wishes::default());
        search.advance(somewhere(), at_second(0));
        search
    };
    // The first leg leads 0.40 NM south.
    let there = |east, north| Offset { east_m: east, north_m: north }.from(somewhere());
    let leg_after = |places: &[Position]| {
        let mut search = begin();
        for (second, place) in (1..).zip(places) {
            search.advance(*place, at_second(second));
        }
        search.place().unwrap().leg
    };
    let south = -0.4 * 1852.0;
    assert_eq!(leg_after(&[there(0.0, south + 31.0)]), 1);
    assert_eq!(leg_after(&[there(0.0, south + 29.0)]), 2);
    assert_eq!(leg_after(&[there(150.0, south - 1.0)]), 2);
    assert_eq!(leg_after(&[there(200.0, south - 1.0)]), 1);
    // Heard from too seldom to have been seen at the mark.
    assert_eq!(leg_after(&[there(-100.0, south + 90.0), there(100.0, south + 90.0)]), 1);
    assert_eq!(leg_after(&[there(-100.0, south + 20.0), there(100.0, south + 20.0)]), 2);
}

#[test]
fn the_pattern_goes_with_the_datum() {
    let mut search = plan(&datum(0.05, 0.12), &calm(), &Wishes::default());
    search.advance(somewhere(), at_second(0));
    let own = Offset::of(Degrees::new(180.0), NauticalMiles(0.2)).from(somewhere());
    search.advance(own, at_second(1));
    let before = search.legs(own, at_second(1)).unwrap();
    let moved = Offset::of(Degrees::new(50.0), NauticalMiles(0.1));
    let mut newer = datum(0.1, 0.3);
    newer.position = moved.from(newer.position);
    search.refresh(newer, &calm());
    search.advance(own, at_second(2));
    let after = search.legs(own, at_second(2)).unwrap();
    for (before, after) in before.iter().zip(&after) {
        assert_eq!(before.place, after.place);
        let off = Offset::between(before.to, after.to) - moved;
        assert!(off.range().metres() < 0.1, "{off:?}");
    }
}

fn flows(most: f64) -> impl Strategy<Value = Velocity> {
    (0.0..360.0, 0.0..most).prop_map(|(towards, kn)| Velocity::of(Degrees::new(towards), Knots(kn)))
}

proptest! {
    /// Each leg meets its end as the equation of interception has it: what she makes through the
    /// water and what the water makes together lead to where the vertex is by then.
    #[test]
    fn every_leg_meets_its_vertex(
        drift in flows(2.0),
        current in flows(2.0),
        speed in 4.5..9.0,
        bearing in 0.0..360.0,
        away in 0.0..2.0,
        is_sector: bool,
    ) {
        let told = Drift::given(drift, somewhere(), at_second(0));
        let mut datum = Datum::begin(somewhere(), at_second(0), Some(told));
        datum.go_on(at_second(600), None, None);
        let conditions = Conditions { speed: Knots(speed), current: Some(current), ..calm() };
        let pattern = if is_sector { Pattern::Sector } else { Pattern::Square };
        let own = Offset::of(Degrees::new(bearing), NauticalMiles(away)).from(datum.position);
        let start = at_second(600);
        let search = Search::plan(&datum, own, start, &conditions, &only(pattern)).unwrap();
        let shape = search.shape().clone();
        let turned = Degrees::new(shape.first_leg.value() + pattern.second_pass());
        let passes = [shape.first_leg, turned]
            .map(|first| pattern.vertices(first, shape.size, shape.legs));
        let (mut place, mut at) = (own, start);
        for leg in search.legs(own, start).unwrap() {
            prop_assert_eq!(leg.from, place);
            at = at + leg.time;
            let vertex = match leg.place.leg {
                0 => Offset::default(),
                number => passes[usize::from(leg.place.pass) - 1][number as usize - 1],
            };
            let end = vertex.from(datum.position_at(at));
            prop_assert!(Offset::between(leg.to, end).range().metres() < 0.01);
            let through = Velocity::of(leg.course, Knots(speed)) + current;
            let reached = through.over(leg.time).from(leg.from);
            // The sea is no plane: directions turn by D / R · tan 50° over a distance D from where
            // the datum was, and a way d by that much is off by d · D / R or so. Against a strong
            // drift a pattern may take it tens of miles away.
            let ways = [leg.length, drift.over(leg.time).range(), current.over(leg.time).range()];
            let d = ways.iter().map(|way| way.metres()).sum::<f64>();
            let from_datum = Offset::between(datum.position, leg.to).range().metres();
            let off = Offset::between(reached, end).range().metres();
            prop_assert!(off < 0.1 + 1.5 * d * (d + from_datum) / 6.37e6, "{} m on {} m", off, d);
            let by_log = speed * leg.time.as_secs_f64() / 3600.0;
            prop_assert!((leg.length.0 - by_log).abs() < 1e-6);
            place = leg.to;
        }
    }

    /// Legs keep their lengths and turns, whatever the first and the size.
    #[test]
    fn legs_keep_their_spacing(first in 0.0..360.0, size in 0.02..3.0) {
        let (first, size) = (Degrees::new(first), NauticalMiles(size));
        for (pattern, turn) in [(Pattern::Square, 90.0), (Pattern::Sector, 120.0)] {
            let legs = pattern.legs(3);
            let mut before = (Offset::default(), None);
            for (k, vertex) in (1..=legs).zip(pattern.vertices(first, size, legs)) {
                let way = vertex - before.0;
                let length = way.range().0 / size.0;
                let allowed = match pattern {
                    Pattern::Square => vec![f64::from(k.div_ceil(2))],
                    Pattern::Sector => vec![1.0, 2.0],
                };
                prop_assert!(allowed.iter().any(|one| (length - one).abs() < 1e-9));
                if let Some(course) = before.1 {
                    let turned = way.bearing().relative_to(course);
                    prop_assert!((turned - turn).abs() < 1e-6, "leg {}: {}", k, turned);
                }
                before = (vertex, Some(way.bearing()));
            }
        }
    }

    /// No number makes it panic.
    #[test]
    fn odd_numbers_end_in_an_error_or_a_plan(
        speed in prop::num::f64::ANY,
        east in prop::num::f64::ANY,
        north in prop::num::f64::ANY,
        wind in prop::num::f64::ANY,
        radius in prop::num::f64::ANY,
    ) {
        let conditions = Conditions {
            speed: Knots(speed),
            current: Some(Velocity::new(east, north)),
            wind: Some(Wind { from: Degrees::new(wind), speed: Knots(wind) }),
            lookout: Lookout { height_of_eye_m: Some(wind), ..Lookout::default() },
        };
        let own = Position::new(50.1, -5.1).unwrap();
        let datum = datum(radius, radius);
        if let Ok(mut search) =
            Search::plan(&datum, own, at_second(60), &conditions, &Wishes::default())
        {
            search.advance(own, at_second(70));
            let _ = search.guidance(own, at_second(80));
        }
    }
}

/// Nine of ten whose beacons fell silent come within half a sweep width of the boat in the two
/// passes. `cargo bench --bench search` prints the shares.
#[test]
fn nine_of_ten_are_covered() {
    let outcomes = silent::scenes(500, silent::USUAL, &Wishes::default());
    assert!(outcomes.iter().all(|outcome| outcome.is_over), "a search did not end");
    let share = silent::share(&outcomes, |_| true);
    eprintln!("covered: {:.1} % of {}", 100.0 * share, outcomes.len());
    assert!(share >= 0.9, "only {share}");
    // Where the beacon showed the drift nearly everybody is.
    let drift = silent::share(&outcomes, |outcome| outcome.known == silent::Known::Drift);
    assert!(drift >= 0.95, "only {drift}");
}
