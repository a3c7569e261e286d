//! The magnetic variation, from the World Magnetic Model: for a boat whose sentences do not tell
//! it.

use world_magnetic_model::GeomagneticField;
use world_magnetic_model::time::Date;
use world_magnetic_model::uom::si::angle::degree;
use world_magnetic_model::uom::si::f32::{Angle, Length};
use world_magnetic_model::uom::si::length::meter;

use super::Position;
use crate::time::Utc;

/// The variation at sea level, in degrees, east positive, by WMM2025 (NOAA and BGS, valid from 2025
/// up to 2030; WMM2020 before).
///
/// `None` on a day for which there is no model, and near the magnetic poles, where a compass is of
/// no use (horizontal intensity below 2000 nT: the model's own blackout zone).
pub fn variation(position: Position, day: Utc) -> Option<f64> {
    use chrono::Datelike as _;
    let day = day.date();
    let ordinal = u16::try_from(day.ordinal()).ok()?;
    let date = Date::from_ordinal_date(day.year(), ordinal).ok()?;
    // Whole thousandths of a degree are far finer than the model.
    let angle = |degrees: f64| Angle::new::<degree>(degrees as f32);
    let sea_level = Length::new::<meter>(0.0);
    let (lat, lon) = (angle(position.lat()), angle(position.lon()));
    let field = GeomagneticField::new(sea_level, lat, lon, date).ok()?;
    let horizontal =
        field.h().get::<world_magnetic_model::uom::si::magnetic_flux_density::nanotesla>();
    (horizontal >= 2000.0).then(|| f64::from(field.declination().get::<degree>()))
}
