//! What happens in a drill, before anybody sails it: who falls when, how the boat answers, what the
//! wind and the stream do, what the receivers lose.

/// How the boat turns back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Turn {
    /// The short way round towards the casualty.
    Straight,
    /// The long way round, through the wind.
    LongWay,
    /// 60° to one side, then hard over to the other until she runs back on her wake.
    Williamson,
    /// Round in a circle at once, slowly: the quick stop under sail.
    QuickStop,
}

/// What she does with the casualty on board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum After {
    /// The recording ends before she arrives.
    Never,
    /// She stays where she drifts until the end.
    Stays,
    /// She sails on for so many seconds.
    SailsOn(usize),
    /// She sails on for so many seconds, and lies in port for as many as that.
    Port(usize, usize),
    /// She goes to the other one, and has them on board as well.
    Other,
}

/// When the beacon tells which position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fixes {
    /// A fresh one in each message, so many seconds old.
    Fresh(f64),
    /// One for each burst, so many seconds old when that begins.
    OneABurst(f64),
}

/// A drill as it is planned. Seconds from the beginning of the recording unless they say otherwise;
/// directions in degrees true, speeds in knots.
#[derive(Clone, Debug)]
pub struct Story {
    pub seed: u64,
    pub course: f64,
    pub speed: f64,
    /// Where the wind comes from, and how strong it is.
    pub wind: (f64, f64),
    /// Where the stream sets, and its rate.
    pub stream: (f64, f64),
    /// The person's leeway: share of the wind, and degrees off downwind.
    pub leeway: (f64, f64),
    /// The boat's leeway when she lies, as a share of the wind.
    pub boat_leeway: f64,
    /// Degrees by which she leaves her course under way.
    pub crabs: f64,
    pub falls: usize,
    /// From then until somebody else falls.
    pub other: Option<usize>,
    /// A change of course before the fall: so many seconds earlier, by so many degrees.
    pub before: Option<(usize, f64)>,
    /// From the fall until the helm goes over.
    pub reacts: usize,
    pub turn: Turn,
    /// Degrees a second.
    pub turn_rate: f64,
    pub back: f64,
    /// Passes missed: metres aside of each.
    pub passes: Vec<f64>,
    /// Between her antenna and the casualty alongside, in metres.
    pub beside: f64,
    /// From alongside until the casualty is on board, and from there until she goes on.
    pub lifts: usize,
    pub stays: usize,
    pub after: After,
    /// Seconds after the recovery until the beacon is switched off.
    pub off: Option<usize>,
    /// Nothing but a DSC call with a position every so many seconds.
    pub calls_every: Option<f64>,
    /// The bursts that the beacon sends in all.
    pub bursts: usize,
    /// From the fall to the first burst, and to the first fix.
    pub first_burst: f64,
    pub first_fix: f64,
    pub fixes: Fixes,
    /// Standard deviation of the positions of the boat and of the beacon, along each axis, metres.
    pub noise: (f64, f64),
    /// A share of the bursts whose position is far off, and by how many metres.
    pub wild: (f64, f64),
    pub has_heading: bool,
    pub has_log: bool,
    pub has_wind: bool,
    /// Share of messages that are lost.
    pub loss: f64,
    /// Nothing of the beacon is heard from … until.
    pub faded: Vec<(f64, f64)>,
    /// Nothing of the beacon from so long before she leaves the place until so long after it.
    pub faded_around_leaving: Option<(f64, f64)>,
    /// Nothing at all is recorded from … until.
    pub gaps: Vec<(f64, f64)>,
    /// How far the labels run ahead of UTC.
    pub clock: f64,
}

/// The kinds of drills that the seeds walk through.
pub const KINDS: [&str; 15] = [
    "plain",
    "quick",
    "passes",
    "stream",
    "port",
    "tack before",
    "williamson",
    "old fixes",
    "slow",
    "never",
    "restarts",
    "bare",
    "three bursts",
    "called",
    "two",
];

impl Story {
    /// The kind of a seed's drill.
    pub fn kind(seed: u64) -> &'static str {
        KINDS[(seed % KINDS.len() as u64) as usize]
    }

    /// The drill of a seed.
    pub fn of(seed: u64) -> Self {
        Self::of_kind(seed, Self::kind(seed))
    }

    /// The same of another kind.
    pub fn of_kind(seed: u64, kind: &str) -> Self {
        let mut dice = fastrand::Rng::with_seed(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 15);
        let mut story = Self::any(seed, &mut dice);
        let mut within = |low: f64, high: f64| low + dice.f64() * (high - low);
        match kind {
            "quick" => {
                story.reacts = within(3.0, 25.0) as usize;
                story.turn_rate = within(5.0, 12.0);
                story.speed = within(3.5, 5.0);
                story.back = within(3.5, 5.0);
                story.passes.clear();
                story.lifts = within(20.0, 60.0) as usize;
                story.stays = within(10.0, 40.0) as usize;
                story.off = seed.is_multiple_of(2).then(|| within(5.0, 40.0) as usize);
            }
            "passes" => {
                story.passes = vec![within(25.0, 70.0)];
                if seed.is_multiple_of(2) {
                    story.passes.push(within(25.0, 70.0));
                }
            }
            "stream" => story.stream.1 = within(2.5, 4.0),
            "port" => {
                story.after = After::Port(within(600.0, 1500.0) as usize, 900);
                story.off = None;
                story.faded_around_leaving = Some((within(30.0, 150.0), within(120.0, 400.0)));
            }
            "tack before" => {
                let by = within(70.0, 110.0) * if seed.is_multiple_of(2) { 1.0 } else { -1.0 };
                story.before = Some((within(40.0, 90.0) as usize, by));
                story.reacts = within(10.0, 90.0) as usize;
            }
            "williamson" => {
                story.turn = Turn::Williamson;
                story.turn_rate = within(5.0, 11.0);
            }
            "old fixes" => {
                let age = within(5.0, 15.0);
                story.fixes =
                    if seed.is_multiple_of(2) { Fixes::OneABurst(age) } else { Fixes::Fresh(age) };
            }
            "slow" => {
                story.reacts = within(900.0, 2400.0) as usize;
                story.speed = within(2.0, 4.0);
                story.loss = within(0.1, 0.5);
            }
            "never" => story.after = After::Never,
            "restarts" => {
                let fall = story.falls as f64;
                story.gaps = vec![
                    (fall + within(20.0, 90.0), fall + within(100.0, 130.0)),
                    (fall + within(200.0, 260.0), fall + within(270.0, 330.0)),
                ];
            }
            "three bursts" => {
                story.bursts = 3;
                story.first_fix = story.first_fix.min(story.first_burst);
            }
            "called" => {
                story.calls_every = Some(within(50.0, 200.0));
                story.off = None;
            }
            "two" => {
                story.reacts = within(40.0, 120.0) as usize;
                story.other = Some(within(5.0, 30.0) as usize);
                story.after = After::Other;
                story.off = story.off.map(|_| within(5.0, 60.0) as usize);
            }
            "bare" => (story.has_heading, story.has_log, story.has_wind) = (false, false, false),
            _ => {}
        }
        story
    }

    /// A drill of which all is said: a minute and a half after the fall she turns straight back, lies
    /// beside for two minutes, and has the person on board. Good receivers, and all instruments.
    pub fn simple() -> Self {
        Self {
            seed: 1,
            course: 90.0,
            speed: 6.0,
            wind: (180.0, 10.0),
            stream: (300.0, 0.6),
            leeway: (0.01, 10.0),
            boat_leeway: 0.03,
            crabs: 2.0,
            falls: 300,
            other: None,
            before: None,
            reacts: 90,
            turn: Turn::Straight,
            turn_rate: 6.0,
            back: 5.0,
            passes: Vec::new(),
            beside: 5.0,
            lifts: 120,
            stays: 60,
            after: After::Stays,
            off: None,
            calls_every: None,
            bursts: usize::MAX,
            first_burst: 20.0,
            first_fix: 10.0,
            fixes: Fixes::Fresh(0.5),
            noise: (1.5, 2.0),
            wild: (0.0, 0.0),
            has_heading: true,
            has_log: true,
            has_wind: true,
            loss: 0.0,
            faded: Vec::new(),
            faded_around_leaving: None,
            gaps: Vec::new(),
            clock: 0.0,
        }
    }

    fn any(seed: u64, dice: &mut fastrand::Rng) -> Self {
        let mut within = |low: f64, high: f64| low + dice.f64() * (high - low);
        let wind = (within(0.0, 360.0), within(4.0, 22.0));
        Self {
            seed,
            course: within(0.0, 360.0),
            speed: within(4.0, 7.0),
            wind,
            stream: (within(0.0, 360.0), within(0.0, 1.8)),
            leeway: (within(0.003, 0.02), within(-40.0, 40.0)),
            boat_leeway: within(0.02, 0.04),
            crabs: within(-5.0, 5.0),
            falls: within(150.0, 500.0) as usize,
            other: None,
            before: None,
            reacts: within(10.0, 150.0) as usize,
            turn: match (within(0.0, 4.0)) as u32 {
                0 => Turn::LongWay,
                1 => Turn::QuickStop,
                _ => Turn::Straight,
            },
            turn_rate: within(3.0, 12.0),
            back: within(3.5, 6.0),
            passes: if within(0.0, 1.0) < 0.2 { vec![within(25.0, 70.0)] } else { Vec::new() },
            beside: within(2.0, 9.0),
            lifts: within(40.0, 300.0) as usize,
            stays: within(10.0, 200.0) as usize,
            after: match within(0.0, 4.0) as u32 {
                0 => After::Stays,
                1 => After::Port(within(400.0, 900.0) as usize, 600),
                _ => After::SailsOn(within(200.0, 900.0) as usize),
            },
            off: (within(0.0, 1.0) < 0.5).then(|| within(5.0, 500.0) as usize),
            calls_every: None,
            bursts: usize::MAX,
            first_burst: within(5.0, 60.0),
            first_fix: within(4.0, 70.0),
            fixes: match within(0.0, 3.0) as u32 {
                0 => Fixes::OneABurst(within(0.0, 5.0)),
                _ => Fixes::Fresh(within(0.0, 1.5)),
            },
            noise: (within(1.0, 3.5), within(1.5, 6.0)),
            wild: if within(0.0, 1.0) < 0.15 { (0.08, within(30.0, 150.0)) } else { (0.0, 0.0) },
            has_heading: within(0.0, 1.0) < 0.75,
            has_log: within(0.0, 1.0) < 0.5,
            has_wind: within(0.0, 1.0) < 0.5,
            loss: within(0.0, 0.3),
            faded: Vec::new(),
            faded_around_leaving: None,
            gaps: Vec::new(),
            clock: 0.0,
        }
    }
}
