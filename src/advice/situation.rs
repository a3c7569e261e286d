//! What the watch is about just now: a casualty, a test, its own deafness, an alarm, or nothing.

use std::time::Duration;

use serde::Serialize;

use super::Reality;
use super::attention::{TEST_LOOKED_AT, beacon_in_view, is_unacknowledged, unacknowledged};
use super::words::{self, headline_name};
use crate::time::seconds;
use crate::watch::{Alert, BeaconView, CasualtyId, Cause, InputState, Mode, Picture, Priority};

/// What a beacon did is told in the quiet headline for so long. Our own.
const HEARD_LATELY: Duration = Duration::from_secs(3600);

/// Which beacon it is about.
#[derive(Clone, Copy)]
pub enum Subject<'a> {
    /// Somebody may be in the water.
    Casualty(&'a BeaconView),
    /// A beacon is tested.
    Test(&'a BeaconView),
    /// None.
    Quiet,
}

/// Which beacon the watch is about, for who looks at one casualty or at none in particular.
pub fn subject(picture: &Picture, selected: Option<CasualtyId>) -> Subject<'_> {
    match beacon_in_view(picture, selected) {
        Some(beacon) if beacon.casualty => Subject::Casualty(beacon),
        Some(_) if deafness(picture).is_some() => Subject::Quiet,
        Some(_) if alarm_about_no_beacon(picture).is_some_and(outranks_test) => Subject::Quiet,
        Some(beacon)
            if matches!(beacon.mode, Some(Mode::Test | Mode::TestPresumed))
                && picture.now.at.since(beacon.last.at) <= TEST_LOOKED_AT =>
        {
            Subject::Test(beacon)
        }
        _ => Subject::Quiet,
    }
}

/// Whether an alarm comes before a test: one about things that somebody has taken note of stays among
/// the alerts, or a boat without a sound could test nothing.
fn outranks_test(alarm: &Alert) -> bool {
    alarm.cause.is_about_people() || is_unacknowledged(alarm)
}

/// What the watch is about.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Situation {
    /// Somebody may be in the water.
    Casualty,
    /// A beacon is tested.
    Test,
    /// Nothing is left that hears AIS.
    Deaf {
        /// Since any was heard; `None` if never.
        #[serde(rename = "heard_s", serialize_with = "seconds")]
        heard: Option<Duration>,
    },
    /// An alarm about no beacon that is shown, in its own words.
    Alarm(String),
    /// An alert that has ended and nobody has taken note of: what it was about.
    Ended(String),
    /// A lesser alert that nobody has taken note of, in its own words.
    Warning(String),
    /// Somebody is declared safe and the beacon goes on: who, and how far off.
    DeclaredSafe(String),
    /// AIS is heard, and a beacon was: what it did last, if within the hour, and how long ago.
    Heard(String),
    /// AIS is heard, and no beacon was.
    Listening,
    /// An input speaks, and no AIS was heard yet.
    NoAisYet,
    /// No input has spoken yet.
    NothingYet,
}

impl Situation {
    /// That of a watch that is about no beacon.
    pub fn of_quiet(picture: &Picture) -> Self {
        if let Some(deaf) = deafness(picture) {
            return deaf;
        }
        if let Some(alert) = alarm_about_no_beacon(picture) {
            return Self::Alarm(alert.text.clone());
        }
        if let Some(who) = all_declared_safe(picture).next() {
            return Self::DeclaredSafe(who);
        }
        let live = || picture.inputs.iter().filter(|it| it.state == Some(InputState::Live));
        match unacknowledged(picture) {
            Some(alert) if !alert.is_active() => Self::Ended(ended(picture, alert)),
            Some(alert) => Self::Warning(alert.text.clone()),
            None if live().any(|input| input.hears_ais) => {
                heard_last(picture).map_or(Self::Listening, Self::Heard)
            }
            None if live().next().is_some() => Self::NoAisYet,
            None => Self::NothingYet,
        }
    }

    /// The same in a sentence.
    pub fn words(&self) -> String {
        match self {
            Self::Casualty => "Somebody may be in the water.".to_owned(),
            Self::Test => "A beacon is being tested.".to_owned(),
            Self::Deaf { heard: Some(age) } => {
                format!("NO AIS for {}", words::age(*age))
            }
            Self::Deaf { heard: None } => "NO AIS: no sentence from any receiver".to_owned(),
            Self::Alarm(text)
            | Self::Ended(text)
            | Self::Warning(text)
            | Self::DeclaredSafe(text) => text.clone(),
            Self::Heard(what) => format!("Listening. {what}."),
            Self::Listening => "Listening. Nothing heard from any beacon.".to_owned(),
            Self::NoAisYet => "No AIS heard yet.".to_owned(),
            Self::NothingYet => "Nothing heard yet from any input.".to_owned(),
        }
    }
}

/// `MATE declared safe; the beacon is still ACTIVE 0.97 NM`.
fn declared_safe(beacon: &BeaconView) -> String {
    let range = beacon.range.map(|range| format!(" {range}")).unwrap_or_default();
    format!("{} declared safe; the beacon {}{range}", headline_name(beacon), goes_on(beacon))
}

const fn goes_on(beacon: &BeaconView) -> &'static str {
    match beacon.mode {
        Some(Mode::Active) => "is still ACTIVE",
        _ => "is still heard",
    }
}

/// Whoever is declared safe while the beacon goes on, a sentence each.
pub fn all_declared_safe(picture: &Picture) -> impl Iterator<Item = String> {
    picture.beacons.iter().filter(|it| it.declared.is_some()).map(declared_safe)
}

/// What a beacon that may be active goes on doing, and how far off: `The beacon is still ACTIVE 0.97
/// NM away.` `None` of a point set by hand, or where nobody may be in danger.
pub fn still_heard(beacon: &BeaconView) -> Option<String> {
    beacon.mmsi().filter(|_| beacon.casualty)?;
    let range = beacon.range.map(|range| format!(" {range} away")).unwrap_or_default();
    Some(match Reality::of(beacon) {
        Reality::SignalLost => {
            let place = beacon.range.map(|range| format!(", last {range} away"));
            format!("The signal is lost{}.", place.unwrap_or_default())
        }
        _ => format!("The beacon {}{range}.", goes_on(beacon)),
    })
}

/// What was heard last of any beacon, if anything was: `TEST heard 1 min ago`; what it was counts
/// for an hour, then when: `Nothing heard for 2 h 05 min`.
fn heard_last(picture: &Picture) -> Option<String> {
    let beacons = picture.beacons.iter().filter(|it| it.mmsi().is_some());
    let latest = beacons.max_by_key(|it| it.last.at)?;
    let ago = picture.now.at.since(latest.last.at);
    let what = match latest.mode {
        Some(Mode::Test | Mode::TestPresumed) => "TEST heard",
        Some(Mode::Off) => "Beacon switched OFF",
        Some(Mode::Active) => "ACTIVE beacon heard",
        Some(Mode::ActivePresumed) | None => "A beacon heard",
    };
    Some(match ago <= HEARD_LATELY {
        true => format!("{what} {} ago", words::short_age(ago)),
        false => format!("Nothing heard for {}", words::age(ago)),
    })
}

/// That nothing is left that hears AIS, if it is so.
pub fn deafness(picture: &Picture) -> Option<Situation> {
    let deaf = picture.alerts.iter().any(|alert| {
        alert.cause == Cause::InputSilent && alert.priority == Priority::Alarm && alert.is_active()
    });
    let down = |state| matches!(state, Some(InputState::Silent | InputState::Lost));
    let receivers = picture.inputs.iter().filter(|input| input.hears_ais || input.heard.is_none());
    let heard = receivers.clone().filter_map(|input| input.ais).min();
    let all_down = deaf && receivers.clone().all(|input| down(input.state));
    all_down.then_some(Situation::Deaf { heard })
}

/// An alarm that is about no beacon that is shown: a DSC call, a crew alarm on board.
pub fn alarm_about_no_beacon(picture: &Picture) -> Option<&Alert> {
    let alarms = picture.alerts.iter().filter(|alert| {
        alert.priority >= Priority::Alarm && alert.is_active() && alert.cause != Cause::InputSilent
    });
    alarms.max_by_key(|alert| (alert.priority, outranks_test(alert)))
}

/// What an alert was about that has ended, and nobody has taken note of it.
pub fn ended(picture: &Picture, alert: &Alert) -> String {
    let beacon = picture.beacons.iter().find(|beacon| Some(beacon.id) == alert.casualty());
    match beacon {
        Some(beacon) if beacon.mode == Some(Mode::Off) => {
            format!("{}: beacon switched OFF. Is everybody aboard?", headline_name(beacon))
        }
        _ => format!("Ended: {}", alert.text),
    }
}
