//! What a live watch says to other equipment: nothing waits for it, and an alarm is told before.

use std::collections::HashMap;
use std::time::Duration;

use tokio::sync::mpsc::UnboundedSender;

use super::notices::Notice;
use super::plan::Plan;
use crate::edge::Clock;
use crate::edge::output::Outputs;
use crate::frontend::OutputsView;
use crate::mmsi::Mmsi;
use crate::outputs::{
    AlertList, Asked, Casualties, Heard, Message, Verdict, What, casualties, delta,
};
use crate::time::{Mono, Stamp};
use crate::watch::{Alert, Command, Event, EventBody, Picture, Rehearsed, Relayed, Watch};
use crate::wire::InputId;

/// Casualties are told at a change at most so often, however many beacons there are. Our own.
const SOONEST: Duration = Duration::from_secs(1);

/// The outputs of a watch, and what is known of what they said.
pub(super) struct Said {
    outputs: Outputs,
    own: Option<Mmsi>,
    heard: Heard,
    /// What becomes of the line that is being taken.
    verdict: Option<Verdict>,
    /// Whether the last line was only rehearsed.
    rehearsed: bool,
    alerts: AlertList,
    casualties: Casualties,
    /// When the casualties are told next, by the output's name; to all of them by `changed`.
    due: HashMap<String, Mono>,
    changed: Option<Mono>,
    told: Mono,
    /// When all open alerts were told because somebody asked.
    repeated: Mono,
    /// Whether Signal K was told of a casualty, and whether it was only rehearsed.
    notified: Option<bool>,
}

impl Said {
    pub(super) fn begin(plan: &Plan, clock: Clock, notices: UnboundedSender<Notice>) -> Self {
        let outputs = Outputs::start(plan.outputs.clone(), clock, move |report| {
            let _ = notices.send(Notice::Output(report));
        });
        Self {
            outputs,
            own: plan.settings.own_mmsi,
            heard: Heard::default(),
            verdict: None,
            rehearsed: false,
            alerts: AlertList::default(),
            casualties: Casualties::default(),
            due: HashMap::new(),
            changed: None,
            told: Mono::START,
            repeated: Mono::START,
            notified: None,
        }
    }

    /// Other outputs from now on: a new one is told at once what is open.
    pub(super) fn follow_plan(&mut self, plan: &Plan, now: Mono) {
        self.outputs.replace(plan.outputs.clone());
        self.own = plan.settings.own_mmsi;
        self.alerts.hurry();
        self.changed = Some(now);
    }

    /// Whether a line that has just come in is what this program said itself: it is not heard.
    pub(super) fn is_our_own(&mut self, input: InputId, stamp: Stamp, line: &[u8]) -> bool {
        self.verdict = None;
        if self.outputs.all().next().is_none() {
            return false;
        }
        // What a station heard at different times comes all at once after its link was lost.
        let heard = Relayed::of_line(line).map_or(stamp.at, |it| it.heard_at(stamp.at));
        let verdict = self.heard.judge(input, heard, line);
        self.verdict = Some(verdict);
        self.rehearsed = Rehearsed::of_line(line).is_some();
        verdict == Verdict::OurOwn
    }

    /// How they do.
    pub(super) fn view(&self) -> OutputsView {
        let Heard { withheld, returned, .. } = self.heard;
        OutputsView { each: self.outputs.views(), withheld, returned }
    }

    /// Whether what is asked by an input is accepted.
    pub(super) fn accepts(&self) -> bool {
        self.outputs.all().any(|it| it.wants.says(What::Alerts) && it.wants.accept)
    }

    /// What a line asks of the alerts, where that is `accepted`; what is not is refused.
    pub(super) fn asked(&mut self, line: &[u8], accepted: bool, now: Stamp) -> Vec<Command> {
        if !self.outputs.any_says(What::Alerts) {
            return Vec::new();
        }
        let (asked, answer) = self.alerts.asked(line, accepted, now);
        if let Some(answer) = answer {
            self.say(Message::own(What::Alerts, now, false, answer));
        }
        match asked {
            Asked::Acts(acts) => return acts.into_iter().map(Command::from).collect(),
            // All of it once a second is enough for everybody.
            Asked::Repeat if now.at.since(self.repeated) < SOONEST => {}
            Asked::Repeat => {
                self.repeated = now.at;
                for (rehearsed, text) in self.alerts.repeat() {
                    self.say(Message::own(What::Alerts, now, rehearsed, text));
                }
            }
            Asked::Refused | Asked::Nothing => {}
        }
        Vec::new()
    }

    /// Passes on the line that was judged last.
    pub(super) fn pass_on(&mut self, input: &str, stamp: Stamp, line: &[u8]) {
        if let Some(verdict) = self.verdict.take() {
            pass_on_judged(&self.outputs, verdict, input, stamp, line);
        }
    }

    fn say(&self, message: Message) {
        let what = message.what;
        self.outputs.say(message, |output, _| output.wants.says(what));
    }

    /// When [`Self::follow`] has something to do by the time alone.
    pub(super) fn next_deadline(&self) -> Option<Mono> {
        let alerts = self.outputs.any_says(What::Alerts).then(|| self.alerts.due());
        alerts.into_iter().chain(self.changed).chain(self.due.values().copied()).min()
    }

    /// Says what has happened, and what is due.
    pub(super) fn follow(&mut self, events: &[Event], watch: &Watch, now: Stamp) {
        if self.outputs.any_says(What::Events) {
            for event in events {
                self.tell(event, self.is_rehearsed(&event.body, watch, now), now);
            }
        }
        if self.outputs.any_says(What::Alerts) {
            self.tell_alerts(events, watch, now);
        }
        if self.outputs.any_says(What::Casualty) || self.outputs.any_says(What::SignalK) {
            if events.iter().any(|event| concerns_a_casualty(&event.body)) {
                self.changed = self.changed.or(Some(now.at.max(self.told + SOONEST)));
            }
            let due = self.changed.into_iter().chain(self.due.values().copied()).min();
            if due.is_some_and(|due| due <= now.at) {
                self.tell_casualties(&watch.picture(now), now);
            }
        }
        self.outputs.look(now.at);
    }

    /// Says that an alert was written down.
    pub(super) fn tell_logged(&self, event: &Event, rehearsed: bool, now: Stamp) {
        if self.outputs.any_says(What::Events) {
            self.tell(event, rehearsed, now);
        }
    }

    /// Says an event to those who want them.
    fn tell(&self, event: &Event, rehearsed: bool, now: Stamp) {
        if let Ok(json) = crate::text::json(event) {
            self.say(Message::own(What::Events, now, rehearsed, format!("{json}\n")));
        }
    }

    /// Whether what an event tells was only rehearsed: it says so itself, the line says so that brought it,
    /// or whom it is about was heard in such lines alone.
    fn is_rehearsed(&self, body: &EventBody, watch: &Watch, now: Stamp) -> bool {
        let mmsi = match body {
            EventBody::BeaconHeard(it) => return it.rehearsed.is_some(),
            EventBody::BeaconUpdate(it) => return it.beacon.rehearsed.is_some(),
            EventBody::Alert(it) => return it.rehearsed.is_some(),
            EventBody::DscCall(_) | EventBody::MobNotice(_) | EventBody::SafetyText { .. } => {
                return self.rehearsed;
            }
            EventBody::BeaconSilent { mmsi, .. } | EventBody::Passed { mmsi, .. } => Some(*mmsi),
            EventBody::Datum(it) => it.mmsi,
            EventBody::Search(it) => it.mmsi,
            EventBody::OverboardMarked { .. }
            | EventBody::InputState { .. }
            | EventBody::Reach(_)
            | EventBody::AwakePrompt { .. }
            | EventBody::Logged { .. }
            | EventBody::Summary(_) => None,
        };
        // Few events come so far.
        mmsi.is_some_and(|mmsi| {
            let picture = watch.picture(now);
            picture.beacons.iter().any(|it| it.mmsi() == Some(mmsi) && it.rehearsed.is_some())
        })
    }

    fn tell_alerts(&mut self, events: &[Event], watch: &Watch, now: Stamp) {
        let begins = self.alerts.due() == Mono::START;
        if begins || events.iter().any(|event| matches!(event.body, EventBody::Alert(_))) {
            let settings = watch.settings();
            let is_ours = |it: &Alert| it.mmsi.is_none_or(|mmsi| settings.is_ours(mmsi));
            let mut said = if begins { self.alerts.repeat() } else { Vec::new() };
            said.extend(self.alerts.follow(watch.alerts(), is_ours, now));
            for (rehearsed, text) in said {
                self.say(Message::own(What::Alerts, now, rehearsed, text));
            }
        }
        if self.alerts.due() <= now.at {
            for (text, here) in self.alerts.cycle(now).into_iter().zip([true, false]) {
                let message = Message::own(What::Alerts, now, false, text);
                self.outputs
                    .say(message, |output, stays| output.wants.says(What::Alerts) && stays == here);
            }
        }
    }

    /// Says where the casualties are: to all if anything has changed, else to those whose time it is.
    fn tell_casualties(&mut self, picture: &Picture, now: Stamp) {
        let changed = self.changed.take_if(|it| *it <= now.at).is_some();
        self.told = now.at;
        for gone in self.casualties.follow(picture) {
            self.say(Message::own(What::Casualty, now, gone.rehearsed, gone.sentences));
        }
        let (mut real, mut rehearsed) = (false, false);
        for view in casualties(picture) {
            *(if view.rehearsed.is_some() { &mut rehearsed } else { &mut real }) = true;
        }
        // Whoever was told of somebody real hears that this is over, though a rehearsal goes on.
        let before = std::mem::replace(&mut self.notified, (real || rehearsed).then_some(!real));
        if let Some(only_rehearsed) = before.filter(|it| !(real || *it && rehearsed)) {
            let text = lines(&delta(picture, only_rehearsed, self.own));
            self.say(Message::own(What::SignalK, now, only_rehearsed, text));
        }
        let mut due = HashMap::new();
        for output in self.outputs.all() {
            let is_due = changed || self.due.get(&output.name).is_none_or(|due| *due <= now.at);
            if is_due && output.wants.says(What::Casualty) {
                for it in self.casualties.say(picture, output.wants.form, self.own) {
                    let message = Message::own(What::Casualty, now, it.rehearsed, it.sentences);
                    let message = Message { about: it.about, ..message };
                    self.outputs.say(message, |other, _| other == output);
                }
            }
            if is_due && output.wants.says(What::SignalK) && (real || rehearsed) {
                let text = lines(&delta(picture, !real, self.own));
                let message = Message::own(What::SignalK, now, !real, text);
                self.outputs.say(message, |other, _| other == output);
            }
            let next = if is_due { now.at + output.wants.every } else { self.due[&output.name] };
            if real || rehearsed {
                due.insert(output.name.clone(), next);
            }
        }
        self.due = due;
    }

    /// Ends them.
    pub(super) fn end(self) {
        self.outputs.end();
    }
}

/// Passes on a line as it was judged. Of what may make a radio transmit, other stations alone are told,
/// and of calls only.
pub(super) fn pass_on_judged(
    outputs: &Outputs,
    verdict: Verdict,
    input: &str,
    stamp: Stamp,
    line: &[u8],
) {
    let rehearsed = Rehearsed::of_line(line).is_some();
    let message = match verdict {
        Verdict::PassedOn => Some(Message::heard(input, stamp, line, rehearsed)),
        Verdict::Withheld => Message::call(input, stamp, line, rehearsed),
        Verdict::OurOwn | Verdict::Known | Verdict::Bad => None,
    };
    if let Some(message) = message {
        let is_call = message.is_call();
        outputs.say(message, |output, _| {
            output.wants.passes_on(input) && (!is_call || output.uri.is_broker())
        });
    }
}

/// Whether it may change who is told to be where.
fn concerns_a_casualty(body: &EventBody) -> bool {
    match body {
        EventBody::BeaconHeard(_)
        | EventBody::BeaconUpdate(_)
        | EventBody::BeaconSilent { .. }
        | EventBody::Datum(_)
        | EventBody::OverboardMarked { .. } => true,
        EventBody::Alert(alert) => alert.cause.is_about_people(),
        _ => false,
    }
}

fn lines(deltas: &[serde_json::Value]) -> String {
    deltas.iter().map(|it| format!("{it}\n")).collect()
}
