//! What a watch needs, and what it costs where that is missing.

use serde::Serialize;

use super::Traffic;
use super::words::TELLING;

/// Something that a watch needs, or is the better for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NeedKind {
    /// AIS, on both of its channels.
    AisBothChannels,
    /// Where the ship is.
    OwnPosition,
    /// Where the bow points.
    Heading,
    /// Where the wind comes from and how strong it is.
    Wind,
    /// The calls that the radio receives.
    Dsc,
    /// A button on board that tells of somebody overboard.
    MobButton,
}

/// Whether a need is met.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Met {
    /// It is.
    Yes,
    /// One channel alone was heard so far, or which one is not told.
    Partly,
    /// Nothing of it was heard.
    No,
    /// So short a time does not tell.
    Unknown,
}

/// A need, and what meets it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Need {
    /// Which.
    pub need: NeedKind,
    /// Whether it is met.
    pub met: Met,
    /// The inputs that give it, by name.
    pub inputs: Vec<String>,
    /// What it costs that it is not met; `None` if it is.
    pub cost: Option<&'static str>,
}

impl NeedKind {
    /// All of them, the most important first.
    pub const ALL: [Self; 6] = [
        Self::AisBothChannels,
        Self::OwnPosition,
        Self::Heading,
        Self::Wind,
        Self::Dsc,
        Self::MobButton,
    ];

    /// Those that are counted: what a watch has to hear, and what to steer by.
    pub const COUNTED: [Self; 3] = [Self::AisBothChannels, Self::OwnPosition, Self::Heading];

    /// What it is called.
    pub const fn name(self) -> &'static str {
        match self {
            Self::AisBothChannels => "AIS, both channels",
            Self::OwnPosition => "own position",
            Self::Heading => "heading",
            Self::Wind => "wind",
            Self::Dsc => "DSC",
            Self::MobButton => "MOB button",
        }
    }

    /// Whether a watch is none, or next to none, without it.
    pub const fn is_vital(self) -> bool {
        matches!(self, Self::AisBothChannels | Self::OwnPosition)
    }

    fn is_given_by(self, traffic: &Traffic) -> bool {
        match self {
            Self::AisBothChannels => traffic.hears_ais(),
            Self::OwnPosition => traffic.fix == Some(true) || traffic.transponder_position,
            Self::Heading => traffic.heading,
            Self::Wind => traffic.wind,
            Self::Dsc => traffic.calls > 0,
            Self::MobButton => traffic.has_button,
        }
    }

    const fn cost(self, met: Met) -> Option<&'static str> {
        Some(match (self, met) {
            (_, Met::Yes) => return None,
            (Self::AisBothChannels, Met::Unknown) => {
                "only a few messages were heard, on one channel: listen longer with --seconds 60"
            }
            (Self::AisBothChannels, Met::Partly) => {
                "half of what a beacon sends may be lost: set the receiver to both channels, or check \
                 its antenna"
            }
            (Self::AisBothChannels, _) => {
                "no beacon would be heard. In a quiet place nobody may be in reach: listen longer with \
                 --seconds 60"
            }
            (Self::OwnPosition, _) => {
                "an alarm would sound, but without range and bearing to the casualty"
            }
            (Self::Heading, _) => {
                "no bearing from the bow: the course over ground stands in for it, and at low speed \
                 nothing does"
            }
            (Self::Wind, _) => {
                "where somebody drifts who is not heard any more is known less well, and a search is \
                 wider"
            }
            (Self::Dsc, _) => {
                "a radio says nothing until a call comes. Without one connected, distress calls are \
                 heard at the radio alone"
            }
            (Self::MobButton, _) => {
                "a button says nothing until it is pressed. Without one, the key p marks the place by \
                 hand"
            }
        })
    }
}

/// Which needs the inputs meet together.
pub fn needs<'a>(inputs: impl Iterator<Item = (&'a str, &'a Traffic)> + Clone) -> Vec<Need> {
    let of = |need: NeedKind| {
        let giving = inputs.clone().filter(|(_, traffic)| need.is_given_by(traffic));
        let met = match need {
            NeedKind::AisBothChannels => channels(giving.clone().map(|(_, traffic)| traffic)),
            _ if giving.clone().next().is_some() => Met::Yes,
            NeedKind::Dsc | NeedKind::MobButton => Met::Unknown,
            _ => Met::No,
        };
        let inputs = giving.map(|(name, _)| name.to_owned()).collect();
        Need { need, met, inputs, cost: need.cost(met) }
    };
    NeedKind::ALL.into_iter().map(of).collect()
}

fn channels<'a>(inputs: impl Iterator<Item = &'a Traffic>) -> Met {
    let [a, b, untold] = inputs.fold([0; 3], |sum: [u64; 3], traffic| {
        std::array::from_fn(|i| sum[i] + traffic.channels[i])
    });
    match (a, b) {
        (1.., 1..) => Met::Yes,
        (0, 0) if untold == 0 => Met::No,
        _ if a + b < TELLING => Met::Unknown,
        _ => Met::Partly,
    }
}
