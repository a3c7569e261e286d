//! Listens to what is connected for some seconds, all at once. Nothing is sent, and nothing is taken
//! from who has it.

use std::net::UdpSocket;
use std::time::Duration;

use futures_util::future::join_all;
use tokio::sync::mpsc::{self, Receiver};
use tokio::task::JoinHandle;
use tokio::time::timeout;

use super::candidates::Candidate;
use crate::edge::input::{self, Arrival, Important, Retry, Stations, What};
use crate::edge::{Claims, Clock, Closed, InUse, InputUri, try_port};
use crate::survey::{Access, Serial, Traffic, words};
use crate::time::Mono;

/// The bit rates of serial lines, in the order in which they are tried: those of IEC 61162-1 and of
/// IEC 61162-2, and two that are common practice, no source.
pub(super) const RATES: [u32; 4] = [4_800, 38_400, 9_600, 115_200];

/// How long one rate is listened to at most before the next is tried. An instrument speaks once a
/// second. Our own.
pub(super) const ONE_RATE: Duration = Duration::from_secs(2);

/// What became of it.
pub struct Surveyed {
    /// What it is.
    pub candidate: Candidate,
    /// Whether it could be listened to.
    pub access: Access,
    /// What it said.
    pub traffic: Traffic,
    /// The rates, of a serial port.
    pub serial: Option<Serial>,
    /// When the listening ended.
    pub until: Mono,
}

impl Surveyed {
    /// Its name in the configuration, else its address.
    pub fn name(&self) -> String {
        self.candidate.name.clone().unwrap_or_else(|| self.uri().to_string())
    }

    /// Its address, a serial port's with the rate that fits.
    pub fn uri(&self) -> InputUri {
        match (&self.candidate.uri, &self.serial) {
            (InputUri::Serial { path, .. }, Some(Serial { fits: Some(baud), .. })) => {
                InputUri::Serial { path: path.clone(), baud: *baud }
            }
            (uri, _) => uri.clone(),
        }
    }

    /// How it does, as one word.
    pub fn state(&self) -> &'static str {
        match self.access.word() {
            Some(word) => word,
            None if self.traffic.speaks() => "live",
            None if self.traffic.has_more_than_sentences() => "no_sentences",
            None => "silent",
        }
    }

    /// What there is to say of it.
    pub fn words(&self) -> String {
        words(&self.access, &self.traffic, self.serial.as_ref(), self.until)
    }

    /// Whether there is anything to tell of it.
    pub fn is_worth_telling(&self) -> bool {
        let spoke = self.traffic.speaks() || self.traffic.has_more_than_sentences();
        self.candidate.given
            || matches!(self.candidate.uri, InputUri::Serial { .. })
            || spoke
            || matches!(self.access, Access::Watched { .. } | Access::InUse)
    }
}

/// What comes so soon after a port was opened may have waited since before, at another rate. Our own.
pub(super) const LEFT_OVER: Duration = Duration::from_millis(200);

/// Listens to all of them at once, for so long.
pub async fn survey(candidates: Vec<Candidate>, time: Duration) -> Vec<Surveyed> {
    let clock = Clock::start();
    let until = clock.now().at + time;
    join_all(candidates.into_iter().map(|it| listen(it, clock, until, time))).await
}

async fn listen(candidate: Candidate, clock: Clock, until: Mono, time: Duration) -> Surveyed {
    let (access, uri) = access(&candidate).await;
    let mut it = Surveyed {
        candidate,
        access,
        traffic: Traffic::default(),
        serial: None,
        until: Mono::START,
    };
    if it.access.word().is_none() {
        match &uri {
            InputUri::Serial { path, .. } => {
                serial(&mut it, path.clone(), clock, until, time).await;
            }
            _ => {
                hear(&mut it, uri, clock, until).await;
            }
        }
    }
    it.until = clock.now().at;
    it
}

/// Whether it can be listened to, and where.
async fn access(candidate: &Candidate) -> (Access, InputUri) {
    let uri = candidate.uri.clone();
    let claims = Claims::new(|name| std::env::var_os(name));
    if let Some(InUse { by, .. }) = claims.reader("", &uri) {
        let through = super::beside::listen(&uri).await;
        let (pid, name) = by.map_or((None, String::new()), |by| (Some(by.pid), by.input));
        let access = Access::Watched { pid, name, unheard: through.err() };
        return (access, InputUri::ThroughWatch(Box::new(uri)));
    }
    let access = match &uri {
        InputUri::Serial { path, baud } => match try_port(path, *baud) {
            Ok(()) => Access::Open,
            Err(Closed::Missing) => Access::Missing,
            Err(Closed::InUse) => Access::InUse,
            Err(Closed::NoPermission(group)) => Access::NoPermission(group),
            Err(Closed::Otherwise(why)) => Access::Failed(format!("it cannot be opened: {why}")),
        },
        // Of two programs at one port, datagrams for one alone would go to the one that came last.
        InputUri::Udp(address) if !address.ip().is_multicast() => match UdpSocket::bind(address) {
            Err(why) if why.kind() == std::io::ErrorKind::AddrInUse => Access::InUse,
            _ => Access::Open,
        },
        _ => Access::Open,
    };
    (access, uri)
}

/// Tries one rate after the other, again and again, until sentences come; then listens on.
async fn serial(it: &mut Surveyed, path: String, clock: Clock, until: Mono, time: Duration) {
    let asked = match &it.candidate.uri {
        InputUri::Serial { baud, .. } if it.candidate.given => Some(*baud),
        _ => None,
    };
    let mut tried = Serial { asked, ..Serial::default() };
    let rates: Vec<u32> =
        asked.into_iter().chain(RATES.into_iter().filter(|&rate| Some(rate) != asked)).collect();
    let one = ONE_RATE.min(time / 6);
    for &baud in rates.iter().cycle() {
        if clock.now().at >= until || it.access != Access::Open {
            break;
        }
        let uri = InputUri::Serial { path: path.clone(), baud };
        let (mut arrivals, input) = open(uri, clock);
        take(it, &mut arrivals, clock, until.min(clock.now().at + LEFT_OVER.min(one / 2))).await;
        it.traffic = Traffic::default();
        take(it, &mut arrivals, clock, until.min(clock.now().at + one)).await;
        // What speaks is listened to until the end, but for noise alone: then what spoke had waited
        // since another rate.
        let spoken = |traffic: &Traffic| (traffic.last, traffic.without_checksum);
        let mut fits = spoken(&it.traffic) != (None, 0);
        while fits && clock.now().at < until {
            let before = (spoken(&it.traffic), it.traffic.garble);
            take(it, &mut arrivals, clock, until.min(clock.now().at + one)).await;
            let is_cut_short = clock.now().at >= until;
            let is_noise = it.traffic.garble != before.1;
            fits = is_cut_short || !is_noise || spoken(&it.traffic) != before.0;
        }
        if fits {
            tried.fits = Some(baud);
        } else if !it.traffic.garble.is_empty() && !tried.garbled.contains(&baud) {
            tried.garbled.push(baud);
        }
        // The port is free again when the input has ended.
        drop(arrivals);
        let _ = input.await;
    }
    it.serial = Some(tried);
}

async fn hear(it: &mut Surveyed, uri: InputUri, clock: Clock, until: Mono) {
    let (mut arrivals, input) = open(uri, clock);
    take(it, &mut arrivals, clock, until).await;
    drop(arrivals);
    let _ = input.await;
}

fn open(uri: InputUri, clock: Clock) -> (Receiver<Arrival>, JoinHandle<()>) {
    let (tx, rx) = mpsc::channel(1024);
    let (first, stations) = (Important::default(), Stations::default());
    (rx, input::spawn(0, uri, clock, Retry::default(), tx, first, stations))
}

async fn take(it: &mut Surveyed, arrivals: &mut Receiver<Arrival>, clock: Clock, until: Mono) {
    let watched = matches!(it.access, Access::Watched { .. });
    loop {
        // Where lines wait all the time, no time-out comes.
        let left = until.since(clock.now().at);
        if left.is_zero() {
            return;
        }
        let Ok(Some(arrival)) = timeout(left, arrivals.recv()).await else { return };
        match arrival.what {
            What::Line(line) => it.traffic.line(arrival.stamp.at, &line),
            What::Unended(bytes) => it.traffic.noise(&bytes),
            What::Lost(why) if !watched => it.access = Access::Failed(why),
            What::Opened if !watched => it.access = Access::Open,
            _ => {}
        }
    }
}
