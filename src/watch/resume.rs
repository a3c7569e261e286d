//! A watch that begins again in the middle of an emergency: what was open before goes on,
//! unacknowledged again. Where it is read from is not known here.

use super::Watch;
use super::alert::{Alert, Cause, Matter, Priority, State};
use super::left_open::{LeftOpen, OpenAlert};
use crate::time::{Mono, Stamp, Utc};

impl Watch {
    /// Goes on with what a watch before this one left open: before the first input, or as soon as
    /// it can be read. What was heard since counts. What it tells is to be polled as after an input.
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
            // What was heard in this watch is newer.
            if self.beacons.get(beacon.mmsi).is_some() {
                continue;
            }
            if let Some(known) = self.beacons.enter(beacon.mmsi, &self.settings) {
                let over = !left.alerts.iter().any(|alert| {
                    alert.mmsi == Some(beacon.mmsi) && alert.priority == Priority::EmergencyAlarm
                });
                known.resume(beacon, prolonged, silent, over);
            }
        }
        for open in left.alerts.into_iter().filter(|open| open.cause.is_about_people()) {
            let matter = if open.cause == Cause::OverboardMarked {
                let ago = now.at.since(open.raised);
                let utc = Utc::from_unix_ms(now.utc.unix_ms() - ago.as_millis() as i64);
                let at = Stamp { at: open.raised, utc: utc.unwrap_or(now.utc) };
                self.resume_mark(at, open.place).map(Matter::Mark)
            } else {
                open.matter.clone().or_else(|| open.matter_by_cause())
            };
            let Some(matter) = matter else { continue };
            self.alerts.put_back(open.into_alert(matter, now.at));
        }
        self.stale = true;
        self.settle();
    }
}

impl OpenAlert {
    /// What an entry that does not say so is about. A crew alarm's emitter and the text of a
    /// station are not known: what comes next raises an alert of its own.
    fn matter_by_cause(&self) -> Option<Matter> {
        let call = self.mmsi;
        Some(match self.cause {
            Cause::BeaconActive => Matter::Emergency(self.mmsi?),
            Cause::BeaconUnverified => self.mmsi.map_or(Matter::TooManyBeacons, Matter::Mode),
            Cause::BeaconTest => Matter::Mode(self.mmsi?),
            Cause::BeaconSilent => Matter::Silent(self.mmsi?),
            Cause::DscDistress => Matter::Distress(call),
            Cause::DscRelay => Matter::Relay(call),
            Cause::DscUrgency => Matter::Urgency(call),
            Cause::DscTest => Matter::TestCall(call),
            Cause::MobNotice => Matter::Notice(Some(self.text.clone())),
            Cause::SafetyText => Matter::Text(None, self.text.clone()),
            Cause::OverboardMarked
            | Cause::InputSilent
            | Cause::OwnPositionLost
            | Cause::ClockSuspect
            | Cause::LogbookFailed
            | Cause::SounderFailed
            | Cause::WatchkeeperSilent => return None,
        })
    }

    /// Open again, unacknowledged. What counts for some minutes and was raised longer ago is over;
    /// who did not take note still can.
    fn into_alert(self, matter: Matter, now: Mono) -> Alert {
        let Self { id, cause, priority, mmsi, text, raised, sentence, place, .. } = self;
        let lifetime = cause.lifetime(priority);
        let rectified = self.rectified || lifetime.is_some_and(|span| now.since(raised) >= span);
        let mut alert = Alert {
            id,
            cause,
            priority,
            state: State::Normal,
            mmsi,
            text,
            raised,
            repeats: 0,
            sentence,
            matter,
            place,
            heard_by: None,
            silent_until: None,
            repeated_at: None,
            expires_at: lifetime.filter(|_| !rectified).map(|span| now + span),
        };
        alert.enter(now);
        if rectified {
            let cautious = priority == Priority::Caution;
            alert.state = if cautious { State::Normal } else { State::RectifiedUnacknowledged };
            alert.repeated_at = None;
        }
        alert
    }
}
