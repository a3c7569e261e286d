//! The time along the bottom.

use super::text::hour_minute;
use super::window::Window;
use crate::debrief::drill::Unwatched;
use crate::debrief::labels::{after, seconds};
use crate::drawing::{Anchor, Drawing, Point, width_of};
use crate::time::Utc;
use crate::zone::Zone;

/// Steps of a time axis, in seconds.
const STEPS_S: [f64; 13] = [
    60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0, 10_800.0, 21_600.0, 43_200.0,
    86_400.0, 604_800.0,
];

/// From one line of letters to the next.
const LINE: f64 = 17.0;

/// From one line of a hatched area to the next.
const HATCH: f64 = 9.0;

/// The time from left to right.
#[derive(Clone, Copy, Debug)]
pub(super) struct TimeAxis<'a> {
    pub window: Window,
    /// The zone of the local time below UTC.
    pub zone: Option<&'a Zone>,
    pub left: f64,
    pub right: f64,
}

impl TimeAxis<'_> {
    /// The height of what stands below the bottom.
    pub(super) fn foot(self) -> f64 {
        if self.local(self.window.from).is_some() { 30.0 + LINE } else { 30.0 }
    }

    /// Hours and minutes of the local time, and what it is called.
    fn local(self, at: Utc) -> Option<(String, String)> {
        let clock = self.zone?.clock(at)?;
        clock.split_once(' ').map(|(clock, word)| (clock.to_owned(), word.to_owned()))
    }

    pub(super) fn x(self, at: Utc) -> f64 {
        let share = seconds(self.window.from, at) / self.window.seconds();
        self.left + share.clamp(0.0, 1.0) * (self.right - self.left)
    }

    /// Hatches the times in which nobody listened, from `top` to `bottom`.
    pub(super) fn hatch(
        self,
        drawing: &mut Drawing,
        times: &[Unwatched],
        (top, bottom): (f64, f64),
    ) {
        for gap in
            times.iter().filter(|it| it.until > self.window.from && it.from < self.window.until)
        {
            let (left, right) = (self.x(gap.from), self.x(gap.until));
            drawing.rect(Point::new(left, top), (right - left, bottom - top), "unwatched");
            let (mut x, height) = (left - (bottom - top), bottom - top);
            // From the lower left to the upper right, cut off at the sides.
            while x < right {
                let (from, until) = (x.max(left), (x + height).min(right));
                if until > from {
                    let (low, high) = (bottom - (from - x), bottom - (until - x));
                    drawing.line(Point::new(from, low), Point::new(until, high), "hatch");
                }
                x += HATCH;
            }
        }
    }

    /// Lines up to `top`, and the times below `bottom`, those of the zone below UTC.
    pub(super) fn draw(self, drawing: &mut Drawing, top: f64, bottom: f64) {
        let room = width_of("00:00") + 14.0;
        let per_second = (self.right - self.left) / self.window.seconds();
        let step = STEPS_S.into_iter().find(|step| step * per_second >= room);
        let step = step.unwrap_or(604_800.0);
        let begin = self.window.from.unix_ms() as f64 / 1000.0;
        let first = (begin / step).ceil() * step - begin;
        let count = ((self.window.seconds() - first) / step).floor().max(-1.0) as i64;
        for number in 0..=count {
            let at = after(self.window.from, first + step * number as f64);
            let x = self.x(at);
            drawing.line(Point::new(x, top), Point::new(x, bottom + 4.0), "grid");
            // The last one would leave the drawing.
            let middle = x.min(self.right + 16.0 - width_of("00:00") / 2.0);
            let place = Point::new(middle, bottom + 21.0);
            drawing.text(place, Anchor::Middle, "tick", &hour_minute(at));
            if let Some((clock, word)) = self.local(at)
                && middle - width_of(&clock) / 2.0 > width_of(&word)
            {
                let below = Point::new(middle, place.y + LINE);
                drawing.text(below, Anchor::Middle, "tick", &clock);
            }
        }
        drawing.text(Point::new(0.0, bottom + 21.0), Anchor::Start, "unit", "UTC");
        if let Some((_, word)) = self.local(self.window.from) {
            drawing.text(Point::new(0.0, bottom + 21.0 + LINE), Anchor::Start, "unit", &word);
        }
    }
}
