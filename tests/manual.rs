//! The manual against the program: the reference is what the code says, every command can be typed
//! as it is printed, every link leads somewhere, and no page needs the network.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a page that cannot be read says so")]

#[path = "manual/commands.rs"]
mod commands;
#[path = "manual/events.rs"]
mod events;
#[path = "manual/made.rs"]
mod made;
#[path = "manual/pages.rs"]
mod pages;
#[path = "manual/reference.rs"]
mod reference;

use std::collections::BTreeSet;
use std::path::{Component, Path};
use std::process::Command;

use pages::page;

/// What the program prints, run in an empty folder with an empty home.
fn printed(args: &[&str], folder: &Path) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_overside"))
        .args(args)
        .current_dir(folder)
        .env("HOME", folder)
        .env_remove("XDG_DATA_HOME")
        .env_remove("XDG_CONFIG_HOME")
        .env_remove("OVERSIDE_CONFIG")
        .output()
        .unwrap();
    String::from_utf8(output.stdout).unwrap()
}

fn capture(name: &str) -> String {
    format!("{}/captures/{name}", env!("CARGO_MANIFEST_DIR"))
}

/// How a heading is named in links.
fn anchor(heading: &str) -> String {
    let kept = |c: &char| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_');
    let text: String = heading.trim_start_matches('#').trim().chars().filter(kept).collect();
    text.to_lowercase().replace(' ', "-")
}

/// The page without its blocks of code.
fn prose(text: &str) -> String {
    text.split("```").step_by(2).collect::<Vec<_>>().join("\n")
}

/// Where the links and pictures of a page lead.
fn links(text: &str) -> Vec<String> {
    let ends = prose(text);
    let parts = ends.split("](").skip(1);
    parts.filter_map(|part| Some(part.split_once(')')?.0.to_owned())).collect()
}

#[test]
fn every_link_leads_somewhere() {
    let pages: BTreeSet<String> = pages::pages().into_iter().collect();
    let mut linked = BTreeSet::from(["README.md".to_owned()]);
    for name in &pages {
        let text = page(name);
        for link in links(&text) {
            if link.starts_with("http") {
                continue;
            }
            let (file, part) = link.split_once('#').unwrap_or((&link, ""));
            let file = if file.is_empty() {
                name.clone()
            } else {
                let mut whole = Path::new(name).parent().unwrap().to_path_buf();
                for step in Path::new(file).components() {
                    match step {
                        Component::ParentDir => assert!(whole.pop(), "{name}: {link}"),
                        step => whole.push(step),
                    }
                }
                whole.to_str().unwrap().to_owned()
            };
            assert!(pages::root().join(&file).exists(), "{name}: {link}");
            if !part.is_empty() {
                let there = prose(&page(&file));
                let mut headings = there.lines().filter(|line| line.starts_with('#'));
                assert!(headings.any(|heading| anchor(heading) == part), "{name}: {link}");
            }
            linked.insert(file);
        }
    }
    let lost: Vec<_> = pages.difference(&linked).collect();
    assert!(lost.is_empty(), "no page leads to {lost:?}");
}

#[test]
fn no_page_needs_the_network() {
    for name in pages::pages() {
        let text = page(&name);
        for mark in ["](http", "<img", "<script", "<link", "<iframe"] {
            assert!(!prose(&text).contains(mark), "{name}: {mark}");
        }
    }
    for picture in std::fs::read_dir(pages::root().join("docs/images")).unwrap() {
        let path = picture.unwrap().path();
        let bytes = std::fs::read(&path).unwrap();
        let text = String::from_utf8_lossy(&bytes).replace("http://www.w3.org/2000/svg", "");
        assert!(!text.contains("http"), "{}", path.display());
    }
}
