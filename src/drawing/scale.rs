//! Scales: round steps, and upwards along the left.

use super::svg::{Anchor, Drawing, Layout, Point};
use crate::units::NauticalMiles;

/// Lengths of the bar of a chart, in nautical miles.
const BARS_NM: [f64; 17] = [
    0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0,
    2000.0,
];

/// Round numbers from 0 up to the first that is not below a greatest value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ticks {
    step: f64,
    count: usize,
}

impl Ticks {
    /// With about so many steps.
    pub fn up_to(most: f64, wanted: f64) -> Self {
        // What never moved has a scale, too.
        let most = if most > 0.0 { most } else { 1.0 };
        let rough = most / wanted;
        let scale = 10_f64.powf(rough.log10().floor());
        let round = [1.0, 2.0, 5.0, 10.0].into_iter().find(|it| it * scale >= rough * 0.999);
        let step = round.unwrap_or(10.0) * scale;
        Self { step, count: (most / step - 1e-6).ceil().max(1.0) as usize }
    }

    /// The value at the upper end.
    pub fn most(self) -> f64 {
        self.step * self.count as f64
    }

    /// Each with its label.
    pub fn labelled(self) -> impl Iterator<Item = (f64, String)> {
        let decimals = (-self.step.log10().floor()).max(0.0) as usize;
        (0..=self.count).map(move |number| {
            let value = self.step * number as f64;
            (value, format!("{value:.decimals$}"))
        })
    }
}

/// A scale from the bottom of a panel upwards, with its lines and numbers to the left.
#[derive(Clone, Copy, Debug)]
pub struct Upwards {
    /// Its steps.
    pub ticks: Ticks,
    /// Where the drawing has its upper end, downwards.
    pub top: f64,
    /// Where it has 0.
    pub bottom: f64,
}

impl Upwards {
    /// How far down a value lies; what is off the scale is at its end.
    pub fn y(self, value: f64) -> f64 {
        let share = (value / self.ticks.most()).clamp(0.0, 1.0);
        self.bottom - share * (self.bottom - self.top)
    }

    /// Draws lines across and numbers.
    pub fn draw(self, drawing: &mut Drawing, left: f64, right: f64) {
        for (value, label) in self.ticks.labelled() {
            let y = self.y(value);
            let class = if value == 0.0 { "axis" } else { "grid" };
            drawing.line(Point::new(left, y), Point::new(right, y), class);
            drawing.text(Point::new(left - 6.0, y + 4.5), Anchor::End, "tick", &label);
        }
    }
}

/// The bar of a chart that has so many units of the drawing to a metre, by its left end: some round
/// length, and what it is.
pub fn scale_bar(drawing: &mut Drawing, at: Point, scale: f64, layout: Layout) {
    let long = |nm: f64| NauticalMiles(nm).metres() * scale;
    let bar = BARS_NM.into_iter().rev().find(|nm| long(*nm) <= layout.of(180.0, 170.0));
    let bar = bar.unwrap_or(BARS_NM[0]);
    let length = long(bar);
    let end = Point::new(at.x + length, at.y);
    drawing.line(at, end, "bar");
    for x in [at.x, at.x + length / 2.0, end.x] {
        drawing.line(Point::new(x, at.y - 5.0), Point::new(x, at.y + 5.0), "bar");
    }
    let metres = NauticalMiles(bar).metres();
    let words = if metres < 10_000.0 {
        format!("{bar} NM ({metres:.0} m)")
    } else {
        format!("{bar} NM ({:.0} km)", metres / 1000.0)
    };
    drawing.text(Point::new(at.x, at.y + 22.0), Anchor::Start, "tick", &words);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round() {
        let of = |most: f64| {
            Ticks::up_to(most, 4.0).labelled().map(|(_, label)| label).collect::<Vec<_>>()
        };
        assert_eq!(of(0.205), ["0.0", "0.1", "0.2", "0.3"]);
        assert_eq!(of(5.5), ["0", "2", "4", "6"]);
        assert_eq!(of(0.0), ["0.0", "0.5", "1.0"]);
        assert_eq!(of(340.0), ["0", "100", "200", "300", "400"]);
    }
}
