//! What one input said in the seconds in which it was listened to.

use std::collections::{BTreeMap, HashSet};

use crate::mmsi::{Mmsi, Station};
use crate::time::Mono;
use crate::wire::ais::{self, BeaconWord};
use crate::wire::nmea::{EmitterStatus, Meaning, Nmea};
use crate::wire::{AisReport, Content, Decoder, Garble, InputId, OtherDatagram, Reject};

/// How many stations, and how many kinds of sentences, are told apart. Our own.
const STATIONS: usize = 4_096;
const KINDS: usize = 64;

/// What one input said.
#[derive(Default)]
pub struct Traffic {
    decoder: Decoder,
    /// How many sound sentences of each kind, by formatter.
    pub sentences: BTreeMap<String, u64>,
    /// Ships heard.
    pub ships: HashSet<Mmsi>,
    /// Other stations heard: ashore, aids to navigation, aircraft.
    pub others: HashSet<Mmsi>,
    /// AIS messages of others on channel A, on B, and on one that the receiver does not name.
    pub channels: [u64; 3],
    /// Whether the ship's own transponder reports (VDO).
    pub has_transponder: bool,
    /// Whether that tells where the ship is.
    pub transponder_position: bool,
    /// Whether a satellite receiver has a fix; `None` if there is none.
    pub fix: Option<bool>,
    /// Satellites in use.
    pub satellites: Option<u16>,
    /// Whether there is a heading, true or magnetic.
    pub heading: bool,
    /// Whether there is a wind.
    pub wind: bool,
    /// Whether there is a crew alarm on board, or a button.
    pub has_button: bool,
    /// DSC calls.
    pub calls: u64,
    /// Damaged lines, those without a checksum not counted.
    pub damaged: u64,
    /// Lines that lack a checksum and are whole otherwise.
    pub without_checksum: u64,
    /// What there was that is no sentence.
    pub garble: Garble,
    /// Datagrams of IEC 61162-450 that carried no sentences, by what they carried.
    pub other_datagrams: BTreeMap<OtherDatagram, u64>,
    /// When the last sound sentence came.
    pub last: Option<Mono>,
    /// When the last AIS message of another station came.
    pub last_ais: Option<Mono>,
    /// Survivor beacons on the air, and what each says it does.
    pub beacons: BTreeMap<Mmsi, Option<BeaconWord>>,
    /// Whether a DSC distress call was heard.
    pub distress: bool,
    /// Whether a crew alarm on board was set off.
    pub overboard: bool,
}

impl Traffic {
    /// Takes a line without its end.
    pub fn line(&mut self, at: Mono, line: &[u8]) {
        let Some(decoded) = self.decoder.decode(InputId(0), at, line) else { return };
        let decoded = match decoded {
            Ok(decoded) => decoded,
            Err(Reject::MissingChecksum) => {
                self.without_checksum += 1;
                return;
            }
            Err(why) => {
                if let Some(other) = OtherDatagram::of(line) {
                    *self.other_datagrams.entry(other).or_default() += 1;
                    return;
                }
                self.damaged += u64::from(why.is_damage());
                self.garble.push(line);
                return;
            }
        };
        self.last = Some(at);
        let kind = decoded.formatter.to_ascii_uppercase();
        if self.sentences.len() < KINDS || self.sentences.contains_key(&kind) {
            *self.sentences.entry(kind).or_default() += 1;
        }
        match decoded.content {
            Content::Ais(report) => self.ais(at, &report),
            Content::Nmea(nmea) => self.instrument(&nmea),
            Content::Part | Content::Other => {}
        }
    }

    /// Takes bytes that no line end has followed.
    pub fn noise(&mut self, bytes: &[u8]) {
        self.garble.push(bytes);
    }

    /// Whether any sound sentence was heard.
    pub fn speaks(&self) -> bool {
        self.last.is_some()
    }

    /// Whether anything came that was no sound sentence.
    pub fn has_more_than_sentences(&self) -> bool {
        !self.garble.is_empty() || self.without_checksum > 0 || !self.other_datagrams.is_empty()
    }

    /// Whether AIS of other stations was heard.
    pub fn hears_ais(&self) -> bool {
        self.last_ais.is_some()
    }

    /// Whether there is anything that a watch uses.
    pub fn is_useful(&self) -> bool {
        let instruments = self.fix.is_some() || self.heading || self.wind;
        let calls = self.calls > 0 || self.has_button;
        self.hears_ais() || self.has_transponder || instruments || calls
    }

    fn ais(&mut self, at: Mono, report: &AisReport) {
        let ais::Message { mmsi, body, .. } = &report.message;
        if report.own {
            let motion = body.motion().unwrap_or_default();
            self.has_transponder = true;
            self.transponder_position |= motion.position.is_some() && motion.utc_second != Some(63);
            self.heading |= motion.heading.is_some();
            return;
        }
        self.last_ais = Some(at);
        self.channels[match report.channel {
            Some('A') => 0,
            Some('B') => 1,
            _ => 2,
        }] += 1;
        if mmsi.beacon_kind().is_some() {
            self.beacon(*mmsi, body);
        }
        let stations = match mmsi.station() {
            Station::Ship => &mut self.ships,
            _ => &mut self.others,
        };
        if stations.len() < STATIONS {
            stations.insert(*mmsi);
        }
    }

    fn beacon(&mut self, mmsi: Mmsi, body: &ais::Body) {
        if self.beacons.len() >= STATIONS && !self.beacons.contains_key(&mmsi) {
            return;
        }
        let said = match body {
            ais::Body::SafetyText(text) => text.beacon_word.flatten(),
            // 14 is active, 15 a test or not known (M.1371-5 table 48).
            ais::Body::Position(report) if report.nav_status == 14 => Some(BeaconWord::Active),
            _ => None,
        };
        let known = self.beacons.entry(mmsi).or_default();
        // Whatever it says beside: active is not taken back here.
        if *known != Some(BeaconWord::Active) {
            *known = said.or(*known);
        }
    }

    fn instrument(&mut self, nmea: &Nmea) {
        let is_there = nmea.position().is_some();
        let mut fix = |is_fix: bool| self.fix = Some(self.fix == Some(true) || is_fix && is_there);
        match nmea {
            Nmea::Rmc(rmc) => fix(rmc.valid && !matches!(rmc.mode, Some('E' | 'M' | 'S'))),
            Nmea::Gll(gll) => fix(gll.valid && !matches!(gll.mode, Some('E' | 'M' | 'S' | 'N'))),
            Nmea::Gga(gga) => {
                fix(gga.is_fix());
                self.satellites = gga.satellites.or(self.satellites);
            }
            Nmea::Gns(gns) => {
                fix(gns.is_fix());
                self.satellites = gns.satellites.or(self.satellites);
            }
            Nmea::Hdt(hdt) => self.heading |= hdt.heading_deg.is_some(),
            Nmea::Ths(ths) => {
                self.heading |= ths.heading_deg.is_some() && !matches!(ths.mode, Some('V' | 'S'));
            }
            Nmea::Hdg(hdg) => self.heading |= hdg.magnetic_deg().is_some(),
            Nmea::Hdm(hdm) => self.heading |= hdm.magnetic_deg.is_some(),
            Nmea::Vhw(vhw) => {
                self.heading |= vhw.heading_deg.or(vhw.magnetic_deg).is_some();
            }
            Nmea::Mwv(mwv) => {
                self.wind |= mwv.valid && mwv.angle_deg.is_some() && mwv.speed_kn.is_some();
            }
            Nmea::Mwd(mwd) => {
                let from = mwd.from_deg.or(mwd.from_magnetic_deg);
                self.wind |= from.is_some() && mwd.speed_kn.is_some();
            }
            Nmea::Mob(notice) => {
                self.has_button = true;
                self.overboard |= matches!(
                    notice.status,
                    Some(EmitterStatus::Activated | EmitterStatus::ManualButton)
                );
            }
            Nmea::Dsc(call) => {
                self.calls += 1;
                self.distress |=
                    matches!(call.meaning, Meaning::DistressAlert | Meaning::DistressRelay);
            }
            _ => {}
        }
    }
}
