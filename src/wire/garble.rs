//! Bytes among which there is no sentence: what they look like, and so at which bit rate they may
//! have been sent.
//!
//! A serial line read at another rate than it is sent at still gives bytes. Read too fast, each bit
//! is seen several times over: a byte is made of long runs of equal bits, turns from 0 to 1 and back
//! few times, and is never a line feed, so that no line ever ends. Read too slowly, bits are passed
//! over, and a byte turns about as often as chance has it. The test beside this reads each rate at
//! each other one.

/// The bit rates of such lines: IEC 61162-1 (4800) and IEC 61162-2 (38400), and two that are common
/// practice, no source.
const RATES: [u32; 4] = [4_800, 9_600, 38_400, 115_200];

/// Fewer bytes than this tell no rate, and no wrong one. Our own.
const FEWEST: u32 = 64;

/// After so many bytes the older half counts half. Our own.
const MOST: u32 = 4_096;

/// From this share on, in per cent, bytes are text: garbled ones are readable by half at most, as
/// the test shows.
const TEXT_PERCENT: u32 = 90;

/// Bytes in which no sentence was found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Garble {
    bytes: u32,
    /// Those that are text.
    readable: u32,
    /// Those that turn once or never, the start bit counted.
    flat: u32,
    /// How often all of them turn.
    turns: u32,
}

impl Garble {
    /// Takes more of them.
    pub fn push(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            // The start bit is a 0, and the lowest bit comes first.
            let turns = (byte ^ (byte << 1)).count_ones();
            self.bytes += 1;
            self.readable += u32::from(matches!(byte, b' '..=b'~' | b'\r' | b'\n' | b'\t'));
            self.flat += u32::from(turns <= 1);
            self.turns += turns;
            if self.bytes >= MOST {
                for count in [&mut self.bytes, &mut self.readable, &mut self.flat, &mut self.turns]
                {
                    *count /= 2;
                }
            }
        }
    }

    /// Whether there was any.
    pub fn is_empty(&self) -> bool {
        self.bytes == 0
    }

    /// Whether it is so much that it is no sentence cut in two.
    pub fn is_plain(&self) -> bool {
        self.bytes >= FEWEST && !self.is_text()
    }

    /// What is to be said of it, of a serial line read at `rate` bits a second, or of another input.
    pub fn words(&self, rate: Option<u32>) -> String {
        let what = "bytes arrive, no sentences";
        match rate.filter(|_| !self.is_text()) {
            Some(rate) => format!("{what}: wrong baud rate? try {}", self.rates(rate)),
            None => what.to_owned(),
        }
    }

    fn is_text(&self) -> bool {
        self.readable * 100 >= self.bytes * TEXT_PERCENT
    }

    /// The rates at which it may have been sent, the likeliest first.
    fn rates(&self, rate: u32) -> String {
        let flat = self.flat * 100 / self.bytes.max(1);
        let turns = self.turns * 100 / self.bytes.max(1);
        // How many times slower than it was read, by the runs of equal bits.
        let slower = match () {
            () if self.bytes < FEWEST => None,
            () if flat >= 90 => Some((5, 100)),
            () if flat >= 35 => Some((3, 4)),
            () if turns < 270 => Some((2, 2)),
            () => None,
        };
        let within = |other: &u32| {
            slower.is_some_and(|(least, most)| other * least <= rate && rate <= other * most)
        };
        let sent: Vec<u32> = RATES.into_iter().rev().filter(within).collect();
        if !sent.is_empty() {
            return listed(&sent);
        }
        // What is read too slowly hardly tells by how much: those that are met most come first.
        if rate == 38_400 && self.bytes >= FEWEST {
            return "115200; or are the two wires swapped?".to_owned();
        }
        let others = [38_400, 4_800, 9_600].into_iter().filter(|&it| it != rate);
        listed(&others.take(2).collect::<Vec<_>>())
    }
}

fn listed(rates: &[u32]) -> String {
    rates.iter().map(u32::to_string).collect::<Vec<_>>().join(" or ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::{LINE_LIMIT, Splitter, checksum};

    /// What a line does: 8 data bits, no parity, one stop bit, at a bit rate.
    struct Wire {
        /// The bits, with the time at which each ends, in millionths of a second.
        bits: Vec<(f64, bool)>,
    }

    impl Wire {
        fn carrying(sentences: &[String], rate: u32) -> Self {
            // No two clocks agree.
            let bit = 1e6 / f64::from(rate) * 0.999;
            let mut wire = Self { bits: vec![(1e4, true)] };
            for sentence in sentences {
                for byte in sentence.bytes().chain(*b"\r\n") {
                    wire.bit(bit, false);
                    (0..8).for_each(|place| wire.bit(bit, byte >> place & 1 == 1));
                    wire.bit(bit, true);
                }
                wire.bit(2e4, true);
            }
            wire
        }

        fn bit(&mut self, length: f64, level: bool) {
            let end = self.bits.last().map_or(0.0, |&(end, _)| end);
            self.bits.push((end + length, level));
        }

        fn level(&self, at: f64) -> bool {
            let place = self.bits.partition_point(|&(end, _)| end <= at);
            self.bits.get(place).is_none_or(|&(_, level)| level)
        }

        /// When it falls next.
        fn fall(&self, from: f64) -> Option<f64> {
            let first = self.bits.partition_point(|&(end, _)| end < from) + 1;
            let falls = |place: &usize| self.bits[place - 1].1 && !self.bits[*place].1;
            let place = (first..self.bits.len()).find(falls)?;
            Some(self.bits[place - 1].0)
        }

        /// What is read from it at another rate. A byte without a stop bit is a framing error, and
        /// handed on as it is: a port asked for no parity check gives it as any other. After it the
        /// receiver waits for the line to fall, or takes a line still low for the next start bit.
        fn read(&self, rate: u32, takes_low: bool) -> Vec<u8> {
            let bit = 1e6 / f64::from(rate);
            let (mut at, mut bytes) = (0.0, Vec::new());
            let end = self.bits.last().map_or(0.0, |&(end, _)| end);
            loop {
                let low = takes_low && at > 0.0 && at < end && !self.level(at);
                let Some(start) = Some(at).filter(|_| low).or_else(|| self.fall(at)) else {
                    return bytes;
                };
                if self.level(start + 0.5 * bit) {
                    at = start + 0.5 * bit;
                    continue;
                }
                let data = |place| u8::from(self.level(start + (1.5 + f64::from(place)) * bit));
                bytes.push((0..8).fold(0, |byte, place| byte | data(place) << place));
                at = start + 9.5 * bit;
            }
        }
    }

    fn sentences(ais: bool) -> Vec<String> {
        let sealed =
            |start: char, body: String| format!("{start}{body}*{:02X}", checksum(body.as_bytes()));
        let mut seed = 7_u32;
        let mut next = |below: u32| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (seed >> 8) % below
        };
        let armour = |six: u32| char::from(b'0' + six as u8 + if six < 40 { 0 } else { 8 });
        (0..60)
            .map(|_| match ais {
                true => {
                    let payload: String = (0..28).map(|_| armour(next(64))).collect();
                    sealed('!', format!("AIVDM,1,1,,A,{payload},0"))
                }
                false => {
                    let (time, minutes) = (next(235_959), next(100_000));
                    sealed('$', format!("GPRMC,{time:06}.00,A,5750.{minutes:05},N,01035.{minutes:05},E,4.{},0{}.5,271126,,", next(10), next(90)))
                }
            })
            .collect()
    }

    fn read(ais: bool, sent: u32, at: u32, takes_low: bool) -> Garble {
        let mut garble = Garble::default();
        garble.push(&Wire::carrying(&sentences(ais), sent).read(at, takes_low));
        garble
    }

    #[test]
    fn at_the_right_rate_there_is_nothing_but_text() {
        let lines = sentences(true);
        let wire = Wire::carrying(&lines, 38_400);
        let bytes = wire.read(38_400, true);
        assert_eq!(bytes, format!("{}\r\n", lines.join("\r\n")).into_bytes());
        let mut garble = Garble::default();
        garble.push(&bytes);
        assert!(!garble.is_plain());
        assert_eq!(garble.words(Some(38_400)), "bytes arrive, no sentences");
    }

    #[test]
    fn a_line_read_at_another_rate_tells_which_it_is_sent_at() {
        for (sent, at, told) in [
            (4_800, 38_400, "try 4800"),
            (9_600, 38_400, "try 9600"),
            (115_200, 38_400, "try 115200; or are the two wires swapped?"),
            (4_800, 9_600, "try 4800"),
            (38_400, 9_600, "try 38400 or 4800"),
            (115_200, 9_600, "try 38400 or 4800"),
            (9_600, 4_800, "try 38400 or 9600"),
            (38_400, 4_800, "try 38400 or 9600"),
            (38_400, 115_200, "try 38400"),
            (9_600, 115_200, "try 9600 or 4800"),
            (4_800, 115_200, "try 9600 or 4800"),
        ] {
            for (ais, takes_low) in [(false, false), (false, true), (true, false), (true, true)] {
                let garble = read(ais, sent, at, takes_low);
                assert!(garble.is_plain(), "{sent} at {at}");
                let words = garble.words(Some(at));
                let expected = format!("bytes arrive, no sentences: wrong baud rate? {told}");
                assert_eq!(
                    words, expected,
                    "{sent} at {at}, AIS {ais}, low {takes_low}: {garble:?}"
                );
            }
        }
    }

    #[test]
    fn what_is_read_too_fast_never_ends_a_line() {
        for (sent, at) in [(4_800, 38_400), (9_600, 38_400), (4_800, 9_600), (38_400, 115_200)] {
            let bytes = Wire::carrying(&sentences(true), sent).read(at, true);
            let mut lines = 0;
            Splitter::new().push(&bytes, |_| lines += 1);
            assert!(bytes.len() > LINE_LIMIT && lines == 0, "{sent} at {at}: {lines} lines");
        }
    }

    #[test]
    fn no_rate_is_named_where_none_is_set_and_none_is_sure_from_a_few_bytes() {
        let mut garble = read(true, 4_800, 38_400, true);
        assert_eq!(garble.words(None), "bytes arrive, no sentences");
        garble = Garble::default();
        garble.push(&[0, 0x80, 0xFE]);
        assert!(!garble.is_plain() && !garble.is_empty());
        let words = garble.words(Some(38_400));
        assert_eq!(words, "bytes arrive, no sentences: wrong baud rate? try 4800 or 9600");
    }
}
