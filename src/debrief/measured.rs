//! A number with how it was determined, or why it is not known.

use serde::{Serialize, Serializer, ser::SerializeStruct as _};

/// A number that was measured or not. Never a guess without a word.
///
/// In JSON: `{"value":…,"how":"…"}`, with `"tolerance":…` where it has one, or
/// `{"value":null,"why":"…"}`.
#[derive(Clone, Debug, PartialEq)]
pub enum Measured<T> {
    /// It is known.
    Known {
        /// The number.
        value: T,
        /// How it was determined.
        how: String,
        /// How far it may be off to either side, 95 of 100 times: in its own unit, in seconds for a
        /// moment. `None` where it was read and not inferred.
        tolerance: Option<f64>,
    },
    /// The recording does not tell.
    NotKnown {
        /// Why not.
        why: String,
    },
}

impl<T> Measured<T> {
    /// A number, and how it was determined.
    pub fn known(value: T, how: impl Into<String>) -> Self {
        Self::Known { value, how: how.into(), tolerance: None }
    }

    /// The same number, which may be off by so much to either side.
    #[must_use]
    pub fn within(mut self, off: f64) -> Self {
        if let Self::Known { tolerance, .. } = &mut self {
            *tolerance = Some(off);
        }
        self
    }

    /// How far it may be off to either side; `None` where it has no tolerance or is not known.
    pub const fn tolerance(&self) -> Option<f64> {
        match self {
            Self::Known { tolerance, .. } => *tolerance,
            Self::NotKnown { .. } => None,
        }
    }

    /// No number, and why not.
    pub fn not_known(why: impl Into<String>) -> Self {
        Self::NotKnown { why: why.into() }
    }

    /// The number, if there is one.
    pub const fn value(&self) -> Option<&T> {
        match self {
            Self::Known { value, .. } => Some(value),
            Self::NotKnown { .. } => None,
        }
    }

    /// How it was determined, or why it is not known.
    pub fn how(&self) -> &str {
        match self {
            Self::Known { how, .. } => how,
            Self::NotKnown { why } => why,
        }
    }

    /// Another number from this one, without its tolerance; what is not known stays so, for the same
    /// reason.
    pub fn map<U>(&self, make: impl FnOnce(&T) -> U) -> Measured<U> {
        match self {
            Self::Known { value, how, .. } => Measured::known(make(value), how.clone()),
            Self::NotKnown { why } => Measured::NotKnown { why: why.clone() },
        }
    }
}

/// A number that is there or not, with how, or why not.
pub(super) fn known<T>(value: Option<T>, how: &str, why: &str) -> Measured<T> {
    value.map_or_else(|| Measured::not_known(why), |value| Measured::known(value, how))
}

/// A number with its tolerance, where it has one.
pub(super) fn within<T>(number: Measured<T>, off: Option<f64>) -> Measured<T> {
    match off {
        Some(off) => number.within(off),
        None => number,
    }
}

impl<T: Serialize> Serialize for Measured<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut object = serializer.serialize_struct("Measured", 3)?;
        object.serialize_field("value", &self.value())?;
        if let Some(tolerance) = self.tolerance() {
            object.serialize_field("tolerance", &((tolerance * 1000.0).round() / 1000.0))?;
        }
        match self {
            Self::Known { how, .. } => object.serialize_field("how", how)?,
            Self::NotKnown { why } => object.serialize_field("why", why)?,
        }
        object.end()
    }
}
