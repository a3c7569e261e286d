//! How far the reading has come, on standard error, if that is a terminal.

use std::io::{IsTerminal as _, Write as _};
use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Signs of the bar.
const WIDTH: u64 = 40;

/// Less than this is read before anybody wonders, in bytes.
const WORTH_IT: u64 = 4 * 1024 * 1024;

/// A bar, or nothing.
pub(super) struct Progress {
    total: u64,
    is_shown: bool,
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    read: u64,
    /// The percentage on the screen.
    drawn: Option<u64>,
}

impl Progress {
    /// For these files; nothing is drawn where it is short or nobody looks.
    pub(super) fn begin<'a>(files: impl Iterator<Item = &'a PathBuf>) -> Self {
        let total = files.filter_map(|path| path.metadata().ok()).map(|it| it.len()).sum();
        let is_shown = std::io::stderr().is_terminal() && total >= WORTH_IT;
        Self { total, is_shown, state: Mutex::default() }
    }

    /// So many more bytes have been read, of whichever recording.
    pub(super) fn add(&self, bytes: u64) {
        if !self.is_shown {
            return;
        }
        let mut state = self.state();
        state.read += bytes;
        let percent = (state.read * 100 / self.total.max(1)).min(100);
        if state.drawn == Some(percent) {
            return;
        }
        state.drawn = Some(percent);
        let full = "#".repeat((percent * WIDTH / 100) as usize);
        // Where nobody can be told, nobody waits for it either.
        let _ = write!(
            std::io::stderr(),
            "\rreading [{full:<width$}] {percent:>3} %",
            width = WIDTH as usize
        );
        let _ = std::io::stderr().flush();
    }

    /// Wipes it away.
    pub(super) fn end(&self) {
        if self.state().drawn.take().is_some() {
            let _ = write!(std::io::stderr(), "\r{:width$}\r", "", width = WIDTH as usize + 20);
            let _ = std::io::stderr().flush();
        }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.end();
    }
}
