//! A sea in which it is known what is sent, how it fades, and so how far a beacon is heard.

use std::time::Duration;

use fastrand::Rng;
use overside::mmsi::Mmsi;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{Event, Input, PastHour, Reach, Relayed, Settings, Watch};
use overside::wire::InputId;
use overside::wire::ais::{Body, ClassBReport, Message, PositionReport};

use crate::support::{class_b, nmea_position, position, sealed, vdm};

/// Own boat lies here.
const LAT: f64 = 54.0;
const LON: f64 = 7.0;

/// What the estimator is not told.
pub struct Sea {
    pub rng: Rng,
    ships: Vec<Ship>,
    /// Decibels to spare that 0 dBm at 1 m would have a mile off.
    receiver_db: f64,
    /// What has happened to the antenna since, in dB.
    pub lost_db: f64,
    exponent: f64,
    bend_db_per_nm: f64,
    horizon_nm: f64,
    height_factor: f64,
    fading_db: f64,
    shadow_db: f64,
    pub collisions: f64,
    /// In these directions from north a mast takes so many decibels.
    pub mast: Option<(std::ops::Range<f64>, f64)>,
    /// What a second receiver hears less, in dB.
    pub second_lost_db: f64,
    /// How the receiver tells the signal of what it hears, if it does.
    pub scale: Option<Scale>,
    /// What is just heard, in dBm.
    sensitivity_dbm: f64,
    /// How far north of its first place the boat is.
    own_north: f64,
}

/// How a receiver tells signals: at -107 dBm it says so much more, and for each decibel so many.
#[derive(Clone, Copy)]
pub struct Scale {
    pub off_db: f64,
    pub per_db: f64,
}

/// What came in and when.
struct Came {
    at_s: f64,
    message: String,
    /// The signal, as the receiver tells it.
    vsi: Option<String>,
    /// Whether the second receiver hears it, too.
    twice: bool,
}

struct Ship {
    mmsi: Mmsi,
    class_a: bool,
    carrier_sense: bool,
    /// Where it is, in miles east and north of the boat, and how it moves.
    east: f64,
    north: f64,
    course: f64,
    speed: f64,
    anchored: bool,
    power_dbm: f64,
    height_m: f64,
    /// Land, rigging and weather, which change slowly.
    shadow_db: f64,
    shadow_sd_db: f64,
    next_s: f64,
    on_a: bool,
}

/// About the normal distribution: twelve dice.
fn normal(rng: &mut Rng) -> f64 {
    (0..12).map(|_| rng.f64()).sum::<f64>() - 6.0
}

fn between(rng: &mut Rng, from: f64, to: f64) -> f64 {
    from + (to - from) * rng.f64()
}

impl Sea {
    /// One of many, with so many ships out to 40 miles.
    pub fn new(seed: u64, ships: usize) -> Self {
        let mut rng = Rng::with_seed(seed);
        let own_height = between(&mut rng, 3.0, 18.0);
        let cable = between(&mut rng, 0.0, 5.0);
        let sensitivity = -108.0 + 2.0 * normal(&mut rng);
        let exponent = between(&mut rng, 3.6, 4.3);
        // Two rays, to five miles; the law leaves them from there on either side.
        let one_mile = 40.0 * 1852_f64.log10();
        let pivot = (40.0 - 10.0 * exponent) * 5_f64.log10();
        let receiver_db = 20.0 * own_height.log10() - cable - sensitivity - one_mile - pivot;
        let (ship_height, boat_height) =
            (between(&mut rng, 14.0, 28.0), between(&mut rng, 5.0, 12.0));
        let shadow_db = between(&mut rng, 3.0, 6.0);
        let mut sea = Self {
            receiver_db,
            lost_db: 0.0,
            exponent,
            bend_db_per_nm: between(&mut rng, 0.3, 0.9),
            horizon_nm: between(&mut rng, 16.0, 30.0),
            height_factor: between(&mut rng, 18.5, 21.0),
            fading_db: between(&mut rng, 2.0, 6.0),
            shadow_db,
            collisions: between(&mut rng, 0.0, 0.1),
            mast: None,
            second_lost_db: 0.0,
            scale: None,
            sensitivity_dbm: sensitivity,
            own_north: 0.0,
            ships: Vec::new(),
            rng,
        };
        for number in 0..ships {
            let ship = sea.ship(number, ship_height, boat_height);
            sea.ships.push(ship);
        }
        sea
    }

    /// The same receiver on another day: other ships and other weather.
    pub fn on_another_day(&mut self, seed: u64, ships: usize) {
        self.rng = Rng::with_seed(seed);
        self.fading_db = between(&mut self.rng, 2.0, 6.0);
        self.bend_db_per_nm = between(&mut self.rng, 0.3, 0.9);
        self.horizon_nm = between(&mut self.rng, 16.0, 30.0);
        self.collisions = between(&mut self.rng, 0.0, 0.1);
        self.ships = (0..ships).map(|number| self.ship(number, 20.0, 8.0)).collect();
    }

    /// All ships lie within a mile.
    pub fn gather(&mut self) {
        for ship in &mut self.ships {
            (ship.east, ship.north, ship.speed, ship.anchored) = (0.5, 0.3, 0.0, true);
        }
    }

    /// The same with its ships all within a mile, and loud.
    pub fn near(seed: u64, ships: usize) -> Self {
        let mut sea = Self::new(seed, ships);
        sea.collisions = 0.0;
        for ship in &mut sea.ships {
            (ship.east, ship.north, ship.speed, ship.anchored) = (0.5, 0.3, 0.0, false);
            (ship.class_a, ship.power_dbm, ship.height_m) = (true, 41.0, 20.0);
        }
        sea
    }

    fn ship(&mut self, number: usize, ship_height: f64, boat_height: f64) -> Ship {
        let rng = &mut self.rng;
        let class_a = rng.f64() < 0.6;
        let carrier_sense = rng.f64() < 0.7;
        let range = 10_f64.powf(between(rng, 0.5_f64.log10(), 40_f64.log10()));
        let bearing = between(rng, 0.0, std::f64::consts::TAU);
        let (height, power) = match (class_a, carrier_sense) {
            (true, _) => (ship_height, 41.0),
            (false, false) => (boat_height, 37.0),
            (false, true) => (boat_height, 33.0),
        };
        let anchored = rng.f64() < 0.1;
        let speed =
            if anchored { 0.1 } else { between(rng, 3.0, if class_a { 20.0 } else { 9.0 }) };
        // One in ten is behind land.
        let behind = if rng.f64() < 0.1 { between(rng, 10.0, 30.0) } else { 0.0 };
        let power_dbm = power - 1.0 + 2.0 * normal(rng) - behind;
        Ship {
            mmsi: Mmsi::new(211_000_000 + number as u32).unwrap(),
            class_a,
            carrier_sense,
            east: range * bearing.sin(),
            north: range * bearing.cos(),
            course: between(rng, 0.0, std::f64::consts::TAU),
            speed,
            anchored,
            power_dbm,
            height_m: height * 1.35_f64.powf(normal(rng)),
            shadow_db: self.shadow_db * normal(rng),
            shadow_sd_db: self.shadow_db,
            next_s: between(rng, 0.0, 30.0),
            on_a: rng.bool(),
        }
    }

    /// What there is to spare, fading apart.
    fn spare_db(&self, power_dbm: f64, height_m: f64, range_nm: f64) -> f64 {
        let bend = self.bend_db_per_nm * (range_nm - self.horizon_nm).max(0.0);
        power_dbm + self.height_factor * height_m.log10() + self.receiver_db
            - self.lost_db
            - 10.0 * self.exponent * range_nm.max(0.02).log10()
            - bend
    }

    /// Where eight in ten of a beacon's messages come, of those that nobody speaks over.
    pub fn beacon_range80_nm(&self) -> f64 {
        let needed = 0.8416 * self.fading_db;
        let (mut near, mut far) = (0.001_f64, 100.0);
        for _ in 0..60 {
            let middle = (near * far).sqrt();
            if self.spare_db(30.0, 0.2, middle) > needed { near = middle } else { far = middle }
        }
        near
    }

    /// What a message of this ship has to spare, if it is heard.
    fn heard(&mut self, ship: usize) -> Option<f64> {
        let it = &self.ships[ship];
        let north = it.north - self.own_north;
        let bearing = it.east.atan2(north).to_degrees().rem_euclid(360.0);
        let mast = self.mast.as_ref().filter(|(behind, _)| behind.contains(&bearing));
        let spare = self.spare_db(it.power_dbm, it.height_m, it.east.hypot(north));
        let spare = spare - mast.map_or(0.0, |(_, takes)| *takes);
        let spare = spare + it.shadow_db + self.fading_db * normal(&mut self.rng);
        (spare > 0.0 && self.rng.f64() >= self.collisions).then_some(spare)
    }

    fn came(&self, at_s: f64, ship: usize, spare_db: f64) -> Came {
        let vsi = self.scale.map(|scale| {
            let signal = self.sensitivity_dbm + spare_db;
            let told = (signal + 107.0) * scale.per_db - 107.0 + scale.off_db;
            sealed(&format!("ABVSI,r1,,120000,7,{told:.0},"))
        });
        let twice = spare_db > self.second_lost_db;
        Came { at_s, message: self.ships[ship].sentence(), vsi, twice }
    }

    /// The sentences that come in between two moments, and when.
    fn between(&mut self, from_s: f64, to_s: f64) -> Vec<Came> {
        let mut heard = Vec::new();
        for ship in 0..self.ships.len() {
            while self.ships[ship].next_s < to_s {
                let at = self.ships[ship].next_s.max(from_s);
                if let Some(spare_db) = self.heard(ship) {
                    heard.push(self.came(at, ship, spare_db));
                }
                let jitter = between(&mut self.rng, 0.9, 1.1);
                let shadow = normal(&mut self.rng);
                self.ships[ship].go_on(jitter, shadow);
            }
        }
        heard.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        heard
    }
}

impl Ship {
    /// M.1371-5 tables 1 and 2.
    fn interval_s(&self) -> f64 {
        match (self.class_a, self.anchored) {
            (_, true) => 180.0,
            (true, _) if self.speed > 14.0 => 6.0,
            (true, _) => 10.0,
            (false, _) => 30.0,
        }
    }

    fn go_on(&mut self, jitter: f64, shadow: f64) {
        let interval = self.interval_s();
        let way = self.speed * interval / 3600.0;
        self.east += way * self.course.sin();
        self.north += way * self.course.cos();
        // Half forgotten in seven minutes.
        let keeps = (-interval / 600.0).exp();
        let fresh = (1.0 - keeps * keeps).sqrt() * self.shadow_sd_db;
        self.shadow_db = self.shadow_db * keeps + fresh * shadow;
        self.next_s += interval * jitter;
        self.on_a = !self.on_a;
    }

    fn sentence(&self) -> String {
        let lat = Some(LAT + self.north / 60.0);
        let lon = Some(LON + self.east / 60.0 / LAT.to_radians().cos());
        let sog_kn = Some(self.speed);
        let body = if self.class_a {
            let nav_status = if self.anchored { 1 } else { 0 };
            Body::Position(PositionReport {
                nav_status,
                lat,
                lon,
                sog_kn,
                utc_second: 10,
                ..PositionReport::unavailable()
            })
        } else {
            Body::ClassB(ClassBReport {
                sog_kn,
                position_accuracy: false,
                lon,
                lat,
                cog_deg: None,
                heading_deg: None,
                utc_second: 10,
                carrier_sense: self.carrier_sense,
                raim: false,
            })
        };
        let kind = if self.class_a { 1 } else { 18 };
        let message = Message { kind, repeat: 0, mmsi: self.mmsi, body };
        vdm(&message, if self.on_a { 'A' } else { 'B' })
    }
}

/// A watch that sails it.
pub struct Sailed {
    pub sea: Sea,
    pub watch: Watch,
    pub events: Vec<(f64, Event)>,
    pub now_s: f64,
    pub has_position: bool,
    /// How fast the boat goes, to the north.
    pub speed_kn: f64,
    /// What the second receiver hears comes in as well.
    pub has_second: bool,
    ais: InputId,
    second: InputId,
    gnss: InputId,
}

impl Sailed {
    pub fn new(sea: Sea) -> Self {
        Self::with_past(sea, Vec::new())
    }

    /// With what the weeks before were like.
    pub fn with_past(sea: Sea, usual_reach: Vec<PastHour>) -> Self {
        let settings = Settings { expects_inputs: true, usual_reach, ..Settings::default() };
        let mut watch = Watch::new(settings);
        let (ais, gnss) = (watch.input("ais"), watch.input("gnss"));
        let second = watch.input("second");
        Self {
            sea,
            watch,
            events: Vec::new(),
            now_s: 0.0,
            has_position: true,
            speed_kn: 0.0,
            has_second: false,
            ais,
            second,
            gnss,
        }
    }

    pub fn stamp(&self) -> Stamp {
        stamp(self.now_s)
    }

    pub fn reach(&self) -> Reach {
        self.watch.reach(self.stamp())
    }

    fn take(&mut self, at_s: f64, input: InputId, line: &str) {
        self.now_s = at_s;
        let stamp = stamp(at_s);
        self.watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
        while let Some(event) = self.watch.poll_output() {
            self.events.push((at_s, event));
        }
    }

    /// Goes on for so long.
    pub fn sail(&mut self, seconds: u64) {
        let end = self.now_s + seconds as f64;
        while self.now_s < end {
            let from = self.now_s;
            let to = (from + 5.0).min(end);
            for came in self.sea.between(from, to) {
                self.take(came.at_s, self.ais, &came.message);
                if let Some(vsi) = came.vsi {
                    self.take(came.at_s, self.ais, &vsi);
                }
                if self.has_second && came.twice {
                    self.take(came.at_s, self.second, &came.message);
                }
            }
            self.sea.own_north += self.speed_kn * (to - from) / 3600.0;
            if self.has_position {
                self.place(to);
            }
            self.now_s = to;
        }
    }

    /// Hears where the boat is.
    fn place(&mut self, at_s: f64) {
        let place = nmea_position(LAT + self.sea.own_north / 60.0, LON);
        self.take(at_s, self.gnss, &sealed(&format!("GPGLL,{place},120000,A,A")));
    }

    /// Goes on so much later, on another day.
    pub fn on_another_day(&mut self, after_s: f64, seed: u64, ships: usize) {
        self.now_s += after_s;
        self.sea.on_another_day(seed, ships);
        for ship in &mut self.sea.ships {
            ship.next_s += self.now_s;
        }
    }

    /// Hears nothing at all for so long.
    pub fn skip(&mut self, seconds: u64) {
        let to = self.now_s + seconds as f64;
        self.sea.between(self.now_s, to);
        self.now_s = to;
    }

    /// Hears nothing itself for so long, while another station passes on what it hears; then its own
    /// place first.
    pub fn hear_a_station_alone(&mut self, seconds: u64) {
        let station = self.watch.input("station pier");
        for _ in 0..seconds / 20 {
            self.skip(20);
            let tag = Relayed { ago: Duration::from_millis(200) }.tag("pier");
            let line = vdm(&class_b(230_000_000, LAT + 0.1, LON), 'A');
            self.take(self.now_s, station, &format!("{tag}{line}"));
        }
        self.place(self.now_s);
    }

    /// So many identities that nobody has, in a few minutes; some speak twice.
    pub fn flood(&mut self, count: u32) {
        let ais = self.ais;
        for number in 0..count {
            let message = class_b(230_000_000 + number - number % 3, LAT + 0.1, LON);
            let at = self.now_s + 0.02;
            let channel = if number % 2 == 0 { 'A' } else { 'B' };
            self.take(at, ais, &vdm(&message, channel));
        }
    }

    /// A beacon is heard once.
    pub fn activate(&mut self, mmsi: u32) {
        let ais = self.ais;
        let message = position(mmsi, 14, Some((LAT, LON)), 10);
        self.take(self.now_s + 1.0, ais, &vdm(&message, 'A'));
    }
}

fn stamp(at_s: f64) -> Stamp {
    let start = Utc::parse_rfc3339("2026-06-14T00:00:00Z").unwrap();
    let at = Mono::START + Duration::from_secs_f64(at_s);
    Stamp { at: Mono::START, utc: start }.at(at)
}
