//! The effective configuration as TOML: every key with its value, and a comment where that is the
//! default. Read back, it is the same configuration.

use std::fmt::Display;

use toml::Value;

use super::enrol::quoted;
use super::{Alarm, Config, Helm, Output, Search, Storage, Vessel, Voice, Watch};
use crate::watch::Priority;

/// What stands behind a value that nobody has written.
const DEFAULT: &str = "default";

/// A document that is being written.
#[derive(Default)]
struct Page(String);

impl Page {
    fn table(&mut self, header: &str) {
        let gap = if self.0.is_empty() { "" } else { "\n" };
        self.0.push_str(&format!("{gap}{header}\n"));
    }

    /// A key that always has a value.
    fn key<T: PartialEq>(&mut self, name: &str, value: &T, default: &T, text: impl Display) {
        let mark = if value == default { format!("  # {DEFAULT}") } else { String::new() };
        self.0.push_str(&format!("{name} = {text}{mark}\n"));
    }

    /// A key that may have none: then what holds without it is said.
    fn may(&mut self, name: &str, value: Option<String>, without: &str) {
        match value {
            Some(value) => self.0.push_str(&format!("{name} = {value}\n")),
            None => self.0.push_str(&format!("# {name}: {without}\n")),
        }
    }

    /// A key that must be there, or one of a table of a list that is left out if it has no value.
    fn of(&mut self, name: &str, value: Option<String>) {
        if let Some(value) = value {
            self.0.push_str(&format!("{name} = {value}\n"));
        }
    }
}

impl Config {
    /// The whole of it as TOML.
    pub fn to_toml(&self) -> String {
        let mut page = Page::default();
        vessel(&mut page, &self.vessel);
        for input in &self.inputs {
            page.table("[[input]]");
            page.of("name", Some(quoted(&input.name)));
            page.of("uri", Some(quoted(&input.uri)));
            page.key("channels", &input.channels, &2, input.channels);
        }
        for person in &self.persons {
            page.table("[[person]]");
            page.of("name", Some(quoted(&person.name)));
        }
        self.kit(&mut page);
        alarm(&mut page, &self.alarm);
        for hook in &self.hooks {
            page.table("[[hook]]");
            page.of("command", Some(list(&hook.command)));
            page.of("from", Some(quoted(word(hook.from))));
        }
        for output in &self.outputs {
            self::output(&mut page, output);
        }
        watch(&mut page, &self.watch);
        storage(&mut page, &self.storage);
        voice(&mut page, &self.voice);
        search(&mut page, &self.search);
        helm(&mut page, &self.helm);
        page.0
    }

    /// The beacons and the lifejackets.
    fn kit(&self, page: &mut Page) {
        for beacon in &self.beacons {
            page.table("[[beacon]]");
            page.of("mmsi", Some(beacon.mmsi.value().to_string()));
            page.of("holder", beacon.holder.as_deref().map(quoted));
            page.of("fitted_to", beacon.fitted_to.as_deref().map(quoted));
            page.of("battery_expires", beacon.battery_expires.map(|it| quoted(&it.to_string())));
            let months = beacon.test_every_months;
            page.key("test_every_months", &months, &super::schema::half_a_year(), months);
            page.of("dsc_mmsi", beacon.dsc_mmsi.map(|it| it.value().to_string()));
        }
        for jacket in &self.lifejackets {
            page.table("[[lifejacket]]");
            page.of("name", Some(quoted(&jacket.name)));
            page.of("service_due", jacket.service_due.map(|it| quoted(&it.to_string())));
            page.of("cylinder_weighed", jacket.cylinder_weighed.map(|it| quoted(&it.to_string())));
        }
    }
}

fn vessel(page: &mut Page, it: &Vessel) {
    page.table("[vessel]");
    page.may("name", it.name.as_deref().map(quoted), "not set");
    page.may("mmsi", it.mmsi.map(|it| it.value().to_string()), "not set");
    page.may("call_sign", it.call_sign.as_deref().map(quoted), "not set");
    page.may("persons_aboard", it.persons_aboard.map(|it| it.to_string()), "not set");
    page.may("antenna_height_m", it.antenna_height_m.map(number), "not set");
    page.may("approach_speed_kn", it.approach_speed_kn.map(number), "5, the default");
    page.may("water_temperature_c", it.water_temperature_c.map(number), "not set");
    page.may("time_zone", it.time_zone.as_deref().map(quoted), "UTC alone, the default");
}

fn output(page: &mut Page, it: &Output) {
    page.table("[[output]]");
    page.of("name", Some(quoted(&it.name)));
    page.of("uri", Some(quoted(&it.uri)));
    let what: Vec<_> = it.what.iter().map(|it| it.word().to_owned()).collect();
    page.of("what", Some(list(&what)));
    let inputs = (!it.inputs.is_empty()).then(|| list(&it.inputs));
    page.may("inputs", inputs, "all of them, the default");
    page.key("rate", &it.rate, &Output::every_ten_seconds(), it.rate);
    page.key("mob", &it.mob, &false, it.mob);
    page.key("steer", &it.steer, &false, it.steer);
    page.key("accept", &it.accept, &false, it.accept);
}

fn alarm(page: &mut Page, it: &Alarm) {
    page.table("[alarm]");
    page.key("sound", &it.sound, &Alarm::default().sound, it.sound);
    let command = it.command.as_deref().map(list);
    page.may("command", command, "a player that is installed, the default");
}

fn watch(page: &mut Page, it: &Watch) {
    let other = Watch::default();
    page.table("[watch]");
    page.key("ais_silence_s", &it.ais_silence_s, &other.ais_silence_s, it.ais_silence_s);
    page.key("gnss_silence_s", &it.gnss_silence_s, &other.gnss_silence_s, it.gnss_silence_s);
    page.may("awake_every_min", it.awake_every_min.map(|it| it.to_string()), "never, the default");
    page.key("awake_answer_s", &it.awake_answer_s, &other.awake_answer_s, it.awake_answer_s);
}

fn storage(page: &mut Page, it: &Storage) {
    let other = Storage::default();
    page.table("[storage]");
    let folder = it.folder.as_ref().map(|it| quoted(&it.display().to_string()));
    page.may("folder", folder, "overside in the XDG data folder, the default");
    page.key("record", &it.record, &other.record, it.record);
    page.key("keep_days", &it.keep_days, &other.keep_days, it.keep_days);
    page.key("keep_percent", &it.keep_percent, &other.keep_percent, it.keep_percent);
}

fn voice(page: &mut Page, it: &Voice) {
    page.table("[voice]");
    let words = it.words.as_ref().map(|it| quoted(&it.display().to_string()));
    page.may("words", words, "the built-in texts, the default");
    page.key("survival_figures", &it.survival_figures, &false, it.survival_figures);
}

fn search(page: &mut Page, it: &Search) {
    page.table("[search]");
    page.may("height_of_eye_m", it.height_of_eye_m.map(number), "2.4, the default");
    page.may("visibility_nm", it.visibility_nm.map(number), "taken as poor, the default");
    page.may("sea_m", it.sea_m.map(number), "taken as under 1 m, the default");
    page.key("square_down_drift", &it.square_down_drift, &false, it.square_down_drift);
}

fn helm(page: &mut Page, it: &Helm) {
    page.table("[helm]");
    page.may("listen", it.listen.as_deref().map(quoted), "no page, the default");
    page.key("allow_any", &it.allow_any, &false, it.allow_any);
    page.key("may_acknowledge", &it.may_acknowledge, &false, it.may_acknowledge);
}

fn number(value: f64) -> String {
    Value::Float(value).to_string()
}

fn list(words: &[String]) -> String {
    Value::Array(words.iter().cloned().map(Value::String).collect()).to_string()
}

/// The word for it in the file.
const fn word(priority: Priority) -> &'static str {
    match priority {
        Priority::EmergencyAlarm => "emergency_alarm",
        Priority::Alarm => "alarm",
        Priority::Warning => "warning",
        Priority::Caution => "caution",
    }
}
