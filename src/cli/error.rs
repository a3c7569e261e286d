//! Errors as a person sees them: what happened, to what, and what to do next.

use std::fmt;
use std::io;
use std::path::Path;
use std::time::Duration;

use crate::edge::StandardError;
use crate::logbook;
use crate::text::{printable, shortened};

/// So many characters of a line are told. Our own.
const LINE: usize = 800;

/// Why a command could not be done.
#[derive(Debug)]
pub enum Error {
    /// Nobody reads standard output any longer. Ends the program, quietly.
    ClosedPipe,
    /// What happened and what to do.
    Fault {
        /// What happened, to which file, port or key.
        what: String,
        /// What to do next.
        hint: String,
    },
}

impl Error {
    /// An error that says what happened and what to do next.
    pub fn new(what: impl Into<String>, hint: impl Into<String>) -> Self {
        Self::Fault { what: what.into(), hint: hint.into() }
    }

    /// A file that cannot be read.
    pub fn unreadable(path: &Path, why: &io::Error) -> Self {
        let hint = match why.kind() {
            io::ErrorKind::NotFound => "check the name; `-` reads standard input",
            io::ErrorKind::PermissionDenied => "check who may read it: `ls -l` shows that",
            io::ErrorKind::IsADirectory => "name a file in that folder",
            io::ErrorKind::Unsupported => "unpack it first, and name what comes of it",
            _ => "try to copy the file elsewhere and read the copy",
        };
        Self::new(format!("cannot read {}: {why}", path.display()), hint)
    }

    /// Standard output, or a file, that cannot be written.
    pub fn unwritable(name: &str, why: &io::Error) -> Self {
        if why.kind() == io::ErrorKind::BrokenPipe {
            return Self::ClosedPipe;
        }
        Self::new(format!("cannot write {name}: {why}"), "check that the disk is not full")
    }

    /// No input has said anything; `garbled` is what was found of the bytes of those that gave some.
    pub(super) fn nothing_received(garbled: &[String]) -> Self {
        let said = match garbled {
            [] => "no input has said anything".to_owned(),
            found => printable(&found.join("; ")).into_owned(),
        };
        Self::new(
            format!("nothing is received: {said}, so silence would prove nothing"),
            "check power, cable, baud rate and the input's address; overside watch shows each input",
        )
    }

    /// Prints it on standard error. If that is gone too, there is nobody left to tell; after a watch
    /// that nobody was to hold up, it is not waited for long, either.
    pub fn print(&self) {
        use std::io::Write as _;
        let _ = writeln!(StandardError::get(), "{self}");
        StandardError::settle(Duration::from_secs(1));
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::ClosedPipe => f.write_str("standard output was closed"),
            Self::Fault { what, hint } => {
                // It may quote what came from elsewhere, at any length.
                let said = format!("error: {what}\nWhat to do: {hint}");
                let lines: Vec<_> = said.lines().map(|line| shortened(line, LINE)).collect();
                f.write_str(&lines.join("\n"))
            }
        }
    }
}

impl std::error::Error for Error {}

impl From<logbook::Error> for Error {
    fn from(why: logbook::Error) -> Self {
        // What happened and what to do are parted by a colon there.
        let text = why.to_string();
        match text.rsplit_once(": ") {
            Some((what, hint)) => Self::new(what, hint),
            None => Self::new(text, "check the disk"),
        }
    }
}

impl From<io::Error> for Error {
    fn from(why: io::Error) -> Self {
        Self::unwritable("the output", &why)
    }
}
