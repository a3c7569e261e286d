//! The receiving side of personal AIS man-overboard beacons: hears them, tells TEST from ACTIVE,
//! raises alerts, gives range and bearing. It transmits nothing.
//!
//! ```text
//!   serial, UDP, TCP,           bytes → lines → facts            events
//!   pipe, recording  ──▶ edge ─────────────────────▶ watch ─────────────▶ standard output
//!                       capture        wire           │ ▲
//!                                                     ▼ │ ages, ranges
//!                                                 navigation
//! ```
//!
//! # The rooms, from the top down
//!
//! | room | what it holds |
//! |---|---|
//! | [`cli`] | arguments, exit codes, one file per command, events as JSON or as lines to read aloud |
//! | [`app`] | the one loop, live and in a replay, and the only place that knows all parts |
//! | [`attach`] | several screens and proofs on one watch: the socket, who looks on, who listens |
//! | [`helm`] | the page at the helm: what the watch knows on a phone, over HTTP, behind a code |
//! | [`edge`] | the world: clock, inputs and outputs with a supervisor each, what sounds |
//! | [`logbook`] | durable evidence: SQLite, one writer, a chain of hashes |
//! | [`capture`] | recorded feeds, read and written: the times and inputs of their lines |
//! | [`gpx`] | GPX documents, written: waypoints, routes, tracks |
//! | [`config`] | the configuration file |
//! | [`muster`] | who has which beacon and lifejacket, what of it is due, a calendar of it |
//! | [`debrief`] | a recorded drill measured: what a crew talks about afterwards |
//! | [`hearing`] | how far the boat hears: hours of reach put together, and shown |
//! | [`proof`] | a round of self-tests: what is asked, what was received, how it is judged |
//! | [`rehearse`] | the traffic of a drill, made from a scenario |
//! | [`setup`] | the first configuration in one sitting: what is asked, and the file that comes of it |
//! | [`screen`] | state → frame: one file per region, keys, themes |
//! | [`advice`] | what to tell a person: real, who, how far, which way, how old, what next |
//! | [`outputs`] | what is said to other equipment: sentences passed on, casualties, alerts, events |
//! | [`frontend`] | what the app and a screen, page, voice or script agree on |
//! | [`watch`] | the pure core: beacons, calls, texts, alerts, input health |
//! | [`survey`] | what the inputs of a computer say, and which needs of a watch that meets |
//! | [`voice`] | what to say and to do: texts filled in with what is known |
//! | [`drawing`] | how a page or a terminal is drawn on: SVG, HTML in one file, dots in braille |
//! | [`navigation`] | WGS-84 range and bearing, own ship, the way to a casualty |
//! | [`wire`] | bytes → facts: framing, TAG blocks, sentences, AIS and DSC |
//! | [`mmsi`], [`position`], [`units`], [`time`] | identities, places, units in types, the three times |
//! | [`zone`] | local time beside UTC, by the zone data of the system |
//! | [`beacon`] | when a survivor beacon speaks: its messages, bursts and cycles |
//! | [`thread`] | where threads begin and where a panic ends |
//! | [`text`] | which characters are hostile, texts in lines, JSON of harmless characters |
//!
//! # Invariants
//!
//! 1. **Replay is the live code.** The same lines with the same times give the same outputs, byte
//!    for byte, at any speed.
//! 2. **One input, then outputs until none.** Then, and only then, the next input. Alarms leave
//!    before anything that can block.
//! 3. **No clock in the core.** Three times, never mixed: arrival (monotonic, drives timers and
//!    ages), UTC from the feed, the host's wall clock.
//! 4. **Fail towards the alarm.** Doubt about ACTIVE or TEST raises, never lowers. Silence of a
//!    beacon never clears an alert. Silence of a receiver is itself an alert.
//! 5. **Trust little.** A rejected line is counted; only a validated one decides.
//! 6. **Bounded.** Every table and text has a limit, and at the limit the casualty's data survives.
//! 7. **Text from the air is hostile.** Nothing received reaches a terminal unescaped.
//! 8. **No `unsafe`, no panic on input.**
//!
//! `tests/architecture.rs` holds the layout to this.

pub mod advice;
pub mod app;
#[cfg(unix)]
pub mod attach;
pub mod beacon;
pub mod capture;
pub mod cli;
pub mod config;
pub mod debrief;
pub mod drawing;
pub mod edge;
pub mod frontend;
pub mod gpx;
pub mod hearing;
pub mod helm;
pub mod logbook;
pub mod mmsi;
pub mod muster;
pub mod navigation;
pub mod outputs;
pub mod position;
pub mod proof;
pub mod rehearse;
pub mod screen;
pub mod setup;
pub mod survey;
pub mod text;
pub mod thread;
pub mod time;
pub mod units;
pub mod voice;
pub mod watch;
pub mod wire;
pub mod zone;
