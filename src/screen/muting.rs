//! The key that mutes: what it asks, and what is said of all that is muted.

use super::Screen;
use super::question::Question;
use crate::advice;
use crate::text::counted;
use crate::watch::{Muted, Picture};

impl Screen {
    /// What the key asks, the first thing first; each further press asks the next.
    fn muting(&self, picture: &Picture) -> Vec<Question> {
        let mut questions = Vec::new();
        if let Some(alert) = advice::about_people_in_view(picture, self.selected) {
            let muted = |what: &Muted| picture.muted.contains(what);
            let is_ours = |mmsi| picture.muster.contains(&mmsi);
            if alert.mmsi.is_some_and(is_ours) {
                questions.push(Question::Refused("A beacon of the muster is never muted."));
            } else if !alert.can_be_muted(is_ours) {
                questions.push(Question::Refused("What is in view is never muted."));
            } else if let Some(station) = alert.mmsi.map(Muted::Station).filter(|it| !muted(it)) {
                questions.push(match stations(picture) < Muted::STATIONS_LIMIT {
                    true => Question::Mute(station),
                    false => Question::Refused("No more identities can be muted; mute the input."),
                });
            }
            let input = alert.heard_by.map(Muted::Input).filter(|it| !muted(it));
            questions.extend(input.map(Question::Mute));
        }
        if !picture.muted.is_empty() {
            questions.push(Question::Unmute);
        }
        if questions.is_empty() {
            questions.push(Question::Refused("Nothing in view that could be muted."));
        }
        questions
    }

    /// The question after the one that was asked; after the last, none.
    pub(super) fn ask_to_mute(
        &self,
        asked: Option<Question>,
        picture: &Picture,
    ) -> Option<Question> {
        let questions = self.muting(picture);
        let place = questions.iter().position(|it| Some(it) == asked.as_ref());
        questions.get(place.map_or(0, |place| place + 1)).cloned()
    }

    /// Whether the key has anything to ask.
    pub(super) fn can_mute(&self, picture: &Picture) -> bool {
        let refused = |it: Option<&Question>| matches!(it, Some(Question::Refused(_)));
        !refused(self.muting(picture).first())
    }
}

fn stations(picture: &Picture) -> usize {
    picture.muted.iter().filter(|it| matches!(it, Muted::Station(_))).count()
}

/// Longer names of inputs are cut. Our own.
const NAME: usize = 40;

/// What a person calls it.
pub(super) fn name(what: Muted, picture: &Picture) -> String {
    match what {
        Muted::Station(mmsi) => mmsi.to_string(),
        Muted::Input(id) => {
            let input = picture.inputs.iter().find(|input| input.id == id);
            let name = input.map_or("an input", |input| &input.name);
            format!("strangers of {}", name.chars().take(NAME).collect::<String>())
        }
    }
}

/// How much is muted; `None` if nothing is.
pub(super) fn summary(picture: &Picture) -> Option<String> {
    let stations = stations(picture);
    let inputs = picture.muted.len() - stations;
    let parts = [(stations, "identity"), (inputs, "input")].into_iter().filter(|it| it.0 > 0);
    let parts: Vec<String> = parts.map(|(count, noun)| counted(count, noun)).collect();
    (!parts.is_empty()).then(|| format!("muted: {}, [z]", parts.join(", ")))
}
