//! What modes, priorities, states and causes are called: `word()` as JSON has it, `name()` as a
//! person reads it.

use super::alert::{Cause, Priority, State};
use super::health::InputState;
use super::mode::Mode;

/// Gives a type a word for each of its values, and the list of them.
macro_rules! words {
    ($type:ident: $($value:ident = $word:literal),+ $(,)?) => {
        impl $type {
            /// Every value there is.
            pub const ALL: &[Self] = &[$(Self::$value),+];

            /// The word that JSON has for it.
            pub const fn word(self) -> &'static str {
                match self {
                    $(Self::$value => $word),+
                }
            }
        }
    };
}

words! { Mode:
    Active = "active",
    ActivePresumed = "active_presumed",
    Test = "test",
    TestPresumed = "test_presumed",
    Off = "off",
}

words! { Priority:
    EmergencyAlarm = "emergency_alarm",
    Alarm = "alarm",
    Warning = "warning",
    Caution = "caution",
}

words! { State:
    ActiveUnacknowledged = "active_unacknowledged",
    ActiveSilenced = "active_silenced",
    ActiveAcknowledged = "active_acknowledged",
    RectifiedUnacknowledged = "rectified_unacknowledged",
    Normal = "normal",
}

words! { Cause:
    BeaconActive = "beacon_active",
    BeaconUnverified = "beacon_unverified",
    BeaconTest = "beacon_test",
    BeaconSilent = "beacon_silent",
    DscDistress = "dsc_distress",
    DscRelay = "dsc_relay",
    DscUrgency = "dsc_urgency",
    DscTest = "dsc_test",
    MobNotice = "mob_notice",
    OverboardMarked = "overboard_marked",
    SafetyText = "safety_text",
    InputSilent = "input_silent",
    SetAlarm = "set_alarm",
    ChannelSilent = "channel_silent",
    ReachReduced = "reach_reduced",
    OwnPositionLost = "own_position_lost",
    ClockSuspect = "clock_suspect",
    LogbookFailed = "logbook_failed",
    SounderFailed = "sounder_failed",
    OutputFailed = "output_failed",
    WatchkeeperSilent = "watchkeeper_silent",
}

impl Mode {
    /// What a person reads; capitals for what is certain.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Active => "ACTIVE",
            Self::ActivePresumed => "perhaps active",
            Self::Test => "TEST",
            Self::TestPresumed => "probably a test",
            Self::Off => "off",
        }
    }
}

impl State {
    /// What a person reads in a column of fourteen.
    pub const fn name(self) -> &'static str {
        match self {
            Self::ActiveUnacknowledged => "unackn.",
            Self::ActiveSilenced => "silenced",
            Self::ActiveAcknowledged => "ackn.",
            Self::RectifiedUnacknowledged => "ended, unackn.",
            Self::Normal => "ended",
        }
    }
}

impl InputState {
    /// What a person reads; capitals for what is wrong.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Live => "live",
            Self::Silent => "SILENT",
            Self::Lost => "LOST",
            Self::Noisy => "NOISY",
        }
    }
}

impl Priority {
    /// What a person reads, nine letters at most; capitals for what must be acknowledged.
    pub const fn name(self) -> &'static str {
        match self {
            Self::EmergencyAlarm => "EMERGENCY",
            Self::Alarm => "ALARM",
            Self::Warning => "WARNING",
            Self::Caution => "caution",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_are_those_of_json() {
        fn agree<T: serde::Serialize + Copy>(all: &[T], word: fn(T) -> &'static str) {
            for value in all {
                assert_eq!(serde_json::to_value(value).unwrap(), word(*value));
            }
        }
        agree(Mode::ALL, Mode::word);
        agree(Priority::ALL, Priority::word);
        agree(State::ALL, State::word);
        agree(Cause::ALL, Cause::word);
    }
}
