//! The page at the helm: what the watch knows, on a phone in the cockpit.
//!
//! ```text
//!  loop ── picture, events ──▶ a thread of its own ── HTTP ──▶ phones, programs
//!       ◀── acknowledge, silence, faults ──┘
//! ```
//! *Invariant:* the loop waits for nothing here. What is served decides nothing: it is read-only but
//! for `acknowledge` and `silence`, and those only where the configuration allows them. Nothing is
//! shown to who has not given the code.

mod code;
mod enter;
mod events;
mod forms;
mod front;
mod guard;
mod house;
pub mod page;
mod patience;
mod phones;
mod routes;
mod server;
mod state;

pub use code::new as new_code;
pub use front::AtHelm;
pub use phones::forget;

use std::net::SocketAddr;
use std::path::PathBuf;

use crate::advice::Vessel;
use crate::frontend::{HelmSign, Parts, ReplayState, Request};
use crate::screen::square_code;
use crate::time::Mono;
use crate::watch::Picture;

/// What the page at the helm is told before it begins.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Where it listens.
    pub listen: SocketAddr,
    /// The code of six digits that lets a phone in.
    pub code: String,
    /// Whether a phone may acknowledge and silence.
    pub may_acknowledge: bool,
    /// The folder in which it is kept which phones have given the code; for this watch alone if
    /// `None`.
    pub folder: Option<PathBuf>,
    /// What is said of the own ship, and how.
    pub vessel: Vessel,
}

impl Settings {
    /// The page as it is told on a terminal.
    fn sign(&self) -> HelmSign {
        let (address, code) = (format!("http://{}", self.listen), self.code.clone());
        HelmSign { address, code, phones: 0, fault: None }
    }

    /// What is told when it begins; with a square code that holds address and code, where a camera
    /// sees it.
    pub fn words(&self, square: bool) -> String {
        let sign = self.sign();
        let mut text = format!("Page at the helm: {}, code {}", sign.address, sign.code);
        let rows = if square { square_code(&sign.link(), true) } else { Vec::new() };
        rows.iter().for_each(|row| text.push_str(&format!("\n  {row}")));
        text
    }
}

/// How things stand at one moment, as the loop hands it over.
#[derive(Clone, Debug)]
pub struct Snapshot {
    /// The watch.
    pub picture: Picture,
    /// Set in a replay.
    pub replay: Option<ReplayState>,
    /// How the parts around a live watch are doing.
    pub parts: Option<Parts>,
    /// When it was handed over, by the clock of the page's own thread: how old it is.
    pub handed: Mono,
}

/// What the page's thread has to say to the loop.
#[derive(Debug)]
enum News {
    /// Somebody asks for something: what, and who.
    Asked(Request, String),
    /// The page does not work, and why; it works again if `None`.
    Fault(Option<String>),
}
