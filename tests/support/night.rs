//! A watch that is written down as the live one is.
#![allow(dead_code, reason = "each test uses its part")]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so")]

use std::time::Duration;

use overside::logbook::{Draft, Moment};
use overside::mmsi::Mmsi;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{Command, Input, Settings, Watch};

use crate::book::FIRST;
use crate::support;

pub const MATE: u32 = 972_000_017;

/// With the moment after the whole of an input.
pub struct Night {
    pub watch: Watch,
    pub second: u64,
    pub drafts: Vec<Draft>,
}

impl Night {
    pub fn begin() -> Self {
        let muster = [(Mmsi::new(MATE).unwrap(), Some("Mate".to_owned()))].into();
        let watch = Watch::new(Settings { muster, ..Settings::default() });
        Self { watch, second: 0, drafts: Vec::new() }
    }

    pub fn after(&mut self, seconds: u64) -> Stamp {
        self.second += seconds;
        let span = Duration::from_secs(self.second);
        Stamp { at: Mono::START + span, utc: Utc::from_unix_ms(FIRST).unwrap().plus(span) }
    }

    pub fn line(&mut self, seconds: u64, input: &str, line: &str) {
        let (stamp, input) = (self.after(seconds), self.watch.input(input));
        self.watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
        self.write(stamp, Some(line.as_bytes()));
    }

    pub fn own(&mut self, seconds: u64, lat: f64) {
        let place = support::nmea_position(lat, -5.0);
        self.line(seconds, "gnss", &support::sealed(&format!("GPGLL,{place},120000,A,A")));
    }

    pub fn command(&mut self, seconds: u64, command: Command) {
        let stamp = self.after(seconds);
        self.watch.handle(Input::Command { stamp, command });
        self.write(stamp, None);
    }

    /// Writes down what the watch has to tell.
    pub fn write(&mut self, now: Stamp, line: Option<&[u8]>) {
        let own = self.watch.own(now.at);
        let moment = Moment {
            arrival: now.at,
            host: now.utc,
            gnss: None,
            own: own.position,
            own_age_s: own.age.map(|age| age.as_secs()),
            sog: None,
            cog: None,
        };
        while let Some(event) = self.watch.poll_output() {
            let at = Moment { host: event.at, ..moment };
            self.drafts.extend(Draft::of_event(&event, &at, line));
        }
    }
}
