//! The keys of a DSC call.

use serde::Deserialize;
use toml::Spanned;

use crate::mmsi::Mmsi;
use crate::rehearse::values::{Seconds, Within};

/// A DSC call that the radio on board receives.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::rehearse) struct Call {
    pub at_s: Seconds,
    pub meaning: CallMeaning,
    pub caller: Mmsi,
    /// Whom a relay or an acknowledgement is about.
    pub casualty: Option<Mmsi>,
    /// Man overboard for 972 identities, else undesignated, if not given.
    pub nature: Option<Nature>,
    /// Whose place at that time it carries: own ship's, or a beacon's, which may have none yet.
    pub position_of: Option<Spanned<Mmsi>>,
    pub lat: Option<Within<-90, 90>>,
    pub lon: Option<Within<-180, 180>>,
    /// Whether a DSE with the decimals of the minutes follows.
    #[serde(default)]
    pub expansion: bool,
}

/// What a call means; its format, category and telecommands follow from that.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(in crate::rehearse) enum CallMeaning {
    DistressAlert,
    DistressRelay,
    DistressAcknowledgement,
    DistressCancel,
    Urgency,
    Safety,
    Test,
    Position,
}

/// Natures of distress.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(in crate::rehearse) enum Nature {
    Fire,
    Flooding,
    Collision,
    Grounding,
    Listing,
    Sinking,
    DisabledAdrift,
    Undesignated,
    Abandoning,
    Piracy,
    ManOverboard,
}
