//! The table of open alerts: what is raised, ends, is repeated, and gives way when it is full.

use std::time::Duration;

use super::alert::{Alert, AlertId, Cause, Matter, Priority, State};
use super::rehearsed::Rehearsed;
use super::settings::{
    ALERTS_LIMIT, STRANGERS_LIMIT, Settings, TEMPORARY_SILENCE, WARNING_REPEATS,
};
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::Mono;
use crate::wire::InputId;

/// What an alert is raised with.
#[derive(Clone, Debug)]
pub(super) struct Raise {
    pub matter: Matter,
    pub cause: Cause,
    pub priority: Priority,
    pub mmsi: Option<Mmsi>,
    pub text: String,
    /// The place that is told with it: by a call or notice, or by hand.
    pub place: Option<Position>,
    /// Somebody took note of the same incident by another alert.
    pub acknowledged: bool,
}

impl Raise {
    /// An alert about the watch or the ship herself, which stands until it is rectified.
    pub(super) const fn of_ship(
        matter: Matter,
        cause: Cause,
        priority: Priority,
        text: String,
    ) -> Self {
        Self { matter, cause, priority, mmsi: None, text, place: None, acknowledged: false }
    }

    fn too_many_alerts() -> Self {
        let text = format!(
            "More than {ALERTS_LIMIT} alerts: of strangers, cautions give way first, then warnings, then alarms, the oldest first"
        );
        let (cause, priority) = (Cause::BeaconUnverified, Priority::Warning);
        Self::of_ship(Matter::TooManyAlerts, cause, priority, text)
    }

    /// All that come after those that are kept: one emergency.
    fn too_many_emergencies(cause: Cause) -> Self {
        let text = format!(
            "More than {STRANGERS_LIMIT} emergencies of strangers: the muster's and the first are kept, further ones are this one"
        );
        let matter = Matter::TooManyEmergencies(cause);
        Self::of_ship(matter, cause, Priority::EmergencyAlarm, text)
    }
}

/// The open alerts, in the order they were raised.
#[derive(Debug, Default)]
pub(super) struct Alerts {
    open: Vec<Alert>,
    raised: u32,
    /// Alerts whose state or priority changed, to be told.
    changed: Vec<Alert>,
    /// The line that is being taken.
    line: Vec<u8>,
    /// The input it came by.
    input: InputId,
    /// How it is marked; `None` for a real one and for none.
    pub rehearsed: Option<Rehearsed>,
}

impl Alerts {
    pub(super) fn open(&self) -> &[Alert] {
        &self.open
    }

    /// What changes from now on is changed by this line.
    pub(super) fn by_line(&mut self, input: InputId, line: &[u8]) {
        self.by_no_line();
        self.input = input;
        self.line.extend_from_slice(line);
    }

    /// What changes from now on is changed by no line.
    pub(super) fn by_no_line(&mut self) {
        self.rehearsed = None;
        self.line.clear();
    }

    /// The line that changes what changes now, and the input it came by.
    pub(super) fn changed_by(&self) -> Option<(InputId, String)> {
        let line = (!self.line.is_empty()).then(|| String::from_utf8_lossy(&self.line))?;
        Some((self.input, line.into_owned()))
    }

    /// The line that is being taken.
    pub(super) fn line(&self) -> &[u8] {
        &self.line
    }

    /// The input by which it came.
    pub(super) fn line_of(&self) -> Option<InputId> {
        (!self.line.is_empty()).then_some(self.input)
    }

    /// What is open about a station was heard by this input as well.
    pub(super) fn heard_also_by(&mut self, mmsi: Mmsi, input: InputId) {
        for alert in self.open.iter_mut().filter(|alert| alert.mmsi == Some(mmsi)) {
            alert.heard_by = alert.heard_by.filter(|&before| before == input);
        }
    }

    /// How many were raised since the beginning.
    pub(super) fn raised(&self) -> u32 {
        self.raised
    }

    /// Numbers go on from this one, or from the last that leaves room.
    pub(super) fn count_from(&mut self, last: u32) {
        self.raised = self.raised.max(last.min(u32::MAX - AlertId::ROOM));
    }

    /// Puts an alert back that was open before.
    /// Of two about the same matter, which an older logbook may hold or which came while it could
    /// not be read, the first goes on, unless it is less urgent, and the other is told to be over.
    pub(super) fn put_back(&mut self, mut alert: Alert) {
        match self.get(&alert.matter).map(|open| open.priority) {
            Some(priority) if priority < alert.priority => self.end(&alert.matter.clone()),
            Some(_) => alert.state = State::Normal,
            None => {}
        }
        self.changed.push(alert.clone());
        if alert.state != State::Normal {
            self.open.push(alert);
        }
    }

    /// The alert that was put back last had this number before, which is another's now: under that it
    /// is over, once it goes on.
    pub(super) fn tell_other_number(&mut self, was: AlertId) {
        let Some(alert) = self.changed.last().cloned() else { return };
        let text = format!("{}; goes on as alert {}", alert.text, alert.id.0);
        self.changed.push(Alert { id: was, state: State::Normal, text, ..alert });
        self.tell_again(was);
    }

    /// Another of this number was told to be over: the one that is open is told after it.
    pub(super) fn tell_again(&mut self, id: AlertId) {
        self.changed.extend(self.open.iter().find(|alert| alert.id == id).cloned());
    }

    pub(super) fn get(&self, matter: &Matter) -> Option<&Alert> {
        self.open.iter().find(|alert| alert.matter == *matter)
    }

    /// Raises an alert, or sees the condition of an open one again: one that was rectified is active
    /// again. What is less than one that was rectified is another; and so is what is more than a
    /// warning: that ends, and the alarm has a number of its own (IEC 62923-1, 6.3.5).
    ///
    /// At the limit what is less urgent and not about the muster gives way, and then what is
    /// neither about the muster nor an emergency is not raised. Either is told once.
    ///
    /// A real one takes the place of one that was rehearsed, and needs its own acknowledgement; a
    /// rehearsed one takes that of none that is real.
    pub(super) fn raise(
        &mut self,
        raise: Raise,
        rehearsed: Option<Rehearsed>,
        settings: &Settings,
        (now, heard): (Mono, Mono),
    ) {
        let another = |alert: &Alert| {
            let over_and_less = !alert.is_active() && alert.priority > raise.priority;
            let escalates =
                alert.priority == Priority::Warning && raise.priority > Priority::Warning;
            let turns_real = alert.rehearsed.is_some() && rehearsed.is_none();
            alert.cause != raise.cause || over_and_less || escalates || turns_real
        };
        let is_real = |alert: &Alert| alert.is_active() && alert.rehearsed.is_none();
        if rehearsed.is_some() && self.get(&raise.matter).is_some_and(is_real) {
            return;
        }
        if self.get(&raise.matter).is_some_and(another) {
            self.end(&raise.matter);
        }
        if self.is_one_too_many(&raise, settings) {
            self.raise(Raise::too_many_emergencies(raise.cause), None, settings, (now, now));
        } else if let Some(place) = self.open.iter().position(|it| it.matter == raise.matter) {
            self.raise_again(place, raise, (now, heard));
        } else {
            let gave_way = self.make_room(raise.priority, settings);
            let emergency = raise.priority == Priority::EmergencyAlarm;
            let room = self.open.len() < ALERTS_LIMIT;
            let taken = room || emergency || raise.matter.is_ours(settings);
            if taken {
                self.raise_new(raise, rehearsed, (now, heard));
            }
            if gave_way || !taken {
                self.raise(Raise::too_many_alerts(), None, settings, (now, now));
            }
        }
    }

    /// Whether it would be one emergency more than are kept of this cause about strangers.
    fn is_one_too_many(&self, raise: &Raise, settings: &Settings) -> bool {
        let is_stranger = |alert: &&Alert| {
            let emergency = alert.priority == Priority::EmergencyAlarm;
            emergency && alert.cause == raise.cause && !alert.matter.is_ours(settings)
        };
        raise.priority == Priority::EmergencyAlarm
            && !raise.matter.is_ours(settings)
            && self.get(&raise.matter).is_none_or(|alert| alert.priority < raise.priority)
            && self.open.iter().filter(is_stranger).count() >= STRANGERS_LIMIT
    }

    fn raise_again(&mut self, place: usize, raise: Raise, (now, heard): (Mono, Mono)) {
        let line_of = self.line_of();
        let alert = &mut self.open[place];
        alert.heard_by = alert.heard_by.filter(|_| alert.heard_by == line_of);
        let lifetime = raise.cause.lifetime(raise.priority).map(|span| now + span);
        // What stands until somebody ends it is not shortened by a lesser sign; what was over
        // begins anew.
        alert.expires_at =
            if alert.is_active() { alert.expires_at.and(lifetime) } else { lifetime };
        let rises = raise.priority > alert.priority;
        // What was heard before takes the place of nothing newer.
        if rises || raise.priority == alert.priority && heard >= alert.heard {
            alert.text = raise.text;
            if raise.place.is_some() {
                (alert.place, alert.heard) = (raise.place, heard);
            }
        }
        if rises || alert.state == State::RectifiedUnacknowledged {
            alert.priority = raise.priority;
            alert.enter(now);
            self.changed.push(alert.clone());
        }
    }

    fn raise_new(
        &mut self,
        raise: Raise,
        rehearsed: Option<Rehearsed>,
        (now, heard): (Mono, Mono),
    ) {
        self.raised = self.raised.saturating_add(1);
        let mut alert = Alert {
            id: AlertId(self.raised),
            cause: raise.cause,
            priority: raise.priority,
            state: State::Normal,
            mmsi: raise.mmsi,
            text: raise.text,
            raised: now,
            repeats: 0,
            sentence: self.changed_by().map(|(_, line)| line),
            matter: raise.matter,
            rehearsed,
            place: raise.place,
            heard,
            heard_by: self.line_of(),
            silent_until: None,
            repeated_at: None,
            expires_at: raise.cause.lifetime(raise.priority).map(|span| now + span),
        };
        alert.enter(now);
        if raise.acknowledged {
            (alert.state, alert.repeated_at) = (State::ActiveAcknowledged, None);
        }
        self.changed.push(alert.clone());
        self.open.push(alert);
    }

    /// The condition is over: an alert nobody took note of stays until somebody does.
    pub(super) fn rectify(&mut self, matter: &Matter) {
        self.change(
            |alert| alert.matter == *matter,
            |alert| {
                alert.state = match alert.state {
                    State::ActiveAcknowledged => State::Normal,
                    _ => State::RectifiedUnacknowledged,
                };
            },
        );
    }

    /// Ends an alert whatever its state: another takes its place.
    pub(super) fn end(&mut self, matter: &Matter) {
        self.change(|alert| alert.matter == *matter, |alert| alert.state = State::Normal);
    }

    /// Ends an alert whatever its state, with words that say why. As it was before; `None` if there
    /// is none.
    pub(super) fn end_saying(&mut self, matter: &Matter, why: &str) -> Option<Alert> {
        let before = self.get(matter)?.clone();
        self.change(
            |alert| alert.matter == *matter,
            |alert| {
                alert.state = State::Normal;
                alert.text = format!("{}; {why}", alert.text);
            },
        );
        Some(before)
    }

    /// One incident has one emergency: once that of a beacon is open, the calls' alerts for the same
    /// casualty end.
    pub(super) fn give_way_to_beacon(&mut self, mmsi: Mmsi) {
        if self.get(&Matter::Emergency(mmsi)).is_some_and(Alert::is_active) {
            self.end(&Matter::Distress(Some(mmsi)));
            self.end(&Matter::Relay(Some(mmsi)));
        }
    }

    /// Somebody takes note. A caution needs no acknowledgement.
    pub(super) fn acknowledge(&mut self, id: AlertId) {
        self.change(
            |alert| alert.id == id,
            |alert| {
                alert.state = match alert.state {
                    State::RectifiedUnacknowledged | State::Normal => State::Normal,
                    _ => State::ActiveAcknowledged,
                };
            },
        );
    }

    /// Stops the sound for 30 s.
    pub(super) fn silence(&mut self, id: AlertId, now: Mono) {
        self.change(
            |alert| alert.id == id,
            |alert| {
                if alert.state == State::ActiveUnacknowledged {
                    alert.state = State::ActiveSilenced;
                    alert.silent_until = Some(now + TEMPORARY_SILENCE);
                }
            },
        );
    }

    /// The operator says it is over: noted and rectified at once.
    pub(super) fn resolve(&mut self, id: AlertId) -> Option<Matter> {
        let matter = self.open.iter().find(|alert| alert.id == id)?.matter.clone();
        self.end(&matter);
        Some(matter)
    }

    /// Does what is due by now.
    pub(super) fn tick(&mut self, now: Mono) {
        let over = |alert: &Alert| alert.expires_at.is_some_and(|until| until <= now);
        let ended = self.open.iter().filter(|alert| over(alert)).map(|alert| alert.matter.clone());
        for matter in ended.collect::<Vec<_>>() {
            self.rectify(&matter);
        }
        for alert in &mut self.open {
            if alert.silent_until.is_some_and(|until| until <= now) {
                (alert.state, alert.silent_until) = (State::ActiveUnacknowledged, None);
                self.changed.push(alert.clone());
            }
        }
        self.repeat(now);
    }

    /// Counts the repetitions that were due by now, however many.
    pub(super) fn repeat(&mut self, now: Mono) {
        for alert in &mut self.open {
            let Some(at) = alert.repetition_due().filter(|&at| at <= now) else { continue };
            let (late, period) = (now.since(at).as_micros(), WARNING_REPEATS.as_micros());
            let times = u32::try_from(late / period).unwrap_or(u32::MAX).saturating_add(1);
            alert.repeats = alert.repeats.saturating_add(times);
            let since_last = Duration::from_micros((late % period) as u64);
            alert.repeated_at = Some(now + (WARNING_REPEATS - since_last));
        }
    }

    /// When a state changes next by the time alone.
    pub(super) fn next_change(&self) -> Option<Mono> {
        let times = |alert: &Alert| [alert.silent_until, alert.expires_at];
        self.open.iter().flat_map(times).flatten().min()
    }

    /// When a warning is to be repeated next.
    pub(super) fn next_repetition(&self) -> Option<Mono> {
        self.open.iter().filter_map(Alert::repetition_due).min()
    }

    /// What changed since the last call, in order.
    pub(super) fn take_changed(&mut self) -> Vec<Alert> {
        std::mem::take(&mut self.changed)
    }

    fn change(&mut self, which: impl Fn(&Alert) -> bool, how: impl FnOnce(&mut Alert)) {
        let Some(place) = self.open.iter().position(which) else { return };
        // No rehearsed line ends anything real about people.
        let real = self.open[place].rehearsed.is_none();
        if self.rehearsed.is_some() && real && self.open[place].cause.is_about_people() {
            return;
        }
        let alert = &mut self.open[place];
        let before = alert.state;
        how(alert);
        if alert.state == before {
            return;
        }
        if alert.state != State::ActiveSilenced {
            (alert.silent_until, alert.repeated_at) = (None, None);
        }
        if !alert.is_active() {
            alert.expires_at = None;
        }
        self.changed.push(alert.clone());
        if alert.state == State::Normal {
            self.open.remove(place);
        }
    }

    /// At the limit, what is about strangers gives way to what is more urgent, and what is over to
    /// what is as urgent: the least urgent first, of these the oldest. An emergency never does.
    /// Whether anything did.
    fn make_room(&mut self, priority: Priority, settings: &Settings) -> bool {
        let gives_way = |alert: &&Alert| {
            let less = alert.priority < priority;
            let over = !alert.is_active() && alert.priority == priority;
            let emergency = alert.priority == Priority::EmergencyAlarm;
            (less || over) && !emergency && !alert.matter.is_ours(settings)
        };
        let rank = |alert: &&Alert| (alert.priority, alert.is_active(), alert.id);
        let mut gave_way = false;
        while self.open.len() >= ALERTS_LIMIT {
            let least = self.open.iter().filter(gives_way).min_by_key(rank);
            let Some(matter) = least.map(|alert| alert.matter.clone()) else { break };
            self.end(&matter);
            gave_way = true;
        }
        gave_way
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: u64) -> Mono {
        Mono::from_micros(seconds * 1_000_000)
    }

    fn raised(priority: Priority) -> Alerts {
        let mut alerts = Alerts::default();
        let cause = Cause::BeaconUnverified;
        let (matter, text) = (Matter::OwnPosition, String::new());
        let raise = Raise::of_ship(matter, cause, priority, text);
        alerts.raise(raise, None, &Settings::default(), (at(0), at(0)));
        alerts
    }

    fn states(alerts: &mut Alerts) -> Vec<State> {
        alerts.take_changed().iter().map(|alert| alert.state).collect()
    }

    /// Transitions of MSC.302(87) 7.3 and MSC.252(83) 20.2; the rest IEC 62923-1 6.3.2.1 and annex G
    /// (figure G.2), as an open radar program cites it.
    #[test]
    fn every_transition_of_an_alarm() {
        use State::*;
        let id = AlertId(1);
        let mut alerts = raised(Priority::Alarm);
        assert_eq!(states(&mut alerts), [ActiveUnacknowledged]);
        alerts.silence(id, at(10));
        assert_eq!(states(&mut alerts), [ActiveSilenced]);
        alerts.tick(at(39));
        assert_eq!(states(&mut alerts), []);
        alerts.tick(at(40));
        assert_eq!(states(&mut alerts), [ActiveUnacknowledged]);
        alerts.rectify(&Matter::OwnPosition);
        assert_eq!(states(&mut alerts), [RectifiedUnacknowledged]);
        alerts.acknowledge(id);
        assert_eq!(states(&mut alerts), [Normal]);

        let mut alerts = raised(Priority::Alarm);
        alerts.acknowledge(id);
        alerts.rectify(&Matter::OwnPosition);
        assert_eq!(states(&mut alerts), [ActiveUnacknowledged, ActiveAcknowledged, Normal]);
        assert!(alerts.open().is_empty());
    }

    /// From each state whatever may happen: IEC 62923-1 6.3.2.1 and annex G, figures G.2 and G.3, as an
    /// open radar program cites them. An emergency alarm goes the same ways, otherwise than its figure
    /// G.1 has it, and on purpose.
    #[test]
    fn every_state_answers_every_event() {
        use State::{
            ActiveAcknowledged as A, ActiveSilenced as S, ActiveUnacknowledged as V, Normal as N,
            RectifiedUnacknowledged as U,
        };
        let id = AlertId(1);
        let raise = |alerts: &mut Alerts, priority| {
            let (matter, cause) = (Matter::OwnPosition, Cause::BeaconUnverified);
            let raise = Raise::of_ship(matter, cause, priority, String::new());
            alerts.raise(raise, None, &Settings::default(), (at(1), at(1)));
        };
        // What happens: raised again, silenced, acknowledged, rectified.
        let rows = [(V, [V, S, A, U]), (S, [S, S, A, U]), (A, [A, A, A, N]), (U, [V, U, N, U])];
        for priority in [Priority::EmergencyAlarm, Priority::Alarm, Priority::Warning] {
            for (from, to) in rows {
                for (event, to) in to.into_iter().enumerate() {
                    let mut alerts = raised(priority);
                    match from {
                        S => alerts.silence(id, at(1)),
                        A => alerts.acknowledge(id),
                        U => alerts.rectify(&Matter::OwnPosition),
                        V | N => {}
                    }
                    let told = states(&mut alerts);
                    assert_eq!(told.last(), Some(&from));
                    match event {
                        0 => raise(&mut alerts, priority),
                        1 => alerts.silence(id, at(1)),
                        2 => alerts.acknowledge(id),
                        _ => alerts.rectify(&Matter::OwnPosition),
                    }
                    let is = states(&mut alerts).last().copied().unwrap_or(from);
                    assert_eq!(is, to, "{priority:?}, {from:?}, event {event}");
                }
            }
        }
    }

    #[test]
    fn a_caution_enters_acknowledged_and_ends_in_normal() {
        let mut alerts = raised(Priority::Caution);
        alerts.silence(AlertId(1), at(1));
        alerts.rectify(&Matter::OwnPosition);
        assert_eq!(states(&mut alerts), [State::ActiveAcknowledged, State::Normal]);
    }

    #[test]
    fn an_unacknowledged_warning_is_repeated_and_does_not_change() {
        let mut alerts = raised(Priority::Warning);
        alerts.tick(at(60));
        alerts.tick(at(120));
        assert_eq!(states(&mut alerts), [State::ActiveUnacknowledged]);
        assert_eq!(alerts.open()[0].repeats, 2);
        alerts.acknowledge(AlertId(1));
        assert_eq!((alerts.next_change(), alerts.next_repetition()), (None, None));
    }

    /// However far ahead the time is, it is counted as if it had gone step by step.
    #[test]
    fn repetitions_that_nobody_waited_for_are_counted() {
        let (mut stepped, mut jumped) = (raised(Priority::Warning), raised(Priority::Warning));
        for second in 0..=100_000 {
            stepped.tick(at(second));
        }
        jumped.tick(at(100_000));
        let [stepped, jumped] =
            [stepped, jumped].map(|it| (it.open()[0].repeats, it.next_repetition()));
        assert_eq!(stepped, jumped);
        assert_eq!(jumped, (1666, Some(at(100_020))));
    }

    /// Who silences it again and again does not put the repetition off.
    #[test]
    fn repetitions_count_from_the_raise() {
        let mut alerts = raised(Priority::Warning);
        for second in 0..=240 {
            alerts.tick(at(second));
            alerts.silence(AlertId(1), at(second));
        }
        // Silent from 0, 30, 60 … on: what fell due in a silence comes at its end.
        assert_eq!(alerts.open()[0].repeats, 4);

        let mut alerts = raised(Priority::Warning);
        alerts.silence(AlertId(1), at(50));
        alerts.tick(at(60));
        assert_eq!((alerts.open()[0].repeats, alerts.next_change()), (0, Some(at(80))));
        assert_eq!(alerts.next_repetition(), None);
        alerts.tick(at(80));
        assert_eq!((alerts.open()[0].repeats, alerts.next_change()), (1, None));
        assert_eq!(alerts.next_repetition(), Some(at(120)));
    }
}
