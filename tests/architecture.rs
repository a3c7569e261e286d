//! The invariants of the layout, as failing tests: imports point one way, the core has no world in
//! it, the top level is what it is meant to be.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a tree that cannot be read says so")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// The rooms from the top down. A room imports only rooms of a lower rank; those of one rank do not
/// know each other, save as [`NEIGHBOURS`] says.
const RANKS: &[(&str, u8)] = &[
    ("main", 8),
    ("cli", 7),
    ("app", 6),
    ("edge", 5),
    ("screen", 5),
    ("logbook", 5),
    ("capture", 5),
    ("muster", 5),
    ("debrief", 5),
    ("proof", 5),
    ("rehearse", 5),
    ("config", 5),
    ("front", 4),
    ("gpx", 3),
    ("watch", 3),
    ("voice", 3),
    ("navigation", 2),
    ("wire", 2),
    ("mmsi", 1),
    ("position", 1),
    ("units", 1),
    ("time", 1),
];

/// Rooms that may import one of their own rank.
const NEIGHBOURS: &[(&str, &str)] = &[("muster", "config")];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(sources(&path));
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
    found
}

/// The room a source file belongs to, and its text without the tests at its end.
fn rooms() -> Vec<(String, PathBuf, String)> {
    let src = root().join("src");
    let mut rooms = Vec::new();
    for path in sources(&src) {
        let inner = path.strip_prefix(&src).unwrap();
        let first = inner.components().next().unwrap().as_os_str().to_string_lossy();
        let room = first.trim_end_matches(".rs").to_owned();
        let text = fs::read_to_string(&path).unwrap();
        let code = text.split("#[cfg(test)]\nmod tests").next().unwrap().to_owned();
        rooms.push((room, path, code));
    }
    rooms
}

fn rank(room: &str) -> u8 {
    let found = RANKS.iter().find(|(name, _)| *name == room);
    found.unwrap_or_else(|| panic!("src/{room} has no rank: give it one in RANKS")).1
}

#[test]
fn imports_point_one_way() {
    for (room, path, code) in rooms() {
        if room == "lib" {
            continue;
        }
        let mut imported: BTreeSet<String> = BTreeSet::new();
        for rest in code.split("crate::").skip(1) {
            let name: String =
                rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
            if name.is_empty() && rest.starts_with('{') {
                let inner = rest[1..].split('}').next().unwrap();
                imported.extend(
                    inner.split(',').map(|part| part.trim().split("::").next().unwrap().to_owned()),
                );
            } else {
                imported.insert(name);
            }
        }
        for other in imported {
            let neighbours = NEIGHBOURS.contains(&(room.as_str(), other.as_str()));
            assert!(
                other == room || neighbours || rank(&other) < rank(&room),
                "{} imports crate::{other}, which is not below {room}",
                path.display()
            );
        }
    }
}

#[test]
fn the_core_has_no_world_in_it() {
    for (room, path, code) in rooms() {
        let is_core =
            ["watch", "proof", "voice", "wire", "navigation", "mmsi", "position", "units", "time"]
                .contains(&room.as_str());
        let forbidden: &[&str] = if is_core {
            &[
                "std::fs",
                "std::net",
                "std::thread",
                "std::io",
                "tokio",
                "tracing",
                "Instant",
                "SystemTime",
            ]
        } else {
            &[]
        };
        for word in forbidden {
            assert!(!code.contains(word), "{} has {word} in it", path.display());
        }
        if !path.ends_with("edge/clock.rs") {
            for clock in ["Instant::now", "SystemTime::now", "Utc::now", "Local::now"] {
                assert!(!code.contains(clock), "{} reads a clock", path.display());
            }
        }
    }
}

#[test]
fn the_top_level_is_what_it_is_meant_to_be() {
    let allowed = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "src",
        "captures",
        "tests",
        "docs",
        "target",
    ];
    for entry in fs::read_dir(root()).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        assert!(
            name.starts_with('.') || allowed.contains(&name.as_str()),
            "{name} at the top level"
        );
    }
}

#[test]
fn names_say_what_is_in_them() {
    for (_, path, code) in rooms() {
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        for vague in ["utils", "util", "helpers", "helper", "manager", "handler", "common", "misc"]
        {
            assert_ne!(name, vague, "{}", path.display());
        }
        assert!(code.starts_with("//!"), "{} does not say what it is for", path.display());
    }
}

#[test]
fn every_room_is_on_the_map() {
    let map = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let tour = fs::read_to_string(root().join("src/lib.rs")).unwrap();
    let rooms: BTreeSet<String> = rooms().into_iter().map(|(room, ..)| room).collect();
    for room in rooms.iter().filter(|room| !["lib", "main"].contains(&room.as_str())) {
        assert!(map.contains(&format!("`{room}")), "DEVELOPERS.md does not name {room}");
        assert!(tour.contains(&format!("[`{room}`]")), "src/lib.rs does not name {room}");
    }
}
