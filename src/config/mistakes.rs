//! All that is wrong in a configuration at once: each with its line, its key and what would be right.

use std::collections::HashSet;
use std::ops::Range;
use std::path::Path;

use serde::{Deserialize as _, Serialize};
use toml::Spanned;
use toml::de::{DeArray, DeTable, DeValue, Deserializer};

use super::{Config, Error, check};
use crate::text::{line_at, plainly};

/// So many are told at most. Our own.
const MOST: usize = 200;

/// Something wrong in a configuration.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Mistake {
    /// The line, from 1.
    pub line: usize,
    /// The key with its table, as `vessel.mmsi`; empty if the text is no TOML there.
    pub key: String,
    /// What is wrong.
    pub what: String,
    /// What would be right.
    pub remedy: String,
}

impl Mistake {
    /// One at a place of the text, in words that say what is wrong, a colon, and what would be right.
    fn at(text: &str, place: usize, key: String, words: &str) -> Self {
        let words = words.strip_prefix(&key).unwrap_or(words).trim_start();
        let (what, remedy) = words.split_once(": ").unwrap_or((words, "correct it"));
        let (what, remedy) = (what.to_owned(), remedy.to_owned());
        Self { line: line_at(text, place).0, key, what, remedy }
    }
}

/// What is wrong with the address of one of a table: of an `input` or of an `output`.
pub type UriCheck<'a> = &'a dyn Fn(&str, &str) -> Result<(), String>;

impl Config {
    /// All that is wrong in a text, by line, and what is right in it. `uri` judges addresses;
    /// `path` is where the text is, beside which other files are looked for.
    pub fn check(text: &str, path: &Path, uri: UriCheck<'_>) -> (Vec<Mistake>, Self) {
        let (mut document, broken) = DeTable::parse_recoverable(text);
        let mut found: Vec<Mistake> = broken
            .iter()
            .map(|why| {
                let place = why.span().map_or(0, |span| span.start);
                Mistake::at(text, place, String::new(), &plainly(why.message()))
            })
            .collect();
        // Of one broken line the first thing counts; what is read of it is no key of anybody's.
        found.dedup_by_key(|it| it.line);
        let lines: HashSet<usize> = found.iter().flat_map(|it| unread(text, it.line)).collect();
        let broken = found.len();
        let (config, taken_out) = read(text, &mut document, &mut found);
        for fault in check::faults(&config) {
            // Who is named there may be in what cannot be read.
            let names = ["beacon.holder", "beacon.fitted_to"].contains(&fault.key().as_str());
            if !(names && taken_out) {
                let place = fault.span(document.get_ref()).map_or(0, |span| span.start);
                found.push(Mistake::at(text, place, fault.key(), &fault.what));
            }
        }
        let inputs = config.inputs.iter().map(|it| &it.uri).enumerate().map(|it| ("input", it));
        let outputs = config.outputs.iter().map(|it| &it.uri).enumerate().map(|it| ("output", it));
        for (table, (index, address)) in inputs.chain(outputs) {
            if let Err(why) = uri(table, address) {
                let place = check::value(document.get_ref(), table, Some(index), "uri");
                let place = place.map_or(0, |span| span.start);
                found.push(Mistake::at(text, place, format!("{table}.uri"), &why));
            }
        }
        if let Err(why) = config.voice.clone().read_words(path) {
            let place = check::value(document.get_ref(), "voice", None, "words");
            let place = place.map_or(0, |span| span.start);
            let words = match &why {
                Error::Invalid { path, line, what, .. } => {
                    format!("names {}, whose line {line} is wrong: {what}", path.display())
                }
                why => why.to_string(),
            };
            found.push(Mistake::at(text, place, "voice.words".to_owned(), &words));
        }
        let others = found.split_off(broken);
        found.extend(others.into_iter().filter(|it| !lines.contains(&it.line)));
        found.sort_by_key(|it| it.line);
        (found, config)
    }
}

/// The lines of which nothing is told beside a broken one: that one, and after the broken name of a
/// table what would be in it.
fn unread(text: &str, broken: usize) -> impl Iterator<Item = usize> {
    let is_name = |line: &str| line.trim_start().starts_with('[');
    let mut rest = text.lines().skip(broken - 1);
    let inside = match rest.next().is_some_and(is_name) {
        true => rest.take_while(|line| !is_name(line)).count(),
        false => 0,
    };
    broken..=broken + inside
}

/// Reads what can be read: what is wrong is taken out of the document, and the rest read again. Whether
/// a whole table of a list was taken out.
fn read(
    text: &str,
    document: &mut Spanned<DeTable<'_>>,
    found: &mut Vec<Mistake>,
) -> (Config, bool) {
    let mut without: HashSet<(usize, String)> = HashSet::new();
    let mut taken_out = false;
    for _ in 0..MOST {
        let why = match Config::deserialize(Deserializer::from(document.clone())) {
            Ok(config) => return (config, taken_out),
            Err(why) => why,
        };
        let place = why.span().map_or(0, |span| span.start);
        let words = plainly(why.message());
        let missing =
            words.strip_prefix("the key `").and_then(|it| it.strip_suffix("` is missing"));
        let Some(taken) = take_out(document.get_mut(), place, missing.is_some()) else {
            found.push(Mistake::at(text, place, String::new(), &words));
            return (Config::default(), true);
        };
        let key = match missing {
            Some(key) => {
                taken_out = true;
                // It was there, and told already.
                if without.contains(&(taken.table, key.to_owned())) {
                    continue;
                }
                format!("{}.{key}", taken.key)
            }
            None => taken.key,
        };
        let words = if missing.is_some() { format!("{words}: add it") } else { words };
        without.insert((taken.table, key.rsplit('.').next().unwrap_or_default().to_owned()));
        found.push(Mistake::at(text, place, key, &words));
    }
    (Config::default(), true)
}

/// What was taken out.
struct Taken {
    /// Its key, with its table.
    key: String,
    /// Where the table begins that it was in.
    table: usize,
}

/// Takes out what stands at a place: the innermost key, or, if a key is missing there, the table of a
/// list.
fn take_out(document: &mut DeTable<'_>, place: usize, whole: bool) -> Option<Taken> {
    let holds = |span: Range<usize>| span.contains(&place) || span.start == place;
    let of_key = |table: &DeTable<'_>| {
        let at = |(key, value): (&Spanned<_>, &Spanned<DeValue<'_>>)| {
            holds(key.span()) || is_in(value, place)
        };
        table.iter().find(|&it| at(it)).map(|(key, _)| key.get_ref().to_string())
    };
    let name = of_key(document)?;
    let value = document.get_mut(name.as_str())?;
    let start = value.span().start;
    let inner = match value.get_mut() {
        DeValue::Table(table) => of_key(table).map(|key| (table.remove(key.as_str()), start, key)),
        DeValue::Array(array) => {
            let index = array.iter().position(|it| is_in(it, place))?;
            let start = array.get(index)?.span().start;
            let key = match array.get_mut(index)?.get_mut() {
                DeValue::Table(table) if !whole => {
                    of_key(table).map(|key| (table.remove(key.as_str()), start, key))
                }
                _ => None,
            };
            if key.is_none() {
                let others = array.iter().enumerate().filter(|(place, _)| *place != index);
                let mut kept = DeArray::new();
                others.for_each(|(_, it)| kept.push(it.clone()));
                *array = kept;
                return Some(Taken { key: name, table: start });
            }
            key
        }
        _ => None,
    };
    match inner {
        Some((_, table, key)) => Some(Taken { key: format!("{name}.{key}"), table }),
        None => {
            document.remove(name.as_str());
            Some(Taken { key: name, table: start })
        }
    }
}

/// Whether a place is in a value, or in a value within it.
fn is_in(value: &Spanned<DeValue<'_>>, place: usize) -> bool {
    let span = value.span();
    let inner = match value.get_ref() {
        DeValue::Table(table) => {
            table.iter().any(|(key, value)| key.span().contains(&place) || is_in(value, place))
        }
        DeValue::Array(array) => array.iter().any(|it| is_in(it, place)),
        _ => false,
    };
    span.contains(&place) || inner
}
