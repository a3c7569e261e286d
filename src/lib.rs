//! The receiving side of personal AIS man-overboard beacons.

pub mod mmsi;
pub mod navigation;
pub mod time;
pub mod units;
pub mod wire;
