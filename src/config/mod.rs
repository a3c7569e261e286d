//! The configuration: one TOML file, wholly checked before anything starts.
//!
//! An unknown key is an error, not a surprise at sea. Every error names the file, the line and the
//! key, and says what would be right. The inputs' URIs are kept as they are written: who opens an
//! input reads them.

mod check;
mod date;
mod enrol;
mod error;
mod helm;
mod inputs;
mod mistakes;
mod schema;
mod search;
mod show;
mod voice;
mod zone;

pub use date::{DueDate, NotADate};
pub use enrol::{Enrolment, NotEntered, check_free, check_name, quoted};
pub use error::Error;
pub use helm::Helm;
pub use inputs::with_inputs;
pub use mistakes::Mistake;
pub use schema::{
    Alarm, Beacon, Config, Hook, Input, Lifejacket, Output, Person, Search, Storage, Vessel, Watch,
};
pub use voice::Voice;
