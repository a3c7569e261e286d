//! Sentences of instruments and radios (IEC 61162-1): one file each.
//!
//! A null field is `None`. A field that is there and cannot be right — a latitude of 95°, a speed
//! that is no number — rejects its sentence; an impossible time of day or date alone does not, and
//! is `None`: the position beside it may save somebody. Field names are those of the JSON that
//! `overside decode` prints.

mod alc;
mod alf;
mod alr;
mod call_position;
mod dpt;
mod dsc;
mod dse;
mod field;
mod gga;
mod gll;
mod gns;
mod hbt;
mod hdg;
mod hdm;
mod hdt;
mod mob;
mod mtw;
mod mwd;
mod mwv;
mod rmc;
mod ths;
mod txt;
mod vhw;
mod vsi;
mod vtg;
mod zda;

pub use alc::{Alc, AlcAlert};
pub use alf::{Alf, AlfPriority, AlfState};
pub use alr::Alr;
pub use dpt::Dpt;
pub use dsc::{Acknowledgement, CallFormat, Category, Dsc, Meaning, Nature};
pub use dse::Dse;
pub use field::TimeOfDay;
pub use gga::Gga;
pub use gll::Gll;
pub use gns::Gns;
pub use hbt::Hbt;
pub use hdg::Hdg;
pub use hdm::Hdm;
pub use hdt::Hdt;
pub use mob::{EmitterStatus, Mob};
pub use mtw::Mtw;
pub use mwd::Mwd;
pub use mwv::{Mwv, WindReference};
pub use rmc::Rmc;
pub use ths::Ths;
pub use txt::Txt;
pub use vhw::Vhw;
pub use vsi::Vsi;
pub use vtg::Vtg;
pub use zda::Zda;

use serde::Serialize;

use super::reject::Reject;
use super::sentence::Fields;
use crate::position::Position;

/// A sentence that is understood.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the sentence of its name")]
pub enum Nmea {
    Rmc(Rmc),
    Gga(Gga),
    Gll(Gll),
    Gns(Gns),
    Vtg(Vtg),
    Zda(Zda),
    Hdt(Hdt),
    Ths(Ths),
    Hdg(Hdg),
    Hdm(Hdm),
    Vhw(Vhw),
    Mwd(Mwd),
    Mwv(Mwv),
    Mtw(Mtw),
    Dpt(Dpt),
    Dsc(Dsc),
    Dse(Dse),
    Mob(Mob),
    Alr(Alr),
    Alf(Alf),
    Alc(Alc),
    Hbt(Hbt),
    Txt(Txt),
    Vsi(Vsi),
}

impl Nmea {
    /// The place it tells; `None` if it tells none or half of one.
    pub fn position(&self) -> Option<Position> {
        match self {
            Self::Rmc(it) => Position::of(it.lat, it.lon),
            Self::Gga(it) => Position::of(it.lat, it.lon),
            Self::Gll(it) => Position::of(it.lat, it.lon),
            Self::Gns(it) => Position::of(it.lat, it.lon),
            Self::Dsc(call) => call.position(),
            Self::Mob(notice) => notice.position(),
            _ => None,
        }
    }
}

/// Reads the fields of a sentence with this formatter; `None` if it is not looked into.
pub(super) fn parse(formatter: &[u8; 3], fields: Fields<'_>) -> Option<Result<Nmea, Reject>> {
    Some(match formatter {
        b"RMC" => Rmc::parse(fields).map(Nmea::Rmc),
        b"GGA" => Gga::parse(fields).map(Nmea::Gga),
        b"GLL" => Gll::parse(fields).map(Nmea::Gll),
        b"GNS" => Gns::parse(fields).map(Nmea::Gns),
        b"VTG" => Vtg::parse(fields).map(Nmea::Vtg),
        b"ZDA" => Zda::parse(fields).map(Nmea::Zda),
        b"HDT" => Hdt::parse(fields).map(Nmea::Hdt),
        b"THS" => Ths::parse(fields).map(Nmea::Ths),
        b"HDG" => Hdg::parse(fields).map(Nmea::Hdg),
        b"HDM" => Hdm::parse(fields).map(Nmea::Hdm),
        b"VHW" => Vhw::parse(fields).map(Nmea::Vhw),
        b"MWD" => Mwd::parse(fields).map(Nmea::Mwd),
        b"MWV" => Mwv::parse(fields).map(Nmea::Mwv),
        b"MTW" => Mtw::parse(fields).map(Nmea::Mtw),
        b"DPT" => Dpt::parse(fields).map(Nmea::Dpt),
        b"DSC" => Dsc::parse(fields).map(Nmea::Dsc),
        b"DSE" => Dse::parse(fields).map(Nmea::Dse),
        b"MOB" => Mob::parse(fields).map(Nmea::Mob),
        b"ALR" => Alr::parse(fields).map(Nmea::Alr),
        b"ALF" => Alf::parse(fields).map(Nmea::Alf),
        b"ALC" => Alc::parse(fields).map(Nmea::Alc),
        b"HBT" => Hbt::parse(fields).map(Nmea::Hbt),
        b"TXT" => Txt::parse(fields).map(Nmea::Txt),
        b"VSI" => Vsi::parse(fields).map(Nmea::Vsi),
        _ => return None,
    })
}
