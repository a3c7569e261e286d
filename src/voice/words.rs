//! The texts with their gaps: those built in, or the skipper's own.

use std::ops::Range;

use serde::Deserialize;
use toml::Spanned;

use super::facts::Facts;
use super::occasion::Occasion;
use super::placeholder::{GAP, PLACEHOLDERS, Placeholder};
use super::text::{Kind, Line, Text};
use crate::text::{is_hostile, line_at};

/// The texts that are built in.
const BUILT_IN: &str = include_str!("words.toml");

/// All texts, wholly checked: a filled one has no placeholder left in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Words {
    mayday: Template,
    mayday_relay: Template,
    cancel: Template,
    checklist: Template,
    checklist_short_handed: Template,
}

/// A text before it is filled.
#[derive(Clone, Debug, PartialEq)]
struct Template {
    title: String,
    lines: Vec<Pattern>,
}

/// A line before it is filled.
#[derive(Clone, Debug, PartialEq)]
struct Pattern {
    kind: Kind,
    parts: Vec<Part>,
    /// The line is left out unless this is known.
    only_with: Option<&'static Placeholder>,
}

#[derive(Clone, Debug, PartialEq)]
enum Part {
    Words(String),
    Value(&'static Placeholder),
}

/// Why a file of texts cannot be taken.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {what}\n  {line} | {excerpt}")]
pub struct WordsError {
    /// Which line, from 1.
    pub line: usize,
    /// The line as it is written.
    pub excerpt: String,
    /// What is wrong with it, and what would be right.
    pub what: String,
}

impl Default for Words {
    /// The texts that are built in.
    fn default() -> Self {
        // Every test of this room reads them: they are right.
        Self::read(BUILT_IN, None).expect("the texts that are built in are right")
    }
}

impl Words {
    /// Reads a file of texts; a text that it leaves out is the one that is built in.
    ///
    /// # Errors
    /// The first line that is wrong: an unknown key or placeholder, a brace without its other.
    pub fn parse(text: &str) -> Result<Self, WordsError> {
        Self::read(text, Some(&Self::default()))
    }

    fn read(text: &str, built_in: Option<&Self>) -> Result<Self, WordsError> {
        let file: File = toml::from_str(text).map_err(|why| {
            error(text, why.span().unwrap_or_default(), crate::text::plainly(why.message()))
        })?;
        let template = |written: Option<Written>, other: Option<&Template>| match (written, other) {
            (Some(written), _) => written.template(text),
            (None, Some(other)) => Ok(other.clone()),
            (None, None) => Err(error(text, 0..0, "a text is missing".to_owned())),
        };
        Ok(Self {
            mayday: template(file.mayday, built_in.map(|it| &it.mayday))?,
            mayday_relay: template(file.mayday_relay, built_in.map(|it| &it.mayday_relay))?,
            cancel: template(file.cancel, built_in.map(|it| &it.cancel))?,
            checklist: template(file.checklist, built_in.map(|it| &it.checklist))?,
            checklist_short_handed: template(
                file.checklist_short_handed,
                built_in.map(|it| &it.checklist_short_handed),
            )?,
        })
    }

    /// What the text for an occasion is called.
    pub fn title(&self, occasion: Occasion) -> &str {
        &self.template(occasion).title
    }

    /// What the checklist is called.
    pub fn checklist_title(&self) -> &str {
        &self.checklist.title
    }

    /// What to say, with everything in it that is known.
    pub fn text(&self, occasion: Occasion, facts: &Facts) -> Text {
        self.template(occasion).fill(facts)
    }

    const fn template(&self, occasion: Occasion) -> &Template {
        match occasion {
            Occasion::Mayday => &self.mayday,
            Occasion::Relay => &self.mayday_relay,
            Occasion::Cancel => &self.cancel,
        }
    }

    /// What to do: the list for two or more hands left on board, or for one.
    pub fn checklist(&self, facts: &Facts) -> Text {
        let others = facts.casualty.as_ref().map_or(0, |casualty| casualty.others);
        let left = facts.ship.persons_aboard.map(|aboard| aboard.saturating_sub(1 + others));
        match left {
            Some(0 | 1) => self.checklist_short_handed.fill(facts),
            _ => self.checklist.fill(facts),
        }
    }
}

impl Template {
    fn fill(&self, facts: &Facts) -> Text {
        let known =
            |line: &&Pattern| line.only_with.is_none_or(|needed| needed.value(facts).is_some());
        let lines = self.lines.iter().filter(known).map(|line| line.fill(facts));
        Text { title: self.title.clone(), lines: lines.collect() }
    }
}

impl Pattern {
    fn fill(&self, facts: &Facts) -> Line {
        let part = |part: &Part| match part {
            Part::Words(words) => words.clone(),
            Part::Value(it) => it.value(facts).unwrap_or_else(|| GAP.to_owned()),
        };
        Line { kind: self.kind, words: self.parts.iter().map(part).collect() }
    }
}

/// The file as it is written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    mayday: Option<Written>,
    mayday_relay: Option<Written>,
    cancel: Option<Written>,
    checklist: Option<Written>,
    checklist_short_handed: Option<Written>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    title: String,
    lines: Vec<Spanned<WrittenLine>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenLine {
    heading: Option<Spanned<String>>,
    say: Option<Spanned<String>>,
    r#do: Option<Spanned<String>>,
    note: Option<Spanned<String>>,
    only_with: Option<Spanned<String>>,
}

impl Written {
    fn template(self, text: &str) -> Result<Template, WordsError> {
        let lines = self.lines.into_iter().map(|line| pattern(line, text));
        Ok(Template { title: plain(&self.title), lines: lines.collect::<Result<_, _>>()? })
    }
}

fn pattern(line: Spanned<WrittenLine>, text: &str) -> Result<Pattern, WordsError> {
    let span = line.span();
    let line = line.into_inner();
    let kinds = [
        (Kind::Heading, line.heading),
        (Kind::Say, line.say),
        (Kind::Do, line.r#do),
        (Kind::Note, line.note),
    ];
    let mut given = kinds.into_iter().filter_map(|(kind, words)| Some((kind, words?)));
    let (Some((kind, words)), None) = (given.next(), given.next()) else {
        let what = "a line has one of heading, say, do and note".to_owned();
        return Err(error(text, span, what));
    };
    let only_with = line.only_with.map(|name| {
        Placeholder::named(name.get_ref())
            .ok_or_else(|| error(text, name.span(), unknown(name.get_ref())))
    });
    let parts = parts(words.get_ref()).map_err(|what| error(text, words.span(), what))?;
    Ok(Pattern { kind, parts, only_with: only_with.transpose()? })
}

/// The words of a line, with their placeholders parted from them.
fn parts(words: &str) -> Result<Vec<Part>, String> {
    let stray = || "a brace stands alone: a placeholder is written {ship}".to_owned();
    let mut parts = Vec::new();
    let mut rest = words;
    while let Some((before, after)) = rest.split_once('{') {
        let (name, after) = after.split_once('}').ok_or_else(stray)?;
        let known = Placeholder::named(name).ok_or_else(|| unknown(name))?;
        parts.extend([Part::Words(before.to_owned()), Part::Value(known)]);
        rest = after;
    }
    parts.push(Part::Words(rest.to_owned()));
    for part in &mut parts {
        let Part::Words(words) = part else { continue };
        if words.contains('}') {
            return Err(stray());
        }
        *words = plain(words);
    }
    Ok(parts)
}

/// Without what would be obeyed rather than read.
fn plain(words: &str) -> String {
    words.chars().map(|c| if is_hostile(c) { ' ' } else { c }).collect()
}

fn unknown(name: &str) -> String {
    let known: Vec<&str> = PLACEHOLDERS.iter().map(|it| it.name).collect();
    format!("{{{name}}} is no placeholder: take one of {}", known.join(", "))
}

fn error(text: &str, span: Range<usize>, what: String) -> WordsError {
    let (line, excerpt) = line_at(text, span.start);
    WordsError { line, excerpt, what }
}
