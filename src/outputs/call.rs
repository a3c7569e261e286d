//! A DSC call that was heard, told to other stations as what it is, a report, and never as a sentence:
//! on a wire into a radio the sentence would be a call to be sent.
//!
//! `{"call":["CDDSC","12","9720000170",…]}`: fields alone, without start and checksum. Whatever carries
//! this to a radio by mistake carries nothing that one obeys.

use serde::{Deserialize, Serialize};

use crate::text::json;
use crate::wire::{LINE_LIMIT, Line, Tag, checksum};

/// The sentences that tell of a call, and of where it came from more exactly.
const CALLS: [&str; 2] = ["DSC", "DSE"];

/// A call in its fields; the first is talker and formatter.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Call {
    call: Vec<String>,
}

/// Whether a sentence with this formatter tells of a call.
pub(super) fn is_call(formatter: &str) -> bool {
    CALLS.contains(&formatter)
}

/// A line of a radio as it is told; `None` if it holds no call.
pub(super) fn text_of(line: &[u8]) -> Option<String> {
    let parsed = Line::parse(line).ok().filter(|it| is_call(it.sentence.formatter))?;
    let (body, _) = std::str::from_utf8(line.get(parsed.start() + 1..)?).ok()?.split_once('*')?;
    // Nothing in it begins a sentence: such a line would not have been read as this one.
    json(&Call { call: body.split(',').map(str::to_owned).collect() }).ok()
}

/// A line of another station in which a call is told, with the sentence that its radio gave in the
/// place of that; `None` for all other lines.
pub fn told_call(line: &[u8]) -> Option<Vec<u8>> {
    let at = memchr::memchr(b'{', line).filter(|_| line.len() <= LINE_LIMIT)?;
    let (before, text) = line.split_at(at);
    let is_block = |block: &[u8]| {
        let inner = block.strip_prefix(b"\\").and_then(|it| it.strip_suffix(b"\\"));
        inner.is_some_and(|it| Tag::parse(it).is_some())
    };
    if !before.is_empty() && !is_block(before) {
        return None;
    }
    let body = serde_json::from_slice::<Call>(text).ok()?.call.join(",");
    let sentence = format!("${body}*{:02X}", checksum(body.as_bytes()));
    let is_plain = body.bytes().all(|byte| byte.is_ascii_graphic() || byte == b' ');
    let is_one = is_plain
        && Line::parse(sentence.as_bytes())
            .is_ok_and(|it| it.start() == 0 && is_call(it.sentence.formatter));
    is_one.then(|| [before, sentence.as_bytes()].concat())
}

#[cfg(test)]
mod tests {
    use super::*;

    const CALL: &[u8] = b"$CDDSC,20,3381581370,00,21,26,1423108312,1902,,,B,E*7B";

    #[test]
    fn a_call_comes_back_as_it_was_and_is_no_sentence_on_its_way() {
        let told = text_of(&[b"\\s:vhf*31\\", CALL].concat()).unwrap();
        assert!(told.starts_with(r#"{"call":["CDDSC","20","3381581370","#), "{told}");
        assert!(!told.contains(['$', '!', '*']) && Line::parse(told.as_bytes()).is_err());
        assert_eq!(told_call(told.as_bytes()).unwrap(), CALL);
        let tagged = format!("\\s:vhf*31\\{told}");
        assert_eq!(told_call(tagged.as_bytes()).unwrap(), [b"\\s:vhf*31\\", CALL].concat());
    }

    #[test]
    fn nothing_else_becomes_a_sentence() {
        assert_eq!(text_of(b"!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D"), None);
        assert_eq!(text_of(b"$CDDSC,20*00"), None);
        for text in [
            r#"{"call":["AIVDM","1"]}"#,
            r#"{"call":["AIABM","1"]}"#,
            r#"{"call":["CDDSC","1*00","$CDDSC"]}"#,
            r#"{"call":["CDDSC","1\r\n!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D"]}"#,
            r#"{"call":[]}"#,
            r#"{"call":"CDDSC"}"#,
            r#"noise{"call":["CDDSC","20"]}"#,
            &format!(r#"{{"call":["CDDSC","{}"]}}"#, "1".repeat(5_000)),
            "{",
            "",
        ] {
            assert_eq!(told_call(text.as_bytes()), None, "{text}");
        }
    }
}
