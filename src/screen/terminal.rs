//! The terminal: taken over, drawn on, given back whole, whatever happens.

use std::io::{self, Write};
use std::mem::ManuallyDrop;
use std::sync::atomic::{AtomicBool, Ordering};

use crossterm::event::{self, Event};
use crossterm::execute;
use crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use ratatui::Frame;
use ratatui::backend::CrosstermBackend;
use tokio::sync::mpsc;

use super::action::Action;
use super::sixteen::Sixteen;
use super::theme::Depth;
use crate::thread;

/// Whether the terminal is taken over just now: it is given back once, by whoever comes first. A
/// second time would put the cursor back over what was printed in between.
static TAKEN: AtomicBool = AtomicBool::new(false);

/// Where frames go: to standard output, by a way that may not hold the program up.
type Out = Box<dyn Write + Send>;

/// A terminal that is taken over until it is dropped.
pub struct Terminal {
    /// Never dropped: it would complain on standard error of a terminal that has hung up.
    inner: ManuallyDrop<ratatui::Terminal<CrosstermBackend<Out>>>,
}

/// So many keys wait to be taken; who pastes more than that waits for the program.
const WAITING: usize = 64;

/// The keys of a terminal. They outlast its screen: then a key counts with the end of its line.
///
/// A thread of their own reads them: whoever reads a terminal that has hung up may never come back,
/// and that must not be the watch.
pub struct Keys(mpsc::Receiver<Event>);

impl Terminal {
    /// Takes the terminal over: alternate screen, raw keys; the mouse stays the terminal's own, so
    /// that text can be selected. Frames with so many colours are written to `out`, which leads to
    /// standard output. A panic that nobody catches gives it back first.
    ///
    /// # Errors
    /// Standard output is no terminal, or does not obey.
    pub fn enter(out: impl Write + Send + 'static, depth: Depth) -> io::Result<(Self, Keys)> {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            // The message must land on a terminal that a person can read.
            if !thread::is_caught() {
                restore();
            }
            before(info);
        }));
        enable_raw_mode()?;
        TAKEN.store(true, Ordering::SeqCst);
        let entered = execute!(io::stdout(), EnterAlternateScreen);
        let out: Out = match depth {
            Depth::Sixteen => Box::new(Sixteen::new(out)),
            Depth::True | Depth::Table => Box::new(out),
        };
        let made = entered.and_then(|()| ratatui::Terminal::new(CrosstermBackend::new(out)));
        let entered = made.and_then(|inner| Ok((inner, Keys::begin()?)));
        entered
            .map(|(inner, keys)| (Self { inner: ManuallyDrop::new(inner) }, keys))
            .inspect_err(|_| restore())
    }

    /// Draws a frame. A drawing that panics is an error like any other.
    ///
    /// # Errors
    /// The terminal is gone, or the drawing panicked, or something else did before.
    pub fn draw(&mut self, draw: impl FnOnce(&mut Frame<'_>)) -> io::Result<()> {
        let failed = |why| Err(io::Error::other(format!("the screen could not be drawn: {why}")));
        if !TAKEN.load(Ordering::SeqCst) {
            return failed("something else panicked".to_owned());
        }
        thread::caught(|| self.inner.draw(draw).map(|_| ())).unwrap_or_else(failed)
    }

    /// Rings the terminal's bell.
    ///
    /// # Errors
    /// The terminal is gone.
    pub fn bell(&mut self) -> io::Result<()> {
        let out = self.inner.backend_mut();
        out.write_all(b"\x07")?;
        Write::flush(out)
    }

    /// Writes what was drawn elsewhere.
    ///
    /// # Errors
    /// The terminal is gone.
    pub fn pass(&mut self, drawn: &[u8]) -> io::Result<()> {
        let out = self.inner.backend_mut();
        out.write_all(drawn)?;
        Write::flush(out)
    }

    /// Gives up a terminal that takes nothing any more: nothing more is written to it.
    pub fn abandon(&mut self) {
        if TAKEN.swap(false, Ordering::SeqCst) {
            let _ = disable_raw_mode();
        }
    }
}

impl Keys {
    /// Reads them from now on.
    fn begin() -> io::Result<Self> {
        let (tell, told) = mpsc::channel(WAITING);
        thread::spawn("keys", move |_| {
            while let Ok(event) = event::read() {
                if tell.blocking_send(event).is_err() {
                    return;
                }
            }
        })?;
        Ok(Self(told))
    }

    /// The next thing that the terminal tells; `None` when it is gone.
    pub async fn event(&mut self) -> Option<Event> {
        self.0.recv().await
    }

    /// Gives the keys up, because the terminal has hung up. Else their thread would ask a terminal
    /// that is gone again and again, as fast as it can.
    pub fn abandon(self) {
        #[cfg(unix)]
        {
            // Nothing ever comes out of a pipe whose other end is kept.
            let silent = std::io::pipe().ok();
            if let Some((out, into)) = silent
                && rustix::stdio::dup2_stdin(out).is_ok()
            {
                std::mem::forget(into);
            }
        }
    }

    /// The next thing a person wants; pending while there is none. `None` when the keys are gone.
    /// While something is being entered a character is a character.
    pub async fn action(&mut self, typing: bool) -> Option<Action> {
        loop {
            let event = self.event().await?;
            let action = if typing { Action::typed(&event) } else { Action::of(&event) };
            if action.is_some() {
                return action;
            }
        }
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        restore();
    }
}

/// Gives the terminal back. What fails here fails for good: there is nobody to tell.
fn restore() {
    if !TAKEN.swap(false, Ordering::SeqCst) {
        return;
    }
    let _ = execute!(io::stdout(), LeaveAlternateScreen, crossterm::cursor::Show);
    let _ = disable_raw_mode();
}
