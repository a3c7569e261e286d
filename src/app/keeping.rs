//! Inputs that a watch has found, kept in the configuration file: looked at, shown, written. The file
//! is read and written on a thread of its own: a disk that hangs must not hold up an alarm.
//!
//! *Invariant:* what is written is what was shown, into the file as it was then.

use std::path::PathBuf;
use std::sync::Arc;

use super::input_change::InputChange;
use super::plan::Plan;
use crate::config::{Config, Input, NotEntered};
use crate::frontend::KeptInputs;
use crate::text::printable;
use crate::thread;

/// What a file said to inputs that were to be kept.
#[derive(Debug)]
pub(super) enum Kept {
    /// It would change so.
    Proposed(Box<InputChange>),
    /// It has.
    Written(PathBuf),
    /// Nothing was written, and why.
    Refused(String),
}

/// Who is told what the file said, on the thread that asked it.
pub(super) type Tell = Arc<dyn Fn(Kept) + Send + Sync>;

/// Keeps inputs in the configuration file of a watch for which none is named.
pub(super) struct InputKeeper {
    file: Option<PathBuf>,
    /// Where they are written if there is no file.
    new: PathBuf,
    tell: Tell,
    shown: Option<Box<InputChange>>,
}

impl InputKeeper {
    /// That of a watch that looks for its inputs.
    pub(super) fn of(plan: &Plan, tell: Tell) -> Option<Self> {
        let new = plan.finds.as_ref()?.new_file.clone();
        Some(Self { file: plan.configuration.clone(), new, tell, shown: None })
    }

    /// Looks how the file would change.
    pub(super) fn look(&mut self, inputs: Vec<Input>) -> KeptInputs {
        self.shown = None;
        if inputs.is_empty() {
            let why = "no input that a watch needs has spoken yet: nothing to keep";
            return KeptInputs::Refused(why.to_owned());
        }
        let (file, new) = (self.file.clone(), self.new.clone());
        self.ask(move || {
            let change = InputChange::look(file.as_deref(), &new, &inputs)?;
            let now = Config::parse(change.before(), &change.path);
            // Another program may have written some by now, of the same names.
            if now.is_ok_and(|config| !config.inputs.is_empty()) {
                let what = format!("{} has inputs by now", change.path.display());
                return Err(NotEntered::new(what, "begin the watch again: it reads them"));
            }
            Ok(Kept::Proposed(Box::new(change)))
        })
    }

    /// Writes what was shown.
    pub(super) fn write(&mut self) -> KeptInputs {
        let Some(change) = self.shown.take() else {
            return KeptInputs::Refused("nothing was shown that could be written".to_owned());
        };
        self.ask(move || change.write().map(|()| Kept::Written(change.path.clone())))
    }

    fn ask(&self, work: impl Fn() -> Result<Kept, NotEntered> + Send + 'static) -> KeptInputs {
        let tell = Arc::clone(&self.tell);
        let begun = thread::spawn("inputs", move |panicked| {
            let answer = match panicked {
                Some(why) => Kept::Refused(why.to_owned()),
                None => work().unwrap_or_else(|why| Kept::Refused(why.to_string())),
            };
            tell(answer);
        });
        match begun {
            Ok(_) => KeptInputs::Waits,
            Err(why) => KeptInputs::Refused(format!("no thread for it: {why}")),
        }
    }

    /// Takes the answer: what is to be shown.
    pub(super) fn take(&mut self, answer: Kept) -> KeptInputs {
        match answer {
            Kept::Refused(why) => KeptInputs::Refused(why),
            Kept::Written(path) => KeptInputs::Written(path.display().to_string()),
            Kept::Proposed(change) => {
                let lines = change.difference();
                let lines = lines.iter().map(|line| printable(line).into_owned()).collect();
                let file = change.path.display().to_string();
                self.shown = Some(change);
                KeptInputs::Proposed(file, lines)
            }
        }
    }
}
