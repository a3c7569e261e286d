//! The configuration: every key, and what is said of a wrong one.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::path::{Path, PathBuf};

use overside::config::{Alarm, Config, Error, Storage, Watch};
use overside::mmsi::Mmsi;

/// Every key there is.
const WHOLE: &str = r#"
[vessel]
name = "Example"
mmsi = 200000000
call_sign = "XX1234"
persons_aboard = 4
antenna_height_m = 12.0
water_temperature_c = 11.5

[[input]]
name = "ais"
uri = "udp://127.0.0.1:10110"

[[input]]
name = "gnss"
uri = "serial:/dev/ttyUSB0?baud=4800"

[[person]]
name = "Skipper"

[[person]]
name = "Mate"

[[beacon]]
mmsi = 972000017
holder = "Mate"
fitted_to = "jacket 2"
battery_expires = "2029-05"
test_every_months = 6
dsc_mmsi = 200000000

[[beacon]]
mmsi = 970000001

[[lifejacket]]
name = "jacket 2"
service_due = "2027-04"
cylinder_weighed = "2026-10-02"

[alarm]
command = ["aplay", "-q", "{sound}"]
sound = false

[watch]
ais_silence_s = 120
gnss_silence_s = 20

[storage]
folder = "/var/lib/overside"
record = false
keep_days = 7

[voice]
words = "ours.toml"
survival_figures = true
"#;

fn parse(text: &str) -> Result<Config, Error> {
    Config::parse(text, Path::new("boat/overside.toml"))
}

/// Reads `text` and checks that the error names the file, the last line that reads `wrong`, and
/// each of these parts.
#[track_caller]
fn refused(text: &str, wrong: &str, parts: &[&str]) {
    let line = text.lines().collect::<Vec<_>>().iter().rposition(|&line| line == wrong).unwrap();
    let place = format!("boat/overside.toml:\nLine {}: ", line + 1);
    let message = parse(text).unwrap_err().to_string();
    for part in parts.iter().copied().chain([place.as_str(), wrong]) {
        assert!(message.contains(part), "{part:?} is not in:\n{message}");
    }
    // Where everything is listed, that is listed too.
    let (mistakes, _) = Config::check(text, Path::new("boat/overside.toml"), &|_, _| Ok(()));
    assert!(mistakes.iter().any(|it| it.line == line + 1), "{mistakes:?}");
}

#[test]
fn every_key_is_read() {
    let config = parse(WHOLE).unwrap();
    assert_eq!(config.vessel.name.as_deref(), Some("Example"));
    assert_eq!(config.vessel.mmsi, Mmsi::new(200_000_000));
    assert_eq!(config.vessel.call_sign.as_deref(), Some("XX1234"));
    assert_eq!(config.vessel.persons_aboard, Some(4));
    assert_eq!(config.vessel.antenna_height_m, Some(12.0));
    assert_eq!(config.vessel.water_temperature_c, Some(11.5));
    assert_eq!(config.voice.words, Some(PathBuf::from("ours.toml")));
    assert!(config.voice.survival_figures);
    assert_eq!(config.inputs[1].name, "gnss");
    assert_eq!(config.inputs[1].uri, "serial:/dev/ttyUSB0?baud=4800");
    assert_eq!(config.inputs[1].channels, 2);
    assert_eq!(config.persons[0].name, "Skipper");
    let beacon = &config.beacons[0];
    assert_eq!(beacon.mmsi.value(), 972_000_017);
    assert_eq!(beacon.holder.as_deref(), Some("Mate"));
    assert_eq!(beacon.fitted_to.as_deref(), Some("jacket 2"));
    assert_eq!(beacon.battery_expires.unwrap().last_day().to_string(), "2029-05-31");
    assert_eq!(beacon.test_every_months, 6);
    assert_eq!(beacon.dsc_mmsi, Mmsi::new(200_000_000));
    let jacket = &config.lifejackets[0];
    assert_eq!(jacket.service_due.unwrap().to_string(), "2027-04");
    assert_eq!(jacket.cylinder_weighed.unwrap().last_day().to_string(), "2026-10-02");
    let command = ["aplay", "-q", "{sound}"].map(String::from).to_vec();
    assert_eq!(config.alarm, Alarm { command: Some(command), sound: false });
    assert_eq!(config.watch, Watch { ais_silence_s: 120, gnss_silence_s: 20, ..Watch::default() });
    let folder = Some(PathBuf::from("/var/lib/overside"));
    assert_eq!(config.storage, Storage { folder, record: false, keep_days: 7, keep_percent: 50 });
}

/// What is shown reads back as the same; so does what is awkward to write.
#[test]
fn what_is_shown_reads_back_as_the_same() {
    let awkward = "[vessel]\nname = 'a\"b\\c'\nantenna_height_m = 1e-7\ntime_zone = \"Europe/Oslo\"\n\
                   [[hook]]\ncommand = ['x', \"y\\nz\"]\nfrom = 'caution'\n\
                   [watch]\nawake_every_min = 20\n[search]\nsea_m = 1\nsquare_down_drift = true\n";
    for text in ["", WHOLE, awkward] {
        let config = parse(text).unwrap();
        let shown = config.to_toml();
        assert_eq!(parse(&shown).unwrap(), config, "{shown}");
        assert_eq!(parse(&shown).unwrap().to_toml(), shown);
    }
}

/// Whatever is changed in a file: it is listed if it is wrong, and nothing else is.
#[test]
fn what_is_listed_is_what_is_refused() {
    let whole = WHOLE.replace("words = \"ours.toml\"\n", "");
    let mut wrong = 0;
    for place in (0..whole.len()).step_by(3).filter(|&place| whole.is_char_boundary(place)) {
        for new in ["", "x", "\"", "]", "\n", "="] {
            let text = format!("{}{new}{}", &whole[..place], &whole[place + 1..]);
            let (mistakes, _) = Config::check(&text, Path::new("it"), &|_, _| Ok(()));
            let refused = parse(&text).err();
            assert_eq!(mistakes.is_empty(), refused.is_none(), "{text}\n{refused:?} {mistakes:?}");
            assert!(mistakes.iter().all(|it| it.line <= text.lines().count().max(1)));
            wrong += usize::from(refused.is_some());
        }
    }
    assert!(wrong > 400, "only {wrong}");
}

#[test]
fn an_empty_file_has_the_defaults() {
    let config = parse("").unwrap();
    assert_eq!(config, Config::default());
    assert!(config.alarm.sound && config.storage.record);
    assert_eq!(config.storage.keep_days, 30);
    assert_eq!((config.watch.ais_silence_s, config.watch.gnss_silence_s), (60, 10));
    // A table that is there keeps the defaults of the keys that are not.
    assert!(parse("[alarm]\ncommand = [\"beep\"]").unwrap().alarm.sound);
    assert_eq!(parse("[watch]\nais_silence_s = 5").unwrap().watch.gnss_silence_s, 10);
}

#[test]
fn an_unknown_key_is_refused_in_every_table() {
    refused("\n[boat]\nname = \"x\"", "[boat]", &["no key `boat`", "`vessel`"]);
    for table in ["vessel", "alarm", "watch", "storage", "voice"] {
        refused(&format!("[{table}]\n\nnam = 1"), "nam = 1", &["no key `nam`"]);
    }
    for table in ["input", "person", "beacon", "lifejacket"] {
        refused(&format!("[[{table}]]\nnam = 1"), "nam = 1", &["no key `nam` here: write"]);
    }
    let text = WHOLE.replace("holder", "holdr");
    refused(&text, "holdr = \"Mate\"", &["`holdr`", "`holder`"]);
}

#[test]
fn a_value_of_the_wrong_kind_is_refused() {
    for (table, wrong, part) in [
        ("vessel", "mmsi = \"200000000\"", "cannot stand here: write"),
        ("vessel", "mmsi = 2000000000", "more than nine digits"),
        ("vessel", "antenna_height_m = -1.0", "vessel.antenna_height_m is no height"),
        ("vessel", "antenna_height_m = nan", "write metres, 0 to 500"),
        ("vessel", "water_temperature_c = 41.0", "vessel.water_temperature_c is no temperature"),
        ("voice", "survival_figures = 1", "write true or false"),
        ("watch", "ais_silence_s = 0", "watch.ais_silence_s is 0: write 1 or more"),
        ("watch", "gnss_silence_s = 0", "watch.gnss_silence_s is 0"),
        ("watch", "awake_every_min = 0", "watch.awake_every_min is 0"),
        ("watch", "awake_answer_s = 0", "watch.awake_answer_s is 0"),
        ("storage", "keep_days = 0", "storage.keep_days is 0"),
        ("storage", "keep_percent = 96", "storage.keep_percent is no share of a disk"),
        ("alarm", "command = []", "alarm.command names no program"),
        ("alarm", "command = [\"\"]", "alarm.command names no program"),
        ("vessel", "name = \"a", "write one at each end"),
    ] {
        refused(&format!("[{table}]\n\n{wrong}\n"), wrong, &[part]);
    }
    for wrong in ["channels = 0", "channels = 3"] {
        let input = format!("[[input]]\nname = \"ais\"\nuri = \"-\"\n{wrong}\n");
        refused(&input, wrong, &["input.channels is no number of channels: write 1 or 2"]);
    }
    refused("[[hook]]\ncommand = []", "command = []", &["hook.command names no program"]);
    refused(
        "[[hook]]\ncommand = [\"lamp\"]\nfrom = \"loud\"",
        "from = \"loud\"",
        &["emergency_alarm"],
    );
    refused("[[input]]\nname = \"ais\"", "[[input]]", &["the key `uri` is missing"]);
    refused(
        "[vessel]\nname = \"a\"\nname = \"b\"",
        "name = \"b\"",
        &["this is there twice: leave one of the two"],
    );
}

#[test]
fn a_date_has_one_of_two_forms() {
    for (right, wrong) in [
        ("battery_expires = \"2029-05\"", "battery_expires = \"05/2029\""),
        ("service_due = \"2027-04\"", "service_due = \"2027-13\""),
        ("cylinder_weighed = \"2026-10-02\"", "cylinder_weighed = \"2026-02-30\""),
        // TOML has a date of its own, which cannot be a month.
        ("cylinder_weighed = \"2026-10-02\"", "cylinder_weighed = 2026-10-02"),
    ] {
        refused(&WHOLE.replace(right, wrong), wrong, &["YYYY-MM-DD"]);
    }
}

#[test]
fn a_beacon_has_a_beacons_identity_of_its_own() {
    for mmsi in ["979000001", "200000000", "971000001", "2"] {
        let text = WHOLE.replace("970000001", mmsi);
        refused(&text, &format!("mmsi = {mmsi}"), &["beacon.mmsi", "970, 972 or 974"]);
    }
    assert!(parse(&WHOLE.replace("970000001", "974000001")).is_ok());
    let text = WHOLE.replace("970000001", "972000017");
    refused(&text, "mmsi = 972000017", &["beacon.mmsi 972000017 is there twice"]);
    let text = WHOLE.replace("months = 6", "months = 0");
    refused(&text, "test_every_months = 0", &["beacon.test_every_months is 0"]);
}

#[test]
fn a_beacon_belongs_to_a_person_and_a_lifejacket_that_are_there() {
    let text = WHOLE.replace("holder = \"Mate\"", "holder = \"Cook\"");
    let parts = ["beacon.holder \"Cook\" is no [[person]]", "Skipper, Mate"];
    refused(&text, "holder = \"Cook\"", &parts);
    let text = WHOLE.replace("fitted_to = \"jacket 2\"", "fitted_to = \"jacket 3\"");
    let parts = ["beacon.fitted_to \"jacket 3\" is no [[lifejacket]]", "take one of jacket 2"];
    refused(&text, "fitted_to = \"jacket 3\"", &parts);
    let wrong = "  { mmsi = 972000017, holder = \"Mate\" },";
    refused(&format!("beacon = [\n{wrong}\n]"), wrong, &["beacon.holder", "there is none yet"]);
}

#[test]
fn names_are_unique() {
    let text = WHOLE.replace("\"gnss\"", "\"ais\"");
    refused(&text, "name = \"ais\"", &["input.name \"ais\" is there twice"]);
    let text = WHOLE.replace("\"Skipper\"", "\"Mate\"");
    refused(&text, "name = \"Mate\"", &["person.name \"Mate\" is there twice"]);
    let text = format!("{WHOLE}[[lifejacket]]\nname = \"jacket 2\"\n");
    refused(&text, "name = \"jacket 2\"", &["lifejacket.name \"jacket 2\""]);
}

#[test]
fn a_beacon_calls_for_its_own_ship() {
    let text = WHOLE.replace("dsc_mmsi = 200000000", "dsc_mmsi = 200000001");
    let parts = ["beacon.dsc_mmsi is 200000001, and vessel.mmsi is 200000000", "correct"];
    refused(&text, "dsc_mmsi = 200000001", &parts);
    // Without an identity of the ship nothing can be said.
    let text = text.replacen("mmsi = 200000000\n", "", 1);
    assert!(parse(&text).is_ok());
}

#[test]
fn a_lifejacket_has_one_beacon_and_a_person_may_hold_two() {
    let wrong = "fitted_to = \"jacket 2\" # too";
    let text = WHOLE.replace("970000001", &format!("970000001\n{wrong}"));
    refused(&text, wrong, &["beacon.fitted_to \"jacket 2\" has a beacon already"]);
    let text = WHOLE.replace("970000001", "970000001\nholder = \"Mate\"");
    assert!(parse(&text).is_ok());
}

/// What a skipper may mistype, and how that is told: in our own words, with its line and what would be
/// right; and nothing else is called wrong for it.
#[test]
fn a_line_that_is_no_toml_is_told_in_plain_words() {
    for (text, line, what) in [
        ("[vessel\nname = \"x\"", 1, "write it as [name]"),
        ("[[input]\nname = \"a\"\nuri = \"udp://0.0.0.0:1\"", 1, "write it as [[name]]"),
        ("[vessel]\nname = Fictional", 2, "a text in plain quotation marks"),
        ("[vessel]\nname = \"x", 2, "write one at each end"),
        ("[vessel]\nname = 'x", 2, "write one at each end"),
        ("[vessel]\nname \"x\"", 2, "write it as key = value"),
        ("[vessel]\nname: \"x\"", 2, "write it as key = value"),
        ("hello", 1, "write it as key = value"),
        ("[vessel]\nname =", 2, "a text in plain quotation marks"),
        ("[vessel]\nname = \u{201c}x\u{201d}", 2, "plain quotation marks"),
        ("[vessel]\nmmsi = 200 000 000", 2, "a number without spaces"),
        ("[vessel]\nname = \"a\"\nname = \"b\"", 3, "leave one of the two"),
        ("[vessel]\n[vessel]", 2, "leave one of the two"),
        ("[vessel]\nname = \"a\", mmsi = 200000000", 2, "write one key = value on a line"),
        ("[vessel]\nantenna_height_m = 12,5", 2, "a decimal point, no comma"),
        ("[vessel]\nname = \"a\\d\"", 2, "write two of them for one"),
        ("[alarm]\ncommand = [\"a\" \"b\"]", 2, "write a comma between them"),
        ("[alarm]\ncommand = [\"a\", \"b\"", 2, "write ] at its end"),
        ("[vessel]\nmmsi = 020000000", 2, "leave it out"),
        ("[alarm]\nsound = TRUE", 2, "true or false"),
        ("[input]\nname = \"a\"\nuri = \"udp://0.0.0.0:1\"", 1, "as [[name]]"),
        ("[[input]]\nname = \"a\"", 1, "add it"),
    ] {
        let (found, _) = Config::check(text, Path::new("overside.toml"), &|_, _| Ok(()));
        let [mistake] = found.as_slice() else { panic!("{text}: {found:?}") };
        assert_eq!(mistake.line, line, "{text}: {mistake:?}");
        let told = format!("{}: {}", mistake.what, mistake.remedy);
        assert!(told.contains(what) && !told.contains("expected"), "{text}: {told}");
        assert_ne!(mistake.remedy, "correct it", "{text}: {told}");
        // A watch that is begun with it says the same.
        let refused = parse(text).unwrap_err().to_string();
        assert!(!refused.contains("expected"), "{text}: {refused}");
    }
}
