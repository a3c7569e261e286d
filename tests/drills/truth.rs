//! What is true of a drill, number by number: from how it was sailed, not from what was heard.

use super::radio::Air;
use super::sail::{KNOT, Sailed, Vector};
use super::story::{After, Story};

/// The rules of the numbers, as docs/debrief.md tells them.
const THERE_M: f64 = 50.0;
const SLOW: f64 = 2.0 * KNOT;
const STAYS_S: usize = 10;
const PASS_M: f64 = 0.2 * 1852.0;
const TURNED_M: f64 = 40.0;

/// The truth of each number; seconds of the recording and metres. `None` where it did not happen.
#[derive(Debug)]
pub struct Truth {
    pub first: f64,
    pub first_fix: Option<f64>,
    pub turns: Option<f64>,
    pub sailed_to_turn: Option<f64>,
    pub range_at_turn: Option<f64>,
    /// From the first message until she was there.
    pub greatest: Option<(f64, f64)>,
    /// The time when the range was within a metre of the least, and that.
    pub closest: Option<((f64, f64), f64)>,
    pub passes: Vec<(f64, f64)>,
    pub there: Option<f64>,
    pub aboard: Option<f64>,
    /// The beacon's first word of OFF that was heard.
    pub off: Option<f64>,
    pub first_range: f64,
    pub last_range: f64,
    pub greatest_heard: f64,
    /// Metres a second, over ground.
    pub drift: Vector,
    /// What she sailed over ground from the turn until she was there.
    pub way_back: Option<f64>,
    /// What an interception at the turn would have taken at the same mean speed: metres and seconds.
    pub needed: Option<(f64, f64)>,
    /// Messages of the bursts from the first to the last that was heard.
    pub sent: usize,
    /// Messages heard before the casualty was on board, and those of the bursts that began before it.
    pub in_water: Option<(usize, usize)>,
    /// How far each position that was heard was off, in metres, and when that was.
    pub offs: Vec<(f64, f64)>,
}

/// The truth of a drill, of which this was heard of the beacon.
pub fn truth(story: &Story, sailed: &Sailed, air: &Air) -> Truth {
    let end = sailed.seconds.len() - 1;
    let first = air.heard.first().map_or(0.0, |it| it.t);
    let turned = sailed.turns < end;
    let turns = turned.then_some(sailed.turns as f64);
    let out = sailed.aboard.unwrap_or(end);
    let there = arrival(sailed, sailed.turns, out);
    let until = there.unwrap_or(out);
    let greatest = (first as usize..=until)
        .map(|t| (t as f64, sailed.range(t as f64)))
        .max_by(|one, other| one.1.total_cmp(&other.1));
    let (passes, approached) = passes(sailed, sailed.turns.min(first as usize), out, until);
    let closest = (turned && (approached || there.is_some())).then(|| {
        let least = |t: &usize| sailed.range(*t as f64);
        let all: Vec<usize> = (sailed.turns..out).collect();
        let nearest = all.iter().map(least).fold(f64::INFINITY, f64::min);
        let near: Vec<f64> =
            all.iter().filter(|t| least(t) <= nearest + 1.0).map(|&t| t as f64).collect();
        ((near[0], *near.last().unwrap()), nearest)
    });
    let (from, to) = (sailed.falls, until.max(sailed.falls + 1));
    let (begin, stop) = (sailed.seconds[from].beacon, sailed.seconds[to].beacon);
    let metres = |from: usize, until: usize| -> f64 {
        sailed.seconds[from..until].iter().map(|it| it.motion.length()).sum()
    };
    let way_back = there.filter(|_| turned).map(|there| metres(sailed.turns, there));
    let drift = stop.minus(begin).times(1.0 / (to - from) as f64);
    let needed = way_back.zip(there).and_then(|(way, there)| {
        let apart = sailed.beacon(sailed.turns as f64).minus(sailed.boat(sailed.turns as f64));
        let speed = way / (there - sailed.turns) as f64;
        let met = |t: &f64| apart.plus(drift.times(*t)).length() <= speed * t;
        let t = (1..20_000).map(|tenths| f64::from(tenths) / 10.0).find(met)?;
        Some((speed * t, t))
    });
    let last = air.heard.last().map_or(0.0, |it| it.t);
    let sent = |until: f64| -> usize {
        let bursts = air.sent.iter().filter(|burst| {
            burst.last().is_some_and(|end| *end >= first)
                && burst.first().is_some_and(|t| *t <= last)
        });
        bursts.filter(|burst| burst[0] < until).map(Vec::len).sum()
    };
    let ranges = || air.heard.iter().map(|it| sailed.range(it.t));
    Truth {
        first,
        first_fix: air.heard.iter().find(|it| it.has_fix).map(|it| it.t),
        turns,
        sailed_to_turn: turns
            .map(|turns| if turns > first { metres(first as usize, turns as usize) } else { 0.0 }),
        range_at_turn: turns.map(|turns| sailed.range(turns)),
        greatest,
        closest,
        passes,
        there: there.map(|t| t as f64),
        aboard: sailed.aboard.filter(|_| story.after != After::Never).map(|t| t as f64),
        off: air.heard.iter().find(|it| it.is_off).map(|it| it.t),
        first_range: sailed.range(first),
        last_range: air.heard.last().map_or(0.0, |it| sailed.range(it.t)),
        greatest_heard: ranges().fold(0.0, f64::max),
        drift,
        way_back,
        needed,
        sent: sent(f64::INFINITY),
        offs: air.heard.iter().filter_map(|it| Some((it.t, it.off_m?))).collect(),
        in_water: sailed.aboard.filter(|_| story.calls_every.is_none()).map(|aboard| {
            let aboard = aboard as f64;
            (air.heard.iter().filter(|it| it.t < aboard).count(), sent(aboard))
        }),
    }
}

impl Truth {
    /// How far the positions of a time were off on average, in metres.
    pub fn position_error(&self, from: f64, until: f64) -> Option<f64> {
        let within = self.offs.iter().filter(|(t, _)| (from..=until).contains(t));
        let all: Vec<f64> = within.map(|(_, off)| *off).collect();
        (!all.is_empty()).then(|| all.iter().sum::<f64>() / all.len() as f64)
    }
}

/// When she was there for good: near and slow against the casualty, and not further off than twice
/// that later on.
fn arrival(sailed: &Sailed, from: usize, until: usize) -> Option<usize> {
    let near = |t: usize| {
        let t = t as f64;
        sailed.range(t) <= THERE_M && sailed.relative_speed(t) < SLOW
    };
    let left = (from..until).rev().find(|&t| sailed.range(t as f64) > 2.0 * THERE_M);
    let from = left.map_or(from, |left| left.max(from));
    (from..until.saturating_sub(STAYS_S)).find(|&t| (t..=t + STAYS_S).all(near))
}

/// The passes before she was there, and whether she came nearer at all.
fn passes(sailed: &Sailed, from: usize, until: usize, there: usize) -> (Vec<(f64, f64)>, bool) {
    let mut passes = Vec::new();
    let (mut closing, mut approached) = (false, false);
    let mut turned = (from as f64, sailed.range(from as f64));
    for t in from..until {
        let now = (t as f64, sailed.range(t as f64));
        if closing {
            if now.1 < turned.1 {
                turned = now;
            } else if now.1 > turned.1 + TURNED_M {
                if turned.1 <= PASS_M && turned.0 < there as f64 {
                    passes.push(turned);
                }
                (closing, turned) = (false, now);
            }
        } else if now.1 > turned.1 {
            turned = now;
        } else if now.1 < turned.1 - TURNED_M {
            (closing, approached, turned) = (true, true, now);
        }
    }
    (passes, approached)
}
