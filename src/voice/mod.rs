//! What to say and what to do: the voice procedure filled in with what is known, the crew's
//! checklist, and figures of survival with their cautions. It transmits nothing.
//!
//! ```text
//!  words.toml, or the skipper's own ──▶ Words ─┐
//!                                              ├─▶ Text: headings, words to speak, notes
//!  what is known at this moment ─────▶ Facts ──┘
//! ```
//!
//! *Invariant:* nothing is invented. What is not known is left out or is a gap that the speaker
//! fills; a position says its time.

mod facts;
mod occasion;
mod placeholder;
mod survival;
mod text;
mod words;

pub use facts::{AgedPosition, Casualty, Drift, Facts, Nature, Ship, Whose};
pub use occasion::Occasion;
pub use placeholder::{GAP, PLACEHOLDERS, Placeholder};
pub use survival::{Figures, Water, WaterSource, figures};
pub use text::{Kind, Line, Text};
pub use words::{Words, WordsError};
