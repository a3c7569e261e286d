//! What can stand in braces in a text, and how it is said.

use std::time::Duration;

use super::facts::{AgedPosition, Casualty, Drift, Facts, Nature};
use crate::beacon::FIX_OLD;
use crate::mmsi::Mmsi;
use crate::navigation::{Position, degrees_and_minutes, range_and_bearing};
use crate::text::is_hostile;
use crate::time::{Utc, rounded_up};
use crate::units::{Degrees, Knots, NauticalMiles};

/// What stands where something is not known: the speaker fills it.
pub const GAP: &str = "____";

/// So many characters of a name are said. AIS has 20 for one (ITU-R M.1371-5 table 52); the rest is
/// our own.
const NAME_LENGTH: usize = 40;

/// So many characters of a report are shown. Our own.
const REPORT_LENGTH: usize = 160;

/// Below this range metres are said instead of miles. Our own.
const METRES_BELOW: NauticalMiles = NauticalMiles(0.1);

/// Slower than this reads as 0.0 knots. Our own.
const LEAST_RATE: Knots = Knots(0.05);

/// A name that can stand in braces.
#[derive(Clone, Copy, Debug)]
pub struct Placeholder {
    /// The name.
    pub name: &'static str,
    value: fn(&Facts) -> Option<String>,
}

impl Placeholder {
    /// The one of this name.
    pub fn named(name: &str) -> Option<&'static Self> {
        PLACEHOLDERS.iter().find(|it| it.name == name)
    }

    /// What is said for it; `None` if that is not known. There is never a brace, a gap or a control
    /// character in it.
    pub fn value(&self, facts: &Facts) -> Option<String> {
        (self.value)(facts)
    }
}

impl PartialEq for Placeholder {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

const fn named(name: &'static str, value: fn(&Facts) -> Option<String>) -> Placeholder {
    Placeholder { name, value }
}

/// Every one there is. `docs/what-to-say.md` explains them.
pub const PLACEHOLDERS: &[Placeholder] = &[
    named("ship", |it| name(it.ship.name.as_deref()?)),
    named("call_sign", |it| name(it.ship.call_sign.as_deref()?)),
    named("mmsi", |it| it.ship.mmsi.map(identity)),
    named("persons", |it| it.ship.persons_aboard.map(persons)),
    named("time", |it| it.now.map(four_figures)),
    named("own_latitude", |it| it.own.map(|own| latitude(own.position))),
    named("own_longitude", |it| it.own.map(|own| longitude(own.position))),
    named("own_time", |it| time_of(it, it.own.as_ref()?)),
    named("own_minutes_old", |it| minutes_old(it.own.as_ref()?)),
    named("nature", |it| nature(it.casualty.as_ref()?)),
    named("casualty", |it| sayable(it.casualty.as_ref()?.name.as_deref()?, NAME_LENGTH)),
    named("casualty_identity", |it| it.casualty.as_ref()?.identity.map(station)),
    named("casualty_latitude", |it| Some(latitude(place(it)?.position))),
    named("casualty_longitude", |it| Some(longitude(place(it)?.position))),
    named("casualty_time", |it| time_of(it, place(it)?)),
    named("casualty_minutes_old", |it| minutes_old(place(it)?)),
    named("bearing", |it| three_figures(it.casualty.as_ref()?.bearing?)),
    named("range", |it| range(it.casualty.as_ref()?.range?)),
    named("set", |it| three_figures(drift(it)?.set)),
    named("rate", |it| rate(drift(it)?.rate)),
    named("reckoned_latitude", |it| it.casualty.as_ref()?.reckoned.map(latitude)),
    named("reckoned_longitude", |it| it.casualty.as_ref()?.reckoned.map(longitude)),
    named("since", |it| Some(four_figures(before(it.now?, it.casualty.as_ref()?.since?)?))),
    named("gear", |it| gear(it.casualty.as_ref()?)),
    named("gear_of", |it| {
        let several = it.casualty.as_ref()?.others > 0;
        Some(if several { "FIRST PERSON" } else { "CASUALTY" }.to_owned())
    }),
    named("others", |it| {
        it.casualty.as_ref().map(|it| it.others).filter(|n| *n > 0).map(|n| n.to_string())
    }),
    named("other_places", other_places),
    named("report", |it| sayable(it.casualty.as_ref()?.report.as_deref()?, REPORT_LENGTH)),
    named("alert_time", |it| it.alert_sent.map(four_figures)),
];

/// A drift that is one: what reads as 0.0 knots has no direction, and is mostly one that nobody knows.
fn drift(facts: &Facts) -> Option<Drift> {
    facts.casualty.as_ref()?.drift.filter(|it| it.rate.0 >= LEAST_RATE.0)
}

/// Where the others of the own crew are who are overboard too: each by itself, or, where there are
/// more than can be read aloud, how many and within which range of the first.
fn other_places(facts: &Facts) -> Option<String> {
    const ORDINALS: [&str; 2] = ["SECOND", "THIRD"];
    let casualty = facts.casualty.as_ref()?;
    let first = casualty.place.as_ref();
    let each = |(ordinal, other): (&&str, &Option<AgedPosition>)| match other {
        Some(place) => {
            let at = time_of(facts, place).map_or(String::new(), |time| format!(", AT {time} UTC"));
            let position = place.position;
            let (lat, lon) = (latitude(position), longitude(position));
            format!("{ordinal} PERSON IN POSITION {lat}, {lon}{at}")
        }
        None => format!("{ordinal} PERSON: POSITION NOT KNOWN"),
    };
    let others = &casualty.other_places;
    if others.len() <= ORDINALS.len() {
        let said: Vec<String> = ORDINALS.iter().zip(others).map(each).collect();
        return (!said.is_empty()).then(|| said.join(", "));
    }
    let known: Vec<&AgedPosition> = others.iter().flatten().collect();
    let unknown = others.len() - known.len();
    let from_first = first.map(|first| {
        known
            .iter()
            .map(|it| range_and_bearing(first.position, it.position).0.0)
            .fold(0.0, f64::max)
    });
    let mut said = Vec::new();
    if let Some(miles) = from_first.filter(|_| !known.is_empty()) {
        let within = range(NauticalMiles(miles))?;
        said.push(format!("{} MORE WITHIN {within} OF THE FIRST", persons_of(known.len())));
    }
    if unknown > 0 || from_first.is_none() {
        let count = if from_first.is_none() { others.len() } else { unknown };
        said.push(format!("{}: POSITION NOT KNOWN", persons_of(count)));
    }
    Some(said.join(", "))
}

fn persons_of(count: usize) -> String {
    persons(u32::try_from(count).unwrap_or(u32::MAX))
}

fn place(facts: &Facts) -> Option<&AgedPosition> {
    facts.casualty.as_ref()?.place.as_ref()
}

/// A text that comes from elsewhere as it can be said: what would be obeyed, take the place of a
/// value or look like a gap is left out, and the rest is bounded.
fn sayable(text: &str, length: usize) -> Option<String> {
    let harmless = |c: char| c.is_alphanumeric() && !is_hostile(c) || " -'./&,:()+°".contains(c);
    let kept: String = text.chars().map(|c| if harmless(c) { c } else { ' ' }).collect();
    let words: Vec<&str> = kept.split_whitespace().collect();
    let said: String = words.join(" ").chars().take(length).collect();
    let said = said.trim_end();
    (!said.is_empty()).then(|| said.to_owned())
}

fn name(text: &str) -> Option<String> {
    sayable(text, NAME_LENGTH).map(|name| name.to_uppercase())
}

/// Nine digits in groups of three, as they are read: `200 000 000`.
fn identity(mmsi: Mmsi) -> String {
    let value = mmsi.value();
    format!("{:03} {:03} {:03}", value / 1_000_000, value / 1000 % 1000, value % 1000)
}

/// What has an identity: `AIS BEACON 972 000 017`, `STATION 219 000 003`.
fn station(mmsi: Mmsi) -> String {
    let what = if mmsi.beacon_kind().is_some() { "AIS BEACON" } else { "STATION" };
    format!("{what} {}", identity(mmsi))
}

fn persons(number: u32) -> String {
    if number == 1 { "1 PERSON".to_owned() } else { format!("{number} PERSONS") }
}

/// UTC in four figures, hours and minutes.
fn four_figures(utc: Utc) -> String {
    let minutes = utc.unix_ms().div_euclid(60_000).rem_euclid(24 * 60);
    format!("{:02}{:02}", minutes / 60, minutes % 60)
}

/// The moment so long before another.
fn before(utc: Utc, span: Duration) -> Option<Utc> {
    Utc::from_unix_ms(utc.unix_ms().checked_sub(i64::try_from(span.as_millis()).ok()?)?)
}

fn time_of(facts: &Facts, place: &AgedPosition) -> Option<String> {
    before(facts.now?, place.age?).map(four_figures)
}

/// The age of an old position in minutes, rounded up; `None` for one that is not old.
fn minutes_old(place: &AgedPosition) -> Option<String> {
    let age = place.age.filter(|age| *age >= FIX_OLD)?;
    Some(rounded_up(age, 60).to_string())
}

/// `57 DEGREES 42.07 MINUTES NORTH`.
fn latitude(position: Position) -> String {
    let lat = position.lat();
    let (degrees, minutes) = degrees_and_minutes(lat);
    let side = if lat < 0.0 { "SOUTH" } else { "NORTH" };
    format!("{degrees:02} DEGREES {minutes:05.2} MINUTES {side}")
}

/// `010 DEGREES 35.89 MINUTES EAST`.
fn longitude(position: Position) -> String {
    let lon = position.lon();
    let (degrees, minutes) = degrees_and_minutes(lon);
    let side = if lon < 0.0 { "WEST" } else { "EAST" };
    format!("{degrees:03} DEGREES {minutes:05.2} MINUTES {side}")
}

fn three_figures(bearing: Degrees) -> Option<String> {
    let degrees = bearing.value().round();
    degrees.is_finite().then(|| format!("{:03}", degrees as u32 % 360))
}

fn rate(rate: Knots) -> Option<String> {
    rate.0.is_finite().then(|| format!("{:.1}", rate.0))
}

/// `0.4 MILES`, and below a tenth of a mile `150 METRES`.
fn range(range: NauticalMiles) -> Option<String> {
    let said = if range < METRES_BELOW {
        format!("{:.0} METRES", range.metres())
    } else {
        format!("{:.1} MILES", range.0)
    };
    range.0.is_finite().then_some(said)
}

fn nature(casualty: &Casualty) -> Option<String> {
    Some(match casualty.nature? {
        Nature::PersonOverboard if casualty.others > 0 => {
            format!("{} OVERBOARD", persons(casualty.others.saturating_add(1)))
        }
        Nature::PersonOverboard => "PERSON OVERBOARD".to_owned(),
        Nature::SurvivalCraft => "SURVIVAL CRAFT TRANSMITTER ACTIVE".to_owned(),
        Nature::EmergencyBeacon => "EMERGENCY BEACON ACTIVE".to_owned(),
        Nature::Called(words) => words.to_uppercase(),
    })
}

/// What helps to see the casualty: `LIFEJACKET, LIGHT, AIS BEACON 972 000 017`.
fn gear(casualty: &Casualty) -> Option<String> {
    let has = |it: Option<bool>, what: &str| {
        it.map(|it| if it { what.to_owned() } else { format!("NO {what}") })
    };
    let beacon = casualty.identity.filter(|mmsi| mmsi.beacon_kind().is_some()).map(station);
    let parts = [has(casualty.lifejacket, "LIFEJACKET"), has(casualty.light, "LIGHT"), beacon];
    let gear: Vec<String> = parts.into_iter().flatten().collect();
    (!gear.is_empty()).then(|| gear.join(", "))
}
