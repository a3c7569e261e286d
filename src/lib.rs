//! The receiving side of personal AIS man-overboard beacons.

pub mod cli;
pub mod mmsi;
pub mod time;
pub mod units;
pub mod wire;
