//! Which of the sentences that come in are passed on: good ones, each once, and none that makes
//! anybody transmit. What comes back from a program behind us ends here.
//!
//! ```text
//!  receiver ──▶ this program ──▶ another ──┐
//!                    ▲                     │ the same sentence by another input, or within half a
//!                    └─────────────────────┘ second: it is not passed on again
//! ```

use std::collections::VecDeque;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::time::Duration;

use super::TALKER;
use crate::time::Mono;
use crate::wire::{InputId, Line};

/// How long a sentence that was passed on is known again by another input: longer than one waits in
/// the queue of an output. Our own.
const RETURNS: Duration = Duration::from_secs(10);

/// How long by the same input: a beacon that repeats itself word for word leaves at least two
/// seconds between (M.1371-5 annex 9). Our own.
const RETURNS_THE_SAME_WAY: Duration = Duration::from_millis(500);

/// How many are known again; the oldest gives way. Ten seconds of a port that is full at 38 400
/// bits a second are some 800. Our own.
const LIMIT: usize = 4_096;

/// Formatters of sentences that ask an AIS station, a radio or a transponder to transmit, or set
/// what it transmits (IEC 61162-1; the list is from memory). A DSC sentence is a call to be sent where
/// a radio takes it in: "wiring and talker" alone tell which.
const OF_TRANSMITTERS: [&str; 36] = [
    "ABM", "ACA", "ACF", "ACG", "ACM", "AGA", "AIR", "ASN", "BBM", "BCG", "BCL", "CAB", "CBR",
    "CPC", "CPD", "CPG", "CPN", "DLM", "DSC", "DSE", "DSI", "DSR", "ECB", "EPV", "FSI", "LRF",
    "LRI", "MEB", "SFI", "SID", "SPO", "SSD", "TFR", "TSA", "TSR", "VSD",
];

/// Whether a sentence with this formatter may make a radio or a transponder transmit.
pub fn is_of_a_transmitter(formatter: &str) -> bool {
    OF_TRANSMITTERS.contains(&formatter)
}

/// What becomes of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It is passed on.
    PassedOn,
    /// It is what this program has just passed on or said itself, and comes back: it is not heard
    /// either.
    OurOwn,
    /// Another input brought it a moment ago: it is heard, and not passed on twice.
    Known,
    /// It may make somebody transmit.
    Withheld,
    /// There is no good sentence in it.
    Bad,
}

/// What was passed on lately.
#[derive(Debug, Default)]
pub struct Heard {
    sent: VecDeque<Sent>,
    /// Lines that came back, since the beginning.
    pub returned: u64,
    /// Lines that might have made somebody transmit, since the beginning.
    pub withheld: u64,
}

#[derive(Debug)]
struct Sent {
    digest: u64,
    by: InputId,
    at: Mono,
    /// The inputs by which it has come back.
    returned_by: Vec<InputId>,
}

impl Heard {
    /// Judges a line that has come in, before anything else is made of it.
    pub fn judge(&mut self, input: InputId, at: Mono, line: &[u8]) -> Verdict {
        let Ok(parsed) = Line::parse(line) else { return Verdict::Bad };
        if parsed.sentence.talker == TALKER {
            self.returned += 1;
            return Verdict::OurOwn;
        }
        if is_of_a_transmitter(parsed.sentence.formatter) {
            self.withheld += 1;
            return Verdict::Withheld;
        }
        let mut hasher = DefaultHasher::new();
        line[parsed.start()..].trim_ascii().hash(&mut hasher);
        let digest = hasher.finish();
        while self.sent.front().is_some_and(|it| at.since(it.at) > RETURNS) {
            self.sent.pop_front();
        }
        let known = self.sent.iter_mut().filter(|it| it.digest == digest);
        for sent in known {
            if sent.by == input {
                if at.since(sent.at) < RETURNS_THE_SAME_WAY {
                    self.returned += 1;
                    return Verdict::OurOwn;
                }
            } else if !sent.returned_by.contains(&input) {
                sent.returned_by.push(input);
                self.returned += 1;
                return Verdict::Known;
            }
        }
        if self.sent.len() == LIMIT {
            self.sent.pop_front();
        }
        self.sent.push_back(Sent { digest, by: input, at, returned_by: Vec::new() });
        Verdict::PassedOn
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINE: &[u8] = b"!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D";
    const TAGGED: &[u8] = b"\\s:x*0B\\!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D";
    const X: InputId = InputId(0);
    const Y: InputId = InputId(1);

    fn ms(ms: u64) -> Mono {
        Mono::from_micros(ms * 1_000)
    }

    #[test]
    fn what_comes_back_is_not_passed_on_again_and_what_is_sent_again_is() {
        let mut heard = Heard::default();
        assert_eq!(heard.judge(X, ms(0), LINE), Verdict::PassedOn);
        // By the way it came: what this program sent, back at its own port.
        assert_eq!(heard.judge(X, ms(3), LINE), Verdict::OurOwn);
        // By another, with a TAG block before it.
        assert_eq!(heard.judge(Y, ms(40), TAGGED), Verdict::Known);
        // The beacon says the same again, and the second receiver alone hears it.
        assert_eq!(heard.judge(Y, ms(4_000), LINE), Verdict::PassedOn);
        // The first one a third time.
        assert_eq!(heard.judge(X, ms(4_001), LINE), Verdict::Known);
        assert_eq!(heard.judge(X, ms(8_000), LINE), Verdict::PassedOn);
        assert_eq!((heard.returned, heard.withheld), (3, 0));
    }

    #[test]
    fn bad_lines_our_own_and_what_transmits_are_not_passed_on() {
        let mut heard = Heard::default();
        let sealed = |body: &str| {
            let sum = crate::wire::checksum(body.as_bytes());
            format!("${body}*{sum:02X}").into_bytes()
        };
        assert_eq!(heard.judge(X, ms(0), b"noise"), Verdict::Bad);
        assert_eq!(heard.judge(X, ms(0), &LINE[..30]), Verdict::Bad);
        let own = sealed(&format!("{TALKER}TLL,99,,,,,,,,"));
        assert_eq!(heard.judge(X, ms(0), &own), Verdict::OurOwn);
        for formatter in OF_TRANSMITTERS {
            let line = sealed(&format!("AI{formatter},1,2"));
            assert_eq!(heard.judge(X, ms(0), &line), Verdict::Withheld, "{formatter}");
        }
        assert_eq!(heard.judge(X, ms(0), &sealed("HEHDT,1.0,T")), Verdict::PassedOn);
    }

    #[test]
    fn it_is_bounded() {
        let mut heard = Heard::default();
        for number in 0..2 * LIMIT {
            let body = format!("HEROT,{number},A");
            let line = format!("${body}*{:02X}", crate::wire::checksum(body.as_bytes()));
            heard.judge(X, ms(0), line.as_bytes());
        }
        assert_eq!(heard.sent.len(), LIMIT);
    }
}
