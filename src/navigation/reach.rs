//! How far an antenna at the water can be heard.

use crate::units::NauticalMiles;

/// The distance to the radio horizon for two antennas, their heights in metres above the sea:
/// `2.2 (√h1 + √h2)`, as the courses for the radio certificates teach it; 4/3 of the earth's radius
/// gives 2.23. No more than this can be expected, and a crest in between takes it away.
///
/// A height that is no number or below the sea counts as at the surface.
pub fn radio_horizon(height_m: f64, other_height_m: f64) -> NauticalMiles {
    NauticalMiles(2.2 * (height_m.max(0.0).sqrt() + other_height_m.max(0.0).sqrt()))
}

/// What can be reckoned with: 0.45 of the horizon. The requirement for AIS-SART, 5 NM from 1 m to
/// 16 m (IMO MSC.246(83)), is that part of it.
pub fn working_range(horizon: NauticalMiles) -> NauticalMiles {
    NauticalMiles(0.45 * horizon.0)
}

/// How much more is lost on the way over the sea than over one mile, in decibels.
///
/// Two rays, one of them by the sea, which takes nearly all of the other away: 40 dB in ten times the
/// range, once that is far beyond `4 h1 h2 / λ`, a quarter of a mile for two masts and nothing for an
/// antenna at the water (common textbook formula, from memory). On top of it the earth's curve.
pub fn sea_loss_db(range: NauticalMiles) -> f64 {
    let range = range.0.max(NEAREST_NM);
    40.0 * range.log10() + curvature_loss_db(range)
}

/// The range at which so much more is lost than over one mile: the other way round.
pub fn range_of_sea_loss(loss_db: f64) -> NauticalMiles {
    let (mut near, mut far) = (NEAREST_NM.ln(), 1000_f64.ln());
    for _ in 0..40 {
        let middle = (near + far) / 2.0;
        if sea_loss_db(NauticalMiles(middle.exp())) < loss_db {
            near = middle;
        } else {
            far = middle;
        }
    }
    NauticalMiles(near.exp())
}

/// By how many decibels an antenna is heard better than a lower one, their heights in metres: twice
/// the height, 6 dB. That is the same two rays. The sea also carries a wave along its surface, which
/// would make less of the difference; waves that hide the lower antenna make more of it.
pub fn height_gain_db(height_m: f64, lower_m: f64) -> f64 {
    20.0 * (height_m / lower_m).log10()
}

/// Nearer than this all is heard, and two rays say nothing. Our own.
const NEAREST_NM: f64 = 0.01;

/// The unit of length of diffraction round the earth, 4/3 of its radius, at 162 MHz: 34.9 km in
/// miles (ITU-R P.526, from memory: `(λ a² / π)^(1/3)`).
const DIFFRACTION_NM: f64 = 18.8;

/// What the earth's curve takes beside the two rays, in decibels. Of diffraction, `17.6 X − 10 log X`
/// (ITU-R P.526, from memory), the two rays' own `20 log X` is in [`sea_loss_db`]; nothing is taken
/// before the rest has its least, at 0.74 X. At 30 NM 5 dB, at 50 NM 17.
fn curvature_loss_db(range_nm: f64) -> f64 {
    let x = (range_nm / DIFFRACTION_NM).max(FLAT);
    17.6 * (x - FLAT) - 30.0 * (x / FLAT).log10()
}

/// Up to here the earth counts as flat: `30 / (17.6 ln 10)`, by definition.
const FLAT: f64 = 0.74;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ten_times_as_far_is_40_db_and_more_beyond_the_horizon() {
        let loss = |range| sea_loss_db(NauticalMiles(range));
        assert!(loss(1.0).abs() < 1e-9);
        assert!((loss(10.0) - 40.0).abs() < 1e-9);
        let beyond = loss(30.0) - 40.0 * 30_f64.log10();
        assert!((beyond - 5.1).abs() < 0.2, "{beyond}");
        let mut before = -100.0;
        for tenths in 1..1000 {
            let range = NauticalMiles(f64::from(tenths) / 10.0);
            let loss = sea_loss_db(range);
            assert!(loss > before);
            assert!((range_of_sea_loss(loss).0 / range.0 - 1.0).abs() < 1e-3, "{range}");
            before = loss;
        }
    }

    #[test]
    fn twice_the_height_is_6_db() {
        assert!((height_gain_db(20.0, 10.0) - 6.02).abs() < 0.01);
        assert!((height_gain_db(20.0, 0.2) - 40.0).abs() < 1e-9);
    }
}
