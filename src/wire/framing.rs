//! Cuts a stream of bytes into lines, whatever the bytes and however they are chunked.
//!
//! A line ends with LF; CRs before it go with it. A line has a limit, so that noise without a line
//! end cannot grow memory: what is over the limit is dropped and counted, and the line that is
//! passed on, one byte too long, is rejected by the decoder as such.

use memchr::memchr;

/// The longest line that is looked at, in bytes. IEC 61162-1 allows 82 for a sentence; a TAG block
/// and what a logger adds are generously covered.
pub const LINE_LIMIT: usize = 1024;

/// Keeps what is left of a stream between two reads.
#[derive(Debug, Default)]
pub struct Splitter {
    /// The line begun and not ended, at most one byte over the limit.
    partial: Vec<u8>,
    /// Whether bytes of that line were dropped.
    is_cut: bool,
    dropped: u64,
}

impl Splitter {
    /// A splitter at the beginning of a stream.
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes the next bytes of the stream and calls `each` with every line that they end.
    pub fn push(&mut self, mut bytes: &[u8], mut each: impl FnMut(&[u8])) {
        while let Some(end) = memchr(b'\n', bytes) {
            if self.partial.is_empty() && end <= LINE_LIMIT {
                each(without_cr(&bytes[..end]));
            } else {
                self.keep(&bytes[..end]);
                self.end_line(&mut each);
            }
            bytes = &bytes[end + 1..];
        }
        self.keep(bytes);
    }

    /// Ends the stream, or a datagram: calls `each` with the line that had no end.
    pub fn finish(&mut self, mut each: impl FnMut(&[u8])) {
        if !self.partial.is_empty() {
            self.end_line(&mut each);
        }
    }

    /// Bytes dropped from over-long lines since the beginning.
    pub fn dropped(&self) -> u64 {
        self.dropped
    }

    fn keep(&mut self, bytes: &[u8]) {
        let room = (LINE_LIMIT + 1).saturating_sub(self.partial.len()).min(bytes.len());
        self.partial.extend_from_slice(&bytes[..room]);
        self.is_cut |= room < bytes.len();
        self.dropped += (bytes.len() - room) as u64;
    }

    fn end_line(&mut self, each: &mut impl FnMut(&[u8])) {
        // A CR where a line was cut is not its end: without it the line would pass for a whole one.
        each(if self.is_cut { &self.partial } else { without_cr(&self.partial) });
        self.partial.clear();
        self.is_cut = false;
    }
}

fn without_cr(mut line: &[u8]) -> &[u8] {
    while let [rest @ .., b'\r'] = line {
        line = rest;
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(chunks: &[&[u8]]) -> Vec<Vec<u8>> {
        let mut splitter = Splitter::new();
        let mut found = Vec::new();
        for chunk in chunks {
            splitter.push(chunk, |line| found.push(line.to_vec()));
        }
        splitter.finish(|line| found.push(line.to_vec()));
        found
    }

    #[test]
    fn lines_end_with_lf_or_cr_lf_at_any_chunking() {
        let expected: Vec<Vec<u8>> = vec![b"ab".to_vec(), b"".to_vec(), b"c\rd".to_vec()];
        assert_eq!(lines(&[b"ab\r\n\nc\rd"]), expected);
        assert_eq!(lines(&[b"a", b"b\r", b"\n", b"\nc", b"\rd\n"]), expected);
    }

    #[test]
    fn an_over_long_line_is_one_line_and_the_next_is_sound() {
        let noise = vec![b'x'; 5000];
        let found = lines(&[&noise, &noise, b"\nnext\n"]);
        assert_eq!(found.len(), 2);
        assert_eq!(found[0].len(), LINE_LIMIT + 1);
        assert_eq!(found[1], b"next");
    }
}
