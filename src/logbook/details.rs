//! What belongs to one kind of entry alone.

use chrono::NaiveDate;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};

use super::kind::Kind;
use crate::mmsi::Mmsi;
use crate::muster::CheckKind;
use crate::proof::Judgement;
use crate::watch::{AlertId, Cause, InputState, Matter, Mode, Priority, State};

/// What an entry is about, with what belongs to that alone.
#[derive(Clone, Debug, PartialEq)]
pub enum Details {
    /// An alert's state or priority changed.
    Alert(AlertChange),
    /// A beacon was heard, goes on or fell silent, or a crew alarm told of a person overboard.
    Beacon {
        /// What happened; `None` for what this version does not know.
        event: Option<BeaconEvent>,
        /// What the beacon does, where it told that itself.
        mode: Option<Mode>,
        /// All that was told, by the names of the events.
        told: Value,
    },
    /// A DSC call came in: all of it, by the names of the events.
    Dsc(Value),
    /// A safety text came in.
    SafetyText {
        /// Whether it was for one station and not for all; `None` if that is not known.
        addressed: Option<bool>,
    },
    /// An input changed its state.
    Input {
        /// Its name.
        input: String,
        /// What it is now.
        state: InputState,
    },
    /// Somebody did or noted something.
    Operator {
        /// What; `None` for what this version does not know.
        act: Option<Act>,
        /// The alert it was done to.
        alert: Option<AlertId>,
    },
    /// A watch began, ended or was handed over, or the logbook tells of itself.
    Watch {
        /// What happened; `None` for what this version does not know.
        event: Option<WatchEvent>,
        /// What else is known of it.
        told: Value,
    },
    /// Where the ship was.
    Position,
    /// A self-test was judged.
    Test(Box<TestJudged>),
    /// A check of the register.
    Check(CheckMade),
    /// How far a beacon would have been heard in the last hour, or why that is not known.
    Reach {
        /// The estimate, by the names of the event.
        told: Value,
        /// All that was counted in that hour: kept beside the entries and not in them, so that an
        /// entry that was read has none.
        hour: Option<Box<Value>>,
    },
    /// An entry of a later version, or one that lacks what its kind needs: all of its body.
    Other(Map<String, Value>),
}

/// An alert whose state or priority changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AlertChange {
    /// Its number.
    pub alert: AlertId,
    /// What it is about.
    pub cause: Cause,
    /// How urgent it is.
    pub priority: Priority,
    /// How far it has been dealt with.
    pub state: State,
    /// What makes it the same alert when it comes again: of those that go on over a restart. Older
    /// entries do not have it.
    pub matter: Option<Matter>,
    /// The beacon that has taken the place of the point set by hand which the alert was about.
    pub joined_by: Option<Mmsi>,
}

/// What happened to a beacon or a casualty, by the names of the events.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BeaconEvent {
    /// It was heard for the first time, again, or in another mode.
    BeaconHeard,
    /// It goes on.
    BeaconUpdate,
    /// It is not heard any more.
    BeaconSilent,
    /// Where it is reckoned to be.
    Datum,
    /// A search was planned for it.
    Search,
    /// It was passed near by.
    Passed,
    /// A crew alarm told of a person overboard.
    MobNotice,
}

/// What somebody did.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Act {
    /// Acknowledged an alert.
    Acknowledged,
    /// Silenced one for 30 s.
    Silenced,
    /// Said that it is over.
    DeclaredOver,
    /// Set the point where a person went overboard.
    MarkedOverboard,
    /// Said that a beacon and the point whose place it took are two persons.
    Parted,
    /// Told where the ship is.
    PlacedShip,
    /// Said how high the seas are.
    NamedSeas,
    /// Asked for the route of a search.
    AskedForRoute,
    /// Muted an identity or an input.
    Muted,
    /// Let all be heard again that was muted.
    Unmuted,
    /// Entered a beacon in the muster.
    Enrolled,
    /// Wrote a remark.
    Remark,
}

/// What happened to a watch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WatchEvent {
    /// It began.
    Started,
    /// It ended in good order.
    Ended,
    /// It was handed over.
    HandedOver,
    /// The configuration was read again.
    Reconfigured,
    /// The watchkeeper was asked to answer.
    AwakePrompt,
    /// It goes on without something it began with.
    GoesOnWithout,
    /// A recording was replayed.
    Replayed,
    /// The logbook tells of itself.
    Logbook,
}

/// A self-test that was judged.
#[derive(Clone, Debug, PartialEq)]
pub struct TestJudged {
    /// How it was judged, in a word.
    pub verdict: Judgement,
    /// Messages heard.
    pub messages_heard: Option<u64>,
    /// Messages that a whole burst has.
    pub messages_expected: Option<u64>,
    /// Heard on AIS 1.
    pub channel_a: Option<u64>,
    /// Heard on AIS 2.
    pub channel_b: Option<u64>,
    /// How far its position was from the ship, in metres.
    pub range_m: Option<f64>,
    /// Whether the radio itself rang at its test call; `None` if nobody was asked.
    pub radio_rang: Option<bool>,
    /// All that was told, by the names of `prove --json`.
    pub told: Value,
}

/// A check that somebody made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CheckMade {
    /// The name of a lifejacket, or the nine digits of a beacon.
    pub item: String,
    /// What was checked.
    pub check: CheckKind,
    /// Whether it was in order.
    pub ok: bool,
    /// The day of the check.
    pub on: NaiveDate,
    /// What was remarked.
    #[serde(default)]
    pub note: Option<String>,
}

impl TestJudged {
    /// The facts of a verdict told by the names of `prove --json`; `None` if it has no known
    /// verdict.
    pub fn of(told: Value) -> Option<Self> {
        let count = |key: &str| told[key].as_u64();
        Some(Self {
            verdict: read(&told["verdict"])?,
            messages_heard: count("messages_heard"),
            messages_expected: count("messages_expected"),
            channel_a: count("channel_a"),
            channel_b: count("channel_b"),
            range_m: told["range_m"].as_f64(),
            radio_rang: told["radio_rang"].as_bool(),
            told,
        })
    }
}

impl Default for Details {
    fn default() -> Self {
        Self::Watch { event: None, told: Value::Null }
    }
}

/// What the details give to the body as a whole, each null where it does not apply.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Keys {
    /// The kind, by its name.
    pub kind: Value,
    /// An alert's priority, by its name.
    pub priority: Value,
    /// An alert's cause, by its name.
    pub cause: Value,
    /// An alert's state, by its name.
    pub state: Value,
    /// The number of the alert.
    pub alert: Value,
    /// What makes an alert the same one when it comes again.
    pub key: Value,
    /// What a beacon does, by its name.
    pub mode: Value,
    /// What else is known.
    pub details: Value,
}

impl Details {
    /// The kind; `None` for one that this version does not know.
    pub fn kind(&self) -> Option<Kind> {
        Some(match self {
            Self::Alert(_) => Kind::Alert,
            Self::Beacon { .. } => Kind::Beacon,
            Self::Dsc(_) => Kind::Dsc,
            Self::SafetyText { .. } => Kind::SafetyText,
            Self::Input { .. } => Kind::Input,
            Self::Operator { .. } => Kind::Operator,
            Self::Watch { .. } => Kind::Watch,
            Self::Position => Kind::Position,
            Self::Test(_) => Kind::Test,
            Self::Check(_) => Kind::Check,
            Self::Reach { .. } => Kind::Reach,
            Self::Other(body) => return body.get("kind").and_then(read),
        })
    }

    /// As they are written down, by the keys of the body.
    pub fn keys(&self) -> Keys {
        let mut keys = Keys { kind: value(&self.kind()), ..Keys::default() };
        keys.details = match self {
            Self::Alert(AlertChange { alert, cause, priority, state, matter, joined_by }) => {
                (keys.priority, keys.cause) = (value(priority), value(cause));
                (keys.state, keys.alert, keys.key) = (value(state), value(alert), value(matter));
                joined_by.map_or(Value::Null, |mmsi| json!({ "joined_by": mmsi }))
            }
            Self::Beacon { event, mode, told } => {
                keys.mode = value(mode);
                named(told, event)
            }
            Self::Watch { event, told } => named(told, event),
            Self::Dsc(call) => call.clone(),
            Self::SafetyText { addressed } => json!({ "addressed": addressed }),
            Self::Input { input, state } => json!({ "input": input, "state": state }),
            Self::Operator { act, alert } => {
                keys.alert = value(alert);
                json!({ "act": act })
            }
            Self::Position => Value::Null,
            Self::Test(test) => test.told.clone(),
            Self::Check(check) => value(check),
            Self::Reach { told, .. } => told.clone(),
            Self::Other(body) => {
                let of = |key| body.get(key).cloned().unwrap_or_default();
                let [kind, priority, cause, state] = ["kind", "priority", "cause", "state"].map(of);
                let [alert, key, mode, details] = ["alert", "key", "mode", "details"].map(of);
                return Keys { kind, priority, cause, state, alert, key, mode, details };
            }
        };
        keys
    }

    /// Read from a body as far as this version knows it.
    pub(super) fn of_body(body: &Map<String, Value>) -> Self {
        let of = |key| body.get(key).unwrap_or(&Value::Null);
        let told = of("details");
        let known = read(of("kind")).and_then(|kind| {
            Some(match kind {
                Kind::Alert => Self::Alert(AlertChange {
                    alert: read(of("alert"))?,
                    cause: read(of("cause"))?,
                    priority: read(of("priority"))?,
                    state: read(of("state"))?,
                    matter: read(of("key")),
                    joined_by: read(&told["joined_by"]),
                }),
                Kind::Beacon => Self::Beacon {
                    event: read(&told["event"]),
                    mode: read(of("mode")),
                    told: told.clone(),
                },
                Kind::Dsc => Self::Dsc(told.clone()),
                Kind::SafetyText => Self::SafetyText { addressed: told["addressed"].as_bool() },
                Kind::Input => {
                    Self::Input { input: read(&told["input"])?, state: read(&told["state"])? }
                }
                Kind::Operator => Self::Operator {
                    act: read(&told["act"]).or_else(|| Act::of_version_1(body)),
                    alert: read(of("alert")),
                },
                Kind::Watch => Self::Watch {
                    event: read(&told["event"]).or_else(|| WatchEvent::of_version_1(body)),
                    told: told.clone(),
                },
                Kind::Position => Self::Position,
                Kind::Test => Self::Test(Box::new(TestJudged::of(told.clone())?)),
                Kind::Check => Self::Check(read(told)?),
                Kind::Reach => Self::Reach { told: told.clone(), hour: None },
            })
        });
        known.unwrap_or_else(|| Self::Other(body.clone()))
    }
}

impl Act {
    /// Bodies of the first version say it in their text alone. What was done in the watch has its
    /// arrival; a remark came from outside of it.
    fn of_version_1(body: &Map<String, Value>) -> Option<Self> {
        const BEGINNINGS: [(&str, Act); 6] = [
            ("Acknowledged", Act::Acknowledged),
            ("Silenced", Act::Silenced),
            ("Declared over", Act::DeclaredOver),
            ("Marked by hand", Act::MarkedOverboard),
            ("Own position by hand", Act::PlacedShip),
            ("Route of the search", Act::AskedForRoute),
        ];
        if body.get("arrival_us").is_none_or(Value::is_null) {
            return Some(Self::Remark);
        }
        begun_like(body, &BEGINNINGS)
    }
}

impl WatchEvent {
    fn of_version_1(body: &Map<String, Value>) -> Option<Self> {
        const BEGINNINGS: [(&str, WatchEvent); 6] = [
            ("watch started", WatchEvent::Started),
            ("watch ended", WatchEvent::Ended),
            ("watch handed over", WatchEvent::HandedOver),
            ("configuration read again", WatchEvent::Reconfigured),
            ("watchkeeper asked", WatchEvent::AwakePrompt),
            ("Replayed", WatchEvent::Replayed),
        ];
        begun_like(body, &BEGINNINGS)
    }
}

fn begun_like<T: Copy>(body: &Map<String, Value>, beginnings: &[(&str, T)]) -> Option<T> {
    let text = body.get("text")?.as_str()?;
    beginnings.iter().find(|(beginning, _)| text.starts_with(beginning)).map(|(_, it)| *it)
}

/// What a value says, if this version knows it.
pub(super) fn read<T: DeserializeOwned>(value: &Value) -> Option<T> {
    T::deserialize(value).ok()
}

fn value(of: &impl Serialize) -> Value {
    serde_json::to_value(of).unwrap_or_default()
}

/// What was told, with the name of the event.
fn named(told: &Value, event: &Option<impl Serialize>) -> Value {
    let Some(event) = event else { return told.clone() };
    let mut named = told.as_object().cloned().unwrap_or_default();
    named.insert("event".to_owned(), value(event));
    Value::Object(named)
}
