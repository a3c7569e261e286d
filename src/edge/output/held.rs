//! Our own messages while a broker is away: they wait in memory, and events, each with its time in it,
//! in a file as well, so that they outlive the program.

use std::collections::VecDeque;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::outputs::{Message, What};
use crate::time::Stamp;

/// How many wait; the oldest gives way. Our own.
pub(super) const LIMIT: usize = 1024;

/// The file beside the lines that wait.
const FILE: &str = "events.jsonl";

/// What waits.
pub(super) struct Held {
    waiting: VecDeque<Arc<Message>>,
    path: PathBuf,
    /// Events in the file.
    written: usize,
}

impl Held {
    /// Those that the program before has left.
    pub(super) fn within(folder: &Path, now: Stamp) -> Self {
        let path = folder.join(FILE);
        let text = fs::read_to_string(&path).unwrap_or_default();
        let event = |line: &str| {
            let text = format!("{line}\n");
            Arc::new(Message::own(What::Events, now, false, text))
        };
        // The last may have been cut by a power failure.
        let is_whole = |line: &&str| line.ends_with('}');
        let mut waiting: VecDeque<_> = text.lines().filter(is_whole).map(event).collect();
        let written = waiting.len();
        waiting.drain(..written.saturating_sub(LIMIT));
        Self { waiting, path, written }
    }

    /// Adds one. Whether another gave way to it.
    pub(super) fn push(&mut self, message: Arc<Message>) -> io::Result<bool> {
        let is_full = self.waiting.len() == LIMIT;
        if is_full {
            self.waiting.pop_front();
        }
        let is_event = message.what == What::Events;
        self.waiting.push_back(Arc::clone(&message));
        if !is_event {
            return Ok(is_full);
        }
        let events = self.waiting.iter().filter(|it| it.what == What::Events);
        if self.written >= 2 * LIMIT {
            self.written = events.clone().count();
            let all: Vec<u8> = events.flat_map(|it| it.bytes.iter().copied()).collect();
            fs::write(&self.path, all)?;
        } else {
            self.written += 1;
            self.path.parent().map_or(Ok(()), fs::create_dir_all)?;
            File::options()
                .append(true)
                .create(true)
                .open(&self.path)?
                .write_all(&message.bytes)?;
        }
        Ok(is_full)
    }

    /// All of them, to be sent; the file keeps them until they have [`Self::arrived`].
    pub(super) fn take(&mut self) -> VecDeque<Arc<Message>> {
        std::mem::take(&mut self.waiting)
    }

    /// None of those that were taken waits any more: they have arrived, or are added again.
    pub(super) fn arrived(&mut self) {
        if self.waiting.is_empty() && std::mem::take(&mut self.written) > 0 {
            let _ = fs::remove_file(&self.path);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::{Mono, Utc};

    const NOW: Stamp = Stamp { at: Mono::START, utc: Utc::EPOCH };

    fn message(what: What, number: usize) -> Arc<Message> {
        Arc::new(Message::own(what, NOW, false, format!("{{\"number\":{number}}}\n")))
    }

    fn texts(held: &mut Held) -> Vec<String> {
        let text = |it: Arc<Message>| String::from_utf8(it.bytes.to_vec()).unwrap();
        held.take().into_iter().map(text).collect()
    }

    #[test]
    fn events_outlive_the_program_until_they_have_arrived() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("bay");
        let begin = || Held::within(&place, NOW);
        let mut held = begin();
        for (number, what) in [What::Casualty, What::Events, What::Alerts].into_iter().enumerate() {
            assert!(!held.push(message(what, number)).unwrap());
        }
        assert_eq!(held.take().len(), 3);
        // Under way, and the power fails.
        drop(held);
        fs::write(place.join(FILE), fs::read_to_string(place.join(FILE)).unwrap() + "{\"num")
            .unwrap();
        let mut held = begin();
        assert_eq!(texts(&mut held), ["{\"number\":1}\n"]);
        held.arrived();
        assert_eq!(texts(&mut begin()), [""; 0]);
        // Bounded, in memory and on disk.
        for number in 0..5 * LIMIT {
            assert_eq!(held.push(message(What::Events, number)).unwrap(), number >= LIMIT);
        }
        let (last, written) = (texts(&mut held), fs::read_to_string(place.join(FILE)).unwrap());
        assert!(written.lines().count() <= 2 * LIMIT);
        assert_eq!((last.len(), texts(&mut begin())), (LIMIT, last));
    }
}
