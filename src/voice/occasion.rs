//! Which of the three texts fits.

use super::facts::{Facts, Whose};

/// What a voice call is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Occasion {
    /// The own ship, or a person of hers, is in grave and imminent danger (seen as Radio
    /// Regulations 32: "a mobile unit or person").
    Mayday,
    /// Another is: a ship, or a beacon that is not of the muster.
    Relay,
    /// This ship's DSC alert was a false one.
    Cancel,
}

impl Occasion {
    /// Every one, in the order in which a person steps through them.
    pub const ALL: [Self; 3] = [Self::Mayday, Self::Relay, Self::Cancel];

    /// The one that fits. In doubt MAYDAY: an alert can be cancelled when the person is back
    /// aboard, an hour lost cannot. A cancellation is never proposed while anybody may be in
    /// danger, nor where no alert went out.
    pub fn of(facts: &Facts) -> Self {
        match &facts.casualty {
            Some(casualty) if casualty.whose == Whose::Another => Self::Relay,
            Some(_) => Self::Mayday,
            None if facts.alert_sent.is_some() => Self::Cancel,
            None => Self::Mayday,
        }
    }
}
