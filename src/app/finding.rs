//! Inputs that nobody named: a watch without any listens where sentences usually come by network, and
//! to every serial port. Each is on trial until it gives a sentence, which is the watch's first of it.
//!
//! *Invariant:* nothing is sent, and nothing is taken from another program.

use std::collections::BTreeMap;
use std::io;
use std::net::UdpSocket;
use std::path::PathBuf;
use std::time::Duration;

use tokio::task::JoinHandle;

use super::candidates::{Candidate, groups, of_port};
use super::input_change::proposed;
use super::plan::Finds;
use super::survey::{LEFT_OVER, ONE_RATE, RATES, Surveyed};
use crate::config::Input;
use crate::edge::input::{Arrival, What};
use crate::edge::{InputUri, Port, is_held, ports};
use crate::survey::{Access, Serial, Traffic};
use crate::thread;
use crate::time::Mono;

/// How often it is looked for ports that were plugged in. Our own.
const LOOK: Duration = Duration::from_secs(2);

/// After how many looks a port of another program is looked at again. Our own.
const AGAIN: u32 = 5;

/// After so many sentences a port is read at its rate, whatever comes then. Our own.
const PROVEN: u64 = 20;

/// How far something has come that may be an input.
pub(super) enum Stage {
    /// It is not open: another program has it.
    Taken,
    /// It is open, and has not given a sentence yet.
    OnTrial(JoinHandle<()>),
    /// The watch reads it.
    Watched,
}

/// Something that may be an input.
pub(super) struct Trial {
    /// What its arrivals are numbered with.
    pub(super) number: usize,
    pub(super) name: String,
    /// Where it is read now.
    pub(super) uri: InputUri,
    pub(super) stage: Stage,
    heard: Surveyed,
    since: Mono,
    /// Which of the rates it is read at, of a serial port.
    rate: usize,
    /// When it last gave what is no sentence, if it has given none since.
    noise: Option<Mono>,
    /// Since when it cannot be opened, and why.
    lost: Option<(Mono, String)>,
    /// That was told.
    told: bool,
}

impl Trial {
    fn new(candidate: Candidate) -> Self {
        let mut trial = Self {
            number: usize::MAX,
            name: name(&candidate),
            uri: candidate.uri.clone(),
            stage: Stage::Taken,
            heard: Surveyed {
                candidate,
                access: Access::Open,
                traffic: Traffic::default(),
                serial: None,
                until: Mono::START,
            },
            since: Mono::START,
            rate: 0,
            noise: None,
            lost: None,
            told: false,
        };
        trial.read_at(0);
        trial
    }

    /// Reads a serial port at another rate.
    fn read_at(&mut self, rate: usize) {
        if let InputUri::Serial { baud, .. } = &mut self.uri {
            self.rate = rate % RATES.len();
            *baud = RATES[self.rate];
            self.heard.serial = Some(Serial { fits: Some(*baud), ..Serial::default() });
        }
        (self.heard.traffic, self.noise) = (Traffic::default(), None);
    }

    /// The watch does not read it any more, and it has to give a sentence once more.
    pub(super) fn begin_again(&mut self, task: JoinHandle<()>) {
        (self.heard.traffic, self.noise) = (Traffic::default(), None);
        self.stage = Stage::OnTrial(task);
    }

    const fn is_serial(&self) -> bool {
        matches!(self.uri, InputUri::Serial { .. })
    }

    /// Whether it was taken for an input by a sentence or two, and is noise since: they had waited since
    /// another rate.
    fn is_doubtful(&self, now: Mono) -> bool {
        let heard = &self.heard.traffic;
        let is_noise = self.noise.is_some_and(|at| now.since(at) < ONE_RATE);
        let is_over = heard.last.is_some_and(|last| now.since(last) >= ONE_RATE);
        self.is_serial() && is_noise && is_over && heard.sentences.values().sum::<u64>() < PROVEN
    }

    /// It is open, under this number.
    pub(super) fn begin(&mut self, number: usize, stage: Stage, now: Mono) {
        (self.number, self.stage, self.since, self.lost) = (number, stage, now, None);
    }
}

/// What is looked for, and how far it has come.
pub(super) struct Finding {
    pub(super) trials: Vec<Trial>,
    /// What is to be told of it.
    said: Vec<String>,
    /// What could not be read last, and why.
    fault: Option<String>,
}

impl Finding {
    /// What there is by network. The first of them is an input of the watch at once.
    pub(super) fn new(finds: &Finds) -> Self {
        let first = Candidate::of(finds.first());
        let trials = std::iter::once(first).chain(groups()).map(Trial::new).collect();
        Self { trials, said: vec![finds.words()], fault: None }
    }

    /// What there is to tell since it was asked last.
    pub(super) fn said(&mut self) -> Vec<String> {
        std::mem::take(&mut self.said)
    }

    /// Something cannot be read.
    pub(super) fn fail(&mut self, name: &str, why: &str) {
        let text = format!("{name}: {why}");
        self.said.push(text.clone());
        self.fault = Some(text);
    }

    /// How it stands, in a few words.
    pub(super) fn words(&self) -> String {
        let watched = |it: &&Trial| matches!(it.stage, Stage::Watched) && it.heard.traffic.speaks();
        match (&self.fault, self.trials.iter().filter(watched).count()) {
            (Some(fault), _) => fault.clone(),
            (None, 0) => "none is named: looking for them".to_owned(),
            (None, found) => format!("{found} found, not kept yet"),
        }
    }

    /// Takes what an input has said. The trial that ends with it: it is an input of the watch.
    pub(super) fn take(&mut self, arrival: &Arrival) -> Option<&mut Trial> {
        let trial = self.trials.iter_mut().find(|it| it.number == arrival.input)?;
        let (now, on_trial) = (arrival.stamp.at, matches!(trial.stage, Stage::OnTrial(_)));
        let spoke = trial.heard.traffic.speaks();
        match &arrival.what {
            What::Opened => (trial.since, trial.lost) = (now, None),
            What::Lost(why) => trial.lost = Some((now, why.clone())),
            // What comes at once may have waited since another rate.
            What::Line(_)
                if on_trial && trial.is_serial() && now.since(trial.since) < LEFT_OVER => {}
            What::Line(line) => {
                let heard = &mut trial.heard.traffic;
                heard.line(now, line);
                trial.noise = (heard.last != Some(now)).then_some(now);
            }
            What::Unended(_) => trial.noise = Some(now),
            _ => {}
        }
        // The first is an input of the watch before it has given anything.
        if !trial.heard.traffic.speaks() || spoke && !on_trial {
            return None;
        }
        self.said.push(format!("Found: {}", trial.uri));
        self.fault = None;
        on_trial.then_some(trial)
    }

    /// Takes the ports that are there and whether another program has each: the trials that are to be
    /// opened, at a rate that they were not opened at before.
    pub(super) fn look(&mut self, seen: &[(Port, bool)], now: Mono) -> Vec<usize> {
        let is_there = |trial: &Trial| {
            let port = trial.heard.candidate.port.as_ref();
            port.is_none_or(|port| seen.iter().any(|(it, _)| it.path == port.path))
        };
        for trial in
            self.trials.extract_if(.., |it| !matches!(it.stage, Stage::Watched) && !is_there(it))
        {
            if let Stage::OnTrial(task) = trial.stage {
                task.abort();
            }
        }
        let mut wanted = Vec::new();
        for (port, taken) in seen {
            let Some(place) = self.place_of(port) else { continue };
            let trial = &mut self.trials[place];
            let mut fault = None;
            match (&trial.stage, &trial.lost) {
                (Stage::Taken, _) if *taken => {
                    fault = Some("another program uses it: not taken from it".to_owned());
                }
                (Stage::Taken, _) => wanted.push(place),
                (Stage::OnTrial(_), Some((since, why))) if now.since(*since) >= ONE_RATE => {
                    fault = Some(why.clone());
                }
                (Stage::OnTrial(task), None) if now.since(trial.since) >= ONE_RATE => {
                    task.abort();
                    trial.read_at(trial.rate + 1);
                    wanted.push(place);
                }
                _ => {}
            }
            if let Some(fault) = fault.filter(|_| !trial.told) {
                trial.told = true;
                let name = trial.name.clone();
                self.fail(&name, &fault);
            }
        }
        wanted
    }

    /// The trial of a port, new if need be; `None` of one that cannot be named.
    fn place_of(&mut self, port: &Port) -> Option<usize> {
        // A device may have another name when it is plugged in again.
        let known = |it: &Trial| {
            it.heard.candidate.port.as_ref().is_some_and(|known| known.path == port.path)
        };
        if let Some(place) = self.trials.iter().position(known) {
            return Some(place);
        }
        let mut new = Trial::new(of_port(port.clone())?);
        // Another one had this name, and the watch knows it by it.
        if self.trials.iter().any(|it| it.name == new.name) {
            new.name = port.path.display().to_string();
        }
        self.trials.push(new);
        Some(self.trials.len() - 1)
    }

    /// What is an input of the watch and is to be none: the first, which never spoke, if another one
    /// gives AIS; and what is doubtful.
    pub(super) fn unproven(&mut self, now: Mono) -> Vec<&mut Trial> {
        let Some((first, others)) = self.trials.split_first_mut() else { return Vec::new() };
        let hears = others.iter().any(|it| it.heard.traffic.hears_ais());
        let needless = hears && !first.heard.traffic.speaks();
        let doubtful = others.iter_mut().filter(|it| it.is_doubtful(now));
        let all = Some(first).filter(|_| needless).into_iter().chain(doubtful);
        all.filter(|it| matches!(it.stage, Stage::Watched)).collect()
    }

    /// What would be written into a configuration without inputs.
    pub(super) fn proposed(&self) -> Vec<Input> {
        let watched = self.trials.iter().filter(|it| matches!(it.stage, Stage::Watched));
        proposed(watched.map(|it| &it.heard), &[])
    }
}

/// What messages call it.
fn name(candidate: &Candidate) -> String {
    match (&candidate.port, candidate.group, &candidate.uri) {
        (Some(port), ..) => port.device.display().to_string(),
        (_, Some(group), _) => format!("group {group}"),
        (.., InputUri::Udp(address)) => format!("UDP {}", address.port()),
        (.., uri) => uri.to_string(),
    }
}

/// Whether datagrams for this computer can be received without another program's losing them.
pub(super) fn is_free(uri: &InputUri) -> bool {
    let InputUri::Udp(address) = uri else { return true };
    let bound = UdpSocket::bind(address);
    !matches!(bound, Err(why) if why.kind() == io::ErrorKind::AddrInUse)
}

/// Looks for serial ports again and again, on a thread of its own: who shows them may hang. `tell` is
/// told which there are and whether another program has each, until it wants no more.
///
/// # Errors
/// No thread can be started.
pub(super) fn look_for_ports(
    root: PathBuf,
    tell: impl Fn(Vec<(Port, bool)>) -> bool + Send + 'static,
) -> io::Result<()> {
    let look = move |_: Option<&str>| {
        let mut known: BTreeMap<PathBuf, bool> = BTreeMap::new();
        for turn in 0_u32.. {
            let seen = ports(&root);
            known.retain(|path, _| seen.iter().any(|port| port.path == *path));
            let look = |port: Port| {
                let held = match known.get(&port.path) {
                    Some(false) => false,
                    Some(true) if turn % AGAIN != 0 => true,
                    _ => is_held(&port.path),
                };
                known.insert(port.path.clone(), held);
                (port, held)
            };
            if !tell(seen.into_iter().map(look).collect()) {
                return;
            }
            std::thread::sleep(LOOK);
        }
    };
    thread::spawn("ports", look).map(drop)
}
