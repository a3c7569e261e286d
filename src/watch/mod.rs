//! The pure core: it decides. Lines, losses, time and commands go in; events come out.
//!
//! ```text
//! loop {
//!     watch.handle(input);                      // one input …
//!     while let Some(event) = watch.poll_output() { … }   // … then outputs until none
//!     // sleep until the next input, or watch.next_deadline(), and hand in a Tick
//! }
//! ```
//! *Invariant:* no IO, no threads, no clock. The same inputs with the same times give the same
//! events, byte for byte; what was due before an input is told before it, with its own time.
//!
//! *Invariant:* fails towards the alarm. Doubt raises; silence of a beacon clears nothing; silence
//! of a receiver is an alert. Every table has a limit.

mod activity;
mod ais_set;
mod alert;
mod alerts;
mod beacon;
mod beacons;
mod called;
mod calls;
mod casualty;
mod channels;
mod clocks;
mod contacts;
mod declaration;
mod declared;
mod event;
mod health;
mod hearers;
mod hearing;
mod input;
mod joined;
mod lags;
mod left_open;
mod levels;
mod mark;
mod marks;
mod mode;
mod mute;
mod names;
mod own_position;
mod own_ship;
mod part;
mod picture;
mod reach;
mod received;
mod rehearsed;
mod relayed;
mod report;
mod rescuers;
mod resume;
mod searching;
mod set_alerts;
mod set_conditions;
mod settings;
mod settling;
mod survivors;
mod trail;
mod transmissions;
mod two_places;
mod upkeep;
mod wakefulness;
mod way;
mod words;

use std::collections::VecDeque;
use std::hash::{DefaultHasher, Hash, Hasher};

pub use alert::{About, Alert, AlertId, Cause, Ends, Matter, Policy, Priority, State};
pub use beacon::Reception;
pub use calls::nature;
pub use casualty::CasualtyId;
pub use clocks::ClockView;
pub use contacts::Contact;
pub use declaration::{DECLARED_HOLDS, Declaration, DeclaredSafe};
pub use event::{
    AlertReport, BeaconReport, BeaconSummary, BeaconUpdate, Event, EventBody, Known, Summary,
};
pub use health::{InputState, InputView};
pub use input::{Command, Dropped, Input};
pub use left_open::{LeftOpen, OpenAlert, OpenBeacon};
pub use levels::Level;
pub use mode::Mode;
pub use mute::Muted;
pub use part::Part;
pub use picture::{BeaconView, ContactView, OwnView, Picture};
pub use reach::{
    AisClass, ChannelCount, InputCount, NotKnown, PastHour, RangeCount, Reach, ReachHour,
    SectorCount, SectorFrom,
};
pub use received::{Signal, Statement, Transmission};
pub use rehearsed::Rehearsed;
pub use relayed::Relayed;
pub use report::{DatumReport, DriftReport, LegReport, SearchReport, WayReport};
pub use rescuers::{Helper, HelperKind};
pub use searching::SearchView;
pub use settings::{Asking, SELF_TEST_LONGEST, Settings};
pub use two_places::OtherPlace;

use ais_set::SetHears;
use alerts::{Alerts, Raise};
use beacons::Beacons;
use calls::Expected;
use clocks::Clocks;
use contacts::Contacts;
use health::{Change, Inputs, TrafficKind};
use lags::Lags;
use mark::Mark;
use reach::Hearing;
use transmissions::Transmissions;
use wakefulness::Wakefulness;

use crate::mmsi::Mmsi;
use crate::navigation::{OwnShip, Position};
use crate::time::{Mono, Stamp, Utc};
use crate::wire::nmea::Nmea;
use crate::wire::{AisReport, Content, Decoded, Decoder, InputId, OtherDatagram, Reject, ais};

/// The watch: everything known, and what is still to be told.
pub struct Watch {
    settings: Settings,
    decoder: Decoder,
    now: Stamp,
    inputs: Inputs,
    own: OwnShip,
    own_lost: bool,
    /// Where the ship was, a place every few seconds.
    own_track: VecDeque<Position>,
    own_tracked: Option<Mono>,
    contacts: Contacts,
    beacons: Beacons,
    /// The points set by hand.
    marks: Vec<Mark>,
    alerts: Alerts,
    /// What the operator has muted, in that order.
    muted: Vec<Muted>,
    transmissions: Transmissions,
    expected: Vec<Expected>,
    clocks: Clocks,
    /// How far this boat hears.
    reach: Hearing,
    wakefulness: Wakefulness,
    /// AIS sets that say they hear an active beacon.
    set_hears: Vec<SetHears>,
    /// Whether the line that is being taken is of another station.
    relayed: Option<Relayed>,
    /// How much later than others each station hears.
    lags: Lags,
    /// How and when a line came last that was marked as rehearsed.
    rehearsal: Option<(Rehearsed, Mono)>,
    /// Somebody has taken note of an alert about people since that began.
    rehearsal_noted: bool,
    received: Option<received::Received>,
    outputs: VecDeque<Event>,
    /// Never later than the first thing due.
    deadline: Option<Mono>,
    /// When a warning is repeated next. That changes nothing else, and is not waited for in between.
    repetition: Option<Mono>,
    /// Something may be due at another time than `deadline` says.
    stale: bool,
    first: Option<Stamp>,
    last: Option<Stamp>,
    /// When this watch went on with what one before it left open.
    resumed: Option<Mono>,
    /// When something came in last from which a gap is counted; see [`settings::DATUM_GAP`].
    fed: Mono,
}

impl Watch {
    /// A watch that has heard nothing.
    pub fn new(settings: Settings) -> Self {
        let mut watch = Self {
            settings,
            decoder: Decoder::new(),
            now: Stamp { at: Mono::START, utc: Utc::EPOCH },
            inputs: Inputs::default(),
            own: OwnShip::default(),
            own_lost: false,
            own_track: VecDeque::new(),
            own_tracked: None,
            contacts: Contacts::default(),
            beacons: Beacons::default(),
            marks: Vec::new(),
            alerts: Alerts::default(),
            muted: Vec::new(),
            transmissions: Transmissions::default(),
            expected: Vec::new(),
            clocks: Clocks::default(),
            reach: Hearing::default(),
            wakefulness: Wakefulness::default(),
            set_hears: Vec::new(),
            relayed: None,
            lags: Lags::default(),
            rehearsal: None,
            rehearsal_noted: false,
            received: None,
            outputs: VecDeque::new(),
            deadline: None,
            repetition: None,
            stale: true,
            first: None,
            last: None,
            resumed: None,
            fed: Mono::START,
        };
        watch.settle();
        watch
    }

    /// Other settings hold from now on; beacons already heard take their holders from them.
    pub fn set(&mut self, settings: Settings) {
        // What the configuration does not say the watchkeeper has said, or the logbook.
        let seas = settings.lookout.seas.or(self.settings.lookout.seas);
        let usual = std::mem::take(&mut self.settings.usual_reach);
        self.settings = settings;
        if self.settings.usual_reach.is_empty() {
            self.settings.usual_reach = usual;
        }
        self.settings.lookout.seas = seas;
        for beacon in self.beacons.iter_mut() {
            beacon.set_holder(self.settings.muster.get(&beacon.mmsi));
        }
        self.unmute_muster();
        self.stale = true;
        self.settle();
    }

    /// What it goes by.
    pub const fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The input with this name, new if need be.
    pub fn input(&mut self, name: &str) -> InputId {
        self.inputs.enter(name)
    }

    /// What an input is called.
    pub fn input_name(&self, input: InputId) -> Option<&str> {
        self.inputs.name(input)
    }

    /// The station with this name, new if need be, whose lines come by another input: a broker's.
    pub fn station(&mut self, name: &str, through: InputId) -> InputId {
        self.inputs.enter_station(name, through)
    }

    /// That an input is a serial line, read at so many bits a second.
    pub fn set_bit_rate(&mut self, input: InputId, rate: u32) {
        self.inputs.set_bit_rate(input, rate);
    }

    /// Forgets an input that was taken away on purpose: it is not missed.
    pub fn forget_input(&mut self, input: InputId) {
        self.inputs.forget(input);
        self.alerts.end(&Matter::Input(input));
        self.forget_set(input);
        self.reach.interrupt();
        for channel in ['A', 'B'] {
            self.alerts.end(&Matter::Channel(input, channel));
        }
        self.unmute(|it| it == Muted::Input(input));
        self.stale = true;
        self.settle();
    }

    /// Takes one input. What was due before it happens first. Times that go back are held.
    pub fn handle(&mut self, input: Input<'_>) {
        let stamp = input.stamp();
        let at = stamp.at.max(self.now.at);
        self.alerts.by_no_line();
        self.run_until(at);
        self.now = Stamp { at, utc: stamp.utc };
        self.stale |= !matches!(input, Input::Line { .. } | Input::Tick { .. });
        let live = self.settings.expects_inputs;
        if live || matches!(input, Input::Line { .. } | Input::Command { .. }) {
            self.stale |= at.since(self.fed) > settings::DATUM_GAP;
            self.fed = at;
        }
        match input {
            Input::Line { input, bytes, .. } => {
                self.alerts.by_line(input, bytes);
                self.on_line(input, bytes);
            }
            Input::Unended { input, bytes, .. } => {
                let change = self.inputs.garbled(input, bytes, at, &self.settings);
                self.tell_input(change);
            }
            Input::Opened { input, .. } => {
                self.reach.interrupt();
                self.inputs.opened(input, at);
            }
            Input::Lost { input, reason, .. } => {
                self.reach.interrupt();
                let change = self.inputs.lost(input, reason, at, &self.settings);
                self.tell_input(change);
            }
            Input::Dropped { input, dropped, .. } => {
                let change = self.inputs.dropped(input, dropped, at, &self.settings);
                self.tell_input(change);
            }
            Input::Tick { .. } => {}
            Input::Fault { part, fault, .. } => self.on_fault(part, fault),
            Input::Command { command, .. } => self.apply(command),
        }
        self.settle();
        self.alerts.by_no_line();
        self.relayed = None;
    }

    /// The next event, oldest first. Call until `None` after every input.
    pub fn poll_output(&mut self) -> Option<Event> {
        self.outputs.pop_front()
    }

    /// When a [`Input::Tick`] is wanted if nothing else comes in. Changes with every input.
    pub fn next_deadline(&self) -> Option<Mono> {
        self.deadline.into_iter().chain(self.repetition).min()
    }

    /// The open alerts, in the order they were raised.
    pub fn alerts(&self) -> &[Alert] {
        self.alerts.open()
    }

    /// Totals so far.
    pub fn summary(&self) -> Summary {
        let tally = self.decoder.tally();
        let heard = self.beacons.iter().filter(|beacon| beacon.messages > 0);
        let beacons = heard.map(|beacon| BeaconSummary {
            mmsi: beacon.mmsi,
            kind: beacon.kind,
            modes: beacon.activity.modes.clone(),
            messages_heard: beacon.messages,
            bursts_heard: beacon.bursts,
        });
        Summary {
            lines: tally.lines,
            sentences: tally.sentences,
            messages: tally.messages,
            rejects: tally.rejects,
            beacons: beacons.collect(),
            alerts: self.alerts.raised(),
            first: self.first.map(|first| first.utc),
            last: self.last.map(|last| last.utc),
            elapsed_s: self
                .last
                .zip(self.first)
                .map_or(0, |(last, first)| last.at.since(first.at).as_secs()),
        }
    }

    fn on_line(&mut self, input: InputId, bytes: &[u8]) {
        let now = self.now.at;
        // What another station hears is no sign that anything listens here.
        if Relayed::of_line(bytes).is_none() {
            self.reach.fed(now);
        }
        // Looked at where it is: it is large.
        let decoded = &self.decoder.decode(input, now, bytes);
        let Some(decoded) = decoded else { return };
        self.first = self.first.or(Some(self.now));
        self.last = Some(self.now);
        if let Ok(decoded) = decoded {
            self.look_for_rehearsal(bytes);
            self.look_for_relay(input, bytes, &decoded.content);
        }
        let change = match decoded {
            Ok(decoded) => {
                let traffic = match &decoded.content {
                    Content::Ais(report) if !report.own => TrafficKind::Ais,
                    Content::Ais(_) | Content::Nmea(Nmea::Alr(_)) | Content::Part => {
                        TrafficKind::Set
                    }
                    Content::Nmea(Nmea::Alf(_) | Nmea::Alc(_) | Nmea::Hbt(_))
                        if decoded.talker == ais_set::TALKER =>
                    {
                        TrafficKind::Set
                    }
                    Content::Nmea(Nmea::Rmc(_) | Nmea::Gga(_) | Nmea::Gll(_) | Nmea::Gns(_)) => {
                        TrafficKind::Gnss
                    }
                    Content::Nmea(Nmea::Dsc(_) | Nmea::Dse(_) | Nmea::Mob(_)) => TrafficKind::Call,
                    _ => TrafficKind::Other,
                };
                if let Some(through) = self.inputs.through(input) {
                    let change = self.inputs.heard(through, traffic, now, &self.settings);
                    self.tell_input(change);
                }
                self.inputs.heard(input, traffic, now, &self.settings)
            }
            Err(Reject::NotASentence | Reject::TooLong) => match OtherDatagram::of(bytes) {
                Some(other) => self.inputs.not_sentences(input, other, now, &self.settings),
                None => self.inputs.garbled(input, bytes, now, &self.settings),
            },
            Err(reject) => self.inputs.rejected(input, reject.is_damage(), now, &self.settings),
        };
        self.tell_input(change);
        self.schedule(self.inputs.next_deadline_of(input, now, &self.settings));
        if let Ok(Decoded { talker, content: Content::Nmea(nmea), .. }) = decoded {
            self.on_set(input, talker, nmea);
        }
        match decoded.as_ref().map(|decoded| &decoded.content) {
            Ok(Content::Ais(report)) => {
                self.on_ais(input, report);
                self.find_level(input, report, bytes);
            }
            Ok(Content::Nmea(Nmea::Vsi(vsi))) => self.on_vsi(input, vsi, bytes),
            Ok(Content::Nmea(nmea)) => self.on_nmea(input, nmea.clone()),
            Ok(Content::Part | Content::Other) | Err(_) => {}
        }
    }

    fn on_ais(&mut self, input: InputId, report: &AisReport) {
        let message = &report.message;
        let late = self.late().is_some();
        if let Some(channel) = report.channel.filter(|_| !report.own && !late) {
            self.on_channel(input, channel, message.mmsi);
        }
        if report.own {
            // A beacon has no VDO of its own; whoever sends it, it is not this ship.
            // Nor is the ship whose set another station reads.
            if message.mmsi.beacon_kind().is_some() || self.relayed.is_some() {
                return;
            }
            if own_ship::transponder(&mut self.own, &message.body, input, self.now.at) {
                self.own_position_came();
            }
        } else if let Some(kind) = message.mmsi.beacon_kind() {
            self.on_beacon(input, kind, report);
        } else {
            // Where a ship was is no place to look for help; and how far a station hears tells nothing
            // of this ship's receiver.
            if !late {
                self.contacts.hear(message, self.now.at);
            }
            if self.relayed.is_none() {
                self.on_reach(input, report);
            }
            let (text, addressed): (&str, bool) = match &message.body {
                ais::Body::SafetyText(body) => (&body.text, false),
                ais::Body::AddressedText(body) => (&body.text, true),
                _ => return,
            };
            self.on_text(input, message.mmsi, text, addressed);
        }
    }

    fn on_nmea(&mut self, input: InputId, nmea: Nmea) {
        match nmea {
            Nmea::Dsc(call) => self.on_call(input, call),
            Nmea::Dse(expansion) => self.on_expansion(input, &expansion),
            Nmea::Mob(notice) => self.on_notice(input, notice),
            // Another station's instruments tell nothing of this ship.
            _ if self.relayed.is_some() => {}
            instrument => {
                self.compare_clocks(&instrument, input);
                if own_ship::instrument(&mut self.own, &instrument, input, self.now.at) {
                    self.own_position_came();
                }
            }
        }
    }

    /// A safety text of a station that is no survivor beacon.
    fn on_text(&mut self, input: InputId, mmsi: Mmsi, text: &str, addressed: bool) {
        if self.is_repeat(self.decoder.digest(), input) {
            return;
        }
        if !text.is_empty() {
            let alarming = words::is_alarming(text);
            self.raise(Raise {
                matter: Matter::Text(Some(mmsi), text.to_owned()),
                cause: Cause::SafetyText,
                priority: if alarming { Priority::Warning } else { Priority::Caution },
                mmsi: Some(mmsi),
                text: format!("Safety text from {mmsi}: \"{text}\""),
                place: None,
                acknowledged: false,
            });
        }
        self.tell(EventBody::SafetyText { mmsi, text: text.to_owned(), addressed });
    }

    fn apply(&mut self, command: Command) {
        if let Command::Acknowledge(id) | Command::Resolve(id) = command {
            self.note_rehearsal(id);
        }
        match command {
            Command::Acknowledge(id) => self.alerts.acknowledge(id),
            Command::MarkOverboard => self.mark_overboard(),
            Command::Part(mmsi) => self.part(mmsi),
            Command::PlaceShip(position) => {
                own_ship::by_hand(&mut self.own, position, self.now.at);
                self.own_position_came();
            }
            Command::Present => {}
            Command::Seas(seas) => self.set_seas(seas),
            Command::Mute(what) => self.mute(what),
            Command::Unmute => self.unmute(|_| true),
            Command::Silence(id) => self.alerts.silence(id, self.now.at),
            Command::Resolve(id) => {
                let about = self.alerts.open().iter().find(|alert| alert.id == id);
                let mmsi = about.and_then(|alert| alert.mmsi);
                match (self.alerts.resolve(id), mmsi) {
                    (Some(Matter::Mark(number)), _) => self.forget_mark(number),
                    (Some(matter), Some(mmsi)) => self.resolve_with(&matter, mmsi),
                    _ => {}
                }
            }
        }
        self.on_answer();
    }

    fn tell_input(&mut self, change: Option<Change>) {
        let Some(Change { input, name, state, text, deaf }) = change else { return };
        let matter = Matter::Input(input);
        if state == InputState::Live {
            self.alerts.rectify(&matter);
        } else {
            let nothing = if deaf { ". Nothing is left that hears AIS" } else { "" };
            let priority = if deaf { Priority::Alarm } else { Priority::Warning };
            if self.alerts.get(&matter).is_some_and(|alert| alert.priority > priority) {
                // It hears again, though not all that it should: that is less than deafness.
                self.alerts.end(&matter);
            }
            let text = format!("Input {name}: {text}{nothing}");
            self.raise(Raise::of_ship(matter, Cause::InputSilent, priority, text));
        }
        self.tell(EventBody::InputState { input: name, state, text });
    }
}

fn digest(value: &impl Hash) -> u64 {
    let mut hasher = DefaultHasher::new();
    value.hash(&mut hasher);
    hasher.finish()
}
