//! A number with how it was determined, or why it is not known.

use serde::{Serialize, Serializer, ser::SerializeStruct as _};

/// A number that was measured or not. Never a guess without a word.
///
/// In JSON: `{"value":…,"how":"…"}`, or `{"value":null,"why":"…"}`.
#[derive(Clone, Debug, PartialEq)]
pub enum Measured<T> {
    /// It is known.
    Known {
        /// The number.
        value: T,
        /// How it was determined, with its tolerance where there is one.
        how: String,
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
        Self::Known { value, how: how.into() }
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

    /// Another number from this one; what is not known stays so, for the same reason.
    pub fn map<U>(&self, make: impl FnOnce(&T) -> U) -> Measured<U> {
        match self {
            Self::Known { value, how } => Measured::Known { value: make(value), how: how.clone() },
            Self::NotKnown { why } => Measured::NotKnown { why: why.clone() },
        }
    }
}

impl<T: Serialize> Serialize for Measured<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut object = serializer.serialize_struct("Measured", 2)?;
        object.serialize_field("value", &self.value())?;
        match self {
            Self::Known { how, .. } => object.serialize_field("how", how)?,
            Self::NotKnown { why } => object.serialize_field("why", why)?,
        }
        object.end()
    }
}
