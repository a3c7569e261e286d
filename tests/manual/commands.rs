//! Every command that the manual prints can be typed as it stands there; what needs no radio, no
//! terminal and no other program is run.

use std::collections::BTreeSet;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use clap::CommandFactory as _;
use clap::error::ErrorKind;
use overside::cli::Args;
use serde_json::Value;

use crate::pages::{self, blocks, page, quoted};
use crate::{made, prose};

/// A command on a page.
struct Printed {
    /// As it stands there.
    text: String,
    /// It is to be typed as it stands, and not named in a sentence.
    whole: bool,
    /// The arguments after the program's name, the placeholders filled in.
    words: Vec<String>,
}

/// The pages that a user reads.
fn manual() -> Vec<String> {
    pages::pages().into_iter().filter(|name| name != "DEVELOPERS.md").collect()
}

fn commands(page: &str) -> Vec<Printed> {
    let typed = blocks(page, "sh")
        .into_iter()
        .flat_map(|block| block.lines().map(|line| (line.to_owned(), true)).collect::<Vec<_>>());
    let named = prose(page).lines().flat_map(quoted).map(|it| (it, false)).collect::<Vec<_>>();
    let of = |(text, whole): (String, bool)| {
        let words = words(&text.replace("cargo run --release --", "overside"));
        let begin = if words.first()? == "sudo" { 1 } else { 0 };
        let (program, arguments) = words.get(begin..)?.split_first()?;
        let words = filled_in(arguments);
        (program == "overside").then_some(Printed { text, whole, words })
    };
    typed.chain(named).filter_map(of).collect()
}

/// A line as a shell parts it.
fn words(line: &str) -> Vec<String> {
    let (mut words, mut word, mut quote) = (Vec::new(), None::<String>, None);
    for letter in line.chars() {
        match (quote, letter) {
            (Some(open), it) if it == open => quote = None,
            (None, '"' | '\'') => (quote, word) = (Some(letter), Some(word.unwrap_or_default())),
            (None, '#') if word.is_none() => break,
            (None, ' ') => words.extend(word.take()),
            (_, it) => word.get_or_insert_default().push(it),
        }
    }
    words.extend(word);
    words
}

/// The words with something in place of what only says what stands there.
fn filled_in(words: &[String]) -> Vec<String> {
    let mut filled: Vec<String> = Vec::new();
    for word in words {
        let before = filled.last().map_or("", String::as_str);
        let is_output = matches!(before, "--to" | "--gpx" | "--ics" | "--certificate" | "--page");
        let word = match word.trim_matches(['[', ']']).trim_end_matches('…') {
            "FILE" if is_output => "written",
            "FILE" => "captures/overboard_drill.nmea",
            "SCENARIO" => "captures/overboard_drill.toml",
            "COMMAND" => "watch",
            "DATE" => "2026-11-27",
            "T" => "2h",
            "" => "what was seen",
            other => other,
        };
        let numbered = matches!(before, "--from-logbook" | "--corrects") && word != "all";
        filled.push(if numbered { "ENTRY".to_owned() } else { word.to_owned() });
    }
    filled
}

fn parse(words: &[String]) -> Result<(), clap::Error> {
    let entry = |word: &String| if word == "ENTRY" { "1".to_owned() } else { word.clone() };
    let words = ["overside".to_owned()].into_iter().chain(words.iter().map(entry));
    Args::command().try_get_matches_from(words).map(|_| ())
}

#[test]
fn every_command_can_be_typed() {
    for name in manual() {
        for Printed { text, whole, words } in commands(&page(&name)) {
            let Err(why) = parse(&words) else { continue };
            let is_part = matches!(
                why.kind(),
                ErrorKind::MissingRequiredArgument
                    | ErrorKind::MissingSubcommand
                    | ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand
                    | ErrorKind::InvalidValue
            );
            let is_help = matches!(why.kind(), ErrorKind::DisplayHelp | ErrorKind::DisplayVersion);
            assert!(is_help || is_part && !whole, "{name}: {text}: {why}");
        }
    }
}

#[test]
fn every_command_of_the_help_can_be_typed() {
    let help = page("src/cli/help.txt");
    let mut typed = 0;
    for line in help.lines().filter(|line| line.contains("overside ")) {
        // What stands behind blanks explains it.
        let command = line[line.find("overside ").unwrap()..].split("  ").next().unwrap();
        let words = filled_in(&words(command)[1..]);
        let why = parse(&words).err().map(|why| why.kind());
        let is_help = matches!(why, None | Some(ErrorKind::DisplayHelp));
        assert!(is_help, "{line}: {why:?}");
        typed += 1;
    }
    assert!(typed >= 15, "{typed}");
}

#[test]
fn every_option_that_is_named_is_one() {
    fn walk(command: &clap::Command, known: &mut BTreeSet<String>) {
        for arg in command.get_arguments() {
            known.extend(arg.get_long().map(|long| format!("--{long}")));
        }
        command.get_subcommands().for_each(|sub| walk(sub, known));
    }
    let mut known = BTreeSet::new();
    walk(&made::root(), &mut known);
    for name in manual().iter().filter(|name| !name.contains("performance")) {
        for text in prose(&page(name)).lines().flat_map(quoted) {
            let option = text.split([' ', '=']).next().unwrap();
            if option.starts_with("--") {
                assert!(known.contains(option), "{name}: {option}");
            }
        }
    }
}

/// Whether it can be run without a radio, a terminal or somebody who ends it.
fn runs(words: &[String]) -> bool {
    let has = |word: &str| words.iter().any(|it| it == word);
    // What is about the service, docs/packaging/check runs where there is one.
    let of_service = |it: &String| it.starts_with("/etc/") || it.starts_with("/var/");
    if parse(words).is_err() || words.iter().any(of_service) {
        return false;
    }
    match words.first().map(String::as_str) {
        Some("watch") => has("--sound-check"),
        Some("prove") => has("--capture"),
        Some("rehearse") => !has("--live") && !has("--drill"),
        Some("attach" | "inputs" | "hearing" | "relay" | "init") => false,
        Some("muster") => !has("add") || has("--mmsi") && !has("--listen"),
        _ => true,
    }
}

fn overside(words: &[String], folder: &Path, input: &[u8]) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_overside"))
        .args(words)
        .current_dir(folder)
        .env("HOME", folder.join("home"))
        // No player is found: a check of the sound is heard by nobody.
        .env("PATH", "")
        .env_remove("XDG_DATA_HOME")
        .env_remove("XDG_CONFIG_HOME")
        .env_remove("OVERSIDE_CONFIG")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    // Whoever reads nothing closes it.
    let _ = stdin.write_all(input);
    drop(stdin);
    child.wait_with_output().unwrap()
}

/// A boat's folder: an empty home, the captures, the demo's configuration, and the logbook of a
/// watch that heard the drill. And the number of an entry about the casualty.
fn boat() -> (tempfile::TempDir, String) {
    let boat = tempfile::tempdir().unwrap();
    let folder = boat.path();
    std::fs::create_dir(folder.join("captures")).unwrap();
    for entry in std::fs::read_dir(pages::root().join("captures")).unwrap() {
        let entry = entry.unwrap();
        std::fs::copy(entry.path(), folder.join("captures").join(entry.file_name())).unwrap();
    }
    std::fs::create_dir(folder.join("home")).unwrap();
    std::fs::copy(folder.join("captures/demo.toml"), folder.join("overside.toml")).unwrap();
    let words = |line: &str| self::words(line);
    let drill = std::fs::read(folder.join("captures/overboard_drill.nmea")).unwrap();
    overside(&words("watch --headless --input -"), folder, &drill);
    let list = overside(&words("logbook list --json --priority emergency_alarm"), folder, b"");
    let list = String::from_utf8(list.stdout).unwrap();
    let first: Value = serde_json::from_str(list.lines().next().unwrap()).unwrap();
    (boat, first["entry"].to_string())
}

#[test]
fn what_needs_no_radio_runs() {
    let (mut ran, mut seen) = (0, BTreeSet::new());
    let (boat, entry) = boat();
    for name in manual() {
        for Printed { text, mut words, .. } in commands(&page(&name)) {
            if !seen.insert(words.clone()) || !runs(&words) {
                continue;
            }
            for word in &mut words {
                match word.as_str() {
                    "ENTRY" => *word = entry.clone(),
                    // What takes minutes for whoever looks on takes none here.
                    "10" | "60" => *word = "max".to_owned(),
                    // A recording of their own.
                    it if it.ends_with(".nmea") && !boat.path().join(it).exists() => {
                        let drill = boat.path().join("captures/overboard_drill.nmea");
                        std::fs::copy(drill, boat.path().join(it)).unwrap();
                    }
                    _ => {}
                }
            }
            if words.starts_with(&["muster".to_owned(), "add".to_owned()]) {
                words.push("--yes".to_owned());
            }
            let output = overside(&words, boat.path(), b"");
            let said = String::from_utf8_lossy(&output.stderr);
            let done = matches!(output.status.code(), Some(0 | 1 | 3));
            assert!(done, "{name}: {text} ({words:?}) ended with {}: {said}", output.status);
            ran += 1;
        }
    }
    assert!(ran >= 25, "{ran}");
}
