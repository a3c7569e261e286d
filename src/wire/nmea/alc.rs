//! ALC: the list of all alerts of a device, sent again and again (IEC 61162-1 8.3.13).

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::field;

/// `$--ALC,xx,xx,xx,x.x,aaa,x.x,x.x,x.x, … *hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Alc {
    /// How many sentences it has, 1 to 16.
    pub total: Option<u16>,
    /// Which this is.
    pub number: Option<u16>,
    /// What joins them, 0 to 99.
    pub sequence: Option<u16>,
    /// How many alerts this sentence says that it lists.
    pub count: Option<u16>,
    /// Those it lists.
    pub alerts: Vec<AlcAlert>,
}

/// One alert in the list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AlcAlert {
    /// The maker, if the number is one of its own.
    pub manufacturer: Option<String>,
    /// The number of the kind of alert.
    pub alert: Option<u32>,
    /// Which of several of that kind.
    pub instance: Option<u32>,
    /// Counts its changes.
    pub revision: Option<u16>,
}

impl Alc {
    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let total = field::small(&mut fields);
        let number = field::small(&mut fields);
        let sequence = field::small(&mut fields);
        let count = field::small(&mut fields);
        let mut alerts = Vec::new();
        while !fields.is_at_end() {
            let alert = AlcAlert {
                manufacturer: field::text(&mut fields),
                alert: field::whole(&mut fields),
                instance: field::whole(&mut fields),
                revision: field::small(&mut fields),
            };
            // A count that is too low hides nothing; null fields at the end are no alert.
            if alert.alert.is_some() {
                alerts.push(alert);
            }
        }
        Ok(Self { total, number, sequence, count, alerts })
    }
}
