//! A round of self-tests as it goes: whether anything is received at all, then one beacon after the
//! other: ready, tested, judged.

use std::collections::VecDeque;
use std::time::Duration;

use super::heard::{BEFORE_ENTER, Heard};
use super::unheard::Unheard;
use super::{Judgement, SelfTest, Subject, Verdict, identities};
use crate::mmsi::Mmsi;
use crate::time::{Mono, Stamp};
use crate::watch::{InputView, Signal, Transmission};

/// How long inputs may take to say anything before nothing is proven by silence. Our own.
const INPUT_WITHIN: Duration = Duration::from_secs(15);

/// What is to be said to whoever tests.
#[derive(Clone, Debug, PartialEq)]
pub enum Prompt {
    /// The round begins: what a test may be.
    Begin,
    /// This beacon is next; with an answer its test begins.
    Ready(Subject),
    /// This beacon is to be tested now.
    Test(Subject),
    /// Something was received.
    Received {
        /// What.
        transmission: Transmission,
        /// Whether it came from another beacon than the one that is tested.
        other: bool,
    },
    /// How far a test has come; with an answer it is given up.
    Progress {
        /// What a verdict would be by now.
        so_far: Box<Verdict>,
        /// How much longer it is waited for.
        left: Duration,
    },
    /// A test was judged.
    Judged {
        /// The judgement.
        test: Box<SelfTest>,
        /// The beacon that was asked for, where another one of the round was tested.
        asked: Option<Subject>,
        /// Beacons that were heard meanwhile, and not tested.
        others: Vec<Mmsi>,
    },
    /// Whether the radio itself rang, which this program cannot hear; `y` in an answer is yes.
    AskRadio,
}

/// No input said anything: silence would prove nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("no input has said anything")]
pub struct NoReception;

#[derive(Clone, Copy, Debug)]
enum Stage {
    /// Waiting until an input says anything.
    Listening,
    /// Waiting for a person to be ready for the next beacon.
    Ready,
    /// A beacon is being tested.
    Testing {
        since: Stamp,
        /// The first transmission that counts.
        from: usize,
        /// The first since the test began.
        begun: usize,
        /// The first that was not yet told.
        told: usize,
    },
    /// A person is asked whether the radio itself rang.
    Radio,
    Done,
}

/// A round of self-tests.
#[derive(Debug)]
pub struct Session {
    waiting: VecDeque<Subject>,
    ship_identities: Vec<Mmsi>,
    longest: Duration,
    /// There is a person who can answer.
    asks: bool,
    answer: Option<String>,
    stage: Stage,
    begun: Option<Mono>,
    live: bool,
    nothing_live: bool,
    unheard: Unheard,
    tests: Vec<SelfTest>,
}

impl Session {
    /// A round of these beacons, each of which may take as long as `longest`. `ship_identities` are
    /// those programmed into the beacons of the muster; without `asks` nobody is waited for.
    pub fn new(
        subjects: Vec<Subject>,
        ship_identities: Vec<Mmsi>,
        longest: Duration,
        asks: bool,
    ) -> Self {
        Self {
            waiting: subjects.into(),
            ship_identities,
            longest,
            asks,
            answer: None,
            stage: Stage::Listening,
            begun: None,
            live: false,
            nothing_live: false,
            unheard: Unheard::default(),
            tests: Vec::new(),
        }
    }

    /// An input says something.
    pub const fn input_is_live(&mut self) {
        self.live = true;
    }

    /// How the inputs do now: while they are lost, silence proves nothing. To be called before
    /// [`Self::proceed`].
    pub fn look(&mut self, inputs: &[InputView], now: Stamp) {
        self.unheard.look(inputs, now);
    }

    /// What the person answered, empty for a bare Enter.
    pub fn answer(&mut self, line: String) {
        self.answer = Some(line);
    }

    /// Nobody can answer any more: the round goes on by itself.
    pub const fn nobody_answers(&mut self) {
        self.asks = false;
    }

    /// Whether the round is over.
    pub const fn is_done(&self) -> bool {
        matches!(self.stage, Stage::Done)
    }

    /// The tests of which nothing more is to be asked, oldest first.
    pub fn settled(&self) -> &[SelfTest] {
        let asked = usize::from(matches!(self.stage, Stage::Radio));
        &self.tests[..self.tests.len().saturating_sub(asked)]
    }

    /// The tests that were judged.
    ///
    /// # Errors
    /// No input said anything.
    pub fn end(self) -> Result<Vec<SelfTest>, NoReception> {
        if self.nothing_live { Err(NoReception) } else { Ok(self.tests) }
    }

    /// Goes on by what was received since the beginning, oldest first, and by the time. To be
    /// called after every input, and now and then where none comes.
    pub fn proceed(&mut self, received: &[Transmission], now: Stamp) -> Vec<Prompt> {
        let mut prompts = Vec::new();
        match self.stage {
            Stage::Listening => {
                let begun = *self.begun.get_or_insert(now.at);
                if self.live {
                    prompts.push(Prompt::Begin);
                    self.next(&mut prompts);
                } else if now.at.since(begun) >= INPUT_WITHIN {
                    self.nothing_live = true;
                    self.stage = Stage::Done;
                }
            }
            Stage::Ready => {
                if !self.asks || self.answer.take().is_some() {
                    let counts = |it: &Transmission| now.at.since(it.at.at) <= BEFORE_ENTER;
                    let from = received.iter().position(counts).unwrap_or(received.len());
                    let begun = received.len();
                    self.stage = Stage::Testing { since: now, from, begun, told: begun };
                    prompts.extend(self.waiting.front().cloned().map(Prompt::Test));
                }
            }
            Stage::Testing { since, from, begun, told } => {
                self.stage = Stage::Testing { since, from, begun, told: received.len() };
                let subject = self.waiting.front().and_then(|subject| subject.mmsi);
                prompts.extend(received.iter().skip(told).map(|it| Prompt::Received {
                    transmission: it.clone(),
                    other: matches!(it.signal, Signal::Beacon { mmsi, .. } if Some(mmsi) != subject),
                }));
                let heard = received.get(from..).unwrap_or_default();
                self.follow(
                    heard.split_at(heard.len().min(begun - from)),
                    since,
                    now,
                    &mut prompts,
                );
            }
            Stage::Radio => {
                let answer = self.answer.take();
                if let (Some(answer), Some(test)) = (&answer, self.tests.last_mut()) {
                    test.radio_rang = Some(answer.trim_start().starts_with(['y', 'Y']));
                }
                // Nobody to ask is no answer.
                if answer.is_some() || !self.asks {
                    self.next(&mut prompts);
                }
            }
            Stage::Done => {}
        }
        prompts
    }

    fn next(&mut self, prompts: &mut Vec<Prompt>) {
        // What was typed before a question is no answer to it.
        self.answer = None;
        let Some(subject) = self.waiting.front() else {
            self.stage = Stage::Done;
            return;
        };
        self.stage = Stage::Ready;
        prompts.push(Prompt::Ready(subject.clone()));
    }

    /// Judges the test of any beacon of the round that is over, and that which was asked for if it
    /// was given up or takes too long. What was heard before the test began, and since.
    fn follow(
        &mut self,
        (before, heard): (&[Transmission], &[Transmission]),
        since: Stamp,
        now: Stamp,
        prompts: &mut Vec<Prompt>,
    ) {
        if self.waiting.is_empty() {
            return self.next(prompts);
        }
        let tests: Vec<Heard<'_>> =
            self.waiting.iter().map(|it| Heard::of(it, before, heard)).collect();
        let unheard = self.unheard.spans(now.utc);
        let judged = |it: &Heard<'_>| it.judge(&self.ship_identities, &unheard, since, now);
        let over = tests.iter().position(|it| {
            it.is_over(now.at) && (it.has_come || is_a_whole_one(judged(it).verdict.verdict))
        });
        let gave_up = over.is_none() && self.answer.take().is_some() && self.asks;
        let waited = now.at.since(since.at);
        if over.is_none() && !gave_up && waited < self.longest {
            if self.asks {
                let so_far = Box::new(judged(&tests[0]).verdict);
                prompts.push(Prompt::Progress { so_far, left: self.longest - waited });
            }
            return;
        }
        let place = over.unwrap_or(0);
        let test = judged(&tests[place]);
        let asked = self.waiting.front().filter(|_| place > 0).cloned();
        // Those of the round are judged by themselves.
        let of_round = |it: &Mmsi| {
            let mut since_then = self.tests.iter().filter(|test| test.verdict.ended >= since.utc);
            self.waiting.iter().any(|waiting| waiting.mmsi == Some(*it))
                || since_then.any(|test| test.verdict.mmsi == Some(*it))
        };
        let others = identities(heard).into_iter().filter(|it| !of_round(it)).collect();
        let verdict = &test.verdict;
        let asks_radio = self.asks
            && verdict.dsc_call == Some(false)
            && verdict.verdict != Judgement::ActiveHeard;
        prompts.push(Prompt::Judged { test: Box::new(test.clone()), asked, others });
        self.tests.push(test);
        self.waiting.remove(place);
        if asks_radio {
            // What was typed before a question is no answer to it.
            self.answer = None;
            self.stage = Stage::Radio;
            prompts.push(Prompt::AskRadio);
        } else if place == 0 {
            self.next(prompts);
        }
    }
}

/// Whether what was heard before the test began makes another one needless.
const fn is_a_whole_one(judgement: Judgement) -> bool {
    matches!(judgement, Judgement::Proven | Judgement::ActiveHeard)
}
