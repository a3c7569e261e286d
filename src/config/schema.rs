//! Every key there is, with its unit and what holds when it is left out.

use std::ffi::OsString;
use std::path::PathBuf;

use serde::Deserialize;

use super::{DueDate, Helm, Voice};
use crate::mmsi::Mmsi;
use crate::outputs::What;
use crate::watch::Priority;

/// The whole configuration. Every table may be left out; an empty file is a configuration.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Config {
    /// `[vessel]`: the own ship.
    pub vessel: Vessel,
    /// `[[input]]`: where sentences come from, in the order of the file.
    #[serde(rename = "input")]
    pub inputs: Vec<Input>,
    /// `[[person]]`: who is aboard.
    #[serde(rename = "person")]
    pub persons: Vec<Person>,
    /// `[[beacon]]`: the beacons of the muster.
    #[serde(rename = "beacon")]
    pub beacons: Vec<Beacon>,
    /// `[[lifejacket]]`: the lifejackets of the muster.
    #[serde(rename = "lifejacket")]
    pub lifejackets: Vec<Lifejacket>,
    /// `[alarm]`: how an alarm sounds.
    pub alarm: Alarm,
    /// `[watch]`: when AIS counts as lost, and the watch alarm.
    pub watch: Watch,
    /// `[[hook]]`: commands that are told of alerts.
    #[serde(rename = "hook")]
    pub hooks: Vec<Hook>,
    /// `[[output]]`: where sentences go, in the order of the file.
    #[serde(rename = "output")]
    pub outputs: Vec<Output>,
    /// `[storage]`: what is kept, where, for how long.
    pub storage: Storage,
    /// `[voice]`: what is read aloud.
    pub voice: Voice,
    /// `[search]`: how a search is planned.
    pub search: Search,
    /// `[helm]`: the page at the helm.
    pub helm: Helm,
}

/// How a search for a silent casualty is planned.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Search {
    /// The height of the lookout's eye above the water, in metres, 0 to 50. 2.4 if left out.
    pub height_of_eye_m: Option<f64>,
    /// How far one sees, in nautical miles, 0 to 50. Taken as poor if left out.
    pub visibility_nm: Option<f64>,
    /// How high the seas are, in metres, 0 to 50: up to 1, up to 1.5 and above make the three steps
    /// of the tables. Taken as under 1 m, and said to be, if left out.
    pub sea_m: Option<f64>,
    /// Whether the first leg of an expanding square goes down-drift, and not into the wind. `false`
    /// if left out.
    pub square_down_drift: bool,
}

/// The own ship. Nothing here is needed to raise an alarm.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Vessel {
    /// Her name.
    pub name: Option<String>,
    /// Her maritime identity.
    pub mmsi: Option<Mmsi>,
    /// Her call sign.
    pub call_sign: Option<String>,
    /// How many persons are aboard.
    pub persons_aboard: Option<u32>,
    /// The height of the AIS receiver's antenna above the water, in metres, 0 to 500.
    pub antenna_height_m: Option<f64>,
    /// The speed at which the skipper would go to a casualty, under engine, in knots, 0.5 to 60:
    /// beside that of the moment. 5 if left out.
    pub approach_speed_kn: Option<f64>,
    /// The temperature of the water in degrees Celsius, -3 to 40, where no thermometer on board
    /// tells it.
    pub water_temperature_c: Option<f64>,
    /// The zone of the local time that stands beside UTC, such as `Europe/Oslo`. UTC alone if left
    /// out.
    pub time_zone: Option<String>,
}

/// An input.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Input {
    /// What messages call it; no two inputs have the same name.
    pub name: String,
    /// Where it is, as on the command line: `serial:/dev/ttyUSB0?baud=38400`,
    /// `udp://0.0.0.0:10110`, `tcp://192.0.2.10:10110`, `file:PATH`, `-`. Not checked here.
    pub uri: String,
    /// How many of the two channels of AIS it hears, 1 or 2: of a receiver that has but one, the
    /// other is not missed. Default 2.
    #[serde(default = "Input::both_channels")]
    pub channels: u8,
}

impl Input {
    /// An input as most are.
    pub fn new(name: String, uri: String) -> Self {
        Self { name, uri, channels: Self::both_channels() }
    }

    const fn both_channels() -> u8 {
        2
    }
}

/// A person aboard.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Person {
    /// A name or a role; no two persons have the same.
    pub name: String,
}

/// A survivor beacon of the muster.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Beacon {
    /// Its identity: 970, 972 or 974 and six digits; no two beacons have the same.
    pub mmsi: Mmsi,
    /// Who carries it: a `[[person]]`, who may have a second one. Nobody if left out: a spare.
    pub holder: Option<String>,
    /// What it is fitted to: a `[[lifejacket]]`, no two beacons to the same. Nothing if left out.
    pub fitted_to: Option<String>,
    /// The battery's date on the label. Not watched if left out.
    pub battery_expires: Option<DueDate>,
    /// How long a proven self-test holds, in months, 1 or more. 6 if left out: common practice, no
    /// source; makers of AIS-SARTs ask for one a year.
    #[serde(default = "half_a_year")]
    pub test_every_months: u32,
    /// The ship identity programmed into it, if it has DSC: that of `[vessel]`, if one is written
    /// there. None if left out.
    pub dsc_mmsi: Option<Mmsi>,
}

/// A lifejacket of the muster.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lifejacket {
    /// A name or a number; no two lifejackets have the same.
    pub name: String,
    /// When its next service is due. Not watched if left out.
    pub service_due: Option<DueDate>,
    /// When its gas cylinder was last weighed. Not watched if left out.
    pub cylinder_weighed: Option<DueDate>,
}

/// How an alarm sounds.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Alarm {
    /// A program and its arguments, run for each alarm and never given to a shell. `{sound}`,
    /// `{priority}`, `{cause}` and `{mmsi}` in them are replaced. None if left out.
    pub command: Option<Vec<String>>,
    /// Whether anything sounds at all. `true` if left out.
    pub sound: bool,
}

impl Default for Alarm {
    fn default() -> Self {
        Self { command: None, sound: true }
    }
}

/// A command that is told of alerts: each as one JSON line on its standard input.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hook {
    /// A program and its arguments, never given to a shell.
    pub command: Vec<String>,
    /// The least urgent alert it is told of: `emergency_alarm`, `alarm`, `warning` or `caution`.
    /// `warning` if left out.
    #[serde(default = "warning")]
    pub from: Priority,
}

/// An output to other equipment or programs.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Output {
    /// What messages call it; no two outputs have the same name.
    pub name: String,
    /// Where it goes: `udp://192.0.2.255:10110`, a group such as `udp://239.192.0.2:60002`,
    /// `tcp-listen://0.0.0.0:10110`, `mqtt://192.0.2.10/overside/STATION`,
    /// `serial:/dev/ttyUSB1?baud=38400`, `file:PATH`. Not checked here.
    pub uri: String,
    /// What it says, at least one: `heard` (every good sentence, as it came), `casualty` (where the
    /// casualties are), `alerts` (after IEC 62923), `events` (JSON lines), `signalk` (deltas).
    pub what: Vec<What>,
    /// The inputs whose sentences `heard` passes on, by name. All if left out.
    #[serde(default)]
    pub inputs: Vec<String>,
    /// How many times a minute `casualty` and `signalk` tell where the casualties are, 1 to 60. 6 if
    /// left out.
    #[serde(default = "Output::every_ten_seconds")]
    pub rate: u32,
    /// Whether `casualty` has MOB sentences (IEC 61162-1 from edition 4), too. `false` if left out.
    #[serde(default)]
    pub mob: bool,
    /// Whether `casualty` tells the way to the first of the crew (RMB, BOD), which an autopilot may
    /// follow. `false` if left out.
    #[serde(default)]
    pub steer: bool,
    /// Whether what comes in as ACN by any input, or from a display that is connected to it, acknowledges
    /// and silences. `false` if left out: it is refused.
    #[serde(default)]
    pub accept: bool,
}

impl Output {
    /// One that passes on what every input hears.
    pub fn heard(uri: String) -> Self {
        Self {
            name: uri.clone(),
            uri,
            what: vec![What::Heard],
            inputs: Vec::new(),
            rate: Self::every_ten_seconds(),
            mob: false,
            steer: false,
            accept: false,
        }
    }
    /// How often, if nothing is written.
    pub(super) const fn every_ten_seconds() -> u32 {
        6
    }
}

pub(super) const fn half_a_year() -> u32 {
    6
}

const fn warning() -> Priority {
    Priority::Warning
}

/// How long an input that was live may be silent before that is an alert, and the person who keeps
/// the watch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Watch {
    /// For an input that carries AIS, in seconds, 1 or more. 60 if left out.
    pub ais_silence_s: u32,
    /// For an input that carries the own position, in seconds, 1 or more. 10 if left out.
    pub gnss_silence_s: u32,
    /// How often the watchkeeper is asked to press a key, in minutes, 1 or more. Never if left out.
    pub awake_every_min: Option<u32>,
    /// How long the answer may take before it is a warning, and as long again before it is an
    /// alarm, in seconds, 1 or more. 60 if left out.
    pub awake_answer_s: u32,
}

impl Default for Watch {
    fn default() -> Self {
        Self { ais_silence_s: 60, gnss_silence_s: 10, awake_every_min: None, awake_answer_s: 60 }
    }
}

/// What is kept.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Storage {
    /// The folder of the logbook and the recordings. The XDG data folder if left out.
    pub folder: Option<PathBuf>,
    /// Whether a watch records what its inputs say. `true` if left out.
    pub record: bool,
    /// How long recordings are kept, in days, 1 or more. 30 if left out.
    pub keep_days: u32,
    /// How much of the disk the recordings may take together, in per cent of its size, 1 to 95. 50
    /// if left out.
    pub keep_percent: u32,
}

impl Storage {
    /// The folder of the logbook and the recordings: that of the configuration, relative to the
    /// working folder; else `overside` in the XDG data folder. `None` if the system names no home.
    ///
    /// `env` gives a variable of the environment; an empty one counts as not set.
    pub fn folder(&self, env: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
        let env = |name| env(name).filter(|value| !value.is_empty()).map(PathBuf::from);
        // A relative path in an XDG variable is to be ignored (XDG Base Directory Specification 0.8).
        let data = || {
            env("XDG_DATA_HOME")
                .filter(|folder| folder.is_absolute())
                .or_else(|| env("HOME").map(|home| home.join(".local/share")))
        };
        self.folder.clone().or_else(|| data().map(|folder| folder.join("overside")))
    }
}

impl Default for Storage {
    fn default() -> Self {
        Self { folder: None, record: true, keep_days: 30, keep_percent: 50 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_folder_is_the_configured_one_else_the_xdg_data_folder() {
        let folder = |configured: Option<&str>, env: &[(&str, &str)]| {
            let storage = Storage { folder: configured.map(PathBuf::from), ..Storage::default() };
            let value = |name: &str| env.iter().find(|(key, _)| *key == name).map(|it| it.1.into());
            storage.folder(value).map(|path| path.to_string_lossy().into_owned())
        };
        let both = [("XDG_DATA_HOME", "/data"), ("HOME", "/home/mate")];
        assert_eq!(folder(Some("kept"), &both).as_deref(), Some("kept"));
        assert_eq!(folder(None, &both).as_deref(), Some("/data/overside"));
        let home = Some("/home/mate/.local/share/overside");
        assert_eq!(folder(None, &both[1..]).as_deref(), home);
        assert_eq!(folder(None, &[("XDG_DATA_HOME", "data"), both[1]]).as_deref(), home);
        assert_eq!(folder(None, &[("XDG_DATA_HOME", "")]), None);
    }
}
