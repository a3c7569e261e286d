//! What the radio and the AIS receiver hear in words: DSC calls with their expansions, and safety
//! texts.

use super::receivers::Receivers;
use super::scenario::{self, Call, CallMeaning, Nature};
use super::slots::{Slot, channel, sentences};
use super::{Stage, TimedLine, beacon, loops, received, sealed};
use crate::mmsi::{BeaconKind, Mmsi};
use crate::navigation::Position;
use crate::wire::ais::{Body, Message, SafetyText};

/// Ten digits that say that there is no position, and four that there is no time (M.493-15 8.1.2,
/// 8.1.3).
const NO_POSITION: &str = "9999999999";
const NO_TIME: &str = "8888";

/// The calls and the texts.
pub(super) fn lines(stage: &Stage<'_>) -> Vec<TimedLine> {
    let sources = &stage.scenario.sources;
    let mut lines = Vec::new();
    let by_beacons = stage.scenario.beacons.iter().flat_map(|it| loops::calls(stage, it));
    for call in stage.scenario.calls.iter().cloned().chain(by_beacons) {
        let at = stage.utc(call.at_s.0);
        let position = place(stage, &call);
        let said = [Some(dsc(stage, &call, position)), position.and_then(|it| dse(&call, it))];
        lines.extend(said.into_iter().flatten().map(|body| TimedLine {
            at,
            source: sources.vhf.0.clone(),
            sentence: sealed(&body),
        }));
    }
    for (index, text) in stage.scenario.texts.iter().enumerate() {
        let slot = Slot::at(stage.utc(text.at_s.0));
        let body = Body::SafetyText(SafetyText::new(text.text.0, text.mmsi));
        let message = Message { kind: 14, repeat: 0, mmsi: text.mmsi, body };
        let channel = channel(index);
        let by = Receivers::of(stage, text.mmsi.value().into()).on(channel);
        lines.extend(received(&by, slot, &sentences(&message, "VDM", slot, channel)));
    }
    lines
}

/// The place the call carries: the one given, or where somebody is then, if known to them.
fn place(stage: &Stage<'_>, call: &Call) -> Option<DscPlace> {
    let seconds = call.at_s.0;
    let place = scenario::place(call.lat, call.lon).or_else(|| {
        let of = *call.position_of.as_ref()?.get_ref();
        match stage.scenario.beacons.iter().find(|beacon| beacon.mmsi == of) {
            Some(it) if beacon::has_fix(it, seconds) => {
                Some(beacon::motion(stage, it, seconds)?.place)
            }
            Some(_) => None,
            None => Some(stage.own.at(seconds)?.place),
        }
    })?;
    Some(DscPlace::of(place))
}

/// A place as DSC parts it: whole minutes in the call, decimals in the expansion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct DscPlace {
    quadrant: u8,
    /// Latitude and longitude in ten thousandths of a minute, without sign.
    lat: u32,
    lon: u32,
}

impl DscPlace {
    fn of(place: Position) -> Self {
        let parts = |degrees: f64| (degrees.abs() * 600_000.0).round() as u32;
        // 0 NE, 1 NW, 2 SE, 3 SW.
        let quadrant = 2 * u8::from(place.lat() < 0.0) + u8::from(place.lon() < 0.0);
        Self { quadrant, lat: parts(place.lat()), lon: parts(place.lon()) }
    }

    /// `q dd mm ddd mm`, truncated.
    fn digits(self) -> String {
        let [lat, lon] = [self.lat / 10_000, self.lon / 10_000];
        let (lat_deg, lat_min, lon_deg, lon_min) = (lat / 60, lat % 60, lon / 60, lon % 60);
        format!("{}{lat_deg:02}{lat_min:02}{lon_deg:03}{lon_min:02}", self.quadrant)
    }

    /// The four decimals of each minute.
    fn decimals(self) -> String {
        format!("{:04}{:04}", self.lat % 10_000, self.lon % 10_000)
    }
}

/// Format, category, first and second telecommand, acknowledgement: the codes of M.493-16 table A1-3
/// less 100.
fn codes(call: &Call) -> (u8, u8, u8, u8, char) {
    use CallMeaning as M;
    /// "No information", which a beacon sends, and telephony.
    const NONE: u8 = 26;
    const TELEPHONY: u8 = 0;
    match call.meaning {
        M::DistressAlert => {
            let by_beacon = call.caller.beacon_kind().is_some();
            let then = if by_beacon { NONE } else { TELEPHONY };
            (12, 12, nature_code(nature(call)), then, 'S')
        }
        // A closed loop: to own ship, about itself, acknowledgement asked (laid out as a relay to
        // one station, M.493-15 table A1-4.3; that a beacon does so: as RTCM 11901.1 is quoted).
        M::DistressRelay if call.casualty == Some(call.caller) => (20, 12, 12, NONE, 'R'),
        M::DistressRelay => (16, 12, 12, TELEPHONY, 'S'),
        M::DistressAcknowledgement | M::DistressCancel => (16, 12, 10, NONE, 'S'),
        M::Urgency => (16, 10, TELEPHONY, NONE, 'S'),
        M::Safety => (16, 8, TELEPHONY, NONE, 'S'),
        M::Test => (20, 8, 18, NONE, 'R'),
        M::Position => (20, 0, 21, NONE, 'B'),
    }
}

/// `$CVDSC,…`: the radio is the talker.
fn dsc(stage: &Stage<'_>, call: &Call, place: Option<DscPlace>) -> String {
    use CallMeaning as M;
    let (format, category, first, second, acknowledgement) = codes(call);
    let in_distress = matches!(
        call.meaning,
        M::DistressAlert | M::DistressRelay | M::DistressAcknowledgement | M::DistressCancel
    );
    let (position, time) = match place {
        Some(place) => {
            let minutes = stage.utc(call.at_s.0).unix_ms().div_euclid(60_000).rem_euclid(1440);
            (place.digits(), format!("{:02}{:02}", minutes / 60, minutes % 60))
        }
        None if in_distress => (NO_POSITION.to_owned(), NO_TIME.to_owned()),
        None => Default::default(),
    };
    let casualty = match call.meaning {
        M::DistressRelay | M::DistressAcknowledgement => call.casualty,
        // A station that acknowledges its own distress takes it back (M.493-16 table A1-4.2).
        M::DistressCancel => Some(call.caller),
        _ => None,
    };
    let (casualty, its_nature) = casualty
        .map(|mmsi| (format!("{mmsi}0"), format!("{:02}", nature_code(nature(call)))))
        .unwrap_or_default();
    let expansion = if call.expansion && place.is_some() { "E" } else { "" };
    format!(
        "$CVDSC,{format:02},{}0,{category:02},{first:02},{second:02},{position},{time},{casualty},{its_nature},{acknowledgement},{expansion}",
        call.caller
    )
}

/// `$CVDSE,…`: code 00 appends the decimals.
fn dse(call: &Call, place: DscPlace) -> Option<String> {
    call.expansion.then(|| format!("$CVDSE,1,1,A,{}0,00,{}", call.caller, place.decimals()))
}

fn nature(call: &Call) -> Nature {
    let is_mob = |mmsi: Mmsi| mmsi.beacon_kind() == Some(BeaconKind::Mob);
    call.nature.unwrap_or(if is_mob(call.caller) || call.casualty.is_some_and(is_mob) {
        Nature::ManOverboard
    } else {
        Nature::Undesignated
    })
}

const fn nature_code(nature: Nature) -> u8 {
    match nature {
        Nature::Fire => 0,
        Nature::Flooding => 1,
        Nature::Collision => 2,
        Nature::Grounding => 3,
        Nature::Listing => 4,
        Nature::Sinking => 5,
        Nature::DisabledAdrift => 6,
        Nature::Undesignated => 7,
        Nature::Abandoning => 8,
        Nature::Piracy => 9,
        Nature::ManOverboard => 10,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The position and expansion of the example in IEC 61162-1 (`tests/vectors/dsc.toml`):
    /// 47° 47.1234' N 125° 19.5678' W is 1474712519 and 12345678.
    #[test]
    fn a_place_is_parted_as_in_the_published_example() {
        let place = Position::new(47.0 + 47.1234 / 60.0, -(125.0 + 19.5678 / 60.0)).unwrap();
        let place = DscPlace::of(place);
        assert_eq!((&*place.digits(), &*place.decimals()), ("1474712519", "12345678"));
    }
}
