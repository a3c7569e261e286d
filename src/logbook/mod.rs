//! The logbook: durable evidence of what a watch heard, raised and was told.
//!
//! ```text
//!  events, acts ──▶ Draft ──▶ Queue ──▶ one writer thread ──▶ logbook.db ──▶ Reader ──▶ list, CSV,
//!                             (bounded)  (waits for the disk)    (SQLite)              GPX, handover
//! ```
//! *Invariant:* no alarm waits for the disk. [`Logbook::write`] puts a draft into a bounded queue
//! and returns; what the disk does is told by a [`WriterReport`].
//!
//! *Invariant:* append-only. Each entry carries the SHA-256 of itself and of its predecessor; a
//! correction is a new entry that refers to the old one. A damaged file is set aside, never
//! deleted.
//!
//! Times are parameters: nothing here reads a clock.

mod chain;
mod check;
mod csv;
mod damage;
mod details;
mod draft;
mod entry;
mod error;
mod gpx;
mod handover;
mod hours;
mod incidents;
mod kind;
mod queue;
mod reader;
mod self_test;
mod store;
mod story;
mod writer;

pub use chain::hash;
pub use check::{BadEntries, Check, KNOWN_DAMAGE};
pub use csv::{Csv, defused};
pub use details::{
    Act, AlertChange, BeaconEvent, CheckMade, Details, Keys, TestJudged, WatchEvent,
};
pub use draft::{Draft, Moment};
pub use entry::Entry;
pub use error::Error;
pub use gpx::write_gpx;
pub use handover::{Handover, Outage, TestHeard};
pub use hours::HOURS;
pub use incidents::Incidents;
pub use kind::Kind;
pub use reader::{Filter, Reader};
pub use store::{FILE, append};
pub use writer::{Logbook, Patience, WriterReport};
