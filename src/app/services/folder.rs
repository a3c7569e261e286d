//! The logbook's folder, which one watch alone keeps.

use std::time::Duration;

use tokio::sync::mpsc::UnboundedSender;

use super::{ASKING, Services};
use crate::app::Error;
use crate::app::notices::Notice;
use crate::app::plan::Plan;
use crate::edge::{Instance, Taken};
use crate::thread;

impl Services {
    /// Takes the folder of the logbook for this watch alone, if it keeps one. If the disk does not
    /// answer, that is told, and what it says later.
    ///
    /// # Errors
    /// Another watch keeps it.
    pub(in crate::app) fn claim(
        plan: &Plan,
        notices: &UnboundedSender<Notice>,
    ) -> Result<Option<Instance>, Error> {
        let Some(folder) = plan.folder.clone().filter(|_| plan.keeps_logbook) else {
            return Ok(None);
        };
        let door = plan.door.clone();
        let claim = move || Instance::claim(&folder, door.as_deref());
        claimed_in_time(claim, ASKING, notices).map_or(Ok(None), own)
    }

    /// What the disk has said of the logbook's folder: the fault, if it says nothing.
    ///
    /// # Errors
    /// Another watch keeps it.
    pub(in crate::app) fn on_folder(
        &mut self,
        claimed: Option<Result<Instance, Taken>>,
    ) -> Result<Option<String>, Error> {
        let Some(claimed) = claimed else {
            let why = "the disk does not answer: whether another watch keeps it is not known";
            return Ok(Some(why.to_owned()));
        };
        self.instance = own(claimed)?;
        Ok(None)
    }
}

/// What a claim of the logbook's folder says, if it does so in time: else that is told, and what it
/// says later.
fn claimed_in_time(
    claim: impl FnOnce() -> Result<Instance, Taken> + Send + 'static,
    patience: Duration,
    notices: &UnboundedSender<Notice>,
) -> Option<Result<Instance, Taken>> {
    let tx = notices.clone();
    let late = move |claimed| drop(tx.send(Notice::Folder(Some(claimed))));
    match thread::in_time("folder", patience, claim, late) {
        Ok(None) => {
            let _ = notices.send(Notice::Folder(None));
            None
        }
        Ok(claimed) => claimed,
        // The logbook's writer says that there are no threads.
        Err(why) => Some(Err(Taken::Not(why))),
    }
}

/// A folder that cannot be written keeps nobody from watching: the logbook says so.
///
/// # Errors
/// Another watch keeps it.
fn own(claimed: Result<Instance, Taken>) -> Result<Option<Instance>, Error> {
    match claimed {
        Ok(instance) => Ok(Some(instance)),
        Err(Taken::By { pid, path }) => Err(Error::Taken { pid, path }),
        Err(Taken::Not(why)) => {
            tracing::debug!("cannot claim the logbook's folder: {why}");
            Ok(None)
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;

    use super::*;

    /// A disk that hangs is told, nobody waits for it, and a second watch is refused when it answers.
    #[test]
    fn a_folder_that_does_not_answer_is_told_and_followed_up() {
        let folder = tempfile::tempdir().unwrap();
        let _first = Instance::claim(folder.path(), None).unwrap();
        let (notices, mut noticed) = tokio::sync::mpsc::unbounded_channel();
        let (answer, answers) = mpsc::channel::<()>();
        let path = folder.path().to_owned();
        let claim = move || {
            answers.recv().unwrap();
            Instance::claim(&path, None)
        };
        assert!(claimed_in_time(claim, Duration::from_millis(20), &notices).is_none());
        assert!(matches!(noticed.try_recv(), Ok(Notice::Folder(None))));
        answer.send(()).unwrap();
        let Some(Notice::Folder(Some(claimed))) = noticed.blocking_recv() else {
            panic!("nothing")
        };
        assert!(matches!(own(claimed), Err(Error::Taken { .. })));
    }
}
