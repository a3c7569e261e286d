//! The receiving side of personal AIS man-overboard beacons.

pub mod config;
pub mod edge;
pub mod mmsi;
pub mod time;
pub mod units;
pub mod wire;
