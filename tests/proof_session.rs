//! A round of self-tests as a session: what is asked and when, without a process, a terminal or a
//! moment of waiting.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

use std::time::Duration;

use overside::mmsi::Mmsi;
use overside::navigation::Position;
use overside::proof::{Judgement, LastTest, NoReception, Prompt, SelfTest, Session, Subject};
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{Signal, Statement, Transmission};
use overside::wire::ais::BeaconWord;

const MATE: u32 = 972_000_017;
const SKIPPER: u32 = 972_000_016;

fn stamp(second: u64) -> Stamp {
    let span = Duration::from_secs(second);
    let begun = Utc::parse_rfc3339("2026-05-09T08:30:00Z").unwrap();
    Stamp { at: Mono::START + span, utc: begun.plus(span) }
}

fn subject(mmsi: u32) -> Subject {
    Subject { mmsi: Mmsi::new(mmsi), dsc_mmsi: Mmsi::new(200_000_000), ..Subject::default() }
}

/// A session with what it was fed, and the second it is.
struct Round {
    session: Session,
    received: Vec<Transmission>,
    second: u64,
}

impl Round {
    fn of(subjects: &[u32], asks: bool) -> Self {
        let subjects = subjects.iter().copied().map(subject).collect();
        let session = Session::new(subjects, Vec::new(), Duration::from_secs(900), asks);
        Self { session, received: Vec::new(), second: 0 }
    }

    /// A second later.
    fn next(&mut self) -> Vec<Prompt> {
        self.second += 1;
        self.session.proceed(&self.received, stamp(self.second))
    }

    fn answer(&mut self, line: &str) -> Vec<Prompt> {
        self.session.answer(line.to_owned());
        self.next()
    }

    fn receive(&mut self, mmsi: u32, nav_status: u8, channel: char) {
        let position = Position::new(57.7003, 10.5836);
        let statement = match nav_status {
            15 if self.received.is_empty() => {
                Statement::Text { text: "MOB TEST".to_owned(), word: Some(BeaconWord::Test) }
            }
            _ => Statement::Report { nav_status, position, utc_second: 17 },
        };
        let mmsi = Mmsi::new(mmsi).unwrap();
        let signal = Signal::Beacon { mmsi, channel: Some(channel), statement };
        let (at, line) = (stamp(self.second), "!AIVDM".to_owned());
        self.received.push(Transmission { at, own: position, line, rehearsed: None, signal });
    }

    /// A burst as it comes in, and all that is said until the second after it.
    fn burst(&mut self, mmsi: u32, messages: usize) -> Vec<Prompt> {
        let mut said = Vec::new();
        for message in 0..messages {
            self.receive(mmsi, 15, if message % 2 == 0 { 'A' } else { 'B' });
            said.extend(self.next());
            said.extend(self.next());
        }
        said
    }

    /// Seconds until a test is judged, and the judgement.
    #[track_caller]
    fn judged(&mut self) -> (u64, SelfTest, Vec<Prompt>) {
        let from = self.second;
        for _ in 0..2_000 {
            let mut prompts = self.next().into_iter();
            if let Some(test) = prompts.find_map(|prompt| match prompt {
                Prompt::Judged { test, .. } => Some(*test),
                _ => None,
            }) {
                return (self.second - from, test, prompts.collect());
            }
        }
        panic!("it is waited for ever");
    }
}

#[test]
fn without_a_live_input_nothing_is_proven() {
    let mut round = Round::of(&[MATE], true);
    while !round.session.is_done() {
        assert_eq!(round.next(), []);
    }
    assert_eq!(round.second, 16, "the first look is the beginning");
    assert_eq!(round.session.end(), Err(NoReception));
}

#[test]
fn one_beacon_after_the_other_and_the_radio_beside() {
    let mut round = Round::of(&[SKIPPER, MATE], true);
    assert_eq!(round.next(), []);
    round.session.input_is_live();
    // What is typed before a question is no answer to it.
    assert_eq!(round.answer(""), [Prompt::Begin, Prompt::Ready(subject(SKIPPER))]);
    assert_eq!(round.next(), []);
    assert_eq!(round.answer(""), [Prompt::Test(subject(SKIPPER))]);
    let said = round.burst(SKIPPER, 8);
    let received = |prompt: &&Prompt| matches!(prompt, Prompt::Received { other: false, .. });
    assert_eq!(said.iter().filter(received).count(), 8);
    let Some(Prompt::Progress { so_far, left }) =
        said.iter().rfind(|it| matches!(it, Prompt::Progress { .. }))
    else {
        panic!("no progress: {said:?}")
    };
    assert_eq!((so_far.messages_heard, left.as_secs()), (8, 900 - 15));
    let judged: Vec<&SelfTest> = said
        .iter()
        .filter_map(|it| if let Prompt::Judged { test, .. } = it { Some(&**test) } else { None })
        .collect();
    // All eight were heard: 2 s later nothing more is waited for.
    assert_eq!((judged.len(), judged[0].verdict.verdict), (1, Judgement::Proven));
    assert_eq!(judged[0].sentences.len(), 8);
    assert_eq!(said.last(), Some(&Prompt::AskRadio));
    assert_eq!(round.answer(" Yes"), [Prompt::Ready(subject(MATE))]);
    assert_eq!(round.answer(""), [Prompt::Test(subject(MATE))]);
    // The first one's burst does not count for the second, and another's is said to be that.
    round.receive(SKIPPER, 15, 'A');
    assert!(matches!(round.next()[0], Prompt::Received { other: true, .. }));
    let Some(Prompt::Judged { test, others, .. }) = round.answer("").into_iter().next() else {
        panic!("Enter does not give up")
    };
    assert_eq!(test.verdict.verdict, Judgement::NotHeard);
    assert_eq!(others, [Mmsi::new(SKIPPER).unwrap()]);
    assert_eq!(round.answer(""), [], "a bare Enter is no");
    assert!(round.session.is_done());
    let rang: Vec<Option<bool>> =
        round.session.end().unwrap().iter().map(|test| test.radio_rang).collect();
    assert_eq!(rang, [Some(true), Some(false)]);
}

#[test]
fn a_lost_message_is_waited_for_and_an_active_beacon_is_not() {
    let mut round = Round::of(&[MATE], false);
    round.session.input_is_live();
    assert_eq!(round.next().len(), 2);
    assert_eq!(round.next(), [Prompt::Test(subject(MATE))], "nobody is waited for");
    round.burst(MATE, 5);
    let (waited, test, after) = round.judged();
    assert_eq!((waited, test.verdict.messages_heard), (10, 5));
    assert_eq!((test.verdict.verdict, test.radio_rang), (Judgement::Partial, None));
    assert_eq!(after, [], "nobody is asked of the radio");
    // One that does not end is judged 30 s after its first message.
    let mut round = Round::of(&[MATE], false);
    round.session.input_is_live();
    round.next();
    round.next();
    let mut seconds = 0;
    let judged = loop {
        seconds += 1;
        round.receive(MATE, 14, 'A');
        if let Some(Prompt::Judged { test, .. }) =
            round.next().into_iter().find(|it| matches!(it, Prompt::Judged { .. }))
        {
            break test;
        }
    };
    assert_eq!((judged.verdict.verdict, seconds), (Judgement::ActiveHeard, 30));
}

#[test]
fn a_beacon_that_is_never_heard_is_waited_for_as_long_as_was_said() {
    let mut round = Round::of(&[MATE], true);
    round.session.input_is_live();
    round.next();
    round.answer("");
    // The keyboard goes away in the middle of it.
    round.session.nobody_answers();
    let (waited, test, _) = round.judged();
    assert_eq!((waited, test.verdict.verdict), (900, Judgement::NotHeard));
    round.next();
    assert!(round.session.is_done());
}

#[test]
fn a_test_just_before_enter_counts() {
    let mut round = Round::of(&[MATE], true);
    round.session.input_is_live();
    round.next();
    round.burst(MATE, 8);
    round.second += 90;
    round.answer("");
    let (waited, test, _) = round.judged();
    assert_eq!((waited, test.verdict.verdict), (1, Judgement::Proven));
    // One that was heard in part is waited for, and another one stands for itself.
    let mut round = Round::of(&[MATE], true);
    round.session.input_is_live();
    round.next();
    round.burst(MATE, 4);
    round.second += 60;
    round.answer("");
    for _ in 0..60 {
        assert!(!round.next().iter().any(|it| matches!(it, Prompt::Judged { .. })));
    }
    let said = round.burst(MATE, 8);
    let judged = said.iter().find_map(|it| match it {
        Prompt::Judged { test, .. } => Some(test),
        _ => None,
    });
    assert_eq!(judged.unwrap().verdict.messages_heard, 8);
    // ACTIVE is ACTIVE.
    let mut round = Round::of(&[MATE], true);
    round.session.input_is_live();
    round.next();
    round.receive(MATE, 14, 'A');
    round.second += 100;
    round.answer("");
    assert_eq!(round.judged().1.verdict.verdict, Judgement::ActiveHeard);
}

#[test]
fn the_beacons_of_a_round_come_in_any_order() {
    let mut round = Round::of(&[SKIPPER, MATE], false);
    round.session.input_is_live();
    round.next();
    assert_eq!(round.next(), [Prompt::Test(subject(SKIPPER))]);
    let said = round.burst(MATE, 8);
    let judged = said.iter().find(|it| matches!(it, Prompt::Judged { .. }));
    let Some(Prompt::Judged { test, asked, others }) = judged else { panic!("{said:?}") };
    assert_eq!(test.verdict.mmsi, Mmsi::new(MATE));
    assert_eq!((asked, others.as_slice()), (&Some(subject(SKIPPER)), &[][..]));
    assert_eq!(round.session.settled().len(), 1, "and it can be written down");
    // The one that was asked for is waited for on.
    round.burst(SKIPPER, 8);
    assert_eq!(round.session.settled().len(), 2);
    assert!(round.session.is_done());
}

/// A kill after the verdict of one loses nothing but that which waits for an answer.
#[test]
fn a_test_is_settled_when_nothing_more_is_asked() {
    let mut round = Round::of(&[SKIPPER, MATE], true);
    round.session.input_is_live();
    round.next();
    round.answer("");
    round.burst(MATE, 8);
    assert_eq!(round.session.settled().len(), 0, "whether the radio rang is asked");
    assert_eq!(round.answer("y"), [Prompt::Ready(subject(SKIPPER))]);
    assert_eq!(round.session.settled()[0].radio_rang, Some(true));
}

/// The last test of the Mate's beacon as a watch judges it when it is asked.
fn last(round: &Round, unheard: &[(Utc, Utc)]) -> LastTest {
    LastTest::of(&subject(MATE), &[], unheard, &round.received, stamp(round.second))
}

#[track_caller]
fn over(round: &Round) -> SelfTest {
    match last(round, &[]) {
        LastTest::Over(test) => *test,
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_last_test_is_judged_as_in_a_round() {
    let mut round = Round::of(&[], false);
    assert!(matches!(last(&round, &[]), LastTest::None));
    round.burst(SKIPPER, 8);
    assert!(matches!(last(&round, &[]), LastTest::None));
    round.second += 60;
    round.received.clear();
    let began = round.second;
    round.burst(MATE, 5);
    assert!(matches!(last(&round, &[]), LastTest::ComingIn(5)), "three may still come");
    round.second += 12;
    let test = over(&round).verdict;
    assert_eq!((test.verdict, test.messages_heard), (Judgement::Partial, 5));
    assert_eq!((test.started, test.ended), (stamp(began).utc, stamp(began + 8).utc));
    // One test does not complete another.
    round.received.truncate(1);
    round.second += 60;
    round.burst(MATE, 8);
    round.second += 2;
    let test = over(&round).verdict;
    assert_eq!((test.messages_heard, test.bursts), (8, 1));
    // Minutes later it is still what it was.
    round.second += 400;
    assert_eq!(over(&round).verdict.messages_heard, 8);
}

/// ACTIVE never counts as a test, and one before a test not for ever.
#[test]
fn what_was_active_just_before_the_last_test_counts() {
    for (before, judgement) in
        [(0, Judgement::ActiveHeard), (100, Judgement::ActiveHeard), (130, Judgement::Proven)]
    {
        let mut round = Round::of(&[], false);
        round.receive(MATE, 15, 'A');
        round.received.clear();
        round.second += 1;
        round.receive(MATE, 14, 'A');
        let active = round.received.remove(0);
        round.second += before;
        round.burst(MATE, 8);
        round.second += 30;
        round.received.insert(0, active);
        let verdict = over(&round).verdict;
        assert_eq!(verdict.verdict, judgement, "{before} {verdict:?}");
    }
}

#[test]
fn what_came_while_nobody_listened_is_not_missing() {
    let mut round = Round::of(&[], false);
    round.burst(MATE, 4);
    round.second += 20;
    let unheard = [(stamp(9).utc, stamp(20).utc)];
    let LastTest::Over(test) = last(&round, &unheard) else { panic!("it is over") };
    let findings = test.verdict.findings.join("; ");
    assert!(findings.contains("not listened") && !findings.contains("only 4 of 8"), "{findings}");
    // Long before it nobody need have listened, and of a whole one nothing can be missing.
    let unheard = [(stamp(300).utc, stamp(400).utc)];
    let LastTest::Over(test) = last(&round, &unheard) else { panic!("it is over") };
    assert!(test.verdict.findings.join("; ").contains("only 4 of 8"));
    let mut whole = Round::of(&[], false);
    whole.burst(MATE, 8);
    whole.second += 20;
    let LastTest::Over(test) = last(&whole, &[(stamp(0).utc, stamp(9).utc)]) else { panic!() };
    assert_eq!(test.verdict.verdict, Judgement::Proven);
}
