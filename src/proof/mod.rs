//! Whether a beacon's self-test was received on board: a round of tests as a conversation, its
//! judgement, and what that rests on.
//!
//! *Invariant:* no IO, no clock: what was received comes in with its times, and what a person
//! answered; what is to be said comes out. A verdict rests on what was received alone.

mod heard;
mod session;
mod unheard;
mod verdict;

pub use heard::LastTest;
pub use session::{NoReception, Prompt, Session};
pub use unheard::Unheard;
pub use verdict::{Judgement, PositionKind, Subject, Verdict, judge};

use verdict::judge_heard;

use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::Utc;
use crate::watch::{Signal, Transmission};

/// How many sentences are kept with a verdict: a burst has eight. Our own.
const SENTENCES: usize = 16;

/// What was received in a time of listening, and from when to when that was.
#[derive(Debug, Default)]
pub struct Listening {
    /// Each transmission.
    pub transmissions: Vec<Transmission>,
    /// The times of the first and last line; `None` if there was none.
    pub span: Option<(Utc, Utc)>,
}

/// A self-test as it was judged, with what that rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct SelfTest {
    /// The verdict.
    pub verdict: Verdict,
    /// The sentences it rests on, the first sixteen of them.
    pub sentences: Vec<String>,
    /// Where the ship was.
    pub own: Option<Position>,
    /// Whether the radio itself rang, where a person was asked.
    pub radio_rang: Option<bool>,
}

impl SelfTest {
    /// Judges a beacon by what was received between two moments. `ship_identities` are those
    /// programmed into the beacons of the muster; in the spans of `unheard` nobody listened.
    pub fn judge(
        subject: &Subject,
        ship_identities: &[Mmsi],
        window: (Utc, Utc),
        unheard: &[(Utc, Utc)],
        received: &[Transmission],
    ) -> Self {
        let of_subject = received.iter().filter(|it| match &it.signal {
            Signal::Beacon { mmsi, .. } => Some(*mmsi) == subject.mmsi,
            Signal::Call(call) => {
                call.caller_mmsi.is_some()
                    && [subject.mmsi, subject.dsc_mmsi].contains(&call.caller_mmsi)
            }
        });
        Self {
            verdict: judge_heard(subject, ship_identities, window, unheard, received),
            sentences: of_subject.take(SENTENCES).map(|it| it.line.clone()).collect(),
            own: received.iter().rev().find_map(|it| it.own),
            radio_rang: None,
        }
    }

    /// Judges a recording; every beacon that was heard in it where no subject is named.
    pub fn of_recording(
        mut subjects: Vec<Subject>,
        ship_identities: &[Mmsi],
        listening: &Listening,
    ) -> Vec<Self> {
        let received = &listening.transmissions;
        if subjects.is_empty() {
            let heard = identities(received).into_iter().map(Some);
            subjects.extend(heard.map(|mmsi| Subject { mmsi, ..Subject::default() }));
        }
        if subjects.is_empty() {
            subjects.push(Subject::default());
        }
        let window = listening.span.unwrap_or((Utc::EPOCH, Utc::EPOCH));
        let judge = |it: &Subject| Self::judge(it, ship_identities, window, &[], received);
        subjects.iter().map(judge).collect()
    }
}

impl Listening {
    /// How many transmissions are kept: a round of tests has some hundred. Our own.
    pub const LIMIT: usize = 4_096;
}

/// The beacons that were heard, each once, in the order they came.
pub fn identities(received: &[Transmission]) -> Vec<Mmsi> {
    let mut heard = Vec::new();
    for it in received {
        if let Signal::Beacon { mmsi, .. } = it.signal
            && !heard.contains(&mmsi)
        {
            heard.push(mmsi);
        }
    }
    heard
}
