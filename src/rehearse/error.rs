//! What is wrong with a scenario, and where.

use std::fmt;
use std::ops::Range;

/// A scenario that cannot be played.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub struct Error {
    /// The line, from 1.
    pub line: usize,
    /// The key, as far as there is one.
    pub key: Option<String>,
    /// What is wrong with it.
    pub reason: String,
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "scenario:\nLine {}", self.line)?;
        if let Some(key) = &self.key {
            write!(f, ", key `{key}`")?;
        }
        write!(f, ": {}", self.reason)
    }
}

impl Error {
    /// What is wrong with the value (or the key) that stands at `span` in `text`.
    pub(super) fn at(text: &str, span: Range<usize>, reason: impl Into<String>) -> Self {
        let before = text.get(..span.start).unwrap_or(text);
        let line = before.matches('\n').count() + 1;
        Self { line, key: key_at(text, span), reason: reason.into() }
    }

    /// What the TOML reader found.
    pub(super) fn of_toml(text: &str, error: &toml::de::Error) -> Self {
        let mut made =
            Self::at(text, error.span().unwrap_or(0..0), crate::text::plainly(error.message()));
        // The span of a missing key is its table's.
        if let Some(rest) = error.message().strip_prefix("missing field `") {
            made.key = rest.split_once('`').map(|(key, _)| key.to_owned());
        }
        made
    }
}

/// The key at a span, or the one whose value it is.
fn key_at(text: &str, span: Range<usize>) -> Option<String> {
    let bare = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-');
    let after = text.get(span.end..)?.trim_start();
    if after.starts_with('=') || after.starts_with(']') {
        let key = text.get(span.clone())?;
        if !key.is_empty() && key.chars().all(bare) {
            return Some(key.to_owned());
        }
    }
    let before = text.get(..span.start)?;
    let (before, _) = before.rsplit_once('=')?;
    let before = before.trim_end();
    let key = before.strip_prefix(before.trim_end_matches(bare))?;
    (!key.is_empty()).then(|| key.to_owned())
}
