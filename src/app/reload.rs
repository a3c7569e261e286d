//! Another plan while the watch goes on: read, and its inputs claimed, on a thread of its own. A disk
//! that hangs holds up no alarm.

use std::io;
use std::sync::Arc;

use tokio::sync::mpsc::UnboundedSender;

use super::inputs::Inputs;
use super::notices::Notice;
use super::plan::Plan;
use super::reread::{Lent, Reread};
use crate::thread;

/// Reads the plan again whenever that is asked for, one after the other.
pub(super) struct Reload {
    read: Arc<dyn Fn() -> Option<Plan> + Send + Sync>,
    notices: UnboundedSender<Notice>,
    runs: bool,
    /// It was asked for while it was being read: what was written since may not be in it.
    again: bool,
}

impl Reload {
    pub(super) fn new(
        read: impl Fn() -> Option<Plan> + Send + Sync + 'static,
        notices: UnboundedSender<Notice>,
    ) -> Self {
        Self { read: Arc::new(read), notices, runs: false, again: false }
    }

    /// Whether it is being read, however long that takes.
    pub(super) fn runs(&self) -> bool {
        self.runs
    }

    /// Begins to read it; what becomes of that is noticed.
    ///
    /// # Errors
    /// No thread can be started.
    pub(super) fn ask(&mut self, inputs: &mut Inputs) -> io::Result<()> {
        self.again = self.runs;
        if self.runs {
            return Ok(());
        }
        let (read, tx) = (Arc::clone(&self.read), self.notices.clone());
        let (lend, borrowed) = std::sync::mpsc::sync_channel(1);
        thread::spawn("configuration", move |panicked| {
            if let Some(why) = panicked {
                tracing::error!("the configuration before goes on: {why}");
            }
            let plan = if panicked.is_none() { read() } else { None };
            let mut lent: Lent = borrowed.recv().unwrap_or_default();
            let held = plan.as_ref().map_or(Ok(()), |plan| lent.claim(plan));
            let _ = tx.send(Notice::Reread(Box::new(Reread { plan, held, lent })));
        })?;
        // Not before: without a thread they would be lost.
        let _ = lend.send(inputs.lend());
        self.runs = true;
        Ok(())
    }

    /// It was read. Whether it is to be read once more.
    pub(super) fn on_read(&mut self) -> bool {
        self.runs = false;
        std::mem::take(&mut self.again)
    }
}
