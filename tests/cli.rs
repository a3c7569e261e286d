//! The command line as a person or a script meets it: help, errors, exit codes, and `decode`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::io::Write as _;
use std::process::Stdio;

use assert_cmd::{Command, cargo::cargo_bin_cmd};
use serde_json::{Value, json};

#[path = "support/captures.rs"]
mod captures;

/// SART TEST, published in libais' tests (`vectors/beacons.toml`).
const SART_TEST: &str = "!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D";
/// The same with another checksum.
const DAMAGED: &str = "!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0E";

fn overside() -> Command {
    let mut command = cargo_bin_cmd!("overside");
    command.env_clear();
    command
}

/// Runs `decode` with these arguments over `input`: exit code and the objects it printed.
fn decode(arguments: &[&str], input: &[u8]) -> (i32, Vec<Value>) {
    let output = overside().arg("decode").args(arguments).write_stdin(input).output().unwrap();
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    let objects = serde_json::Deserializer::from_slice(&output.stdout).into_iter();
    (output.status.code().unwrap(), objects.collect::<Result<_, _>>().unwrap())
}

#[test]
fn help_and_version_are_no_failure() {
    let help = overside().arg("--help").assert().success();
    let help = String::from_utf8_lossy(&help.get_output().stdout).into_owned();
    for word in
        ["watch", "replay", "decode", "rehearse", "logbook", "--config", "--json", "--color"]
    {
        assert!(help.contains(word), "{word} is not in the help:\n{help}");
    }
    for command in ["watch", "replay", "decode", "rehearse", "logbook"] {
        overside().args([command, "--help"]).assert().success();
    }
    let version = format!("overside {}\n", env!("CARGO_PKG_VERSION"));
    overside().arg("--version").assert().success().stdout(version);
}

#[test]
fn bad_arguments_are_2_and_say_what_is_wrong() {
    for (arguments, word) in [
        (&["frobnicate"][..], "frobnicate"),
        (&["decode", "--frobnicate"], "--frobnicate"),
        (&["--color", "sometimes", "decode"], "sometimes"),
        (&["replay"], "FILE"),
        (&["replay", "x", "--speed", "0"], "above zero"),
        (&["replay", "x", "--from", "yesterday"], "2026-06-14T02:09:55Z"),
    ] {
        let output = overside().args(arguments).assert().code(2).get_output().clone();
        assert!(output.stdout.is_empty());
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(said.starts_with("error: ") && said.contains(word), "{arguments:?}: {said}");
    }
    overside().assert().code(2);
}

/// Every mistake says in the program's own words what is wrong and what to do.
#[test]
fn mistakes_are_told_in_our_own_words() {
    for (arguments, what, hint) in [
        (&["frobnicate"][..], "there is no command frobnicate", "overside help"),
        (&["replya"], "there is no command replya", "did you mean replay?"),
        (&["decode", "--taly"], "there is no option --taly here", "--tally"),
        (&["replay"], "<FILE|--from-logbook <ENTRY>>", "overside help"),
        (&["--color", "sometimes", "decode"], "sometimes is no value for --color", "always"),
        (&["replay", "x", "--speed", "0"], "0 is no value for --speed", "above zero"),
        (&["replay", "x", "--from", "soon"], "soon is no value for --from", "10min"),
        (&["help", "frobnicate"], "there is no command frobnicate", "overside --help"),
    ] {
        let output = overside().args(arguments).assert().code(2).get_output().clone();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        let (first, second) = said.split_once('\n').unwrap();
        let what = if arguments == ["replay"] { "is missing" } else { what };
        assert!(first.starts_with("error: ") && first.contains(what), "{arguments:?}: {said}");
        assert!(
            second.starts_with("What to do: ") && second.contains(hint),
            "{arguments:?}: {said}"
        );
        assert!(!said.contains("hint:") && !said.contains("Usage:"), "{arguments:?}: {said}");
    }
}

#[test]
fn help_says_what_to_do_when_and_explains_each_command() {
    let said = |arguments: &[&str]| {
        let output = overside().args(arguments).assert().success().get_output().clone();
        String::from_utf8(output.stdout).unwrap()
    };
    let page = said(&["help"]);
    for words in ["SOMEBODY IS OVERBOARD", "TEST DAY", "NIGHT WATCH", "overside prove"] {
        assert!(page.contains(words), "{words}: {page}");
    }
    assert!(page.lines().all(|line| line.chars().count() <= 80), "{page}");
    assert!(said(&["help", "replay"]).contains("--from-logbook"));
    assert!(said(&["help", "logbook", "list"]).contains("--text"));
}

/// A span is counted from the beginning of a recording.
#[test]
fn a_replay_begins_so_far_into_the_recording() {
    let drill = concat!(env!("CARGO_MANIFEST_DIR"), "/captures/overboard_drill.nmea");
    let first = |from: &str| {
        let arguments = ["replay", "--headless", "--json", drill, "--from", from];
        let output = overside().args(arguments).assert().success().get_output().clone();
        let line = String::from_utf8(output.stdout).unwrap().lines().next().unwrap().to_owned();
        serde_json::from_str::<Value>(&line).unwrap()["at"].as_str().unwrap().to_owned()
    };
    assert!(first("7min").starts_with("2026-06-14T14:07:"), "{}", first("7min"));
    assert_eq!(first("7min"), first("2026-06-14T14:07:00Z"));
    let piped = ["replay", "--headless", "-", "--from", "7min"];
    overside().args(piped).write_stdin("").assert().code(2);
}

/// What came before the beginning that was asked for is known: stations by the person's name.
#[test]
fn a_replay_that_begins_later_says_what_one_from_the_start_says() {
    let told = |more: &[&str]| {
        let mut command = overside();
        command.args(["replay", "captures/overboard_drill.nmea", "--config", "captures/demo.toml"]);
        command.args(["--headless", "--speed", "max"]).args(more);
        let output = command.assert().success().get_output().clone();
        let said = String::from_utf8(output.stdout).unwrap();
        // The first line is the day.
        said.lines().skip(1).map(str::to_owned).collect::<Vec<_>>()
    };
    let (all, late) = (told(&[]), told(&["--from", "+10m"]));
    assert!(late.len() > 5 && late.iter().any(|line| line.contains("passed")), "{late:#?}");
    assert_eq!(late, all[all.len() - late.len()..]);
}

/// A journal, a file: no colours where nobody asked for them.
#[test]
fn diagnostics_are_coloured_for_a_terminal_alone() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("page.html");
    for (colour, is_coloured) in [("auto", false), ("never", false), ("always", true)] {
        let mut command = overside();
        command.args(["-v", "--color", colour, "hearing", "captures/overboard_drill.nmea"]);
        let output = command.arg("--page").arg(&page).output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(said.contains("the page is in"), "{said}");
        assert_eq!(said.contains('\x1b'), is_coloured, "{said}");
    }
}

#[test]
fn a_file_that_cannot_be_read_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let missing = folder.path().join("no-such.nmea");
    let packed = folder.path().join("drill.nmea.gz");
    std::fs::write(&packed, b"\x1f\x8b\x08\0\0\0\0\0\0\x03").unwrap();
    for (command, path, hint) in [
        ("decode", missing.as_path(), "`-`"),
        ("decode", folder.path(), "in that folder"),
        ("decode", &packed, "unpack it"),
        ("replay", &packed, "unpack it"),
        ("debrief", &packed, "unpack it"),
        ("hearing", &packed, "unpack it"),
    ] {
        let output = overside().arg(command).arg(path).assert().code(2).get_output().clone();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        let name = path.display().to_string();
        assert!(said.starts_with("error: cannot read ") && said.contains(&name), "{said}");
        assert!(
            said.lines().nth(1).unwrap().starts_with("What to do: ") && said.contains(hint),
            "{said}"
        );
    }
}

#[test]
fn a_sentence_becomes_an_object_in_the_contracts_order() {
    let (code, objects) = decode(&[], SART_TEST.as_bytes());
    let expected = json!({
        "line": 1, "at": null, "source": null, "talker": "AI", "sentence": "VDM",
        "ais": {
            "type": 14, "repeat": 0, "mmsi": 970_210_000, "station": "sart", "channel": "A",
            "own": false, "text": "SART TEST", "beacon_word": "test",
        },
    });
    assert_eq!((code, objects), (0, vec![expected]));
    // Values compare without their order; scripts that cut columns see it.
    let output = overside().arg("decode").write_stdin(SART_TEST).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(text.starts_with(r#"{"line":1,"at":null,"source":null,"talker":"AI","#), "{text}");
}

#[test]
fn lines_count_on_over_empty_ones_rejects_and_files() {
    let folder = tempfile::tempdir().unwrap();
    let first = folder.path().join("first");
    std::fs::write(&first, format!("\r\n{SART_TEST}\r\n\nnoise \\ \u{1b}[2J\u{fc}\n")).unwrap();
    let (code, objects) = decode(&[first.to_str().unwrap(), "-"], DAMAGED.as_bytes());
    assert_eq!(code, 0);
    let lines = objects.iter().map(|object| object["line"].as_u64().unwrap());
    assert_eq!(lines.collect::<Vec<_>>(), [2, 4, 5]);
    assert_eq!(objects[1]["reject"], "not_a_sentence");
    assert_eq!(objects[1]["raw"], "noise \\ \\x1b[2J\\xc3\\xbc");
    assert_eq!(objects[2]["reject"], "bad_checksum");
    assert_eq!(objects[2]["raw"], DAMAGED);
}

/// A message of two sentences, published in the tests of the crate `ais`.
#[test]
fn parts_give_one_object_on_the_last_line() {
    let first =
        "!AIVDM,2,1,1,B,53`soB8000010KSOW<0P4eDp4l6000000000000U0p<24t@P05H3S833CDP00000,0*78";
    let second = "!AIVDM,2,2,1,B,0000000,2*26";
    let (_, objects) = decode(&[], format!("{first}\n{SART_TEST}\n{second}\n").as_bytes());
    let told = objects.iter().map(|o| (o["line"].as_u64().unwrap(), &o["ais"]["type"]));
    assert_eq!(told.collect::<Vec<_>>(), [(2, &json!(14)), (3, &json!(5))]);
    assert_eq!(decode(&[], second.as_bytes()).1[0]["reject"], "part_mismatch");
}

#[test]
fn the_time_and_source_of_a_tag_block_are_given() {
    // TAG block published in libais' tests (`vectors/tag.toml`).
    let tag = "\\g:1-3-42349,n:111458,s:r003669945,c:1425327424*41\\";
    let unknown = "$GPZZZ,1*50";
    let (_, objects) = decode(&[], format!("{tag}{unknown}\n").as_bytes());
    let expected = json!({
        "line": 1, "at": "2015-03-02T20:17:04.000Z", "source": "r003669945",
        "talker": "GP", "sentence": "ZZZ",
    });
    assert_eq!(objects, [expected]);
}

#[test]
fn strict_finds_rejects_and_tally_counts() {
    let sound = format!("2016-03-31 00:00:01, {SART_TEST}\n2016-03-31 00:00:03.5, {SART_TEST}\n");
    let damaged = format!("{sound}\n{DAMAGED}\n");
    assert_eq!(decode(&["--strict"], sound.as_bytes()).0, 0);
    assert_eq!(decode(&[], damaged.as_bytes()).0, 0);
    assert_eq!(decode(&["--strict"], damaged.as_bytes()).0, 1);
    let expected = json!({
        "lines": 4, "sentences": 2, "messages": 2, "rejects": 1, "lenient": 0, "by_type": {"14": 2},
        "beacons": [970_210_000], "seconds": 2.5,
    });
    assert_eq!(decode(&["--tally", "--strict"], damaged.as_bytes()), (1, vec![expected]));
    let (_, nothing) = decode(&["--tally"], b"");
    assert_eq!(nothing[0]["seconds"], Value::Null);
}

#[test]
fn a_tally_of_many_files_is_that_of_all_together_and_parts_lie_within_one() {
    let folder = tempfile::tempdir().unwrap();
    let lines = [
        format!("2016-03-31 00:00:07, {SART_TEST}\n"),
        // Two parts of one message, each in a file of its own.
        "!AIVDM,2,1,1,A,55?MbV02;H;s<HtKR20EHE:0@T4@Dn2222222216L961O5Gf0NSQEp6ClRp8,0*1C\n".into(),
        "!AIVDM,2,2,1,A,88888888880,2*25\n".into(),
        format!("\n{DAMAGED}\n2016-03-31 00:00:01, {SART_TEST}"),
    ];
    let mut arguments = vec!["--tally".to_owned()];
    for place in 0..40 {
        let path = folder.path().join(format!("{place}"));
        std::fs::write(&path, &lines[place % 4]).unwrap();
        arguments.push(path.to_str().unwrap().to_owned());
    }
    arguments.insert(21, "-".to_owned());
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let (_, objects) = decode(&arguments, b"$GPZZZ,1*50");
    let expected = json!({
        "lines": 61, "sentences": 31, "messages": 20, "rejects": 20, "lenient": 0,
        "by_type": {"14": 20}, "beacons": [970_210_000], "seconds": 6.0,
    });
    assert_eq!(objects, [expected]);
}

#[test]
fn a_closed_pipe_ends_the_program_quietly() {
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin!("overside"))
        .arg("decode")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let mut stdin = child.stdin.take().unwrap();
    // More than the pipes hold; the program is gone before it has read it all.
    let lines = format!("{SART_TEST}\n").repeat(100_000);
    let _ = stdin.write_all(lines.as_bytes());
    drop(stdin);
    let output = child.wait_with_output().unwrap();
    assert_eq!((output.status.code(), output.stderr), (Some(0), Vec::new()));
}

/// Deadlines fall between the lines of a drill; with waiting they are told when they are due,
/// without it by the next line.
#[test]
fn a_replay_tells_the_same_at_any_speed() {
    let captures = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("captures");
    let told = |name: &str, speed: &str| {
        let mut command = overside();
        command.args(["replay", "--headless", "--json", "--speed", speed]);
        let output = command.arg(captures.join(name)).assert().success().get_output().clone();
        String::from_utf8(output.stdout).unwrap()
    };
    for name in ["self_test_alongside.nmea", "overboard_drill.nmea"] {
        let events = told(name, "max");
        assert!(events.lines().count() > 5, "{events}");
        for speed in ["100000", "1e12", "1e300"] {
            let others = told(name, speed);
            for (line, (one, other)) in events.lines().zip(others.lines()).enumerate() {
                assert_eq!(one, other, "{name}, ×{speed}, event {}", line + 1);
            }
            assert_eq!(events.len(), others.len(), "{name}, ×{speed}");
        }
    }
}

/// What is before the wanted time is heard without waiting for it: nearly three minutes at the
/// speed of life would outlast the patience.
#[test]
fn a_replay_that_begins_later_does_not_wait_for_its_beginning() {
    let capture = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("captures");
    let mut command = overside();
    command.args(["replay", "--headless", "--json", "--speed", "1"]);
    command.args(["--from", "2026-05-09T08:32:50Z", "--until", "2026-05-09T08:32:55Z"]);
    command.timeout(std::time::Duration::from_secs(60));
    command.arg(capture.join("self_test_alongside.nmea")).assert().success();
}

/// A thousand lines of a public feed. The counts are those of pyais 3.3.1 (SOURCES.md).
#[test]
fn a_real_recording_gives_what_another_decoder_counted() {
    let Some(path) = captures::path("ais/norway_tagblock_20190807.nm4") else { return };
    let path = path.to_str().unwrap();
    let (_, tally) = decode(&["--tally"], path.as_bytes());
    assert_eq!(tally[0]["messages"], 0, "a name on standard input is no file");
    let (_, tally) = decode(&["--tally", path], b"");
    assert_eq!(tally[0]["messages"], 621 + 115 + 123 + 12 + 6);
    assert_eq!(tally[0]["by_type"], json!({"1": 621, "3": 115, "5": 123, "18": 12, "24": 6}));
    assert_eq!((&tally[0]["rejects"], &tally[0]["beacons"]), (&json!(0), &json!([])));

    let (code, objects) = decode(&["--strict", path], b"");
    assert_eq!((code, objects.len()), (0, 877));
    for object in &objects {
        let keys = object.as_object().unwrap().keys();
        let mut keys = keys.map(String::as_str).collect::<Vec<_>>();
        keys.sort_unstable();
        assert_eq!(keys, ["ais", "at", "line", "sentence", "source", "talker"], "{object}");
        // The TAG blocks of all two-part messages carry the checksum they had before `g:` came in.
        match object["ais"]["type"].as_u64() {
            Some(5) => assert_eq!(object["at"], Value::Null, "{object}"),
            _ => assert!(object["at"].as_str().unwrap().starts_with("2019-08-07T2"), "{object}"),
        }
        let common = ["type", "repeat", "mmsi", "station", "channel", "own"];
        assert!(common.iter().all(|&key| object["ais"].get(key).is_some()), "{object}");
    }
}

#[test]
fn decode_counts_what_it_took_though_not_by_the_letter() {
    // The published sentence, begun with `$`, and with seven fill bits.
    let sealed = |body: &str| {
        let sum = body.bytes().skip(1).fold(0, |sum, byte| sum ^ byte);
        format!("{body}*{sum:02X}\n")
    };
    let dollar = sealed("$AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2");
    let fill = sealed("!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,7");
    let input = format!("{SART_TEST}\n{dollar}{fill}");
    let (code, objects) = decode(&["--tally"], input.as_bytes());
    assert_eq!((code, &objects[0]["messages"], &objects[0]["lenient"]), (0, &json!(3), &json!(2)));
    // Both at once is one sentence taken, and one that is rejected was not taken at all.
    let both = sealed("$AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,7");
    let rejected = sealed("$AIVDM,1,1,,A,>,7");
    let (code, objects) = decode(&["--tally"], format!("{both}{rejected}").as_bytes());
    let counts = ["messages", "rejects", "lenient"].map(|key| objects[0][key].clone());
    assert_eq!((code, counts), (0, [json!(1), json!(1), json!(1)]));
}

/// A file that is missing, or no file, is told at the start: 2, and why. The good one before it was
/// not begun.
#[test]
fn a_file_that_is_none_is_2_at_the_start() {
    let folder = tempfile::tempdir().unwrap();
    let good = folder.path().join("good.nmea");
    std::fs::write(&good, SART_TEST).unwrap();
    let (good, missing) = (good.to_str().unwrap(), folder.path().join("missing.nmea"));
    for (bad, why) in [(missing.as_path(), "No such file"), (folder.path(), "directory")] {
        let bad = bad.to_str().unwrap();
        let (uri, good_uri) = (format!("file:{bad}"), format!("file:{good}"));
        for arguments in [
            &["decode", good, bad][..],
            &["replay", "--headless", good, bad],
            &["debrief", "--json", good, bad],
            &["prove", "--capture", good, "--capture", bad],
            &["watch", "--headless", "--no-record", "--input", &good_uri, "--input", &uri],
        ] {
            let mut command = overside();
            command.env("XDG_DATA_HOME", folder.path()).args(arguments);
            let output = command.assert().code(2).get_output().clone();
            let told = String::from_utf8_lossy(&output.stderr);
            assert!(told.contains(why) && told.contains(bad), "{arguments:?}: {told}");
            assert!(output.stdout.is_empty(), "{arguments:?}");
        }
    }
}
