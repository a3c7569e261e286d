//! The way to a casualty against published values, and against values that were computed with other
//! libraries.
//!
//! Rows marked \[calc\] were computed with geographiclib 2.1, numpy and pygeomag 1.1.0 in Python, and
//! not with this program or the libraries it uses.
#![allow(clippy::unwrap_used, reason = "a row that is no place says so")]

use std::time::Duration;

use overside::navigation::{
    AheadFrom, Basis, Datum, Drift, Fix, Fixes, Grade, Leeway, ManualLeeway, Medium, Offset,
    OwnShip, Position, Velocity, Way, Wind, closest_approach, course_along, intercept,
    probable_error, radio_horizon, rhumb_line, total_drift_error, true_wind, variation, wandered,
    working_range,
};
use overside::time::{Mono, Utc};
use overside::units::{Degrees, Knots, NauticalMiles};
use proptest::prelude::*;

fn at(lat: f64, lon: f64) -> Position {
    Position::new(lat, lon).unwrap()
}

fn minutes(degrees: f64, minutes: f64) -> f64 {
    degrees + minutes / 60.0
}

fn deg(degrees: f64) -> Degrees {
    Degrees::new(degrees)
}

fn seconds(seconds: u64) -> Mono {
    Mono::from_micros(seconds * 1_000_000)
}

fn turn(a: f64, b: f64) -> f64 {
    let turn = (a - b).rem_euclid(360.0);
    turn.min(360.0 - turn)
}

/// A velocity from direction and knots.
fn going(towards: f64, knots: f64) -> Velocity {
    Velocity::of(deg(towards), Knots(knots))
}

fn off(bearing: f64, miles: f64) -> Offset {
    Offset::of(deg(bearing), NauticalMiles(miles))
}

#[track_caller]
fn near(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found}, not {wanted}");
}

// --- Rhumb lines ---------------------------------------------------------------------------------

/// Mercator sailing, Bowditch (NGA Pub. 9, 2024) article 910: example 1 is printed as 301.8° and
/// 538.7 NM by the sailing's formula, as 537.3 NM for the rhumb line on the ellipsoid; example 2 runs
/// 155°, 263.5 NM. The rows after them are \[calc\].
#[test]
fn rhumb_lines() {
    let chesapeake = at(minutes(36.0, 58.7), -minutes(75.0, 42.2));
    let (miles, course) = rhumb_line(at(minutes(32.0, 14.7), -minutes(66.0, 28.9)), chesapeake);
    near(course.value(), 301.8, 0.05);
    near(miles.0, 537.3, 0.05);
    near(course.value(), 301.8474, 0.000_05);
    near(miles.0, 537.3245, 0.000_05);
    // Course 155, 263.5 NM leads to 71° 33.922' N, 72° 35.553' W on WGS-84.
    let there = at(minutes(71.0, 33.922), -minutes(72.0, 35.553));
    let (miles, course) = rhumb_line(at(minutes(75.0, 31.7), -minutes(79.0, 8.7)), there);
    near(course.value(), 155.0, 0.001);
    near(miles.0, 263.5, 0.002);
    for (from, to, degrees, metres) in [
        (at(60.0, 0.0), at(60.0, 10.0), 90.0, 558_000.016),
        (at(-17.0, 179.5), at(-18.0, -179.5), 136.182_60, 153_384.756),
    ] {
        let (miles, course) = rhumb_line(from, to);
        near(course.value(), degrees, 0.000_005);
        near(miles.metres(), metres, 0.001);
    }
    let (miles, course) = rhumb_line(
        at(minutes(32.0, 16.6), -minutes(68.0, 28.0)),
        at(minutes(43.0, 12.2), -minutes(55.0, 39.0)),
    );
    // A question of the USCG's examination; by the sailing's formula 042.872° and 894.56 NM \[calc\].
    near(course.value(), 42.872, 0.01);
    near(miles.0, 893.537, 0.0005);
}

// --- Current triangles ---------------------------------------------------------------------------

/// Chart-work answers as published, plotted and rounded to some five degrees ("Answers to practice
/// chart", scribd 346108670), and the same \[calc\].
#[test]
fn the_course_along_a_track_in_a_current() {
    for (track, boat, set, drift, printed, exact) in [
        (90.0, 5.0, 210.0, 2.0, (70.0, 3.7), (69.73, 3.690)),
        (45.0, 6.55, 135.0, 2.0, (25.0, 6.2), (27.22, 6.237)),
        (235.0, 6.2, 315.0, 3.5, (200.0, 5.8), (201.22, 5.761)),
        (265.0, 5.2, 70.0, 2.3, (260.0, 3.0), (258.43, 2.944)),
        (150.0, 5.3, 50.0, 3.5, (190.0, 3.4), (190.57, 3.418)),
        (20.0, 5.9, 90.0, 1.9, (0.0, 6.2), (2.39, 6.273)),
    ] {
        let (course, speed) = course_along(deg(track), Knots(boat), going(set, drift)).unwrap();
        assert!(turn(course.value(), printed.0) <= 2.5, "{course} is printed as {}", printed.0);
        near(speed.0, printed.1, 0.1);
        near(course.value(), exact.0, 0.005);
        near(speed.0, exact.1, 0.0005);
    }
    assert_eq!(course_along(deg(0.0), Knots(1.0), going(90.0, 1.1)), None, "swept aside");
    assert_eq!(course_along(deg(0.0), Knots(1.0), going(180.0, 1.1)), None, "set back");
    assert_eq!(course_along(deg(0.0), Knots(0.0), going(180.0, 1.0)), None);
}

/// What a course and a current make together: questions of the USCG's examination with \[calc\]
/// answers, and of Bowditch chapter 7 (089° at 11.2 kn and 276° at 14.8 kn: from memory).
#[test]
fn the_track_that_a_course_makes_in_a_current() {
    for (course, speed, set, drift, made, at) in [
        (160.0, 10.0, 210.0, 0.9, 163.73, 10.60),
        (80.0, 10.0, 140.0, 2.0, 88.95, 11.14),
        (265.0, 15.0, 185.0, 3.0, 276.53, 14.78),
    ] {
        let sum = match set {
            // The third asks the other way round: made good 265 at 15 through 185 at 3.
            185.0 => going(course, speed) - going(set, drift),
            _ => going(course, speed) + going(set, drift),
        };
        near(sum.towards().value(), made, 0.01);
        near(sum.speed().0, at, 0.01);
    }
    // Make good 300 at 11 kn, set 350 drift 2.1: steer 291.59. And 000 at 9.5, 082 at 1.1: 006.44.
    let (course, _) = course_along(deg(300.0), Knots(11.0), going(350.0, 2.1)).unwrap();
    near(course.value(), 291.59, 0.005);
    let made = going(0.0, 9.5) + going(82.0, 1.1);
    near(made.towards().value(), 6.44, 0.01);
    near(made.speed().0, 9.714, 0.001);
    // Ten miles due west in one hour, set 000 drift 3: 253° at 10.5 as plotted (sailnet.com).
    let steered = going(270.0, 10.0) - going(0.0, 3.0);
    near(steered.towards().value(), 253.30, 0.005);
    near(steered.speed().0, 10.44, 0.005);
}

// --- Interception --------------------------------------------------------------------------------

#[test]
fn interceptions() {
    // USCG examination: a vessel on 063 at 5 kn bears 136 at 78 miles, own speed 13. Of the answers
    // 340, 295, 158, 114 only the last fits; \[calc\] 114.42, 7.340 h, 95.42 NM.
    let found = intercept(off(136.0, 78.0), going(63.0, 5.0), Knots(13.0)).unwrap();
    near(found.course.value(), 114.42, 0.005);
    near(found.time.as_secs_f64() / 3600.0, 7.340, 0.0005);
    near(found.distance.0, 95.42, 0.005);
    // \[calc\]: a person overboard.
    let found = intercept(off(230.0, 1.2), going(90.0, 1.1), Knots(6.0)).unwrap();
    near(found.course.value(), 223.23, 0.005);
    near(found.time.as_secs_f64() / 60.0, 10.59, 0.005);
    near(found.distance.0, 1.0587, 0.000_05);
    // It runs away faster than it can be followed.
    assert_eq!(intercept(off(90.0, 1.0), going(90.0, 3.0), Knots(2.0)), None);
    // Equal speeds: towards each other, one behind the other, abeam.
    let found = intercept(off(90.0, 1.0), going(270.0, 5.0), Knots(5.0)).unwrap();
    near(found.course.value(), 90.0, 1e-6);
    near(found.time.as_secs_f64(), 360.0, 1e-6);
    assert_eq!(intercept(off(90.0, 1.0), going(90.0, 5.0), Knots(5.0)), None);
    assert_eq!(intercept(off(90.0, 1.0), going(0.0, 5.0), Knots(5.0)), None);
    // Nothing to steer with, and what is not finite.
    assert_eq!(intercept(off(90.0, 1.0), Velocity::STILL, Knots(0.0)), None);
    assert_eq!(intercept(off(90.0, 1.0), Velocity::STILL, Knots(f64::NAN)), None);
    assert_eq!(intercept(off(90.0, f64::NAN), Velocity::STILL, Knots(5.0)), None);
    // There already.
    let found = intercept(Offset::default(), going(90.0, 3.0), Knots(5.0)).unwrap();
    assert_eq!(found.time, Duration::ZERO);
}

proptest! {
    /// The solution satisfies the equation, and no earlier time does.
    #[test]
    fn an_interception_meets(
        bearing in 0.0..360.0, miles in 0.01..20.0,
        set in 0.0..360.0, drift in 0.0..4.0, speed in 0.1..20.0,
    ) {
        let (target, velocity) = (off(bearing, miles), going(set, drift));
        match intercept(target, velocity, Knots(speed)) {
            Some(found) => {
                let there = target + velocity.over(found.time);
                let way = going(found.course.value(), speed).over(found.time);
                let miss = (there - way).range().metres();
                prop_assert!(miss < 0.01 + 1e-7 * found.distance.metres(), "{miss} m");
                for part in 1..20 {
                    let earlier = found.time.mul_f64(f64::from(part) / 20.0);
                    let gap = (target + velocity.over(earlier)).range().metres();
                    let run = speed * 1852.0 / 3600.0 * earlier.as_secs_f64();
                    prop_assert!(gap > run - 1e-3, "met before: {gap} {run}");
                }
            }
            // A faster boat always gets there; a day is the limit.
            None => prop_assert!(speed < drift + 0.9, "{speed} {drift}"),
        }
    }

    /// A rhumb line of a few miles is the shortest way, to a metre and a tenth of a degree.
    #[test]
    fn a_short_rhumb_line_is_the_shortest_way(
        lat in -70.0..70.0, lon in -180.0..180.0, bearing in 0.0..360.0, miles in 0.05..5.0,
    ) {
        let from = at(lat, lon);
        let to = off(bearing, miles).from(from);
        let (rhumb, course) = rhumb_line(from, to);
        prop_assert!((rhumb.0 - miles).abs() * 1852.0 < 0.1, "{} {miles}", rhumb.0);
        prop_assert!(turn(course.value(), bearing) < 0.2, "{course} {bearing}");
    }
}

// --- Closest approach ----------------------------------------------------------------------------

/// What a target does, from two plots of it: bearing and range, minutes apart, seen from an own ship
/// that holds course and speed.
fn plotted(first: (f64, f64), second: (f64, f64), apart_min: f64, own: Velocity) -> Velocity {
    let moved = off(second.0, second.1) - off(first.0, first.1);
    let second = apart_min * 60.0;
    Velocity::new(moved.east_m / second, moved.north_m / second) + own
}

#[test]
fn closest_approaches() {
    // Swedish textbook (fritidsskepparen.com, problem 7:1); answers \[calc\].
    let own = going(180.0, 6.0);
    let target = plotted((195.0, 5.0), (200.0, 4.0), 6.0, own);
    near(target.towards().value(), 351.1, 0.1);
    near(target.speed().0, 4.77, 0.01);
    let relative = target - own;
    near(relative.towards().value(), 356.05, 0.01);
    near(relative.speed().0, 10.73, 0.01);
    let found = closest_approach(off(200.0, 4.0), target, own);
    near(found.range.0, 1.624, 0.0005);
    near(found.bearing.value(), 266.0, 0.1);
    near(found.in_s.unwrap() / 60.0, 20.4, 0.05);
    // Radar list 0600 040/8.0, 0609 037/4.25 (scribd 699452467); \[calc\] 0.473 NM, 10.1 min later.
    let target = plotted((40.0, 8.0), (37.0, 4.25), 9.0, Velocity::STILL);
    let found = closest_approach(off(37.0, 4.25), target, Velocity::STILL);
    near(found.range.0, 0.473, 0.0005);
    near(found.in_s.unwrap() / 60.0, 10.1, 0.05);
    // UK Chief Mate paper, 28 March 2006, question 5: steady bearing 305, range 2.5, collision in
    // 30 min: closing at 5.0 kn.
    let found = closest_approach(off(305.0, 2.5), going(125.0, 5.0), Velocity::STILL);
    near(found.range.0, 0.0, 1e-9);
    near(found.in_s.unwrap() / 60.0, 30.0, 1e-9);
    // \[calc\].
    let found = closest_approach(off(45.0, 2.0), going(270.0, 8.0), going(0.0, 6.0));
    near(found.range.0, 0.282_84, 0.000_005);
    near(found.bearing.value(), 323.13, 0.005);
    near(found.in_s.unwrap() / 60.0, 11.879, 0.0005);
    let past = closest_approach(off(180.0, 1.0), going(180.0, 2.0), going(0.0, 6.0));
    near(past.in_s.unwrap() / 60.0, -7.5, 1e-9);
    let still = closest_approach(off(30.0, 2.0), going(10.0, 5.0), going(10.0, 5.0));
    assert_eq!(still.in_s, None);
    near(still.range.0, 2.0, 1e-12);
}

/// Questions of the USCG's examination: a course is altered to leave a rock at a distance; what is
/// asked for is the course. The closest approach on the \[calc\] course is that distance.
#[test]
fn leaving_a_rock_at_a_distance() {
    for (course, speed, bearing, range, run_min, altered, leave) in [
        (61.0, 12.4, 59.0, 4.4, 6.0, 29.89, 1.5),
        (241.0, 18.2, 241.0, 3.9, 3.0, 221.46, 1.0),
        (254.0, 16.5, 255.0, 6.1, 6.0, 235.67, 1.5),
    ] {
        let run = off(course, speed * run_min / 60.0);
        let rock = off(bearing, range) - run;
        let found = closest_approach(rock, Velocity::STILL, going(altered, speed));
        near(found.range.0, leave, 0.001);
        assert!(found.bearing.relative_to(deg(altered)) > 0.0, "to starboard");
    }
    let rock = off(59.0, 4.4) - off(61.0, 12.4 * 6.0 / 60.0);
    near(rock.bearing().value(), 58.22, 0.005);
    near(rock.range().0, 3.161, 0.0005);
    let found = closest_approach(rock, Velocity::STILL, going(29.89, 12.4));
    near(found.in_s.unwrap() / 60.0, 13.46, 0.005);
}

// --- Variation -----------------------------------------------------------------------------------

/// WMM2025's official test values at sea level (NOAA, WMM2025testvalues.pdf, declination to 0.01°);
/// the rows at 100 km are not for ships. 2027.5 is 2 July 2027, noon: the model takes whole days.
#[test]
fn the_world_magnetic_models_test_values() {
    for (day, lat, lon, declination) in [
        ("2025-01-01", 80.0, 0.0, 1.28),
        ("2025-01-01", 0.0, 120.0, -0.16),
        ("2025-01-01", -80.0, -120.0, 68.78),
        ("2027-07-02", 80.0, 0.0, 2.59),
        ("2027-07-02", 0.0, 120.0, -0.24),
        ("2027-07-02", -80.0, -120.0, 68.49),
        // 2026.5, \[calc\] with pygeomag.
        ("2026-07-02", 50.1, -5.0, -0.34),
        ("2026-07-02", 54.5, 10.3, 4.42),
        ("2026-07-02", 36.97, -75.7, -11.12),
        ("2026-07-02", -36.8, 174.9, 20.31),
        ("2026-07-02", -33.9, 18.3, -26.66),
        ("2026-07-02", 30.0, -40.0, -11.91),
    ] {
        let day = Utc::parse_rfc3339(&format!("{day}T12:00:00Z")).unwrap();
        near(variation(at(lat, lon), day).unwrap(), declination, 0.011);
    }
}

#[test]
fn there_is_no_variation_without_a_model_or_at_a_magnetic_pole() {
    let day = |text: &str| Utc::parse_rfc3339(text).unwrap();
    assert_eq!(variation(at(50.0, 0.0), Utc::EPOCH), None);
    assert_eq!(variation(at(50.0, 0.0), day("2030-01-02T00:00:00Z")), None);
    // Where the horizontal field of WMM2025 is least in the middle of 2026 \[calc\].
    assert_eq!(variation(at(85.45, 134.4), day("2026-07-02T00:00:00Z")), None);
}

// --- Leeway --------------------------------------------------------------------------------------

/// \[calc\] rows for the list of leeway objects of 2011-08-25: DWL, CWL right, CWL left at 10, 20 and
/// 30 kn, and one standard deviation of the DWL; all in knots.
#[test]
fn leeway_by_components() {
    for (leeway, at_10, at_20, at_30, deviation) in [
        (
            Leeway::UNKNOWN,
            (0.096, 0.054, -0.054),
            (0.192, 0.108, -0.108),
            (0.288, 0.162, -0.162),
            0.233,
        ),
        (
            Leeway::VERTICAL,
            (0.048, 0.015, -0.015),
            (0.096, 0.030, -0.030),
            (0.144, 0.045, -0.045),
            0.161,
        ),
        (
            Leeway::SITTING,
            (0.083, 0.019, -0.019),
            (0.243, 0.032, -0.032),
            (0.403, 0.045, -0.045),
            0.047,
        ),
        (
            Leeway::SURVIVAL_SUIT,
            (0.193, 0.072, -0.065),
            (0.364, 0.208, -0.078),
            (0.535, 0.344, -0.091),
            0.076,
        ),
        (
            Leeway::DIVING_SUIT,
            (0.063, 0.031, -0.031),
            (0.126, 0.062, -0.062),
            (0.189, 0.093, -0.093),
            0.103,
        ),
        (
            Leeway::DECEASED,
            (0.310, 0.080, -0.080),
            (0.422, 0.084, -0.084),
            (0.533, 0.088, -0.088),
            0.059,
        ),
    ] {
        for (wind, wanted) in [(10.0, at_10), (20.0, at_20), (30.0, at_30)] {
            let (down, right, left) = leeway.components(Knots(wind));
            near(down.0, wanted.0, 0.0005);
            near(right.0, wanted.1, 0.0005);
            near(left.0, wanted.2, 0.0005);
        }
        near(leeway.downwind.deviation / 100.0 / 0.514_444, deviation, 0.0005);
    }
    // Below 4.84 kn the line for one who sits would lead against the wind.
    near(Leeway::SITTING.components(Knots(5.0)).0.0, 0.003, 0.0005);
    assert_eq!(Leeway::SITTING.components(Knots(4.8)).0, Knots(0.0));
}

/// The manual's method: Australian National SAR Manual 2023, table D-5:1; speeds at 10, 20 and 30 kn
/// \[calc\].
#[test]
fn leeway_by_the_manual() {
    for (leeway, at_10, at_20, at_30) in [
        (ManualLeeway::UNKNOWN, 0.180, 0.290, 0.400),
        (ManualLeeway::VERTICAL, 0.120, 0.170, 0.220),
        (ManualLeeway::SITTING, 0.120, 0.240, 0.360),
        (ManualLeeway::SURVIVAL_SUIT, 0.240, 0.380, 0.520),
        (ManualLeeway::DIVING_SUIT, 0.150, 0.220, 0.290),
        (ManualLeeway::DECEASED, 0.230, 0.380, 0.530),
    ] {
        for (wind, wanted) in [(10.0, at_10), (20.0, at_20), (30.0, at_30)] {
            near(leeway.speed(Knots(wind)).0, wanted, 1e-9);
        }
    }
}

/// \[calc\]: 50 N 5 W, wind 240 at 20 kn, current 090 at 1.0 kn, half an hour.
#[test]
fn a_worked_datum_of_the_manual() {
    let start = at(50.0, -5.0);
    let current = going(90.0, 1.0);
    let (left, right) = ManualLeeway::UNKNOWN.branches(deg(240.0), Knots(20.0));
    let half_hour = Duration::from_secs(1800);
    for (branch, towards, rate, miles, lat, lon) in [
        (left, 77.63, 1.1722, 0.5861, 50.002_090, -4.985_211),
        (right, 90.00, 1.2900, 0.6450, 49.999_999, -4.983_339),
    ] {
        let drift = current + branch;
        near(drift.towards().value(), towards, 0.005);
        near(drift.speed().0, rate, 0.000_05);
        let way = drift.over(half_hour);
        near(way.range().0, miles, 0.000_05);
        let datum = way.from(start);
        near(datum.lat(), lat, 0.000_000_6);
        near(datum.lon(), lon, 0.000_000_6);
    }
    near(left.towards().value(), 30.0, 1e-9);
    near(right.towards().value(), 90.0, 1e-9);
    near((right - left).over(half_hour).range().0, 0.1450, 0.000_05);
}

// --- Errors and radii ----------------------------------------------------------------------------

/// \[calc\]: X = Y = 0.1 NM, errors 0.3, 0.3 and 0.2 kn.
#[test]
fn the_probable_error_grows() {
    let drift = total_drift_error(Knots(0.3), Knots(0.3), Knots(0.2));
    near(drift.0, 0.4690, 0.000_05);
    near(total_drift_error(Knots(0.3), Knots(0.3), Knots(0.1)).0, 0.4359, 0.000_05);
    near(total_drift_error(Knots(0.3), Knots(0.3), Knots(0.3)).0, 0.5196, 0.000_05);
    let x = NauticalMiles(0.1);
    for (hours, error, radii) in [
        (0.1, 0.149, [0.164, 0.238, 0.298, 0.343, 0.372]),
        (0.25, 0.184, [0.202, 0.294, 0.367, 0.423, 0.459]),
        (0.5, 0.274, [0.301, 0.438, 0.548, 0.630, 0.685]),
        (1.0, 0.490, [0.539, 0.784, 0.980, 1.127, 1.225]),
        (2.0, 0.949, [1.044, 1.518, 1.897, 2.182, 2.372]),
        (3.0, 1.414, [1.556, 2.263, 2.828, 3.253, 3.536]),
        (6.0, 2.818, [3.100, 4.508, 5.636, 6.481, 7.045]),
    ] {
        let found = probable_error(x, x, drift, Duration::from_secs_f64(hours * 3600.0));
        near(found.0, error, 0.000_51);
        // The radius of the n-th search: 1.1, 1.6, 2.0, 2.3, 2.5 times as much (Australian National
        // SAR Manual, table 3-2).
        for (factor, radius) in [1.1, 1.6, 2.0, 2.3, 2.5].into_iter().zip(radii) {
            near(factor * found.0, radius, 0.001);
        }
    }
}

/// The circle of a circular normal that holds 50 % and 95 %: 1.1774 and 2.4477 standard deviations.
#[test]
fn the_circles() {
    use overside::navigation::{CIRCLE_50, CIRCLE_95};
    near(CIRCLE_50, 1.1774, 0.000_05);
    near(CIRCLE_95, 2.4477, 0.000_05);
    for (radius, share) in [(CIRCLE_50, 0.5), (CIRCLE_95, 0.95)] {
        near(1.0 - (-radius * radius / 2.0_f64).exp(), share, 1e-12);
    }
    // A drift that wanders 0.1 kn in ten minutes: 6, 18, 93, 262 m \[calc\].
    for (minutes, metres) in [(5.0, 6.0), (10.0, 18.0), (30.0, 93.0), (60.0, 262.0)] {
        near(wandered(minutes * 60.0), metres, 0.51);
    }
}

// --- Drift ---------------------------------------------------------------------------------------

/// Fixes at 50 N 5 W, a minute apart, in ten-thousandths of a minute as AIS tells them; truth 077.0°
/// at 1.10 kn. All of it \[calc\].
fn six_fixes() -> Vec<(Mono, Position)> {
    let raw = [
        (30_000_000, -3_000_000),
        (30_000_041, -2_999_723),
        (30_000_082, -2_999_446),
        (30_000_124, -2_999_169),
        (30_000_165, -2_998_893),
        (30_000_206, -2_998_616),
    ];
    let place = |(lat, lon): (i32, i32)| at(f64::from(lat) / 600_000.0, f64::from(lon) / 600_000.0);
    (0..).zip(raw).map(|(minute, raw)| (seconds(60 * minute), place(raw))).collect()
}

#[test]
fn the_drift_of_six_fixes() {
    let fixes = six_fixes();
    let drift = Drift::fit(&fixes).unwrap();
    // Computed in metres at the middle latitude: the ellipsoid's differ in the fifth figure.
    near(drift.velocity.east(), 0.551_20, 0.000_01);
    near(drift.velocity.north(), 0.127_47, 0.000_01);
    near(drift.velocity.towards().value(), 76.98, 0.005);
    near(drift.velocity.speed().0, 1.0997, 0.000_05);
    assert_eq!((drift.fixes, drift.span), (6, Duration::from_secs(300)));
    let miss = Offset::between(fixes[5].1, drift.position);
    near(miss.east_m, 0.011, 0.001);
    near(miss.north_m, 0.026, 0.001);
    near(drift.rate_sd().0, 0.0774, 0.000_05);
    for (later, lat, lon, metres, towards) in
        [(300, 50.000_687, -4.995_387, 169.7, 76.97), (1800, 50.002_406, -4.983_854, 1018.4, 76.98)]
    {
        let (place, _) = drift.at(drift.at + Duration::from_secs(later));
        near(place.lat(), lat, 0.000_001);
        near(place.lon(), lon, 0.000_001);
        let way = Offset::between(fixes[5].1, place);
        near(way.range().metres(), metres, 0.051);
        near(way.bearing().value(), towards, 0.0051);
    }
    for (later, metres) in
        [(0, 7.2), (60, 9.3), (300, 18.4), (600, 30.2), (1800, 77.8), (3600, 149.5)]
    {
        let (_, off) = drift.at(drift.at + Duration::from_secs(later));
        near(off.metres(), metres, 0.051);
    }
}

/// \[calc\]: the standard deviation of the rate and of the place some minutes after the last of N
/// fixes a minute apart, 10 m each.
#[test]
fn more_fixes_make_a_drift_surer() {
    for (count, rate, places) in [
        (3, 0.229, [15.0, 43.0, 78.0, 219.0, 431.0]),
        (4, 0.145, [12.0, 29.0, 52.0, 141.0, 275.0]),
        (5, 0.102, [10.0, 23.0, 38.0, 101.0, 196.0]),
        (6, 0.077, [9.0, 18.0, 30.0, 78.0, 149.0]),
        (10, 0.036, [7.0, 11.0, 16.0, 38.0, 71.0]),
        (20, 0.013, [5.0, 6.0, 8.0, 15.0, 27.0]),
    ] {
        let place = at(50.0, -5.0);
        let fixes: Vec<_> = (0..count).map(|minute| (seconds(60 * minute), place)).collect();
        let drift = Drift::fit(&fixes).unwrap();
        near(drift.rate_sd().0, rate, 0.000_51);
        for (minutes, metres) in [1, 5, 10, 30, 60].into_iter().zip(places) {
            let (_, off) = drift.at(drift.at + Duration::from_secs(60 * minutes));
            near(off.metres(), metres, 0.51);
        }
    }
}

#[test]
fn too_few_fixes_make_no_drift() {
    let fixes = six_fixes();
    assert_eq!(Drift::fit(&fixes[..2]), None);
    assert_eq!(Drift::fit(&[]), None);
    let quick: Vec<_> = (0..4).map(|n| (seconds(20 * n), at(50.0, -5.0))).collect();
    assert_eq!(Drift::fit(&quick), None, "a minute is too short");
}

#[test]
fn one_fix_a_minute_counts_and_a_jump_does_not() {
    let mut fixes = Fixes::default();
    for (at, place) in six_fixes() {
        for message in 0..8 {
            fixes.note(at + Duration::from_secs(2 * message), place);
        }
    }
    let drift = fixes.drift().unwrap();
    assert_eq!(drift.fixes, 6);
    near(drift.velocity.speed().0, 1.0997, 0.000_05);
    // Two miles off in a minute, once: left out.
    fixes.note(seconds(360), off(10.0, 2.0).from(at(50.0, -5.0)));
    assert_eq!(fixes.drift().unwrap(), drift);
    // If the next one is there too, the others were wrong.
    let there = off(10.0, 2.0).from(at(50.0, -5.0));
    fixes.note(seconds(420), off(10.0, 0.01).from(there));
    assert_eq!(fixes.drift(), None, "two fixes are too few");
    fixes.note(seconds(480), off(10.0, 0.02).from(there));
    assert_eq!(fixes.drift().unwrap().fixes, 3);
}

// --- Datum ---------------------------------------------------------------------------------------

#[test]
fn a_datum_of_fixes_is_where_the_drift_leads() {
    let fixes = six_fixes();
    let drift = Drift::fit(&fixes);
    let (last, place) = fixes[5];
    let mut datum = Datum::begin(place, last, drift);
    assert_eq!(datum.basis, Basis::Fixes);
    // Wind and current are in the drift already: they change nothing.
    let wind = Some(Wind { from: deg(0.0), speed: Knots(30.0) });
    for minute in 1..=30 {
        datum.go_on(last + Duration::from_secs(60 * minute), wind, Some(going(180.0, 3.0)));
    }
    near(datum.position.lat(), 50.002_406, 0.000_001);
    near(datum.position.lon(), -4.983_854, 0.000_001);
    // 77.8 m of the fit and 93 m of a drift that wanders, as one: 121 m; half are within 1.1774 times
    // that.
    near(datum.radius50.metres(), 1.1774 * 121.2, 1.0);
    // After half an hour the manuals' 0.3 kn are more.
    datum.go_on(last + Duration::from_secs(3600), None, None);
    near(datum.radius50.0, 0.3 * 1.0, 0.02);
}

#[test]
fn a_datum_of_leeway_goes_down_the_wind_with_the_current() {
    let place = at(50.0, -5.0);
    let mut datum = Datum::begin(place, Mono::START, None);
    assert_eq!(datum.basis, Basis::LastPosition);
    let wind = Some(Wind { from: deg(240.0), speed: Knots(20.0) });
    for minute in 1..=30 {
        datum.go_on(seconds(60 * minute), wind, Some(going(90.0, 1.0)));
    }
    assert_eq!(datum.basis, Basis::Leeway);
    // 0.192 kn down the wind (PIW-1 at 20 kn \[calc\]), left and right of it alike.
    let drift = going(60.0, 0.192) + going(90.0, 1.0);
    near(datum.velocity.speed().0, drift.speed().0, 0.001);
    let miss = Offset::between(drift.over(Duration::from_secs(1800)).from(place), datum.position);
    assert!(miss.range().metres() < 1.0, "{miss:?}");
    // Errors 0.3 of the wind, 0.3 of the water, 0.35 of the leeway (IAMSAR volume II, figure N-2, as
    // transcribed, person in the water, state unknown); 0.108 kn to either side.
    let error = probable_error(
        NauticalMiles::from_metres(11.774),
        NauticalMiles::from_metres(11.774),
        total_drift_error(Knots(0.3), Knots(0.3), Knots(0.35)),
        Duration::from_secs(1800),
    );
    near(datum.radius50.0, error.0 + 0.054, 0.001);
    near(datum.radius95.0, error.0 * 2.0789 + 0.054, 0.002);
}

/// Drift errors by IAMSAR, as transcribed: 0.3 kn each for the wind and for each part of the current,
/// of which an unknown one has four, and 0.35 kn for the leeway: 0.55 kn, or 0.76 with an unknown
/// current. Without a wind the leeway's is 0.4 kn, our own.
#[test]
fn a_current_that_nobody_knows_has_four_parts() {
    let calm = Wind { from: deg(0.0), speed: Knots(0.0) };
    for (wind, current, error) in
        [(Some(calm), Some(Velocity::STILL), 0.55), (Some(calm), None, 0.756), (None, None, 0.781)]
    {
        let mut datum = Datum::begin(at(50.0, -5.0), Mono::START, None);
        datum.go_on(seconds(10 * 3600), wind, current);
        // After ten hours the error of the start is nothing beside it; two lines of the leeway lie
        // a little apart without any wind.
        let apart = Leeway::UNKNOWN.branches(deg(0.0), Knots(0.0));
        let apart = if wind.is_some() { (apart.1 - apart.0).speed().0 / 2.0 } else { 0.0 };
        near(datum.radius50.0 / 10.0, error + apart, 0.002);
    }
}

#[test]
fn a_datum_of_the_last_position_stays_and_grows_faster() {
    let place = at(50.0, -5.0);
    let wind = Some(Wind { from: deg(240.0), speed: Knots(20.0) });
    let mut alone = Datum::begin(place, Mono::START, None);
    let mut with_both = alone;
    alone.go_on(seconds(1800), None, None);
    with_both.go_on(seconds(1800), wind, Some(Velocity::STILL));
    assert_eq!((alone.basis, alone.position), (Basis::LastPosition, place));
    assert!(alone.radius95 > with_both.radius95);
}

proptest! {
    /// While a casualty is silent no radius shrinks, whatever wind and current come and go.
    #[test]
    fn radii_never_shrink(
        has_drift: bool,
        steps in proptest::collection::vec(
            (1_u64..600, proptest::option::of((0.0..360.0, 0.0..60.0)), proptest::option::of((0.0..360.0, 0.0..5.0))),
            1..40,
        ),
    ) {
        let fixes = six_fixes();
        let drift = Drift::fit(&fixes).filter(|_| has_drift);
        let mut datum = Datum::begin(fixes[5].1, fixes[5].0, drift);
        for (step, wind, current) in steps {
            let before = datum;
            let wind = wind.map(|(from, speed)| Wind { from: deg(from), speed: Knots(speed) });
            datum.go_on(before.at + Duration::from_secs(step), wind, current.map(|(set, rate)| going(set, rate)));
            prop_assert!(datum.radius50 >= before.radius50 && datum.radius95 >= before.radius95);
            prop_assert!(datum.radius95 > datum.radius50);
        }
    }
}

// --- Wind, current, way --------------------------------------------------------------------------

#[test]
fn the_wind_felt_on_board_is_turned_to_true() {
    // A boat that goes north at 6 kn into a wind of 8 feels 14 from ahead; one that goes east at 6 in a
    // northerly of 8 feels 10 from 53.13° (3, 4, 5).
    let wind = true_wind(deg(0.0), 0.0, Knots(14.0), going(0.0, 6.0));
    near(wind.speed.0, 8.0, 1e-9);
    near(wind.from.value(), 0.0, 1e-9);
    let wind = true_wind(deg(90.0), 306.869_897_645_844, Knots(10.0), going(90.0, 6.0));
    near(wind.speed.0, 8.0, 1e-9);
    near(turn(wind.from.value(), 0.0), 0.0, 1e-9);
    // A theoretical wind needs no motion: heading 043.5 and 215.0 from the bow are 258.5.
    let wind = true_wind(deg(43.5), 215.0, Knots(18.4), Velocity::STILL);
    near(wind.from.value(), 258.5, 1e-9);
}

/// Own ship at 50 N 5 W, which makes 000° at 6 kn over ground.
fn own_ship(with: impl FnOnce(&mut OwnShip)) -> OwnShip {
    let mut own = OwnShip::default();
    with(&mut own);
    own.note_fix(Fix {
        at: seconds(1),
        position: at(50.0, -5.0),
        sog: Some(Knots(6.0)),
        cog: Some(deg(0.0)),
        grade: Grade::Satellite,
        source: 1,
    });
    own
}

fn way(own: &OwnShip, target: Position, drift: Option<Velocity>) -> Way {
    Way::to(target, drift, own, at(50.0, -5.0), seconds(1), Knots(4.0))
}

#[test]
fn the_way_over_ground_of_a_boat_with_nothing_but_gnss() {
    let own = own_ship(|_| {});
    let target = off(230.0, 1.2).from(at(50.0, -5.0));
    let found = way(&own, target, Some(going(90.0, 1.1)));
    // The worked case above \[calc\].
    let steer = found.steer.unwrap();
    near(steer.course.value(), 223.23, 0.02);
    near(steer.time.as_secs_f64() / 60.0, 10.59, 0.005);
    near(steer.turn.unwrap(), -136.77, 0.02);
    assert_eq!(found.medium, Medium::Ground);
    assert_eq!(found.relative.unwrap().1, AheadFrom::CourseOverGround);
    near(found.relative.unwrap().0, -130.0, 0.01);
    assert_eq!((found.magnetic, steer.magnetic), (None, None));
    assert!(found.steer_at_set_speed.unwrap().time > steer.time);
    assert!(found.approach.unwrap().in_s.unwrap() < 0.0, "it opens");
}

#[test]
fn with_heading_and_log_the_current_is_taken_out() {
    // The log says 5 kn due north, and she makes 6: a knot of current to the north.
    let own = own_ship(|own| {
        own.note_heading(seconds(1), deg(0.0));
        own.note_water_speed(seconds(1), Knots(5.0));
        own.note_variation(seconds(1), -3.0);
    });
    let current = own.current(seconds(1)).unwrap();
    near(current.speed().0, 1.0, 1e-9);
    near(current.towards().value(), 0.0, 1e-9);
    // Somebody who floats along with it is steered for as in still water.
    let target = off(90.0, 0.5).from(at(50.0, -5.0));
    for drift in [None, Some(going(0.0, 1.0))] {
        let found = way(&own, target, drift);
        assert_eq!(found.medium, Medium::Water);
        let steer = found.steer.unwrap();
        near(steer.course.value(), 90.0, 0.01);
        near(steer.time.as_secs_f64(), 360.0, 0.1);
        near(steer.magnetic.unwrap().value(), 93.0, 0.01);
        near(steer.turn.unwrap(), 90.0, 0.01);
        assert_eq!(found.relative.unwrap().1, AheadFrom::Heading);
    }
    // Somebody held where he is by a buoy is steered for against it.
    let found = way(&own, target, Some(Velocity::STILL)).steer.unwrap();
    let (course, made_good) = course_along(deg(90.0), Knots(5.0), current).unwrap();
    near(found.course.value(), course.value(), 0.01);
    near(found.time.as_secs_f64(), 0.5 / made_good.0 * 3600.0, 0.1);
}

#[test]
fn a_compass_without_a_variation_takes_that_of_the_model() {
    let mut own = OwnShip::default();
    own.note_magnetic_heading(seconds(0), deg(100.0));
    assert_eq!(own.ahead(seconds(0)), None);
    assert!(own.wants_model_variation(seconds(0)));
    own.note_model_variation(seconds(0), 4.4);
    assert!(!own.wants_model_variation(seconds(0)));
    assert_eq!(own.ahead(seconds(0)), Some((deg(104.4), AheadFrom::MagneticHeadingAndModel)));
    own.note_variation(seconds(0), 5.0);
    assert_eq!(own.ahead(seconds(0)), Some((deg(105.0), AheadFrom::MagneticHeading)));
}

#[test]
fn a_boat_that_lies_still_has_no_course_and_no_way() {
    let mut own = OwnShip::default();
    own.note_course_and_speed(seconds(1), None, Some(Knots(0.0)));
    let found = way(&own, off(230.0, 1.2).from(at(50.0, -5.0)), None);
    assert_eq!((found.steer, found.relative), (None, None));
    near(found.steer_at_set_speed.unwrap().time.as_secs_f64(), 1.2 / 4.0 * 3600.0, 1.0);
    // Faster away than she is: no solution.
    let own = own_ship(|_| {});
    let found = way(&own, off(0.0, 1.0).from(at(50.0, -5.0)), Some(going(0.0, 7.0)));
    assert_eq!((found.steer, found.steer_at_set_speed), (None, None));
}

// --- Range ---------------------------------------------------------------------------------------

/// 2.2 (√h1 + √h2) \[calc\]; the example of the course book (utsidan.se), 9 m and 400 m: 51 NM.
#[test]
fn the_radio_horizon() {
    near(radio_horizon(9.0, 400.0).0, 51.0, 0.5);
    for (beacon, ship, miles) in [
        (0.1, 15.0, 9.2),
        (0.2, 15.0, 9.5),
        (0.5, 15.0, 10.1),
        (1.0, 15.0, 10.7),
        (0.1, 4.0, 5.1),
        (0.1, 2.0, 3.8),
        (0.2, 18.0, 10.3),
        (1.0, 4.0, 6.6),
    ] {
        near(radio_horizon(beacon, ship).0, miles, 0.051);
    }
    // The requirement for AIS-SART: 5 NM from 1 m to 16 m.
    near(working_range(radio_horizon(1.0, 16.0)).0, 5.0, 0.05);
    near(working_range(radio_horizon(0.2, 15.0)).0, 4.3, 0.05);
    near(working_range(radio_horizon(0.2, 4.0)).0, 2.4, 0.1);
    near(working_range(radio_horizon(0.1, 2.0)).0, 1.7, 0.05);
    assert_eq!(radio_horizon(f64::NAN, -1.0).0, 0.0);
}

// --- Speed, time, distance -----------------------------------------------------------------------

/// Bowditch (2024) volume II, table 11: minutes at a speed, and the miles.
#[test]
fn distance_by_speed_and_time() {
    for (minutes, knots, miles) in [(60, 12.0, 12.0), (45, 8.5, 6.4), (7, 40.0, 4.7)] {
        let way = going(77.0, knots).over(Duration::from_secs(60 * minutes));
        near(way.range().0, miles, 0.051);
    }
}

/// A great circle on a sphere is not what a ship's position needs: the published lines of the UK
/// Chief Mate paper of 28 March 2006 (60 NM to a degree) and the geodesics of WGS-84 \[calc\].
#[test]
fn geodesics_of_an_ocean() {
    use overside::navigation::range_and_bearing;
    let places = [
        at(30.0, -minutes(79.0, 40.0)),
        at(36.0, -50.0),
        at(40.0, -40.0),
        at(minutes(61.0, 14.0), -minutes(6.0, 40.0)),
    ];
    for (leg, sphere, exact, course) in
        [(0, 1529.2, 1533.09, 68.52), (1, 529.8, 530.96, 60.07), (2, 1762.2, 1766.38, 32.63)]
    {
        let (range, bearing) = range_and_bearing(places[leg], places[leg + 1]);
        near(range.0, exact, 0.005);
        assert!((range.0 - sphere).abs() / sphere < 0.004, "within the flattening");
        assert!(turn(bearing.value(), course) < 0.2, "{bearing} {course}");
    }
}
