//! What the inputs of a computer say, before a watch is kept: judged from a few seconds of each.
//!
//! *Invariant:* no IO, no clock; what was not heard in those seconds is "not heard", never "not
//! there".

mod access;
mod need;
mod traffic;
mod words;

pub use access::Access;
pub use need::{Met, Need, NeedKind, needs};
pub use traffic::Traffic;
pub use words::{Serial, words};
