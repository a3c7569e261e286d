//! Follows the replay of a recording and keeps what a debrief needs, within limits.

use std::time::Duration;

use super::called::{Call, Who, noticed_by, told_by};
use super::crew::{Enrolled, join};
use super::drill::{Drill, OwnPoint, Unwatched};
use super::heard::{Beacons, Message, OVER};
use super::labels::{Labels, moved, ms_of};
use super::log::LogEntry;
use super::measure;
use super::track::OwnTrack;
use super::watched::Watched;
use super::wind::MeanWind;
use crate::navigation::Velocity;
use crate::time::{Mono, Stamp, Utc};
use crate::units::Degrees;
use crate::watch::{
    AlertReport, Cause, Event, EventBody, Mode, Priority, Reach, Signal, State, Watch,
};
use crate::zone::Zone;

/// The own position is taken once in so long. Our own.
const SAMPLE: Duration = Duration::from_millis(900);

/// Entries of the logbook that are taken. Our own.
const ENTRIES: usize = 1_000;

/// Follows a recording. Bounded, whatever its length.
///
/// After each input of the watch call [`Self::look`], then [`Self::hear`] for each of its events, and
/// at the end [`Self::finish`]. The watch has to record ([`Watch::record_reception`]).
#[derive(Debug, Default)]
pub struct Observer {
    labels: Labels,
    span: Option<(Utc, Utc)>,
    track: OwnTrack,
    sampled: Option<Mono>,
    beacons: Beacons,
    wind: MeanWind,
    watched: Watched,
    in_incident: bool,
    /// The last alarm about a call that was passed on, or a crew alarm: whom it is about, that tells.
    told_next: Option<(Utc, Priority)>,
    rehearsed: bool,
    moved: bool,
    overlaps: bool,
}

/// What a debrief is told of a recording beside its lines.
#[derive(Clone, Debug, Default)]
pub struct About {
    /// What it is called.
    pub recording: String,
    /// The ship's name.
    pub ship: Option<String>,
    /// The zone of the local time that stands beside UTC.
    pub zone: Option<Zone>,
    /// The beacons of the muster: whose a call is that is made in the name of the ship.
    pub crew: Vec<Enrolled>,
    /// What people did and wrote; `None` without a logbook.
    pub log: Option<Vec<LogEntry>>,
    /// Only who was in the water from the first of these moments to the last, or within half an hour
    /// of them, is of interest.
    pub around: Option<(Utc, Utc)>,
}

/// All that was observed, for the measures.
#[derive(Debug)]
pub(super) struct Observed {
    pub about: About,
    pub span: Option<(Utc, Utc)>,
    pub own: Vec<OwnPoint>,
    pub casualties: Vec<super::heard::Beacon>,
    pub others: Vec<super::heard::Beacon>,
    pub overflown: bool,
    pub rehearsed: bool,
    pub wind: MeanWind,
    pub not_watched: Vec<Unwatched>,
    /// Whether parts of it were not in the order of their times.
    pub moved: bool,
    /// Whether parts of it had something in common, which counts once.
    pub overlaps: bool,
}

impl Observer {
    /// One that has seen nothing.
    pub fn new() -> Self {
        Self::default()
    }

    /// Looks at the watch after an input that came at `stamp`.
    pub fn look(&mut self, watch: &mut Watch, stamp: Stamp) {
        let step = self.labels.see(stamp);
        if step != 0 {
            self.shift(step);
        }
        let at = self.labels.of(stamp.utc);
        self.moved |= at != stamp.utc;
        self.span = Some((self.span.map_or(at, |(first, _)| first), at));
        self.watched.on_line(at, stamp, self.sampled);
        for transmission in watch.take_received() {
            self.rehearsed |= transmission.rehearsed.is_some();
            let clock = watch.gnss_utc().unwrap_or(stamp.utc);
            self.receive((at, clock), &transmission.signal, || watch.reach(stamp));
        }
        self.sample(watch, stamp);
        if self.in_incident && self.beacons.are_over(at) {
            self.in_incident = false;
            self.track.end_incident();
        }
    }

    /// Takes note that parts of the recording had something in common.
    pub fn note_overlap(&mut self) {
        self.overlaps = true;
    }

    /// Takes an event of the watch.
    pub fn hear(&mut self, event: &Event) {
        let at = self.labels.of(event.at);
        match &event.body {
            EventBody::BeaconHeard(beacon)
                if matches!(beacon.mode, Mode::Active | Mode::ActivePresumed) =>
            {
                self.distress(&Who::station(Some(beacon.mmsi)), beacon.person.as_deref(), at);
            }
            EventBody::Alert(alert) => self.alert(alert, at),
            EventBody::DscCall(call) => self.call(told_by(call, at), at),
            EventBody::MobNotice(notice) => self.call(noticed_by(notice, at), at),
            _ => {}
        }
    }

    /// Measures what was observed.
    pub fn finish(self, mut about: About) -> Drill {
        if let Some(log) = &mut about.log {
            log.truncate(ENTRIES);
        }
        let overflown = self.beacons.overflown;
        let (mut casualties, others) = self.beacons.finish();
        join(&mut casualties, &about.crew, about.log.as_mut());
        if let Some((from, until)) = about.around {
            casualties.retain(|it| it.is_heard_within(from, until, OVER));
        }
        measure::drill(Observed {
            about,
            span: self.span,
            own: self.track.finish(),
            casualties,
            others,
            overflown,
            rehearsed: self.rehearsed,
            wind: self.wind,
            not_watched: self.watched.finish(),
            moved: self.moved,
            overlaps: self.overlaps,
        })
    }

    /// Takes a signal that came at a moment, and when that was by the position receiver's clock.
    fn receive(&mut self, (at, clock): (Utc, Utc), signal: &Signal, reach: impl FnOnce() -> Reach) {
        // A call comes as an event as well, and then once more with its expansion.
        let Signal::Beacon { mmsi, channel, statement } = signal else { return };
        let who = Who::station(Some(*mmsi).filter(|it| it.beacon_kind().is_some()));
        let Some(beacon) = who.mmsi.and_then(|_| self.beacons.enter(&who)) else { return };
        beacon.reach.get_or_insert_with(reach);
        beacon.hear(Message::of(at, clock, *channel, statement));
        // The watch may have told already, within the burst of the OFF, that it is active again.
        if beacon.is_casualty && beacon.off.is_some() && statement.is_active() {
            self.distress(&who, None, at);
        }
    }

    fn call(&mut self, told: Option<(Who, Call)>, at: Utc) {
        let Some((who, call)) = told else { return };
        self.beacons.call(&who, call);
        // The alarm about it came just before it.
        if let Some((raised, priority)) = self.told_next.take()
            && raised == at
        {
            self.raised(&who, None, at, priority);
        }
    }

    fn alert(&mut self, alert: &AlertReport, at: Utc) {
        let is_beacon = alert.mmsi.is_some_and(|it| it.beacon_kind().is_some());
        // What is not about a beacon is about somebody in the water if it is as urgent as that.
        let is_overboard = match alert.cause {
            Cause::BeaconActive | Cause::BeaconUnverified => is_beacon,
            Cause::DscDistress | Cause::MobNotice => {
                is_beacon || alert.priority >= Priority::EmergencyAlarm
            }
            Cause::DscRelay => is_beacon || alert.priority >= Priority::Alarm,
            _ => false,
        };
        // One that is over, or goes on as it was, begins nothing.
        let is_active = matches!(
            alert.state,
            State::ActiveUnacknowledged | State::ActiveSilenced | State::ActiveAcknowledged
        );
        if !is_overboard || !is_active {
            return;
        }
        // The alarm may name the ship that an emitter belongs to, or nobody.
        if matches!(alert.cause, Cause::DscRelay | Cause::MobNotice) && !is_beacon {
            self.told_next = Some((at, alert.priority));
            return;
        }
        let who = Who::station(alert.mmsi);
        self.raised(&who, alert.known.person.as_deref(), at, alert.priority);
    }

    /// An alarm was raised about somebody.
    fn raised(&mut self, who: &Who, person: Option<&str>, at: Utc, priority: Priority) {
        if priority >= Priority::Alarm {
            self.distress(who, person, at);
        }
        if priority >= Priority::Warning
            && let Some(beacon) = self.beacons.enter(who)
        {
            let is_first = beacon
                .alarm
                .is_none_or(|(_, before)| before < Priority::Alarm && priority >= Priority::Alarm);
            if is_first {
                beacon.alarm = Some((at, priority));
            }
        }
    }

    fn distress(&mut self, who: &Who, person: Option<&str>, at: Utc) {
        self.beacons.distress(who, person);
        self.in_incident = true;
        self.track.begin_incident(at);
    }

    fn sample(&mut self, watch: &Watch, stamp: Stamp) {
        let own = watch.own_ship();
        let Some(fix) = own.fix() else { return };
        let fresh = self.sampled.is_none_or(|last| fix.at.since(last) >= SAMPLE);
        if !fresh {
            return;
        }
        self.sampled = Some(fix.at);
        let ago = ms_of(stamp.at.since(fix.at));
        let (cog, sog) = (own.cog(fix.at), own.sog(fix.at));
        self.track.note(OwnPoint {
            at: moved(self.labels.of(stamp.utc), -ago),
            position: fix.position,
            sog_kn: sog,
            cog_deg: cog,
            heading_deg: own.heading(fix.at),
            water_speed_kn: own.water_speed(fix.at),
        });
        if self.in_incident
            && let Some(wind) = own.wind(fix.at)
        {
            let towards = Degrees::new(wind.from.value() + 180.0);
            self.wind.note(Velocity::of(towards, wind.speed));
        }
    }

    fn shift(&mut self, ms: i64) {
        self.track.shift(ms);
        self.beacons.shift(ms);
        self.watched.shift(ms);
        self.span = self.span.map(|(first, last)| (moved(first, ms), moved(last, ms)));
    }
}
