//! Own ship's track, bounded: coarse far from any incident, every second around one.

use std::collections::VecDeque;
use std::time::Duration;

use super::drill::OwnPoint;
use super::labels::{moved, ms_of};
use crate::time::Utc;

/// From so long before the first message of a beacon the track is kept second by second. Our own.
const BEFORE: Duration = Duration::from_secs(5 * 60);

/// So much of it waits, second by second, for a beacon to be heard. Our own.
const WAITING: Duration = Duration::from_secs(10 * 60);

/// Far from any incident a point is kept this often … Our own.
const STEP: Duration = Duration::from_secs(10);

/// … or when the course has changed by so many degrees. Our own.
const TURN_DEG: f64 = 15.0;

/// Points kept. A day at one in ten seconds is 8 640, and four hours second by second 14 400.
/// Our own.
const LIMIT: usize = 30_000;

/// At the limit every other point goes, save those of this long after the first incident began.
/// Our own.
const SPARED: Duration = Duration::from_secs(2 * 3600);

/// The track as it grows.
#[derive(Debug, Default)]
pub(super) struct OwnTrack {
    kept: Vec<OwnPoint>,
    waiting: VecDeque<OwnPoint>,
    in_incident: bool,
    first_incident: Option<Utc>,
    /// How often the coarse step has been doubled.
    thinned: u32,
}

impl OwnTrack {
    /// Takes a point, not older than the last.
    pub(super) fn note(&mut self, point: OwnPoint) {
        if self.in_incident {
            self.keep(point);
            return;
        }
        self.waiting.push_back(point);
        while let Some(oldest) = self.waiting.front()
            && point.at.ms_since(oldest.at) > ms_of(WAITING)
        {
            let oldest = *oldest;
            self.waiting.pop_front();
            self.keep_coarsely(oldest);
        }
    }

    /// Somebody may be in the water: from five minutes ago on every second counts.
    pub(super) fn begin_incident(&mut self, at: Utc) {
        if self.in_incident {
            return;
        }
        self.in_incident = true;
        self.first_incident = self.first_incident.or(Some(at));
        for point in std::mem::take(&mut self.waiting) {
            if at.ms_since(point.at) > ms_of(BEFORE) {
                self.keep_coarsely(point);
            } else {
                self.keep(point);
            }
        }
    }

    /// Nobody is in the water any more.
    pub(super) fn end_incident(&mut self) {
        self.in_incident = false;
    }

    /// Moves all that was kept so far in time.
    pub(super) fn shift(&mut self, ms: i64) {
        for point in self.kept.iter_mut().chain(&mut self.waiting) {
            point.at = moved(point.at, ms);
        }
        self.first_incident = self.first_incident.map(|at| moved(at, ms));
    }

    /// All that was kept.
    pub(super) fn finish(mut self) -> Vec<OwnPoint> {
        for point in std::mem::take(&mut self.waiting) {
            self.keep_coarsely(point);
        }
        self.kept
    }

    fn keep_coarsely(&mut self, point: OwnPoint) {
        let step = ms_of(STEP) << self.thinned.min(16);
        let wanted = self.kept.last().is_none_or(|last| {
            let turned = last.cog_deg.zip(point.cog_deg);
            let ms = point.at.ms_since(last.at);
            ms >= step
                || ms >= step / 5
                    && turned.is_some_and(|(then, now)| now.relative_to(then).abs() > TURN_DEG)
        });
        if wanted {
            self.keep(point);
        }
    }

    fn keep(&mut self, point: OwnPoint) {
        if self.kept.len() >= LIMIT {
            self.thin();
        }
        self.kept.push(point);
    }

    fn thin(&mut self) {
        self.thinned += 1;
        let spared = self.first_incident.map(|at| {
            let (before, after) = (ms_of(BEFORE), ms_of(SPARED));
            moved(at, -before)..moved(at, after)
        });
        let mut odd = false;
        self.kept.retain(|point| {
            odd = !odd;
            odd || spared.as_ref().is_some_and(|spared| spared.contains(&point.at))
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::navigation::Position;
    use crate::units::Degrees;

    fn point(second: i64, cog: f64) -> OwnPoint {
        OwnPoint {
            at: Utc::from_unix_ms(second * 1000).unwrap(),
            position: Position::new(0.0, 0.0).unwrap(),
            sog_kn: None,
            cog_deg: Some(Degrees::new(cog)),
            heading_deg: None,
            water_speed_kn: None,
        }
    }

    #[test]
    fn it_is_coarse_but_around_an_incident() {
        let mut track = OwnTrack::default();
        for second in 0..2000 {
            track.note(point(second, 0.0));
        }
        track.begin_incident(point(2000, 0.0).at);
        for second in 2000..2100 {
            track.note(point(second, 0.0));
        }
        let kept = track.finish();
        let seconds: Vec<i64> = kept.iter().map(|it| it.at.unix_ms() / 1000).collect();
        assert_eq!(seconds.iter().filter(|&&it| it < 1700).count(), 170, "one in ten");
        assert_eq!(seconds.iter().filter(|&&it| it >= 1700).count(), 400, "each");
    }

    #[test]
    fn a_turn_is_kept_between_the_steps() {
        let mut track = OwnTrack::default();
        for second in 0..=10 {
            track.note(point(second, if second < 4 { 0.0 } else { 90.0 }));
        }
        let seconds: Vec<i64> = track.finish().iter().map(|it| it.at.unix_ms() / 1000).collect();
        assert_eq!(seconds, [0, 4]);
    }

    #[test]
    fn a_day_of_an_incident_stays_within_the_limit_and_its_beginning_is_spared() {
        let mut track = OwnTrack::default();
        for second in 0..86_400 {
            if second == 600 {
                track.begin_incident(point(second, 0.0).at);
            }
            track.note(point(second, 0.0));
        }
        let kept = track.finish();
        assert!(kept.len() <= LIMIT, "{}", kept.len());
        let spared = kept.iter().filter(|it| (300..7800).contains(&(it.at.unix_ms() / 1000)));
        assert_eq!(spared.count(), 7500);
    }
}
