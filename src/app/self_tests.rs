//! Self-tests that a watch or a replay heard, judged as a proof judges them when somebody asks for
//! it: of one that is still coming in, when it is over.

use std::time::Duration;

use crate::frontend::{Parts, TestVerdict};
use crate::logbook::Draft;
use crate::mmsi::Mmsi;
use crate::proof::{LastTest, SelfTest, Subject, Unheard};
use crate::text::counted;
use crate::time::{Mono, Stamp, Utc};
use crate::watch::Watch;

/// How often a test is looked at that is still coming in. Our own.
const LOOK: Duration = Duration::from_millis(500);

/// So many verdicts are remembered: of a round of any crew. Our own.
const REMEMBERED: usize = 32;

/// What became of the entry of a test that somebody asked for.
const NOT_YET: &str = "still coming in";
const BEING_WRITTEN: &str = "being written into the logbook";

/// The tests that somebody has asked for.
#[derive(Debug, Default)]
pub(super) struct SelfTests {
    /// The beacons of the muster.
    muster: Vec<Subject>,
    /// When nobody listened.
    pub(super) unheard: Unheard,
    /// Those that are still coming in, and who asked for each.
    waiting: Vec<(Mmsi, Option<String>)>,
    look: Option<Mono>,
    /// Those that were written down, by when they began.
    written: Vec<(Mmsi, Utc)>,
}

impl SelfTests {
    pub(super) fn new(muster: Vec<Subject>) -> Self {
        Self { muster, ..Self::default() }
    }

    /// Goes by another muster. A test of a beacon that is another's by now was judged as something it
    /// is not any more: its verdict is taken back, and may be asked for again.
    pub(super) fn set_muster(&mut self, muster: Vec<Subject>, verdicts: &mut Vec<TestVerdict>) {
        let before = std::mem::replace(&mut self.muster, muster);
        let of = |it: &[Subject], mmsi| it.iter().find(|it| it.mmsi == Some(mmsi)).cloned();
        let is_another = |mmsi| of(&before, mmsi) != of(&self.muster, mmsi);
        self.written.retain(|(mmsi, _)| !is_another(*mmsi));
        verdicts.retain(|it| !is_another(it.mmsi) || it.record == NOT_YET);
    }

    /// A beacon was entered in the muster.
    pub(super) fn enter(&mut self, subject: Subject, verdicts: &mut Vec<TestVerdict>) {
        let muster = self.muster.iter().cloned().chain([subject]).collect();
        self.set_muster(muster, verdicts);
    }

    /// The last test of a beacon that this watch heard.
    pub(super) fn last(&self, mmsi: Mmsi, watch: &Watch, now: Stamp) -> LastTest {
        let ours = self.muster.iter().find(|it| it.mmsi == Some(mmsi)).cloned();
        let stranger = !self.muster.is_empty();
        let subject = ours.unwrap_or(Subject { mmsi: Some(mmsi), stranger, ..Subject::default() });
        let identities: Vec<Mmsi> = self.muster.iter().filter_map(|it| it.dsc_mmsi).collect();
        let unheard = self.unheard.spans(now.utc);
        LastTest::of(&subject, &identities, &unheard, watch.received(), now)
    }

    /// When something is to be looked at again.
    pub(super) const fn next_deadline(&self) -> Option<Mono> {
        self.look
    }

    /// Whether this one has not been written down yet.
    fn is_new(&mut self, mmsi: Mmsi, test: &SelfTest) -> bool {
        let this = (mmsi, test.verdict.started);
        if self.written.contains(&this) {
            return false;
        }
        self.written.push(this);
        let surplus = self.written.len().saturating_sub(REMEMBERED);
        self.written.drain(..surplus);
        true
    }

    /// Somebody wants the test of a beacon judged and written down.
    pub(super) fn ask(&mut self, mmsi: Mmsi, by: Option<&str>) {
        if self.waiting.len() < REMEMBERED && !self.waiting.iter().any(|(it, _)| *it == mmsi) {
            self.waiting.push((mmsi, by.map(str::to_owned)));
        }
    }

    /// Judges the tests that were asked for and are over: what is to be written down of them, each
    /// once, and nothing of what was rehearsed.
    pub(super) fn judge(&mut self, watch: &Watch, now: Stamp, parts: &mut Parts) -> Vec<Draft> {
        let mut drafts = Vec::new();
        for (mmsi, by) in std::mem::take(&mut self.waiting) {
            let last = self.last(mmsi, watch, now);
            let LastTest::Over(test) = last else {
                if matches!(last, LastTest::ComingIn(_)) {
                    self.waiting.push((mmsi, by));
                }
                remember(&mut parts.verdicts, unjudged(mmsi, &last, now));
                continue;
            };
            let record = if test.verdict.rehearsed {
                "not written down: a rehearsal"
            } else if !parts.keeps_logbook {
                "not written down: no logbook is kept"
            } else if self.is_new(mmsi, &test) {
                drafts.push(Draft::self_test(&test, by.as_deref()));
                BEING_WRITTEN
            } else {
                // What became of it stands there.
                continue;
            };
            remember(&mut parts.verdicts, judged(mmsi, &test, record, now));
        }
        self.look = (!self.waiting.is_empty()).then_some(now.at + LOOK);
        drafts
    }
}

/// A verdict as it is shown.
pub(super) fn judged(mmsi: Mmsi, test: &SelfTest, record: &str, now: Stamp) -> TestVerdict {
    let (verdict, record) = (test.verdict.short(), record.to_owned());
    TestVerdict { mmsi, judged: Some(now.at), verdict, record }
}

/// The same of a test that is not over, or not known.
pub(super) fn unjudged(mmsi: Mmsi, last: &LastTest, now: Stamp) -> TestVerdict {
    let (judged, verdict, record) = match last {
        LastTest::ComingIn(messages) => {
            (None, format!("{} so far", counted(*messages, "message")), NOT_YET)
        }
        _ => {
            let nothing = "nothing of it was received in the last minutes".to_owned();
            (Some(now.at), nothing, "not written down")
        }
    };
    TestVerdict { mmsi, judged, verdict, record: record.to_owned() }
}

/// Puts a verdict in the place of that on an earlier test of the same beacon.
pub(super) fn remember(verdicts: &mut Vec<TestVerdict>, verdict: TestVerdict) {
    verdicts.retain(|it| it.mmsi != verdict.mmsi);
    verdicts.push(verdict);
    let surplus = verdicts.len().saturating_sub(REMEMBERED);
    verdicts.drain(..surplus);
}

/// An entry of a test was committed.
pub(super) fn committed(verdicts: &mut [TestVerdict], mmsi: Option<Mmsi>, entry: i64) {
    let waits = |it: &&mut TestVerdict| Some(it.mmsi) == mmsi && it.record == BEING_WRITTEN;
    if let Some(verdict) = verdicts.iter_mut().find(waits) {
        verdict.record = format!("written down as entry {entry}");
    }
}
