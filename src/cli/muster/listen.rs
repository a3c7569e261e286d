//! Listens for the next self-test of a beacon that is not in the muster.

use std::io::{self, IsTerminal as _, Write as _};
use std::time::Duration;

use super::super::talk::say;
use super::Error;
use crate::app::{self, Plan};
use crate::config::Config;
use crate::edge::StandardError;
use crate::frontend::{Context, Frontend, Request};
use crate::mmsi::Mmsi;
use crate::text::printable;
use crate::time::Stamp;
use crate::watch::{Event, EventBody, InputState, InputView, Mode, Watch};

/// How long a test is waited for, as long as a proof waits: some beacons wait so long for a fix.
const LONGEST: Duration = Duration::from_secs(15 * 60);

/// What was heard.
enum Found {
    Test(Mmsi),
    /// Not a test, or not known to be one.
    Active(Mmsi),
    /// Of a rehearsal or a drill.
    Rehearsed,
}

/// The ear that waits for it.
struct Listener<'a> {
    config: &'a Config,
    is_live: bool,
    /// What is to be said of the inputs that give bytes and no sentences.
    garbled: Vec<String>,
    found: Option<Found>,
}

/// The identity of the next beacon outside the muster that is heard as TEST.
pub(super) fn next_test(inputs: &[String], config: &Config) -> Result<Mmsi, Error> {
    let plan = Plan {
        inputs: super::super::watch::inputs(inputs, config)?,
        settings: app::settings(config),
        muster: Vec::new(),
        // What is heard ACTIVE sounds like the emergency it may be.
        sounder: super::super::sound_check::settings(config, io::stderr().is_terminal()),
        hooks: Vec::new(),
        outputs: Vec::new(),
        finds: None,
        keeps_logbook: false,
        folder: None,
        configuration: None,
        record: None,
        watchkeeper: None,
        door: None,
    };
    say(
        "Test the new beacon NOW, as its maker says: test mode only, one burst. Listening for 15 min.",
    );
    let mut listener = Listener { config, is_live: false, garbled: Vec::new(), found: None };
    super::super::block_on(async {
        let listening = app::watch(plan, || None, &mut listener);
        tokio::time::timeout(LONGEST, listening).await.unwrap_or(Ok(()))
    })?;
    match listener.found {
        Some(Found::Test(mmsi)) => {
            say(&format!("beacon {mmsi} was heard as TEST"));
            Ok(mmsi)
        }
        Some(Found::Active(mmsi)) => Err(Error::new(
            format!("beacon {mmsi} was heard ACTIVE, which is no test; nothing was entered"),
            "count heads: it is an emergency until somebody knows better; then switch it off and \
             test it again",
        )),
        Some(Found::Rehearsed) => Err(Error::new(
            "what was heard is a rehearsal, which enrols nothing",
            "end the rehearsal, and test the beacon itself",
        )),
        None if !listener.is_live => Err(Error::nothing_received(&listener.garbled)),
        None => Err(Error::new(
            "no beacon outside the muster was heard as TEST",
            "test it in the open, near the antenna; or give its identity with --mmsi",
        )),
    }
}

impl Frontend for Listener<'_> {
    fn tell(&mut self, event: &Event) -> io::Result<()> {
        match &event.body {
            EventBody::InputState { state: InputState::Live, .. } => self.is_live = true,
            EventBody::InputState { input, text, .. } => {
                say(&format!("input {}: {}", printable(input), printable(text)));
            }
            EventBody::BeaconHeard(report) if self.found.is_none() => {
                let mmsi = report.mmsi;
                let is_known = self.config.beacons.iter().any(|it| it.mmsi == mmsi);
                match report.mode {
                    Mode::Active | Mode::ActivePresumed => self.found = Some(Found::Active(mmsi)),
                    Mode::Test if is_known => {
                        say(&format!("beacon {mmsi} was heard: it is in the muster already"));
                    }
                    Mode::Test => self.found = Some(Found::Test(mmsi)),
                    // Its text has still to come.
                    Mode::TestPresumed | Mode::Off => {}
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn show(&mut self, watch: &Watch, now: Stamp, _: Context<'_>) -> io::Result<()> {
        self.garbled = watch.inputs(now.at).iter().filter_map(InputView::garble).collect();
        if let Some(Found::Test(mmsi)) = self.found {
            let picture = watch.picture(now);
            let mut beacons = picture.beacons.iter().filter(|it| it.mmsi() == Some(mmsi));
            if beacons.any(|it| it.rehearsed.is_some()) {
                self.found = Some(Found::Rehearsed);
            }
        }
        Ok(())
    }

    fn next_frame(&self) -> Option<Duration> {
        None
    }

    async fn request(&mut self) -> Request {
        match self.found {
            Some(_) => Request::Quit,
            None => std::future::pending().await,
        }
    }

    fn ring(&mut self) {
        let _ = StandardError::get().write_all(b"\x07");
    }
}
