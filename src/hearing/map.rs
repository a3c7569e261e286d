//! The common map: where a beacon would be heard, by whom, and where by nobody.

use std::f64::consts::PI;

use serde::Serialize;

use crate::navigation::range_and_bearing;
use crate::position::Position;
use crate::units::{Degrees, NauticalMiles};

/// Neighbours further apart than this are not looked at: no antenna closes such a gap. Our own.
const APART_NM: f64 = 100.0;

/// Gaps that are kept; of 128 stations there are hardly so many. Our own.
const GAPS: usize = 400;

/// Places looked at in each sector, by direction and by range, and between two neighbours. Our own.
const DIRECTIONS: u16 = 6;
const RINGS: u16 = 12;
const STEPS: u16 = 200;

/// Places nearer to each other than this are one: a step of a position in AIS. Our own.
const SAME_NM: f64 = 0.001;

/// Where a beacon would be heard. Land is not known here, and counts as sea.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CommonMap {
    /// The receivers whose place is known, by their numbers: the watch's own, then the stations.
    pub receivers: Vec<Placed>,
    /// The area in which one would hear it, in square nautical miles; another may, in a direction of
    /// which nothing is known.
    pub one_nm2: f64,
    /// The area in which two or more would.
    pub more_nm2: f64,
    /// The area in which somebody would who is known to hear so far in other directions alone.
    pub not_sure_nm2: f64,
    /// How many neighbours were looked at: two no more than 100 NM apart, and no third nearer to both.
    pub neighbours: usize,
    /// Where nobody is known to hear it between two neighbours, the widest first.
    pub gaps: Vec<Gap>,
}

/// A receiver whose place is known, and how far it hears in the middle of the hours.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Placed {
    /// Its number on the map, from 1.
    pub number: usize,
    /// The name of the station; `None` is the watch's own receiver.
    pub station: Option<String>,
    /// Where it stands; what moves, where it was last.
    pub position: Position,
    /// All directions together, at least where that alone is known; `None` if not known.
    pub range_nm: Option<NauticalMiles>,
    /// From north, clockwise, 30 degrees each: `None` where this direction was not known by itself.
    pub sectors_nm: [Option<NauticalMiles>; 12],
}

/// Two neighbours, with a stretch of the straight line between them on which nobody is known to hear a
/// beacon.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Gap {
    /// Their numbers.
    pub between: [usize; 2],
    /// How far they are apart.
    pub apart_nm: NauticalMiles,
    /// How far each hears towards the other.
    pub heard_nm: [NauticalMiles; 2],
    /// Whether that is known of this direction itself.
    pub known: [bool; 2],
    /// How much of the line nobody would hear.
    pub unheard_nm: NauticalMiles,
    /// How much of it somebody would who is known to hear so far in other directions alone.
    pub not_sure_nm: NauticalMiles,
}

impl Placed {
    /// How far it hears towards a true direction, and whether that is known of this direction itself.
    pub fn towards(&self, bearing: Degrees) -> Option<(NauticalMiles, bool)> {
        let sector = self.sectors_nm.get((bearing.value() / 30.0) as usize).copied().flatten();
        sector.map(|it| (it, true)).or_else(|| Some((self.range_nm?, false)))
    }

    fn farthest_nm(&self) -> f64 {
        self.sectors_nm
            .iter()
            .chain([&self.range_nm])
            .flatten()
            .fold(0.0, |most, it| it.0.max(most))
    }
}

impl CommonMap {
    /// Of receivers in the order of their numbers.
    pub(super) fn of(receivers: Vec<Placed>) -> Self {
        let sea = Sea::of(receivers.iter().filter(|it| it.range_nm.is_some()).collect());
        let [one_nm2, more_nm2, not_sure_nm2] = sea.areas();
        let (neighbours, gaps) = sea.gaps();
        Self { receivers, one_nm2, more_nm2, not_sure_nm2, neighbours, gaps }
    }
}

/// From one receiver to another, in the plane around the first.
#[derive(Clone, Copy)]
struct Way {
    range_nm: f64,
    bearing_deg: f64,
    east_nm: f64,
    north_nm: f64,
    /// By how much directions at the other are greater: meridians are not parallel.
    turned_deg: f64,
}

impl Way {
    fn between(from: &Placed, to: &Placed) -> Self {
        let (range, bearing) = range_and_bearing(from.position, to.position);
        let (_, back) = range_and_bearing(to.position, from.position);
        let (east, north) = bearing.value().to_radians().sin_cos();
        let (range_nm, bearing_deg) = (range.0, bearing.value());
        let is_same = range_nm < SAME_NM;
        let turned_deg = if is_same { 0.0 } else { back.value() + 180.0 - bearing_deg };
        let (east_nm, north_nm) = (east * range_nm, north * range_nm);
        Self { range_nm, bearing_deg, east_nm, north_nm, turned_deg }
    }
}

/// The receivers that hear, and how they lie to each other.
struct Sea<'a> {
    hearers: Vec<&'a Placed>,
    /// How far each hears where it hears furthest.
    farthest_nm: Vec<f64>,
    /// From each to each.
    ways: Vec<Vec<Way>>,
}

impl<'a> Sea<'a> {
    fn of(hearers: Vec<&'a Placed>) -> Self {
        let all = |from: &&'a Placed| hearers.iter().map(|to| Way::between(from, to)).collect();
        let farthest_nm = hearers.iter().map(|it| it.farthest_nm()).collect();
        Self { ways: hearers.iter().map(all).collect(), farthest_nm, hearers }
    }

    /// How many of some hear what is so far off from one of them and are known to hear that way; and
    /// how many of whom that is not known of this direction.
    fn heard(&self, some: &[(usize, Way)], at: Degrees, range_nm: f64) -> (u16, u16) {
        let (east, north) = at.value().to_radians().sin_cos();
        let (mut known, mut not_sure) = (0, 0);
        for (hearer, way) in some {
            let (east, north) = (east * range_nm - way.east_nm, north * range_nm - way.north_nm);
            let off_nm = east.hypot(north);
            if off_nm > self.farthest_nm[*hearer] {
                continue;
            }
            let bearing = Degrees::new(east.atan2(north).to_degrees() + way.turned_deg);
            match self.hearers[*hearer].towards(bearing) {
                Some((reach, true)) if off_nm <= reach.0 => known += 1,
                Some((reach, false)) if off_nm <= reach.0 => not_sure += 1,
                _ => {}
            }
        }
        (known, not_sure)
    }

    /// Those who hear anything within a range of one of them.
    fn within(&self, range_nm: f64, of: usize) -> Vec<(usize, Way)> {
        let ways = self.ways[of].iter().copied().enumerate();
        ways.filter(|(other, way)| way.range_nm <= range_nm + self.farthest_nm[*other]).collect()
    }

    /// Where one, two or more, and perhaps somebody hears, in square miles: each receiver's area in
    /// small parts, each of which is shared by those who hear there.
    fn areas(&self) -> [f64; 3] {
        let [mut one, mut more, mut not_sure] = [0.0; 3];
        for (number, hearer) in self.hearers.iter().enumerate() {
            let near = self.within(self.farthest_nm[number], number);
            for direction in 0..12 * DIRECTIONS {
                let wide = 30.0 / f64::from(DIRECTIONS);
                let at = Degrees::new((f64::from(direction) + 0.5) * wide);
                let Some((reach, is_known)) = hearer.towards(at) else { continue };
                let part = PI * reach.0.powi(2) * wide / 360.0 / f64::from(RINGS);
                // Rings of the same area, and not the same ones in each direction.
                let begin = (f64::from(direction) * 0.618).fract();
                for ring in 0..RINGS {
                    let range = reach.0 * ((f64::from(ring) + begin) / f64::from(RINGS)).sqrt();
                    match (is_known, self.heard(&near, at, range)) {
                        (true, (..2, _)) => one += part,
                        (true, (known, _)) => more += part / f64::from(known),
                        (false, (0, others)) => not_sure += part / f64::from(others.max(1)),
                        (false, _) => {}
                    }
                }
            }
        }
        [one, more, not_sure]
    }

    /// How many pairs of neighbours there are, and where nobody hears between them.
    fn gaps(&self) -> (usize, Vec<Gap>) {
        let pairs = (0..self.hearers.len()).flat_map(|one| (0..one).map(move |other| (other, one)));
        let neighbours: Vec<(usize, usize)> = pairs.filter(|it| self.are_neighbours(*it)).collect();
        let mut gaps: Vec<Gap> = neighbours.iter().filter_map(|it| self.gap(*it)).collect();
        let wide = |it: &Gap| (it.unheard_nm.0, it.not_sure_nm.0);
        gaps.sort_by(|a, b| {
            let ((a, a_more), (b, b_more)) = (wide(a), wide(b));
            b.total_cmp(&a).then(b_more.total_cmp(&a_more))
        });
        gaps.truncate(GAPS);
        (neighbours.len(), gaps)
    }

    fn are_neighbours(&self, (one, other): (usize, usize)) -> bool {
        let apart = self.ways[one][other].range_nm;
        let mut both = self.ways[one].iter().zip(&self.ways[other]);
        let is_between = |(a, b): (&Way, &Way)| a.range_nm < apart && b.range_nm < apart;
        (SAME_NM..=APART_NM).contains(&apart) && !both.any(is_between)
    }

    fn gap(&self, (one, other): (usize, usize)) -> Option<Gap> {
        let (there, back) = (self.ways[one][other], self.ways[other][one]);
        let at = Degrees::new(there.bearing_deg);
        let (heard, is_known) = self.hearers[one].towards(at)?;
        let back = Degrees::new(back.bearing_deg);
        let (heard_back, is_back_known) = self.hearers[other].towards(back)?;
        let near = self.within(there.range_nm, one);
        let (mut unheard, mut not_sure) = (0.0, 0.0);
        for step in 0..STEPS {
            let share = (f64::from(step) + 0.5) / f64::from(STEPS);
            match self.heard(&near, at, share * there.range_nm) {
                (0, 0) => unheard += there.range_nm / f64::from(STEPS),
                (0, _) => not_sure += there.range_nm / f64::from(STEPS),
                _ => {}
            }
        }
        (unheard + not_sure > 0.0).then(|| Gap {
            between: [self.hearers[one].number, self.hearers[other].number],
            apart_nm: NauticalMiles(there.range_nm),
            heard_nm: [heard, heard_back],
            known: [is_known, is_back_known],
            unheard_nm: NauticalMiles(unheard),
            not_sure_nm: NauticalMiles(not_sure),
        })
    }
}
