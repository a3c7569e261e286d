//! Which lines are never dropped in a flood of datagrams: those in the name of a beacon of the
//! muster.

use std::sync::{Arc, PoisonError, RwLock};

use crate::mmsi::Mmsi;
use crate::wire::sender_of;

/// The identities whose lines come first. Clones share them.
#[derive(Clone, Debug, Default)]
pub struct Important {
    identities: Arc<RwLock<Vec<Mmsi>>>,
}

impl Important {
    /// These identities come first from now on.
    pub fn set(&self, identities: impl Iterator<Item = Mmsi>) {
        let mut held = self.identities.write().unwrap_or_else(PoisonError::into_inner);
        held.clear();
        held.extend(identities);
    }

    /// Whether any of these lines is.
    pub(super) fn holds_any(&self, datagram: &[u8]) -> bool {
        datagram.split(|&c| c == b'\n').any(|line| !line.is_empty() && self.holds(line))
    }

    /// Whether a line is sent by one of them, or names one of them: in a DSC call.
    fn holds(&self, line: &[u8]) -> bool {
        let held = self.identities.read().unwrap_or_else(PoisonError::into_inner);
        match sender_of(line) {
            Some(sender) => held.iter().any(|it| it.value() == sender),
            None if line.contains(&b'!') => false,
            None => held.iter().any(|it| {
                let digits = it.to_string();
                line.windows(digits.len()).any(|part| part == digits.as_bytes())
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_muster_is_found_in_every_kind_of_line() {
        let important = Important::default();
        // A message 1 and a message 14 of 972000017, and a DSC call in its name.
        let lines: [&[u8]; 3] = [
            b"!AIVDM,1,1,,A,1>Nv;4@P00Lw>;bNg<l`>PS80000,0*00",
            b"\\s:ais,c:1*00\\!AIVDM,1,1,,A,>>Nv;4@A=@E=B0,4*00",
            b"$CDDSC,12,9720000170,12,10,26,1500000130,0201,,,S,*00",
        ];
        assert!(lines.iter().all(|line| !important.holds(line)));
        important.set(Mmsi::new(972_000_017).into_iter());
        for line in lines {
            let sender = sender_of(line);
            assert!(important.holds(line), "{sender:?} {}", String::from_utf8_lossy(line));
        }
        for line in
            [&b"!AIVDM,1,1,,A,1>Nv;4PP00L,0*00"[..], b"!AIVDM", b"", b"$CDDSC,12,9720000180,"]
        {
            assert!(!important.holds(line));
        }
    }
}
