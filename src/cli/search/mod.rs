//! `overside search`: a search for a casualty that has fallen silent, from what the skipper types.

mod page;
mod parse;

use std::fs::File;
use std::io::{self, BufWriter, Write as _};
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde_json::{Value, json};

use super::moment::{host_time, moment};
use super::{Common, Error, ExitCode};
use crate::gpx;
use crate::navigation::{
    Conditions, Datum, Drift, Leg, Lookout, Pattern, Position, Search, Seas, Velocity, Wind, Wishes,
};
use crate::text::json_line;
use crate::time::{Mono, Utc};
use crate::units::{Degrees, Knots, NauticalMiles};

/// What the skipper knows. Directions are true.
#[derive(Debug, clap::Args)]
pub struct SearchArgs {
    /// The last position known, such as "57 42.07N 010 35.89E"
    #[arg(long, value_name = "POSITION", value_parser = Position::parse, allow_hyphen_values = true)]
    pub at: Position,
    /// How long ago that was, such as 12min or 1h30min
    #[arg(long, value_name = "TIME", value_parser = parse::span)]
    pub since: Duration,
    /// How the casualty drifts, wind and current together: towards, and knots, such as 077/0.8
    #[arg(long, value_name = "TOWARDS/KN", value_parser = parse::flow)]
    pub drift: Option<(Degrees, Knots)>,
    /// The wind: from, and knots, such as 250/16
    #[arg(long, value_name = "FROM/KN", value_parser = parse::flow)]
    pub wind: Option<(Degrees, Knots)>,
    /// The current: towards, and knots, such as 090/1.0
    #[arg(long, value_name = "TOWARDS/KN", value_parser = parse::flow)]
    pub current: Option<(Degrees, Knots)>,
    /// Your speed through the water
    #[arg(long, value_name = "KN", value_parser = parse::speed, default_value = "5")]
    pub speed: Knots,
    /// Where you are; without it, the search begins at the datum
    #[arg(long, value_name = "POSITION", value_parser = Position::parse, allow_hyphen_values = true)]
    pub own: Option<Position>,
    /// How far you see; without it, poor visibility is assumed
    #[arg(long, value_name = "NM", value_parser = parse::miles)]
    pub visibility: Option<NauticalMiles>,
    /// Height of the lookout's eye in metres; without it, 2.4
    #[arg(long, value_name = "M", value_parser = parse::metres)]
    pub eye: Option<f64>,
    /// How high the seas are in metres, swell and wind sea together; without it, under 1 is assumed
    #[arg(long, value_name = "M", value_parser = parse::metres)]
    pub sea: Option<f64>,
    /// The lookout is tired
    #[arg(long)]
    pub tired: bool,
    /// This pattern, whatever would be proposed
    #[arg(long, value_name = "sector|square", value_parser = parse::pattern)]
    pub pattern: Option<Pattern>,
    /// The first leg of a square down-drift instead of into the wind
    #[arg(long)]
    pub down_drift: bool,
    /// Write the legs to this file as a GPX route; - for standard output
    #[arg(long, value_name = "FILE")]
    pub gpx: Option<PathBuf>,
    /// The time now, if this computer's clock is wrong (RFC 3339)
    #[arg(long, value_name = "T", value_parser = moment)]
    pub now: Option<Utc>,
}

/// A search as it was planned, and the moment of that.
struct Planned {
    search: Search,
    legs: Vec<Leg>,
    now: Utc,
    since: Duration,
    speed: Knots,
    seas: Option<Seas>,
    assumed: String,
    /// What the datum is made from, as the contract calls it, or `drift` if that was typed.
    basis: Value,
}

/// Plans the search, prints it and writes the route.
pub(super) fn run(args: &SearchArgs, common: &Common) -> Result<ExitCode, Error> {
    let planned = plan(args)?;
    let to_stdout = args.gpx.as_deref() == Some(Path::new("-"));
    if to_stdout && common.json {
        let what = "the route and the JSON line cannot both go to standard output";
        return Err(Error::new(what, "name a file: --gpx FILE"));
    }
    if let Some(path) = &args.gpx {
        let name = if to_stdout { "standard output".into() } else { path.display().to_string() };
        write_route(path, to_stdout, &planned).map_err(|why| Error::unwritable(&name, &why))?;
    }
    let mut output = anstream::stdout().lock();
    let written = match (to_stdout, common.json) {
        (true, _) => Ok(()),
        (false, true) => json_line(&mut output, &line(&planned)),
        (false, false) => output.write_all(page::of(&planned).as_bytes()),
    };
    written.map_err(|why| Error::unwritable("standard output", &why))?;
    Ok(ExitCode::Done)
}

fn plan(args: &SearchArgs) -> Result<Planned, Error> {
    let velocity = |(towards, speed)| Velocity::of(towards, speed);
    let (then, now) = (Mono::START, Mono::START + args.since);
    let conditions = Conditions {
        speed: args.speed,
        current: args.current.map(velocity),
        wind: args.wind.map(|(from, speed)| Wind { from, speed }),
        lookout: Lookout {
            height_of_eye_m: args.eye,
            visibility: args.visibility,
            seas: args.sea.map(Seas::of_height),
            tired: args.tired,
        },
    };
    let drift = args.drift.map(|drift| Drift::given(velocity(drift), args.at, then));
    let mut datum = Datum::begin(args.at, then, drift);
    datum.go_on(now, conditions.wind, conditions.current);
    let own = args.own.unwrap_or(datum.position);
    let wishes = Wishes { pattern: args.pattern, down_drift: args.down_drift };
    let planned = Search::plan(&datum, own, now, &conditions, &wishes)
        .and_then(|search| search.legs(own, now).map(|legs| (search, legs)));
    let (search, legs) = planned.map_err(|why| {
        Error::new(why.to_string(), "give more --speed; check --drift, --current and --own")
    })?;
    let basis = match args.drift {
        Some(_) => json!("drift"),
        None => json!(datum.basis),
    };
    let (now, since) = (args.now.unwrap_or_else(host_time), args.since);
    let (assumed, seas) = (conditions.assumed(), conditions.lookout.seas);
    Ok(Planned { search, legs, now, since, speed: args.speed, seas, assumed, basis })
}

fn write_route(path: &Path, to_stdout: bool, planned: &Planned) -> io::Result<()> {
    let Planned { search, legs, now, .. } = planned;
    if to_stdout {
        return gpx::route(io::stdout().lock(), search.why(), legs, Some(*now));
    }
    gpx::route(BufWriter::new(File::create(path)?), search.why(), legs, Some(*now))
}

/// The plan as a JSON object.
fn line(planned: &Planned) -> Value {
    let (plan, datum) = (planned.search.shape(), planned.search.datum());
    let size = match plan.pattern {
        Pattern::Sector => "radius_nm",
        Pattern::Square => "track_spacing_nm",
    };
    let mut until = planned.now;
    let legs: Vec<Value> = planned
        .legs
        .iter()
        .map(|leg| {
            until = until.plus(leg.time);
            json!({
                "pass": leg.place.pass,
                "leg": leg.place.leg,
                "from": leg.from,
                "to": leg.to,
                "course_to_steer_deg": leg.course,
                "course_over_ground_deg": leg.course_over_ground,
                "length_nm": leg.length,
                "time_s": leg.time.as_secs(),
                "until": until,
            })
        })
        .collect();
    json!({
        "at": planned.now,
        "datum": {
            "lat": datum.position.lat(),
            "lon": datum.position.lon(),
            "radius50_m": datum.radius50.metres().round(),
            "radius95_m": datum.radius95.metres().round(),
            "basis": planned.basis,
            "since_s": planned.since.as_secs(),
            "set_deg": datum.velocity.towards(),
            "rate_kn": datum.velocity.speed(),
        },
        "pattern": plan.pattern,
        size: plan.size,
        "sweep_width_nm": plan.sweep_width,
        "seas": planned.seas,
        "assumed": planned.assumed,
        "first_leg_deg": plan.first_leg,
        "why": plan.why,
        "legs": legs,
    })
}
