//! Where things are and how to get there: positions, range and bearing on the WGS-84 ellipsoid, own
//! ship's state, the way to a casualty, its drift, where it is when it has fallen silent.
//!
//! *Invariant:* knows nothing of alerts or sentences, and reads no clock. Every value carries its
//! moment of arrival, and every query is told the present one. Whatever is made from a stand-in
//! says from which.

mod datum;
mod drift;
mod geodesic;
mod leeway;
mod magnetic;
mod own_ship;
mod passing;
mod plane;
mod reach;
mod recent;
mod rhumb;
mod search;
mod steering;
mod sweep;
mod way;
mod wind;

pub use crate::position::{Position, degrees_and_minutes};
pub use datum::{
    Basis, CIRCLE_50, CIRCLE_95, Datum, Wind, probable_error, total_drift_error, wandered,
};
pub use drift::{Drift, Fixes};
pub use geodesic::{destination, range_and_bearing};
pub use leeway::{Leeway, Line, ManualLeeway};
pub use magnetic::variation;
pub use own_ship::{AheadFrom, Fix, Grade, OwnShip, Variation};
pub use passing::{AT_CASUALTY, CLOSE, PASSES_WITHIN, Passing, RangeTurned, TURNED};
pub use plane::{Offset, Velocity};
pub use reach::{height_gain_db, radio_horizon, range_of_sea_loss, sea_loss_db, working_range};
pub use rhumb::rhumb_line;
pub use search::{
    Conditions, Guidance, Leg, LegNumber, Pattern, Search, SearchPlan, Turn, Unsteerable, Wishes,
};
pub use steering::{Approach, Intercept, closest_approach, course_along, intercept};
pub use sweep::{BY_DAY, Lookout, Seas, coverage, even_detection, random_detection};
pub use way::{Medium, Steer, Way};
pub use wind::true_wind;

use plane::METRES_PER_SECOND;
