//! Safety texts: type 12, addressed (M.1371-5 table 61), and 14, to all (table 63).

use serde::Serialize;

use super::super::letters::Text;
use super::super::sixbit::{BitWriter, Bits};
use crate::mmsi::Mmsi;

/// Type 12: a text for one station.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AddressedText {
    /// Number of the message, 0 to 3.
    pub sequence: u8,
    /// For whom it is; `None` if that is no identity.
    pub destination_mmsi: Option<Mmsi>,
    /// Whether it is sent again.
    pub retransmit: bool,
    /// The text, at most 156 characters.
    pub text: Text<156>,
}

impl AddressedText {
    pub(super) fn decode(bits: &Bits) -> Self {
        Self {
            sequence: bits.unsigned(38, 2) as u8,
            destination_mmsi: Mmsi::new(bits.unsigned(40, 30) as u32),
            retransmit: bits.flag(70),
            text: bits.text(72, 156),
        }
    }
}

/// Type 14: a text for everybody. A survivor beacon says in it whether it is active or tested.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SafetyText {
    /// The text, at most 161 characters; a longer one is cut.
    pub text: Text<161>,
    /// Of a survivor beacon's text: the word that says what it does. `Some(None)` if it has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub beacon_word: Option<Option<BeaconWord>>,
    /// The word that is there if the count of fill bits is not believed, where it is there by no
    /// other reading: a test must not be taken for something unknown because of a wrong count.
    #[serde(skip)]
    pub word_despite_fill: Option<BeaconWord>,
}

/// The second word of a survivor beacon's text (M.1371-5 annex 9; `OFF` and `CANCEL`: M.1371-6).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BeaconWord {
    /// Somebody is in distress.
    Active,
    /// The beacon is being tested.
    Test,
    /// The beacon was switched off.
    Off,
    /// The alert is cancelled.
    Cancel,
}

impl BeaconWord {
    /// Reads the word from a text such as `MOB ACTIVE` or, with a part of the maker's number behind
    /// it, `MOB ACTIVE A01`. What stands before and after it is no condition.
    pub fn of(text: &str) -> Option<Self> {
        match text.split_ascii_whitespace().nth(1)? {
            "ACTIVE" => Some(Self::Active),
            "TEST" => Some(Self::Test),
            "OFF" => Some(Self::Off),
            "CANCEL" => Some(Self::Cancel),
            _ => None,
        }
    }
}

impl SafetyText {
    /// A text as sent by `mmsi`.
    pub fn new(text: Text<161>, mmsi: Mmsi) -> Self {
        let beacon_word = mmsi.beacon_kind().map(|_| BeaconWord::of(&text));
        Self { text, beacon_word, word_despite_fill: None }
    }

    /// The word, by whichever reading.
    pub fn word(&self) -> Option<BeaconWord> {
        self.beacon_word.flatten().or(self.word_despite_fill)
    }

    #[inline]
    pub(super) fn decode(bits: &Bits, mmsi: Mmsi) -> Self {
        let mut decoded = Self::new(bits.text(40, 161), mmsi);
        if decoded.beacon_word == Some(None) {
            decoded.word_despite_fill = BeaconWord::of(&bits.gross_text::<161>(40, 161));
        }
        decoded
    }

    pub(super) fn encode(&self, bits: &mut BitWriter) {
        bits.put(0, 2).put_text(&self.text, self.text.len());
    }
}
