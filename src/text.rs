//! Text from elsewhere: which of its characters are hostile, and what is done with them before it is
//! shown, printed or written. Each format has its own escapes besides; what is hostile is said here
//! alone.

use std::borrow::Cow;
use std::{fmt, io};

use serde::Serialize;
use serde_json::ser::{Formatter, Serializer};
use unicode_width::UnicodeWidthStr;

/// Whether a terminal, a page or a person is misled by a character: it steers (C0, DEL and C1), turns
/// the direction of writing, ends a line unseen, is not seen at all, or is no character. Unicode
/// categories Cc, Zl and Zp, those of Cf that have no shape, fillers, selectors of variants, tags and
/// noncharacters.
pub fn is_hostile(c: char) -> bool {
    let unseen = matches!(c,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}' | '\u{1160}' | '\u{17b4}' | '\u{17b5}'
        | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}' | '\u{3164}' | '\u{fdd0}'..='\u{fdef}' | '\u{fe00}'..='\u{fe0f}'
        | '\u{feff}' | '\u{ffa0}' | '\u{fff0}'..='\u{fffb}' | '\u{1bca0}'..='\u{1bca3}'
        | '\u{1d173}'..='\u{1d17a}' | '\u{e0000}'..='\u{e0fff}');
    let noncharacter = c as u32 & 0xfffe == 0xfffe;
    c.is_control() || unseen || noncharacter
}

/// The text with each hostile character shown by its number: `\u{1b}`.
pub fn printable(text: &str) -> Cow<'_, str> {
    if !text.contains(is_hostile) {
        return Cow::Borrowed(text);
    }
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        if is_hostile(c) { safe.extend(c.escape_unicode()) } else { safe.push(c) }
    }
    Cow::Owned(safe)
}

/// Text as HTML, whatever is in it. Hostile characters are shown by their number.
pub fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c if is_hostile(c) => safe.extend(c.escape_unicode()),
            c => safe.push(c),
        }
    }
    safe
}

/// A count with its noun, which stands in the plural beside all numbers but one: `1 entry`, `0 days`.
pub fn counted(count: impl fmt::Display + PartialEq + From<u8>, noun: &str) -> String {
    let is_vowel = |c: char| "aeiou".contains(c);
    match noun.strip_suffix('y').filter(|stem| !stem.ends_with(is_vowel)) {
        _ if count == 1.into() => format!("{count} {noun}"),
        Some(stem) => format!("{count} {stem}ies"),
        None => format!("{count} {noun}s"),
    }
}

/// The text, printable; what is longer than so many characters is cut, with a sign.
pub fn shortened(text: &str, length: usize) -> String {
    let text = printable(text);
    match text.char_indices().nth(length) {
        Some((end, _)) => text[..end].trim_end().to_owned() + "…",
        None => text.into_owned(),
    }
}

/// The number of the line, from 1, in which a byte of a file lies, and that line, a hundred
/// characters of it at most. A place beyond the end lies in the last.
pub fn line_at(file: &str, place: usize) -> (usize, String) {
    let before = file.bytes().take(place).filter(|&byte| byte == b'\n').count();
    let line = file.lines().nth(before).unwrap_or_default();
    (before + 1, shortened(line.trim_end(), 100))
}

/// What a reader of TOML says is wrong, in our own words; what is not known is said as it is.
pub fn plainly(message: &str) -> String {
    // Of `unknown field `nam`, expected one of `a`, `b``: the key, and what would be right.
    let parts = |beginning: &str| {
        let rest = message.strip_prefix(beginning)?;
        Some(rest.split_once(", expected ").unwrap_or((rest, "")))
    };
    let choice = |right: &str| match right.strip_prefix("one of ") {
        Some(all) => format!(": write one of {all}"),
        None if right.is_empty() || right.starts_with("there") => String::new(),
        None => format!(": write {right}"),
    };
    if let Some((key, right)) = parts("unknown field ") {
        return format!("there is no key {key} here{}", choice(right));
    }
    if let Some((word, right)) = parts("unknown variant ") {
        return format!("{word} is no word for it{}", choice(right));
    }
    if let Some((key, _)) = parts("missing field ") {
        return format!("the key {key} is missing");
    }
    if let Some((key, _)) = parts("duplicate field ").or_else(|| parts("duplicate key ")) {
        return format!("the key {key} is there twice").replace("key  is", "key is");
    }
    let wrong = parts("invalid type: ").or_else(|| parts("invalid value: "));
    match wrong {
        Some(("map", "a sequence")) => {
            "there may be several of these: write the name in double brackets, as [[name]]"
                .to_owned()
        }
        Some((is, right)) => format!("{} cannot stand here: write {}", given(is), wanted(right)),
        None => unreadable(message).unwrap_or(message).to_owned(),
    }
}

/// What a reader of TOML says of a line that it cannot read, in our own words.
fn unreadable(message: &str) -> Option<&'static str> {
    let what = message.split_once(", expected ").map_or(message, |(what, _)| what);
    Some(match what {
        "unclosed table" | "missing table open" => {
            "the name of a table is not closed: write it as [name]"
        }
        "unclosed array table" => "the name of a table is not closed: write it as [[name]]",
        "unclosed array" => "the list is not closed: write ] at its end",
        "missing comma between array elements" => {
            "the values of a list run together: write a comma between them"
        }
        "invalid basic string" | "invalid literal string" | "missing opening quote" => {
            "the quotation marks do not match: write one at each end of the text"
        }
        "missing escaped value" => "a \\ begins a special character: write two of them for one",
        "key with no value" | "missing assignment between key-value pairs" => {
            "this is no key with a value: write it as key = value"
        }
        "unexpected key or value" | "unexpected content" => {
            "there is too much on this line: write one key = value on a line, and a decimal point, no \
             comma"
        }
        "string values must be quoted"
        | "missing value"
        | "missing value for key"
        | "invalid value"
        | "invalid boolean" => {
            "this value cannot be read: write a text in plain quotation marks \"\", a number without \
             spaces, true or false"
        }
        "unexpected leading zero" => "no number begins with 0: leave it out",
        "integer number overflowed" => "this is too large or no number: write a smaller one",
        "invalid unquoted key" | "invalid key" | "unquoted keys cannot be empty" => {
            "this is no name of a key: write it in letters, digits and _ alone"
        }
        "duplicate key" => "this is there twice: leave one of the two",
        "invalid comment character" => {
            "a character that cannot be seen stands in this comment: write the line anew"
        }
        _ => return None,
    })
}

/// What was given, as a reader of TOML calls it.
fn given(is: &str) -> String {
    let (kind, value) = is.split_once(' ').unwrap_or((is, ""));
    let kind = match kind {
        "string" => "the text",
        "integer" | "float" | "floating" => "the number",
        "boolean" => "the word",
        "sequence" | "array" => "a list",
        "map" | "table" => "a table",
        _ => return is.to_owned(),
    };
    format!("{kind} {}", value.trim_start_matches("point ")).trim_end().to_owned()
}

/// What would be right, as a reader of TOML calls it.
fn wanted(right: &str) -> &str {
    match right {
        "u8" | "u16" | "u32" | "u64" | "usize" => "a whole number, 0 or more",
        "i8" | "i16" | "i32" | "i64" | "isize" => "a whole number",
        "f32" | "f64" => "a number",
        "a string" | "string" => "a text in quotation marks",
        "a boolean" | "bool" => "true or false",
        "a sequence" => "a list in brackets",
        right if right.starts_with("struct ") || right == "a map" => "a table of keys",
        right => right,
    }
}

/// How many columns of a terminal a text takes.
pub fn width(text: &str) -> usize {
    text.width()
}

/// Words in lines of so many columns, those after the first by `indent` shorter. A word that is
/// longer than a line has one of its own.
pub fn wrapped<'a>(
    words: impl IntoIterator<Item = &'a str>,
    columns: usize,
    indent: usize,
) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words {
        let room = columns.saturating_sub(if lines.len() > 1 { indent } else { 0 });
        match lines.last_mut() {
            Some(line) if width(line) + 1 + width(word) <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// A value as JSON on one line, without its end; hostile characters are written `\u202e`.
///
/// # Errors
/// The value has no JSON.
pub fn json(value: &impl Serialize) -> serde_json::Result<String> {
    let mut bytes = Vec::new();
    write_json(&mut bytes, value)?;
    // It is UTF-8, since JSON is written from texts.
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// Writes a value as a line of JSON, with its end; hostile characters are written `\u202e`.
///
/// # Errors
/// That of the output, or the value has no JSON.
pub fn json_line(output: &mut impl io::Write, value: &impl Serialize) -> io::Result<()> {
    write_json(output, value)?;
    output.write_all(b"\n")
}

fn write_json(output: &mut impl io::Write, value: &impl Serialize) -> serde_json::Result<()> {
    value.serialize(&mut Serializer::with_formatter(output, Inert))
}

/// JSON without blanks, as by default, with more characters escaped than it asks for.
struct Inert;

impl Formatter for Inert {
    #[inline]
    fn write_string_fragment<W: ?Sized + io::Write>(
        &mut self,
        output: &mut W,
        fragment: &str,
    ) -> io::Result<()> {
        // The fragment has no C0 any more; most have nothing beyond ASCII either.
        if fragment.bytes().fold(0, u8::max) < 0x7f {
            return output.write_all(fragment.as_bytes());
        }
        let mut rest = fragment;
        while let Some((place, c)) = rest.char_indices().find(|&(_, c)| is_hostile(c)) {
            output.write_all(&rest.as_bytes()[..place])?;
            for unit in c.encode_utf16(&mut [0; 2]) {
                write!(output, "\\u{unit:04x}")?;
            }
            rest = &rest[place + c.len_utf8()..];
        }
        output.write_all(rest.as_bytes())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_turns_or_hides_is_hostile_and_nothing_that_is_written() {
        for c in "\0\x1b\n\x7f\u{85}\u{9b}\u{ad}\u{61c}\u{200b}\u{200e}\u{2028}\u{202e}\u{2069}\
                  \u{fe0f}\u{feff}\u{fffe}\u{e0041}\u{10ffff}"
            .chars()
        {
            assert!(is_hostile(c), "{c:?}");
        }
        for c in "aé°′″§山田Ærø🛟→█…ا\u{301}\u{a0}".chars() {
            assert!(!is_hostile(c), "{c:?}");
        }
    }

    #[test]
    fn what_a_reader_of_toml_says_is_said_in_our_own_words() {
        for (theirs, ours) in [
            (
                "unknown field `nam`, expected one of `name`, `mmsi`",
                "there is no key `nam` here: write one of `name`, `mmsi`",
            ),
            ("unknown field `nam`, expected `name`", "there is no key `nam` here: write `name`"),
            ("missing field `uri`", "the key `uri` is missing"),
            (
                "unknown variant `on`, expected one of `active`, `test`",
                "`on` is no word for it: write one of `active`, `test`",
            ),
            (
                "invalid type: string \"x\", expected u32",
                "the text \"x\" cannot stand here: write a whole number, 0 or more",
            ),
            (
                "invalid type: floating point `1.5`, expected a string",
                "the number `1.5` cannot stand here: write a text in quotation marks",
            ),
            (
                "invalid value: integer `-1`, expected u32",
                "the number `-1` cannot stand here: write a whole number, 0 or more",
            ),
            (
                "invalid type: map, expected a sequence",
                "there may be several of these: write the name in double brackets, as [[name]]",
            ),
            ("duplicate key", "this is there twice: leave one of the two"),
            ("unclosed array, expected `]`", "the list is not closed: write ] at its end"),
            ("something new", "something new"),
        ] {
            assert_eq!(plainly(theirs), ours);
        }
    }

    #[test]
    fn hostile_characters_come_out_inert() {
        assert_eq!(printable("plain °T"), "plain °T");
        assert_eq!(printable("a\x1b[2Jb\u{202e}c\n"), r"a\u{1b}[2Jb\u{202e}c\u{a}");
        assert_eq!(shortened("a\x1bbc", 8), r"a\u{1b}b…");
    }

    #[test]
    fn json_says_the_same_in_harmless_characters() {
        let text = "é\u{9b}\u{202e}\u{e0041}\u{7f}\"\n山";
        let object = serde_json::json!({ text: text });
        let written = json(&object).unwrap();
        let escaped = r#"é\u009b\u202e\udb40\udc41\u007f\"\n山"#;
        assert_eq!(written, format!(r#"{{"{escaped}":"{escaped}"}}"#));
        assert_eq!(serde_json::from_str::<serde_json::Value>(&written).unwrap(), object);
        let mut line = Vec::new();
        json_line(&mut line, &object).unwrap();
        assert_eq!(line, format!("{written}\n").into_bytes());
    }

    #[test]
    fn one_is_not_counted_as_many() {
        let said = |count: u32, noun| counted(count, noun);
        assert_eq!([said(1, "entry"), said(2, "entry")], ["1 entry", "2 entries"]);
        assert_eq!([said(0, "line"), said(1, "line")], ["0 lines", "1 line"]);
        assert_eq!([said(1, "day"), said(30, "day")], ["1 day", "30 days"]);
    }

    #[test]
    fn a_line_is_found_by_a_place_in_it_whatever_lies_there() {
        let file = "é = 1\nab\u{9b}\n";
        for (place, line, shown) in
            [(0, 1, "é = 1"), (1, 1, "é = 1"), (7, 2, r"ab\u{9b}"), (99, 3, "")]
        {
            assert_eq!(line_at(file, place), (line, shown.to_owned()), "{place}");
        }
        assert_eq!(line_at(&"[".repeat(100_000), 0).1.chars().count(), 101);
    }

    #[test]
    fn hostile_text_comes_out_inert() {
        assert_eq!(escaped("<script>\"&'"), "&lt;script&gt;&quot;&amp;&#39;");
        assert_eq!(escaped("a\x1b[2J\u{202e}b\u{fffe}"), r"a\u{1b}[2J\u{202e}b\u{fffe}");
        assert_eq!(escaped("Ærø 山田 =1+1"), "Ærø 山田 =1+1");
    }

    #[test]
    fn words_are_broken_where_a_line_is_full() {
        assert_eq!(wrapped("a bc def 山 g hi".split(' '), 5, 2), ["a bc", "def", "山", "g", "hi"]);
        assert_eq!(wrapped("abcdefgh i jk lm".split(' '), 4, 0), ["abcdefgh", "i jk", "lm"]);
    }
}
