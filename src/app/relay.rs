//! Inputs to outputs, and nothing else: for a small computer beside an antenna.

use std::time::Duration;

use tokio::sync::mpsc;

use super::Error;
use super::outputs::pass_on_judged;
use super::signals::{end_signal, ping};
use crate::edge::input::{self, Arrival, Important, Retry, Stations, What};
use crate::edge::output::{Output, OutputReport, Outputs};
use crate::edge::{Claims, Clock, Holder, InputUri, Service};
use crate::outputs::Heard;
use crate::time::Mono;
use crate::watch::Relayed;
use crate::wire::InputId;

/// Lines that may wait for the outputs' queues. Our own.
const WAITING_LINES: usize = 1024;

/// How often it is looked how the outputs do. Our own.
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// How often what was not passed on is told anew: an hour of it is a few lines. Our own.
const TELL_EVERY: Duration = Duration::from_secs(600);

/// Passes on what the inputs hear until it is ended by a signal, or until every input has come to its
/// end. `say` is told how inputs and outputs do.
///
/// # Errors
/// Another program of this kind reads one of the inputs.
pub async fn relay(
    inputs: Vec<(String, InputUri)>,
    outputs: Vec<Output>,
    say: impl Fn(&str) + Send + Sync + Clone + 'static,
) -> Result<(), Error> {
    let clock = Clock::start();
    let mut end = std::pin::pin!(end_signal(false));
    let mut claims = Claims::new(|name| std::env::var_os(name));
    let holder =
        Holder { pid: std::process::id(), since: clock.now().utc.to_string(), ..Holder::default() };
    claims.hold(&inputs, &holder).map_err(Error::InUse)?;
    let (tx, mut arrivals) = mpsc::channel(WAITING_LINES);
    let (first, stations) = (Important::default(), Stations::default());
    for (number, (_, uri)) in inputs.iter().enumerate() {
        let (uri, tx, retry) = (uri.clone(), tx.clone(), Retry::default());
        input::spawn(number, uri, clock, retry, tx, first.clone(), stations.clone());
    }
    drop(tx);
    let told = say.clone();
    let outputs = Outputs::start(outputs, clock, move |report| match report {
        OutputReport::Does { fault: Some(fault), .. } => told(&format!("output {fault}")),
        OutputReport::Does { fault: None, .. } => told("every line is sent again"),
        // Nobody here tells of alerts.
        OutputReport::Asked { .. } => {}
    });
    let service = Service::from_env(|name| std::env::var_os(name));
    service.ready("relaying");
    let mut pings = service.watchdog_every().map(tokio::time::interval);
    let mut looks = tokio::time::interval(LOOK_EVERY);
    let (mut heard, mut held_back) = (Heard::default(), HeldBack::default());
    loop {
        tokio::select! {
            biased;
            () = &mut end => break,
            () = ping(&mut pings) => service.ping(),
            _ = looks.tick() => {
                let now = clock.now().at;
                outputs.look(now);
                held_back.tell(&heard, Some(now), &say);
            }
            arrival = arrivals.recv() => match arrival {
                Some(arrival) => pass_on(&arrival, &inputs, &mut heard, &outputs, &say),
                None => break,
            },
        }
    }
    service.stopping();
    held_back.tell(&heard, None, &say);
    outputs.end();
    Ok(())
}

/// What was told of sentences that were not passed on: how many there were, and when.
#[derive(Default)]
struct HeldBack {
    told: (u64, u64),
    at: Option<Mono>,
}

impl HeldBack {
    /// Tells how many there are by now, if there are more: at once, then every ten minutes, and at the
    /// end, when there is no now.
    fn tell(&mut self, heard: &Heard, now: Option<Mono>, say: &impl Fn(&str)) {
        let counts @ (withheld, returned) = (heard.withheld, heard.returned);
        let rests = now.zip(self.at).is_some_and(|(now, at)| now.since(at) < TELL_EVERY);
        if counts == self.told || rests {
            return;
        }
        (self.told, self.at) = (counts, now);
        say(&format!(
            "not passed on so far: {withheld} might make a radio transmit, {returned} had been passed on before"
        ));
    }
}

/// Passes on what an input has to say.
fn pass_on(
    arrival: &Arrival,
    inputs: &[(String, InputUri)],
    heard: &mut Heard,
    outputs: &Outputs,
    say: &impl Fn(&str),
) {
    let Some((name, _)) = inputs.get(arrival.input) else { return };
    let name = arrival.station.as_deref().unwrap_or(name);
    let stamp = arrival.stamp;
    match &arrival.what {
        What::Line(line) => {
            let at = Relayed::of_line(line).map_or(stamp.at, |it| it.heard_at(stamp.at));
            let input = InputId(u16::try_from(arrival.input).unwrap_or(u16::MAX));
            let verdict = heard.judge(input, at, line);
            pass_on_judged(outputs, verdict, name, stamp, line);
        }
        What::Opened => say(&format!("input {name} is open")),
        What::Lost(why) => say(&format!("input {name}: {why}")),
        What::Dropped(_) | What::Ended | What::Unended(_) => {}
    }
}
