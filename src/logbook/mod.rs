//! The logbook: durable evidence of what was heard, raised and done.
//!
//! ```text
//!  event ──▶ Draft ──▶ queue ──▶ one writer thread ──▶ SQLite, committed to the disk ──▶ Report
//!                     bounded                          entry n: hash(entry n-1 + body)
//! ```
//! Append-only: a correction is another entry that refers to the one before. Each entry carries the
//! SHA-256 of its predecessor's hash and its own body, so that what is altered or missing shows.
//!
//! *Invariant:* nobody waits for it. What cannot be written is told and waits, bounded; the alarm
//! has sounded before.

mod chain;
mod csv;
mod draft;
mod entry;
mod error;
mod gpx;
mod handover;
mod incidents;
mod memory;
mod queue;
mod reader;
mod store;
mod writer;

pub use chain::{Check, FIRST, link};
pub use csv::write_csv;
pub use draft::{Draft, Kind, Moment};
pub use entry::{Entry, Filter};
pub use error::Error;
pub use gpx::{Tracks, write_gpx};
pub use handover::{Handover, QUESTIONS};
pub use incidents::{Heard, Incidents, LastAlert};
pub use memory::Memory;
pub use reader::Reader;
pub use store::{FILE, append};
pub use writer::{Logbook, Report};
