//! The parts around a live watch: what sounds, what is written down, what is told to others. None of
//! them is waited for.

mod folder;
mod recording;
mod route;

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::mpsc::UnboundedSender;

use super::enrol::{Answer, Enroller};
use super::entries::{bare, entry_of, entry_of_act, moment, of_known_damage};
use super::keeping::{InputKeeper, Kept};
use super::notices::{Fault, Notice};
use super::outputs::Said;
use super::plan::Plan;
use super::resume::Found;
use super::self_tests::SelfTests;
use crate::capture::Recorder;
use crate::config::{self, Enrolment};
use crate::edge::{Clock, Hooks, Instance, Sounder, SounderReport, SounderSettings, Sounding};
use crate::frontend::{Enrolled, KeptInputs, NewBeacon, Parts};
use crate::logbook::{self, Act, Draft, Logbook, WatchEvent};
use crate::mmsi::Mmsi;
use crate::navigation::{Position, range_and_bearing};
use crate::proof::Subject;
use crate::text::counted;
use crate::time::{Mono, Stamp};
use crate::watch::{Alert, Cause, Command, Event, EventBody, Matter, Part, Priority, State, Watch};

/// How often the position is written down, at least (hourly while under way; our own).
const POSITION_EVERY: Duration = Duration::from_secs(3600);

/// Faster than this, or further from the last position written down than that, she is under way.
/// Our own.
const UNDER_WAY_KN: f64 = 0.5;
const MOVED_NM: f64 = 0.1;

/// How long the start waits for a disk: the inputs are open by then. Our own.
const ASKING: Duration = Duration::from_secs(1);

/// How long the end of the program waits for what is still to be written. Our own.
const CLOSING: Duration = Duration::from_secs(5);

/// What is shown of a recorder that is not wanted.
const OFF: &str = "off";

/// The parts that are there.
pub(super) struct Services {
    /// `None` if no thread could be had for it.
    sounder: Option<Sounder>,
    sounding: SounderSettings,
    hooks: Hooks,
    /// What is said to other equipment.
    pub(super) said: Said,
    logbook: Option<Logbook>,
    /// The entry that began this watch, once it is written.
    session: Option<i64>,
    recorder: Option<Recorder>,
    /// One watch alone keeps a logbook.
    instance: Option<Instance>,
    parts: Parts,
    self_tests: SelfTests,
    watchkeeper: Option<String>,
    /// Entries that were told to be damaged.
    damaged: Vec<i64>,
    enroller: Enroller,
    /// Of a watch for which no input is named.
    keeper: Option<InputKeeper>,
    folder: Option<PathBuf>,
    clock: Clock,
    notices: UnboundedSender<Notice>,
    /// When the position is written down next, and where she was when it was last.
    position_due: Mono,
    position: Option<Position>,
    /// When it is looked how the outputs do.
    outputs_due: Mono,
}

impl Services {
    /// Begins all that the plan wants.
    pub(super) fn begin(
        plan: &Plan,
        clock: Clock,
        folder: Option<Instance>,
        notices: UnboundedSender<Notice>,
    ) -> Self {
        let tx = notices.clone();
        let sounder = Sounder::start(plan.sounder.clone(), clock, move |report| {
            let notice = match report {
                SounderReport::Ring => Notice::Ring,
                report => Notice::Sounder(report),
            };
            let _ = tx.send(notice);
        });
        let sounder = sounder.map_err(|why| notices.send(Notice::NoSounder(why))).ok();
        let tx = notices.clone();
        let told = move |new, answer| drop(tx.send(Notice::Enrolled(new, answer)));
        let enroller = Enroller::new(plan.configuration.clone(), Arc::new(told));
        let tx = notices.clone();
        let told = move |answer| drop(tx.send(Notice::Kept(answer)));
        let keeper = InputKeeper::of(plan, Arc::new(told));
        let tx = notices.clone();
        let hooks = Hooks::start(plan.hooks.clone(), clock, move |report| {
            let _ = tx.send(Notice::Hook(report));
        });
        let mut services = Self {
            sounder,
            sounding: plan.sounder.clone(),
            hooks,
            said: Said::begin(plan, clock, notices.clone()),
            logbook: None,
            session: None,
            recorder: None,
            instance: folder,
            parts: Parts {
                sound: "not known yet".to_owned(),
                keeps_logbook: false,
                logbook: "none".to_owned(),
                recording: OFF.to_owned(),
                ..Parts::default()
            },
            enroller,
            keeper,
            self_tests: SelfTests::new(plan.muster.clone()),
            watchkeeper: plan.watchkeeper.clone(),
            damaged: Vec::new(),
            folder: plan.folder.clone().filter(|_| plan.keeps_logbook),
            clock,
            notices,
            position_due: clock.now().at,
            position: None,
            outputs_due: Mono::START,
        };
        services.parts.muster_file = services.enroller.file();
        services.parts.found = plan.finds.as_ref().map(|_| Default::default());
        match &plan.folder {
            _ if !plan.keeps_logbook => {}
            Some(folder) => services.open_logbook(folder, plan),
            None => {
                let what = "no folder for it is known; set [storage] folder".to_owned();
                let notice = Notice::Logbook(logbook::WriterReport::Failed(what));
                let _ = services.notices.send(notice);
            }
        }
        services
    }

    fn open_logbook(&mut self, folder: &Path, plan: &Plan) {
        let now = self.clock.now();
        let inputs: Vec<String> = plan.inputs.iter().map(|(n, uri)| format!("{n} {uri}")).collect();
        let version = env!("CARGO_PKG_VERSION");
        let details = serde_json::json!({ "version": version, "inputs": inputs });
        let text = format!("watch started, overside {version}");
        let mut begun = Draft::watch(WatchEvent::Started, text, details, &bare(now));
        begun.operator.clone_from(&self.watchkeeper);
        let tx = self.notices.clone();
        self.logbook = Some(Logbook::open(folder.to_owned(), begun, move |report| {
            let _ = tx.send(Notice::Logbook(report));
        }));
        self.parts.keeps_logbook = true;
        "opening".clone_into(&mut self.parts.logbook);
        self.start_recorder(plan);
    }

    /// The entry that began this watch, once it is written.
    pub(super) fn session(&self) -> Option<i64> {
        self.session
    }

    /// How the parts are doing.
    pub(super) fn parts(&self) -> &Parts {
        &self.parts
    }

    /// Lets sound what is to sound, before anything else.
    pub(super) fn sound(&mut self, alerts: &[Alert]) {
        if let Some(sounder) = &mut self.sounder {
            sounder.want(Sounding::of(alerts));
        }
    }

    /// There is no terminal any more: its bell is no way to sound an alarm.
    pub(super) fn lose_bell(&mut self) {
        self.sounding.bell = false;
        if let Some(sounder) = &self.sounder {
            sounder.settings(self.sounding.clone());
        }
    }

    /// Sounds the alarm once by every way there is.
    pub(super) fn check_sound(&mut self) {
        if let Some(sounder) = &self.sounder {
            "testing".clone_into(&mut self.parts.sound);
            sounder.check();
        }
    }

    /// Records a line.
    pub(super) fn record(&mut self, input: &str, stamp: Stamp, line: &[u8]) {
        if let Some(recorder) = &mut self.recorder {
            recorder.record(input, stamp, line);
        }
    }

    /// Writes an event down, and tells those who want to be told.
    pub(super) fn log(&mut self, event: &Event, watch: &Watch, now: Stamp, line: Option<&[u8]>) {
        if matches!(event.body, EventBody::InputState { .. }) {
            self.self_tests.unheard.look(&watch.inputs(now.at), now);
        }
        if let EventBody::Alert(alert) = &event.body {
            // A hook that fails must not be told so: it would fail again.
            if alert.cause != Cause::SounderFailed
                && let Ok(json) = crate::text::json(event)
            {
                self.hooks.tell(alert.priority, &json);
            }
            let raised = alert.state == State::ActiveUnacknowledged;
            if let Some(recorder) = self.recorder.as_ref().filter(|_| raised) {
                recorder.flush_soon();
            }
        }
        if let Some(draft) = entry_of(event, watch, now, line) {
            self.write(draft, now);
        }
    }

    /// Writes down what the watch goes on without.
    pub(super) fn log_loss(&mut self, text: String, watch: &Watch, now: Stamp) {
        let told = serde_json::Value::Null;
        self.write(Draft::watch(WatchEvent::GoesOnWithout, text, told, &moment(watch, now)), now);
    }

    /// Writes an act of the operator down: of this one, else of who keeps the watch.
    pub(super) fn log_act(
        &mut self,
        command: Command,
        by: Option<&str>,
        watch: &Watch,
        now: Stamp,
    ) {
        let by = by.or(self.watchkeeper.as_deref());
        if let Some(draft) = entry_of_act(command, by, watch, now) {
            self.write(draft, now);
        }
        let of_damage = |alert: &Alert| alert.matter == Matter::Part(Part::OldEntries);
        if let Command::Acknowledge(id) = command
            && watch.alerts().iter().any(|alert| alert.id == id && of_damage(alert))
            && !self.damaged.is_empty()
        {
            self.write(of_known_damage(&self.damaged, watch, now), now);
        }
    }

    /// Somebody wants the self-test of a beacon judged and written down, now or when it is over.
    pub(super) fn ask_for_test(&mut self, mmsi: Mmsi, by: Option<&str>, watch: &Watch, now: Stamp) {
        self.self_tests.ask(mmsi, by.or(self.watchkeeper.as_deref()));
        self.judge_tests(watch, now);
    }

    fn judge_tests(&mut self, watch: &Watch, now: Stamp) {
        for draft in self.self_tests.judge(watch, now, &mut self.parts) {
            self.write(draft, now);
        }
    }

    /// Writes a remark of the operator down: of this one, else of who keeps the watch.
    pub(super) fn note(&self, text: String, by: Option<&str>, watch: &Watch, now: Stamp) {
        let who = by.or(self.watchkeeper.as_deref());
        self.write(Draft::operator(Act::Remark, text, who, &moment(watch, now)), now);
    }

    /// Looks whether a beacon can be entered in the muster.
    pub(super) fn look_at_new(&mut self, new: NewBeacon) {
        let seen = self.enroller.look(new.clone());
        self.parts.enrolled = Some((new, seen));
    }

    /// Enters it with the lines that were shown.
    pub(super) fn enter_new(&mut self, new: NewBeacon, by: Option<&str>) {
        let seen = self.enroller.write(new.clone(), by);
        self.parts.enrolled = Some((new, seen));
    }

    /// Takes what the configuration file said to it. The beacon, if it is in the muster now.
    pub(super) fn on_enrolled(
        &mut self,
        new: NewBeacon,
        answer: Answer,
        watch: &Watch,
        now: Stamp,
    ) -> Option<Enrolment> {
        let (seen, written) = self.enroller.take(&new, answer);
        if let (Enrolled::Entered(text), Some((_, by))) = (&seen, &written) {
            let by = by.as_deref().or(self.watchkeeper.as_deref());
            let entry = Draft::operator(Act::Enrolled, text, by, &moment(watch, now));
            self.write(Draft { mmsi: Some(new.mmsi), ..entry }, now);
        }
        self.parts.enrolled = Some((new, seen));
        let enrolled = written.map(|(enrolment, _)| enrolment);
        if let Some(it) = &enrolled {
            let (mmsi, person) = (Some(it.mmsi), it.holder.clone());
            let subject = Subject { mmsi, person, dsc_mmsi: it.dsc_mmsi, stranger: false };
            self.self_tests.enter(subject, &mut self.parts.verdicts);
        }
        enrolled
    }

    /// How the inputs stand that were found.
    pub(super) fn say_of_found(&mut self, words: String) {
        if let Some((said, _)) = &mut self.parts.found {
            *said = words;
        }
    }

    /// Looks how the configuration file would change that keeps these inputs.
    pub(super) fn look_at_found(&mut self, inputs: Vec<config::Input>) {
        self.show_kept(|keeper| keeper.look(inputs));
    }

    /// Writes it as it was shown.
    pub(super) fn keep_found(&mut self) {
        self.show_kept(InputKeeper::write);
    }

    /// Takes what the file said to it.
    pub(super) fn on_kept(&mut self, answer: Kept) {
        self.show_kept(|keeper| keeper.take(answer));
    }

    fn show_kept(&mut self, ask: impl FnOnce(&mut InputKeeper) -> KeptInputs) {
        if let Some((keeper, (_, kept))) = self.keeper.as_mut().zip(self.parts.found.as_mut()) {
            *kept = ask(keeper);
        }
    }

    fn write(&self, mut draft: Draft, now: Stamp) {
        let Some(logbook) = &self.logbook else { return };
        let place = self.recorder.as_ref().and_then(|recorder| recorder.place(now.at));
        if let Some((name, label)) = place.filter(|_| draft.is_about_people()) {
            draft.recording = Some(name);
            draft.recording_ms = Some(label.unix_ms());
        }
        logbook.write(draft);
    }

    /// When [`Self::due`] has something to do next.
    pub(super) fn next_deadline(&self) -> Option<Mono> {
        let position = self.logbook.is_some().then_some(self.position_due);
        let others = [self.self_tests.next_deadline(), self.said.next_deadline()];
        position.into_iter().chain(others.into_iter().flatten()).min()
    }

    /// Does what is due by the time alone.
    pub(super) fn due(&mut self, watch: &Watch, now: Stamp) {
        if self.outputs_due <= now.at {
            self.parts.outputs = self.said.view();
            self.outputs_due = now.at + Duration::from_secs(1);
        }
        if self.self_tests.next_deadline().is_some_and(|due| due <= now.at) {
            self.judge_tests(watch, now);
        }
        if self.position_due > now.at {
            return;
        }
        // Also on a ship without a position receiver: or nothing would ever be too old to keep.
        if let Some(recorder) = &self.recorder {
            let doubtful = watch.alerts().iter().any(|alert| alert.cause == Cause::ClockSuspect);
            recorder.set_date((!doubtful).then_some(now.utc));
        }
        let moment = moment(watch, now);
        let Some(position) = moment.own else {
            // As soon as there is one; but nobody needs to look every moment.
            self.position_due = now.at + Duration::from_secs(10);
            return;
        };
        self.position_due = now.at + POSITION_EVERY;
        let moved =
            self.position.is_none_or(|last| range_and_bearing(last, position).0.0 > MOVED_NM);
        if moved || moment.sog.is_some_and(|sog| sog.0 > UNDER_WAY_KN) {
            self.position = Some(position);
            self.write(Draft::position(&moment), now);
        }
    }

    /// Takes what a part has to say: which parts fail or work, and what is to be told.
    pub(super) fn on_notice(
        &mut self,
        notice: Notice,
        now: Stamp,
    ) -> (Vec<Fault>, Option<EventBody>) {
        if let Some(body) = notice.committed() {
            self.said.tell_logged(&Event { at: now.utc, body }, notice.is_rehearsed(), now);
        }
        match notice {
            Notice::Recording(started) => {
                let works = started.is_ok();
                self.on_recorder(started);
                return (works.then_some((Part::Recorder, None)).into_iter().collect(), None);
            }
            Notice::Before(Found::Damaged(ref entries) | Found::Unchecked(ref entries, _)) => {
                self.damaged.clone_from(entries);
            }
            Notice::Output(_) => self.outputs_due = Mono::START,
            Notice::Logbook(logbook::WriterReport::Committed { entry, ref draft })
                if draft.is_begin_of_watch() =>
            {
                self.session = Some(entry);
            }
            _ => {}
        }
        notice.show(&mut self.parts)
    }

    /// Goes on by another plan. The folder stays: a logbook is not changed in the middle of a watch.
    pub(super) fn follow(&mut self, plan: &Plan, now: Stamp) {
        self.sounding = plan.sounder.clone();
        if let Some(sounder) = &self.sounder {
            sounder.settings(plan.sounder.clone());
        }
        self.hooks.replace(plan.hooks.clone());
        self.said.follow_plan(plan, now.at);
        self.watchkeeper.clone_from(&plan.watchkeeper);
        self.self_tests.set_muster(plan.muster.clone(), &mut self.parts.verdicts);
        if plan.finds.is_none() {
            (self.keeper, self.parts.found) = (None, None);
        }
        match (plan.record, self.recorder.take()) {
            (Some(_), Some(recorder)) => self.recorder = Some(recorder),
            (Some(_), None) => self.start_recorder(plan),
            (None, Some(recorder)) => {
                // What waits is written all the same.
                recorder.close(Duration::ZERO);
                OFF.clone_into(&mut self.parts.recording);
            }
            (None, None) => OFF.clone_into(&mut self.parts.recording),
        }
        let details = serde_json::Value::Null;
        let text = "configuration read again";
        self.write(Draft::watch(WatchEvent::Reconfigured, text, details, &bare(now)), now);
    }

    /// Ends everything, and waits for what is still to be written: not for ever.
    pub(super) fn end(mut self, watch: &Watch, now: Stamp) {
        if let Some(sounder) = &mut self.sounder {
            sounder.want(None);
        }
        let open = watch.alerts().iter().filter(|alert| alert.priority > Priority::Caution).count();
        let details = serde_json::json!({ "alerts_open": open });
        let text = "watch ended";
        let mut draft = Draft::watch(WatchEvent::Ended, text, details, &moment(watch, now));
        draft.operator.clone_from(&self.watchkeeper);
        self.write(draft, now);
        self.said.end();
        if let Some(recorder) = self.recorder {
            recorder.close(CLOSING);
        }
        let unwritten = self.logbook.map_or(0, |logbook| logbook.close(CLOSING));
        if unwritten > 0 {
            let entries = counted(unwritten, "logbook entry");
            tracing::error!("{entries} could not be written");
        }
    }
}
