//! The invariants of the layout, as failing tests: imports point one way, the core has no world in
//! it, the top level is what it is meant to be.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a tree that cannot be read says so")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// The rooms from the top down. A room imports only rooms of a lower rank; those of one rank do not
/// know each other, save as [`NEIGHBOURS`] says.
const RANKS: &[(&str, u8)] = &[
    ("main", 8),
    ("cli", 7),
    ("app", 6),
    ("attach", 6),
    ("helm", 6),
    ("edge", 5),
    ("screen", 5),
    ("logbook", 5),
    ("capture", 5),
    ("muster", 5),
    ("debrief", 5),
    ("hearing", 5),
    ("proof", 5),
    ("rehearse", 5),
    ("setup", 5),
    ("config", 5),
    ("advice", 4),
    ("frontend", 4),
    ("outputs", 4),
    ("gpx", 3),
    ("watch", 3),
    ("survey", 3),
    ("voice", 3),
    ("navigation", 2),
    ("drawing", 2),
    ("wire", 2),
    ("zone", 2),
    ("beacon", 1),
    ("mmsi", 1),
    ("position", 1),
    ("units", 1),
    ("text", 1),
    ("thread", 1),
    ("time", 1),
];

/// Rooms that may import one of their own rank.
const NEIGHBOURS: &[(&str, &str)] = &[
    ("edge", "capture"),
    ("setup", "config"),
    ("muster", "config"),
    ("muster", "proof"),
    ("logbook", "proof"),
    ("logbook", "muster"),
];

/// Files of one room that import each other in a circle, and why they may. A room's `mod.rs` names
/// its files and may be named by them; what it passes on counts as imported from where it stands.
const CIRCLES: &[(&str, &[&str], &str)] = &[
    (
        "cli",
        &[
            "args",
            "attach",
            "config",
            "debrief",
            "hearing",
            "help",
            "init",
            "inputs",
            "logbook",
            "muster",
            "prove",
            "rehearse",
            "relay",
            "replay",
            "search",
            "sound_check",
            "watch",
        ],
        "each command has its arguments beside it; `args` lists the commands and holds what all take",
    ),
    ("debrief", &["measure", "observer", "sentences"], "a measured drill says itself"),
    ("navigation", &["datum", "drift"], "they share the errors a datum is made with"),
    ("screen::view", &["plot", "quiet"], "a pair that lends each other a row"),
    ("wire", &["assembler", "decoder"], "the decoder's rejects are the assembler's"),
    ("wire::nmea", &["dsc", "dse"], "an expansion refines a call"),
];

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
        let is_core = [
            "advice",
            "watch",
            "proof",
            "survey",
            "voice",
            "wire",
            "navigation",
            "mmsi",
            "position",
            "units",
            "time",
        ]
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

/// A test is named as `file::test`, with files from `tests/` unless they begin with `src/`.
#[test]
fn every_test_of_the_page_on_robustness_exists() {
    let page = fs::read_to_string(root().join("docs/robustness.md")).unwrap();
    let named: Vec<_> = page.split('`').filter_map(|it| it.split_once(".rs::")).collect();
    assert!(named.len() > 30, "only {} tests are named", named.len());
    for (file, test) in named {
        let folder = if file.starts_with("src/") { "" } else { "tests/" };
        let text = fs::read_to_string(root().join(format!("{folder}{file}.rs"))).unwrap();
        assert!(text.contains(&format!("fn {test}(")), "{file}.rs has no test {test}");
    }
}

/// What panics in a thread is told and begun again in one place.
#[test]
fn threads_begin_and_panics_end_in_one_place() {
    for (room, path, code) in rooms().into_iter().filter(|(room, ..)| room != "thread") {
        for word in ["catch_unwind", "thread::Builder", "std::thread::spawn", "spawn_blocking"] {
            assert!(!code.contains(word), "{} ({room}) has {word} in it", path.display());
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

/// The paths of a tree of imports: `a::{b, c::d}` is `a::b` and `a::c::d`.
fn paths(tree: &str) -> Vec<String> {
    let Some((head, inner)) = tree.split_once('{') else {
        return vec![tree.split(" as ").next().unwrap().trim().to_owned()];
    };
    let (mut depth, mut found, mut part) = (0, Vec::new(), String::new());
    for c in inner.trim_end().trim_end_matches('}').chars().chain([',']) {
        match c {
            ',' if depth == 0 => found.extend(paths(&std::mem::take(&mut part))),
            '{' | '}' => {
                depth += if c == '{' { 1 } else { -1 };
                part.push(c);
            }
            _ => part.push(c),
        }
    }
    found.retain(|path| !path.is_empty());
    found.iter().map(|path| format!("{}{path}", head.trim())).collect()
}

/// What a module imports, as paths from the root of the crate; of the paths passed on (`pub use`),
/// under which name.
fn imports(module: &str, code: &str) -> Vec<(bool, String)> {
    let lines = code.lines().filter(|line| !line.trim_start().starts_with("//"));
    let code: String = lines.collect::<Vec<_>>().join(" ");
    let statement = |rest: &str| rest.split(';').next().unwrap().to_owned();
    let mut found: Vec<(bool, String)> = Vec::new();
    let mut before = "";
    for (place, rest) in code.split("use ").enumerate() {
        let public = before.ends_with("pub ") || before.ends_with(") ");
        if place > 0 {
            found.extend(paths(&statement(rest)).into_iter().map(|path| (public, path)));
        }
        before = rest;
    }
    for rest in code.split_inclusive("super::").collect::<Vec<_>>().windows(2) {
        let name: String =
            rest[1].chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
        found.push((false, format!("super::{name}")));
    }
    let absolute = |path: String| {
        let mut base: Vec<&str> = module.split("::").collect();
        let mut rest = path.as_str();
        if let Some(rest) = rest.strip_prefix("crate::") {
            return rest.to_owned();
        }
        while let Some(outer) = rest.strip_prefix("super::") {
            base.pop();
            rest = outer;
        }
        base.push(rest.trim_start_matches("self::"));
        base.join("::")
    };
    found.into_iter().map(|(public, path)| (public, absolute(path))).collect()
}

#[test]
fn files_of_a_room_import_in_no_circle() {
    let src = root().join("src");
    let module = |path: &Path| {
        let inner = path.strip_prefix(&src).unwrap().with_extension("");
        let name = inner.to_string_lossy().replace('/', "::");
        name.strip_suffix("::mod").unwrap_or(&name).to_owned()
    };
    let imported: BTreeMap<String, Vec<(bool, String)>> = rooms()
        .into_iter()
        .map(|(_, path, code)| (module(&path), module(&path), code))
        .map(|(key, module, code)| (key, imports(&module, &code)))
        .collect();
    // Where a name that a room passes on stands.
    let passed_on: BTreeMap<String, String> = imported
        .iter()
        .flat_map(|(module, paths)| paths.iter().map(move |path| (module, path)))
        .filter(|(_, (public, _))| *public)
        .map(|(module, (_, path))| {
            (format!("{module}::{}", path.rsplit("::").next().unwrap()), path.clone())
        })
        .collect();
    let resolve = |path: &str| {
        let mut path = path.to_owned();
        while let Some(next) = passed_on.get(&path).filter(|next| **next != path) {
            path = next.clone();
        }
        path
    };
    let mut found: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for parent in imported.keys() {
        let child = |path: &str| {
            let inner = path.strip_prefix(parent.as_str())?.strip_prefix("::")?;
            let name = inner.split("::").next().unwrap();
            imported.contains_key(&format!("{parent}::{name}")).then(|| name.to_owned())
        };
        let mut edges: BTreeSet<(String, String)> = BTreeSet::new();
        for (module, paths) in &imported {
            let Some(from) = child(module) else { continue };
            let to = paths.iter().filter_map(|(_, path)| child(&resolve(path)));
            edges.extend(to.filter(|to| *to != from).map(|to| (from.clone(), to)));
        }
        // What nobody imports, or what imports nobody, is in no circle.
        loop {
            let before = edges.len();
            let from: BTreeSet<String> = edges.iter().map(|edge| edge.0.clone()).collect();
            let to: BTreeSet<String> = edges.iter().map(|edge| edge.1.clone()).collect();
            edges.retain(|edge| to.contains(&edge.0) && from.contains(&edge.1));
            if edges.len() == before {
                break;
            }
        }
        if !edges.is_empty() {
            found.insert(parent.clone(), edges.into_iter().map(|edge| edge.0).collect());
        }
    }
    let allowed = CIRCLES.iter().map(|(room, files, why)| {
        assert!(!why.is_empty());
        ((*room).to_owned(), files.iter().map(|file| (*file).to_owned()).collect())
    });
    assert_eq!(found, allowed.collect::<BTreeMap<String, BTreeSet<String>>>());
}

#[test]
fn every_dependency_is_used() {
    let manifest: toml::Table =
        toml::from_str(&fs::read_to_string(root().join("Cargo.toml")).unwrap()).unwrap();
    let code = |folder: &str| -> String {
        sources(&root().join(folder)).iter().map(|path| fs::read_to_string(path).unwrap()).collect()
    };
    let (program, tests) = (code("src"), code("tests") + &code("docs/packaging"));
    let unix = manifest["target"].as_table().unwrap().values().next().unwrap().as_table().unwrap();
    for (table, code) in [(&manifest, &program), (unix, &program)]
        .map(|(table, code)| (table["dependencies"].as_table().unwrap(), code))
        .into_iter()
        .chain([(manifest["dev-dependencies"].as_table().unwrap(), &tests)])
    {
        for name in table.keys().map(|name| name.replace('-', "_")) {
            let used = [format!("{name}::"), format!("use {name}"), format!("[{name}(")];
            assert!(used.iter().any(|used| code.contains(used)), "{name} is not used");
        }
    }
}

/// Every test stands on the map, and every file that it names is there.
#[test]
fn the_map_shows_what_is_there() {
    let map = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    for entry in fs::read_dir(root().join("tests")).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        if name.ends_with(".rs") {
            assert!(map.contains(&format!("`{name}`")), "DEVELOPERS.md does not name tests/{name}");
        }
    }
    let named = map.split('`').skip(1).step_by(2);
    for path in named.filter(|it| ["src/", "tests/", "docs/"].iter().any(|at| it.starts_with(at))) {
        let path = path.split_whitespace().next().unwrap();
        assert!(root().join(path).exists(), "DEVELOPERS.md names {path}, which is not there");
    }
}
