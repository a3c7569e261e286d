//! The inputs of a live watch that are open, and that nobody else reads them meanwhile.

use std::time::Duration;

use tokio::sync::mpsc;
use tokio::sync::mpsc::UnboundedSender;
use tokio::task::JoinHandle;

use super::Error;
use super::finding::{Finding, Stage, is_free};
use super::kept::Kept;
use super::notices::Notice;
use super::plan::Plan;
use super::reread::{Lent, holder, named};
use crate::config;
use crate::edge::input::{self, Arrival, Important, Retry, Stations};
use crate::edge::{Claims, Clock, Holder, InUse, InputUri, Port};
use crate::frontend::Frontend;
use crate::mmsi::Mmsi;
use crate::thread;
use crate::watch::Input;
use crate::wire::InputId;

/// Lines that may wait between the inputs and the watch. A full channel holds the inputs back.
/// Our own.
const WAITING_LINES: usize = 1024;

/// How long inputs wait for the folder of the locks, and are opened without them. Our own.
const ASKING: Duration = Duration::from_secs(1);

/// How long one on trial waits for the folder of the locks. Our own.
const SOON: Duration = Duration::from_millis(100);

/// How soon a port on trial is tried again. Our own.
const AT_ONCE: Duration = Duration::from_millis(20);

/// The inputs that are open.
pub(super) struct Inputs {
    open: Vec<Opened>,
    tx: mpsc::Sender<Arrival>,
    clock: Clock,
    /// The beacons of the muster.
    important: Important,
    /// Those heard through brokers.
    stations: Stations,
    next: usize,
    /// That nobody else reads them meanwhile; `None` as long as the folder of the locks does not
    /// answer, and while they are lent.
    claims: Option<Claims>,
    notices: UnboundedSender<Notice>,
    /// The folder of the locks has not answered yet since the beginning.
    asks: bool,
    /// Who reads them, for others on this computer.
    holder: Holder,
    /// Those that nobody has named, while no other is named.
    finding: Option<Finding>,
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
        let holder = holder(plan);
        let (claims, held) = hold(begin, named(plan), holder.clone(), ASKING, notices);
        held.map_err(Error::InUse)?;
        let (tx, arrivals) = mpsc::channel(WAITING_LINES);
        let (open, important, notices) = (Vec::new(), Important::default(), notices.clone());
        let (next, finding, stations) = (0, None, Stations::default());
        let asks = claims.is_none();
        let inputs = Self {
            open,
            tx,
            clock,
            important,
            stations,
            next,
            claims,
            notices,
            asks,
            holder,
            finding,
        };
        Ok((inputs, arrivals))
    }

    /// Lends the locks, with which another plan is claimed where nothing waits for it.
    pub(super) fn lend(&mut self) -> Lent {
        Lent { claims: self.claims.take(), found: self.finding.is_some().then(|| self.found()) }
    }

    /// Takes the locks back; those of a plan, if it is followed from now on.
    pub(super) fn take_back(&mut self, lent: Lent, followed: Option<&Plan>) {
        self.claims = lent.claims.or(self.claims.take());
        if let Some(plan) = followed {
            self.holder = holder(plan);
        }
    }

    /// Takes the locks of these inputs alone.
    fn hold(&mut self, inputs: Vec<(String, InputUri)>, patience: Duration) -> Result<(), InUse> {
        let Some(claims) = self.claims.take() else { return Ok(()) };
        let (claims, held) = hold(|| claims, inputs, self.holder.clone(), patience, &self.notices);
        self.claims = claims;
        held
    }

    /// The folder of the locks has answered. What was found while the watch went on and another
    /// program reads is left to it, if it has not spoken here yet.
    ///
    /// # Errors
    /// Another reads an input that this watch was begun with.
    pub(super) fn keep(&mut self, claims: Claims, held: Result<(), InUse>) -> Result<(), InUse> {
        self.claims = Some(claims);
        let (asked, Err(by)) = (std::mem::take(&mut self.asks), held) else { return Ok(()) };
        if asked {
            return Err(by);
        }
        let trials = self.finding.iter_mut().flat_map(|it| &mut it.trials);
        for trial in trials.filter(|it| it.name == by.input) {
            match std::mem::replace(&mut trial.stage, Stage::Taken) {
                Stage::OnTrial(task) => task.abort(),
                before => trial.stage = before,
            }
        }
        tracing::warn!("{}", Error::InUse(by));
        Ok(())
    }

    /// Opens what the plan has and is not open, and closes what it has not.
    pub(super) fn follow(&mut self, plan: &Plan, watch: &mut Kept, front: &mut impl Frontend) {
        self.important.set(plan.settings.ours());
        let goes_on = plan.finds.is_some() && self.finding.is_some();
        let wanted =
            |it: &Opened| goes_on || plan.inputs.iter().any(|(n, u)| (n, u) == (&it.name, &it.uri));
        for gone in self.open.extract_if(.., |it| !wanted(it)) {
            gone.task.abort();
            self.stations.forget(gone.number);
            let (stamp, input) = (self.clock.now(), gone.id);
            watch.forget_input(input, stamp);
            let reason = "the watch does not read it any more";
            front.overhear(&gone.name, Input::Lost { stamp, input, reason });
        }
        for (name, uri) in &plan.inputs {
            if self.open.iter().any(|it| it.name == *name) {
                continue;
            }
            let (number, task) = self.spawn(uri.clone(), Retry::default());
            self.enter(number, name.clone(), uri.clone(), task, watch);
        }
        if goes_on {
            return;
        }
        for gone in self.finding.take().into_iter().flat_map(|it| it.trials) {
            if let Stage::OnTrial(task) = gone.stage {
                task.abort();
            }
        }
        if let Some(finds) = &plan.finds {
            self.finding = Some(Finding::new(finds));
            self.begin_to_find(watch);
        }
    }

    /// Opens an input: the number of its arrivals, and its task.
    fn spawn(&mut self, uri: InputUri, retry: Retry) -> (usize, JoinHandle<()>) {
        let number = self.next;
        self.next += 1;
        let (tx, first) = (self.tx.clone(), self.important.clone());
        let stations = self.stations.clone();
        (number, input::spawn(number, uri, self.clock, retry, tx, first, stations))
    }

    /// Makes what is open an input of the watch.
    fn enter(
        &mut self,
        number: usize,
        name: String,
        uri: InputUri,
        task: JoinHandle<()>,
        watch: &mut Kept,
    ) {
        let bit_rate = match uri {
            InputUri::Serial { baud, .. } => Some(baud),
            _ => None,
        };
        let id = watch.input(&name, bit_rate);
        self.open.push(Opened { number, id, name, uri, task });
    }

    /// Opens what there may be by network. Where datagrams usually come is an input of the watch at
    /// once: that nothing comes there is to be told.
    fn begin_to_find(&mut self, watch: &mut Kept) {
        let count = self.finding.as_ref().map_or(0, |it| it.trials.len());
        for place in 0..count {
            self.open_trial(place);
        }
        self.open_first(watch);
    }

    /// Makes the first of what is looked at an input of the watch, or says why it cannot be.
    fn open_first(&mut self, watch: &mut Kept) {
        let Some(finding) = &mut self.finding else { return };
        let Some(first) = finding.trials.first_mut() else { return };
        let (number, name, uri) = (first.number, first.name.clone(), first.uri.clone());
        match std::mem::replace(&mut first.stage, Stage::Watched) {
            Stage::OnTrial(task) => self.enter(number, name, uri, task, watch),
            other => {
                first.stage = other;
                let reason = format!(
                    "another program uses it: not taken from it; to share it all the same, begin the \
                     watch with --input {uri}"
                );
                finding.fail(&name, &reason);
                let input = watch.input(&name, None);
                watch.handle(Input::Lost { stamp: self.clock.now(), input, reason: &reason });
            }
        }
    }

    /// Opens one of what is looked at, unless another program would lose it by that.
    fn open_trial(&mut self, place: usize) {
        let mut wanted = self.found();
        let Some(trial) = self.finding.as_mut().and_then(|it| it.trials.get_mut(place)) else {
            return;
        };
        wanted.retain(|(name, _)| *name != trial.name);
        wanted.push((trial.name.clone(), trial.uri.clone()));
        let uri = trial.uri.clone();
        let is_group = matches!(uri, InputUri::Udp(address) if address.ip().is_multicast());
        trial.stage = Stage::Taken;
        if !is_group && !is_free(&uri) || self.hold(wanted, SOON).is_err() {
            return;
        }
        // A port that is read at its next rate is closed in a moment.
        let retry = Retry { first: AT_ONCE, ..Retry::default() };
        let (number, task) = self.spawn(uri, retry);
        let now = self.clock.now().at;
        if let Some(trial) = self.finding.as_mut().and_then(|it| it.trials.get_mut(place)) {
            trial.begin(number, Stage::OnTrial(task), now);
        }
    }

    /// Takes what an input has said, if it is one that nobody named. The input of the watch that it has
    /// just become.
    pub(super) fn prove(&mut self, arrival: &Arrival, watch: &mut Kept) -> Option<&Opened> {
        let trial = self.finding.as_mut()?.take(arrival)?;
        let Stage::OnTrial(task) = std::mem::replace(&mut trial.stage, Stage::Watched) else {
            return None;
        };
        let (number, name, uri) = (trial.number, trial.name.clone(), trial.uri.clone());
        self.enter(number, name, uri, task, watch);
        self.open.last()
    }

    /// Takes the serial ports that are there, and whether another program has each. Those that say
    /// nothing are read at their next rate.
    pub(super) fn look(&mut self, seen: &[(Port, bool)], watch: &mut Kept) {
        let now = self.clock.now();
        let Some(finding) = &mut self.finding else { return };
        for place in finding.look(seen, now.at) {
            self.open_trial(place);
        }
        let Some(finding) = &mut self.finding else { return };
        for trial in finding.unproven(now.at) {
            let open = self.open.iter().position(|it| it.number == trial.number);
            if let Some(Opened { id, task, .. }) = open.map(|place| self.open.remove(place)) {
                trial.begin_again(task);
                watch.forget_input(id, now);
            }
        }
        let is_taken = |finding: &Option<Finding>| {
            let first = finding.as_ref().and_then(|it| it.trials.first());
            first.is_some_and(|it| matches!(it.stage, Stage::Taken))
        };
        if is_taken(&self.finding) {
            self.open_trial(0);
            if !is_taken(&self.finding) {
                self.open_first(watch);
            }
        }
    }

    /// What nobody named and is open.
    fn found(&self) -> Vec<(String, InputUri)> {
        let trials = self.finding.iter().flat_map(|it| &it.trials);
        let open = trials.filter(|it| !matches!(it.stage, Stage::Taken));
        open.map(|it| (it.name.clone(), it.uri.clone())).collect()
    }

    /// What there is to tell of those that nobody named, and how they stand.
    pub(super) fn said(&mut self) -> (Vec<String>, String) {
        self.finding.as_mut().map(|it| (it.said(), it.words())).unwrap_or_default()
    }

    /// What would be written into a configuration without inputs.
    pub(super) fn proposed(&self) -> Vec<config::Input> {
        self.finding.as_ref().map(Finding::proposed).unwrap_or_default()
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

    /// How many are open or may come.
    pub(super) fn count(&self) -> usize {
        self.open.len() + usize::from(self.finding.is_some())
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
    let late = move |locks| drop(tx.send(Notice::Locks(Box::new(locks))));
    let why = match thread::in_time("locks", patience, work, late) {
        Ok(Some((claims, held))) => return (Some(claims), held),
        Ok(None) => "the folder of the locks does not answer".to_owned(),
        Err(why) => format!("no thread for the locks: {why}"),
    };
    tracing::warn!("{why}: another watch of the same input is not seen");
    (None, Ok(()))
}

#[cfg(all(test, unix))]
mod tests {
    use std::path::PathBuf;

    use super::*;
    use crate::app::plan::Finds;

    /// A watch that goes on does not end because something that it found later is another program's,
    /// and a slow folder says so late: that alone is left to the other.
    #[test]
    fn what_was_found_and_is_anothers_is_left_to_it_though_that_is_known_late() {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let _inside = runtime.enter();
        let (tx, _arrivals) = mpsc::channel(WAITING_LINES);
        let (notices, _noticed) = mpsc::unbounded_channel();
        let (root, new_file) = (PathBuf::new(), PathBuf::new());
        let mut inputs = Inputs {
            open: Vec::new(),
            tx,
            clock: Clock::start(),
            important: Important::default(),
            stations: Stations::default(),
            next: 0,
            claims: None,
            notices,
            asks: false,
            holder: Holder::default(),
            finding: Some(Finding::new(&Finds { root, port: 0, new_file })),
        };
        inputs.open_trial(0);
        let stage = |inputs: &Inputs| {
            matches!(inputs.finding.as_ref().unwrap().trials[0].stage, Stage::Taken)
        };
        assert!(!stage(&inputs));
        let trial = &inputs.finding.as_ref().unwrap().trials[0];
        let by = InUse { input: trial.name.clone(), uri: trial.uri.clone(), by: None };
        let claims = || Claims::within(PathBuf::new(), Vec::new());
        assert_eq!(inputs.keep(claims(), Err(by.clone())), Ok(()));
        assert!(stage(&inputs));
        // A second watch of the same inputs is refused, late rather than never.
        inputs.asks = true;
        assert_eq!(inputs.keep(claims(), Err(by.clone())), Err(by));
    }

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
        let Some(Notice::Locks(locks)) = noticed.blocking_recv() else { panic!("nothing") };
        assert_eq!(locks.1, Ok(()));
    }
}
