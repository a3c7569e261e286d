//! The muster: who is aboard, which beacon and lifejacket each has, and what of it is due.
//!
//! ```text
//!  the register (config) ──▶ judge ──▶ Muster ──▶ a table, JSON, a calendar (RFC 5545)
//!  what was proven and checked ──▶  ▲
//!                          the day ─┘
//! ```
//! Nothing here knows where the facts were written down, and nothing reads a clock. Intervals are
//! settings: the makers' instructions come first.

mod calendar;
mod facts;
mod judge;
mod kit;

pub use calendar::calendar;
pub use facts::{Check, CheckKind, Facts, Proof};
pub use judge::judge;
pub use kit::{Due, DueKind, Finding, Kit, LastTest, Member, Muster, Spare, Status};
