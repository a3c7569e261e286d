//! Who has heard a beacon.

use crate::wire::InputId;

/// The inputs that have heard a beacon, and whether a station is among them.
#[derive(Debug, Default)]
pub(super) struct Hearers {
    inputs: Vec<InputId>,
    station: bool,
}

/// How many are named. Our own.
const NAMED: usize = 8;

impl Hearers {
    pub(super) fn note(&mut self, input: InputId, relayed: bool) {
        self.station |= relayed;
        if self.inputs.len() < NAMED && !self.inputs.contains(&input) {
            self.inputs.push(input);
        }
    }

    /// `heard by ais, station pier`, if there is a station among them: who has one receiver alone
    /// knows who heard it.
    pub(super) fn words<'a>(&self, name: impl Fn(InputId) -> Option<&'a str>) -> Option<String> {
        let names: Vec<&str> = self.inputs.iter().filter_map(|&input| name(input)).collect();
        (self.station && !names.is_empty()).then(|| format!("heard by {}", names.join(", ")))
    }
}
