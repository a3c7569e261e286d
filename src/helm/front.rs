//! A front end with a page at the helm beside it: what is told and shown goes there too, and what
//! phones ask for comes from there.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use tokio::sync::{broadcast, mpsc, watch};

use super::house::Links;
use super::server;
use super::{News, Settings, Snapshot};
use crate::edge::Clock;
use crate::frontend::{Context, Frontend, HelmSign, Request};
use crate::mmsi::Mmsi;
use crate::thread;
use crate::time::{Mono, Stamp};
use crate::watch::{Event, EventBody, Input, Part, Watch};

/// A picture is handed over no more often, but at once at an alert; as often while somebody is in danger
/// and somebody looks, so that the arrow turns with the boat. Our own.
const SOONEST: Duration = Duration::from_millis(200);

/// And so often at least: it shows that the watch goes on. Our own.
const LATEST: Duration = Duration::from_secs(1);

/// So many events wait for who listens; who is later than that has missed some, and is told so. Our
/// own.
const EVENTS: usize = 256;

/// So much may wait for the loop; more is refused. Our own.
const NEWS: usize = 16;

/// A front end, and the page beside it.
pub struct AtHelm<F> {
    own: F,
    helm: Option<Helm>,
    /// Who asked for the last request, if it was a phone.
    who: Option<String>,
}

/// The loop's end of the page.
struct Helm {
    snapshots: watch::Sender<Option<Arc<Snapshot>>>,
    events: broadcast::Sender<Arc<Event>>,
    news: mpsc::Receiver<News>,
    sign: HelmSign,
    /// How many look at the page.
    looking: Arc<AtomicUsize>,
    clock: Clock,
    handed: Option<Mono>,
    /// Something has happened since, and whether that was an alert.
    stale: bool,
    alert: bool,
    /// Whether somebody was in danger then.
    in_danger: bool,
    /// What is to be told to the loop of the page.
    fault: Option<String>,
}

impl<F: Frontend> AtHelm<F> {
    /// Begins to serve the page, if it is wanted.
    pub fn open(own: F, settings: Option<Settings>) -> Self {
        let mut own = own;
        let helm = settings.map(Helm::begin);
        if let Some(helm) = &helm {
            own.set_helm(&helm.sign);
        }
        Self { own, helm, who: None }
    }

    /// The front end without the page.
    pub fn into_own(self) -> F {
        self.own
    }

    /// Takes what the page's thread has to say.
    fn take(&mut self, news: News) -> Request {
        match news {
            News::Asked(request, who) => {
                self.who = Some(who);
                request
            }
            News::Fault(why) => {
                if let Some(helm) = &mut self.helm {
                    helm.sign.fault.clone_from(&why);
                    self.own.set_helm(&helm.sign);
                }
                Request::Fault(Part::Helm, why)
            }
        }
    }
}

impl Helm {
    fn begin(settings: Settings) -> Self {
        let clock = Clock::start();
        let (snapshots, seen) = watch::channel(None);
        let (events, _) = broadcast::channel(EVENTS);
        let (says, news) = mpsc::channel(NEWS);
        let sign = settings.sign();
        let looking = Arc::default();
        let links = Links {
            clock,
            snapshots: seen,
            events: events.clone(),
            news: says,
            looking: Arc::clone(&looking),
        };
        let fault = server::start(settings, links).err().map(|why| format!("no thread: {why}"));
        Self {
            snapshots,
            events,
            news,
            sign,
            looking,
            clock,
            handed: None,
            stale: true,
            alert: false,
            in_danger: false,
            fault,
        }
    }

    /// How long until a picture is to be handed over.
    fn wait(&self) -> Duration {
        let Some(handed) = self.handed.filter(|_| !self.alert) else { return Duration::ZERO };
        (handed + self.every()).since(self.clock.now().at)
    }

    /// How long after a picture the next one is due.
    fn every(&self) -> Duration {
        let steered = self.in_danger && self.looking.load(Ordering::Relaxed) > 0;
        if self.stale || steered { SOONEST } else { LATEST }
    }

    /// Hands over how things stand, if that is due.
    fn hand(&mut self, watch: &Watch, now: Stamp, context: Context<'_>) {
        if !self.wait().is_zero() {
            return;
        }
        let handed = self.clock.now().at;
        (self.handed, self.stale, self.alert) = (Some(handed), false, false);
        match thread::caught(|| watch.picture(now)) {
            Ok(picture) => {
                self.in_danger = picture.beacons.iter().any(|it| it.casualty);
                let (parts, replay) = match context {
                    Context::Live(parts) => (Some(parts.clone()), None),
                    Context::Replay(replay) => (None, Some(replay.clone())),
                };
                let snapshot = Snapshot { picture, replay, parts, handed };
                self.snapshots.send_replace(Some(Arc::new(snapshot)));
            }
            // A page that stands still says so itself.
            Err(why) => self.fault = Some(why),
        }
    }
}

impl<F: Frontend> Frontend for AtHelm<F> {
    fn tell(&mut self, event: &Event) -> io::Result<()> {
        let done = self.own.tell(event);
        if let Some(helm) = &mut self.helm {
            helm.stale = true;
            helm.alert |= matches!(event.body, EventBody::Alert(_));
            if helm.events.receiver_count() > 0 {
                let _ = helm.events.send(Arc::new(event.clone()));
            }
        }
        done
    }

    fn let_go(&mut self) -> io::Result<()> {
        self.own.let_go()
    }

    fn show(&mut self, watch: &Watch, now: Stamp, context: Context<'_>) -> io::Result<()> {
        let done = self.own.show(watch, now, context);
        if let Some(helm) = &mut self.helm {
            helm.hand(watch, now, context);
            let looking = helm.looking.load(Ordering::Relaxed);
            if std::mem::replace(&mut helm.sign.phones, looking) != looking {
                self.own.set_helm(&helm.sign);
            }
        }
        done
    }

    fn next_frame(&self) -> Option<Duration> {
        let helm = self.helm.as_ref().map(Helm::wait);
        self.own.next_frame().into_iter().chain(helm).min()
    }

    async fn request(&mut self) -> Request {
        self.who = None;
        let Some(helm) = &mut self.helm else { return self.own.request().await };
        if let Some(why) = helm.fault.take() {
            return Request::Fault(Part::Helm, Some(why));
        }
        let news = tokio::select! {
            biased;
            request = self.own.request() => return request,
            Some(news) = helm.news.recv() => news,
        };
        self.take(news)
    }

    fn who(&self) -> Option<&str> {
        self.who.as_deref().or_else(|| self.own.who())
    }

    fn ring(&mut self) {
        self.own.ring();
    }

    fn recall(&mut self, event: &Event) {
        self.own.recall(event);
    }

    fn overhear(&mut self, input: &str, what: Input<'_>) {
        self.own.overhear(input, what);
    }

    fn wants_reception(&self) -> bool {
        self.own.wants_reception()
    }

    fn enrolled(&mut self, beacon: Mmsi, fitted: bool) {
        self.own.enrolled(beacon, fitted);
    }

    fn forget(&mut self) {
        self.own.forget();
    }

    fn hang_up(&mut self) {
        self.own.hang_up();
    }

    fn stays(&self) -> bool {
        self.own.stays()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whoever steers by the arrow sees it turn with the boat; else once a second is enough.
    #[test]
    fn a_picture_comes_often_while_somebody_steers_by_it() {
        let settings = Settings {
            listen: ([127, 0, 0, 1], 0).into(),
            code: "000000".to_owned(),
            may_acknowledge: false,
            folder: None,
            vessel: crate::advice::Vessel::default(),
        };
        let mut helm = Helm::begin(settings);
        for (stale, in_danger, looking, every) in [
            (true, false, 0, SOONEST),
            (false, false, 1, LATEST),
            (false, true, 0, LATEST),
            (false, true, 1, SOONEST),
        ] {
            (helm.stale, helm.in_danger) = (stale, in_danger);
            helm.looking.store(looking, Ordering::Relaxed);
            assert_eq!(helm.every(), every, "{stale} {in_danger} {looking}");
        }
    }
}
