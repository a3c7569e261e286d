//! Pages of the manual, taken apart.
#![allow(dead_code, reason = "each test uses its part")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a page that cannot be read says so")]

use std::path::{Path, PathBuf};

pub fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

pub fn page(name: &str) -> String {
    std::fs::read_to_string(root().join(name)).unwrap_or_else(|why| panic!("{name}: {why}"))
}

/// What follows a heading, up to the next of the same rank or above.
pub fn section<'a>(page: &'a str, title: &str) -> &'a str {
    let is_it = |line: &str| line.starts_with('#') && line.trim_start_matches('#').trim() == title;
    let heading = page.lines().find(|line| is_it(line)).unwrap_or_else(|| panic!("no {title}"));
    let rank = heading.len() - heading.trim_start_matches('#').len();
    let begin = page.find(&format!("\n{heading}\n")).unwrap() + heading.len() + 2;
    let rest = &page[begin..];
    let above: Vec<String> = (1..=rank).map(|rank| format!("\n{} ", "#".repeat(rank))).collect();
    let end = above.iter().filter_map(|mark| rest.find(mark.as_str())).min();
    &rest[..end.unwrap_or(rest.len())]
}

/// The headings that begin so, each with what follows it.
pub fn headed<'a>(text: &'a str, mark: &str) -> Vec<(&'a str, &'a str)> {
    let begins: Vec<usize> = text.match_indices(mark).map(|(at, _)| at).collect();
    let ends = begins.iter().skip(1).copied().chain([text.len()]);
    begins
        .iter()
        .zip(ends)
        .map(|(&begin, end)| text[begin..end].split_once('\n').unwrap())
        .collect()
}

/// A row of a table, without that of its heads.
pub struct Row(Vec<String>);

impl Row {
    fn of(line: &str) -> Self {
        let line = line.replace("\\|", "\u{0}");
        let inside = line.trim().trim_start_matches('|').trim_end_matches('|');
        Self(inside.split('|').map(|cell| cell.trim().replace('\u{0}', "|")).collect())
    }

    pub fn cell(&self, place: usize) -> &str {
        &self.0[place]
    }

    /// What stands in backquotes in a cell.
    pub fn quoted(&self, place: usize) -> Vec<String> {
        quoted(&self.0[place])
    }
}

/// What stands in backquotes.
pub fn quoted(text: &str) -> Vec<String> {
    text.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

/// The rows of all tables in a text.
pub fn rows(text: &str) -> Vec<Row> {
    let lines: Vec<&str> = text.lines().collect();
    let is_ruler = |line: &&str| line.starts_with("|---");
    let is_head = |at: usize| lines.get(at + 1).is_some_and(is_ruler);
    let of_table =
        |&at: &usize| lines[at].starts_with('|') && !is_head(at) && !is_ruler(&lines[at]);
    (0..lines.len()).filter(of_table).map(|at| Row::of(lines[at])).collect()
}

/// The rows of the table whose first head is this.
pub fn table(text: &str, head: &str) -> Vec<Row> {
    let begin = text.find(&format!("| {head} |")).unwrap_or_else(|| panic!("no table {head}"));
    let end = text[begin..].find("\n\n").map_or(text.len(), |end| begin + end);
    rows(&text[begin..end])
}

/// The blocks of code in this language.
pub fn blocks(text: &str, language: &str) -> Vec<String> {
    let begin = format!("```{language}\n");
    let parts = text.split(begin.as_str()).skip(1);
    parts.map(|part| part.split("```").next().unwrap().to_owned()).collect()
}

/// All pages, by their paths from the root.
pub fn pages() -> Vec<String> {
    fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, found);
            } else if path.extension().is_some_and(|it| it == "md") {
                found.push(path);
            }
        }
    }
    let mut found = vec![root().join("README.md"), root().join("DEVELOPERS.md")];
    walk(&root().join("docs"), &mut found);
    let name = |path: &PathBuf| path.strip_prefix(root()).unwrap().to_str().unwrap().to_owned();
    let mut names: Vec<String> = found.iter().map(name).collect();
    names.sort();
    names
}
