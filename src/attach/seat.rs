//! One who looks on: a screen of their own, drawn for a terminal elsewhere.

use std::cell::RefCell;
use std::io::{self, Write};
use std::rc::Rc;

use crossterm::event::Event;
use ratatui::backend::CrosstermBackend;
use ratatui::layout::Rect;
use ratatui::{TerminalOptions, Viewport};
use tokio::sync::mpsc;
use tokio_util::bytes::Bytes;

use super::connection::ended;
use super::{COLOURS, DRAWN, Hello};
use crate::advice::flashes;
use crate::frontend::{Parts, Request};
use crate::screen::{Action, Glyphs, Pace, Palette, Screen, Theme};
use crate::thread;
use crate::time::Mono;
use crate::watch::Picture;

/// No terminal is larger. Our own.
const LARGEST: (u16, u16) = (400, 200);

/// Where a frame is gathered.
#[derive(Clone, Debug, Default)]
struct Gathered(Rc<RefCell<Vec<u8>>>);

impl Write for Gathered {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.borrow_mut().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// A screen that is drawn for a terminal elsewhere.
pub(super) struct Seat {
    pub(super) id: u64,
    /// Who looks on, as it is written down.
    pub(super) who: String,
    pub(super) screen: Screen,
    pub(super) pace: Pace,
    terminal: ratatui::Terminal<CrosstermBackend<Gathered>>,
    gathered: Gathered,
    queue: mpsc::Sender<Bytes>,
    /// What was drawn last: a key acts on that.
    picture: Option<Rc<Picture>>,
}

impl Seat {
    /// Somebody looks on, from now on.
    pub(super) fn new(
        id: u64,
        who: String,
        hello: &Hello,
        queue: mpsc::Sender<Bytes>,
        before: &Screen,
    ) -> io::Result<Self> {
        let glyphs = if hello.unicode { Glyphs::Unicode } else { Glyphs::Ascii };
        let palette = Palette::named(&hello.palette).unwrap_or_default();
        let theme = Theme { palette, glyphs, depth: hello.depth };
        let mut screen = before.clone();
        (screen.theme, screen.attached) = (theme, true);
        let gathered = Gathered::default();
        let terminal = terminal(&gathered, hello.size)?;
        let pace = Pace::default();
        Ok(Self { id, who, screen, pace, terminal, gathered, queue, picture: None })
    }

    /// Whether a frame is to be drawn now. Who has not taken the last one gets a later one.
    pub(super) fn is_due(&self, now: Mono) -> bool {
        self.takes() && self.pace.wait(now).is_zero()
    }

    /// Whether the terminal has taken all it was given.
    pub(super) fn takes(&self) -> bool {
        self.queue.capacity() == self.queue.max_capacity()
    }

    /// Draws a frame. Whether it could be.
    pub(super) fn draw(&mut self, picture: &Rc<Picture>, parts: Option<&Parts>, now: Mono) -> bool {
        self.screen.lit = Pace::is_lit(flashes(picture), now);
        self.screen.set_parts(parts);
        self.screen.turn_to_new_alarm();
        self.screen.look(picture);
        let screen = &self.screen;
        let drawn =
            thread::caught(|| self.terminal.draw(|frame| screen.draw(frame, picture)).map(|_| ()));
        self.pace = Pace::drawn(now, flashes(picture));
        self.picture = Some(Rc::clone(picture));
        match drawn {
            Ok(Ok(())) => self.hand_over(),
            Ok(Err(why)) => self.leave(&format!("the screen could not be drawn: {why}")),
            Err(why) => self.leave(&format!("the screen could not be drawn: {why}")),
        }
    }

    fn hand_over(&mut self) -> bool {
        let drawn = std::mem::take(&mut *self.gathered.0.borrow_mut());
        self.queue.try_send([&[DRAWN], drawn.as_slice()].concat().into()).is_ok()
    }

    /// Rings the bell there.
    pub(super) fn ring(&mut self) {
        self.gathered.0.borrow_mut().push(7);
        if self.takes() {
            self.hand_over();
        }
    }

    /// Says why there will be no more. Always no: it is not drawn on.
    pub(super) fn leave(&self, why: &str) -> bool {
        let _ = self.queue.try_send(ended(why));
        false
    }

    /// Takes a key or another size; `None` if that is nothing to the watch.
    pub(super) fn take(&mut self, event: &Event) -> Option<Request> {
        self.pace.stale = true;
        if let Event::Resize(columns, rows) = event {
            // What was drawn for another size is of no use.
            if let Ok(terminal) = terminal(&self.gathered, (*columns, *rows)) {
                self.terminal = terminal;
            }
            return None;
        }
        let typing = self.screen.is_typing();
        let action = if typing { Action::typed(event) } else { Action::of(event) }?;
        if action == Action::Colours && self.screen.theme.palette == Palette::Mono {
            // Who asked for none gets none by a slip of the finger either.
            return None;
        }
        let picture = self.picture.clone()?;
        let before = self.screen.theme.palette;
        let request = self.screen.act(action, &picture);
        let palette = self.screen.theme.palette;
        if palette != before {
            // Where it is not taken, they are chosen again the next time.
            let _ = self.queue.try_send([&[COLOURS], palette.name().as_bytes()].concat().into());
        }
        Some(request.unwrap_or(Request::Present))
    }
}

/// A terminal of this size, empty.
fn terminal(
    gathered: &Gathered,
    (columns, rows): (u16, u16),
) -> io::Result<ratatui::Terminal<CrosstermBackend<Gathered>>> {
    let area = Rect::new(0, 0, columns.clamp(1, LARGEST.0), rows.clamp(1, LARGEST.1));
    let mut held = gathered.0.borrow_mut();
    held.clear();
    held.extend_from_slice(b"\x1b[0m\x1b[2J");
    drop(held);
    let options = TerminalOptions { viewport: Viewport::Fixed(area) };
    ratatui::Terminal::with_options(CrosstermBackend::new(gathered.clone()), options)
}
