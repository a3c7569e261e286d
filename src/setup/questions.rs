//! The questions, in one table, and what an answer to each means.

use super::{Answers, Carrier};
use crate::config::{DueDate, check_name};
use crate::mmsi::{Mmsi, Station};

/// What a question is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Topic {
    /// The ship's name.
    Name,
    /// The ship's identity.
    Mmsi,
    /// The call sign.
    CallSign,
    /// Who is aboard, by name.
    Persons,
    /// How many are aboard.
    Aboard,
    /// The beacon of each person.
    Beacon,
    /// The lifejacket that it is in.
    Jacket,
    /// The date on its battery.
    Battery,
    /// Whether the inputs that were found are written.
    Inputs,
    /// The folder of the logbook.
    Folder,
    /// Whether the watch begins with the computer.
    Service,
    /// Whether the alarm is sounded now.
    Sound,
}

/// A question.
#[derive(Clone, Copy, Debug)]
pub struct Question {
    /// What it is about.
    pub topic: Topic,
    /// What is asked.
    pub text: &'static str,
    /// The option that answers it.
    pub option: &'static str,
    /// Whether there is nothing that holds without an answer.
    pub needed: bool,
}

const fn question(
    topic: Topic,
    text: &'static str,
    option: &'static str,
    needed: bool,
) -> Question {
    Question { topic, text, option, needed }
}

/// Every question, in the order in which they are asked.
pub const QUESTIONS: &[Question] = &[
    question(Topic::Name, "What is the ship called?", "--name", true),
    question(Topic::Mmsi, "The ship's MMSI, nine digits", "--mmsi", false),
    question(Topic::CallSign, "The call sign", "--call-sign", false),
    question(Topic::Persons, "Who is aboard? Names or roles, with commas", "--person", false),
    question(Topic::Aboard, "How many persons are aboard?", "--persons-aboard", true),
    question(Topic::Beacon, "Beacon of {person}: nine digits on its label", "--beacon", false),
    question(Topic::Jacket, "In which lifejacket is it, as jacket 2?", "--beacon", false),
    question(Topic::Battery, "The date on its battery, as 05/2029", "--beacon", false),
    question(Topic::Inputs, "Write the inputs that were found? y or n", "--no-inputs", false),
    question(Topic::Folder, "Where are logbook and recordings kept?", "--folder", false),
    question(Topic::Service, "Begin the watch with the computer? y or n", "--service", false),
    question(Topic::Sound, "Sound the alarm now, to hear it? y or n", "--sound", false),
];

impl Topic {
    /// Whether it is asked of each person.
    pub(super) const fn is_of_each(self) -> bool {
        matches!(self, Self::Beacon | Self::Jacket | Self::Battery)
    }

    /// Whether there is anything to be asked about.
    pub(super) fn makes_sense(self, answers: &Answers, person: usize) -> bool {
        let carrier = answers.carriers.get(person);
        match self {
            Self::Beacon => carrier.is_some(),
            Self::Jacket | Self::Battery => carrier.is_some_and(|it| it.beacon.is_some()),
            Self::Inputs => !answers.inputs.is_empty(),
            _ => true,
        }
    }

    /// What holds without an answer, in words; `None` if it has to be answered.
    pub(super) fn default(self, answers: &Answers) -> Option<String> {
        Some(match self {
            Self::Name => return None,
            Self::Mmsi | Self::CallSign => "not known".to_owned(),
            Self::Persons => "nobody yet".to_owned(),
            Self::Aboard => match answers.carriers.len() {
                0 => return None,
                count => count.to_string(),
            },
            Self::Beacon => "none, or by its test".to_owned(),
            Self::Jacket => "in none".to_owned(),
            Self::Battery => "not known".to_owned(),
            Self::Inputs => "y".to_owned(),
            Self::Folder => "the usual place".to_owned(),
            Self::Service | Self::Sound => "n".to_owned(),
        })
    }

    /// Takes an answer.
    pub(super) fn take(
        self,
        text: &str,
        answers: &mut Answers,
        person: usize,
    ) -> Result<(), String> {
        let some = |text: &str| (!text.is_empty()).then(|| text.to_owned());
        match self {
            Self::Name => {
                check_name(text)?;
                answers.name = text.to_owned();
            }
            Self::Mmsi => answers.mmsi = some(text).map(|it| ship(&it)).transpose()?,
            Self::CallSign => {
                let fits = text.len() <= 7 && text.chars().all(|c| c.is_ascii_alphanumeric());
                let wrong = "a call sign has up to seven letters and digits";
                fits.then_some(()).ok_or(wrong)?;
                answers.call_sign = some(&text.to_ascii_uppercase());
            }
            Self::Persons => answers.carriers = persons(text)?,
            Self::Aboard => {
                let count = if text.is_empty() { answers.carriers.len() } else { number(text)? };
                let wrong = "write a number, 1 to 9999, and no fewer than those who are named";
                let fits = (1..=9999).contains(&count) && count >= answers.carriers.len();
                answers.aboard = fits.then_some(count as u32).ok_or(wrong)?;
            }
            Self::Inputs => answers.keeps_inputs = yes(text, true)?,
            Self::Folder => answers.folder = some(text),
            Self::Service => answers.service = yes(text, false)?,
            Self::Sound => answers.sound = yes(text, false)?,
            Self::Beacon | Self::Jacket | Self::Battery => {
                return self.take_of(text, answers, person);
            }
        }
        Ok(())
    }

    /// Takes an answer about one of the persons.
    fn take_of(self, text: &str, answers: &mut Answers, person: usize) -> Result<(), String> {
        let others = answers.carriers.iter().enumerate().filter(|(place, _)| *place != person);
        let others: Vec<&Carrier> = others.map(|(_, it)| it).collect();
        let value = Some(text).filter(|it| !it.is_empty());
        match self {
            Self::Beacon => {
                let mmsi = value.map(beacon).transpose()?;
                if let Some(other) = others.iter().find(|it| mmsi.is_some() && it.beacon == mmsi) {
                    return Err(format!("that is the beacon of {}", other.person));
                }
                answers.carriers[person].beacon = mmsi;
            }
            Self::Jacket => {
                value.map(check_name).transpose()?;
                let taken = |it: &&&Carrier| it.jacket.as_deref() == value;
                if let Some(other) = others.iter().find(taken).filter(|_| value.is_some()) {
                    return Err(format!("the beacon of {} is in {text}", other.person));
                }
                answers.carriers[person].jacket = value.map(str::to_owned);
            }
            _ => {
                let date = value.map(DueDate::of_label).transpose();
                answers.carriers[person].battery = date.map_err(|why| why.to_string())?;
            }
        }
        Ok(())
    }
}

/// The names of those aboard, parted by commas.
fn persons(text: &str) -> Result<Vec<Carrier>, String> {
    let mut carriers: Vec<Carrier> = Vec::new();
    for name in text.split(',').map(str::trim).filter(|it| !it.is_empty()) {
        check_name(name)?;
        if name.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err("a name or a role, such as Mate: how many are aboard comes next".to_owned());
        }
        if carriers.iter().any(|it| it.person == name) {
            return Err(format!("{name} is there twice: give each a name of their own"));
        }
        carriers.push(Carrier { person: name.to_owned(), ..Carrier::default() });
    }
    Ok(carriers)
}

fn ship(text: &str) -> Result<Mmsi, String> {
    nine_digits(text)
        .filter(|mmsi| mmsi.station() == Station::Ship)
        .ok_or_else(|| "a ship's MMSI has nine digits and begins with 2 to 7".to_owned())
}

fn beacon(text: &str) -> Result<Mmsi, String> {
    nine_digits(text).filter(|mmsi| mmsi.beacon_kind().is_some()).ok_or_else(|| {
        "a beacon's identity has nine digits and begins with 970, 972 or 974".to_owned()
    })
}

fn nine_digits(text: &str) -> Option<Mmsi> {
    // Labels and texts to be read aloud write them in groups.
    let text: String = text.chars().filter(|letter| *letter != ' ').collect();
    let plain = text.len() == 9 && text.bytes().all(|byte| byte.is_ascii_digit());
    plain.then(|| text.parse().ok().and_then(Mmsi::new)).flatten()
}

fn number(text: &str) -> Result<usize, String> {
    text.parse().map_err(|_| "write a number".to_owned())
}

fn yes(text: &str, default: bool) -> Result<bool, String> {
    match text.to_ascii_lowercase().as_str() {
        "" => Ok(default),
        "y" | "yes" => Ok(true),
        "n" | "no" => Ok(false),
        _ => Err("write y or n".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_count_is_nobodys_name() {
        assert!(persons("4").is_err_and(|why| why.contains("how many are aboard comes next")));
        assert_eq!(persons("Mate, Hand 2").map(|it| it.len()), Ok(2));
    }

    #[test]
    fn an_identity_is_taken_as_a_label_writes_it() {
        assert_eq!(beacon("972 000 017").map(Mmsi::value), Ok(972_000_017));
        assert!(beacon("972 000 01").is_err() && ship("972 000 017").is_err());
    }
}
