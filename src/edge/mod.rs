//! The world: the clock and the inputs, each supervised alone.
//!
//! *Invariant:* decides nothing. What comes in is stamped and passed on as it came.

mod clock;
pub mod input;
pub mod remembered;
mod uri;

pub use clock::Clock;
pub use uri::{BadUri, InputUri, UriFault};
