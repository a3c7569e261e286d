//! What is typed on the screen: fields with prompts, one after the other. Esc leaves all of it.
//!
//! *Invariant:* nothing is done of a form before its last field is taken.

use super::action::Action;
use crate::mmsi::Mmsi;
use crate::text;

/// No field takes more characters. Our own.
const LONGEST: usize = 200;

/// What is wrong with what was typed, in a few words that say what would be right.
pub(super) type Check = fn(&str) -> Result<(), String>;

/// What a form is for, with what is known of it beforehand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Purpose {
    /// The own position of a boat without a position receiver.
    PlaceShip,
    /// A remark for the logbook.
    Note,
    /// Enter this beacon in the muster.
    Enrol(Mmsi),
    /// End the watch though somebody is in danger.
    End,
}

/// One thing to be typed.
#[derive(Clone, Debug)]
pub(super) struct Field {
    /// What is wanted, with an example.
    pub prompt: &'static str,
    /// What was typed, or proposed.
    pub text: String,
    check: Check,
}

impl Field {
    /// A field that is empty at first.
    pub(super) const fn new(prompt: &'static str, check: Check) -> Self {
        Self { prompt, text: String::new(), check }
    }
}

/// Fields that are being filled in.
#[derive(Clone, Debug)]
pub(super) struct Form {
    /// What is done with it.
    pub purpose: Purpose,
    /// What it is for, for a person.
    pub title: String,
    fields: Vec<Field>,
    present: usize,
    wrong: Option<String>,
}

/// How far a form has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Progress {
    /// More is to be typed.
    Open,
    /// It was left: nothing is to be done.
    Left,
    /// Every field is taken.
    Filled,
}

impl Form {
    /// A form of at least one field.
    pub(super) fn new(purpose: Purpose, title: impl Into<String>, fields: Vec<Field>) -> Self {
        Self { purpose, title: title.into(), fields, present: 0, wrong: None }
    }

    /// The same to be filled in again from this field on, what was typed being kept.
    pub(super) fn again(self, field: usize, wrong: Option<String>) -> Self {
        Self { present: field.min(self.fields.len().saturating_sub(1)), wrong, ..self }
    }

    /// Takes a key. A field that is wrong is not left but by Esc.
    pub(super) fn on_key(&mut self, action: Action) -> Progress {
        let Some(field) = self.fields.get_mut(self.present) else { return Progress::Filled };
        match action {
            Action::Leave => return Progress::Left,
            Action::Typed(c) if field.text.chars().count() < LONGEST && !text::is_hostile(c) => {
                field.text.push(c);
                self.wrong = None;
            }
            Action::Erase => {
                field.text.pop();
                self.wrong = None;
            }
            Action::Enter => match (field.check)(field.text.trim()) {
                Ok(()) => self.present += 1,
                Err(why) => self.wrong = Some(why),
            },
            _ => {}
        }
        if self.present < self.fields.len() { Progress::Open } else { Progress::Filled }
    }

    /// What was typed into each field, without blanks around it.
    pub(super) fn texts(&self) -> Vec<&str> {
        self.fields.iter().map(|field| field.text.trim()).collect()
    }

    /// The fields up to the one that is being typed, which is the last.
    pub(super) fn shown(&self) -> &[Field] {
        &self.fields[..self.fields.len().min(self.present + 1)]
    }

    /// What is wrong with the present field, once that was tried.
    pub(super) fn wrong(&self) -> Option<&str> {
        self.wrong.as_deref()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn no_blank(text: &str) -> Result<(), String> {
        if text.is_empty() { Err("it is empty".to_owned()) } else { Ok(()) }
    }

    fn form() -> Form {
        let fields = vec![Field::new("first", no_blank), Field::new("second", |_| Ok(()))];
        Form::new(Purpose::End, "a test", fields)
    }

    fn typed(form: &mut Form, text: &str) {
        for c in text.chars() {
            assert_eq!(form.on_key(Action::Typed(c)), Progress::Open);
        }
    }

    #[test]
    fn fields_are_taken_one_by_one_and_checked() {
        let mut form = form();
        assert_eq!(form.on_key(Action::Enter), Progress::Open);
        assert_eq!((form.wrong(), form.shown().len()), (Some("it is empty"), 1));
        typed(&mut form, " Matf");
        assert_eq!(form.wrong(), None);
        form.on_key(Action::Erase);
        typed(&mut form, "e ");
        assert_eq!(form.on_key(Action::Enter), Progress::Open);
        assert_eq!(form.shown().len(), 2);
        assert_eq!(form.on_key(Action::Enter), Progress::Filled);
        assert_eq!(form.texts(), ["Mate", ""]);
    }

    #[test]
    fn esc_leaves_it_and_nothing_else_does() {
        let mut form = form();
        for action in [Action::Other, Action::Acknowledge, Action::Quit, Action::Resized] {
            assert_eq!(form.on_key(action), Progress::Open);
        }
        assert_eq!(form.on_key(Action::Leave), Progress::Left);
    }

    #[test]
    fn a_field_is_bounded_and_holds_nothing_that_a_terminal_obeys() {
        let mut form = form();
        typed(&mut form, &"x".repeat(3 * LONGEST));
        assert_eq!(form.texts()[0].len(), LONGEST);
        form.on_key(Action::Erase);
        typed(&mut form, "\u{1b}\u{202e}\u{7}");
        assert_eq!(form.texts()[0].len(), LONGEST - 1);
    }
}
