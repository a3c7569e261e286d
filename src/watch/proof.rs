//! Whether a beacon's self-test was received on board: judged on what was received alone, and never
//! by which of the eight messages carries the text, for the sources differ in that.

use serde::{Deserialize, Serialize};

use super::settings::{BURST, SELF_TEST_LONGEST};
use super::witness::{Said, Transmission, Witnessed};
use crate::mmsi::Mmsi;
use crate::navigation::{Position, range_and_bearing};
use crate::time::{Stamp, Utc};
use crate::units::NauticalMiles;
use crate::wire::ais::BeaconWord;
use crate::wire::nmea::{Dsc, Meaning};

/// Messages of a burst (M.1371-5 annex 9, section 5).
const EXPECTED: usize = 8;

/// One missing of eight is normal and two are no wonder; fewer than this are a finding (contract).
const ENOUGH: usize = 6;

/// A beacon further from the ship than this is not on board, or its position is an old one
/// (contract).
const ON_BOARD_M: f64 = 200.0;

/// A call this long before or after a beacon's messages belongs to its test: by DSC it is sent about
/// when the AIS burst is. Our own.
const CALL_BELONGS_MS: i64 = 3 * 60 * 1000;

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

/// What kind of position was heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// No position report was heard.
    None,
    /// Only the default, 91/181: no fix.
    Default,
    /// A position of another time: UTC second 60 or above.
    Stale,
    /// A fix.
    Valid,
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
    pub position: Place,
    /// How far that was from the ship, in metres.
    pub range_m: Option<u32>,
    /// Whether its DSC test call was heard; `None` where none is expected.
    pub dsc_call: Option<bool>,
    /// What is left to look at, each with what to do.
    pub findings: Vec<String>,
}

/// All that was received of one beacon.
struct Heard<'a> {
    all: Vec<(&'a Witnessed, Option<char>, &'a Said)>,
}

impl<'a> Heard<'a> {
    fn of(mmsi: Option<Mmsi>, witnessed: &'a [Witnessed]) -> Self {
        let all = witnessed.iter().filter_map(|it| match &it.what {
            Transmission::Beacon { mmsi: from, channel, said } if Some(*from) == mmsi => {
                Some((it, *channel, said))
            }
            _ => None,
        });
        Self { all: all.collect() }
    }

    fn count(&self, is: impl Fn(&Said) -> bool) -> usize {
        self.all.iter().filter(|(_, _, said)| is(said)).count()
    }

    fn on(&self, channel: char) -> usize {
        self.all.iter().filter(|(_, on, _)| *on == Some(channel)).count()
    }

    fn bursts(&self) -> usize {
        let mut begun: Option<Stamp> = None;
        let begins = self.all.iter().filter(|(it, ..)| {
            let new = begun.is_none_or(|begun| it.at.at.since(begun.at) > BURST);
            if new {
                begun = Some(it.at);
            }
            new
        });
        begins.count()
    }

    /// The best position that was heard, and where the ship was then.
    fn place(&self) -> (Place, Option<(Position, Option<Position>)>) {
        let mut best = (Place::None, None);
        for (it, _, said) in &self.all {
            let Said::Report { position, utc_second, .. } = said else { continue };
            let found = match position {
                None => (Place::Default, None),
                Some(position) if *utc_second < 60 => (Place::Valid, Some((*position, it.own))),
                Some(position) => (Place::Stale, Some((*position, it.own))),
            };
            if found.0 >= best.0 {
                best = found;
            }
        }
        best
    }
}

fn is_active(said: &Said) -> bool {
    matches!(
        said,
        Said::Report { nav_status: 14, .. } | Said::Text { word: Some(BeaconWord::Active), .. }
    )
}

fn is_test(said: &Said) -> bool {
    matches!(
        said,
        Said::Report { nav_status: 15, .. } | Said::Text { word: Some(BeaconWord::Test), .. }
    )
}

/// Judges a beacon by what was received between two moments. `others` are the ship identities
/// programmed into the other beacons of the muster.
pub fn judge(
    subject: &Subject,
    others: &[Mmsi],
    (started, ended): (Utc, Utc),
    witnessed: &[Witnessed],
) -> Verdict {
    let heard = Heard::of(subject.mmsi, witnessed);
    let calls = calls(subject, &heard, witnessed);
    let (position, place) = heard.place();
    let range = place.and_then(|(it, own)| Some(range_and_bearing(own?, it).0));
    let mut verdict = Verdict {
        verdict: Judgement::NotHeard,
        mmsi: subject.mmsi,
        person: subject.person.clone(),
        started,
        ended,
        text_messages: heard.count(|said| matches!(said, Said::Text { .. })),
        position_reports: heard.count(|said| matches!(said, Said::Report { .. })),
        messages_heard: heard.all.len(),
        messages_expected: EXPECTED,
        channel_a: heard.on('A'),
        channel_b: heard.on('B'),
        bursts: heard.bursts(),
        position,
        range_m: range.map(|range| range.metres().round() as u32),
        dsc_call: subject.dsc_mmsi.map(|_| false),
        findings: Vec::new(),
    };
    let is_own = |call: &&Dsc| {
        call.meaning == Meaning::Test
            && call.caller_mmsi.is_some()
            && [subject.mmsi, subject.dsc_mmsi].contains(&call.caller_mmsi)
    };
    if calls.iter().any(is_own) {
        verdict.dsc_call = Some(true);
    }
    let distress = calls.iter().any(|call| {
        call.meaning == Meaning::DistressAlert
            && subject.mmsi.is_some()
            && [call.caller_mmsi, call.casualty_mmsi].contains(&subject.mmsi)
    });
    if distress || heard.count(is_active) > 0 {
        verdict.verdict = Judgement::ActiveHeard;
        verdict.findings.push(
            "heard ACTIVE: switch it off now; if nobody is overboard, cancel the false alert: \
             by DSC if the radio can, always by voice on channel 16, and tell the coastguard"
                .to_owned(),
        );
        return verdict;
    }
    if heard.all.is_empty() {
        verdict.findings.push(
            "nothing heard from it: was it in test mode, with its aerial out and in the open? \
             Some wait up to 15 minutes for a fix"
                .to_owned(),
        );
        return verdict;
    }
    verdict.findings = findings(subject, others, &heard, &verdict, range, &calls);
    verdict.verdict =
        if verdict.findings.is_empty() { Judgement::Proven } else { Judgement::Partial };
    verdict
}

/// The calls that belong to the test: near its messages in time, or all if nothing was heard.
fn calls<'a>(subject: &Subject, heard: &Heard<'_>, witnessed: &'a [Witnessed]) -> Vec<&'a Dsc> {
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
    let calls = witnessed.iter().filter_map(|it| match &it.what {
        Transmission::Call(call) if near(it.at.utc) || of_subject(call) => Some(call),
        _ => None,
    });
    calls.collect()
}

/// What is left to look at although it was heard.
fn findings(
    subject: &Subject,
    others: &[Mmsi],
    heard: &Heard<'_>,
    verdict: &Verdict,
    range: Option<NauticalMiles>,
    calls: &[&Dsc],
) -> Vec<String> {
    let mut found = Vec::new();
    let mut find = |text: String| {
        if !found.contains(&text) {
            found.push(text);
        }
    };
    if subject.stranger {
        find("identity unknown: it is not in the muster; add it there, or is it another's?".into());
    }
    if heard.count(is_test) == 0 {
        find("neither status 15 nor a TEST text: it was not in test mode".into());
    }
    if heard.count(|said| matches!(said, Said::Text { word: Some(BeaconWord::Test), .. })) == 0 {
        find("no TEST text heard: repeat the test; a text may be lost like any other".into());
    }
    for (_, _, said) in &heard.all {
        match said {
            Said::Text { text, word: None } => {
                find(format!(
                    "text {text:?} is no known word: damaged on the way, or not a beacon"
                ));
            }
            Said::Report { nav_status, .. } if !matches!(nav_status, 14 | 15) => {
                find(format!("status {nav_status} is neither test nor active: is it a beacon?"));
            }
            Said::Other(kind) => find(format!("message {kind}, which no beacon sends")),
            _ => {}
        }
    }
    if verdict.messages_heard < ENOUGH {
        let heard = verdict.messages_heard;
        find(format!("only {heard} of {EXPECTED} heard: check antenna and cable, repeat nearer"));
    }
    match (verdict.channel_a, verdict.channel_b) {
        (0, 0) => find("the receiver does not tell the channel of what it hears".into()),
        (_, 0) => find("only channel A heard: antenna, splitter or a one-channel receiver".into()),
        (0, _) => find("only channel B heard: antenna, splitter or a one-channel receiver".into()),
        _ => {}
    }
    match verdict.position {
        Place::Valid => {}
        Place::Default => find("position default: no fix; repeat in the open".into()),
        Place::Stale => find("position old: its fix was lost; repeat in the open".into()),
        Place::None => find("no position report heard: repeat the test".into()),
    }
    match range {
        Some(range) if range.metres() > ON_BOARD_M => {
            find(format!("position {range} away: not this beacon, or an old fix"));
        }
        None if verdict.position >= Place::Stale => {
            find("own position not known: where the beacon said it is cannot be checked".into());
        }
        _ => {}
    }
    if let (Some((first, ..)), Some((last, ..))) = (heard.all.first(), heard.all.last())
        && last.at.at.since(first.at.at) > SELF_TEST_LONGEST
        && verdict.bursts > 1
    {
        find("heard for longer than a self-test takes: was it tested twice, or left on?".into());
    }
    for call in calls.iter().filter(|call| call.meaning == Meaning::Test) {
        let Some(caller) = call.caller_mmsi.filter(|it| it.beacon_kind().is_none()) else {
            continue;
        };
        if Some(caller) != subject.dsc_mmsi && !others.contains(&caller) {
            find(format!(
                "the ship's identity in a DSC test call is {caller}: not the one that should be \
                 programmed in"
            ));
        }
    }
    found
}
