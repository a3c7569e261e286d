//! Scenes for the screen: a fictional yacht, her crew by role, and what befalls them.
#![allow(dead_code, reason = "each test uses its part")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

use std::collections::HashMap;
use std::time::Duration;

use overside::advice::Vessel;
use overside::frontend::{
    Enrolled, HelmSign, NewBeacon, OutputView, OutputsView, Parts, ReplayState, Request,
    TestVerdict,
};
use overside::mmsi::Mmsi;
use overside::screen::{Action, Depth, Glyphs, Palette, Screen, Theme};
use overside::time::{Mono, Stamp, Utc};
use overside::voice::Ship;
use overside::watch::{Asking, Command, Input, Part, Picture, Reach, Settings, Watch};

use crate::support::{self, class_b, nmea_position, position, sealed, text, vdm};

pub const SKIPPER: u32 = 972_000_016;
pub const MATE: u32 = 972_000_017;
pub const COOK: u32 = 972_000_018;
pub const STRANGER: u32 = 972_000_091;

/// Where the yacht is when a scene begins, and how she sails.
const START: (f64, f64) = (57.700, 10.583);
const COURSE: f64 = 320.0;
const KNOTS: f64 = 5.5;

/// A watch that is fed second by second, and the screen that looks at it.
pub struct Stage {
    watch: Watch,
    pub screen: Screen,
    second: u64,
    /// Which of the two inputs still speak, and whether the position receiver has a fix.
    pub ais: bool,
    pub gnss: bool,
    /// Whether a compass tells the heading.
    pub compass: bool,
    /// Whether what is heard is marked as a drill.
    pub drill: bool,
    /// How far the computer's clock is behind.
    pub host_behind: Duration,
    /// Whether other ships are about.
    pub ships: bool,
    /// What is drifting, with the second it went over.
    casts: Vec<Cast>,
    /// No frame is drawn of what comes in.
    unseen: bool,
    /// How far a beacon would be heard, whatever the ships tell.
    reach: Option<Reach>,
    /// Whether that is less than usual.
    reach_reduced: bool,
}

/// A beacon that sends: a burst of eight messages a minute, 2 s apart (ITU-R M.1371-5 annex 9,
/// section 5).
#[derive(Clone, Copy)]
struct Cast {
    mmsi: u32,
    status: u8,
    word: Option<&'static str>,
    from: u64,
    until: u64,
    /// Where it floats, and for how many seconds it has its position not yet, then not any more.
    place: (f64, f64),
    no_fix_s: u64,
    fix_until: u64,
}

/// A place some miles from another. Flat: good enough for a mile or two.
fn away(from: (f64, f64), bearing: f64, miles: f64) -> (f64, f64) {
    let (sin, cos) = bearing.to_radians().sin_cos();
    let lon = miles * sin / 60.0 / from.0.to_radians().cos();
    (from.0 + miles * cos / 60.0, from.1 + lon)
}

impl Stage {
    pub fn new() -> Self {
        let named = |mmsi: u32, who: &str| (Mmsi::new(mmsi).unwrap(), Some(who.to_owned()));
        let muster =
            HashMap::from([named(SKIPPER, "Skipper"), named(MATE, "Mate"), named(COOK, "Cook")]);
        Self::with_muster(muster)
    }

    pub fn with_muster(muster: HashMap<Mmsi, Option<String>>) -> Self {
        Self::with_settings(Settings { muster, ..Settings::default() })
    }

    pub fn with_settings(settings: Settings) -> Self {
        let mut watch = Watch::new(Settings { expects_inputs: true, ..settings });
        let start = Self::stamp_at(0);
        for name in ["ais", "gnss"] {
            let input = watch.input(name);
            watch.handle(Input::Opened { stamp: start, input });
        }
        let mut screen = Screen::new(Theme::default());
        screen.parts = Some(parts());
        screen.vessel = vessel();
        Self {
            watch,
            screen,
            second: 0,
            ais: true,
            gnss: true,
            compass: true,
            drill: false,
            host_behind: Duration::ZERO,
            ships: true,
            casts: Vec::new(),
            unseen: false,
            reach: None,
            reach_reduced: false,
        }
    }

    fn stamp_at(second: u64) -> Stamp {
        let start = Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap();
        let span = Duration::from_secs(second);
        Stamp { at: Mono::START + span, utc: start.plus(span) }
    }

    pub fn now(&self) -> Stamp {
        let Stamp { at, utc } = Self::stamp_at(self.second);
        let behind = self.host_behind.as_millis() as i64;
        Stamp { at, utc: Utc::from_unix_ms(utc.unix_ms() - behind).unwrap() }
    }

    fn own(&self) -> (f64, f64) {
        away(START, COURSE, KNOTS * self.second as f64 / 3600.0)
    }

    pub fn picture(&self) -> Picture {
        let picture = self.watch.picture(self.now());
        let reach = self.reach.clone().unwrap_or(picture.reach);
        Picture { reach, reach_reduced: self.reach_reduced, ..picture }
    }

    /// Hands in a line now.
    pub fn line(&mut self, input: &str, line: &str) {
        let input = self.watch.input(input);
        let stamp = self.now();
        let marked = format!("{}{line}", support::tag("t:DRILL"));
        let line = if self.drill { &marked } else { line };
        self.watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
        self.listen();
    }

    fn listen(&mut self) {
        while let Some(event) = self.watch.poll_output() {
            self.screen.tell(&event);
        }
        // A frame is drawn after every input, unless a test is about what comes in between.
        if !self.unseen {
            self.screen.turn_to_new_alarm();
            self.screen.look(&self.watch.picture(self.now()));
        }
    }

    /// Somebody goes over the side, with a position from the first message on, and so many seconds
    /// pass in which no frame is drawn.
    pub fn overboard_unseen(&mut self, mmsi: u32, seconds: u64) {
        self.unseen = true;
        self.overboard(mmsi, 0);
        self.pass(seconds);
    }

    /// Nothing on board sounds any more.
    pub fn every_sounder_fails(&mut self) {
        let (stamp, part) = (self.now(), Part::EverySounder);
        self.watch.handle(Input::Fault { stamp, part, fault: Some("no such device") });
        self.listen();
    }

    pub fn command(&mut self, command: Command) {
        let stamp = self.now();
        self.watch.handle(Input::Command { stamp, command });
        self.listen();
    }

    /// Presses a key; what it asks of the watch is done.
    pub fn press(&mut self, action: Action) -> Option<Request> {
        let request = self.screen.act(action, &self.picture());
        if let Some(Request::Command(command)) = request {
            self.command(command);
        }
        request
    }

    /// Types into the fields of a form, one after the other. What it asks for.
    pub fn fill_in(&mut self, texts: &[&str]) -> Option<Request> {
        let mut request = None;
        for text in texts {
            for c in text.chars() {
                self.press(Action::Typed(c));
            }
            request = self.press(Action::Enter);
        }
        request
    }

    /// What has become of a beacon that was to be entered in the muster.
    pub fn seen(&mut self, new: NewBeacon, seen: Enrolled) {
        let parts = Parts { enrolled: Some((new, seen)), ..parts() };
        self.screen.set_parts(Some(&parts));
    }

    /// Somebody goes over the side now, with a beacon that begins 10 s later and finds its position
    /// in so many seconds.
    pub fn overboard(&mut self, mmsi: u32, no_fix_s: u64) {
        let from = self.second + 10;
        self.casts.push(Cast {
            mmsi,
            status: 14,
            word: Some("MOB ACTIVE"),
            from,
            until: u64::MAX,
            place: self.own(),
            no_fix_s,
            fix_until: u64::MAX,
        });
    }

    /// Somebody sends in a beacon's name from now on, from a place so many minutes north of the ship.
    pub fn forge(&mut self, mmsi: u32, minutes_north: f64) {
        self.overboard(mmsi, 0);
        if let Some(cast) = self.casts.last_mut() {
            cast.place.0 += minutes_north / 60.0;
        }
    }

    /// A beacon that sends status 15 from now on, with a text or without, and never a position.
    pub fn tested(&mut self, mmsi: u32, word: Option<&'static str>, status: u8) {
        let (from, place) = (self.second + 1, self.own());
        let (no_fix_s, fix_until) = (u64::MAX, u64::MAX);
        let until = u64::MAX;
        self.casts.push(Cast { mmsi, status, word, from, until, place, no_fix_s, fix_until });
    }

    /// The beacon that went over last sends nothing more from now on.
    pub fn drowned(&mut self) {
        self.casts.last_mut().unwrap().until = self.second;
    }

    /// The beacon that went over last repeats its last position from now on.
    pub fn fix_lost(&mut self) {
        self.casts.last_mut().unwrap().fix_until = self.second;
    }

    /// Time passes: the instruments speak every 5 s, the ships every 30 s, beacons as they do.
    pub fn pass(&mut self, seconds: u64) {
        for _ in 0..seconds {
            self.second += 1;
            let stamp = self.now();
            self.watch.handle(Input::Tick { stamp });
            self.listen();
            self.instruments();
            if self.ais {
                self.traffic();
                for cast in self.casts.clone() {
                    self.transmit(cast);
                }
            }
        }
    }

    fn instruments(&mut self) {
        if self.gnss && self.second.is_multiple_of(5) {
            let (lat, lon) = self.own();
            let place = nmea_position(lat, lon);
            let (minutes, seconds) = (self.second / 60, self.second % 60);
            let time = format!("02{minutes:02}{seconds:02}.00");
            let rmc = format!("GPRMC,{time},A,{place},{KNOTS:.1},{COURSE:.1},140626,,,A");
            self.line("gnss", &sealed(&rmc));
            if self.compass {
                self.line("gnss", &sealed("HEHDT,318.0,T"));
            }
        }
    }

    fn traffic(&mut self) {
        let about =
            [(211_000_001, 20.0, 2.1), (265_000_002, 135.0, 3.4), (219_000_003, 260.0, 5.9)];
        for (place, (mmsi, bearing, miles)) in (0..).zip(about) {
            if self.ships && self.second % 30 == 10 + place * 2 {
                let (lat, lon) = away(START, bearing, miles);
                // Stations send on the two channels in turn.
                let channel = if (self.second / 30 + place).is_multiple_of(2) { 'A' } else { 'B' };
                self.line("ais", &vdm(&class_b(mmsi, lat, lon), channel));
            }
        }
    }

    fn transmit(&mut self, cast: Cast) {
        let Some(since) = self.second.checked_sub(cast.from) else { return };
        let (minute, second) = (since / 60, since % 60);
        if self.second >= cast.until || second >= 16 || second % 2 == 1 {
            return;
        }
        let message = second / 2;
        let channel = if message % 2 == 0 { 'A' } else { 'B' };
        // Now and then one is lost on the way.
        if (minute * 8 + message) % 11 == 6 {
            return;
        }
        let drift = 0.8 * since as f64 / 3600.0;
        let place = (since >= cast.no_fix_s).then(|| away(cast.place, 77.0, drift));
        let fresh = self.second < cast.fix_until;
        let utc_second = if fresh { (self.second % 60) as u8 } else { 63 };
        let utc_second = if place.is_some() { utc_second } else { 60 };
        let said = match cast.word {
            // The fifth and sixth message of the first and the fifth burst are texts.
            Some(word) if minute % 4 == 0 && (message == 4 || message == 5) => {
                text(cast.mmsi, word)
            }
            _ => position(cast.mmsi, cast.status, place, utc_second),
        };
        self.line("ais", &vdm(&said, channel));
    }
}

/// Something to look at: its name and how it comes about.
pub struct Scene {
    pub name: &'static str,
    pub stage: fn() -> Stage,
}

/// Twelve minutes of a good watch.
fn sailing() -> Stage {
    let mut stage = Stage::new();
    stage.pass(12 * 60);
    stage
}

/// Displays are told what is heard, and one is too slow for it.
fn outputs() -> Stage {
    let mut stage = sailing();
    let parts = parts();
    stage.screen.parts = Some(Parts { outputs: said_to_others(), ..parts });
    stage.press(Action::Outputs);
    stage
}

/// What other equipment is told.
pub fn said_to_others() -> OutputsView {
    let output = |name: &str, uri: &str, what: &str| OutputView {
        name: name.to_owned(),
        uri: uri.to_owned(),
        what: what.to_owned(),
        fault: None,
        since: Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap(),
        sent: 184_211,
        dropped: 0,
        connected: None,
    };
    let plotters = output("plotters", "tcp-listen://0.0.0.0:10111", "heard, casualty, alerts");
    let old = output("old plotter", "serial:/dev/ttyUSB1?baud=4800", "heard, casualty");
    let fault = "too slow or away: 412 messages were not sent to it; casualties go first";
    let each = vec![
        OutputView { connected: Some(2), ..plotters },
        OutputView { fault: Some(fault.to_owned()), sent: 18_211, dropped: 412, ..old },
        output("server", "udp://127.0.0.1:3000", "signalk"),
    ];
    OutputsView { each, withheld: 3, returned: 12 }
}

/// It is known how far a beacon would be heard.
fn reach() -> Stage {
    let mut stage = sailing();
    stage.reach = serde_json::from_value(serde_json::json!({
        "range80_nm": 2.13, "low_nm": 1.42, "high_nm": 3.04, "stations": 37, "expected": 1204,
        "received": 912, "minutes": 60,
    }))
    .ok();
    assert!(stage.reach.is_some());
    stage
}

/// It is known, and less than usual.
fn reach_reduced() -> Stage {
    Stage { reach_reduced: true, ..reach() }
}

/// The Mate went over some minutes ago.
fn overboard(seconds: u64) -> Stage {
    let mut stage = sailing();
    stage.overboard(MATE, 40);
    stage.pass(seconds);
    stage
}

fn casualty() -> Stage {
    overboard(264)
}

fn acknowledged() -> Stage {
    let mut stage = casualty();
    stage.press(Action::Acknowledge);
    stage
}

/// Every state that a person may have to tell from every other.
pub const SCENES: &[Scene] = &[
    Scene { name: "quiet", stage: sailing },
    Scene { name: "reach", stage: reach },
    Scene { name: "reach_reduced", stage: reach_reduced },
    Scene { name: "outputs", stage: outputs },
    Scene { name: "first_minute", stage: Stage::new },
    Scene { name: "deaf", stage: deaf },
    Scene { name: "wrong_rate", stage: || wrong_rate(20) },
    Scene { name: "wrong_rate_deaf", stage: || wrong_rate(90) },
    Scene { name: "one_input_silent", stage: one_input_silent },
    Scene { name: "test", stage: || tested(Some("MOB TEST"), 11) },
    Scene { name: "unlisted", stage: unlisted },
    Scene { name: "enrolling", stage: enrolling },
    Scene { name: "enrol_asked", stage: enrol_asked },
    Scene { name: "test_presumed", stage: || tested(None, 6) },
    Scene { name: "test_too_long", stage: || tested(None, 140) },
    Scene { name: "test_written", stage: || judged(WRITTEN) },
    Scene { name: "test_not_complete", stage: || judged(NOT_COMPLETE) },
    Scene { name: "presumed_active", stage: presumed_active },
    Scene { name: "no_fix", stage: || overboard(34) },
    Scene { name: "casualty", stage: casualty },
    Scene { name: "acknowledged", stage: acknowledged },
    Scene { name: "silenced", stage: silenced },
    Scene { name: "three", stage: three },
    Scene { name: "two_places", stage: two_places },
    Scene { name: "stale", stage: stale },
    Scene { name: "silent", stage: silent },
    Scene { name: "own_lost", stage: own_lost },
    Scene { name: "own_unknown", stage: own_unknown },
    Scene { name: "over", stage: over },
    Scene { name: "over_asked", stage: over_asked },
    Scene { name: "distress", stage: distress },
    Scene { name: "replay_held", stage: replay_held },
    Scene { name: "history", stage: history },
    Scene { name: "help", stage: help },
    Scene { name: "help_at_helm", stage: help_at_helm },
    Scene { name: "quitting", stage: quitting },
    Scene { name: "drill", stage: drill },
    Scene { name: "drill_known", stage: drill_known },
    Scene { name: "asked", stage: asked },
    Scene { name: "clock_behind", stage: clock_behind },
    Scene { name: "close", stage: close },
    Scene { name: "searched", stage: searched },
    Scene { name: "marked", stage: marked },
    Scene { name: "joined", stage: joined },
    Scene { name: "who", stage: who },
    Scene { name: "placing", stage: placing },
    Scene { name: "muted", stage: muted },
    Scene { name: "mute_asked", stage: mute_asked },
    Scene { name: "say_mayday", stage: || said(acknowledged()) },
    Scene { name: "say_relay", stage: || said(distress()) },
    Scene { name: "say_stale", stage: || said(stale()) },
    Scene { name: "say_cancel", stage: say_cancel },
    Scene { name: "say_crew", stage: say_crew },
    Scene { name: "say_drill", stage: || said(drill()) },
    Scene { name: "say_unknown", stage: say_unknown },
];

pub fn stage(name: &str) -> Stage {
    let scene = SCENES.iter().find(|scene| scene.name == name);
    (scene.unwrap_or_else(|| panic!("no scene {name}")).stage)()
}

/// The fictional yacht as her configuration describes her.
pub fn vessel() -> Vessel {
    let fitted = |mmsi: u32| (Mmsi::new(mmsi).unwrap(), true);
    Vessel {
        ship: Ship {
            name: Some("Example".to_owned()),
            call_sign: Some("XX1234".to_owned()),
            mmsi: Mmsi::new(200_000_000),
            persons_aboard: Some(4),
        },
        beacons: [SKIPPER, MATE, COOK].map(fitted).into(),
        ..Vessel::default()
    }
}

/// The AIS receiver speaks at 4800 bits a second and is read at 38400.
fn wrong_rate(seconds: u64) -> Stage {
    let mut stage = Stage::new();
    stage.ais = false;
    let input = stage.watch.input("ais");
    stage.watch.set_bit_rate(input, 38_400);
    for _ in 0..seconds {
        stage.pass(1);
        let stamp = stage.now();
        let bytes =
            &[0x00, 0x80, 0xF0, 0xE0, 0x00, 0xFE, 0x80, 0x80, 0xC0, 0x00, 0xFF, 0xF8].repeat(2);
        stage.watch.handle(Input::Unended { stamp, input, bytes });
        stage.listen();
    }
    stage
}

fn said(mut stage: Stage) -> Stage {
    stage.press(Action::Voice);
    stage
}

/// The ship's own radio sent an alert for nothing.
fn say_cancel() -> Stage {
    let mut stage = sailing();
    stage.line("gnss", &sealed("CDDSC,12,2000000000,12,10,00,0574201035,0211,,,S,"));
    stage.pass(20);
    stage.press(Action::Acknowledge);
    stage.press(Action::Resolve);
    stage.press(Action::Confirm);
    said(stage)
}

/// The checklist, with figures of survival.
fn say_crew() -> Stage {
    let mut stage = acknowledged();
    stage.screen.vessel.survival_figures = true;
    stage.line("gnss", &sealed("IIMTW,11.5,C"));
    stage.press(Action::Voice);
    for _ in 0..3 {
        stage.press(Action::NextCasualty);
    }
    stage
}

/// Nothing is known of the ship, nor where she is.
fn say_unknown() -> Stage {
    let mut stage = own_unknown();
    stage.screen.vessel.ship = Ship::default();
    said(stage)
}

fn parts() -> Parts {
    Parts {
        sound: "aplay".to_owned(),
        keeps_logbook: true,
        logbook: "entry 112 at 02:00:00Z".to_owned(),
        recording: "on".to_owned(),
        muster_file: Some("overside.toml".to_owned()),
        ..Parts::default()
    }
}

/// What a watch says of a test that somebody wanted to be written down, and whether it is.
const WRITTEN: (&str, &str) = (
    "7 of 8 messages: not complete: position default: no fix; repeat in the open",
    "written down as entry 113",
);
const NOT_COMPLETE: (&str, &str) = (
    "7 of 8 messages: not complete: position default: no fix; repeat in the open; the ship's identity \
     in a DSC test call is 201000000: not the one that should be programmed in; not listened all the \
     time: an input was lost; what did not come may have been sent: repeat the test",
    "being written into the logbook",
);

/// A test that was judged, and another one just before it.
fn judged((verdict, record): (&str, &str)) -> Stage {
    let mut stage = sailing();
    stage.tested(MATE, Some("MOB TEST"), 15);
    stage.pass(16);
    stage.drowned();
    stage.tested(SKIPPER, Some("MOB TEST"), 15);
    stage.pass(20);
    let mmsi = Mmsi::new(SKIPPER).unwrap();
    let (verdict, record) = (verdict.to_owned(), record.to_owned());
    let verdict = TestVerdict { mmsi, judged: Some(stage.now().at), verdict, record };
    stage.screen.parts.as_mut().unwrap().verdicts.push(verdict);
    stage
}

/// The ship lies beside the Mate, whose beacon goes on.
fn close() -> Stage {
    let mut stage = sailing();
    stage.overboard(MATE, 0);
    stage.pass(28);
    stage.press(Action::Acknowledge);
    stage
}

/// The Mate's beacon is not heard any more; wind and drift are known.
fn searched() -> Stage {
    let mut stage = acknowledged();
    stage.line("gnss", &sealed("WIMWV,290.0,R,18.0,N,A"));
    stage.drowned();
    stage.pass(6 * 60);
    stage.press(Action::Acknowledge);
    stage
}

/// Somebody set the point by hand, a minute ago.
fn marked() -> Stage {
    let mut stage = sailing();
    stage.press(Action::MarkOverboard);
    stage.pass(60);
    stage
}

/// A point set by hand, and half a minute later the Mate's beacon, which is taken for it.
fn joined() -> Stage {
    let mut stage = sailing();
    stage.press(Action::MarkOverboard);
    stage.pass(30);
    stage.overboard(MATE, 0);
    stage.pass(40);
    stage.press(Action::Acknowledge);
    stage
}

fn who() -> Stage {
    let mut stage = acknowledged();
    stage.press(Action::Who);
    stage
}

/// A position is entered by hand, and cannot be read.
fn placing() -> Stage {
    let mut stage = Stage::new();
    stage.gnss = false;
    stage.pass(70);
    stage.press(Action::PlaceShip);
    for c in "57,42 10,35".chars() {
        stage.press(Action::Typed(c));
    }
    stage.press(Action::Enter);
    stage
}

/// Nobody has answered for three quarters of a minute.
fn asked() -> Stage {
    let every = Duration::from_secs(600);
    let asking = Some(Asking { every, answer_within: Duration::from_secs(60) });
    let mut stage = Stage::with_settings(Settings { asking, ..Settings::default() });
    stage.pass(645);
    stage
}

/// The same as a casualty, in a drill.
fn drill() -> Stage {
    let mut stage = sailing();
    stage.drill = true;
    stage.overboard(MATE, 40);
    stage.pass(264);
    stage
}

/// The same, when somebody has acknowledged it: then it says what it is.
fn drill_known() -> Stage {
    let mut stage = drill();
    stage.press(Action::Acknowledge);
    stage
}

/// The computer has lost the time.
fn clock_behind() -> Stage {
    let mut stage = Stage::new();
    stage.host_behind = Duration::from_secs(3 * 3600);
    stage.pass(300);
    stage
}

fn deaf() -> Stage {
    let mut stage = sailing();
    stage.ais = false;
    stage.pass(150);
    stage
}

/// A second receiver, which has fallen silent; the first goes on.
fn one_input_silent() -> Stage {
    let mut stage = Stage::new();
    stage.pass(300);
    stage.line("masthead", &vdm(&class_b(211_000_001, 57.71, 10.6), 'A'));
    stage.pass(200);
    stage
}

fn tested(word: Option<&'static str>, seconds: u64) -> Stage {
    let mut stage = sailing();
    stage.tested(SKIPPER, word, 15);
    stage.pass(seconds);
    stage
}

/// A beacon that is on no list is tested.
fn unlisted() -> Stage {
    let mut stage = sailing();
    stage.tested(STRANGER, Some("MOB TEST"), 15);
    stage.pass(11);
    stage
}

/// It is being entered in the muster: the battery's date could not be read.
fn enrolling() -> Stage {
    let mut stage = unlisted();
    stage.press(Action::Enrol);
    let Some(Request::Enrol(new)) = stage.fill_in(&["Guest", "jacket 4", "May 2029"]) else {
        panic!("a form that is filled asks for nothing")
    };
    let why = "not understood: write 2029-05, 05/2029 or 2029-05-14".to_owned();
    stage.seen(new, Enrolled::Refused(2, why));
    stage
}

/// What is to be added to the configuration file is shown.
fn enrol_asked() -> Stage {
    let mut stage = unlisted();
    stage.press(Action::Enrol);
    let Some(Request::Enrol(new)) = stage.fill_in(&["Guest", "jacket 4", "05/2029"]) else {
        panic!("a form that is filled asks for nothing")
    };
    let lines = [
        "[[person]]",
        "name = \"Guest\"",
        "[[lifejacket]]",
        "name = \"jacket 4\"",
        "[[beacon]]",
        "mmsi = 972000091",
        "holder = \"Guest\"",
        "fitted_to = \"jacket 4\"",
        "battery_expires = \"2029-05\"",
        "battery to the end of May 2029",
    ];
    stage.seen(new, Enrolled::Proposed(lines.map(str::to_owned).to_vec()));
    stage
}

fn presumed_active() -> Stage {
    let mut stage = sailing();
    stage.tested(STRANGER, None, 0);
    stage.pass(30);
    stage
}

fn silenced() -> Stage {
    let mut stage = casualty();
    stage.press(Action::Silence);
    stage.pass(4);
    stage
}

fn three() -> Stage {
    let mut stage = sailing();
    stage.overboard(MATE, 40);
    stage.pass(70);
    stage.press(Action::Acknowledge);
    stage.overboard(STRANGER, 30);
    stage.pass(45);
    stage.overboard(COOK, 35);
    stage.pass(100);
    stage
}

/// Somebody sends in the Mate's name, miles from him.
fn two_places() -> Stage {
    let mut stage = acknowledged();
    stage.forge(MATE, 3.0);
    stage.pass(66);
    stage
}

fn stale() -> Stage {
    let mut stage = overboard(150);
    stage.press(Action::Acknowledge);
    stage.fix_lost();
    stage.pass(225);
    stage
}

fn silent() -> Stage {
    let mut stage = overboard(150);
    stage.press(Action::Acknowledge);
    stage.drowned();
    stage.pass(400);
    stage
}

/// The position receiver fails while somebody is in the water.
fn own_lost() -> Stage {
    let mut stage = acknowledged();
    stage.gnss = false;
    stage.pass(95);
    stage
}

/// There was never a position receiver.
fn own_unknown() -> Stage {
    let mut stage = Stage::new();
    stage.gnss = false;
    stage.pass(30);
    stage.overboard(MATE, 40);
    stage.pass(130);
    stage
}

/// A stranger's beacon for which nobody is in the water, and a receiver that hears ghosts.
fn muted() -> Stage {
    let mut stage = mute_asked();
    stage.press(Action::Confirm);
    for number in 0..3 {
        stage.line("masthead", &vdm(&position(STRANGER + 1 + number, 14, None, 60), 'A'));
    }
    stage.press(Action::Mute);
    stage.press(Action::Mute);
    stage.press(Action::Confirm);
    stage.pass(60);
    stage
}

fn mute_asked() -> Stage {
    let mut stage = sailing();
    stage.overboard(STRANGER, 0);
    stage.pass(30);
    stage.press(Action::Mute);
    stage
}

fn over_asked() -> Stage {
    let mut stage = acknowledged();
    stage.press(Action::Resolve);
    stage
}

/// The beacon was switched off before anybody took note.
fn over() -> Stage {
    let mut stage = casualty();
    stage.drowned();
    stage.line("ais", &vdm(&text(MATE, "MOB OFF"), 'A'));
    stage.pass(6);
    stage
}

fn distress() -> Stage {
    let mut stage = sailing();
    // Format distress, nature sinking; 57 40 N 010 31 E at 02:11.
    stage.line("gnss", &sealed("CDDSC,12,2190000030,12,05,00,0574001031,0211,,,S,"));
    stage.pass(20);
    stage
}

fn replay_held() -> Stage {
    let mut stage = acknowledged();
    let marks = vec![Stage::stamp_at(310).utc, Stage::stamp_at(730).utc];
    stage.screen.parts = None;
    stage.screen.replay = Some(ReplayState {
        speed: Some(10.0),
        paused: true,
        ended: false,
        span: Some((Stage::stamp_at(0).utc, Stage::stamp_at(1800).utc)),
        marks,
        verdicts: Vec::new(),
    });
    stage
}

/// Several alerts, and the details of one of them.
fn history() -> Stage {
    let mut stage = three();
    stage.press(Action::History);
    stage.press(Action::Down);
    stage.press(Action::Details);
    stage
}

fn help() -> Stage {
    let mut stage = sailing();
    stage.press(Action::Help);
    stage
}

fn help_at_helm() -> Stage {
    let mut stage = help();
    stage.screen.helm = Some(HelmSign {
        address: "http://192.168.1.5:8010".to_owned(),
        code: "004217".to_owned(),
        phones: 2,
        fault: None,
    });
    stage
}

fn quitting() -> Stage {
    let mut stage = casualty();
    stage.press(Action::Quit);
    stage
}

/// All palettes with the glyphs they are mostly used with.
pub const THEMES: [Theme; 4] = [
    Theme { palette: Palette::Dusk, glyphs: Glyphs::Unicode, depth: Depth::True },
    Theme { palette: Palette::Day, glyphs: Glyphs::Unicode, depth: Depth::True },
    Theme { palette: Palette::Night, glyphs: Glyphs::Unicode, depth: Depth::True },
    Theme { palette: Palette::Mono, glyphs: Glyphs::Ascii, depth: Depth::True },
];
