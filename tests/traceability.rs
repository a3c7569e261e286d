//! `docs/traceability.md` against the tree: every row leads to code and to a test that are there,
//! every clause that the code cites has a row, and the counts at its top are those of the table.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a page that cannot be read says so")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use regex_lite::Regex;

/// What a requirement has instead of a source, or beside it.
const MARKS: [&str; 3] = ["from memory", "our own", "common practice, no source"];

/// Documents whose clauses are requirements: those of a standard or a handbook.
const DOCUMENT: &str = r"(?x)
    \b(?: (?:ITU-R\ )?M\.\d{3,4}(?:-\d+)?
    | IEC\ \d{5}(?:-\d+)?
    | EN\ \d{3}\ \d{3}(?:-\d)?
    | RFC\ \d{4}
    | (?:MSC|A)\.\d+\(\d+\)
    | (?:MSC\.1|SN\.1|COMSAR)/Circ\.\d+(?:/Rev\.\d)?
    | RTCM\ \d+\.\d
    | (?:Australian|US)\ National\ SAR\ Manual
    | COMDTINST\ M\d+\.\w+
    | CG-D-\d\d-\d\d
    | Resolution\ \d{3}
    | Radio\ Regulations
    | GPX\ 1\.1 | XML\ 1\.0 | FIPS\ \d+-\d | IAMSAR | STCW | NMEA\ 0183 | ECMA-48 | WCAG\ 2 | WMM2025 | TP\ 13822
    | USCG\ Marine\ Safety\ Advisory\ \d\d-\d\d )
    (?: :\d{4} | \ V\d\.\d\.\d | \ \(2023\ ed\.\) | \ \(Rev\.WRC-23\) | \ 2023\b | ,\ 2013\b )?";

/// What follows a document, one part at a time: a kind of part with its number, or a number alone
/// that has a point in it, or `A-VIII/2`.
const CLAUSE: &str = r"(?x)
    ^ (?: [,;]?\s\(? (?:and\s|to\s)? )
    (?: (annex(?:es)?|appendix|sections?|tables?|figures?|parts?|items?|volume|paragraphs?|note)\s
        ([A-Z]{0,3}\d*(?:[-.:]\w+)*)
      | (\d+(?:\.\d+)+[A-Z]? | [A-Z]\.\d{1,2}\b | [A-Z]\d?-\d+(?:\.\d+)* | A-VIII/2) )";

/// Another number of the same kind: `tables 1 and 2`.
const ANOTHER: &str = r"^(?:,|\sand|\sto)\s((?:[A-Z]{1,2}\d?[-.])?\d+(?:[-.:]\d+)*)\b";

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn page() -> String {
    fs::read_to_string(root().join("docs/traceability.md")).unwrap()
}

/// A row: requirement, source, where it is built, what tests it.
struct Row([String; 4]);

impl Row {
    fn all(page: &str) -> Vec<Self> {
        let lines = page.lines().filter(|line| line.starts_with("| ") && !line.contains("| --"));
        let cells = lines.map(|line| -> Vec<String> {
            let inside = line.trim_matches(['|', ' ']);
            inside.split(" | ").map(|cell| cell.trim().to_owned()).collect()
        });
        cells
            .filter(|cells| cells[0] != "requirement")
            .map(|cells| match <[String; 4]>::try_from(cells) {
                Ok(cells) => Self(cells),
                Err(cells) => panic!("a row of {} cells: {cells:?}", cells.len()),
            })
            .collect()
    }

    fn source(&self) -> &str {
        &self.0[1]
    }

    /// What stands in backquotes in a cell.
    fn quoted(&self, cell: usize) -> Vec<&str> {
        self.0[cell].split('`').skip(1).step_by(2).collect()
    }
}

/// All files below a folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files(&path));
        } else {
            found.push(path);
        }
    }
    found
}

/// All files of the program, with what is cited in them: comments without their marks, as one line.
fn sources() -> Vec<(String, String)> {
    let read = |path: PathBuf| {
        let text = fs::read_to_string(&path).unwrap();
        let name = path.strip_prefix(root().join("src")).unwrap().to_str().unwrap().to_owned();
        (name, on_one_line(&text))
    };
    files(&root().join("src")).into_iter().map(read).collect()
}

fn on_one_line(text: &str) -> String {
    let bare = |line: &str| {
        let line = line.trim().trim_end_matches('\\').trim_end();
        line.trim_start_matches(['/', '!', '#']).trim().to_owned()
    };
    text.lines().map(bare).collect::<Vec<_>>().join(" ")
}

/// The documents cited in a text, and their clauses: `M.1371-5 annex 9 section 5`.
fn cited(text: &str) -> BTreeSet<String> {
    let [document, clause, another] = [DOCUMENT, CLAUSE, ANOTHER].map(|it| Regex::new(it).unwrap());
    let edition =
        Regex::new(r"(:\d{4}| V\d\.\d\.\d| \(2023 ed\.\)| \(Rev\.WRC-23\)| 2023|, 2013)$");
    let edition = edition.unwrap();
    let mut cited = BTreeSet::new();
    for found in document.find_iter(text) {
        let name = edition.replace(found.as_str(), "").replace("ITU-R ", "");
        cited.insert(name.clone());
        let mut rest = &text[found.end()..];
        // An annex, a volume or a part holds what follows it.
        let mut within = name;
        while let Some(part) = clause.captures(rest) {
            rest = &rest[part[0].len()..];
            let (kind, number) = match (part.get(1), part.get(2), part.get(3)) {
                (Some(kind), Some(number), _) => (kind.as_str(), number.as_str()),
                (.., Some(number)) => ("", number.as_str()),
                _ => break,
            };
            let kind = if kind == "annexes" { "annex" } else { kind.trim_end_matches('s') };
            let holds = matches!(kind, "annex" | "appendix" | "volume" | "part");
            let name = |number: &str| match kind {
                "" => format!("{within} {number}"),
                kind => format!("{within} {kind} {number}"),
            };
            let mut numbers = vec![name(number)];
            while let Some(more) = another.captures(rest).filter(|_| !kind.is_empty()) {
                // `annex 9, 5.1` is a clause of the annex.
                if holds && more[0].starts_with(',') {
                    break;
                }
                rest = &rest[more[0].len()..];
                numbers.push(name(&more[1]));
            }
            if holds || number == "A-VIII/2" {
                within = numbers[0].clone();
            }
            cited.extend(numbers);
            rest = rest.strip_prefix(')').filter(|it| it.starts_with(", ")).unwrap_or(rest);
        }
    }
    cited
}

#[test]
fn clauses_are_found_as_they_are_cited() {
    for (text, expected) in [
        (
            "(ITU-R M.1371-5 annex 9, section 5):",
            &["M.1371-5 annex 9", "M.1371-5 annex 9 section 5"][..],
        ),
        ("(M.1371-5 tables 18 and 20);", &["M.1371-5 table 18", "M.1371-5 table 20"]),
        ("EN 303 098 V2.2.1, B.2, as", &["EN 303 098 B.2"]),
        (
            "(IEC 62923-1:2018 annex G, figure G.1)",
            &["IEC 62923-1 annex G", "IEC 62923-1 annex G figure G.1"],
        ),
        ("IEC 61162-450 allows (6.2.4; B.3)", &[]),
        (
            "(MSC.302(87) 7.3.5; IEC 62923-1 6.3.4)",
            &["MSC.302(87) 7.3.5", "IEC 62923-1", "IEC 62923-1 6.3.4"],
        ),
        (
            "Radio Regulations 32.13C and 32.13D (edition",
            &["Radio Regulations 32.13C", "Radio Regulations 32.13D"],
        ),
        ("(M.1371-5 table 53): 36 sailing, 37", &["M.1371-5 table 53"]),
        (
            "A1-4.2 of M.493-15 tables A1-4.2 to A1-4.4, the",
            &["M.493-15 table A1-4.2", "M.493-15 table A1-4.4"],
        ),
        ("COMDTINST M16130.2F, 2013", &[]),
        (
            "STCW A-VIII/2 part 4-1, paragraphs 19 to 22",
            &[
                "STCW A-VIII/2",
                "STCW A-VIII/2 part 4-1",
                "STCW A-VIII/2 part 4-1 paragraph 19",
                "STCW A-VIII/2 part 4-1 paragraph 22",
            ],
        ),
    ] {
        let found = cited(text);
        let clauses: BTreeSet<_> = found.iter().map(String::as_str).collect();
        for clause in expected {
            assert!(clauses.contains(clause), "{text}: {clause} is not in {clauses:?}");
        }
        assert!(clauses.len() <= expected.len() + 1, "{text}: {clauses:?}");
    }
}

#[test]
fn every_row_leads_to_code_and_to_a_test() {
    let rows = Row::all(&page());
    assert!(rows.len() > 80, "only {} rows", rows.len());
    for row in &rows {
        let Row([what, source, ..]) = row;
        assert!(!source.is_empty(), "{what}: no source");
        let (built, tests) = (row.quoted(2), row.quoted(3));
        assert!(!built.is_empty() && !tests.is_empty(), "{what}: where is it built, and tested?");
        for path in built {
            assert!(root().join("src").join(path).is_file(), "{what}: no src/{path}");
        }
        for test in tests {
            assert!(is_there(test), "{what}: there is no {test}");
        }
    }
}

/// A test by its file and name, a story of the watch, or a vector by the beginning of its name.
fn is_there(test: &str) -> bool {
    let Some((file, name)) = test.split_once("::") else {
        return test.starts_with("scenarios/") && root().join("tests").join(test).is_file();
    };
    let folder = if file.starts_with("src/") { "" } else { "tests/" };
    let Ok(text) = fs::read_to_string(root().join(folder).join(file)) else { return false };
    if file.starts_with("vectors/") {
        return ['\'', '"'].iter().any(|mark| text.contains(&format!("\nname = {mark}{name}")));
    }
    let lines: Vec<&str> = text.lines().collect();
    let begin = format!("fn {name}(");
    lines.iter().enumerate().any(|(number, line)| {
        let before = &lines[number.saturating_sub(4)..number];
        line.contains(&begin)
            && before.iter().any(|it| it.contains("#[test]") || it.contains("#[tokio::test"))
    })
}

#[test]
fn every_clause_that_the_code_cites_has_a_row() {
    let rows = Row::all(&page());
    let known: BTreeSet<_> = rows.iter().flat_map(|row| cited(row.source())).collect();
    let mut missing = BTreeSet::new();
    for (path, text) in sources() {
        for clause in cited(&text) {
            // Of a document without its edition any will do.
            let editions = format!("{clause}-");
            if !known.contains(&clause) && !known.iter().any(|it| it.starts_with(&editions)) {
                missing.insert(format!("{clause} ({path})"));
            }
        }
    }
    assert!(missing.is_empty(), "no row for {missing:#?}");
}

/// What the code holds from memory or by common practice is held so in a row, too.
#[test]
fn every_mark_in_the_code_has_a_row() {
    let rows = Row::all(&page());
    for (path, text) in sources() {
        for mark in ["from memory", "common practice"] {
            let has_row = || {
                let marked = rows.iter().filter(|row| row.source().contains(mark));
                marked.flat_map(|row| row.quoted(2)).any(|built| built == path)
            };
            assert!(!text.to_lowercase().contains(mark) || has_row(), "{path}: {mark}");
        }
    }
}

#[test]
fn the_counts_at_the_top_are_those_of_the_table() {
    let page = page();
    let rows = Row::all(&page);
    let marked = |mark: &str| rows.iter().filter(|row| row.source().contains(mark)).count();
    let [memory, own, practice] = MARKS.map(marked);
    let expected = format!(
        "{} requirements. Marked \"from memory\": {memory}. Marked \"our own\": {own}. Marked \
         \"common practice, no source\": {practice}.",
        rows.len()
    );
    assert!(page.contains(&expected), "at the top it must say: {expected}");
}

/// Every number that decides something has where it comes from beside it: a source, or a mark. One
/// comment holds for the constants right below it; one at the head of a folder for all of it.
#[test]
fn every_constant_says_where_it_is_from() {
    let document = Regex::new(DOCUMENT).unwrap();
    let is_marked = |comment: &str| {
        let comment = on_one_line(comment);
        let marks = MARKS.iter().chain(&["by definition"]);
        let lower = comment.to_lowercase();
        document.is_match(&comment) || marks.into_iter().any(|mark| lower.contains(mark))
    };
    let item = Regex::new(r"^\s*(?:pub(?:\([^)]*\))? )?const \w+: ([^=]+)= ?(.*)").unwrap();
    let number = Regex::new(r"(?:^|[^A-Za-z_0-9.])[0-9][0-9_.]*").unwrap();
    let mut unmarked = Vec::new();
    for room in ["watch", "navigation", "debrief", "proof", "muster", "voice", "survey"] {
        unmarked.extend(files(&root().join("src").join(room)).into_iter().flat_map(|path| {
            let text = fs::read_to_string(&path).unwrap();
            let head: String = text
                .lines()
                .take_while(|it| it.starts_with("//!"))
                .map(|it| format!("{it}\n"))
                .collect();
            let folder = fs::read_to_string(path.with_file_name("mod.rs")).unwrap_or_default();
            let mut found = Vec::new();
            if is_marked(&head) || folder.contains("wherever in this folder, are our own.") {
                return found;
            }
            let (mut comment, mut marked) = (String::new(), false);
            for line in text.split("#[cfg(test)]").next().unwrap().lines() {
                let bare = line.trim();
                if bare.starts_with("//") {
                    comment += &format!("{bare}\n");
                } else if let Some(constant) = item.captures(line) {
                    if !comment.is_empty() {
                        marked = is_marked(&comment);
                    }
                    let is_text = constant[1].contains("str") || constant[2].starts_with('"');
                    let numbers = number.find_iter(&constant[2]).any(|it| {
                        it.as_str().contains(['1', '2', '3', '4', '5', '6', '7', '8', '9'])
                    });
                    if numbers && !is_text && !marked {
                        found.push(format!("{}: {bare}", path.display()));
                    }
                    comment.clear();
                } else if !bare.starts_with("#[") {
                    comment.clear();
                    marked &= !bare.is_empty();
                }
            }
            found
        }));
    }
    assert!(unmarked.is_empty(), "without a source or a mark:\n{}", unmarked.join("\n"));
}
