//! A velocity that is measured again and again.

use std::collections::VecDeque;
use std::time::Duration;

use super::plane::Velocity;
use crate::time::Mono;

/// How many values are kept at most. Our own.
const MOST: u32 = 120;

/// What has been measured lately, as the middle of it: a wave, a gust or a turn in which one
/// instrument lags behind the other moves it little.
#[derive(Clone, Debug)]
pub(super) struct Recent {
    values: VecDeque<(Mono, Velocity)>,
    span: Duration,
}

impl Recent {
    /// Keeps what is measured in such a span.
    pub(super) const fn new(span: Duration) -> Self {
        Self { values: VecDeque::new(), span }
    }

    pub(super) fn note(&mut self, at: Mono, value: Velocity) {
        let sooner = |&(last, _): &(Mono, _)| at.since(last) < self.span / MOST;
        if self.values.back().is_some_and(sooner) {
            return;
        }
        while self.values.front().is_some_and(|&(first, _)| at.since(first) > self.span) {
            self.values.pop_front();
        }
        self.values.push_back((at, value));
    }

    /// The median along each axis; `None` if nothing was measured for as long as values are kept.
    pub(super) fn median(&self, now: Mono) -> Option<Velocity> {
        let fresh = || self.values.iter().filter(|(at, _)| now.since(*at) <= self.span);
        let middle = |of: fn(Velocity) -> f64| {
            let mut parts: Vec<f64> = fresh().map(|&(_, value)| of(value)).collect();
            parts.sort_by(f64::total_cmp);
            parts.get(parts.len() / 2).copied()
        };
        Some(Velocity::new(middle(Velocity::east)?, middle(Velocity::north)?))
    }
}
