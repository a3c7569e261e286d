//! Other stations heard on AIS: who is near and could come.

use std::collections::HashMap;
use std::time::Duration;

use serde::Serialize;

use super::levels::Level;
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::Mono;
use crate::units::{Degrees, Knots};
use crate::wire::ais::{Body, Message, Motion};

/// How many stations are kept. Both channels full carry some 2000 ships (IMO design capacity, 2000
/// reports a minute: MSC.74(69) annex 3).
const CONTACTS_LIMIT: usize = 2048;

/// A station not heard for this long is gone: two of the longest reporting intervals, 3 min, and
/// one of static data, 6 min (M.1371-5 tables 1 and 2).
const CONTACT_LASTS: Duration = Duration::from_secs(12 * 60);

/// What is known of another station.
#[derive(Clone, Debug, Serialize)]
pub struct Contact {
    /// Its identity.
    pub mmsi: Mmsi,
    /// Its name, as it says.
    pub name: Option<String>,
    /// Type of ship and cargo, 1 to 255 (M.1371-5 table 53).
    pub ship_type: Option<u8>,
    /// Where it was last.
    pub position: Option<Position>,
    /// Speed over ground.
    #[serde(rename = "sog_kn")]
    pub sog: Option<Knots>,
    /// Course over ground, true.
    #[serde(rename = "cog_deg")]
    pub cog: Option<Degrees>,
    /// When it said so.
    #[serde(rename = "placed_at_s")]
    pub placed: Option<Mono>,
    /// The speed it makes when it is under way: the middle of what it said, slowly forgotten.
    #[serde(rename = "under_way_kn")]
    pub under_way: Option<Knots>,
    /// When it was heard last.
    #[serde(rename = "heard_at_s")]
    pub heard: Mono,
    /// With what signal, if a receiver tells.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub level: Option<Level>,
}

/// Slower than this a ship manoeuvres, drifts or lies: it is not her usual speed. Our own.
const UNDER_WAY: Knots = Knots(2.0);

/// How much a new speed counts beside all that were before. Our own.
const NEW_SHARE: f64 = 0.1;

/// The stations heard, bounded.
#[derive(Debug, Default)]
pub(super) struct Contacts {
    table: HashMap<Mmsi, Contact>,
}

impl Contacts {
    /// Takes a message of a station that is no survivor beacon.
    pub(super) fn hear(&mut self, message: &Message, now: Mono) {
        if self.table.len() >= CONTACTS_LIMIT && !self.table.contains_key(&message.mmsi) {
            self.table.retain(|_, contact| now.since(contact.heard) <= CONTACT_LASTS);
            if self.table.len() >= CONTACTS_LIMIT {
                return;
            }
        }
        let contact = self.table.entry(message.mmsi).or_insert_with(|| Contact {
            mmsi: message.mmsi,
            name: None,
            ship_type: None,
            position: None,
            sog: None,
            cog: None,
            placed: None,
            under_way: None,
            heard: now,
            level: None,
        });
        contact.heard = now;
        contact.level = None;
        contact.learn(&message.body);
    }

    /// With what signal the last message of a station was heard.
    pub(super) fn set_level(&mut self, mmsi: Mmsi, level: Level) {
        if let Some(contact) = self.table.get_mut(&mmsi) {
            contact.level = Some(level);
        }
    }

    /// Those heard lately, in no particular order.
    pub(super) fn present(&self, now: Mono) -> impl Iterator<Item = &Contact> {
        self.table.values().filter(move |contact| now.since(contact.heard) <= CONTACT_LASTS)
    }
}

impl Contact {
    fn learn(&mut self, body: &Body) {
        if let Some(motion) = body.motion() {
            self.moved(motion);
        }
        match body {
            Body::ClassBExtended(r) => {
                self.named(r.name.as_deref());
                self.ship_type = r.ship_type.or(self.ship_type);
            }
            Body::Aid(r) => self.named(r.name.as_deref()),
            Body::Voyage(r) => {
                self.named(r.name.as_deref());
                self.ship_type = r.ship_type.or(self.ship_type);
            }
            Body::StaticA(r) => self.named(r.name.as_deref()),
            Body::StaticB(r) => self.ship_type = r.ship_type.or(self.ship_type),
            _ => {}
        }
    }

    fn moved(&mut self, motion: Motion) {
        if motion.position.is_none() {
            return;
        }
        self.position = motion.position;
        self.placed = Some(self.heard);
        if let Some(speed) = motion.sog.filter(|&speed| speed >= UNDER_WAY) {
            let before = self.under_way.unwrap_or(speed);
            self.under_way = Some(Knots(before.0 + NEW_SHARE * (speed.0 - before.0)));
        }
        self.sog = motion.sog;
        self.cog = motion.cog;
    }

    fn named(&mut self, name: Option<&str>) {
        if let Some(name) = name {
            self.name = Some(name.to_owned());
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may")]
mod tests {
    use super::*;
    use crate::wire::ais::StaticA;

    fn message(number: u32) -> Message {
        let mmsi = Mmsi::new(211_000_000 + number).unwrap();
        Message { kind: 24, repeat: 0, mmsi, body: Body::StaticA(StaticA::new(None)) }
    }

    /// MSC.74(69) annex 3: 2000 reports a minute, here each of another ship. M.1371-5 tables 1 and 2:
    /// names and the like every 6 min, so that two of them were missed after 12.
    #[test]
    fn full_channels_fit_and_who_missed_two_reports_is_gone() {
        let mut contacts = Contacts::default();
        for number in 0..2_000 {
            contacts.hear(&message(number), Mono::START);
        }
        let after = |seconds| Mono::START + Duration::from_secs(seconds);
        assert_eq!(contacts.present(after(12 * 60)).count(), 2_000);
        assert_eq!(contacts.present(after(12 * 60 + 1)).count(), 0);
        // However many there are, they are bounded, and who is gone gives way.
        for number in 0..10_000 {
            contacts.hear(&message(number), after(1));
        }
        assert_eq!(contacts.present(after(1)).count(), CONTACTS_LIMIT);
        contacts.hear(&message(20_000), after(721 + 1));
        assert_eq!(contacts.present(after(721 + 1)).count(), 1);
    }
}
