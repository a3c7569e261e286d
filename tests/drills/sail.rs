//! Sails a story, second by second, on a plane: own ship by her helm, through water that moves; the
//! casualty with the water and the wind; both as one when she has hold of them.

use super::story::{After, Story, Turn};

/// Metres a second in a knot.
pub const KNOT: f64 = 1852.0 / 3600.0;

/// Metres east and north.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Vector(pub f64, pub f64);

impl Vector {
    pub fn of(degrees: f64, length: f64) -> Self {
        let (east, north) = degrees.to_radians().sin_cos();
        Self(east * length, north * length)
    }

    pub fn plus(self, other: Self) -> Self {
        Self(self.0 + other.0, self.1 + other.1)
    }

    pub fn minus(self, other: Self) -> Self {
        Self(self.0 - other.0, self.1 - other.1)
    }

    pub fn times(self, by: f64) -> Self {
        Self(self.0 * by, self.1 * by)
    }

    pub fn length(self) -> f64 {
        self.0.hypot(self.1)
    }

    pub fn bearing(self) -> f64 {
        self.0.atan2(self.1).to_degrees().rem_euclid(360.0)
    }
}

/// The turn from one direction to another, −180 to 180.
pub fn turn_to(from: f64, to: f64) -> f64 {
    (to - from + 180.0).rem_euclid(360.0) - 180.0
}

/// Own ship and the beacon in one second.
#[derive(Clone, Copy, Debug)]
pub struct Second {
    pub boat: Vector,
    /// Over ground, metres a second.
    pub motion: Vector,
    pub heading: f64,
    /// Knots through the water.
    pub speed: f64,
    pub beacon: Vector,
    /// That of whoever else fell; she carries it until then.
    pub other: Vector,
}

/// A drill as it went.
#[derive(Clone, Debug)]
pub struct Sailed {
    pub seconds: Vec<Second>,
    pub falls: usize,
    /// When the helm went over for the way back.
    pub turns: usize,
    /// When she had hold of the casualty, it was on board, and she went on.
    pub holds: Option<usize>,
    pub aboard: Option<usize>,
    pub leaves: Option<usize>,
    /// The same of whoever else fell.
    pub other_falls: Option<usize>,
    pub other_holds: Option<usize>,
    pub other_aboard: Option<usize>,
}

/// What the helm does.
enum Helm {
    Course(f64),
    /// Turn by the sum of so many degrees, and then what follows.
    Round(f64, Vec<f64>),
    /// To the casualty, so many metres aside.
    Meet(f64),
    /// On with this heading until then.
    Overrun(usize),
    Hold(Vector),
    Lie,
}

/// Sails it.
pub fn sail(story: &Story) -> Sailed {
    let stream = Vector::of(story.stream.0, story.stream.1 * KNOT);
    let downwind = story.wind.0 + 180.0;
    let wind = story.wind.1 * KNOT;
    let leeway = Vector::of(downwind + story.leeway.1, story.leeway.0 * wind);
    let adrift = Vector::of(downwind, story.boat_leeway * wind);
    let start = story.before.map_or(story.course, |(_, by)| story.course - by);
    let mut now = Second {
        boat: Vector::default(),
        motion: Vector::default(),
        heading: start,
        speed: story.speed,
        beacon: Vector::default(),
        other: Vector::default(),
    };
    let mut found = Sailed {
        seconds: Vec::new(),
        falls: story.falls,
        turns: story.falls + story.reacts,
        holds: None,
        aboard: None,
        leaves: None,
        other_falls: story.other.map(|later| story.falls + later),
        other_holds: None,
        other_aboard: None,
    };
    let mut helm = Helm::Course(start);
    let mut passes = story.passes.iter();
    let mut end = story.falls + story.reacts + 5400;
    let mut t = 0;
    while t < end {
        if let Some((earlier, _)) = story.before
            && t + earlier == story.falls
        {
            helm = Helm::Course(story.course);
        }
        let mut to_other = found.leaves.is_some() && story.after == After::Other;
        let goal = if to_other { now.other } else { now.beacon };
        let mut way = goal.minus(now.boat);
        if t == found.turns {
            helm = turn_back(story, now.heading, way);
        }
        if let Some(holds) = found.holds.filter(|_| story.after != After::Never) {
            let aboard = holds + story.lifts;
            let leaves = aboard + story.stays;
            found.aboard = (t >= aboard).then_some(aboard);
            match story.after {
                After::Stays => end = leaves + 300,
                After::SailsOn(_) | After::Port(..) if t == leaves => {
                    found.leaves = Some(leaves);
                    helm = Helm::Course(story.course + 40.0);
                }
                After::Other if t == leaves => {
                    found.leaves = Some(leaves);
                    helm = Helm::Meet(0.0);
                    (to_other, way) = (true, now.other.minus(now.boat));
                }
                _ => {}
            }
            if let Some(holds) = found.other_holds {
                found.other_aboard = (t >= holds + story.lifts).then_some(holds + story.lifts);
                end = holds + story.lifts + story.stays + 120;
            }
            match story.after {
                After::SailsOn(on) => end = leaves + on,
                After::Port(on, lies) => {
                    end = leaves + on + lies;
                    if t == leaves + on {
                        helm = Helm::Lie;
                    }
                }
                _ => {}
            }
        }
        // What is wanted: a heading and a speed through the water.
        let (heading, speed) = match &mut helm {
            Helm::Course(course) => (*course, story.speed),
            Helm::Round(left, later) => {
                let step = left.clamp(-story.turn_rate, story.turn_rate);
                *left -= step;
                let heading = now.heading + step;
                let slow = if story.turn == Turn::QuickStop { 3.0_f64 } else { 9.0 };
                if left.abs() < 1e-9 {
                    helm = match later.pop() {
                        Some(next) => Helm::Round(next, std::mem::take(later)),
                        None => Helm::Meet(passes.next().copied().unwrap_or(0.0)),
                    };
                }
                (heading, story.speed.min(slow))
            }
            Helm::Meet(aside) => {
                let aside = *aside;
                let aim = way.plus(Vector::of(way.bearing() + 90.0, aside));
                let slow = match way.length() {
                    ..15.0 => 1.0,
                    ..80.0 => 2.5,
                    _ => story.back,
                };
                if aside > 0.0 && way.length() < aside + 25.0 {
                    helm = Helm::Overrun(t + (300.0 / (story.back * KNOT)) as usize);
                    (now.heading, story.back)
                } else if aside == 0.0 && way.length() < story.beside + 1.0 {
                    if story.after == After::Never {
                        break;
                    }
                    *(if to_other { &mut found.other_holds } else { &mut found.holds }) = Some(t);
                    helm = Helm::Hold(way);
                    (now.heading, 0.0)
                } else {
                    // Through the water the casualty only has its leeway.
                    let lead = leeway.times(way.length() / (story.back * KNOT));
                    (aim.plus(lead).bearing(), if aside > 0.0 { story.back } else { slow })
                }
            }
            Helm::Overrun(until) => {
                if t >= *until {
                    helm = Helm::Meet(passes.next().copied().unwrap_or(0.0));
                }
                (now.heading, story.back)
            }
            Helm::Hold(_) | Helm::Lie => (now.heading, 0.0),
        };
        if story.after == After::Never
            && t > found.turns + 60
            && way.length() < 150.0
            && story.seed.is_multiple_of(2)
        {
            break;
        }
        let turn = turn_to(now.heading, heading).clamp(-story.turn_rate, story.turn_rate);
        now.heading = (now.heading + turn).rem_euclid(360.0);
        now.speed += (speed - now.speed).clamp(-0.6, 0.4);
        let crabs = if now.speed > 1.0 { story.crabs } else { 0.0 };
        let through = Vector::of(now.heading + crabs, now.speed * KNOT);
        let lying = adrift.times(1.0 - (now.speed / 2.0).min(1.0));
        now.motion = match helm {
            Helm::Lie => Vector::default(),
            _ => stream.plus(through).plus(lying),
        };
        found.seconds.push(now);
        now.boat = now.boat.plus(now.motion);
        now.beacon = match helm {
            _ if t < story.falls => now.boat,
            _ if found.aboard.is_some() => now.boat.plus(Vector(1.0, 2.0)),
            Helm::Hold(way) => now.boat.plus(way),
            _ => now.beacon.plus(stream).plus(leeway),
        };
        now.other = match helm {
            _ if found.other_falls.is_none_or(|falls| t < falls) => now.boat,
            _ if found.other_aboard.is_some() => now.boat.plus(Vector(2.0, -1.0)),
            Helm::Hold(way) if to_other => now.boat.plus(way),
            _ => now.other.plus(stream).plus(leeway.times(0.7)),
        };
        t += 1;
    }
    found
}

/// What the helm does at the turn.
fn turn_back(story: &Story, heading: f64, way: Vector) -> Helm {
    let back = turn_to(heading, way.bearing());
    let back = if back.abs() < 10.0 { 180.0 } else { back };
    match story.turn {
        Turn::Straight => Helm::Round(back, Vec::new()),
        Turn::LongWay => Helm::Round(back - 360.0_f64.copysign(back), Vec::new()),
        Turn::QuickStop => Helm::Round(270.0_f64.copysign(back), Vec::new()),
        Turn::Williamson => {
            let side = 1.0_f64.copysign(back);
            Helm::Round(60.0 * side, vec![-240.0 * side])
        }
    }
}

impl Sailed {
    /// The drill as it was for whoever else fell.
    pub fn of_other(&self) -> Option<Self> {
        let falls = self.other_falls?;
        let seconds = self.seconds.iter().map(|it| Second { beacon: it.other, ..*it }).collect();
        let (holds, aboard) = (self.other_holds, self.other_aboard);
        Some(Self { seconds, falls, holds, aboard, leaves: None, ..*self })
    }

    fn at<T>(&self, t: f64, of: impl Fn(&Second) -> T, mix: impl Fn(T, T, f64) -> T) -> T {
        let last = self.seconds.len() - 1;
        let whole = (t.max(0.0) as usize).min(last);
        let share = (t - whole as f64).clamp(0.0, 1.0);
        let (one, other) = (&self.seconds[whole], &self.seconds[(whole + 1).min(last)]);
        mix(of(one), of(other), share)
    }

    /// Where own ship is.
    pub fn boat(&self, t: f64) -> Vector {
        self.at(t, |it| it.boat, |one, other, by| one.plus(other.minus(one).times(by)))
    }

    /// Where the beacon is.
    pub fn beacon(&self, t: f64) -> Vector {
        self.at(t, |it| it.beacon, |one, other, by| one.plus(other.minus(one).times(by)))
    }

    /// How far they are apart, in metres.
    pub fn range(&self, t: f64) -> f64 {
        self.boat(t).minus(self.beacon(t)).length()
    }

    /// How fast they move against each other, in metres a second.
    pub fn relative_speed(&self, t: f64) -> f64 {
        let apart = |t: f64| self.boat(t).minus(self.beacon(t));
        apart(t + 0.5).minus(apart(t - 0.5)).length()
    }
}
