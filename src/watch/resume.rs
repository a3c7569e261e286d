//! A watch that begins again in the middle of an emergency: what was open before goes on,
//! unacknowledged again. Where it is read from is not known here.

use super::alert::{Alert, AlertId, Cause, Key, Priority, State};
use super::beacon::Mode;
use super::settings::{EVIDENCE_HOLDS, MESSAGE_STANDS};
use super::{Watch, digest};
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::{Mono, Stamp, Utc};

/// What a watch before this one left open.
#[derive(Clone, Debug, Default)]
pub struct LeftOpen {
    /// The alerts, in the order they were raised.
    pub alerts: Vec<OpenAlert>,
    /// The beacons behind them.
    pub beacons: Vec<OpenBeacon>,
    /// The highest number an alert has had: numbers go on from there.
    pub last_id: u32,
}

/// An alert that was open.
#[derive(Clone, Debug)]
pub struct OpenAlert {
    /// Its number, which it keeps.
    pub id: AlertId,
    /// What it is about.
    pub cause: Cause,
    /// How urgent it is.
    pub priority: Priority,
    /// Whether its condition was over and nobody had taken note.
    pub rectified: bool,
    /// The station it is about.
    pub mmsi: Option<Mmsi>,
    /// What it says to a person.
    pub text: String,
    /// When it was raised, by this watch's count.
    pub raised: Mono,
    /// The place that was set by hand, if it is about one.
    pub place: Option<Position>,
    /// The line that raised it.
    pub sentence: Option<String>,
}

/// A beacon that was heard.
#[derive(Clone, Debug)]
pub struct OpenBeacon {
    /// Its identity.
    pub mmsi: Mmsi,
    /// What it did.
    pub mode: Mode,
    /// Since when it did that.
    pub since: Stamp,
    /// When it was heard last.
    pub last: Stamp,
    /// Where it was.
    pub position: Option<Position>,
    /// When it was there.
    pub fix_at: Option<Mono>,
    /// Where the ship was when it was heard first.
    pub own_at_first: Option<Position>,
}

impl Cause {
    /// Whether an alert of this cause is about people, not about the watch itself: such an alert
    /// goes on over a restart; the others are found again, or not.
    pub const fn is_about_people(self) -> bool {
        !matches!(
            self,
            Self::InputSilent
                | Self::OwnPositionLost
                | Self::ClockSuspect
                | Self::LogbookFailed
                | Self::SounderFailed
                | Self::WatchkeeperSilent
        )
    }
}

impl Watch {
    /// Goes on with what a watch before this one left open. To be called once, before the first
    /// input; what it tells is to be polled as after an input.
    pub fn resume(&mut self, left: LeftOpen, now: Stamp) {
        self.now = now;
        self.wakefulness.answer(now.at);
        self.alerts.count_from(left.last_id);
        for beacon in &left.beacons {
            let prolonged = left.alerts.iter().any(|alert| {
                alert.mmsi == Some(beacon.mmsi)
                    && alert.cause == Cause::BeaconUnverified
                    && alert.priority >= Priority::Alarm
            });
            let silent = left
                .alerts
                .iter()
                .any(|alert| alert.mmsi == Some(beacon.mmsi) && alert.cause == Cause::BeaconSilent);
            if let Some(known) = self.beacons.enter(beacon.mmsi, &self.settings) {
                known.resume(beacon, prolonged, silent);
            }
        }
        for open in left.alerts {
            let key = match open.cause {
                Cause::OverboardMarked => {
                    let ago = now.at.since(open.raised);
                    let utc = Utc::from_unix_ms(now.utc.unix_ms() - ago.as_millis() as i64);
                    let at = Stamp { at: open.raised, utc: utc.unwrap_or(now.utc) };
                    self.resume_mark(at, open.place).map(Key::Mark)
                }
                _ => key(&open),
            };
            let Some(key) = key else { continue };
            let stands = match open.cause {
                Cause::BeaconTest => Some(EVIDENCE_HOLDS),
                Cause::DscTest | Cause::DscUrgency | Cause::SafetyText => Some(MESSAGE_STANDS),
                Cause::MobNotice if open.priority == Priority::Caution => Some(MESSAGE_STANDS),
                _ => None,
            };
            // What stands for some minutes and was raised longer ago is over; who did not take note
            // still can.
            let over = stands.is_some_and(|span| now.at.since(open.raised) >= span);
            let open = OpenAlert { rectified: open.rectified || over, ..open };
            self.alerts.put_back(Alert::resumed(open, key, stands, now.at));
        }
        self.tell_alerts();
        self.refresh_deadline();
    }
}

/// What makes an alert the same one as before. A crew alarm's emitter is not known any more: its
/// next notice raises an alert of its own.
fn key(open: &OpenAlert) -> Option<Key> {
    let call = open.mmsi;
    Some(match open.cause {
        Cause::BeaconActive => Key::Emergency(open.mmsi?),
        Cause::BeaconUnverified | Cause::BeaconTest => Key::Mode(open.mmsi?),
        Cause::BeaconSilent => Key::Silent(open.mmsi?),
        Cause::DscDistress => Key::Distress(call),
        Cause::DscRelay => Key::Relay(call),
        Cause::DscUrgency => Key::Urgency(call),
        Cause::DscTest => Key::TestCall(call),
        Cause::MobNotice => Key::Notice(digest(&open.text)),
        Cause::SafetyText => Key::Text(digest(&open.text)),
        _ => return None,
    })
}

impl Alert {
    fn resumed(open: OpenAlert, key: Key, stands: Option<std::time::Duration>, now: Mono) -> Self {
        let OpenAlert { id, cause, priority, rectified, mmsi, text, raised, sentence, .. } = open;
        let stands_until = stands.filter(|_| !rectified).map(|span| now + span);
        let mut alert = Self {
            id,
            cause,
            priority,
            state: State::Normal,
            mmsi,
            text,
            raised,
            repeats: 0,
            sentence,
            key,
            due: None,
            stands_until,
        };
        alert.enter(now);
        if rectified {
            let cautious = priority == Priority::Caution;
            alert.state = if cautious { State::Normal } else { State::RectifiedUnacknowledged };
            alert.due = None;
        }
        alert
    }
}
