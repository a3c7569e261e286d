//! From what is heard of ships to what would be heard of a beacon, step by step.

use super::report::AisClass;
use crate::navigation::{height_gain_db, range_of_sea_loss};
use crate::units::NauticalMiles;

/// What a station radiates in dBm, and how high its antenna is in metres.
struct Sender {
    power_dbm: f64,
    height_m: f64,
}

/// A ship of class A: 12.5 W (from memory). Her antenna's height is our own guess: between a
/// coaster's 10 m and a liner's 40.
const SHIP: Sender = Sender { power_dbm: 41.0, height_m: 20.0 };

/// A boat of class B: 5 W or 2 W (from memory), at a height that is our own guess,
/// between the rail and the top of the mast.
const BOAT_SO: Sender = Sender { power_dbm: 37.0, height_m: 8.0 };
const BOAT_CS: Sender = Sender { power_dbm: 33.0, height_m: 8.0 };

/// A beacon on a lifejacket: 1 W radiated, 0.2 m above the water. The height is our own guess.
const BEACON: Sender = Sender { power_dbm: 30.0, height_m: 0.2 };

/// How far one ship may be from what is assumed of her class, in dB: power, cable, height. Our own.
pub(super) const SHIPS_DIFFER_DB: f64 = 6.0;

/// How far all that is assumed of ships and of a beacon may be off, together, in dB: their middle
/// heights (2.7 dB), a beacon's antenna in the waves (2 dB), the law of loss between a ship's range and a
/// beacon's, which is a tenth of it (2 dB). Our own.
pub(super) const ASSUMED_DB: f64 = 3.9;

impl Sender {
    /// How much better than a ship of class A it is heard from the same place.
    fn beside_ship_db(&self) -> f64 {
        self.power_dbm - SHIP.power_dbm + height_gain_db(self.height_m, SHIP.height_m)
    }
}

/// How much better than class A a class is heard from the same place, in dB; worse is negative.
pub(super) fn beside_ship_db(class: AisClass) -> f64 {
    match class {
        AisClass::A => SHIP.beside_ship_db(),
        AisClass::BSo => BOAT_SO.beside_ship_db(),
        AisClass::BCs => BOAT_CS.beside_ship_db(),
    }
}

/// How far a beacon comes in with so many decibels to spare, where a ship of class A one mile off has
/// `level_db`.
pub(super) fn beacon_range(level_db: f64, spare_db: f64) -> NauticalMiles {
    range_of_sea_loss(level_db + BEACON.beside_ship_db() - spare_db)
}
