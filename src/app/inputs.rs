//! The inputs of a live watch that are open, and that nobody else reads them meanwhile.

use std::time::Duration;

use tokio::sync::mpsc;
use tokio::sync::mpsc::UnboundedSender;
use tokio::task::JoinHandle;

use super::Error;
use super::kept::Kept;
use super::notices::Notice;
use super::plan::Plan;
use crate::edge::input::{self, Arrival, Important, Retry};
use crate::edge::{Claims, Clock, Holder, InUse, InputUri};
use crate::frontend::Frontend;
use crate::mmsi::Mmsi;
use crate::thread;
use crate::watch::Input;
use crate::wire::InputId;

/// Lines that may wait between the inputs and the watch. A full channel holds the inputs back.
const WAITING_LINES: usize = 1024;

/// How long inputs wait for the folder of the locks, and are opened without them. Our own.
const ASKING: Duration = Duration::from_secs(1);

/// The inputs that are open.
pub(super) struct Inputs {
    open: Vec<Opened>,
    tx: mpsc::Sender<Arrival>,
    clock: Clock,
    /// The beacons of the muster.
    important: Important,
    next: usize,
    /// That nobody else reads them meanwhile; `None` as long as the folder of the locks does not
    /// answer.
    claims: Option<Claims>,
    notices: UnboundedSender<Notice>,
}

/// An input that is open.
pub(super) struct Opened {
    /// What its arrivals are numbered with.
    number: usize,
    pub(super) id: InputId,
    pub(super) name: String,
    uri: InputUri,
    task: JoinHandle<()>,
}

impl Inputs {
    /// Takes the inputs of the plan for this program alone, and opens none yet. Their arrivals come
    /// out of the channel. What the folder of the locks says later than anybody waits for is noticed.
    ///
    /// # Errors
    /// Another program of this kind reads one of them.
    pub(super) fn claim(
        plan: &Plan,
        clock: Clock,
        notices: &UnboundedSender<Notice>,
    ) -> Result<(Self, mpsc::Receiver<Arrival>), Error> {
        let begin = || Claims::new(|name| std::env::var_os(name));
        let (claims, held) = hold(begin, plan.inputs.clone(), holder(plan), ASKING, notices);
        held.map_err(Error::InUse)?;
        let (tx, arrivals) = mpsc::channel(WAITING_LINES);
        let important = Important::default();
        let notices = notices.clone();
        Ok((Self { open: Vec::new(), tx, clock, important, next: 0, claims, notices }, arrivals))
    }

    /// Takes those of another plan instead; all or nothing.
    ///
    /// # Errors
    /// Another program of this kind reads one of them.
    pub(super) fn claim_again(&mut self, plan: &Plan) -> Result<(), Error> {
        let Some(claims) = self.claims.take() else { return Ok(()) };
        let (claims, held) =
            hold(|| claims, plan.inputs.clone(), holder(plan), ASKING, &self.notices);
        self.claims = claims;
        held.map_err(Error::InUse)
    }

    /// The folder of the locks has answered.
    pub(super) fn keep(&mut self, claims: Claims) {
        self.claims = Some(claims);
    }

    /// Opens what the plan has and is not open, and closes what it has not.
    pub(super) fn follow(&mut self, plan: &Plan, watch: &mut Kept, front: &mut impl Frontend) {
        self.important.set(plan.settings.ours());
        let wanted = |it: &Opened| plan.inputs.iter().any(|(n, u)| (n, u) == (&it.name, &it.uri));
        for gone in self.open.extract_if(.., |it| !wanted(it)) {
            gone.task.abort();
            let (stamp, input) = (self.clock.now(), gone.id);
            watch.forget_input(input, stamp);
            let reason = "the watch does not read it any more";
            front.overhear(&gone.name, Input::Lost { stamp, input, reason });
        }
        for (name, uri) in &plan.inputs {
            if self.open.iter().any(|it| it.name == *name) {
                continue;
            }
            let bit_rate = match uri {
                InputUri::Serial { baud, .. } => Some(*baud),
                _ => None,
            };
            let (number, id) = (self.next, watch.input(name, bit_rate));
            self.next += 1;
            let (clock, tx) = (self.clock, self.tx.clone());
            let first = self.important.clone();
            let task = input::spawn(number, uri.clone(), clock, Retry::default(), tx, first);
            let (name, uri) = (name.clone(), uri.clone());
            self.open.push(Opened { number, id, name, uri, task });
        }
    }

    /// The beacons of the muster are others from now on.
    pub(super) fn set_important(&self, beacons: impl Iterator<Item = Mmsi>) {
        self.important.set(beacons);
    }

    /// The input that has this to say, unless it was closed meanwhile.
    pub(super) fn find(&self, arrival: &Arrival) -> Option<&Opened> {
        self.open.iter().find(|it| it.number == arrival.input)
    }

    /// One has come to its end.
    pub(super) fn ended(&mut self, arrival: &Arrival) {
        self.open.retain(|it| it.number != arrival.input);
    }

    /// How many are open.
    pub(super) fn count(&self) -> usize {
        self.open.len()
    }
}

/// Takes the locks of these inputs. Where their folder does not answer in time nobody waits for it: it
/// is noticed when it does.
fn hold(
    claims: impl FnOnce() -> Claims + Send + 'static,
    inputs: Vec<(String, InputUri)>,
    holder: Holder,
    patience: Duration,
    notices: &UnboundedSender<Notice>,
) -> (Option<Claims>, Result<(), InUse>) {
    let work = move || {
        let mut claims = claims();
        let held = claims.hold(&inputs, &holder);
        (claims, held)
    };
    let tx = notices.clone();
    let late = move |(claims, held)| drop(tx.send(Notice::Locks(claims, held)));
    let why = match thread::in_time("locks", patience, work, late) {
        Ok(Some((claims, held))) => return (Some(claims), held),
        Ok(None) => "the folder of the locks does not answer".to_owned(),
        Err(why) => format!("no thread for the locks: {why}"),
    };
    tracing::warn!("{why}: another watch of the same input is not seen");
    (None, Ok(()))
}

/// Who reads the inputs, for others on this computer.
fn holder(plan: &Plan) -> Holder {
    Holder {
        pid: std::process::id(),
        input: String::new(),
        folder: plan.folder.clone().filter(|_| plan.keeps_logbook),
        since: Clock::start().now().utc.to_string(),
        door: plan.door.clone(),
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    /// A folder that hangs, here with a pipe in place of a lock, holds up no input; who reads one is
    /// told when it answers.
    #[test]
    fn a_folder_of_locks_that_does_not_answer_is_not_waited_for() {
        let folder = tempfile::tempdir().unwrap();
        let (own, other) = (folder.path().join("own"), folder.path().join("other"));
        for folder in [&own, &other] {
            std::fs::create_dir(folder).unwrap();
        }
        let pipe = other.join("udp-10110-239.192.0.2.lock");
        assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
        let inputs = vec![("ais".to_owned(), "udp://239.192.0.2:10110".parse().unwrap())];
        let begin = move || Claims::within(own, vec![other]);
        let patience = Duration::from_millis(20);
        let (notices, mut noticed) = mpsc::unbounded_channel();
        let (claims, held) = hold(begin, inputs, Holder::default(), patience, &notices);
        assert!(claims.is_none() && held.is_ok());
        // It answers.
        drop(std::fs::File::options().write(true).open(&pipe).unwrap());
        let Some(Notice::Locks(_, held)) = noticed.blocking_recv() else { panic!("nothing") };
        assert_eq!(held, Ok(()));
    }
}
