//! Colours for terminals that have sixteen: the frames number them in the way of a table of 256
//! (`38;5;9`), which some of those terminals take for something else, such as blinking. Here they are
//! spelt in the way that all of them know: ECMA-48 8.3.117 for the first eight, `90` to `107` for the
//! bright ones (as xterm has them; from memory).

use std::io::{self, Write};

/// Spells colours for sixteen on the way out. What is written goes out with the next flush.
#[derive(Debug)]
pub struct Sixteen<W> {
    out: W,
    pending: Vec<u8>,
}

impl<W: Write> Sixteen<W> {
    /// Before this.
    pub fn new(out: W) -> Self {
        Self { out, pending: Vec::new() }
    }
}

impl<W: Write> Write for Sixteen<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.pending.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        let bytes = spelt(&self.pending);
        self.pending.clear();
        self.out.write_all(&bytes)?;
        self.out.flush()
    }
}

/// The same bytes with the colours of each sequence that ends in `m` spelt for sixteen.
fn spelt(bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(bytes.len());
    let mut rest = bytes;
    while let Some(start) = memchr::memmem::find(rest, b"\x1b[") {
        let (before, sequence) = rest.split_at(start + 2);
        let is_parameter = |byte: &&u8| byte.is_ascii_digit() || **byte == b';';
        let length = sequence.iter().take_while(is_parameter).count();
        let (parameters, after) = sequence.split_at(length);
        out.extend_from_slice(before);
        match after.first() {
            Some(b'm') => out.extend_from_slice(style(parameters).as_bytes()),
            _ => out.extend_from_slice(parameters),
        }
        rest = after;
    }
    out.extend_from_slice(rest);
    out
}

/// The parameters of one style.
fn style(parameters: &[u8]) -> String {
    let numbers: Vec<&[u8]> = parameters.split(|byte| *byte == b';').collect();
    let mut spelt: Vec<String> = Vec::new();
    let mut rest = numbers.as_slice();
    while let Some((first, after)) = rest.split_first() {
        let (number, left) = match (*first, after) {
            (which @ (b"38" | b"48"), [b"5", colour, left @ ..]) => (of(which, colour), left),
            _ => (None, after),
        };
        match number {
            Some(number) => {
                spelt.push(number.to_string());
                rest = left;
            }
            None => {
                spelt.push(String::from_utf8_lossy(first).into_owned());
                rest = after;
            }
        }
    }
    spelt.join(";")
}

/// The number of one of the sixteen as text or as background.
fn of(which: &[u8], colour: &[u8]) -> Option<u8> {
    let colour: u8 = std::str::from_utf8(colour).ok()?.parse().ok()?;
    let background = if which == b"48" { 10 } else { 0 };
    match colour {
        0..8 => Some(30 + colour + background),
        8..16 => Some(90 + colour - 8 + background),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_are_spelt_as_every_terminal_knows_them() {
        for (written, out) in [
            ("\x1b[38;5;9;48;5;0mMATE", "\x1b[91;40mMATE"),
            ("a\x1b[2;5Hb\x1b[1mc\x1b[48;5;7m", "a\x1b[2;5Hb\x1b[1mc\x1b[47m"),
            ("\x1b[38;5;15;48;5;12m", "\x1b[97;104m"),
            // What is not one of the sixteen, or cut short, stays.
            ("\x1b[38;5;196m\x1b[39;49m\x1b[38;5", "\x1b[38;5;196m\x1b[39;49m\x1b[38;5"),
            ("\x1b[m\x1b[?25l°", "\x1b[m\x1b[?25l°"),
        ] {
            let mut sixteen = Sixteen::new(Vec::new());
            // However it is cut into writes.
            for byte in written.as_bytes() {
                assert_eq!(sixteen.write(&[*byte]).unwrap(), 1);
            }
            sixteen.flush().unwrap();
            assert_eq!(String::from_utf8(sixteen.out).unwrap(), out);
        }
    }
}
