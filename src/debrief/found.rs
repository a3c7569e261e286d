//! What is found in a scene, step by step: when and where, before it is put into numbers and words.

use super::approach::{Approaches, Arrival, At, arrival, furthest, moment_off, nearest};
use super::courses::Compass;
use super::drill::Wind;
use super::log::{LogEntry, Logged, Subject};
use super::recovery::{Recovery, SaidOver, recovered, said_over};
use super::scene::Scene;
use super::turn::{self, DID, Fall, Manoeuvre, Turns};
use super::unseen::{Unseen, lost, unseen};
use crate::beacon;
use crate::navigation::TURNED;
use crate::time::Utc;
use crate::units::NauticalMiles;
use crate::zone::Zone;

/// A beacon speaks once a minute: one that is heard sooner after the beginning of a recording may
/// have been active before.
const LATE_S: f64 = beacon::PERIOD.as_secs_f64();

/// The moment of the fall tells what the boat did then if it is no less sure than this, and a
/// manoeuvre is of that moment for so long after its end. Our own.
const SURE_S: f64 = 30.0;
const AFTER_MANOEUVRE_S: f64 = 10.0;

/// Positions of a ship and a beacon that lie still tremble by this, in metres. Our own.
const TREMBLING_M: f64 = 10.0;

/// A beacon is silent when nothing is heard for this long, as in the watch.
pub(super) const SILENCE_S: f64 = beacon::SILENCE.as_secs_f64();

/// The times of what happened, in seconds of the recording; ranges in metres.
#[derive(Debug)]
pub(super) struct Found {
    pub first: f64,
    /// Whether that is by the logbook alone: the recordings begin later.
    pub first_logged: bool,
    /// Whether the recording may have begun after the beacon was activated.
    pub is_late: bool,
    pub alarm: Option<f64>,
    /// Whether that is by the logbook alone.
    pub alarm_logged: bool,
    pub acknowledged: Option<f64>,
    pub first_fix: Option<f64>,
    pub compass: Compass,
    pub fall: Option<Fall>,
    pub turns: Turns,
    pub pointing: Option<f64>,
    pub greatest: Option<Extreme>,
    pub closest: Option<Extreme>,
    /// `None` where no approach could be seen for want of ranges.
    pub passes: Option<Passes>,
    pub there: Option<Arrival>,
    pub recovery: Option<Recovery>,
    /// Who said that it was over, and whether that is believed.
    pub said_over: Vec<SaidOver>,
    /// When the alarm was raised again after that.
    pub raised_again: Vec<f64>,
    /// Spans without a message of more than five minutes.
    pub silences: Vec<(f64, f64)>,
}

/// The least or the greatest range: when, how far in metres, and how far both may be off.
#[derive(Clone, Copy, Debug)]
pub(super) struct Extreme {
    pub t: f64,
    pub m: f64,
    pub off_s: f64,
    pub off_m: f64,
}

impl Extreme {
    fn of(scene: &Scene<'_>, (t, m): At, ranges: &[At]) -> Self {
        let off_m = scene.range_off(t).unwrap_or_default();
        Self { t, m, off_s: moment_off(ranges, (t, m), off_m), off_m }
    }

    /// The same where it may have been so many metres more, or less, in a gap of own track.
    fn beyond(mut self, gap: &Unseen, by_m: f64) -> Self {
        if by_m > -self.off_m {
            self.off_m = self.off_m.max(by_m);
            self.off_s = self.off_s.max((gap.from - self.t).abs()).max((gap.until - self.t).abs());
        }
        self
    }
}

/// The passes missed, and how sure their number is.
#[derive(Clone, Debug)]
pub(super) struct Passes {
    pub at: Vec<At>,
    /// How many more or fewer they may be, by what ranges are off.
    pub off: usize,
    /// Whether there may be others in a gap of own track.
    pub is_hidden: bool,
}

impl Passes {
    /// Those of a time, as it is seen and as it would be seen if ranges turned by a little more or less.
    fn within(scene: &Scene<'_>, (from, until): (f64, f64), arrived: f64) -> Option<Self> {
        let ranges = scene.ranges(from, until);
        let (nearest_at, _) = nearest(ranges.iter().copied())?;
        let off = NauticalMiles::from_metres(scene.range_off(nearest_at).unwrap_or_default());
        let counted = |by: f64| {
            let by = NauticalMiles(by.max(TURNED.0 / 4.0));
            Approaches::turned_by(&ranges, by).missed(arrived)
        };
        let at = counted(TURNED.0);
        let others = [TURNED.0 - off.0, TURNED.0 + off.0].map(|by| counted(by).len());
        let off = others.into_iter().map(|other| other.abs_diff(at.len())).max().unwrap_or(0);
        let is_hidden = unseen(scene, from, arrived).iter().any(|gap| gap.hides_pass);
        Some(Self { at, off, is_hidden })
    }
}

impl Found {
    /// Looks for all of it; `None` of a beacon that was never heard.
    pub(super) fn in_scene(
        scene: &mut Scene<'_>,
        log: Option<&[LogEntry]>,
        is_only: bool,
    ) -> Option<Self> {
        let beacon = scene.beacon;
        let entries = log.unwrap_or_default();
        let mmsi = beacon.mmsi;
        let heard = scene.t(beacon.first()?);
        let (first, first_logged) = earlier(scene, entries, mmsi.map(Logged::Heard), Some(heard));
        let first = first.unwrap_or(heard);
        let replayed = beacon.alarm.map(|(at, _)| scene.t(at));
        let (alarm, alarm_logged) = earlier(scene, entries, mmsi.map(Logged::Raised), replayed);
        let off = beacon.off.map_or(scene.end, |at| scene.t(at));
        let compass = Compass::of(scene.steps(first - 120.0, off));
        let fall = Fall::in_scene(scene, first);
        let turns = Turns::in_scene(scene, compass, (first, fall), off);
        let turn = turns.back;
        let ways = Approaches::of(&scene.ranges(first, scene.end));
        let nearing = turn.or(ways.first_began).unwrap_or(first);
        let there = arrival(scene, nearing, scene.rides_from.unwrap_or(off).min(off));
        // Who never arrived has nobody on board.
        scene.unsure_from = there.and_then(|there| scene.parted(there.t));
        let of = Subject { mmsi, person: beacon.person.as_deref(), is_only };
        let said_over = said_over(scene, entries, of);
        let recovery = recovered(scene, there.map(|it| it.t), alarm.unwrap_or(first), &said_over);
        let until = recovery.as_ref().map_or(off, |it| it.t).min(scene.end);
        let there = there.filter(|there| there.t <= until);
        let arrived = there.map(|it| it.t);
        let approaches = Approaches::of(&scene.ranges(nearing, until));
        let beside = arrived.map(|there| scene.ranges(there, until)).unwrap_or_default();
        let in_water = scene.ranges(first, arrived.unwrap_or(until));
        let passes = Passes::within(scene, (nearing, until), arrived.unwrap_or(until));
        let greatest = furthest(in_water.iter().copied());
        let greatest = greatest.map(|it| {
            let gaps = unseen(scene, first, arrived.unwrap_or(until));
            let seen = Extreme::of(scene, it, &in_water);
            gaps.iter().fold(seen, |found, gap| found.beyond(gap, gap.most_m - found.m))
        });
        let closest = nearest(approaches.closest().into_iter().chain(alongside(&beside)));
        let closest = closest.map(|it| {
            let seen = Extreme::of(scene, it, &scene.ranges(nearing, until));
            let mut gaps = unseen(scene, nearing, until);
            // Who was there was no nearer later.
            if there.is_none() {
                gaps.extend(lost(scene, (nearing, until), seen.m + seen.off_m));
            }
            gaps.iter().fold(seen, |found, gap| found.beyond(gap, found.m - gap.least_m))
        });
        if scene.rides_from.is_some() || there.is_some() {
            scene.aboard_from = recovery.as_ref().map(|it| it.t);
        }
        let since = first - scene.watch_around(first).0;
        Some(Self {
            first,
            first_logged,
            is_late: !first_logged
                && since < LATE_S
                && !beacon.messages.first().is_some_and(|it| it.is_searching),
            alarm,
            alarm_logged,
            acknowledged: acknowledged(scene, entries, alarm),
            first_fix: first_place(scene),
            compass,
            fall,
            turns,
            pointing: turn.and_then(|turn| turn::pointing(scene, compass, (turn, until), 0.0)),
            greatest,
            closest,
            passes,
            there,
            silences: silences(scene),
            raised_again: raised_again(scene, entries, &said_over),
            said_over,
            recovery,
        })
    }
}

impl Found {
    /// What the boat did about when the casualty fell, in words; `None` if nothing is known of it.
    pub(super) fn when_falling(
        &self,
        scene: &Scene<'_>,
        wind: Option<&Wind>,
        zone: Option<&Zone>,
    ) -> Option<String> {
        let fall = self.fall.filter(|fall| fall.off_s <= SURE_S)?;
        let is_then = |it: &&Manoeuvre| {
            it.begun - fall.off_s <= fall.t
                && fall.t <= it.ended + fall.off_s.max(AFTER_MANOEUVRE_S)
        };
        let manoeuvre = self.turns.manoeuvres.iter().rev().find(is_then)?;
        Some(format!(
            "the boat {} at {}; the way of the beacon leads back to the boat at {} (±{:.0} s)",
            manoeuvre.words(DID, wind),
            Zone::both(zone, scene.utc(manoeuvre.begun)),
            Zone::both(zone, scene.utc(fall.t)),
            fall.off_s
        ))
    }
}

/// The nearest point of the time alongside: when she first was as near as that, for what comes after
/// is the trembling of positions.
fn alongside(ranges: &[At]) -> Option<At> {
    let (_, least) = nearest(ranges.iter().copied())?;
    let first = ranges.iter().find(|(_, range)| *range <= least + TREMBLING_M)?;
    Some((first.0, least))
}

/// What the logbook tells, where that lies before what the recordings do, and whether it does. Closer
/// than two seconds they agree: their clocks are no better.
fn earlier(
    scene: &Scene<'_>,
    log: &[LogEntry],
    what: Option<Logged>,
    recorded: Option<f64>,
) -> (Option<f64>, bool) {
    let logged = log.iter().filter(|it| Some(&it.what) == what.as_ref()).map(|it| scene.t(it.at));
    match logged.min_by(f64::total_cmp) {
        Some(t) if recorded.is_none_or(|recorded| t < recorded - 2.0) => (Some(t), true),
        _ => (recorded, false),
    }
}

/// When the alarm was raised for the first time after somebody had said that it was over.
fn raised_again(scene: &Scene<'_>, log: &[LogEntry], said: &[SaidOver]) -> Vec<f64> {
    let raised = scene.beacon.mmsi.map(Logged::Raised);
    let raised = log.iter().filter(|it| Some(&it.what) == raised.as_ref());
    let raised: Vec<f64> = raised.map(|it| scene.t(it.at)).collect();
    let after = |it: &SaidOver| raised.iter().copied().find(|t| *t > it.t);
    let mut found: Vec<f64> = said.iter().filter(|it| it.by_key).filter_map(after).collect();
    found.dedup();
    found
}

fn acknowledged(scene: &Scene<'_>, log: &[LogEntry], alarm: Option<f64>) -> Option<f64> {
    let what = scene.beacon.mmsi.map(Logged::Acknowledged);
    let times = log.iter().filter(|it| Some(&it.what) == what.as_ref());
    let times = times.map(|it| scene.t(it.at));
    times.filter(|t| alarm.is_none_or(|alarm| *t >= alarm - 1.0)).min_by(f64::total_cmp)
}

/// When the first message or call came that told a place.
fn first_place(scene: &Scene<'_>) -> Option<f64> {
    let heard = scene.beacon.messages.iter().find(|it| it.fix.is_some()).map(|it| it.at);
    let called = scene.beacon.calls.iter().find(|it| it.place.is_some()).map(|it| it.at);
    heard.into_iter().chain(called).min().map(|at| scene.t(at))
}

fn silences(scene: &Scene<'_>) -> Vec<(f64, f64)> {
    let times: Vec<Utc> = scene.beacon.messages.iter().map(|it| it.at).collect();
    let mut silences: Vec<(f64, f64)> = times
        .windows(2)
        .filter_map(|two| Some((scene.t(*two.first()?), scene.t(*two.last()?))))
        .filter_map(|(from, until)| Some((long_part(scene, from, until)?, until)))
        .collect();
    if let Some(last) = times.last().map(|last| scene.t(*last))
        && scene.beacon.off.is_none()
        && let Some(from) = long_part(scene, last, scene.end)
    {
        silences.push((from, f64::INFINITY));
    }
    silences
}

/// When a time began in which somebody listened for so long that a beacon counts as silent.
fn long_part(scene: &Scene<'_>, from: f64, until: f64) -> Option<f64> {
    let parts = scene.watched(from, until);
    parts.into_iter().find(|(from, until)| until - from > SILENCE_S).map(|(from, _)| from)
}
