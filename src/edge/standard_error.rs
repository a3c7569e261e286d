//! Standard error, which nobody who keeps a watch waits for: a terminal that was stopped, or a pipe
//! that nobody reads, would hold an alarm up.

use std::io::{self, Write};
use std::sync::OnceLock;
use std::time::Duration;

use super::NonBlockingWriter;

static NEVER_WAITS: OnceLock<NonBlockingWriter> = OnceLock::new();

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

    /// Waits until what was said has arrived, but not for ever.
    pub fn settle(patience: Duration) {
        if let Some(writer) = NEVER_WAITS.get() {
            writer.settle(patience);
        }
    }
}

impl Write for StandardError {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
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
