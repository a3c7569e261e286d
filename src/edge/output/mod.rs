//! The outputs: datagrams, a port that displays connect to, a serial port, a file; one file each.
//!
//! Each output is a thread of its own with a queue that is bounded. What it cannot carry is dropped,
//! counted and told; what fails is told and tried again. Nobody waits for any of them.

mod file;
mod held;
mod lane;
mod mqtt;
mod queue;
mod serial;
mod tcp_listen;
mod udp;
mod unsent;
mod uri;

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

pub use lane::OutputReport;
use lane::{Lane, Report};
pub use uri::{BadOutputUri, OutputUri};

use crate::edge::Clock;
use crate::frontend::OutputView;
use crate::outputs::{Message, Wants, What};
use crate::thread;
use crate::time::Mono;

/// How long what failed rests before it is tried again. Our own.
const PAUSE: Duration = Duration::from_secs(1);

/// How long the end of the program waits for what waits to be sent. Our own.
const CLOSING: Duration = Duration::from_secs(3);

/// An output as it is configured.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Output {
    /// What messages call it.
    pub name: String,
    /// Where it goes.
    pub uri: OutputUri,
    /// What it says.
    pub wants: Wants,
}

/// The outputs of a watch.
pub struct Outputs {
    open: Vec<(Output, Arc<Lane>)>,
    clock: Clock,
    report: Report,
    next: u16,
}

impl Outputs {
    /// Begins the outputs. `report` is called from their threads, too.
    pub fn start(
        outputs: Vec<Output>,
        clock: Clock,
        report: impl Fn(OutputReport) + Send + Sync + 'static,
    ) -> Self {
        let mut all = Self { open: Vec::new(), clock, report: Arc::new(report), next: 0 };
        all.replace(outputs);
        all
    }

    /// Other outputs from now on; what is the same goes on. Those before send what they were given.
    pub fn replace(&mut self, outputs: Vec<Output>) {
        for (_, lane) in self.open.extract_if(.., |(output, _)| !outputs.contains(output)) {
            lane.leave();
        }
        for output in outputs {
            if self.open.iter().any(|(known, _)| *known == output) {
                continue;
            }
            self.next = self.next.wrapping_add(1);
            let (wants, report) = (output.wants.clone(), Arc::clone(&self.report));
            let lane = Arc::new(Lane::new(self.next, &output.name, wants, self.clock, report));
            let (uri, its) = (output.uri.clone(), Arc::clone(&lane));
            let begun = thread::spawn("output", move |panicked| run(&uri, &its, panicked));
            if let Err(why) = begun {
                lane.fail(&format!("no thread for it ({why})"));
            }
            self.open.push((output, lane));
        }
    }

    /// All there are.
    pub fn all(&self) -> impl Iterator<Item = &Output> {
        self.open.iter().map(|(output, _)| output)
    }

    /// Whether any of them says this.
    pub fn any_says(&self, what: What) -> bool {
        self.all().any(|output| output.wants.says(what))
    }

    /// Gives a message to those who want it; they are told whether it stays on this computer there.
    /// What is rehearsed goes to none beyond it. Never waits.
    pub fn say(&self, message: Message, wanted: impl Fn(&Output, bool) -> bool) {
        let message = Arc::new(message);
        for (output, lane) in &self.open {
            let stays = output.uri.is_this_computer();
            if (stays || !message.rehearsed) && wanted(output, stays) {
                lane.queue.push(Arc::clone(&message));
            }
        }
    }

    /// Looks how they do.
    pub fn look(&self, now: Mono) {
        self.open.iter().for_each(|(_, lane)| lane.look(now));
    }

    /// How each of them does.
    pub fn views(&self) -> Vec<OutputView> {
        let view = |(output, lane): &(Output, Arc<Lane>)| {
            let (fault, since) = lane.condition();
            let words: Vec<&str> = output.wants.what.iter().map(|it| it.word()).collect();
            let connects = matches!(output.uri, OutputUri::TcpListen(_));
            OutputView {
                name: output.name.clone(),
                uri: output.uri.to_string(),
                what: words.join(", "),
                fault,
                since: since.utc,
                sent: lane.queue.sent(),
                dropped: lane.queue.dropped(),
                connected: connects.then(|| lane.connected.load(Ordering::Relaxed)),
            }
        };
        self.open.iter().map(view).collect()
    }

    /// Ends them; waits a moment for what waits to be sent.
    pub fn end(self) {
        self.open.iter().for_each(|(_, lane)| lane.queue.close());
        let until = self.clock.now().at + CLOSING;
        let waits = || self.open.iter().any(|(_, lane)| !lane.has_ended());
        while waits() && self.clock.now().at < until {
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

impl Drop for Outputs {
    fn drop(&mut self) {
        self.open.iter().for_each(|(_, lane)| lane.queue.close());
    }
}

/// Carries until nothing more comes; what fails is tried again.
fn run(uri: &OutputUri, lane: &Arc<Lane>, panicked: Option<&str>) {
    if let Some(why) = panicked {
        lane.fail(why);
    }
    let runtime = loop {
        match tokio::runtime::Builder::new_current_thread().enable_all().build() {
            Ok(runtime) => break runtime,
            Err(why) => lane.fail(&format!("it cannot begin ({why})")),
        }
        std::thread::sleep(PAUSE);
        if lane.queue.is_closed() {
            return;
        }
    };
    runtime.block_on(async {
        while let Err(why) = carry(uri, lane).await {
            lane.fail(&why);
            if lane.queue.is_closed() {
                break;
            }
            tokio::time::sleep(PAUSE).await;
        }
    });
    lane.end();
}

async fn carry(uri: &OutputUri, lane: &Arc<Lane>) -> Result<(), String> {
    match uri {
        OutputUri::File(path) => file::write(lane, path).await,
        OutputUri::Mqtt(broker) => mqtt::publish(lane, broker).await,
        OutputUri::Serial { path, baud } => serial::send(lane, path, *baud).await,
        OutputUri::TcpListen(at) => tcp_listen::serve(lane, *at).await,
        OutputUri::Udp(to) => udp::send(lane, *to).await,
    }
}
