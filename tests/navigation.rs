//! Range, bearing and destination against published lines on the WGS-84 ellipsoid.
//!
//! Rows marked \[calc\] were computed with GeographicLib's own Python package, geographiclib 2.1,
//! and not with this program or the library it uses.

use overside::navigation::{Position, destination, range_and_bearing};
use overside::units::{Degrees, NauticalMiles};

#[track_caller]
#[expect(clippy::unwrap_used, reason = "the rows of a test are real places")]
fn at(lat: f64, lon: f64) -> Position {
    Position::new(lat, lon).unwrap()
}

/// Degrees, minutes and seconds, without sign.
fn dms(degrees: f64, minutes: f64, seconds: f64) -> f64 {
    degrees + minutes / 60.0 + seconds / 3600.0
}

/// The difference of two directions or longitudes, whichever way round is shorter.
fn turn(a: f64, b: f64) -> f64 {
    let turn = (a - b).rem_euclid(360.0);
    turn.min(360.0 - turn)
}

#[track_caller]
fn assert_line(from: Position, to: Position, (metres, within_m): (f64, f64), azimuth: (f64, f64)) {
    let (range, bearing) = range_and_bearing(from, to);
    let off = (range.metres() - metres).abs();
    assert!(off <= within_m, "{from} to {to}: {} m, not {metres}", range.metres());
    let off = turn(bearing.value(), azimuth.0);
    assert!(off <= azimuth.1, "{from} to {to}: {}°, not {}", bearing.value(), azimuth.0);
}

#[track_caller]
fn assert_destination(from: Position, bearing: f64, metres: f64, to: (f64, f64), within: f64) {
    let found = destination(from, Degrees::new(bearing), NauticalMiles::from_metres(metres));
    assert!((found.lat() - to.0).abs() <= within, "latitude {}, not {}", found.lat(), to.0);
    assert!(turn(found.lon(), to.1) <= within, "longitude {}, not {}", found.lon(), to.1);
}

/// Geoscience Australia's sample line, Flinders Peak to Buninyong: 54 972.271 m,
/// forward azimuth 306° 52' 05.37", reverse azimuth 127° 10' 25.07".
/// Tolerances are the last printed figure: 1 mm, 0.01 seconds of arc.
#[test]
fn flinders_peak_to_buninyong() {
    let flinders_peak = at(-dms(37.0, 57.0, 3.720_30), dms(144.0, 25.0, 29.524_40));
    let buninyong = at(-dms(37.0, 39.0, 10.156_10), dms(143.0, 55.0, 35.383_90));
    let metres = (54_972.271, 0.001);
    let second = 0.01 / 3600.0;
    assert_line(flinders_peak, buninyong, metres, (dms(306.0, 52.0, 5.37), second));
    assert_line(buninyong, flinders_peak, metres, (dms(127.0, 10.0, 25.07), second));
    // The same line from its start: the coordinates have five decimals of a second, 0.3 mm.
    let there = (buninyong.lat(), buninyong.lon());
    let second = 0.000_05 / 3600.0;
    assert_destination(flinders_peak, dms(306.0, 52.0, 5.373_1), 54_972.271_1, there, second);
}

/// GeographicLib's own tests (geographiclib 2.1, geographiclib/test/test_geodesic.py): GeodSolve0
/// and GeodSolve1, with that file's tolerances.
#[test]
fn geographiclibs_first_two_cases() {
    let (new_york, paris) = (at(40.6, -73.8), at(49.016_666_67, 2.55));
    assert_line(new_york, paris, (5_853_226.0, 0.5), (53.470_22, 0.5e-5));
    // The reverse bearing is the azimuth on arrival, 111.59367, turned round.
    assert_line(paris, new_york, (5_853_226.0, 0.5), (291.593_67, 0.5e-5));
    let from = at(40.639_722_22, -73.778_888_89);
    assert_destination(from, 53.5, 5_850_000.0, (49.014_67, 2.561_06), 0.5e-5);
}

/// Three lines of the table in the same file: lat1 lon1 azi1 lat2 lon2 azi2 s12. Its tolerances
/// are 1e-13 degrees and 1e-8 m; ten times as much is left for angles, whose turn into 0..360 and
/// ±180 costs a rounding each.
#[test]
fn geographiclibs_table() {
    let table = [
        (
            35.60777,
            -139.44815,
            111.098_748_429_560_33,
            -11.17491,
            -69.95921,
            129.289_270_889_708_76,
            8_935_244.560_481_83,
        ),
        (
            55.52454,
            106.05087,
            22.020_059_880_982_8,
            77.03196,
            197.18234,
            109.112_041_110_671_52,
            4_105_086.171_392_441,
        ),
        (
            -21.97856,
            142.59065,
            -32.444_568_764_331_89,
            41.84138,
            98.56635,
            -41.843_599_514_404_66,
            8_394_328.894_657_671,
        ),
    ];
    for (lat1, lon1, azimuth1, lat2, lon2, azimuth2, metres) in table {
        let (from, to) = (at(lat1, lon1), at(lat2, if lon2 > 180.0 { lon2 - 360.0 } else { lon2 }));
        assert_line(from, to, (metres, 1e-8), (azimuth1, 1e-12));
        assert_line(to, from, (metres, 1e-8), (azimuth2 + 180.0, 1e-12));
        assert_destination(from, azimuth1, metres, (lat2, lon2), 1e-12);
    }
}

/// Ranges of a man overboard, and awkward places. \[calc\], to the last figure given: 0.1 mm and
/// 1e-8 degrees, half of it for rounding.
#[test]
fn short_lines_and_awkward_ones() {
    let minute = 1.0 / 60.0;
    for (from, to, metres, miles, azimuth) in [
        (at(50.0, -1.5), at(50.0 + 0.1 * minute, -1.5), 185.3818, 0.100_098, 0.0),
        (at(50.0, -1.5), at(50.005_895, -1.490_833), 928.3543, 0.501_271, 45.061_911_89),
        (at(-17.0, 179.999), at(-17.0, -179.999), 212.9717, 0.114_995, 90.000_292_37),
        (at(89.9, 0.0), at(89.9, 90.0), 15_795.909_9, 8.529_109, 45.000_043_63),
        (at(0.0, 0.0), at(0.5, 179.7), 19_944_127.420_8, 10_768.967_290, 15.556_882_79),
        (at(60.0, 0.0), at(60.0, minute), 930.0000, 0.502_160, 89.992_783_12),
    ] {
        assert_line(from, to, (metres, 0.000_05), (azimuth, 0.5e-8));
        let (range, _) = range_and_bearing(from, to);
        assert!((range.0 - miles).abs() <= 0.5e-6, "{} NM, not {miles}", range.0);
    }
}

/// How long the minute of latitude north of a parallel is. \[calc\], metres to three decimals.
#[test]
fn a_minute_of_latitude_grows_towards_the_pole() {
    for (lat, metres) in [(0.0, 1842.905), (45.0, 1852.199), (60.0, 1856.874)] {
        assert_line(at(lat, 5.0), at(lat + 1.0 / 60.0, 5.0), (metres, 0.0005), (0.0, 1e-9));
    }
}

/// \[calc\], to nine decimals of a degree: a tenth of a millimetre.
#[test]
fn destinations() {
    let channel = at(50.0, -1.5);
    assert_destination(channel, 45.0, 926.0, (50.005_886_416, -1.490_866_114), 0.5e-9);
    assert_destination(channel, 225.0, 1852.0, (49.988_224_994, -1.518_261_082), 0.5e-9);
    assert_destination(at(0.0, 179.99), 90.0, 3704.0, (0.0, -179.976_726_402), 0.5e-9);
    let sydney = at(-33.85, 151.3);
    assert_destination(sydney, 300.0, 9260.0, (-33.808_227_515, 151.213_389_858), 0.5e-9);
}

/// Over the date line either way the longitude stays within ±180, and the way back is the same.
#[test]
fn the_date_line_is_no_edge() {
    let (east, west) = (at(-17.0, 179.999), at(-17.0, -179.999));
    for (from, bearing, beyond) in [(east, 90.0, -1.0), (west, 270.0, 1.0)] {
        let there = destination(from, Degrees::new(bearing), NauticalMiles(1.0));
        assert!(there.lon().abs() <= 180.0 && there.lon().signum() == beyond, "{there}");
        let (range, _) = range_and_bearing(there, from);
        assert!((range.metres() - 1852.0).abs() < 1e-6, "{} m", range.metres());
    }
}

/// From a pole every way leads along a meridian: by convention the bearing is reckoned from the
/// meridian of the longitude given, as GeographicLib does.
#[test]
fn the_poles_are_places() {
    let (north, south) = (at(90.0, 0.0), at(-90.0, 0.0));
    let (half_meridian, _) = range_and_bearing(north, south);
    // Twice the WGS-84 meridian quadrant, 10 001 965.729 m: [calc] from its axes.
    assert!((half_meridian.metres() - 20_003_931.459).abs() < 0.001, "{}", half_meridian.metres());
    // One mile over the pole and a mile beyond it: 180 degrees of longitude further.
    let before = destination(north, Degrees::new(180.0), NauticalMiles(1.0));
    let beyond = destination(before, Degrees::new(0.0), NauticalMiles(2.0));
    assert!((beyond.lat() - before.lat()).abs() < 1e-10);
    assert!((turn(beyond.lon(), before.lon()) - 180.0).abs() < 1e-6, "{before} {beyond}");
    // A pole has one place and many longitudes.
    let (range, _) = range_and_bearing(north, at(90.0, 135.0));
    assert!(range.metres() < 1e-6, "{}", range.metres());
}

/// Coincident points, under one name or two, are no distance apart.
#[test]
fn coincident_points_have_no_range() {
    for (a, b) in [
        (at(57.7, 10.6), at(57.7, 10.6)),
        (at(-57.7, -10.6), at(-57.7, -10.6)),
        (at(0.0, 0.0), at(-0.0, -0.0)),
        (at(10.0, 180.0), at(10.0, -180.0)),
        (at(90.0, 12.0), at(90.0, 12.0)),
        (at(-90.0, 0.0), at(-90.0, 0.0)),
    ] {
        let (range, bearing) = range_and_bearing(a, b);
        assert_eq!((range.0, bearing.value()), (0.0, 0.0), "{a} {b}");
        assert_destination(a, 77.0, 0.0, (a.lat(), a.lon()), 1e-12);
    }
}

/// What is not finite leads nowhere, and nothing panics.
#[test]
fn a_range_without_end_leads_nowhere() {
    let here = at(50.0, -1.5);
    for range in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert_eq!(destination(here, Degrees::new(10.0), NauticalMiles(range)), here);
    }
    assert_eq!(destination(here, Degrees::new(f64::NAN), NauticalMiles(1.0)), here);
    destination(here, Degrees::new(10.0), NauticalMiles(f64::MAX));
}
