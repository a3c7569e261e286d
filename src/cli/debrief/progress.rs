//! How far the reading has come, on standard error, if that is a terminal.

use std::io::{IsTerminal as _, Write as _};
use std::path::PathBuf;

/// Signs of the bar.
const WIDTH: u64 = 40;

/// Less than this is read before anybody wonders, in bytes.
const WORTH_IT: u64 = 4 * 1024 * 1024;

/// A bar, or nothing.
pub(super) struct Progress {
    total: u64,
    before: u64,
    present: u64,
    drawn: Option<u64>,
    is_shown: bool,
}

impl Progress {
    /// For these files; nothing is drawn where it is short or nobody looks.
    pub(super) fn begin<'a>(files: impl Iterator<Item = &'a PathBuf>) -> Self {
        let total = files.filter_map(|path| path.metadata().ok()).map(|it| it.len()).sum();
        let is_shown = std::io::stderr().is_terminal() && total >= WORTH_IT;
        Self { total, before: 0, present: 0, drawn: None, is_shown }
    }

    /// So much of the present recording has been read.
    pub(super) fn show(&mut self, bytes: u64) {
        self.present = bytes;
        if !self.is_shown {
            return;
        }
        let percent = ((self.before + bytes) * 100 / self.total.max(1)).min(100);
        if self.drawn == Some(percent) {
            return;
        }
        self.drawn = Some(percent);
        let full = "#".repeat((percent * WIDTH / 100) as usize);
        // Where nobody can be told, nobody waits for it either.
        let _ = write!(
            std::io::stderr(),
            "\rreading [{full:<width$}] {percent:>3} %",
            width = WIDTH as usize
        );
        let _ = std::io::stderr().flush();
    }

    /// The next recording begins.
    pub(super) fn next(&mut self) {
        self.before += std::mem::take(&mut self.present);
    }

    /// Wipes it away.
    pub(super) fn end(&mut self) {
        if self.drawn.take().is_some() {
            let _ = write!(std::io::stderr(), "\r{:width$}\r", "", width = WIDTH as usize + 20);
            let _ = std::io::stderr().flush();
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.end();
    }
}
