//! A beacon entered in the configuration file: looked at, shown, written. By the command and by the
//! watch alike.
//!
//! *Invariant:* what is written is what was shown, into the file as it was then.

use std::fs;
use std::io;
use std::path::PathBuf;
use std::sync::Arc;

use crate::config::{DueDate, Enrolment, NotEntered, check_name};
use crate::edge::rewrite;
use crate::frontend::{Enrolled, NewBeacon};
use crate::text::printable;
use crate::thread;

/// What to do about a file that cannot be read or written.
const WHO_MAY: &str = "check who may read and write the file and its folder, then try again";

/// The lines that enter a beacon, beside the file as it was when they were made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proposal {
    /// The beacon.
    pub new: Enrolment,
    /// What is to be added at the end of the file.
    pub lines: String,
    path: PathBuf,
    before: String,
}

impl Proposal {
    /// Looks at the file now.
    ///
    /// # Errors
    /// What of the beacon is there already; a file that cannot be read.
    pub fn look(new: Enrolment, path: PathBuf) -> Result<Self, NotEntered> {
        let before = fs::read_to_string(&path).map_err(|why| {
            NotEntered::new(format!("{} cannot be read: {why}", path.display()), WHO_MAY)
        })?;
        let lines = new.lines(&before, &path)?;
        Ok(Self { new, lines, path, before })
    }

    /// Adds the lines to the file, if that is still as it was.
    ///
    /// # Errors
    /// A file that has changed, or that cannot be written: it is as it was.
    pub fn write(&self) -> Result<(), NotEntered> {
        let Self { path, before, lines, .. } = self;
        rewrite(path, before, &format!("{before}{lines}")).map_err(|why| {
            let what = format!("{} was not written: {why}", path.display());
            NotEntered::new(what, WHO_MAY)
        })
    }
}

/// What a file said to a beacon that was to be entered by a watch.
#[derive(Debug)]
pub(super) enum Answer {
    /// These lines would be added.
    Proposed(Box<Proposal>),
    /// They were, and who asked for it, if it was not who keeps the watch.
    Written(Box<Proposal>, Option<String>),
    /// Nothing was written: which field is wrong, and why.
    Refused(usize, String),
}

/// Who is told what the file said, on the thread that asked it.
pub(super) type Tell = Arc<dyn Fn(NewBeacon, Answer) + Send + Sync>;

/// Enters beacons in the configuration file of a watch. The file is read and written on a thread of
/// its own: a disk that hangs must not hold up an alarm.
pub(super) struct Enroller {
    file: Option<PathBuf>,
    tell: Tell,
    /// What was shown last, and whose form asked for it.
    shown: Option<(NewBeacon, Proposal)>,
}

impl Enroller {
    pub(super) fn new(file: Option<PathBuf>, tell: Tell) -> Self {
        Self { file, tell, shown: None }
    }

    /// The name of the file.
    pub(super) fn file(&self) -> Option<String> {
        Some(self.file.as_ref()?.display().to_string())
    }

    /// Looks at the file for a beacon. What is to be shown of it at once.
    pub(super) fn look(&mut self, new: NewBeacon) -> Enrolled {
        self.shown = None;
        let Some(path) = self.file.clone() else {
            return Enrolled::Refused(
                0,
                "the watch was begun without a configuration file".to_owned(),
            );
        };
        let enrolment = match enrolment(&new) {
            Ok(enrolment) => enrolment,
            Err((field, why)) => return Enrolled::Refused(field, why),
        };
        self.ask(new, move || {
            Proposal::look(enrolment.clone(), path.clone()).map(|it| Answer::Proposed(Box::new(it)))
        })
    }

    /// Writes the lines that were shown for a beacon.
    pub(super) fn write(&mut self, new: NewBeacon, by: Option<&str>) -> Enrolled {
        let Some((_, proposal)) = self.shown.take().filter(|(shown, _)| *shown == new) else {
            let why = "these lines are not those that were shown; look at them again";
            return Enrolled::Refused(0, why.to_owned());
        };
        let by = by.map(str::to_owned);
        self.ask(new, move || {
            proposal.write().map(|()| Answer::Written(Box::new(proposal.clone()), by.clone()))
        })
    }

    fn ask(
        &self,
        new: NewBeacon,
        work: impl Fn() -> Result<Answer, NotEntered> + Send + 'static,
    ) -> Enrolled {
        let tell = Arc::clone(&self.tell);
        let begun = thread::spawn("muster", move |panicked| {
            let answer = match panicked {
                Some(why) => Answer::Refused(0, why.to_owned()),
                None => {
                    work().unwrap_or_else(|why| Answer::Refused(field(&new, &why), why.to_string()))
                }
            };
            tell(new.clone(), answer);
        });
        begun.map_or_else(|why| no_thread(&why), |_| Enrolled::Waits)
    }

    /// Takes the answer: what is to be shown, and what was written and who asked for it.
    pub(super) fn take(
        &mut self,
        new: &NewBeacon,
        answer: Answer,
    ) -> (Enrolled, Option<(Enrolment, Option<String>)>) {
        match answer {
            Answer::Refused(field, why) => (Enrolled::Refused(field, why), None),
            Answer::Proposed(proposal) => {
                let lines = words(&proposal);
                self.shown = Some((new.clone(), *proposal));
                (Enrolled::Proposed(lines), None)
            }
            Answer::Written(proposal, by) => {
                let new = proposal.new;
                (Enrolled::Entered(said(&new)), Some((new, by)))
            }
        }
    }
}

fn no_thread(why: &io::Error) -> Enrolled {
    Enrolled::Refused(0, format!("no thread for it: {why}"))
}

/// What was typed as what it means; which field is wrong otherwise, and why.
fn enrolment(new: &NewBeacon) -> Result<Enrolment, (usize, String)> {
    let given = |text: &str| (!text.is_empty()).then(|| text.to_owned());
    for (field, name) in [&new.holder, &new.jacket].into_iter().enumerate() {
        if let Some(name) = given(name) {
            check_name(&name).map_err(|why| (field, why))?;
        }
    }
    let battery = given(&new.battery).map(|text| {
        DueDate::of_label(&text)
            .map_err(|_| (2, "not understood: write 2029-05, 05/2029 or 2029-05-14".to_owned()))
    });
    Ok(Enrolment {
        mmsi: new.mmsi,
        holder: given(&new.holder),
        jacket: given(&new.jacket),
        battery: battery.transpose()?,
        test_every_months: None,
        dsc_mmsi: None,
    })
}

/// The field that a refusal is about: the lifejacket if it begins with its name, else the first.
fn field(new: &NewBeacon, why: &NotEntered) -> usize {
    usize::from(!new.jacket.is_empty() && why.what.starts_with(&format!("{} ", new.jacket)))
}

/// The lines of a proposal, with the battery's date said back.
fn words(proposal: &Proposal) -> Vec<String> {
    let lines = proposal.lines.lines().filter(|line| !line.trim().is_empty());
    let lines = lines.map(|line| printable(line).into_owned());
    let battery = proposal.new.battery.map(|date| format!("battery {}", date.words()));
    lines.chain(battery).collect()
}

/// `Entered in the muster: 972000011, Skipper, jacket 1, battery to the end of May 2029`.
pub(super) fn said(new: &Enrolment) -> String {
    let mmsi = Some(new.mmsi.to_string());
    let holder = new.holder.clone().or_else(|| Some("a spare".to_owned()));
    let battery = new.battery.map(|date| format!("battery {}", date.words()));
    let parts: Vec<String> =
        [mmsi, holder, new.jacket.clone(), battery].into_iter().flatten().collect();
    format!("Entered in the muster: {}", parts.join(", "))
}
