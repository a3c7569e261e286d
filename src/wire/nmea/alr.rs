//! ALR: one alarm condition of a device, and whether it holds (IEC 61162-1 8.3.15).

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field::{self, TimeOfDay};

/// `$--ALR,hhmmss.ss,xxx,A,A,c--c*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Alr {
    /// When the condition changed.
    pub time: Option<TimeOfDay>,
    /// Its number, of the device's own list; `None` in a sentence that says there is nothing.
    pub alarm: Option<u16>,
    /// Whether it holds: `A` or `V`.
    pub exceeded: Option<bool>,
    /// Whether somebody took note there: `A` or `V`.
    pub acknowledged: Option<bool>,
    /// What it says.
    pub text: Option<String>,
}

impl Alr {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        Ok(Self {
            time: field::time_of_day(&mut fields),
            alarm: field::small(&mut fields),
            exceeded: field::a_or_v(&mut fields),
            acknowledged: field::a_or_v(&mut fields),
            text: field::text(&mut fields),
        })
    }
}
