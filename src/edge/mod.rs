//! The world: the clock, the inputs and outputs, what sounds, who is told.
//!
//! *Invariant:* decides nothing. What comes in is stamped and passed on as it came.

mod address;
mod broker;
mod claim;
mod clock;
#[cfg(unix)]
mod door;
mod hooks;
pub mod input;
mod instance;
mod line_output;
mod non_blocking_writer;
pub mod output;
#[cfg(unix)]
pub mod passed_on;
mod ports;
mod process;
pub mod remembered;
mod rewrite;
mod runtime_folder;
mod service;
mod sounder;
mod standard_error;
mod uri;

pub use address::UriFault;
pub use broker::Broker;
pub use claim::{Claims, Holder, InUse};
pub use clock::Clock;
#[cfg(unix)]
pub use door::{Door, door_of, doors};
pub use hooks::{Hook, HookReport, Hooks};
pub use instance::{Instance, Taken};
pub use line_output::LineOutput;
pub use non_blocking_writer::NonBlockingWriter;
pub use ports::{Closed, Port, is_held, ports, try_port};
pub use rewrite::{create, rewrite};
pub use service::Service;
pub use sounder::{
    RATE, SoundMethod, Sounder, SounderReport, SounderSettings, Sounding, length, wave,
};
pub use standard_error::{Held, StandardError};
pub use uri::{BadUri, InputUri};
