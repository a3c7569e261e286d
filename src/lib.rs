//! The receiving side of personal AIS man-overboard beacons.

pub mod capture;
pub mod mmsi;
pub mod navigation;
pub mod rehearse;
pub mod time;
pub mod units;
pub mod watch;
pub mod wire;
