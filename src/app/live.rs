//! The live watch: its inputs, and the parts around it.

use std::io::{self, Write as _};
use std::time::Duration;

use tokio::sync::mpsc;
use tokio::task::JoinHandle;

use super::notices::Notice;
use super::plan::Plan;
use super::resume::{Found, Left};
use super::services::Services;
use super::{Error, end_signal, resume};
use crate::edge::input::{self, Arrival, Important, Retry, What};
use crate::edge::{Claims, Clock, Holder, InputUri, Service};
use crate::frontend::{Context, Frontend, Request};
use crate::watch::{Command, Event, Input, Settings, Watch};
use crate::wire::InputId;

/// Lines that may wait between the inputs and the watch. A full channel holds the inputs back.
const WAITING_LINES: usize = 1024;

/// The inputs that are open.
struct Inputs {
    open: Vec<Opened>,
    tx: mpsc::Sender<Arrival>,
    clock: Clock,
    /// The beacons of the muster.
    important: Important,
    next: usize,
    /// That nobody else reads them meanwhile.
    claims: Claims,
}

struct Opened {
    /// What its arrivals are numbered with.
    number: usize,
    id: InputId,
    name: String,
    uri: InputUri,
    task: JoinHandle<()>,
}

impl Inputs {
    /// Opens what the plan has and is not open, and closes what it has not.
    fn follow(&mut self, plan: &Plan, watch: &mut Watch, front: &mut impl Frontend) {
        self.important.set(plan.settings.ours());
        let wanted = |it: &Opened| plan.inputs.iter().any(|(n, u)| (n, u) == (&it.name, &it.uri));
        for gone in self.open.extract_if(.., |it| !wanted(it)) {
            gone.task.abort();
            watch.forget_input(gone.id);
            let (stamp, input) = (self.clock.now(), gone.id);
            let reason = "the watch does not read it any more";
            front.overhear(&gone.name, Input::Lost { stamp, input, reason });
        }
        for (name, uri) in &plan.inputs {
            if self.open.iter().any(|it| it.name == *name) {
                continue;
            }
            let (number, id) = (self.next, watch.input(name));
            if let InputUri::Serial { baud, .. } = uri {
                watch.set_bit_rate(id, *baud);
            }
            self.next += 1;
            let (clock, tx) = (self.clock, self.tx.clone());
            let first = self.important.clone();
            let task = input::spawn(number, uri.clone(), clock, Retry::default(), tx, first);
            let (name, uri) = (name.clone(), uri.clone());
            self.open.push(Opened { number, id, name, uri, task });
        }
    }

    fn find(&self, arrival: &Arrival) -> Option<&Opened> {
        self.open.iter().find(|it| it.number == arrival.input)
    }
}

/// Keeps the live watch until it is ended by a signal or a person, or until every input has come to
/// its end. `reload` reads the plan again when a hang-up signal asks for it.
///
/// # Errors
/// An output that is closed; a folder whose logbook another watch keeps.
pub async fn watch<F: Frontend>(
    plan: Plan,
    reload: impl Fn() -> Option<Plan>,
    front: &mut F,
) -> Result<(), Error> {
    // Before anything is to be seen: from then on somebody may want it to end.
    // Who has a book or a sound has more to do than to print.
    let goes_on =
        plan.keeps_logbook && (plan.folder.is_some() || !front.stays() && plan.sounder.sound);
    let on_screen = front.stays();
    let end = end_signal(on_screen && !goes_on);
    let claims = claim(&plan)?;
    let (notices, mut noticed) = mpsc::unbounded_channel();
    let (clock, mut left) = left_open(&plan, &notices, &mut noticed).await;
    let mut watch = Watch::new(Settings { expects_inputs: true, ..plan.settings.clone() });
    if front.wants_reception() {
        watch.record_reception();
    }
    let services = Services::begin(&plan, clock, notices)?;
    for event in left.history.drain(..) {
        front.recall(&event);
    }
    let (tx, arrivals) = mpsc::channel(WAITING_LINES);
    let important = Important::default();
    let inputs = Inputs { open: Vec::new(), tx, clock, important, next: 0, claims };
    let mut live = Live {
        watch,
        services,
        inputs,
        clock,
        front,
        goes_on,
        on_screen,
        output_lost: false,
        last_before: 0,
        service: Service::from_env(|name| std::env::var_os(name)),
    };
    live.last_before = left.open.last_id;
    live.watch.resume(left.open, clock.now());
    live.settle(None)?;
    live.inputs.follow(&plan, &mut live.watch, live.front);
    live.service.ready("listening");
    let ended = live.run(arrivals, &mut noticed, reload, end).await;
    live.service.stopping();
    live.services.end(&live.watch, clock.now());
    // What was committed in the end is told like all the rest.
    while let Ok(notice) = noticed.try_recv() {
        let Some(body) = notice.committed() else { continue };
        let told = live.front.tell(&Event { at: clock.now().utc, body });
        told.or_else(|why| if live.goes_on { Ok(()) } else { Err(why) })?;
    }
    ended
}

/// Takes the inputs of the plan for this program alone.
fn claim(plan: &Plan) -> Result<Claims, Error> {
    let mut claims = Claims::new(|name| std::env::var_os(name));
    claims.hold(&plan.inputs, &holder(plan)).map_err(Error::InUse)?;
    Ok(claims)
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

/// The clock of the watch, and what one before it left open: if the logbook does not tell that at
/// once, it is told when it does, and the count has room for all that may have been before.
async fn left_open(
    plan: &Plan,
    notices: &mpsc::UnboundedSender<Notice>,
    noticed: &mut mpsc::UnboundedReceiver<Notice>,
) -> (Clock, Left) {
    let Some(folder) = plan.folder.clone().filter(|_| plan.keeps_logbook) else {
        return (Clock::start(), Left::default());
    };
    let tx = notices.clone();
    if let Err(why) = resume::read(folder, move |found| tx.send(Notice::Before(found)).is_ok()) {
        for found in [Found::LeftOpen(None), Found::Failed(format!("no thread for it: {why}"))] {
            let _ = notices.send(Notice::Before(found));
        }
    }
    let told = tokio::time::timeout(resume::BEFORE_THE_WATCH, noticed.recv()).await;
    if let Ok(Some(Notice::Before(Found::LeftOpen(Some(incidents))))) = told {
        let now = Clock::start().now().utc;
        let clock = Clock::start_after(resume::before(&incidents, now));
        return (clock, resume::place(*incidents, 0..0, clock.now()));
    }
    let clock = Clock::start_after(resume::LONGEST);
    let mut left = Left::default();
    left.open.last_id = resume::number_without_a_book(clock.now().utc);
    (clock, left)
}

/// A watch that is being kept.
struct Live<'f, F> {
    watch: Watch,
    services: Services,
    inputs: Inputs,
    clock: Clock,
    front: &'f mut F,
    /// An output that takes nothing any more does not end this watch.
    goes_on: bool,
    /// It began with a screen, whose bell is its own.
    on_screen: bool,
    output_lost: bool,
    /// The number after which this watch began to count its alerts.
    last_before: u32,
    service: Service,
}

impl<F: Frontend> Live<'_, F> {
    async fn run(
        &mut self,
        mut arrivals: mpsc::Receiver<Arrival>,
        noticed: &mut mpsc::UnboundedReceiver<Notice>,
        reload: impl Fn() -> Option<Plan>,
        ended: impl Future<Output = ()>,
    ) -> Result<(), Error> {
        let mut ended = std::pin::pin!(ended);
        let mut hang_up = HangUp::new(self.goes_on || !self.front.stays());
        let mut pings = self.service.watchdog_every().map(tokio::time::interval);
        while !self.inputs.open.is_empty() || self.front.stays() {
            let wait = self.wait();
            let frame = self.front.next_frame();
            let mut line = None;
            tokio::select! {
                biased;
                () = &mut ended => break,
                request = self.front.request() => {
                    if !self.apply(request) {
                        break;
                    }
                }
                Some(notice) = noticed.recv() => self.on_notice(notice)?,
                () = hang_up.heard() => self.on_hang_up(&reload),
                // Before the lines: a flood of them must not look like a watch that hangs.
                () = ping(&mut pings) => self.service.ping(),
                Some(arrival) = arrivals.recv() => line = self.take(arrival),
                () = tokio::time::sleep(wait.unwrap_or_default()), if wait.is_some() => {
                    self.watch.handle(Input::Tick { stamp: self.clock.now() });
                }
                () = tokio::time::sleep(frame.unwrap_or_default()), if frame.is_some() => {}
            }
            self.settle(line)?;
        }
        Ok(())
    }

    /// The end of the terminal, where there is a screen on it; else a request to read the plan again.
    fn on_hang_up(&mut self, reload: &impl Fn() -> Option<Plan>) {
        if self.front.stays() {
            self.front.hang_up();
            return self.goes_on_without("The terminal has hung up");
        }
        self.service.reloading();
        if let Some(plan) = reload() {
            self.follow(plan);
        }
        self.service.ready("listening");
    }

    /// How long until something is due by the time alone.
    fn wait(&self) -> Option<Duration> {
        let now = self.clock.now().at;
        let dues = [self.watch.next_deadline(), self.services.next_deadline()];
        dues.into_iter().flatten().min().map(|due| due.since(now))
    }

    /// After an input: sound, then log, then draw.
    fn settle(&mut self, line: Option<(String, Arrival)>) -> io::Result<()> {
        let now = self.clock.now();
        self.services.sound(self.watch.alerts());
        let mut raw = None;
        // What was due before the line was not caused by it.
        let caused = |event: &Event| line.as_ref().is_some_and(|(_, it)| event.at >= it.stamp.utc);
        if let Some((name, Arrival { stamp, what: What::Line(bytes), .. })) = &line {
            self.services.record(name, *stamp, bytes);
            raw = Some(bytes.as_slice());
        }
        let events: Vec<Event> = std::iter::from_fn(|| self.watch.poll_output()).collect();
        for event in &events {
            self.services.log(event, &self.watch, now, raw.filter(|_| caused(event)));
        }
        // Only then: an output that has closed must not cost an entry.
        for event in &events {
            self.tell(event)?;
        }
        self.services.due(&self.watch, now);
        let shown = self.front.show(&self.watch, now, Context::Live(self.services.parts()));
        self.told(shown)
    }

    fn tell(&mut self, event: &Event) -> io::Result<()> {
        let told = self.front.tell(event);
        self.told(told)
    }

    /// Where the output is gone, goes on without it if there is another way to tell, and says so
    /// once.
    fn told(&mut self, told: io::Result<()>) -> io::Result<()> {
        let Err(why) = told else { return Ok(()) };
        if !self.goes_on {
            return Err(why);
        }
        self.goes_on_without(&format!("Standard output cannot be written ({why})"));
        Ok(())
    }

    /// Goes on where nobody sees it any more, and says so once.
    fn goes_on_without(&mut self, what: &str) {
        if std::mem::replace(&mut self.output_lost, true) {
            return;
        }
        let text = format!("{what}: the watch goes on without it");
        let _ = writeln!(io::stderr(), "{text}");
        if self.on_screen {
            self.services.lose_bell();
        }
        self.services.log_loss(text, &self.watch, self.clock.now());
    }

    /// Hands an arrival to the watch; gives a line back, to be kept.
    fn take(&mut self, arrival: Arrival) -> Option<(String, Arrival)> {
        let stamp = arrival.stamp;
        let Opened { id: input, name, .. } = self.inputs.find(&arrival)?;
        let (input, name) = (*input, name.clone());
        let happened = match &arrival.what {
            What::Line(bytes) => Input::Line { stamp, input, bytes },
            What::Unended(bytes) => Input::Unended { stamp, input, bytes },
            What::Opened => Input::Opened { stamp, input },
            What::Lost(reason) => Input::Lost { stamp, input, reason },
            &What::Dropped(dropped) => Input::Dropped { stamp, input, dropped },
            What::Ended => {
                let others = self.inputs.open.len() > 1;
                self.inputs.open.retain(|it| it.number != arrival.input);
                if others {
                    let reason = "end of file";
                    self.watch.handle(Input::Lost { stamp, input, reason });
                }
                return None;
            }
        };
        self.watch.handle(happened);
        self.front.overhear(&name, happened);
        matches!(arrival.what, What::Line(_)).then_some((name, arrival))
    }

    /// Does what a person wants. Whether the watch goes on.
    fn apply(&mut self, request: Request) -> bool {
        let stamp = self.clock.now();
        let command = match request {
            Request::Quit => return false,
            Request::Redraw => return true,
            Request::Command(command) => {
                self.services.log_act(command, self.front.who(), &self.watch, stamp);
                command
            }
            Request::Export(id) => {
                let plan = self.watch.search_legs(id, stamp.at);
                self.services.export(plan, self.front.who(), &self.watch, stamp);
                Command::Present
            }
            Request::Note(text) => {
                self.services.note(text, &self.watch, stamp);
                Command::Present
            }
            Request::SoundCheck => {
                self.services.check_sound();
                Command::Present
            }
            _ => Command::Present,
        };
        self.watch.handle(Input::Command { stamp, command });
        true
    }

    /// Takes what one of the parts has to say.
    fn on_notice(&mut self, notice: Notice) -> io::Result<()> {
        let stamp = self.clock.now();
        if matches!(notice, Notice::Ring) {
            self.front.ring();
        }
        if let Notice::Before(Found::LeftOpen(Some(incidents))) = notice {
            // Not all that is above the number it began after: who could not read the logbook
            // before, either, and whose clock was ahead, has given higher ones.
            let ours = self.last_before + 1..self.watch.summary().alerts.saturating_add(1);
            let left = resume::place(*incidents, ours, stamp);
            self.watch.resume(left.open, stamp);
            left.history.iter().for_each(|event| self.front.recall(event));
            return Ok(());
        }
        let (faults, logged) = self.services.on_notice(notice);
        for (part, fault) in faults {
            self.watch.handle(Input::Fault { stamp, part, fault: fault.as_deref() });
        }
        match logged {
            Some(body) => self.tell(&Event { at: stamp.utc, body }),
            None => Ok(()),
        }
    }

    /// Goes on by another plan; what is open and heard stays.
    fn follow(&mut self, plan: Plan) {
        if let Err(why) = self.inputs.claims.hold(&plan.inputs, &holder(&plan)) {
            tracing::error!("the configuration before goes on: {}", Error::InUse(why));
            return;
        }
        self.watch.set(Settings { expects_inputs: true, ..plan.settings.clone() });
        self.inputs.follow(&plan, &mut self.watch, self.front);
        self.services.follow(&plan, self.clock.now());
    }
}

/// Waits for the next moment to say that all is well; for ever where nobody wants to know.
async fn ping(pings: &mut Option<tokio::time::Interval>) {
    match pings {
        Some(pings) => {
            pings.tick().await;
        }
        None => std::future::pending().await,
    }
}

/// A request to read the configuration again: a hang-up, where that is not the end of the terminal.
struct HangUp {
    #[cfg(unix)]
    signal: Option<tokio::signal::unix::Signal>,
}

impl HangUp {
    fn new(wanted: bool) -> Self {
        #[cfg(unix)]
        {
            use tokio::signal::unix::{SignalKind, signal};
            let signal = wanted.then(|| signal(SignalKind::hangup()).ok()).flatten();
            Self { signal }
        }
        #[cfg(not(unix))]
        {
            let _ = wanted;
            Self {}
        }
    }

    async fn heard(&mut self) {
        #[cfg(unix)]
        if let Some(signal) = &mut self.signal
            && signal.recv().await.is_some()
        {
            return;
        }
        std::future::pending().await
    }
}
