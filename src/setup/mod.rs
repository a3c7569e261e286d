//! The first configuration in one sitting: what is asked, one short question after the other, what an
//! answer means, and the file that comes of it.
//!
//! *Invariant:* no IO; what is written reads back as what was answered, or is not written.

mod answers;
mod questions;

pub use answers::{Answers, Carrier};
pub use questions::{QUESTIONS, Question, Topic};

/// A sitting: which question is next, and what was answered.
#[derive(Clone, Debug)]
pub struct Session {
    /// What was answered so far.
    pub answers: Answers,
    /// Which question is next, and about whom of the persons, if it is asked of each.
    place: usize,
    person: usize,
}

impl Session {
    /// A sitting that begins with what is known.
    pub fn new(answers: Answers) -> Self {
        let mut session = Self { answers, place: 0, person: 0 };
        session.skip();
        session
    }

    /// What is asked now, with what holds if nothing is answered; `None` once all is answered.
    pub fn question(&self) -> Option<(Topic, String)> {
        let question = QUESTIONS.get(self.place)?;
        let text = question.text.replace("{person}", self.person().unwrap_or_default());
        let text = match question.topic.default(&self.answers) {
            Some(default) => format!("{text} (Enter: {default})"),
            None => text,
        };
        Some((question.topic, text))
    }

    /// Who is asked about, where it is one of the persons aboard.
    pub fn person(&self) -> Option<&str> {
        self.answers.carriers.get(self.person).map(|it| it.person.as_str())
    }

    /// Takes the answer to what is asked.
    ///
    /// # Errors
    /// It cannot be taken: what would be right. The same is asked again.
    pub fn answer(&mut self, line: &str) -> Result<(), String> {
        let Some(question) = QUESTIONS.get(self.place) else { return Ok(()) };
        question.topic.take(line.trim(), &mut self.answers, self.person)?;
        self.next();
        self.skip();
        Ok(())
    }

    fn next(&mut self) {
        // What belongs to one person is asked together.
        let of_each = |place: usize| QUESTIONS.get(place).is_some_and(|it| it.topic.is_of_each());
        if of_each(self.place) && !of_each(self.place + 1) {
            self.person += 1;
            if self.person < self.answers.carriers.len() {
                let first = QUESTIONS.iter().position(|it| it.topic.is_of_each());
                self.place = first.unwrap_or(self.place);
                return;
            }
        }
        self.place += 1;
    }

    /// Leaves out what has nothing to be asked about.
    fn skip(&mut self) {
        while let Some(question) = QUESTIONS.get(self.place)
            && !question.topic.makes_sense(&self.answers, self.person)
        {
            self.next();
        }
    }
}
