//! The mean wind of an incident.

use super::drill::Wind;
use super::measured::Measured;
use crate::navigation::Velocity;
use crate::units::Degrees;

/// The sum of what was measured.
#[derive(Clone, Debug, Default)]
pub(super) struct MeanWind {
    sum: Velocity,
    count: u32,
}

impl MeanWind {
    /// Takes a true wind, as the velocity of the air over ground.
    pub(super) fn note(&mut self, wind: Velocity) {
        self.sum = self.sum + wind;
        self.count += 1;
    }

    /// The mean of it.
    pub(super) fn mean(&self) -> Measured<Wind> {
        if self.count == 0 {
            return Measured::not_known("no wind instrument is in the recording");
        }
        let share = 1.0 / f64::from(self.count);
        let mean = Velocity::new(self.sum.east() * share, self.sum.north() * share);
        let from_deg = Degrees::new(mean.towards().value() + 180.0);
        let how = "the mean of the true wind while somebody was in the water, from the boat's \
                   wind instrument";
        Measured::known(Wind { from_deg, speed_kn: mean.speed() }, how)
    }
}
