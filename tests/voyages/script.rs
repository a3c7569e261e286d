//! What happens in a season at sea, from one seed: a list in the order of time, of which any part
//! can be left out.

use overside::time::Utc;

use crate::air::{self, Made, Said};

/// The crew's beacons. The last joins the muster and leaves it as the season goes on.
pub const MUSTER: [u32; 4] = [972_000_016, 972_000_017, 972_000_018, 970_000_001];
/// Beacons of others.
const STRANGERS: [u32; 8] = [
    972_000_091,
    972_000_092,
    970_000_093,
    974_000_094,
    972_000_095,
    970_000_096,
    974_000_097,
    972_000_098,
];
const SHIPS: [u32; 4] = [200_000_101, 200_000_102, 200_000_103, 200_000_104];
const EMITTERS: [u32; 2] = [0x1A2B3, 0x4C5D6];

pub const SECOND: u64 = 1000;
pub const MINUTE: u64 = 60 * SECOND;
pub const HOUR: u64 = 60 * MINUTE;
pub const DAY: u64 = 24 * HOUR;

/// When every season begins, milliseconds since 1970: 2026-06-14T02:00:00Z.
pub const BEGIN: i64 = 1_781_402_400_000;

/// What a receiver that gave AIS or fixes may be silent for: more than between two heartbeats.
pub const SILENCE_S: u64 = 25 * 3600;
const HEARTBEAT: u64 = DAY;

/// Of a hundred restarts, those with an altered byte in the logbook.
const ALTERED: u8 = 30;

/// Something that happens.
#[derive(Clone, Debug)]
pub struct Happening {
    /// Milliseconds since the season began.
    pub at: u64,
    /// What chance does to it; its own, so that leaving others out changes nothing here.
    pub salt: u64,
    pub what: What,
}

#[derive(Clone, Debug)]
pub enum What {
    /// A sentence reaches an input.
    Said(&'static str, Said),
    /// Somebody goes overboard with this beacon: its first transmission.
    Overboard(u32),
    Hand(Hand),
    Fault(Fault),
}

/// What somebody on board does, going by what was told.
#[derive(Clone, Copy, Debug)]
pub enum Hand {
    /// The worst that nobody took note of.
    Acknowledge,
    Silence,
    /// Says that the worst is over.
    DeclareOver,
    /// Says of all that is open that it is over, one after the other.
    DeclareAllOver,
    /// Of an alert below an emergency.
    DeclareLesserOver,
    Mark,
    PlaceShip,
    /// A key that means nothing else.
    Present,
}

/// What breaks, and what mends.
#[derive(Clone, Copy, Debug)]
pub enum Fault {
    Lost(&'static str),
    Opened(&'static str),
    /// It is open and gives nothing, or gives again.
    Silent(&'static str, bool),
    /// So many of a hundred lines are damaged.
    Noisy(&'static str, u8),
    /// Lines come so many milliseconds late.
    Late(&'static str, u64),
    /// The computer's clock is wrong by so many milliseconds from now on.
    Clock(i64),
    Disk(Disk),
    /// The power fails, and comes back after so many milliseconds; the clock is wrong by so many.
    Kill {
        down: u64,
        clock: i64,
    },
    /// The same, with the next writing.
    KillAtWrite {
        down: u64,
        at: Cut,
    },
    /// A byte of one of the last so many entries is altered while the power is off next.
    Alter(u8),
    /// For so many milliseconds of the next watch another program holds the logbook.
    Held(u64),
    /// The muster is read again, with or without the last beacon.
    Muster(bool),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Disk {
    Works,
    Full,
    ReadOnly,
    /// Each writing takes so many milliseconds.
    Slow(u64),
}

/// Where in a writing the power fails.
#[derive(Clone, Copy, Debug)]
pub enum Cut {
    /// All is told, nothing is written.
    Unwritten,
    /// So many of the entries in hand are written, and that was not said.
    Torn(u8),
    /// Written, before any of it was told.
    Untold,
    /// Written and said.
    Written,
}

/// How dense a season is.
#[derive(Clone, Copy, Debug)]
pub struct Season {
    pub seed: u64,
    pub days: u64,
    /// Scenes a hundred days.
    pub scenes: u64,
}

impl Season {
    /// A season, of which five are a year, with a scene on three days of five.
    pub const fn fifth(seed: u64) -> Self {
        Self { seed, days: 73, scenes: 60 }
    }

    /// A month in which something happens twice a day.
    pub const fn month(seed: u64) -> Self {
        Self { seed, days: 30, scenes: 200 }
    }

    pub fn script(self) -> Vec<Happening> {
        let mut dice = fastrand::Rng::with_seed(self.seed);
        let two_receivers = dice.u8(0..10) < 7;
        let mut pen = Pen { dice, two_receivers, script: Vec::new() };
        for input in ["ais", "gnss", "vhf"] {
            pen.fault(0, Fault::Opened(input));
        }
        if two_receivers {
            pen.fault(0, Fault::Opened("second"));
        }
        for beat in 0..self.days * DAY / HEARTBEAT {
            let at = beat * HEARTBEAT + pen.within(MINUTE);
            pen.transmit(at, &air::ship(200_000_900, 50.2), 0.0);
            pen.fix(at + SECOND);
        }
        for _ in 0..self.days * self.scenes / 100 {
            let at = HOUR + pen.within((self.days - 1) * DAY);
            pen.scene(at);
        }
        pen.script.sort_by_key(|it| it.at);
        pen.script
    }
}

/// Writes the script.
struct Pen {
    dice: fastrand::Rng,
    two_receivers: bool,
    script: Vec<Happening>,
}

impl Pen {
    fn within(&mut self, span: u64) -> u64 {
        self.dice.u64(0..span.max(1))
    }

    fn chance(&mut self, percent: u8) -> bool {
        self.dice.u8(0..100) < percent
    }

    fn any<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.dice.usize(0..of.len())]
    }

    fn put(&mut self, at: u64, what: What) {
        let salt = self.dice.u64(..);
        self.script.push(Happening { at, salt, what });
    }

    fn fault(&mut self, at: u64, fault: Fault) {
        self.put(at, What::Fault(fault));
    }

    fn hand(&mut self, at: u64, hand: Hand) {
        self.put(at, What::Hand(hand));
    }

    fn fix(&mut self, at: u64) {
        let utc = Utc::from_unix_ms(BEGIN + at as i64).unwrap_or(Utc::EPOCH);
        let lat = 50.0 + f64::from(self.dice.u8(..)) / 10_000.0;
        self.put(at, What::Said("gnss", air::fix(utc, lat)));
    }

    /// On the air: each receiver hears it or not, the second a little later.
    fn transmit(&mut self, at: u64, said: &Said, loss: f64) {
        if self.dice.f64() >= loss {
            self.put(at, What::Said("ais", said.clone()));
        }
        if self.two_receivers && self.dice.f64() >= loss {
            let late = self.within(1400);
            self.put(at + late, What::Said("second", said.clone()));
        }
    }

    fn radio(&mut self, at: u64, said: Said) {
        if self.chance(30) {
            // Two radios hear one call.
            let late = self.within(1400);
            self.put(at + late, What::Said("second", said.clone()));
        }
        self.put(at, What::Said("vhf", said));
    }

    /// Eight messages, 2 s apart (M.1371-5 annex 9, section 5).
    fn burst(
        &mut self,
        at: u64,
        mmsi: u32,
        status: u8,
        texts: Option<(&str, [u64; 2])>,
        loss: f64,
    ) {
        let place = (status == 14 || self.chance(50))
            .then(|| (50.01 + f64::from(mmsi % 100) / 2000.0, -5.01));
        for message in 0..8 {
            let moment = at + message * 2 * SECOND;
            let channel = if message % 2 == 0 { 'A' } else { 'B' };
            let said = match texts {
                Some((word, places)) if places.contains(&message) => air::text(mmsi, word, channel),
                _ => air::report(mmsi, status, place, moment, channel),
            };
            self.transmit(moment, &said, loss);
        }
    }

    fn beacon(&mut self) -> u32 {
        if self.chance(60) { self.any(&MUSTER) } else { self.any(&STRANGERS) }
    }

    fn scene(&mut self, at: u64) {
        let end = match self.dice.u8(0..100) {
            0..34 => self.casualty(at),
            34..40 => {
                let first = self.casualty(at);
                let later = at + self.within(10 * MINUTE);
                first.max(self.casualty(later))
            }
            40..50 => self.self_test(at),
            50..58 => self.mark(at),
            58..65 => self.notices(at),
            65..76 => self.calls(at),
            76..84 => self.texts(at),
            84..96 => self.oddities(at),
            96 => self.storm(at),
            _ => at + 10 * MINUTE,
        };
        for _ in 0..self.any(&[0, 0, 1, 1, 2, 3]) {
            let when = at.saturating_sub(MINUTE) + self.within(end - at + 2 * MINUTE);
            self.trouble(when);
        }
        let tidy = end + self.any(&[2, 10, 30, 120]) * MINUTE;
        self.hand(tidy, Hand::DeclareAllOver);
        // Whoever is still on the air is heard to the end, and then that is over, too.
        self.hand(tidy + 90 * MINUTE, Hand::DeclareAllOver);
    }

    /// Somebody in the water with a beacon. When it is over.
    fn casualty(&mut self, at: u64) -> u64 {
        let mmsi = self.beacon();
        self.put(at, What::Overboard(mmsi));
        let minutes = self.any(&[3, 6, 12, 12, 25, 40]);
        let loss = self.any(&[0.0, 0.1, 0.3, 0.5, 0.8, 0.95]);
        let fading = self.chance(30);
        let mut calls = self.chance(40);
        if calls && self.chance(40) {
            let before = at.saturating_sub(self.within(20 * SECOND));
            self.radio(before, air::call(mmsi, Made::Overboard, before / MINUTE));
            calls = self.chance(50);
        }
        if self.chance(15) {
            self.burst(at, mmsi, 15, Some(("TEST", [0, 7])), loss);
        }
        let first = at + 15 * SECOND;
        for minute in 0..minutes {
            let start = first + minute * MINUTE;
            let loss = if fading { loss.max(minute as f64 / minutes as f64) } else { loss };
            let texts = (minute % 4 == 0).then_some(("ACTIVE", [4, 5]));
            match self.dice.u8(0..100) {
                0..4 => self.burst(start, mmsi, 15, Some(("TEST", [0, 7])), loss),
                4..7 => self.burst(start, mmsi, 15, None, loss),
                7..9 => self.burst(start, mmsi, 0, None, loss),
                _ => self.burst(start, mmsi, 14, texts, loss),
            }
            if calls && minute % 5 == 1 {
                self.radio(start + SECOND, air::call(mmsi, Made::Overboard, start / MINUTE));
            }
            if minute < 3 {
                self.fix(start);
                self.fix(start + 25 * SECOND);
            }
        }
        let end = first + minutes * MINUTE;
        match self.dice.u8(0..10) {
            0..4 => self.burst(end, mmsi, 15, Some(("OFF", [0, 7])), loss.min(0.5)),
            4 => self.burst(end, mmsi, 15, Some(("CANCEL", [1, 6])), 0.0),
            5 => {
                let made = self.any(&[Made::Cancel, Made::SelfCancel]);
                self.radio(end, air::call(mmsi, made, end / MINUTE));
            }
            6 => {
                let over = first + self.within(minutes * MINUTE);
                self.hand(over, Hand::DeclareOver);
            }
            // It tests itself on deck, and nobody says that it is over.
            7 => self.burst(end + MINUTE, mmsi, 15, Some(("TEST", [0, 7])), 0.0),
            _ => {}
        }
        if self.chance(10) {
            // Switched on once more, soon after or much later.
            let again = end + self.any(&[MINUTE, 7 * MINUTE, 20 * MINUTE]);
            self.burst(again, mmsi, 14, Some(("ACTIVE", [4, 5])), 0.2);
        }
        self.hands(first, minutes);
        end
    }

    /// What those on board do in the first minutes.
    fn hands(&mut self, first: u64, minutes: u64) {
        for (hand, percent) in [
            (Hand::Silence, 30),
            (Hand::Acknowledge, 80),
            (Hand::Acknowledge, 40),
            (Hand::DeclareLesserOver, 10),
            (Hand::Present, 10),
            (Hand::PlaceShip, 5),
        ] {
            if self.chance(percent) {
                let at = first + self.within(minutes * MINUTE);
                self.hand(at, hand);
            }
        }
    }

    fn self_test(&mut self, at: u64) -> u64 {
        let mmsi = self.beacon();
        let bursts = self.any(&[1, 1, 1, 2, 4]);
        for burst in 0..bursts {
            let texts = if self.chance(80) { Some(("TEST", [0, 7])) } else { None };
            self.burst(at + burst * MINUTE, mmsi, 15, texts, 0.1);
        }
        if self.chance(40) {
            self.radio(at + SECOND, air::call(mmsi, Made::Test, at / MINUTE));
        }
        at + bursts * MINUTE
    }

    fn mark(&mut self, at: u64) -> u64 {
        self.fix(at);
        self.hand(at + 5 * SECOND, Hand::Mark);
        if self.chance(20) {
            self.hand(at + 9 * SECOND, Hand::Mark);
        }
        self.hands(at, 10);
        match self.dice.u8(0..4) {
            0 => self.casualty(at + 2 * MINUTE).max(at + 10 * MINUTE),
            1 => {
                // Only a doubtful message, and then a test.
                let mmsi = self.any(&MUSTER);
                let status = self.any(&[0, 15]);
                self.burst(at + MINUTE, mmsi, status, None, 0.0);
                self.burst(at + 4 * MINUTE, mmsi, 15, Some(("TEST", [0, 7])), 0.0);
                at + 15 * MINUTE
            }
            _ => at + 20 * MINUTE,
        }
    }

    fn notices(&mut self, at: u64) -> u64 {
        let emitter = self.any(&EMITTERS);
        let statuses: &[char] = match self.dice.u8(0..4) {
            0 => &['T'],
            1 => &['A', 'A', 'V'],
            2 => &['T', 'A', 'T', 'E'],
            _ => &['M'],
        };
        for (place, &status) in statuses.iter().enumerate() {
            let moment = at + place as u64 * 20 * SECOND;
            self.put(moment, What::Said("vhf", air::notice(emitter, status, moment / SECOND)));
        }
        self.hands(at, 5);
        at + 10 * MINUTE
    }

    fn calls(&mut self, at: u64) -> u64 {
        let ship = self.any(&SHIPS);
        let mob = self.any(&STRANGERS[..2]);
        let mut moment = at;
        for _ in 0..1 + self.within(4) {
            let (who, made) = self.any(&[
                (ship, Made::Overboard),
                (ship, Made::Fire),
                (ship, Made::Relay),
                (ship, Made::Cancel),
                (ship, Made::SelfCancel),
                (ship, Made::Urgency),
                (ship, Made::Test),
                (ship, Made::Position),
                (mob, Made::Relay),
                (mob, Made::Test),
                (mob, Made::Position),
                (mob, Made::Fire),
            ]);
            self.radio(moment, air::call(who, made, moment / MINUTE));
            moment += self.any(&[3, 30, 120]) * SECOND;
        }
        self.hands(at, 5);
        moment + 5 * MINUTE
    }

    fn texts(&mut self, at: u64) -> u64 {
        for place in 0..1 + self.within(4) {
            let words = self.any(&[
                "MAYDAY MAYDAY",
                "MOB TEST",
                "MOB ACTIVE",
                "SART TEST",
                "MAN OVERBOARD",
                "RCVD YR TEST MSG",
                "GALE WARNING",
            ]);
            let ship = self.any(&SHIPS);
            self.transmit(at + place * 40 * SECOND, &air::strangers_text(ship, words), 0.1);
        }
        at + 5 * MINUTE
    }

    /// What beacons send that says neither ACTIVE nor TEST.
    fn oddities(&mut self, at: u64) -> u64 {
        let mmsi = self.beacon();
        for minute in 0..1 + self.within(4) {
            let moment = at + minute * MINUTE;
            match self.dice.u8(0..6) {
                0 => self.transmit(moment, &air::text(mmsi, "ACTIV3", 'A'), 0.0),
                1 => self.transmit(moment, &air::misused(mmsi), 0.0),
                2 => self.transmit(moment, &air::hexadecimal(974_000_094), 0.0),
                3 => self.burst(moment, mmsi, 0, None, 0.2),
                4 => self.burst(moment, mmsi, 15, Some(("OFF", [0, 7])), 0.2),
                _ => self.burst(moment, mmsi, 15, None, 0.2),
            }
        }
        self.hands(at, 5);
        at + 6 * MINUTE
    }

    /// Far more than anybody can look at, and somebody overboard in it.
    fn storm(&mut self, at: u64) -> u64 {
        let count = self.any(&[200, 200, 200, 1100]);
        let by_radio = self.chance(50);
        for number in 0..count {
            let ship = 201_000_000 + number as u32;
            let moment = at + number * 50;
            if by_radio {
                let said = air::call(ship, Made::Fire, moment / MINUTE);
                self.put(moment, What::Said("vhf", said));
            } else {
                let said = air::strangers_text(ship, "MAYDAY");
                self.put(moment, What::Said("ais", said));
            }
        }
        self.casualty(at + 10 * SECOND)
    }

    /// Something breaks, and mends most often.
    fn trouble(&mut self, at: u64) {
        let input = self.any(&["ais", "ais", "second", "vhf", "gnss"]);
        if input == "second" && !self.two_receivers {
            return;
        }
        let span = self.any(&[10 * SECOND, MINUTE, 5 * MINUTE, HOUR, 2 * DAY]);
        let clock = self.any(&[0, 0, 0, 1500, -90_000, 3_600_000, -30 * 86_400_000, -BEGIN]);
        let down = self.any(&[SECOND, 5 * SECOND, MINUTE, 10 * MINUTE, 5 * HOUR]);
        match self.dice.u8(0..100) {
            0..10 => {
                self.fault(at, Fault::Lost(input));
                self.fault(at + span, Fault::Opened(input));
            }
            10..20 => {
                self.fault(at, Fault::Silent(input, true));
                self.fault(at + span, Fault::Silent(input, false));
            }
            20..30 => {
                let percent = self.any(&[10, 40, 90]);
                self.fault(at, Fault::Noisy(input, percent));
                self.fault(at + span, Fault::Noisy(input, 0));
            }
            30..40 => {
                let late = self.any(&[500, 3_000, 45_000]);
                self.fault(at, Fault::Late(input, late));
                self.fault(at + span, Fault::Late(input, 0));
            }
            40..47 => {
                self.fault(at, Fault::Clock(clock));
                self.fault(at + span, Fault::Clock(0));
            }
            47..60 => {
                let disk =
                    self.any(&[Disk::Full, Disk::ReadOnly, Disk::Slow(500), Disk::Slow(9_000)]);
                self.fault(at, Fault::Disk(disk));
                self.fault(at + span, Fault::Disk(Disk::Works));
            }
            60..76 => {
                if self.chance(ALTERED) {
                    let back = 1 + self.dice.u8(0..12);
                    self.fault(at, Fault::Alter(back));
                }
                if self.chance(15) {
                    let held = self.any(&[2, 20, 600]) * SECOND;
                    self.fault(at, Fault::Held(held));
                }
                self.fault(at, Fault::Kill { down, clock });
                self.fault(at + down + span, Fault::Clock(0));
            }
            76..92 => {
                let some = self.dice.u8(0..4);
                let cut = self.any(&[Cut::Unwritten, Cut::Torn(some), Cut::Untold, Cut::Written]);
                self.fault(at, Fault::KillAtWrite { down, at: cut });
            }
            _ => {
                let with_last = self.chance(50);
                self.fault(at, Fault::Muster(with_last));
            }
        }
    }
}
