//! The front of a watch at which several look: its own, and those at the seats.

use std::ffi::OsString;
use std::io;
use std::path::Path;
use std::rc::Rc;
use std::time::Duration;

use tokio::net::UnixListener;
use tokio::sync::mpsc;

use super::connection::{News, What, listen};
use super::listeners::Listeners;
use super::seat::Seat;
use crate::advice::Vessel;
use crate::edge::{Clock, Door};
use crate::frontend::{Context, Frontend, HelmSign, Request};
use crate::mmsi::Mmsi;
use crate::screen::{FRAME, Screen, Theme};
use crate::thread;
use crate::time::Stamp;
use crate::watch::{Event, EventBody, Input, Watch};

/// So much news may wait for the watch; more waits with who says it.
const WAITING: usize = 16;

/// How long the watch waits for the folder of its door. Our own.
const ASKING: Duration = Duration::from_millis(500);

/// The watch's own front, as long as it is there, and all who look on.
pub struct Shared<F> {
    own: Option<F>,
    seats: Vec<Seat>,
    listeners: Listeners,
    /// What a new seat begins with: all that happened.
    before: Screen,
    news: mpsc::Receiver<News>,
    /// Kept, so that news never end.
    _says: mpsc::Sender<News>,
    door: Option<Door>,
    clock: Clock,
    /// Who asked last, if it was at a seat.
    who: Option<String>,
}

impl<F: Frontend> Shared<F> {
    /// Opens the door of this watch. Where none can be opened, nobody can look on: that keeps nobody
    /// from watching. To be called where tasks can be started.
    pub fn open(
        own: F,
        vessel: Vessel,
        env: impl Fn(&str) -> Option<OsString> + Send + 'static,
    ) -> Self {
        let (says, news) = mpsc::channel(WAITING);
        // A folder that hangs holds up no alarm.
        let opened = thread::in_time("door", ASKING, move || Door::open(env), drop);
        let silent = || io::Error::other("the folder of its socket does not answer");
        let opened = opened.and_then(|it| it.ok_or_else(silent)?);
        let opened = opened.and_then(|(door, it)| Ok((door, UnixListener::from_std(it)?)));
        let door = match opened {
            Ok((door, listener)) => {
                tokio::spawn(listen(listener, says.clone()));
                Some(door)
            }
            Err(why) => {
                tracing::warn!("no other screen can look at this watch: {why}");
                None
            }
        };
        let mut before = Screen::new(Theme::default());
        before.vessel = vessel;
        Self {
            own: Some(own),
            seats: Vec::new(),
            listeners: Listeners::default(),
            before,
            news,
            _says: says,
            door,
            clock: Clock::start(),
            who: None,
        }
    }

    /// Where others can look at this watch.
    pub fn door(&self) -> Option<&Path> {
        self.door.as_ref().map(Door::path)
    }

    /// The watch's own front, if it was not lost.
    pub fn into_own(self) -> Option<F> {
        self.own
    }

    /// A front that fails is given up, and its failure told once.
    fn kept(&mut self, done: Option<io::Result<()>>) -> io::Result<()> {
        let done = done.unwrap_or(Ok(()));
        if done.is_err() {
            self.own = None;
        }
        done
    }

    /// Takes what happened at a seat.
    fn take(&mut self, News { seat: id, what }: News) -> Request {
        match what {
            What::Came { hello, who, queue } => {
                tracing::info!("{who} looks at the watch");
                // Else colours would depend on where the watch was started.
                crossterm::style::force_color_output(true);
                if let Ok(seat) = Seat::new(id, who, &hello, queue, &self.before) {
                    self.seats.push(seat);
                }
            }
            What::Listens { input, queue } => self.listeners.add(id, input, queue),
            What::Gone => {
                self.seats.retain(|seat| seat.id != id);
                self.listeners.remove(id);
            }
            What::Event(event) => return self.answer(id, &event),
        }
        Request::Redraw
    }

    fn answer(&mut self, id: u64, event: &crossterm::event::Event) -> Request {
        let seat = self.seats.iter_mut().find(|seat| seat.id == id);
        let Some((seat, request)) = seat.and_then(|it| it.take(event).map(|said| (it, said)))
        else {
            return Request::Redraw;
        };
        if request == Request::Quit {
            seat.leave("");
            self.seats.retain(|seat| seat.id != id);
            return Request::Redraw;
        }
        self.who = Some(seat.who.clone());
        request
    }
}

impl<F: Frontend> Frontend for Shared<F> {
    fn tell(&mut self, event: &Event) -> io::Result<()> {
        let done = self.own.as_mut().map(|own| own.tell(event));
        self.before.tell(event);
        for seat in &mut self.seats {
            seat.screen.tell(event);
            seat.pace.stale = true;
            if matches!(event.body, EventBody::AwakePrompt { .. }) {
                seat.ring();
            }
        }
        self.kept(done)
    }

    fn show(&mut self, watch: &Watch, now: Stamp, context: Context<'_>) -> io::Result<()> {
        let done = self.own.as_mut().map(|own| own.show(watch, now, context));
        let real = self.clock.now().at;
        if self.seats.iter().any(|seat| seat.is_due(real)) {
            let picture = Rc::new(watch.picture(now));
            let parts = match context {
                Context::Live(parts) => Some(parts),
                Context::Replay(_) => None,
            };
            self.seats.retain_mut(|it| !it.is_due(real) || it.draw(&picture, parts, real));
        }
        self.kept(done)
    }

    fn next_frame(&self) -> Option<Duration> {
        let now = self.clock.now().at;
        let own = self.own.as_ref().and_then(F::next_frame);
        let seats = self.seats.iter().map(|seat| {
            let wait = seat.pace.wait(now);
            // While a terminal takes nothing, it is looked after ten times a second.
            if seat.takes() { wait } else { wait.max(FRAME) }
        });
        own.into_iter().chain(seats).min()
    }

    async fn request(&mut self) -> Request {
        self.who = None;
        let own = async {
            match &mut self.own {
                Some(own) => own.request().await,
                None => std::future::pending().await,
            }
        };
        let news = tokio::select! {
            biased;
            request = own => return request,
            news = self.news.recv() => news,
        };
        news.map_or(Request::Redraw, |news| self.take(news))
    }

    fn who(&self) -> Option<&str> {
        self.who.as_deref()
    }

    fn ring(&mut self) {
        if let Some(own) = &mut self.own {
            own.ring();
        }
        self.seats.iter_mut().for_each(Seat::ring);
    }

    fn recall(&mut self, event: &Event) {
        if let Some(own) = &mut self.own {
            own.recall(event);
        }
        self.before.recall(event);
        for seat in &mut self.seats {
            seat.screen.recall(event);
            seat.pace.stale = true;
        }
    }

    fn overhear(&mut self, input: &str, what: Input<'_>) {
        self.listeners.overhear(input, what);
        if let Some(own) = &mut self.own {
            own.overhear(input, what);
        }
    }

    fn enrolled(&mut self, beacon: Mmsi, fitted: bool) {
        if let Some(own) = &mut self.own {
            own.enrolled(beacon, fitted);
        }
        let seats = self.seats.iter_mut().map(|seat| &mut seat.screen);
        for screen in seats.chain([&mut self.before]) {
            screen.vessel.beacons.insert(beacon, fitted);
        }
    }

    fn set_helm(&mut self, sign: &HelmSign) {
        if let Some(own) = &mut self.own {
            own.set_helm(sign);
        }
        self.before.helm = Some(sign.clone());
        for seat in &mut self.seats {
            seat.screen.helm = Some(sign.clone());
            seat.pace.stale = true;
        }
    }

    fn wants_reception(&self) -> bool {
        self.own.as_ref().is_some_and(F::wants_reception)
    }

    fn hang_up(&mut self) {
        if let Some(mut own) = self.own.take() {
            own.hang_up();
        }
    }

    fn stays(&self) -> bool {
        self.own.as_ref().is_some_and(F::stays)
    }
}
