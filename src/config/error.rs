//! What can be wrong with a configuration, in words that lead to the key.

use std::io;
use std::ops::Range;
use std::path::{Path, PathBuf};

use crate::text::line_at;

/// Why there is no usable configuration.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// A line cannot be taken.
    #[error("configuration {}:\nLine {line}: {what}\n  {line} | {excerpt}", .path.display())]
    Invalid {
        /// The file.
        path: PathBuf,
        /// Which line, from 1.
        line: usize,
        /// The line as it is written.
        excerpt: String,
        /// The key, what is wrong with it, and what would be right.
        what: String,
    },
    /// A file that was asked for is not there.
    #[error(
        "configuration {}, named by {named_by}, is not there: correct the path, or leave it out",
        .path.display()
    )]
    Missing {
        /// The file.
        path: PathBuf,
        /// What asked for it: `--config`, `$OVERSIDE_CONFIG` or a key.
        named_by: &'static str,
    },
    /// The file is there and cannot be read.
    #[error(
        "configuration {} cannot be read ({source}): is it a text file in UTF-8, and may this \
         user read it?",
        .path.display()
    )]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
}

impl Error {
    /// An error at a place in the text.
    pub(super) fn at(path: &Path, text: &str, span: Option<Range<usize>>, what: String) -> Self {
        let (line, excerpt) = line_at(text, span.map_or(0, |span| span.start));
        Self::Invalid { path: path.to_owned(), line, excerpt, what }
    }
}
