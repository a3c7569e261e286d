//! Whether a beacon's self-test was received on board: judged on what was received alone, and never
//! by which of the eight messages carries the text, for the sources differ in that.

use std::collections::HashSet;
use std::time::Duration;

use serde::{Deserialize, Serialize};

use crate::beacon::{ANOTHER_BURST, BURST, MESSAGES};
use crate::mmsi::Mmsi;
use crate::navigation::{Position, range_and_bearing};
use crate::text::counted;
use crate::time::{Stamp, Utc};
use crate::units::NauticalMiles;
use crate::watch::{SELF_TEST_LONGEST, Signal, Statement, Transmission};
use crate::wire::ais::BeaconWord;
use crate::wire::nmea::{Dsc, Meaning};

/// One missing of eight is normal and two are no wonder; fewer than this are a finding.
/// Our own.
const ENOUGH: usize = 6;

/// A beacon further from the ship than this is not on board, or its position is an old one.
/// Our own.
const ON_BOARD_M: f64 = 200.0;

/// A call this long before or after a beacon's messages belongs to its test: by DSC it is sent about
/// when the AIS burst is. Our own.
const CALL_BELONGS_MS: i64 = 3 * 60 * 1000;

/// What is said where something may not have come in because nobody listened.
const NOT_LISTENED: &str = "not listened all the time: an input was lost; what did not come may have been sent: repeat \
     the test";

/// What a verdict on rehearsed traffic begins with.
const PROVES_NOTHING: &str = "REHEARSAL: proves nothing. ";

/// Which beacon is judged, and what is known of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Subject {
    /// Its identity; `None` if none was named and none was heard.
    pub mmsi: Option<Mmsi>,
    /// Who carries it.
    pub person: Option<String>,
    /// The ship identity programmed into it, if it has DSC.
    pub dsc_mmsi: Option<Mmsi>,
    /// Whether there is a muster, and it is not in it.
    pub stranger: bool,
}

/// How it was judged, in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Judgement {
    /// Heard as a test, none of it ACTIVE, nothing left to look at.
    Proven,
    /// Heard as a test, with findings.
    Partial,
    /// Nothing was heard from it.
    NotHeard,
    /// It was heard ACTIVE.
    ActiveHeard,
}

impl Judgement {
    /// The same as a person reads it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Proven => "PROVEN",
            Self::Partial => "HEARD IN PART",
            Self::NotHeard => "NOT HEARD",
            Self::ActiveHeard => "HEARD ACTIVE",
        }
    }
}

/// What kind of position was heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PositionKind {
    /// No position report was heard.
    None,
    /// Only the default, 91/181: no fix.
    Default,
    /// A position of another time: UTC second 60 or above.
    Stale,
    /// A fix.
    Valid,
}

impl PositionKind {
    /// The same as a person reads it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::None => "none heard",
            Self::Default => "default: no fix",
            Self::Stale => "old: its fix was lost",
            Self::Valid => "valid",
        }
    }
}

/// The verdict, with the keys of `prove --json`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// In a word.
    pub verdict: Judgement,
    /// Of which beacon.
    pub mmsi: Option<Mmsi>,
    /// Whose it is.
    pub person: Option<String>,
    /// When listening began.
    pub started: Utc,
    /// When it ended.
    pub ended: Utc,
    /// Messages 14 heard.
    pub text_messages: usize,
    /// Messages 1 heard.
    pub position_reports: usize,
    /// All heard, other types included.
    pub messages_heard: usize,
    /// A burst's eight.
    pub messages_expected: usize,
    /// Heard on AIS 1.
    pub channel_a: usize,
    /// Heard on AIS 2.
    pub channel_b: usize,
    /// Bursts of which anything was heard.
    pub bursts: usize,
    /// What kind of position was heard.
    pub position: PositionKind,
    /// How far that was from the ship, in metres.
    pub range_m: Option<u32>,
    /// Whether its DSC test call was heard; `None` where none is expected.
    pub dsc_call: Option<bool>,
    /// What was heard was rehearsed: it proves nothing. No key if it was not.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub rehearsed: bool,
    /// What is left to look at, each with what to do.
    pub findings: Vec<String>,
}

impl Verdict {
    /// Which beacon, and whose.
    pub fn subject(&self) -> String {
        name(self.mmsi, self.person.as_deref())
    }

    /// The verdict in a line.
    pub fn summary(&self) -> String {
        let rehearsed = if self.rehearsed { PROVES_NOTHING } else { "" };
        let subject = format!("{rehearsed}{}", self.subject());
        let Self { messages_heard, messages_expected, channel_a, channel_b, .. } = self;
        let heard = format!("{messages_heard} of {messages_expected} heard");
        let channels = format!("channel A {channel_a}, B {channel_b}");
        match self.verdict {
            Judgement::Proven => {
                let range = self.range_m.map(|m| format!(", {m} m away")).unwrap_or_default();
                format!("{subject}: test PROVEN: {heard}, {channels}, position valid{range}")
            }
            Judgement::Partial => format!("{subject}: test heard IN PART: {heard}, {channels}"),
            Judgement::NotHeard => format!("{subject}: NOT HEARD"),
            Judgement::ActiveHeard => {
                format!("{subject}: heard ACTIVE, {}", counted(*messages_heard, "message"))
            }
        }
    }
}

impl Verdict {
    /// The verdict in a few words beside the name of the beacon, with its findings.
    pub fn short(&self) -> String {
        let heard = format!("{} of {} messages", self.messages_heard, self.messages_expected);
        let rehearsed = if self.rehearsed { PROVES_NOTHING } else { "" };
        match self.verdict {
            Judgement::Proven => format!("{heard}: PROVEN"),
            Judgement::ActiveHeard => {
                format!("{rehearsed}heard ACTIVE, which is no test: {}", self.findings.join("; "))
            }
            _ if self.rehearsed => format!("{rehearsed}{heard}"),
            _ => format!("{heard}: not complete: {}", self.findings.join("; ")),
        }
    }
}

impl Subject {
    /// Which beacon, and whose.
    pub fn name(&self) -> String {
        name(self.mmsi, self.person.as_deref())
    }
}

fn name(mmsi: Option<Mmsi>, person: Option<&str>) -> String {
    match (person, mmsi) {
        (Some(person), Some(mmsi)) => format!("{person}'s beacon {mmsi}"),
        (_, Some(mmsi)) => format!("beacon {mmsi}"),
        _ => "no beacon".to_owned(),
    }
}

/// All that was received of one beacon.
struct Messages<'a> {
    all: Vec<(&'a Transmission, Option<char>, &'a Statement)>,
}

impl<'a> Messages<'a> {
    fn of(mmsi: Option<Mmsi>, transmissions: &'a [Transmission]) -> Self {
        let all = transmissions.iter().filter_map(|it| match &it.signal {
            Signal::Beacon { mmsi: from, channel, statement } if Some(*from) == mmsi => {
                Some((it, *channel, statement))
            }
            _ => None,
        });
        Self { all: all.collect() }
    }

    fn count(&self, is: impl Fn(&Statement) -> bool) -> usize {
        self.all.iter().filter(|(_, _, statement)| is(statement)).count()
    }

    fn on(&self, channel: char) -> usize {
        self.all.iter().filter(|(_, on, _)| *on == Some(channel)).count()
    }

    fn bursts(&self) -> usize {
        let mut begun: Option<Stamp> = None;
        let begins = self.all.iter().filter(|(it, ..)| {
            let new = begun.is_none_or(|begun| it.at.at.since(begun.at) > ANOTHER_BURST);
            if new {
                begun = Some(it.at);
            }
            new
        });
        begins.count()
    }

    /// Whether any of a burst may have been sent while nobody listened; of a beacon that was not
    /// heard, at any time of the window.
    fn may_have_missed(&self, unheard: &[(Utc, Utc)], window: (Utc, Utc)) -> bool {
        let ends = self.all.first().zip(self.all.last());
        let burst = BURST.as_millis() as i64;
        let (from, until, around) = match ends {
            Some(((first, ..), (last, ..))) => (first.at.utc, last.at.utc, burst),
            None => (window.0, window.1, 0),
        };
        let touches = |&(begun, ended): &(Utc, Utc)| {
            begun.ms_since(until) <= around && from.ms_since(ended) <= around
        };
        self.all.len() < MESSAGES && unheard.iter().any(touches)
    }

    /// From the first message to the last.
    fn lasted(&self) -> Duration {
        let ends = self.all.first().zip(self.all.last());
        ends.map_or(Duration::ZERO, |((first, ..), (last, ..))| last.at.at.since(first.at.at))
    }

    /// The best position that was heard, and where the ship was then.
    fn place(&self) -> (PositionKind, Option<(Position, Option<Position>)>) {
        let mut best = (PositionKind::None, None);
        for (it, _, statement) in &self.all {
            let Statement::Report { position, utc_second, .. } = statement else { continue };
            let found = match position {
                None => (PositionKind::Default, None),
                Some(position) if *utc_second < 60 => {
                    (PositionKind::Valid, Some((*position, it.own)))
                }
                Some(position) => (PositionKind::Stale, Some((*position, it.own))),
            };
            if found.0 >= best.0 {
                best = found;
            }
        }
        best
    }
}

impl Signal {
    /// Whether it is a beacon's message that says ACTIVE.
    pub(super) fn is_active(&self) -> bool {
        matches!(self, Self::Beacon { statement, .. } if statement.is_active())
    }
}

fn is_test(statement: &Statement) -> bool {
    matches!(
        statement,
        Statement::Report { nav_status: 15, .. }
            | Statement::Text { word: Some(BeaconWord::Test), .. }
    )
}

/// Judges a beacon by what was received between two moments. `ship_identities` are those
/// programmed into the beacons of the muster. What is rehearsed counts only where nothing else was
/// heard of it, and then as a rehearsal.
pub fn judge(
    subject: &Subject,
    ship_identities: &[Mmsi],
    window: (Utc, Utc),
    transmissions: &[Transmission],
) -> Verdict {
    judge_heard(subject, ship_identities, window, &[], transmissions)
}

/// The same where nobody listened in the spans of `unheard`: what did not come then may have been
/// sent.
pub(super) fn judge_heard(
    subject: &Subject,
    ship_identities: &[Mmsi],
    window: (Utc, Utc),
    unheard: &[(Utc, Utc)],
    transmissions: &[Transmission],
) -> Verdict {
    let of_subject = |it: &Transmission| match &it.signal {
        Signal::Beacon { mmsi, .. } => Some(*mmsi) == subject.mmsi,
        Signal::Call(call) => is_own_test(subject, call) || is_own_distress(subject, call),
    };
    let is_real = |it: &&Transmission| it.rehearsed.is_none();
    let real: Vec<Transmission> = transmissions.iter().filter(is_real).cloned().collect();
    if real.iter().any(of_subject) || !transmissions.iter().any(of_subject) {
        return judge_all(subject, ship_identities, window, unheard, &real);
    }
    let mut verdict = judge_all(subject, ship_identities, window, unheard, transmissions);
    verdict.rehearsed = true;
    verdict.verdict = verdict.verdict.max(Judgement::Partial);
    let finding = "REHEARSAL: proves nothing: all that was heard of it was rehearsed";
    verdict.findings.insert(0, finding.to_owned());
    verdict
}

fn judge_all(
    subject: &Subject,
    ship_identities: &[Mmsi],
    (started, ended): (Utc, Utc),
    unheard: &[(Utc, Utc)],
    transmissions: &[Transmission],
) -> Verdict {
    let heard = Messages::of(subject.mmsi, transmissions);
    let calls = calls(subject, &heard, transmissions);
    let (position, place) = heard.place();
    let range = place.and_then(|(it, own)| Some(range_and_bearing(own?, it).0));
    let mut verdict = Verdict {
        verdict: Judgement::NotHeard,
        mmsi: subject.mmsi,
        person: subject.person.clone(),
        started,
        ended,
        text_messages: heard.count(|statement| matches!(statement, Statement::Text { .. })),
        position_reports: heard.count(|statement| matches!(statement, Statement::Report { .. })),
        messages_heard: heard.all.len(),
        messages_expected: MESSAGES,
        channel_a: heard.on('A'),
        channel_b: heard.on('B'),
        bursts: heard.bursts(),
        position,
        range_m: range.map(|range| range.metres().round() as u32),
        dsc_call: subject.dsc_mmsi.map(|_| false),
        rehearsed: false,
        findings: Vec::new(),
    };
    if calls.iter().any(|call| is_own_test(subject, call)) {
        verdict.dsc_call = Some(true);
    }
    let distress = calls.iter().any(|call| is_own_distress(subject, call));
    if distress || heard.count(Statement::is_active) > 0 {
        verdict.verdict = Judgement::ActiveHeard;
        verdict.findings.push(
            "heard ACTIVE: switch it off now; if nobody is overboard, cancel the false alert: \
             by DSC if the radio can, always by voice on channel 16, and tell the coastguard"
                .to_owned(),
        );
        return verdict;
    }
    let missed = heard.may_have_missed(unheard, (started, ended));
    if heard.all.is_empty() {
        let silent = "nothing heard from it: was it in test mode, with its antenna out and in the \
                      open? Some wait up to 15 minutes for a fix";
        verdict.findings.push(if missed { NOT_LISTENED } else { silent }.to_owned());
        return verdict;
    }
    verdict.findings = findings(subject, ship_identities, &heard, &verdict, range, &calls);
    if missed {
        // Silence of a time in which nobody listened is nothing that is missing.
        let too_few = count_finding(&verdict);
        verdict.findings.retain(|it| Some(it) != too_few.as_ref());
        verdict.findings.push(NOT_LISTENED.to_owned());
    }
    verdict.verdict =
        if verdict.findings.is_empty() { Judgement::Proven } else { Judgement::Partial };
    verdict
}

/// Whether a call is the test call of the beacon or of the ship programmed into it.
fn is_own_test(subject: &Subject, call: &Dsc) -> bool {
    call.meaning == Meaning::Test
        && call.caller_mmsi.is_some()
        && [subject.mmsi, subject.dsc_mmsi].contains(&call.caller_mmsi)
}

/// Whether a call is a distress alert of the beacon.
fn is_own_distress(subject: &Subject, call: &Dsc) -> bool {
    call.meaning == Meaning::DistressAlert
        && subject.mmsi.is_some()
        && [call.caller_mmsi, call.casualty_mmsi].contains(&subject.mmsi)
}

/// The calls that belong to the test: near its messages in time, or all if nothing was heard.
fn calls<'a>(
    subject: &Subject,
    heard: &Messages<'_>,
    transmissions: &'a [Transmission],
) -> Vec<&'a Dsc> {
    let span = heard.all.first().zip(heard.all.last());
    let near = |at: Utc| {
        span.is_none_or(|((first, ..), (last, ..))| {
            at.ms_since(first.at.utc) >= -CALL_BELONGS_MS
                && at.ms_since(last.at.utc) <= CALL_BELONGS_MS
        })
    };
    let of_subject = |call: &Dsc| {
        subject.mmsi.is_some() && [call.caller_mmsi, call.casualty_mmsi].contains(&subject.mmsi)
    };
    let calls = transmissions.iter().filter_map(|it| match &it.signal {
        Signal::Call(call) if near(it.at.utc) || of_subject(call) => Some(call),
        _ => None,
    });
    calls.collect()
}

/// What is left to look at although it was heard.
fn findings(
    subject: &Subject,
    ship_identities: &[Mmsi],
    heard: &Messages<'_>,
    verdict: &Verdict,
    range: Option<NauticalMiles>,
    calls: &[&Dsc],
) -> Vec<String> {
    let mut found = Vec::new();
    if subject.stranger {
        found.push(
            "identity unknown: it is not in the muster; add it there, unless it is somebody else's"
                .to_owned(),
        );
    }
    content_findings(heard, &mut found);
    found.extend(count_finding(verdict));
    found.extend(channel_finding(verdict));
    found.extend(position_finding(verdict.position));
    match range {
        Some(range) if range.metres() > ON_BOARD_M => {
            found.push(format!("position {range} away: not this beacon, or an old fix"));
        }
        None if verdict.position >= PositionKind::Stale => found.push(
            "own position not known: where the beacon said it is cannot be checked".to_owned(),
        ),
        _ => {}
    }
    if heard.lasted() > SELF_TEST_LONGEST && verdict.bursts > 1 {
        found.push(
            "heard for longer than a self-test takes: was it tested twice, or left on?".to_owned(),
        );
    }
    call_findings(subject, ship_identities, calls, &mut found);
    // Each is said once, however often it was so.
    let mut said = HashSet::new();
    found.retain(|finding| said.insert(finding.clone()));
    found
}

/// What its messages said that a test does not say, and what a test says that they did not.
fn content_findings(heard: &Messages<'_>, found: &mut Vec<String>) {
    if heard.count(is_test) == 0 {
        found.push("neither status 15 nor a TEST text: it was not in test mode".to_owned());
    }
    let is_test_text =
        |it: &Statement| matches!(it, Statement::Text { word: Some(BeaconWord::Test), .. });
    if heard.count(is_test_text) == 0 {
        found.push(
            "no TEST text heard: repeat the test; a text may be lost like any other".to_owned(),
        );
    }
    let strange = heard.all.iter().filter_map(|(_, _, statement)| match statement {
        Statement::Text { text, word: None } => {
            Some(format!("text {text:?} is no known word: damaged on the way, or not a beacon"))
        }
        Statement::Report { nav_status, .. } if !matches!(nav_status, 14 | 15) => {
            Some(format!("status {nav_status} is neither test nor active: is it a beacon?"))
        }
        Statement::Other(kind) => Some(format!("message {kind}, which no beacon sends")),
        _ => None,
    });
    found.extend(strange);
}

fn count_finding(verdict: &Verdict) -> Option<String> {
    let heard = verdict.messages_heard;
    (heard < ENOUGH).then(|| {
        format!("only {heard} of {MESSAGES} heard: check antenna and cable, repeat nearer")
    })
}

fn channel_finding(verdict: &Verdict) -> Option<String> {
    let only = match (verdict.channel_a, verdict.channel_b) {
        (0, 0) => {
            return Some("the receiver does not tell the channel of what it hears".to_owned());
        }
        (_, 0) => 'A',
        (0, _) => 'B',
        _ => return None,
    };
    Some(format!("only channel {only} heard: antenna, splitter or a one-channel receiver"))
}

fn position_finding(position: PositionKind) -> Option<String> {
    let finding = match position {
        PositionKind::Valid => return None,
        PositionKind::Default => "position default: no fix; repeat in the open",
        PositionKind::Stale => "position old: its fix was lost; repeat in the open",
        PositionKind::None => "no position report heard: repeat the test",
    };
    Some(finding.to_owned())
}

/// Test calls in the name of a ship that is none of this muster's.
fn call_findings(
    subject: &Subject,
    ship_identities: &[Mmsi],
    calls: &[&Dsc],
    found: &mut Vec<String>,
) {
    let callers = calls
        .iter()
        .filter(|call| call.meaning == Meaning::Test)
        .filter_map(|call| call.caller_mmsi.filter(|it| it.beacon_kind().is_none()));
    for caller in callers {
        if Some(caller) != subject.dsc_mmsi && !ship_identities.contains(&caller) {
            found.push(format!(
                "the ship's identity in a DSC test call is {caller}: not the one that should be \
                 programmed in"
            ));
        }
    }
}
