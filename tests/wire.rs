//! The wire layer against what nobody here made: published vectors, and traps that other decoders
//! fell into. A vector names its source; its expectations are a part of what `overside decode`
//! prints for its lines.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may")]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use overside::time::Mono;
use overside::wire::nmea::{Dsc, Nmea};
use overside::wire::{Content, Decoder, InputId, Reject, Splitter};
use serde::Deserialize;
use serde_json::{Value, json};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    vector: Vec<Vector>,
}

/// Lines of one stream and what they say.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Vector {
    name: String,
    source: String,
    lines: Vec<String>,
    /// What each line says; or else
    #[serde(default)]
    each: Vec<toml::Table>,
    /// what the last line says, those before it being parts of its message; or
    expect: Option<toml::Table>,
    /// why the only line is not taken.
    reject: Option<String>,
    /// A DSC call after the DSE in the last line was joined to it.
    refined: Option<toml::Table>,
    /// How far a decimal number may be off.
    #[serde(default = "a_millionth")]
    tolerance: f64,
}

fn a_millionth() -> f64 {
    1e-6
}

impl Vector {
    fn check(&self) -> Result<(), String> {
        let mut decoder = Decoder::new();
        let mut call: Option<Dsc> = None;
        let mut found = Vec::new();
        for line in &self.lines {
            let decoded = decoder.decode(InputId(0), Mono::START, line.as_bytes());
            match decoded.as_ref().and_then(|d| d.as_ref().ok()).map(|d| &d.content) {
                Some(Content::Nmea(Nmea::Dsc(dsc))) => call = Some(dsc.clone()),
                Some(Content::Nmea(Nmea::Dse(dse))) => {
                    if let Some(call) = &mut call {
                        call.refine(dse);
                    }
                }
                _ => {}
            }
            found.push(seen(decoded));
        }
        let expected = self.expectations();
        if expected.len() != found.len() {
            return Err(format!("{} expectations for {} lines", expected.len(), found.len()));
        }
        for (number, (expected, found)) in expected.iter().zip(&found).enumerate() {
            compare(expected, found, self.tolerance)
                .map_err(|why| format!("line {}: {why}\nall of it: {found}", number + 1))?;
        }
        if let Some(refined) = &self.refined {
            let call = serde_json::to_value(call).map_err(|e| e.to_string())?;
            compare(refined, &call, self.tolerance).map_err(|why| format!("refined: {why}"))?;
        }
        let tally = decoder.tally();
        let empty = found.iter().filter(|f| f.get("empty").is_some()).count() as u64;
        if tally.lines != tally.sentences + tally.rejects + empty {
            return Err(format!("the tally does not add up: {tally:?}"));
        }
        Ok(())
    }

    fn expectations(&self) -> Vec<toml::Table> {
        let one = |key: &str, value: toml::Value| toml::Table::from_iter([(key.to_owned(), value)]);
        let last = match (&self.expect, &self.reject) {
            (Some(expect), _) => expect.clone(),
            (None, Some(reject)) => one("reject", reject.clone().into()),
            (None, None) => return self.each.clone(),
        };
        let mut all = vec![one("part", true.into()); self.lines.len() - 1];
        all.push(last);
        all
    }
}

/// What a line said, with the keys of `overside decode`; besides, `part`, `other` or `empty`.
fn seen(decoded: Option<Result<overside::wire::Decoded<'_>, Reject>>) -> Value {
    let decoded = match decoded {
        None => return json!({ "empty": true }),
        Some(Err(why)) => return json!({ "reject": why }),
        Some(Ok(decoded)) => decoded,
    };
    let mut object = json!({
        "at": decoded.at,
        "source": decoded.source,
        "talker": decoded.talker,
        "sentence": decoded.formatter,
    });
    let (key, value) = match decoded.content {
        Content::Ais(report) => ("ais".to_owned(), json!(report)),
        Content::Part => ("part".to_owned(), json!(true)),
        Content::Other => ("other".to_owned(), json!(true)),
        Content::Nmea(nmea) => {
            let Value::Object(tagged) = json!(nmea) else { panic!("a sentence without its name") };
            tagged.into_iter().next().unwrap()
        }
    };
    object[key] = value;
    object
}

/// Whether `found` has all that is expected. `"null"` stands for a null, `"absent"` for no such key.
fn compare(expected: &toml::Table, found: &Value, tolerance: f64) -> Result<(), String> {
    for (key, expected) in expected {
        let value = found.get(key);
        if !same(expected, value, tolerance).map_err(|why| format!("{key}.{why}"))? {
            let value = value.map_or("nothing".to_owned(), Value::to_string);
            return Err(format!("{key} should be {expected} and is {value}"));
        }
    }
    Ok(())
}

fn same(expected: &toml::Value, found: Option<&Value>, tolerance: f64) -> Result<bool, String> {
    Ok(match (expected, found) {
        (toml::Value::String(word), None) => word == "absent",
        (toml::Value::String(word), Some(Value::Null)) => word == "null",
        (toml::Value::String(text), Some(value)) => value.as_str() == Some(text),
        (toml::Value::Boolean(flag), Some(value)) => value.as_bool() == Some(*flag),
        (toml::Value::Integer(number), Some(value)) => value.as_i64() == Some(*number),
        (toml::Value::Float(number), Some(value)) => {
            value.as_f64().is_some_and(|v| (v - number).abs() <= tolerance)
        }
        (toml::Value::Table(table), Some(value)) => {
            compare(table, value, tolerance)?;
            true
        }
        (toml::Value::Array(expected), Some(Value::Array(found))) => {
            for (expected, found) in expected.iter().zip(found) {
                if !same(expected, Some(found), tolerance)? {
                    return Ok(false);
                }
            }
            expected.len() == found.len()
        }
        _ => false,
    })
}

fn check(file: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vectors").join(file);
    let text = std::fs::read_to_string(&path).unwrap();
    let File { vector } = toml::from_str(&text).unwrap_or_else(|e| panic!("{file}: {e}"));
    let wrong: Vec<String> = vector
        .iter()
        .filter_map(|v| v.check().err().map(|why| format!("{} ({}): {why}", v.name, v.source)))
        .collect();
    assert!(wrong.is_empty(), "{file}, {} of {}:\n{}", wrong.len(), vector.len(), wrong.join("\n"));
}

#[test]
fn published_and_constructed_beacons() {
    check("beacons.toml");
}

#[test]
fn published_ais_messages() {
    check("ais.toml");
}

#[test]
fn published_tag_blocks() {
    check("tag.toml");
}

#[test]
fn published_calls() {
    check("dsc.toml");
}

#[test]
fn published_instrument_sentences() {
    check("nmea.toml");
}

#[test]
fn traps_in_values() {
    check("trap_values.toml");
}

#[test]
fn traps_in_texts() {
    check("trap_text.toml");
}

#[test]
fn traps_in_framing() {
    check("trap_framing.toml");
}

#[test]
fn traps_in_positions_and_times() {
    check("trap_gnss.toml");
}

/// The captures that lie beside the repository. `None`, said loudly, if they do not; under CI that
/// is a failure.
fn captures() -> Option<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/captures");
    if folder.is_dir() {
        return Some(folder);
    }
    assert!(std::env::var_os("CI").is_none(), "{} is missing", folder.display());
    eprintln!("NOT RUN: {} is missing, its captures were not read", folder.display());
    None
}

/// What a capture's lines say, and the count of each AIS type among them.
fn read(capture: &Path) -> (Vec<Value>, BTreeMap<usize, u64>) {
    let bytes = std::fs::read(capture).unwrap();
    let (mut splitter, mut decoder, mut found) = (Splitter::new(), Decoder::new(), Vec::new());
    let mut each = |line: &[u8]| found.push(seen(decoder.decode(InputId(0), Mono::START, line)));
    splitter.push(&bytes, &mut each);
    splitter.finish(&mut each);
    let counts = decoder.tally().by_type.iter().copied().enumerate();
    (found, counts.filter(|(_, count)| *count > 0).collect())
}

/// The reasons of the lines that were not taken, with their numbers.
fn rejects(found: &[Value]) -> Vec<(usize, &str)> {
    let numbered = found.iter().enumerate();
    numbered.filter_map(|(i, line)| Some((i + 1, line["reject"].as_str()?))).collect()
}

/// Counts by the first payload character of each message, made with a script of its own; the
/// files are from github GlobalFishingWatch/ais-tools and schwehr/libais (Apache-2.0).
#[test]
fn edge_captures_give_their_messages() {
    let Some(folder) = captures() else { return };
    let mixed = [1, 2, 3, 4, 5, 7, 9, 10, 11, 12, 14, 15, 17, 18, 19, 20, 21, 24, 27];
    let mixed = mixed.map(|kind| (kind, 5)).into_iter().chain([(8, 4)]).collect::<Vec<_>>();
    // Three lines have both parts of a message on them: the last is taken, without the first.
    let both_on_a_line = vec![
        (1, "part_mismatch"),
        (2, "part_mismatch"),
        (3, "part_mismatch"),
        (5, "not_a_sentence"),
        (6, "not_a_sentence"),
        (7, "not_a_sentence"),
    ];
    for (file, counts, reasons) in [
        ("bad-tagblock-group.nmea", vec![(21, 1)], vec![]),
        ("bad-type5.nmea", vec![], both_on_a_line),
        ("ee-multiline.nmea", vec![(1, 3), (3, 3), (5, 2)], vec![]),
        ("errors.nmea", vec![(1, 2), (3, 1)], vec![(2, "bad_checksum"), (4, "bad_checksum")]),
        ("libais_tagblock.nmea", vec![(1, 3), (5, 1)], vec![]),
        ("mixed_types.nmea", mixed, vec![]),
        ("single-message-type-5.nmea", vec![], vec![(1, "bad_checksum")]),
        ("spire-test.nmea", vec![], vec![(1, "part_mismatch"), (2, "part_mismatch")]),
        ("type1-bad-bitcount.nmea", vec![(1, 9), (3, 3)], vec![]),
    ] {
        let (found, types) = read(&folder.join("ais/edge").join(file));
        assert_eq!(types, counts.into_iter().collect(), "{file}");
        assert_eq!(rejects(&found), reasons, "{file}");
    }
}

/// Counts and texts of beacons from the captures' list of sources (pyais 3.3.1): 12 SART and 5 MOB
/// identities; a test text from two identities that are none.
#[test]
fn real_message_14_payloads_say_what_they_said() {
    let Some(folder) = captures() else { return };
    let (found, types) = read(&folder.join("beacons/msg14_real_payloads_dev.nmea"));
    assert_eq!(types, BTreeMap::from([(14, 92)]));
    assert_eq!(rejects(&found), []);
    let said = |station: &str| {
        let of = found.iter().map(|line| &line["ais"]).filter(|ais| ais["station"] == station);
        let texts = of.map(|ais| {
            let word = ais.get("beacon_word").cloned();
            (ais["mmsi"].as_u64().unwrap(), ais["text"].as_str().unwrap().to_owned(), word)
        });
        texts.collect::<Vec<_>>()
    };
    let mut sart = said("sart");
    sart.sort_by_key(|(mmsi, ..)| *mmsi);
    let identities: Vec<u64> = sart.iter().map(|(mmsi, ..)| *mmsi).collect();
    assert_eq!(
        identities,
        [
            970011087, 970012509, 970012793, 970013121, 970013123, 970013745, 970014455, 970014830,
            970014967, 970015186, 970015320, 970016010
        ]
    );
    assert!(sart.iter().all(|(_, text, word)| text == "SART TEST" && *word == Some(json!("test"))));
    let mut mob = said("mob");
    mob.sort_by_key(|(mmsi, ..)| *mmsi);
    let identities: Vec<u64> = mob.iter().map(|(mmsi, ..)| *mmsi).collect();
    assert_eq!(identities, [972602601, 972602715, 972604169, 972604399, 972607975]);
    let active = Some(json!("active"));
    assert!(mob.iter().all(|(_, text, word)| text == "MOB ACTIVE" && *word == active));
    assert_eq!(said("aid_to_navigation"), [(992599919, "SART TEST".to_owned(), None)]);
    assert!(said("unassigned").contains(&(0, "MOB TESP".to_owned(), None)));
}

/// The origin of each sentence stands in a comment above it in the file.
#[test]
fn single_beacon_sentences_say_what_they_said() {
    let Some(folder) = captures() else { return };
    let (found, types) = read(&folder.join("beacons/single_beacon_sentences.nmea"));
    assert_eq!(types, BTreeMap::from([(1, 1), (14, 7)]));
    let odd_lines = (1..16).step_by(2).map(|line| (line, "not_a_sentence")).collect::<Vec<_>>();
    assert_eq!(rejects(&found), odd_lines);
    let report = &found[1]["ais"];
    assert_eq!((&report["mmsi"], &report["nav_status"]), (&json!(972122131), &json!(15)));
    let near = |key: &str, value: f64| (report[key].as_f64().unwrap() - value).abs() < 0.00005;
    assert!(near("lat", -38.2612) && near("lon", 144.6675));
    let texts: Vec<_> = found.iter().filter_map(|line| line["ais"]["text"].as_str()).collect();
    assert_eq!(
        texts,
        [
            "MOB TEST",
            "SART TEST",
            "SART TEST",
            "SART TEST",
            "SART ACTIVE",
            "SART ACTIVE",
            "EPIRB TEST"
        ]
    );
}

/// Kinds as the comments in the file name them.
#[test]
fn what_is_no_beacon_is_none() {
    let Some(folder) = captures() else { return };
    let (found, types) = read(&folder.join("beacons/not_a_beacon_real_payloads.nmea"));
    assert_eq!(types, BTreeMap::from([(1, 1), (9, 6), (13, 1), (24, 6)]));
    assert_eq!(found[1]["ais"]["station"], "parent_craft");
    assert!(found[1]["ais"]["name"].as_str().unwrap().contains("MOB"));
    let ship = &found[13]["ais"];
    assert_eq!((&ship["station"], &ship["nav_status"]), (&json!("ship"), &json!(14)));
    let damaged = &found[15]["ais"];
    assert_eq!((&damaged["type"], &damaged["station"]), (&json!(13), &json!("mob")));
}

/// Five calls and four expansions, as the comments in the file name them.
#[test]
fn captured_calls_are_understood() {
    let Some(folder) = captures() else { return };
    let (found, _) = read(&folder.join("beacons/dsc_dse_sentences.nmea"));
    let meanings: Vec<_> = found.iter().filter_map(|l| l["dsc"]["meaning"].as_str()).collect();
    assert_eq!(meanings, ["position", "distress_alert", "distress_cancel", "position", "position"]);
    let decimals = found.iter().filter(|line| line.get("dse").is_some());
    let decimals: Vec<_> = decimals.map(|l| l["dse"]["lat_minutes"].as_f64().unwrap()).collect();
    assert_eq!(decimals, [0.4650, 0.4589, 0.4780, 0.4650]);
}

/// The codes of M.493-16 table A1-3 one by one, as an open library lists them, each the symbol less
/// 100; positions by their quadrant (M.493-15 8.1.2). Any other code is none.
#[test]
fn the_codes_of_calls_are_those_of_the_table() {
    let of = |fields: &str| {
        let sum = fields.bytes().fold(0, |sum, byte| sum ^ byte);
        let mut decoder = Decoder::new();
        let line = format!("${fields}*{sum:02X}");
        seen(decoder.decode(InputId(0), Mono::START, line.as_bytes()))["dsc"].clone()
    };
    let table = |key: &str, names: &[(u32, &str)], line: &dyn Fn(u32) -> String| {
        for code in 0..100 {
            let name = names.iter().find(|(it, _)| *it == code).map(|(_, name)| *name);
            assert_eq!(of(&line(code))[key].as_str(), name, "{key} {code:02}");
        }
    };
    let formats = [
        (2, "area"),
        (12, "distress"),
        (14, "group"),
        (16, "all_ships"),
        (20, "individual"),
        (23, "individual_automatic"),
    ];
    table("format", &formats, &|code| format!("CVDSC,{code:02},2110000010,08,00,26,,,,,S,"));
    let categories = [(0, "routine"), (8, "safety"), (10, "urgency"), (12, "distress")];
    table("category", &categories, &|code| format!("CVDSC,16,2110000010,{code:02},00,26,,,,,S,"));
    let natures = [
        (0, "fire"),
        (1, "flooding"),
        (2, "collision"),
        (3, "grounding"),
        (4, "listing"),
        (5, "sinking"),
        (6, "disabled_adrift"),
        (7, "undesignated"),
        (8, "abandoning"),
        (9, "piracy"),
        (10, "man_overboard"),
        (12, "epirb_emission"),
    ];
    table("nature", &natures, &|code| format!("CVDSC,12,2110000010,12,{code:02},00,,,,,S,"));
    table("nature", &natures, &|code| {
        format!("CVDSC,16,0021110000,12,12,00,,,2110000010,{code:02},S,")
    });
    let signs = [Some((1.0, 1.0)), Some((1.0, -1.0)), Some((-1.0, 1.0)), Some((-1.0, -1.0)), None];
    for (quadrant, signs) in signs.into_iter().enumerate() {
        let call = of(&format!("CVDSC,12,2110000010,12,10,00,{quadrant}300001500,1234,,,S,"));
        let place = call["lat"].as_f64().zip(call["lon"].as_f64());
        assert_eq!(place, signs.map(|(lat, lon)| (30.0 * lat, 15.0 * lon)), "quadrant {quadrant}");
    }
    let ends = [("R", "requested"), ("B", "given"), ("S", "none")];
    for (letter, name) in ends {
        let call = of(&format!("CVDSC,20,2110000010,08,18,26,,,,,{letter},"));
        assert_eq!(call["acknowledgement"], name);
    }
}

/// On the air a distress alert has no category (M.493-15 6.1): a radio may leave the field empty.
#[test]
fn a_distress_alert_may_have_no_category() {
    let mut decoder = Decoder::new();
    let line = b"$CVDSC,12,9720001230,,10,26,9999999999,8888,,,S,*34";
    let call = seen(decoder.decode(InputId(0), Mono::START, line))["dsc"].clone();
    assert_eq!((&call["category"], &call["nature"]), (&Value::Null, &json!("man_overboard")));
    assert_eq!(call["meaning"], "distress_alert");
}
