//! What joins a sentence to another that came with it: a VSI to the message it tells the signal of.

use super::decoder::digest;
use super::line::Line;

/// By what a sentence names the one it belongs to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Link {
    /// A digest of the TAG block's source, if it has one.
    source: Option<u64>,
    /// A digest of the TAG block's group, `g:`, if it has one.
    group: Option<u64>,
    /// The sequential number of the message, 0 to 9; `None` for most of one sentence.
    number: Option<u8>,
}

/// How sure it is that two sentences belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Joined {
    /// Both name the same group or number.
    ByName,
    /// Nothing speaks against it: they do if nothing came between.
    IfAdjacent,
    /// They name different ones.
    No,
}

impl Link {
    /// Reads it from a line that holds a VDM, a VDO or a VSI; `None` for any other.
    pub fn of(line: &[u8]) -> Option<Self> {
        let line = Line::parse(line).ok()?;
        let mut fields = line.sentence.fields();
        let number = match line.sentence.formatter.as_bytes() {
            b"VDM" | b"VDO" => fields.skip(2).take(),
            b"VSI" => fields.skip(1).take(),
            _ => return None,
        };
        let number = match number {
            Some(&[digit @ b'0'..=b'9']) => Some(digit - b'0'),
            _ => None,
        };
        let source = line.tag.and_then(|tag| tag.source).map(digest);
        let group = line.tag.and_then(|tag| tag.group).map(|group| digest(group.id));
        Some(Self { source, group, number })
    }

    /// Whether it and another belong together: by the group where both are in one, else by number.
    pub fn joins(&self, other: &Self) -> Joined {
        if self.source.zip(other.source).is_some_and(|(one, two)| one != two) {
            return Joined::No;
        }
        let named = self.group.zip(other.group).map(|(one, two)| one == two);
        let named = named.or(self.number.zip(other.number).map(|(one, two)| one == two));
        match named {
            Some(true) => Joined::ByName,
            Some(false) => Joined::No,
            None => Joined::IfAdjacent,
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may")]
mod tests {
    use super::super::checksum;
    use super::*;

    fn link(tag: &str, body: &str) -> Link {
        let sealed = |body: &str| format!("{body}*{:02X}", checksum(body.as_bytes()));
        let tag = if tag.is_empty() { String::new() } else { format!("\\{}\\", sealed(tag)) };
        let start = if body.contains("VSI") { '$' } else { '!' };
        Link::of(format!("{tag}{start}{}", sealed(body)).as_bytes()).unwrap()
    }

    const MESSAGE: &str = "AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2";

    #[test]
    fn a_group_joins_whatever_the_numbers_say() {
        let message = link("g:1-2-1234,s:r3669961", MESSAGE);
        let joins = |tag: &str| message.joins(&link(tag, "ABVSI,r3669961,1,013536.96,1386,-98,"));
        assert_eq!(joins("g:2-2-1234"), Joined::ByName);
        assert_eq!(joins("g:2-2-1235"), Joined::No);
        assert_eq!(joins("g:2-2-1234,s:r3669962"), Joined::No);
        assert_eq!(joins(""), Joined::IfAdjacent);
    }

    #[test]
    fn numbers_join_where_there_is_no_group() {
        let numbered = link("", &MESSAGE.replace(",,", ",3,"));
        let vsi =
            |number: &str| link("", &format!("ABVSI,Helsingborg,{number},093142,1590,-105,4"));
        assert_eq!(numbered.joins(&vsi("3")), Joined::ByName);
        assert_eq!(numbered.joins(&vsi("4")), Joined::No);
        assert_eq!(numbered.joins(&vsi("")), Joined::IfAdjacent);
        assert_eq!(Link::of(b"$GPZDA,1*00"), None);
    }
}
