//! Standard error, which nobody who keeps a watch waits for: a terminal that was stopped, or a pipe
//! that nobody reads, would hold an alarm up.

use std::io::{self, IsTerminal as _, Write};
use std::sync::{Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Duration;

use super::NonBlockingWriter;

static NEVER_WAITS: OnceLock<NonBlockingWriter> = OnceLock::new();

/// What was said while a screen covers the terminal.
static HELD: Mutex<Option<Vec<u8>>> = Mutex::new(None);

/// So many bytes are held, the newest; what was said before them is given up. Our own.
const HELD_LIMIT: usize = 16 * 1024;

/// Standard error, as it is written to now.
#[derive(Debug)]
pub struct StandardError(Option<NonBlockingWriter>);

impl StandardError {
    /// As it is now.
    pub fn get() -> Self {
        Self(NEVER_WAITS.get().cloned())
    }

    /// Lets nobody wait for it from now on; if no thread can be had for that, it stays as it is.
    pub fn never_waits() {
        if NEVER_WAITS.get().is_none()
            && let Ok(writer) = NonBlockingWriter::start(io::stderr())
        {
            let _ = NEVER_WAITS.set(writer);
        }
    }

    /// Holds back what is said from now on, if it would land on the screen that is drawn on the same
    /// terminal.
    pub fn hold() -> Option<Held> {
        io::stderr().is_terminal().then(|| {
            held().get_or_insert_default();
            Held(())
        })
    }

    /// Waits until what was said has arrived, but not for ever.
    pub fn settle(patience: Duration) {
        if let Some(writer) = NEVER_WAITS.get() {
            writer.settle(patience);
        }
    }
}

/// Standard error is held back until this is dropped; then what was said is written.
#[derive(Debug)]
pub struct Held(());

impl Drop for Held {
    fn drop(&mut self) {
        let said = held().take().unwrap_or_default();
        // Where it cannot be written there is nobody to tell.
        let _ = StandardError::get().write_all(&said);
    }
}

fn held() -> MutexGuard<'static, Option<Vec<u8>>> {
    HELD.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Keeps this too, in whole lines.
fn keep(held: &mut Vec<u8>, bytes: &[u8]) {
    held.extend_from_slice(bytes);
    let beyond = held.len().saturating_sub(HELD_LIMIT);
    if beyond > 0 {
        let end = memchr::memchr(b'\n', &held[beyond - 1..]);
        held.drain(..end.map_or(beyond, |end| beyond + end));
    }
}

impl Write for StandardError {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if let Some(held) = &mut *held() {
            keep(held, bytes);
            return Ok(bytes.len());
        }
        let Some(writer) = &mut self.0 else { return io::stderr().write(bytes) };
        let taken = writer.write(bytes)?;
        writer.flush()?;
        Ok(taken)
    }

    fn flush(&mut self) -> io::Result<()> {
        match &mut self.0 {
            Some(writer) => writer.flush(),
            None => io::stderr().flush(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_lines_are_held() {
        let mut held = Vec::new();
        for n in 0..5000 {
            keep(&mut held, format!("line {n}\n").as_bytes());
            assert!(held.len() <= HELD_LIMIT);
        }
        assert!(held.len() > HELD_LIMIT - 20 && held.starts_with(b"line "));
        assert!(held.ends_with(b"\nline 4999\n"));
    }
}
