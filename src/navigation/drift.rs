//! Where a casualty drifts, from the positions that its beacon tells: a straight line through them
//! by least squares, and how sure it is. Such a drift is all of it, wind and water together.

use std::time::Duration;

use serde::Serialize;

use super::datum::{CIRCLE_50, CURRENT_ERROR};
use super::plane::{Offset, Velocity};
use super::{METRES_PER_SECOND, Position};
use crate::time::{Mono, seconds};
use crate::units::{Knots, NauticalMiles};

/// Fixes older than this before the last say little of where it drifts now. Our own.
const WINDOW: Duration = Duration::from_secs(10 * 60);

/// A fix sooner than this after another is of the same minute: a beacon determines its position
/// once a minute (EN 303 098 4.7), and eight messages that tell one position are one fix.
const ONE_FIX: Duration = Duration::from_secs(45);

/// Fewer fixes, or of a shorter time, make no drift. Our own.
const LEAST_FIXES: usize = 3;
const LEAST_SPAN: Duration = Duration::from_secs(2 * 60);

/// How far off a fix is at the least, along each axis, in metres: an antenna at the water, in waves.
/// Our own.
pub(super) const FIX_SD_M: f64 = 10.0;

/// Nobody drifts faster than this: such a jump is an error of the position. Our own.
const FASTEST: Knots = Knots(10.0);

/// How many fixes are kept. Our own.
const LIMIT: usize = 16;

/// The fixes of one casualty, one a minute, oldest first.
#[derive(Clone, Debug, Default)]
pub struct Fixes {
    kept: Vec<(Mono, Position)>,
    /// A fix that jumped; the next one tells which was wrong.
    doubted: Option<(Mono, Position)>,
}

impl Fixes {
    /// Takes a fix that is as old as its message: one that repeats an old position is no fix.
    pub fn note(&mut self, at: Mono, position: Position) {
        if let Some(&(last, there)) = self.kept.last() {
            if there == position || at.since(last) < ONE_FIX {
                return;
            }
            if !is_plausible((last, there), (at, position)) {
                let agree = |doubted| is_plausible(doubted, (at, position));
                match self.doubted.filter(|&doubted| agree(doubted)) {
                    Some(doubted) => self.kept = vec![doubted],
                    None => {
                        self.doubted = Some((at, position));
                        return;
                    }
                }
            }
        }
        self.doubted = None;
        if self.kept.len() >= LIMIT {
            self.kept.remove(0);
        }
        self.kept.push((at, position));
    }

    /// The drift they make, if they are enough: three or more, over two minutes or more, of the
    /// last ten minutes before the latest.
    pub fn drift(&self) -> Option<Drift> {
        let &(last, _) = self.kept.last()?;
        let begin = self.kept.iter().position(|(at, _)| last.since(*at) <= WINDOW)?;
        Drift::fit(self.kept.get(begin..)?)
    }
}

fn is_plausible((then, from): (Mono, Position), (now, to): (Mono, Position)) -> bool {
    let metres = Offset::between(from, to).range().metres();
    let most = FASTEST.0 * METRES_PER_SECOND * now.since(then).as_secs_f64();
    metres <= most + 5.0 * FIX_SD_M
}

/// A drift over ground, and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Drift {
    /// Where to and how fast.
    pub velocity: Velocity,
    /// How many fixes it is made from.
    pub fixes: usize,
    /// Over which time.
    #[serde(rename = "span_s", serialize_with = "seconds")]
    pub span: Duration,
    /// How far a fix is off along each axis (standard deviation), from what is left over, at least
    /// 10 m.
    pub fix_sd_m: f64,
    /// The time of the last fix.
    #[serde(rename = "at_s")]
    pub at: Mono,
    /// Where the line passes then.
    pub position: Position,
    /// Seconds from the mean of the times to the last, and the sum of the squares about the mean.
    #[serde(skip)]
    behind_mean_s: f64,
    #[serde(skip)]
    squares: f64,
}

impl Drift {
    /// The straight line through positions, oldest first; `None` with fewer than three or over less
    /// than two minutes.
    pub fn fit(fixes: &[(Mono, Position)]) -> Option<Self> {
        let (&(first, _), &(last, origin)) = (fixes.first()?, fixes.last()?);
        let span = last.since(first);
        if fixes.len() < LEAST_FIXES || span < LEAST_SPAN {
            return None;
        }
        let count = fixes.len() as f64;
        // Seconds before the last fix, and metres from it.
        let points: Vec<(f64, Offset)> = fixes
            .iter()
            .map(|&(at, place)| (-last.since(at).as_secs_f64(), Offset::between(origin, place)))
            .collect();
        let mean = |of: &dyn Fn(&(f64, Offset)) -> f64| points.iter().map(of).sum::<f64>() / count;
        let (time, east, north) = (mean(&|p| p.0), mean(&|p| p.1.east_m), mean(&|p| p.1.north_m));
        let squares: f64 = points.iter().map(|p| (p.0 - time).powi(2)).sum();
        let slope = |of: &dyn Fn(&Offset) -> f64| {
            points.iter().map(|p| (p.0 - time) * of(&p.1)).sum::<f64>() / squares
        };
        let velocity = Velocity::new(slope(&|p| p.east_m), slope(&|p| p.north_m));
        let middle = Offset { east_m: east, north_m: north };
        let left_over: f64 = points
            .iter()
            .map(|p| {
                let off = p.1 - middle - velocity.over_seconds(p.0 - time);
                off.dot(off)
            })
            .sum();
        // Two axes share it, each with two degrees of freedom fewer than it has fixes.
        let spread = (left_over / (2.0 * (count - 2.0))).sqrt();
        let position = (middle + velocity.over_seconds(-time)).from(origin);
        let fix_sd_m = spread.max(FIX_SD_M);
        let (fixes, at, behind_mean_s) = (fixes.len(), last, -time);
        Some(Self { velocity, fixes, span, fix_sd_m, at, position, behind_mean_s, squares })
    }

    /// A drift that somebody tells, from a position at a moment: as sure as the manuals hold a current
    /// to be of which nothing better is known, 0.3 kn to 50 %.
    pub fn given(velocity: Velocity, position: Position, at: Mono) -> Self {
        let rate_sd = CURRENT_ERROR.0 * METRES_PER_SECOND / CIRCLE_50;
        Self {
            velocity,
            fixes: 1,
            span: Duration::ZERO,
            fix_sd_m: FIX_SD_M,
            at,
            position,
            behind_mean_s: 0.0,
            squares: (FIX_SD_M / rate_sd).powi(2),
        }
    }

    /// How sure its rate is: the standard deviation along each axis.
    pub fn rate_sd(&self) -> Knots {
        Knots(self.fix_sd_m / self.squares.sqrt() / METRES_PER_SECOND)
    }

    /// Where the line leads at a time after the last fix, and how far that is off along each axis
    /// (standard deviation) if the drift stays as it is.
    pub fn at(&self, at: Mono) -> (Position, NauticalMiles) {
        let seconds = at.since(self.at).as_secs_f64();
        let place = self.velocity.over_seconds(seconds).from(self.position);
        let from_mean = seconds + self.behind_mean_s;
        let share = 1.0 / self.fixes as f64 + from_mean * from_mean / self.squares;
        (place, NauticalMiles::from_metres(self.fix_sd_m * share.sqrt()))
    }
}
