//! What is installed beside the program: man pages, completions, the configuration and the unit of
//! the service. `docs/packaging/check` installs the whole package and runs it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "../docs/packaging/pages.rs"]
mod pages;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use overside::config::Config;

fn kept(name: &str) -> String {
    fs::read_to_string(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

fn names(folder: &Path) -> Vec<String> {
    let names = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name());
    let mut names: Vec<_> = names.map(|name| name.into_string().unwrap()).collect();
    names.sort();
    names
}

#[test]
fn every_command_has_a_page() {
    let folder = tempfile::tempdir().unwrap();
    pages::write(folder.path()).unwrap();
    let man = folder.path().join("man");
    let first = fs::read_to_string(man.join("overside.1")).unwrap();
    insta::assert_snapshot!(format!("{}\n\n{first}", names(&man).join("\n")));
    for file in names(&man) {
        let text = fs::read_to_string(man.join(&file)).unwrap();
        // An empty argument would be dropped, and the next ones move up.
        let title = format!(".TH {} 1 \" \" \"overside ", file.trim_end_matches(".1"));
        assert!(text.contains(&title), "{file} begins {}", text.lines().nth(2).unwrap());
    }
}

/// Bash itself completes with what was written for it.
#[test]
fn a_shell_completes_commands_and_options() {
    let folder = tempfile::tempdir().unwrap();
    pages::write(folder.path()).unwrap();
    let completions = folder.path().join("completions");
    assert_eq!(names(&completions), ["_overside", "overside", "overside.fish"]);
    let complete = |words: &str| {
        let script = format!(
            "source {}/overside; COMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1)); \
             _overside overside \"${{COMP_WORDS[COMP_CWORD]}}\" \"${{COMP_WORDS[COMP_CWORD-1]}}\"; \
             echo \"${{COMPREPLY[@]}}\"",
            completions.display()
        );
        let told = Command::new("bash").args(["--norc", "-c", &script]).output().unwrap();
        String::from_utf8(told.stdout).unwrap().trim().to_owned()
    };
    assert_eq!(complete("overside wa"), "watch");
    assert_eq!(complete("overside logbook ha"), "handover");
    assert_eq!(complete("overside watch --sound"), "--sound-check");
}

/// As it is, and with every line that is proposed: those that begin with `#` and no space.
#[test]
fn the_configuration_of_the_service_is_one() {
    let text = kept("docs/packaging/overside.toml");
    let proposed: String = text
        .lines()
        .map(|line| match line.strip_prefix('#') {
            Some(rest) if !rest.starts_with(' ') => format!("{rest}\n"),
            _ => format!("{line}\n"),
        })
        .collect();
    for (text, inputs, beacons) in [(text, 1, 0), (proposed, 2, 1)] {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("overside.toml");
        fs::write(&file, text).unwrap();
        let (config, _) = Config::load(Some(&file), |_| None).unwrap().unwrap();
        assert_eq!((config.inputs.len(), config.beacons.len()), (inputs, beacons));
        assert_eq!(config.inputs[0].uri, "udp://0.0.0.0:10110");
    }
}

/// Paths that stand in several places are the same everywhere.
#[test]
fn the_service_reads_and_keeps_what_the_package_installs() {
    let unit = kept("docs/packaging/overside.service");
    let start = "overside watch --headless --config /etc/overside/overside.toml --storage \
                 /var/lib/overside\n";
    assert!(unit.contains(start), "{unit}");
    for (file, path) in [
        ("Cargo.toml", "\"/etc/overside/overside.toml\""),
        ("docs/packaging/debian/postinst", "--home-dir /var/lib/overside "),
        ("src/edge/runtime_folder.rs", "\"/run/overside/overside\""),
    ] {
        assert!(kept(file).contains(path), "{file} does not name {path}");
    }
    assert!(unit.contains("RuntimeDirectory=overside\n"));
    assert!(unit.contains("XDG_RUNTIME_DIR=/run/overside\n"));
    // Its screens enter beacons there: the folder is its own, and no part of the system is.
    assert!(unit.contains("ProtectSystem=strict\n"));
    assert!(unit.contains("ReadWritePaths=-/etc/overside\n"));
    assert!(
        kept("docs/packaging/debian/postinst")
            .contains("chown -h overside:overside /etc/overside ")
    );
}

/// Each block of commands on the page is run by `docs/packaging/check`, by its heading.
#[test]
fn the_commands_of_the_page_are_those_that_are_checked() {
    let page = kept("docs/install.md");
    let script = kept("docs/packaging/check") + &kept("docs/packaging/check-inside");
    let mut heading = String::new();
    let mut blocks = 0;
    for line in page.lines() {
        if let Some(text) = line.trim_start_matches('#').strip_prefix(' ')
            && line.starts_with("##")
        {
            heading = text.to_lowercase().replace(' ', "-");
        }
        if line == "```sh" {
            blocks += 1;
            assert!(script.contains(&format!(" page {heading}")), "nobody runs {heading}");
        }
    }
    assert!(blocks > 5);
}
