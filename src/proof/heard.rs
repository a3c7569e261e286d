//! What counts for the test of a beacon, and when nothing more of it is to be waited for.

use std::time::Duration;

use super::{SelfTest, Subject};
use crate::beacon::{self, BURST_OVER};
use crate::mmsi::Mmsi;
use crate::time::{Mono, Stamp, Utc};
use crate::watch::{Signal, Transmission};

/// Where all eight were heard, nothing more is waited for; a moment for the DSC call beside them.
/// Our own.
const ALL_HEARD: Duration = Duration::from_secs(2);

/// A self-test is one burst: what is still heard so long after its first message is judged as it is.
/// Our own.
const LONGEST_TEST: Duration = Duration::from_secs(30);

/// What came so long before a person said that the test begins counts, too. Our own.
pub(super) const BEFORE_ENTER: Duration = Duration::from_secs(120);

/// What counts for a beacon's test.
pub(super) struct Heard<'a> {
    subject: &'a Subject,
    pub(super) counts: Vec<Transmission>,
    /// When its messages came.
    messages: Vec<Mono>,
    /// Whether any came since the test began.
    pub(super) has_come: bool,
}

impl<'a> Heard<'a> {
    /// What came before the test began counts unless another burst has come since.
    pub(super) fn of(
        subject: &'a Subject,
        before: &[Transmission],
        heard: &[Transmission],
    ) -> Self {
        let of_subject = |it: &&Transmission| matches!(it.signal, Signal::Beacon { mmsi, .. } if Some(mmsi) == subject.mmsi);
        let first = heard.iter().find(of_subject).map(|it| it.at.at);
        let last_before = before.iter().rfind(of_subject).map(|it| it.at.at);
        let another = first.zip(last_before).is_some_and(|(it, last)| it.since(last) > BURST_OVER);
        let counts = if another { heard.to_vec() } else { [before, heard].concat() };
        let messages = counts.iter().filter(of_subject).map(|it| it.at.at).collect();
        Self { subject, counts, messages, has_come: first.is_some() }
    }

    /// Whether nothing more is to be waited for.
    pub(super) fn is_over(&self, now: Mono) -> bool {
        let (Some(&first), Some(&last)) = (self.messages.first(), self.messages.last()) else {
            return false;
        };
        let enough = if self.messages.len() >= beacon::MESSAGES { ALL_HEARD } else { BURST_OVER };
        // One that goes on, and one that is ACTIVE most of all, is not waited for.
        now.since(first) >= LONGEST_TEST || now.since(last) >= enough
    }

    /// Judges it as if the test began then and was over now.
    pub(super) fn judge(
        &self,
        ship_identities: &[Mmsi],
        unheard: &[(Utc, Utc)],
        since: Stamp,
        now: Stamp,
    ) -> SelfTest {
        let first = self.counts.first().map_or(since.utc, |it| it.at.utc.min(since.utc));
        SelfTest::judge(self.subject, ship_identities, (first, now.utc), unheard, &self.counts)
    }
}

/// The last test of a beacon, as far as it has come.
#[derive(Debug)]
pub enum LastTest {
    /// Nothing of it was received lately.
    None,
    /// It is still coming in: so many messages of it have come.
    ComingIn(usize),
    /// It is over.
    Over(Box<SelfTest>),
}

impl LastTest {
    /// That which was received last of a beacon, judged as it would be in a round of tests that
    /// began with it; see [`SelfTest::judge`]. What was ACTIVE in the two minutes before counts, too.
    pub fn of(
        subject: &Subject,
        ship_identities: &[Mmsi],
        unheard: &[(Utc, Utc)],
        received: &[Transmission],
        now: Stamp,
    ) -> Self {
        let is_ours = |it: &Transmission| matches!(it.signal, Signal::Beacon { mmsi, .. } if Some(mmsi) == subject.mmsi);
        let times: Vec<Stamp> = received.iter().filter(|it| is_ours(it)).map(|it| it.at).collect();
        let gap = |pair: &[Stamp]| pair[1].at.since(pair[0].at) > BURST_OVER;
        let begins = times.windows(2).rposition(gap).map_or(0, |place| place + 1);
        let (Some(&first), Some(last)) = (times.get(begins), times.last()) else {
            return Self::None;
        };
        let counts = |it: &&Transmission| {
            let lately = first.at.since(it.at.at) <= BEFORE_ENTER;
            it.at.at >= first.at || !is_ours(it) || it.signal.is_active() && lately
        };
        let heard = Heard {
            subject,
            counts: received.iter().filter(counts).cloned().collect(),
            messages: times[begins..].iter().map(|it| it.at).collect(),
            has_come: true,
        };
        if !heard.is_over(now.at) {
            return Self::ComingIn(heard.messages.len());
        }
        let window = (first.utc, last.utc);
        let test = SelfTest::judge(subject, ship_identities, window, unheard, &heard.counts);
        Self::Over(Box::new(test))
    }
}
