//! TXT: a text of a device to its user (IEC 61162-1).

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--TXT,xx,xx,xx,c--c*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Txt {
    /// How many sentences it has, 1 to 99.
    pub total: Option<u16>,
    /// Which this is.
    pub number: Option<u16>,
    /// Which text it is, by the device's own numbers.
    pub identifier: Option<u16>,
    /// What it says.
    pub text: Option<String>,
}

impl Txt {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        Ok(Self {
            total: field::small(&mut fields),
            number: field::small(&mut fields),
            identifier: field::small(&mut fields),
            text: field::text(&mut fields),
        })
    }
}
