//! Where things are: positions, range and bearing on the WGS-84 ellipsoid, own ship's state.
//!
//! *Invariant:* knows nothing of alerts or sentences, and reads no clock. Every value carries its
//! moment of arrival, and every query is told the present one.

mod geodesic;
mod own_ship;
mod position;

pub use geodesic::{destination, range_and_bearing};
pub use own_ship::{Fix, Grade, OwnShip};
pub use position::Position;
