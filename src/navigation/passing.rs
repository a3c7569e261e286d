//! Whether a ship closes a casualty, or has passed it and opens again.

use crate::units::NauticalMiles;

/// Nearer than this, and then opening, is passing: 0.2 NM. Our own.
///
/// The screen and the debrief count by the same rule. They may still differ by what a debrief knows
/// better: it counts from the turn until the ship is at the casualty for good, and at ranges between
/// bursts that are interpolated afterwards.
pub const PASSES_WITHIN: NauticalMiles = NauticalMiles(0.2);

/// The range opens, or closes again, when it has changed by this much since it turned: more than
/// two positions are off, each by its 10 m. Our own.
pub const TURNED: NauticalMiles = NauticalMiles(40.0 / 1852.0);

/// Nearer than this a bearing is noise: what counts is to go slowly, and to look. Our own.
pub const CLOSE: NauticalMiles = NauticalMiles(100.0 / 1852.0);

/// Within this a ship that is slow is at the casualty: nearer than [`CLOSE`], for that is where the
/// looking begins, and this is where somebody is taken hold of. Our own.
pub const AT_CASUALTY: NauticalMiles = NauticalMiles(50.0 / 1852.0);

/// How the range goes. Each range comes with a mark of the caller's, such as its time.
#[derive(Clone, Copy, Debug)]
pub struct Passing<T> {
    /// By how much a range has to turn.
    by: NauticalMiles,
    closing: bool,
    /// The least range while she closes, the greatest while she does not. Whoever falls overboard
    /// is left behind, and not passed.
    turned: Option<(NauticalMiles, T)>,
}

/// The range has turned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RangeTurned<T> {
    /// She closes, from this greatest range on.
    Closes(NauticalMiles, T),
    /// She opens: this was the least range.
    Opens(NauticalMiles, T),
}

impl<T> Default for Passing<T> {
    fn default() -> Self {
        Self::turned_by(TURNED)
    }
}

impl<T> Passing<T> {
    /// For ranges that have turned when they are so much further on than the last extreme.
    pub const fn turned_by(by: NauticalMiles) -> Self {
        Self { by, closing: false, turned: None }
    }
}

impl<T: Copy> Passing<T> {
    /// Takes the present range. What is noticed now, if anything.
    pub fn note(&mut self, range: NauticalMiles, mark: T) -> Option<RangeTurned<T>> {
        let (turned, at) = *self.turned.get_or_insert((range, mark));
        let (closes, opens) = (range.0 < turned.0 - self.by.0, range.0 > turned.0 + self.by.0);
        let (goes_on, turns) =
            if self.closing { (range < turned, opens) } else { (range > turned, closes) };
        if goes_on || turns {
            self.turned = Some((range, mark));
        }
        self.closing ^= turns;
        let noticed = if closes { RangeTurned::Closes } else { RangeTurned::Opens };
        turns.then(|| noticed(turned, at))
    }

    /// The least range so far, while she closes.
    pub fn nearest(&self) -> Option<T> {
        self.turned.filter(|_| self.closing).map(|(_, mark)| mark)
    }
}
