//! The live watch: its inputs, and the parts around it.

mod asked;
mod noticed;

use std::io::{self, Write as _};
use std::time::Duration;

use tokio::sync::mpsc;

use super::finding::look_for_ports;
use super::inputs::{Inputs, Opened};
use super::kept::Kept;
use super::notices::Notice;
use super::plan::Plan;
use super::readiness::Readiness;
use super::reload::Reload;
use super::resume::{Found, Left, Ours};
use super::services::Services;
use super::signals::{HangUp, end_signal, ping};
use super::{Error, resume};
use crate::edge::input::{Arrival, What};
use crate::edge::{Clock, Service, StandardError};
use crate::frontend::{Context, Frontend};
use crate::text::printable;
use crate::thread;
use crate::time::Mono;
use crate::watch::{Event, EventBody, Input, Settings};

/// How long what has panicked rests before it can again. Our own.
const REST: Duration = Duration::from_secs(1);

/// Keeps the live watch until it is ended by a signal or a person, or until every input has come to
/// its end. `reload` reads the plan again when a hang-up signal asks for it.
///
/// # Errors
/// An output that is closed; a folder whose logbook another watch keeps.
pub async fn watch<F: Frontend>(
    plan: Plan,
    reload: impl Fn() -> Option<Plan> + Send + Sync + 'static,
    front: &mut F,
) -> Result<(), Error> {
    // Before anything is to be seen: from then on somebody may want it to end.
    // Who has a book or a sound has more to do than to print.
    let goes_on =
        plan.keeps_logbook && (plan.folder.is_some() || !front.stays() && plan.sounder.sound);
    let on_screen = front.stays();
    let end = end_signal(on_screen && !goes_on);
    // Room for all that may have been before, however late that is told.
    let clock = Clock::start_after(resume::LONGEST);
    let (notices, mut noticed) = mpsc::unbounded_channel();
    let (mut inputs, arrivals) = Inputs::claim(&plan, clock, &notices)?;
    let settings = Settings { expects_inputs: true, ..plan.settings.clone() };
    let mut watch = Kept::new(settings, front.wants_reception());
    // What comes in from now on waits until it is known what was open before.
    inputs.follow(&plan, &mut watch, front);
    let folder = Services::claim(&plan, &notices)?;
    let left = left_open(&plan, clock, &notices, &mut noticed).await;
    let tx = notices.clone();
    if let Some(finds) = &plan.finds
        && let Err(why) =
            look_for_ports(finds.root.clone(), move |seen| tx.send(Notice::Ports(seen)).is_ok())
    {
        tracing::warn!("no serial port is looked for: no thread for it: {why}");
    }
    let reload = Reload::new(reload, notices.clone());
    let services = Services::begin(&plan, clock, folder, notices);
    let mut live = Live {
        watch,
        services,
        inputs,
        clock,
        front,
        goes_on,
        on_screen,
        output_lost: false,
        last_before: left.open.last_id,
        service: Service::from_env(|name| std::env::var_os(name)),
        readiness: Readiness::begin(clock.now().at),
        reload,
        failed: None,
        rests_until: None,
    };
    live.resume(left);
    live.settle(None)?;
    live.service.ready("listening");
    let hang_up = HangUp::new(live.goes_on || !live.front.stays());
    let pings = live.service.watchdog_every().map(tokio::time::interval);
    let (noted, ended) = (&mut noticed, std::pin::pin!(end));
    let sources = Sources { arrivals, noticed: noted, ended, hang_up, pings };
    let ended = live.run(sources).await;
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

/// What a watch before this one left open: if the logbook does not tell that at once, it is told when
/// it does.
async fn left_open(
    plan: &Plan,
    clock: Clock,
    notices: &mpsc::UnboundedSender<Notice>,
    noticed: &mut mpsc::UnboundedReceiver<Notice>,
) -> Left {
    let Some(folder) = plan.folder.clone().filter(|_| plan.keeps_logbook) else {
        return Left::default();
    };
    let tx = notices.clone();
    if let Err(why) = resume::read(folder, move |found| tx.send(Notice::Before(found)).is_ok()) {
        for found in [Found::LeftOpen(None), Found::Failed(format!("no thread for it: {why}"))] {
            let _ = notices.send(Notice::Before(found));
        }
    }
    let told = tokio::time::timeout(resume::BEFORE_THE_WATCH, noticed.recv());
    match told.await {
        Ok(Some(Notice::Before(Found::LeftOpen(Some(incidents))))) => {
            match thread::caught(|| resume::place(*incidents, &Ours::default(), clock.now())) {
                Ok(left) => return left,
                Err(why) => drop(notices.send(Notice::Before(Found::Failed(why)))),
            }
        }
        Ok(Some(other)) => drop(notices.send(other)),
        _ => {}
    }
    let mut left = Left::default();
    left.open.last_id = resume::number_without_a_book(clock.now().utc, fastrand::u32(..));
    left
}

/// A watch that is being kept.
struct Live<'f, F> {
    watch: Kept,
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
    readiness: Readiness,
    reload: Reload,
    /// What has panicked of all this and is not told yet.
    failed: Option<String>,
    /// What may fail at once again, and for ever, is not begun before.
    rests_until: Option<Mono>,
}

/// Where all that can happen comes from.
struct Sources<'a, E> {
    arrivals: mpsc::Receiver<Arrival>,
    noticed: &'a mut mpsc::UnboundedReceiver<Notice>,
    ended: E,
    hang_up: HangUp,
    pings: Option<tokio::time::Interval>,
}

impl<F: Frontend> Live<'_, F> {
    /// Goes on until it is to end. What panics in between is told, and ends nothing.
    async fn run<E>(&mut self, mut sources: Sources<'_, E>) -> Result<(), Error>
    where
        E: Future<Output = ()> + Unpin,
    {
        while self.inputs.count() > 0 || self.front.stays() {
            match thread::caught_async(self.turn(&mut sources)).await {
                Ok(Ok(true)) => {}
                Ok(ended) => return ended.map(|_| ()),
                Err(why) => self.fail(why),
            }
            if let Some(why) = self.failed.take() {
                self.watch.tell_failure(&why, self.clock.now());
                self.settle(None)?;
            }
        }
        Ok(())
    }

    /// Waits for the next thing that happens, and does what follows from it. Whether it goes on.
    async fn turn<E>(&mut self, from: &mut Sources<'_, E>) -> Result<bool, Error>
    where
        E: Future<Output = ()> + Unpin,
    {
        let now = self.clock.now().at;
        let rest = self.rests_until.map(|it| it.since(now)).filter(|it| !it.is_zero());
        let wait = self.wait(now).map(|it| it.max(rest.unwrap_or_default()));
        let frame = rest.or_else(|| self.front.next_frame());
        let mut line = None;
        tokio::select! {
            biased;
            () = &mut from.ended => return Ok(false),
            request = self.front.request(), if rest.is_none() => {
                if !self.apply(request) {
                    return Ok(false);
                }
            }
            Some(notice) = from.noticed.recv() => self.on_notice(notice)?,
            () = from.hang_up.heard() => self.on_hang_up(),
            // Before the lines: a flood of them must not look like a watch that hangs.
            () = ping(&mut from.pings) => self.service.ping(),
            Some(arrival) = from.arrivals.recv() => line = self.take(arrival),
            () = tokio::time::sleep(wait.unwrap_or_default()), if wait.is_some() => {
                self.hand(Input::Tick { stamp: self.clock.now() });
            }
            () = tokio::time::sleep(frame.unwrap_or_default()), if frame.is_some() => {}
        }
        self.settle(line)?;
        Ok(true)
    }

    /// Does one thing of several. If it panics, the others are done all the same.
    fn attempt<T>(&mut self, what: impl FnOnce(&mut Self) -> T) -> Option<T> {
        thread::caught(|| what(self)).map_err(|why| self.fail(why)).ok()
    }

    /// Something panicked.
    fn fail(&mut self, why: String) {
        self.failed = Some(why);
        self.rest();
    }

    /// Lets nothing begin for a while that may fail at once again, and for ever. Lines are not held
    /// up by it, and keys no longer than that.
    fn rest(&mut self) {
        let now = self.clock.now().at;
        if self.rests_until.is_none_or(|until| until <= now) {
            self.rests_until = Some(now + REST);
        }
    }

    fn hand(&mut self, input: Input<'_>) {
        if self.watch.handle(input) {
            self.rest();
        }
    }

    /// Goes on with what a watch before this one left open.
    fn resume(&mut self, left: Left) {
        for event in &left.history {
            self.attempt(|it| it.front.recall(event));
        }
        self.watch.resume(left.open, self.clock.now());
    }

    /// The end of the terminal, where there is a screen on it; else a request to read the plan again.
    fn on_hang_up(&mut self) {
        if self.front.stays() {
            return self.goes_on_without("The terminal has hung up");
        }
        self.service.reloading();
        self.reload();
    }

    /// How long until something is due by the time alone.
    fn wait(&self, now: Mono) -> Option<Duration> {
        let readiness = Some(self.readiness.due);
        let dues = [self.watch.next_deadline(), self.services.next_deadline(), readiness];
        dues.into_iter().flatten().min().map(|due| due.since(now))
    }

    /// After an input: sound, then tell, then write down, then draw.
    fn settle(&mut self, line: Option<(String, Arrival)>) -> io::Result<()> {
        let now = self.clock.now();
        self.attempt(|it| it.services.sound(it.watch.alerts()));
        let events: Vec<Event> = std::iter::from_fn(|| self.watch.poll_output()).collect();
        let told = self.tell(&events);
        let mut raw = None;
        // What was due before the line was not caused by it.
        let caused = |event: &Event| line.as_ref().is_some_and(|(_, it)| event.at >= it.stamp.utc);
        // Before the entries, which name their place in the recording.
        if let Some((name, Arrival { stamp, what: What::Line(bytes), .. })) = &line {
            self.attempt(|it| it.services.record(name, *stamp, bytes));
            raw = Some(bytes.as_slice());
        }
        for event in &events {
            let raw = raw.filter(|_| caused(event));
            self.attempt(|it| it.services.log(event, &it.watch, now, raw));
        }
        for event in &events {
            if let EventBody::Reach(hour) = &event.body
                && let Some(past) = hour.reach.past()
            {
                self.usual(|usual| usual.push(past));
            }
        }
        self.attempt(|it| {
            it.services.said.follow(&events, &it.watch, now);
            if let Some((name, Arrival { stamp, what: What::Line(bytes), .. })) = &line {
                it.services.said.pass_on(name, *stamp, bytes);
            }
        });
        // Only now: an output that has closed must not cost an entry.
        self.told(told)?;
        self.attempt(|it| it.services.due(&it.watch, now));
        self.tell_found();
        self.attempt(|it| it.tell_readiness(now.at));
        let shown =
            self.attempt(|it| it.front.show(&it.watch, now, Context::Live(it.services.parts())));
        self.told(shown.unwrap_or(Ok(())))
    }

    /// Tells of the inputs that nobody named: a person at a screen there, others on standard error.
    fn tell_found(&mut self) {
        let (said, words) = self.inputs.said();
        if !said.is_empty() {
            self.services.say_of_found(words);
        }
        for text in said.iter().filter(|_| !self.on_screen) {
            let _ = writeln!(StandardError::get(), "{}", printable(text));
        }
    }

    /// Tells how many needs of a watch are met: a screen shows that itself.
    fn tell_readiness(&mut self, now: Mono) {
        let told = self.readiness.look(&self.watch, now);
        if let Some(status) = told.status {
            self.service.status(&status);
        }
        if let Some(said) = told.said.filter(|_| !self.on_screen) {
            let _ = writeln!(StandardError::get(), "{said}");
        }
    }

    /// Tells all of them and lets them go. The first error of the output, which keeps none of them
    /// from being tried.
    fn tell(&mut self, events: &[Event]) -> io::Result<()> {
        let mut told = Ok(());
        for event in events {
            told = told.and(self.attempt(|it| it.front.tell(event)).unwrap_or(Ok(())));
        }
        if !events.is_empty() {
            told = told.and(self.attempt(|it| it.front.let_go()).unwrap_or(Ok(())));
        }
        told
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
        if self.on_screen {
            // First: what is said below must land on a terminal that was given back.
            self.front.hang_up();
            self.services.lose_bell();
        }
        let text = format!("{what}: the watch goes on without it");
        let _ = writeln!(StandardError::get(), "{text}");
        self.services.log_loss(text, &self.watch, self.clock.now());
    }

    /// Hands an arrival to the watch; gives a line back, to be kept.
    fn take(&mut self, arrival: Arrival) -> Option<(String, Arrival)> {
        let stamp = arrival.stamp;
        if let Some(Opened { id, name, .. }) = self.inputs.prove(&arrival, &mut self.watch) {
            let (input, name) = (*id, name.clone());
            let opened = Input::Opened { stamp, input };
            self.hand(opened);
            self.attempt(|it| it.front.overhear(&name, opened));
        }
        let Opened { id, name, .. } = self.inputs.find(&arrival)?;
        let (through, listened) = (*id, name.clone());
        let (input, name) = match &arrival.station {
            Some(station) => (self.watch.station(station, through), station.to_string()),
            None => (through, listened.clone()),
        };
        if let What::Line(bytes) = &arrival.what
            && self.services.said.is_our_own(input, stamp, bytes)
        {
            return None;
        }
        let happened = match &arrival.what {
            What::Line(bytes) => Input::Line { stamp, input, bytes },
            What::Unended(bytes) => Input::Unended { stamp, input, bytes },
            What::Opened => Input::Opened { stamp, input },
            What::Lost(reason) => Input::Lost { stamp, input, reason },
            &What::Dropped(dropped) => Input::Dropped { stamp, input, dropped },
            What::Ended => {
                let others = self.inputs.count() > 1;
                self.inputs.ended(&arrival);
                if others {
                    let reason = "end of file";
                    self.hand(Input::Lost { stamp, input, reason });
                }
                return None;
            }
        };
        self.hand(happened);
        // Whoever listens to a broker hears its stations' lines; whether each is there is told here.
        let (is_line, by_station) =
            (matches!(arrival.what, What::Line(_)), arrival.station.is_some());
        if is_line || !by_station {
            self.attempt(|it| it.front.overhear(&listened, happened));
        }
        // Nobody ashore acknowledges anything here.
        if let What::Line(bytes) = &arrival.what
            && !by_station
        {
            self.on_asked(bytes, self.services.said.accepts(), &format!("input {name}"), stamp);
        }
        matches!(arrival.what, What::Line(_)).then_some((name, arrival))
    }
}
