//! What was answered, and the file that comes of it.

use std::path::{Path, PathBuf};

use crate::config::{Beacon, Config, DueDate, Input, Lifejacket, NotEntered, Person, quoted};
use crate::mmsi::Mmsi;

/// Somebody aboard, and the beacon that they carry.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Carrier {
    /// A name or a role.
    pub person: String,
    /// The beacon's identity; `None` if there is none, or if it is entered later.
    pub beacon: Option<Mmsi>,
    /// The lifejacket that it is fitted to.
    pub jacket: Option<String>,
    /// The date on its battery.
    pub battery: Option<DueDate>,
}

/// What was answered.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Answers {
    /// The ship's name.
    pub name: String,
    /// The ship's identity.
    pub mmsi: Option<Mmsi>,
    /// The call sign.
    pub call_sign: Option<String>,
    /// How many are aboard.
    pub aboard: u32,
    /// Who is aboard, by name, with their beacons.
    pub carriers: Vec<Carrier>,
    /// The inputs that were found.
    pub inputs: Vec<Input>,
    /// Whether they are written.
    pub keeps_inputs: bool,
    /// The folder of the logbook; the usual one if `None`.
    pub folder: Option<String>,
    /// Whether the watch begins with the computer.
    pub service: bool,
    /// Whether the alarm is sounded.
    pub sound: bool,
}

impl Answers {
    /// The configuration that they mean.
    fn config(&self) -> Config {
        let mut config = Config::default();
        config.vessel.name = Some(self.name.clone());
        config.vessel.mmsi = self.mmsi;
        config.vessel.call_sign.clone_from(&self.call_sign);
        config.vessel.persons_aboard = Some(self.aboard);
        config.inputs = self.inputs.iter().filter(|_| self.keeps_inputs).cloned().collect();
        let person = |it: &Carrier| Person { name: it.person.clone() };
        config.persons = self.carriers.iter().map(person).collect();
        for it in &self.carriers {
            let Some(mmsi) = it.beacon else { continue };
            let new = |name: &String| Lifejacket {
                name: name.clone(),
                service_due: None,
                cylinder_weighed: None,
            };
            config.lifejackets.extend(it.jacket.as_ref().map(new));
            config.beacons.push(Beacon {
                mmsi,
                holder: Some(it.person.clone()),
                fitted_to: it.jacket.clone(),
                battery_expires: it.battery,
                test_every_months: 6,
                dsc_mmsi: None,
            });
        }
        config.storage.folder = self.folder.as_ref().map(PathBuf::from);
        config
    }

    /// The file, with a comment for each part. `path` names it in errors.
    ///
    /// # Errors
    /// It would not read back as what was answered.
    pub fn text(&self, path: &Path) -> Result<String, NotEntered> {
        let config = self.config();
        let text = self.written(&config);
        match Config::parse(&text, path) {
            Ok(read) if read == config => Ok(text),
            Ok(_) => Err(NotEntered::new("the answers cannot be written", "write it by hand")),
            Err(why) => Err(NotEntered::new(why.to_string(), "answer it in another way")),
        }
    }

    fn written(&self, config: &Config) -> String {
        let mut text = "# The configuration of overside, as answered to `overside init`.\n\
                        # `overside config check` says what is wrong in it, `overside config show` all \
                        that holds.\n\n[vessel]\n"
            .to_owned();
        let mut line = |key: &str, value: Option<String>, example: &str| match value {
            Some(value) => text.push_str(&format!("{key} = {value}\n")),
            None => text.push_str(&format!("# {key} = {example}\n")),
        };
        line("name", Some(quoted(&self.name)), "");
        line("mmsi", self.mmsi.map(|it| it.value().to_string()), "200000000");
        line("call_sign", self.call_sign.as_deref().map(quoted), "\"XX1234\"");
        line("persons_aboard", Some(self.aboard.to_string()), "");
        text.push_str("\n# Where sentences come from. `overside inputs --write` finds more.\n");
        if config.inputs.is_empty() {
            text.push_str("# None is named: a watch looks for them itself.\n");
        }
        for Input { name, uri, .. } in &config.inputs {
            let (name, uri) = (quoted(name), quoted(uri));
            text.push_str(&format!("[[input]]\nname = {name}\nuri = {uri}\n\n"));
        }
        text.push_str(
            "\n# Who is aboard, and who has which beacon. `overside muster add` enters more.\n",
        );
        for Person { name } in &config.persons {
            text.push_str(&format!("[[person]]\nname = {}\n\n", quoted(name)));
        }
        for Lifejacket { name, .. } in &config.lifejackets {
            text.push_str(&format!(
                "[[lifejacket]]\nname = {}\n# service_due = \"2027-04\"\n\n",
                quoted(name)
            ));
        }
        for it in &config.beacons {
            text.push_str(&format!("[[beacon]]\nmmsi = {}\n", it.mmsi.value()));
            let values = [
                ("holder", it.holder.clone()),
                ("fitted_to", it.fitted_to.clone()),
                ("battery_expires", it.battery_expires.map(|date| date.to_string())),
            ];
            for (key, value) in values {
                if let Some(value) = value {
                    text.push_str(&format!("{key} = {}\n", quoted(&value)));
                }
            }
            text.push('\n');
        }
        text.push_str("# How an alarm sounds; try it with `overside watch --sound-check`.\n");
        text.push_str("[alarm]\nsound = true\n\n# The logbook, and the recordings.\n[storage]\n");
        match &self.folder {
            Some(folder) => text.push_str(&format!("folder = {}\n", quoted(folder))),
            None => text.push_str("# folder = \"/path/to/a/folder\"\n"),
        }
        text.push_str("record = true\n");
        text
    }
}
