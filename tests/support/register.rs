//! A register with everything in it: persons with and without beacons, spares, a second beacon.

/// The configuration of a fictional yacht.
pub const FULL: &str = r#"
[vessel]
name = "Fictional yacht"
mmsi = 200000000
persons_aboard = 4

[[person]]
name = "Skipper"

[[person]]
name = "Mate"

[[person]]
name = "Guest"

[[lifejacket]]
name = "jacket 1"
service_due = "2027-04"
cylinder_weighed = "2026-10-02"

[[lifejacket]]
name = "jacket 2"
service_due = "2026-10"

[[lifejacket]]
name = "jacket 3"

[[beacon]]
mmsi = 972000016
holder = "Skipper"
fitted_to = "jacket 1"
battery_expires = "2029-05"
test_every_months = 6

[[beacon]]
mmsi = 972000017
holder = "Mate"
fitted_to = "jacket 2"
battery_expires = "2026-12-10"
test_every_months = 6

[[beacon]]
mmsi = 972000018
holder = "Mate"

[[beacon]]
mmsi = 970000001
battery_expires = "2030-01"
"#;
