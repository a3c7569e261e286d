//! The inputs of a live watch that are open, and that nobody else reads them meanwhile.

use tokio::sync::mpsc;
use tokio::task::JoinHandle;

use super::Error;
use super::kept::Kept;
use super::plan::Plan;
use crate::edge::input::{self, Arrival, Important, Retry};
use crate::edge::{Claims, Clock, Holder, InputUri};
use crate::frontend::Frontend;
use crate::mmsi::Mmsi;
use crate::watch::Input;
use crate::wire::InputId;

/// Lines that may wait between the inputs and the watch. A full channel holds the inputs back.
const WAITING_LINES: usize = 1024;

/// The inputs that are open.
pub(super) struct Inputs {
    open: Vec<Opened>,
    tx: mpsc::Sender<Arrival>,
    clock: Clock,
    /// The beacons of the muster.
    important: Important,
    next: usize,
    /// That nobody else reads them meanwhile.
    claims: Claims,
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
    /// out of the channel.
    ///
    /// # Errors
    /// Another program of this kind reads one of them.
    pub(super) fn claim(
        plan: &Plan,
        clock: Clock,
    ) -> Result<(Self, mpsc::Receiver<Arrival>), Error> {
        let mut claims = Claims::new(|name| std::env::var_os(name));
        claims.hold(&plan.inputs, &holder(plan)).map_err(Error::InUse)?;
        let (tx, arrivals) = mpsc::channel(WAITING_LINES);
        let important = Important::default();
        Ok((Self { open: Vec::new(), tx, clock, important, next: 0, claims }, arrivals))
    }

    /// Takes those of another plan instead; all or nothing.
    ///
    /// # Errors
    /// Another program of this kind reads one of them.
    pub(super) fn claim_again(&mut self, plan: &Plan) -> Result<(), Error> {
        self.claims.hold(&plan.inputs, &holder(plan)).map_err(Error::InUse)
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
