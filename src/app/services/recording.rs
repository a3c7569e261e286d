//! The recorder: begun, and told which recordings are never deleted.

use std::io;
use std::path::PathBuf;
use std::time::Duration;

use tokio::sync::mpsc::UnboundedSender;

use super::{ASKING, OFF, Services};
use crate::app::RECORDINGS;
use crate::app::notices::Notice;
use crate::app::plan::Plan;
use crate::capture::{self, Recorder};
use crate::logbook;
use crate::thread;

impl Services {
    pub(super) fn start_recorder(&mut self, plan: &Plan) {
        let (Some(folder), Some(keep)) = (&plan.folder, plan.record) else { return };
        let referred = referred(folder.clone(), self.notices.clone());
        let recordings = folder.join(RECORDINGS);
        let tx = self.notices.clone();
        let start = move || {
            Recorder::start(recordings, keep, referred, move |it| {
                let _ = tx.send(Notice::Recorder(it));
            })
        };
        let tx = self.notices.clone();
        let late = move |started| drop(tx.send(Notice::Recording(started)));
        "waits for the disk".clone_into(&mut self.parts.recording);
        match thread::in_time("recordings", ASKING, start, late) {
            Ok(None) => self.recorder_fails("the disk does not answer".to_owned()),
            Ok(Some(started)) => self.on_recorder(started),
            Err(why) => self.on_recorder(Err(why)),
        }
    }

    /// The recorder has begun, or not.
    pub(super) fn on_recorder(&mut self, started: io::Result<Recorder>) {
        match started {
            // It was switched off, or began once more, meanwhile.
            Ok(recorder) if self.recorder.is_some() || self.parts.recording == OFF => {
                recorder.close(Duration::ZERO);
            }
            Ok(recorder) => {
                self.recorder = Some(recorder);
                "on".clone_into(&mut self.parts.recording);
            }
            Err(why) => self.recorder_fails(format!("no thread for it: {why}")),
        }
    }

    fn recorder_fails(&self, why: String) {
        let _ = self.notices.send(Notice::Recorder(capture::RecorderReport::Failed(why)));
    }
}

/// Asks the logbook which recordings it refers to, those that are never deleted. Where it does not say,
/// that is told.
fn referred(folder: PathBuf, notices: UnboundedSender<Notice>) -> capture::Referred {
    Box::new(move || {
        let reader = logbook::Reader::open(&folder);
        let found = reader.and_then(|it| it.map(|it| it.recordings()).transpose());
        let why =
            found.as_ref().err().map(|why| format!("which are to be kept is not known: {why}"));
        let _ = notices.send(Notice::Unreferred(why));
        found.ok().flatten()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::entries::bare;
    use crate::edge::Clock;
    use crate::frontend::Parts;
    use crate::logbook::{Draft, WatchEvent};
    use crate::watch::Part;

    /// Nothing is deleted while the logbook does not say what it refers to, and that is told until it does.
    #[test]
    fn a_logbook_that_does_not_say_which_recordings_it_needs_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let (notices, mut noticed) = tokio::sync::mpsc::unbounded_channel();
        let referred = referred(folder.path().to_owned(), notices);
        let mut asked = || {
            let found = referred();
            let (faults, _) = noticed.try_recv().unwrap().show(&mut Parts::default());
            let [(part, fault)] = faults.try_into().unwrap();
            assert_eq!(part, Part::OldRecordings);
            (found, fault)
        };
        assert_eq!(asked(), (None, None), "there is no logbook yet");
        let path = folder.path().join(logbook::FILE);
        std::fs::write(&path, "no logbook".repeat(100)).unwrap();
        let (found, fault) = asked();
        assert!(found.is_none() && fault.unwrap().contains("logbook.db"));
        std::fs::remove_file(&path).unwrap();
        let begun = Draft::watch(
            WatchEvent::Started,
            "",
            serde_json::Value::Null,
            &bare(Clock::start().now()),
        );
        logbook::append(folder.path(), begun).unwrap();
        assert_eq!(asked(), (Some(Default::default()), None));
    }
}
