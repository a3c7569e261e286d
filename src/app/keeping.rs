//! The parts around a live watch: what sounds, what is written down, what is told to others. None of
//! them is waited for.

use std::fs::File;
use std::io::{self, BufWriter};
use std::path::{Path, PathBuf};
use std::time::Duration;

use tokio::sync::mpsc::UnboundedSender;

use super::resume::Found;
use super::{Error, Plan};
use crate::capture::{self, Recorder};
use crate::edge::{Clock, HookReport, Hooks, Instance, Sounder, SounderReport, Sounding, Taken};
use crate::front::Parts;
use crate::gpx;
use crate::logbook::{self, Act, Details, Draft, Logbook, Moment, WatchEvent};
use crate::navigation::{Leg, Position, range_and_bearing};
use crate::thread;
use crate::time::{Mono, Stamp};
use crate::watch::{Alert, Cause, Command, Event, EventBody, Muted, Part, Priority, State, Watch};

/// How often the position is written down, at least (issue: hourly while under way).
const POSITION_EVERY: Duration = Duration::from_secs(3600);

/// Faster than this, or further from the last position written down than that, she is under way.
const UNDER_WAY_KN: f64 = 0.5;
const MOVED_NM: f64 = 0.1;

/// How long the end of the program waits for what is still to be written.
const CLOSING: Duration = Duration::from_secs(5);

/// What a part has to say.
#[derive(Debug)]
pub(super) enum Notice {
    Sounder(SounderReport),
    Hook(HookReport),
    Logbook(logbook::Report),
    Recorder(capture::Report),
    /// What is found of the watch before.
    Before(Found),
    /// What became of the route of a search.
    Route(String),
    /// The terminal's bell is to be rung.
    Ring,
}

impl Notice {
    /// What is to be told of an entry that was committed: of an alert's alone.
    pub(super) fn committed(&self) -> Option<EventBody> {
        let Self::Logbook(logbook::Report::Committed { entry, draft }) = self else { return None };
        let change = draft.alert()?;
        let (cause, state) = (change.cause, change.state);
        Some(EventBody::Logged { entry: *entry, cause, mmsi: draft.mmsi, state })
    }
}

/// A part that works again, or does not.
type Fault = (Part, Option<String>);

/// The parts that are there.
pub(super) struct Keeping {
    sounder: Sounder,
    hooks: Hooks,
    logbook: Option<Logbook>,
    recorder: Option<Recorder>,
    /// One watch alone keeps a logbook.
    _instance: Option<Instance>,
    parts: Parts,
    keeper: Option<String>,
    folder: Option<PathBuf>,
    clock: Clock,
    notices: UnboundedSender<Notice>,
    /// When the position is written down next, and where she was when it was last.
    position_due: Mono,
    position: Option<Position>,
}

impl Keeping {
    /// Begins all that the plan wants.
    pub(super) fn begin(
        plan: &Plan,
        clock: Clock,
        notices: UnboundedSender<Notice>,
    ) -> Result<Self, Error> {
        let tx = notices.clone();
        let sounder = Sounder::start(plan.sounder.clone(), clock, move |report| {
            let notice = match report {
                SounderReport::Ring => Notice::Ring,
                report => Notice::Sounder(report),
            };
            let _ = tx.send(notice);
        })?;
        let tx = notices.clone();
        let hooks = Hooks::start(plan.hooks.clone(), clock, move |report| {
            let _ = tx.send(Notice::Hook(report));
        });
        let mut keeping = Self {
            sounder,
            hooks,
            logbook: None,
            recorder: None,
            _instance: None,
            parts: Parts {
                sound: "not known yet".to_owned(),
                logbook: "none".to_owned(),
                recording: "off".to_owned(),
                route: String::new(),
            },
            keeper: plan.keeper.clone(),
            folder: plan.folder.clone().filter(|_| plan.keeps_logbook),
            clock,
            notices,
            position_due: clock.now().at,
            position: None,
        };
        match &plan.folder {
            _ if !plan.keeps_logbook => {}
            Some(folder) => keeping.open_books(folder, plan)?,
            None => {
                let what = "no folder for it is known; set [storage] folder".to_owned();
                let notice = Notice::Logbook(logbook::Report::Failed(what));
                let _ = keeping.notices.send(notice);
            }
        }
        Ok(keeping)
    }

    fn open_books(&mut self, folder: &Path, plan: &Plan) -> Result<(), Error> {
        match Instance::claim(folder) {
            Ok(instance) => self._instance = Some(instance),
            Err(Taken::By { pid, path }) => return Err(Error::Taken { pid, path }),
            // A folder that cannot be written keeps nobody from watching: the logbook says so.
            Err(Taken::Not(why)) => tracing::debug!("cannot claim {}: {why}", folder.display()),
        }
        let now = self.clock.now();
        let inputs: Vec<String> = plan.inputs.iter().map(|(n, uri)| format!("{n} {uri}")).collect();
        let version = env!("CARGO_PKG_VERSION");
        let details = serde_json::json!({ "version": version, "inputs": inputs });
        let text = format!("watch started, overside {version}");
        let mut begun = Draft::watch(WatchEvent::Started, text, details, &bare(now));
        begun.operator.clone_from(&self.keeper);
        let tx = self.notices.clone();
        self.logbook = Some(Logbook::open(folder.to_owned(), begun, move |report| {
            let _ = tx.send(Notice::Logbook(report));
        }));
        "opening".clone_into(&mut self.parts.logbook);
        Ok(self.start_recorder(plan)?)
    }

    fn start_recorder(&mut self, plan: &Plan) -> io::Result<()> {
        let (Some(folder), Some(keep)) = (&plan.folder, plan.record) else { return Ok(()) };
        let tx = self.notices.clone();
        let books = folder.clone();
        let referred = Box::new(move || logbook::Reader::open(&books).ok()??.recordings().ok());
        self.recorder =
            Some(Recorder::start(folder.join(super::RECORDINGS), keep, referred, move |report| {
                let _ = tx.send(Notice::Recorder(report));
            })?);
        "on".clone_into(&mut self.parts.recording);
        Ok(())
    }

    /// How the parts are doing.
    pub(super) fn parts(&self) -> &Parts {
        &self.parts
    }

    /// Lets sound what is to sound, before anything else.
    pub(super) fn sound(&mut self, alerts: &[Alert]) {
        self.sounder.want(Sounding::of(alerts));
    }

    /// Sounds the alarm once by every way there is.
    pub(super) fn check_sound(&mut self) {
        "testing".clone_into(&mut self.parts.sound);
        self.sounder.check();
    }

    /// Writes the legs of a search as a route for a plotter, beside the logbook.
    pub(super) fn export(&mut self, plan: Option<(String, Vec<Leg>)>, watch: &Watch, now: Stamp) {
        let Some((why, legs)) = plan else {
            "no search to write".clone_into(&mut self.parts.route);
            return;
        };
        let label = now.utc.to_string().replace(['-', ':'], "");
        let name = format!("search-{}Z.gpx", label.split('.').next().unwrap_or_default());
        let path = self.folder.clone().unwrap_or_default().join(name);
        let text = format!("Route of the search asked for: {}", path.display());
        let by = self.keeper.as_deref();
        self.write(Draft::operator(Act::AskedForRoute, text, by, &moment(watch, now)), now);
        "route is being written".clone_into(&mut self.parts.route);
        let notices = self.notices.clone();
        // A disk that hangs must not hold up an alarm.
        let begun = thread::spawn("route", move |panicked| {
            let done = match panicked {
                Some(why) => Err(io::Error::other(why.to_owned())),
                None => File::create(&path)
                    .and_then(|file| gpx::route(BufWriter::new(file), &why, &legs, Some(now.utc))),
            };
            let _ = notices.send(Notice::Route(match done {
                Ok(()) => format!("route written: {}", path.display()),
                Err(error) => format!("route NOT written: {}: {error}", path.display()),
            }));
        });
        if let Err(why) = begun {
            self.parts.route = format!("route NOT written: no thread for it: {why}");
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
        if let EventBody::Alert(alert) = &event.body {
            // A hook that fails must not be told so: it would fail again.
            if alert.cause != Cause::SounderFailed
                && let Ok(json) = crate::text::json(event)
            {
                self.hooks.tell(alert.priority, &json);
            }
            let raised = alert.state == State::ActiveUnacknowledged;
            if let Some(recorder) = self.recorder.as_ref().filter(|_| raised) {
                recorder.hurry();
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

    /// Writes an act of the operator down.
    pub(super) fn log_act(&mut self, command: Command, watch: &Watch, now: Stamp) {
        if let Some(draft) = entry_of_act(command, self.keeper.as_deref(), watch, now) {
            self.write(draft, now);
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
        self.logbook.is_some().then_some(self.position_due)
    }

    /// Does what is due by the time alone.
    pub(super) fn due(&mut self, watch: &Watch, now: Stamp) {
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
    pub(super) fn hear(&mut self, notice: Notice) -> (Vec<Fault>, Option<EventBody>) {
        let logged = notice.committed();
        match notice {
            Notice::Ring | Notice::Before(Found::LeftOpen(_) | Found::NotYet) => (Vec::new(), None),
            Notice::Before(Found::Failed(why)) => {
                let why = format!("what was open before cannot be read: {why}");
                (vec![(Part::OldEntries, Some(why))], None)
            }
            Notice::Before(Found::Damaged(entries)) => {
                (vec![(Part::OldEntries, Some(damaged(&entries)))], None)
            }
            Notice::Route(text) => {
                self.parts.route = text;
                (Vec::new(), None)
            }
            Notice::Sounder(report) => (self.hear_sounder(report), None),
            Notice::Hook(HookReport::Failed { command, why }) => {
                (vec![(Part::Hook, Some(format!("{command}: {why}")))], None)
            }
            Notice::Hook(HookReport::Works) => (vec![(Part::Hook, None)], None),
            Notice::Recorder(capture::Report::Failed(why)) => {
                "FAILED".clone_into(&mut self.parts.recording);
                (vec![(Part::Recorder, Some(why))], None)
            }
            Notice::Recorder(capture::Report::Works) => {
                "on".clone_into(&mut self.parts.recording);
                (vec![(Part::Recorder, None)], None)
            }
            Notice::Logbook(report) => (self.hear_logbook(report), logged),
        }
    }

    fn hear_logbook(&mut self, report: logbook::Report) -> Vec<Fault> {
        match report {
            logbook::Report::Committed { entry, draft } => {
                self.parts.logbook = format!("entry {entry} at {}", draft.at().clock());
                Vec::new()
            }
            logbook::Report::Failed(why) => {
                "NOT WRITTEN".clone_into(&mut self.parts.logbook);
                vec![(Part::Logbook, Some(why))]
            }
            logbook::Report::Works => vec![(Part::Logbook, None)],
            logbook::Report::SetAside(path) => {
                let why = format!("the old one was damaged and is kept as {}", path.display());
                vec![(Part::SetAside, Some(why))]
            }
        }
    }

    fn hear_sounder(&mut self, report: SounderReport) -> Vec<Fault> {
        match report {
            SounderReport::Ring | SounderReport::CheckEnded => Vec::new(),
            SounderReport::Uses(way) => {
                self.parts.sound = way.to_string();
                vec![(Part::EverySounder, None)]
            }
            SounderReport::Failed { way, why } => {
                vec![(Part::Sounder, Some(format!("{way} fails: {why}; the next way is used")))]
            }
            SounderReport::Recovered => vec![(Part::Sounder, None)],
            SounderReport::Off => {
                "off by configuration".clone_into(&mut self.parts.sound);
                vec![(Part::Sounder, None), (Part::EverySounder, None)]
            }
            SounderReport::Checked { way, heard } => {
                let word = if heard.is_ok() { "works" } else { "FAILS" };
                self.parts.sound = format!("{way} {word}");
                Vec::new()
            }
            SounderReport::Mute => {
                "NONE".clone_into(&mut self.parts.sound);
                let why = "no command, player or bell works; see overside watch --sound-check";
                vec![(Part::EverySounder, Some(why.to_owned()))]
            }
        }
    }

    /// Goes on by another plan. The folder stays: a logbook is not changed in the middle of a watch.
    pub(super) fn follow(&mut self, plan: &Plan, now: Stamp) {
        self.sounder.settings(plan.sounder.clone());
        self.hooks.replace(plan.hooks.clone());
        self.keeper.clone_from(&plan.keeper);
        match (plan.record, self.recorder.take()) {
            (Some(_), Some(recorder)) => self.recorder = Some(recorder),
            (Some(_), None) => {
                if let Err(why) = self.start_recorder(plan) {
                    let report = capture::Report::Failed(why.to_string());
                    let _ = self.notices.send(Notice::Recorder(report));
                }
            }
            (None, Some(recorder)) => {
                recorder.close();
                "off".clone_into(&mut self.parts.recording);
            }
            (None, None) => {}
        }
        let details = serde_json::Value::Null;
        let text = "configuration read again";
        self.write(Draft::watch(WatchEvent::Reconfigured, text, details, &bare(now)), now);
    }

    /// Ends everything, and waits for what is still to be written: not for ever.
    pub(super) fn end(mut self, watch: &Watch, now: Stamp) {
        self.sounder.want(None);
        let open = watch.alerts().iter().filter(|alert| alert.priority > Priority::Caution).count();
        let details = serde_json::json!({ "alerts_open": open });
        let text = "watch ended";
        let mut draft = Draft::watch(WatchEvent::Ended, text, details, &moment(watch, now));
        draft.operator.clone_from(&self.keeper);
        self.write(draft, now);
        if let Some(recorder) = self.recorder {
            recorder.close();
        }
        let unwritten = self.logbook.map_or(0, |logbook| logbook.close(CLOSING));
        if unwritten > 0 {
            tracing::error!("{unwritten} logbook entries could not be written");
        }
    }
}

/// What is written down of an event; `None` of those that are not logged.
///
/// It is written down with the moment it happened, which may lie before this one: what was due by
/// the time alone is told before the line that comes after it.
pub fn entry_of(event: &Event, watch: &Watch, now: Stamp, line: Option<&[u8]>) -> Option<Draft> {
    let ago = u64::try_from(now.utc.ms_since(event.at)).unwrap_or(0);
    let arrival = Mono::from_micros(now.at.micros().saturating_sub(ago.saturating_mul(1000)));
    let moment = Moment { arrival, host: event.at, ..moment(watch, now) };
    Draft::of_event(event, &moment, line)
}

/// What is written down of an act of the operator, before the watch obeys; `None` of a key that
/// means nothing else than that somebody is there.
pub fn entry_of_act(
    command: Command,
    keeper: Option<&str>,
    watch: &Watch,
    now: Stamp,
) -> Option<Draft> {
    let draft = |act, text: &str| Draft::operator(act, text, keeper, &moment(watch, now));
    let (act, verb, id) = match command {
        Command::Acknowledge(id) => (Act::Acknowledged, "Acknowledged", id),
        Command::Silence(id) => (Act::Silenced, "Silenced for 30 s", id),
        Command::Resolve(id) => (Act::DeclaredOver, "Declared over", id),
        Command::MarkOverboard => {
            let text = "Marked by hand: person overboard now, here";
            return Some(draft(Act::MarkedOverboard, text));
        }
        Command::PlaceShip(position) => {
            let text = format!("Own position by hand: {position}");
            return Some(draft(Act::PlacedShip, &text));
        }
        Command::Mute(what) => {
            let name = watch.muted_name(what).filter(|_| watch.may_mute(what))?;
            let mut draft = draft(Act::Muted, &format!("Muted: {name}"));
            if let Muted::Station(mmsi) = what {
                draft.mmsi = Some(mmsi);
            }
            return Some(draft);
        }
        Command::Unmute => {
            let names: Vec<String> =
                watch.muted().iter().filter_map(|&what| watch.muted_name(what)).collect();
            let text = format!("Heard again, muted before: {}", names.join(", "));
            return Some(draft(Act::Unmuted, &text)).filter(|_| !names.is_empty());
        }
        Command::Present => return None,
    };
    let about = watch.alerts().iter().find(|alert| alert.id == id);
    let text = about.map_or_else(|| verb.to_owned(), |alert| format!("{verb}: {}", alert.text));
    let mut draft = draft(act, &text);
    draft.details = Details::Operator { act: Some(act), alert: Some(id) };
    draft.mmsi = about.and_then(|alert| alert.mmsi);
    Some(draft)
}

/// Says which entries are damaged, the first of them by number.
pub fn damaged(entries: &[i64]) -> String {
    let numbers: Vec<String> = entries.iter().take(8).map(i64::to_string).collect();
    let more = if entries.len() > numbers.len() { " …" } else { "" };
    let (count, noun) = (entries.len(), if entries.len() == 1 { "entry" } else { "entries" });
    format!(
        "{count} {noun} missing, altered or unreadable ({}{more}); see overside logbook check",
        numbers.join(", ")
    )
}

/// A moment of which only the time is known.
const fn bare(now: Stamp) -> Moment {
    let (gnss, own, own_age_s, sog, cog) = (None, None, None, None, None);
    Moment { arrival: now.at, host: now.utc, gnss, own, own_age_s, sog, cog }
}

/// All that is known of a moment.
fn moment(watch: &Watch, now: Stamp) -> Moment {
    let own = watch.own(now.at);
    Moment {
        arrival: now.at,
        host: now.utc,
        gnss: watch.gnss_utc(),
        own: own.position,
        own_age_s: own.age.map(|age| age.as_secs()),
        sog: own.sog,
        cog: own.cog,
    }
}
