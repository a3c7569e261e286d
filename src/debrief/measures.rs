//! The numbers of a casualty, grouped by what they are about. In JSON they are one flat object.

use serde::Serialize;

use super::measured::Measured;
use crate::time::Utc;
use crate::units::{Degrees, Knots, NauticalMiles};

/// Every number of a casualty. Durations are in seconds, distances as their names say.
#[derive(Clone, Debug, Serialize)]
pub struct Measures {
    /// From the first message to the alarm, and what came of it.
    #[serde(flatten)]
    pub alarm: AlarmMeasures,
    /// The turn, and the way back from it.
    #[serde(flatten)]
    pub turn: TurnMeasures,
    /// How far off she was, and how near she came.
    #[serde(flatten)]
    pub approach: ApproachMeasures,
    /// At the casualty, and out of the water.
    #[serde(flatten)]
    pub recovery: RecoveryMeasures,
    /// What was heard of what was sent.
    #[serde(flatten)]
    pub reception: ReceptionMeasures,
    /// How far the beacon's positions were from the ship's while both were in one place.
    pub position_error: Measured<PositionError>,
    /// Where the casualty drifted, over ground.
    pub drift: Measured<CasualtyDrift>,
}

/// From the first message to the alarm, and what came of it.
#[derive(Clone, Debug, Serialize)]
pub struct AlarmMeasures {
    /// The first message.
    pub activated_at: Measured<Utc>,
    /// The first alarm about it.
    pub alarm_at: Measured<Utc>,
    /// Seconds from the first message to the alarm.
    pub activated_to_alarm_s: Measured<f64>,
    /// When somebody acknowledged it.
    pub acknowledged_at: Measured<Utc>,
    /// Seconds from the alarm to the acknowledgement.
    pub alarm_to_acknowledged_s: Measured<f64>,
    /// The first message with a position.
    pub first_position_at: Measured<Utc>,
    /// Seconds from the alarm to the first position.
    pub alarm_to_first_position_s: Measured<f64>,
}

/// The turn, and the way back from it.
#[derive(Clone, Debug, Serialize)]
pub struct TurnMeasures {
    /// When own ship began to turn.
    pub turn_begun_at: Measured<Utc>,
    /// Seconds from the alarm to the turn, 0 if she turned before it.
    pub alarm_to_turn_s: Measured<f64>,
    /// What she sailed over ground in that time, in metres.
    pub alarm_to_turn_m: Measured<f64>,
    /// The range when the turn began.
    pub range_at_turn_nm: Measured<NauticalMiles>,
    /// When her bow pointed at the casualty.
    pub pointing_at: Measured<Utc>,
    /// Seconds from the turn until then.
    pub turn_to_pointing_s: Measured<f64>,
    /// The course steered against the best one, from the turn to the casualty.
    pub steering: Measured<Steering>,
}

/// How far off she was, and how near she came.
#[derive(Clone, Debug, Serialize)]
pub struct ApproachMeasures {
    /// The greatest range while the casualty was in the water.
    pub greatest_range_nm: Measured<NauticalMiles>,
    /// When that was.
    pub greatest_range_at: Measured<Utc>,
    /// The closest approach, in metres.
    pub closest_approach_m: Measured<f64>,
    /// When that was.
    pub closest_approach_at: Measured<Utc>,
    /// Times she came near and went away again.
    pub passes_missed: Measured<Vec<Pass>>,
}

/// At the casualty, and out of the water.
#[derive(Clone, Debug, Serialize)]
pub struct RecoveryMeasures {
    /// When she was at the casualty: close, and slow.
    pub at_casualty_at: Measured<Utc>,
    /// When the casualty was out of the water.
    pub recovered_at: Measured<Utc>,
    /// What tells that.
    pub recovered_by: Option<RecoveredBy>,
    /// Seconds at the casualty until the recovery.
    pub at_casualty_to_recovered_s: Measured<f64>,
    /// Seconds from the first message to the recovery.
    pub total_s: Measured<f64>,
}

/// What was heard of what was sent.
#[derive(Clone, Debug, Serialize)]
pub struct ReceptionMeasures {
    /// Messages heard, each once however many receivers heard it.
    pub messages_heard: Measured<u32>,
    /// Messages sent between the first and the last that was heard, as far as can be told.
    pub messages_expected: Measured<u32>,
    /// Of those heard, the ones sent before the recovery.
    pub heard_in_water: Measured<u32>,
    /// Of those sent, the ones sent before the recovery.
    pub expected_in_water: Measured<u32>,
    /// Messages heard on channel A; half of those expected were sent there.
    pub heard_a: Measured<u32>,
    /// Messages heard on channel B.
    pub heard_b: Measured<u32>,
    /// The longest time without a message.
    pub longest_silence_s: Measured<f64>,
    /// When that began.
    pub longest_silence_from: Measured<Utc>,
    /// The range at the first message whose range is known.
    pub first_heard_range_nm: Measured<NauticalMiles>,
    /// The range at the last one.
    pub last_heard_range_nm: Measured<NauticalMiles>,
    /// The greatest range at which a message was heard.
    pub greatest_heard_range_nm: Measured<NauticalMiles>,
    /// Out to which range eight of ten messages of a beacon were to be expected when this one was
    /// heard first, by the reports of ships.
    pub estimated_range_nm: Measured<NauticalMiles>,
    /// Messages heard of those sent, by range, nearest first.
    pub reception_by_range: Measured<Vec<RangeBand>>,
}

/// Own ship came near and went away again.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Pass {
    /// When she was nearest.
    pub at: Utc,
    /// How near, in metres.
    pub range_m: f64,
    /// How far that may be off to either side, in metres.
    pub range_m_tolerance: f64,
}

/// What tells that a casualty is out of the water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RecoveredBy {
    /// The beacon said OFF or CANCEL.
    Off,
    /// Its position moves with the ship.
    MovesWithShip,
    /// Somebody said so in the logbook.
    Logbook,
}

impl RecoveredBy {
    /// To what a time until the recovery counts.
    pub const fn until(self) -> &'static str {
        match self {
            Self::Off => "until OFF",
            Self::MovesWithShip => "at most, until the boat went on",
            Self::Logbook => "until the logbook's word",
        }
    }

    /// Whether a time until then may have been shorter.
    pub const fn is_bound(self) -> bool {
        matches!(self, Self::MovesWithShip)
    }
}

impl ReceptionMeasures {
    /// What was heard of what was sent, in per cent: before the recovery, for what is heard on board
    /// says nothing of the antenna; all of it where the recovery is not known. `None` if nothing was
    /// sent.
    pub fn heard_percent(&self) -> Option<f64> {
        let in_water = self.heard_in_water.value().zip(self.expected_in_water.value());
        let whole = || self.messages_heard.value().zip(self.messages_expected.value());
        let (heard, sent) = in_water.or_else(whole)?;
        (*sent > 0).then(|| f64::from(*heard) / f64::from(*sent) * 100.0)
    }
}

/// What was heard at a range.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RangeBand {
    /// From this range.
    pub from_nm: NauticalMiles,
    /// Up to this one.
    pub to_nm: NauticalMiles,
    /// Messages heard.
    pub heard: u32,
    /// Messages sent, as far as can be told.
    pub expected: u32,
}

/// How far the beacon's positions were from the ship's.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PositionError {
    /// The mean distance, in metres.
    pub mean_m: f64,
    /// The greatest, in metres.
    pub greatest_m: f64,
    /// From so many positions.
    pub fixes: usize,
}

/// How a casualty drifted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CasualtyDrift {
    /// Towards where, true.
    pub set_deg: Degrees,
    /// How fast over ground.
    pub rate_kn: Knots,
    /// The standard deviation of each component of that speed.
    pub sd_kn: Knots,
    /// From so many positions, one a burst.
    pub fixes: usize,
}

/// The way back, against the best way there was.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Steering {
    /// The mean angle between the course over ground and that of an interception, in degrees,
    /// 0 to 180.
    pub mean_difference_deg: f64,
    /// Metres sailed over ground from the turn to the casualty, or to the closest approach.
    pub sailed_m: f64,
    /// Metres that an interception begun at the turn would have taken at her mean speed.
    pub needed_m: f64,
    /// Seconds from the turn to the casualty, or to the closest approach.
    pub taken_s: f64,
    /// Seconds that the interception would have taken.
    pub needed_s: f64,
    /// How far each of these may be off to either side, in its own unit.
    pub mean_difference_deg_tolerance: f64,
    /// Metres.
    pub sailed_m_tolerance: f64,
    /// Metres.
    pub needed_m_tolerance: f64,
    /// Seconds.
    pub taken_s_tolerance: f64,
    /// Seconds.
    pub needed_s_tolerance: f64,
}
