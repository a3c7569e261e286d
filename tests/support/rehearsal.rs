//! What is heard of a rehearsed beacon, as our decoder and the reference crate `ais` read it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

use ais::messages::AisMessage;
use ais::{AisFragments, AisParser};
use overside::mmsi::Mmsi;
use overside::rehearse::{Scenario, TimedLine};
use overside::time::{Mono, Utc};
use overside::wire::ais::{Body, CommState, PositionReport};
use overside::wire::{Content, Decoder, InputId};

/// A message of the beacon, as both decoders read it.
pub struct Heard {
    pub at: Utc,
    pub channel: char,
    pub body: Body,
    pub reference: AisMessage,
}

impl Heard {
    pub fn report(&self) -> Option<&PositionReport> {
        match &self.body {
            Body::Position(report) => Some(report),
            _ => None,
        }
    }

    pub fn text(&self) -> Option<&str> {
        match &self.body {
            Body::SafetyText(text) => Some(&text.text),
            _ => None,
        }
    }

    /// Time-out and sub-message.
    pub fn state(&self) -> Option<(u8, u16)> {
        match self.report()?.comm_state {
            CommState::Sotdma { slot_timeout, slot_submessage, .. } => {
                Some((slot_timeout.unwrap(), slot_submessage.unwrap()))
            }
            CommState::Itdma { .. } => panic!("a beacon sends no message 3"),
        }
    }
}

/// All that is heard of a beacon, burst by burst.
pub fn bursts(scenario: &Scenario, mmsi: u32) -> Vec<Vec<Heard>> {
    let mut decoder = Decoder::new();
    let mut reference = AisParser::new();
    let mut bursts: Vec<Vec<Heard>> = Vec::new();
    for TimedLine { at, sentence, .. } in scenario.lines() {
        if !sentence.starts_with("!AIVDM,1,") {
            continue;
        }
        let decoded = decoder.decode(InputId(0), Mono::START, sentence.as_bytes());
        let Some(Ok(decoded)) = decoded else { panic!("{sentence}") };
        let Content::Ais(report) = decoded.content else { panic!("{sentence}") };
        let AisFragments::Complete(theirs) = reference.parse(sentence.as_bytes(), true).unwrap()
        else {
            panic!("{sentence}")
        };
        assert_eq!(theirs.channel, report.channel);
        if report.message.mmsi != Mmsi::new(mmsi).unwrap() {
            continue;
        }
        let heard = Heard {
            at,
            channel: report.channel.unwrap(),
            body: report.message.body,
            reference: theirs.message.unwrap(),
        };
        match bursts.last_mut() {
            Some(burst) if at.ms_since(burst[0].at) <= 20_000 => burst.push(heard),
            _ => bursts.push(vec![heard]),
        }
    }
    bursts
}
