//! `overside prove`: whether a beacon's self-test was received on board.

mod certificate;
mod dialogue;

use std::io::{self, IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::story::{printable, wrapped};
use super::{Common, Error, ExitCode};
use crate::app::{self, Evidence, Plan};
use crate::config::Config;
use crate::edge::Courier;
use crate::logbook::{self, Draft, Kind};
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::Utc;
use crate::watch::{Judgement, Place, Subject, Transmission, Verdict, Witnessed, judge};

use dialogue::Dialogue;

/// What a proof is told.
#[derive(Clone, Debug, clap::Args)]
pub struct ProveArgs {
    /// Judge a recording instead of what is received now; may be given several times
    #[arg(long, value_name = "FILE")]
    pub capture: Vec<PathBuf>,
    /// Only this beacon: its identity, or the name of who carries it
    #[arg(long, value_name = "MMSI|NAME")]
    pub beacon: Option<String>,
    /// Read this input, as in `overside watch`; may be given several times
    #[arg(long, value_name = "URI", conflicts_with = "capture")]
    pub input: Vec<String>,
    /// How long a beacon may take, in minutes: some wait that long for a fix
    #[arg(long, value_name = "N", default_value_t = 15, value_parser = clap::value_parser!(u32).range(1..=120))]
    pub minutes: u32,
    /// Ask nothing and redraw nothing: plain lines, one beacon after the other
    #[arg(long)]
    pub plain: bool,
    /// Write the verdict on a recording into the logbook, too
    #[arg(long)]
    pub record: bool,
    /// Write no verdict into the logbook
    #[arg(long, conflicts_with = "record")]
    pub no_log: bool,
    /// Who tests, to be written down
    #[arg(long, value_name = "WHO")]
    pub by: Option<String>,
    /// Write a page to be printed: ship, beacon, reception, findings
    #[arg(long, value_name = "FILE.html")]
    pub certificate: Option<PathBuf>,
    /// The folder of the logbook, instead of the configured one
    #[arg(long, value_name = "FOLDER")]
    pub storage: Option<PathBuf>,
}

/// A verdict, and the sentences it rests on.
#[derive(Clone, Debug)]
struct Proof {
    verdict: Verdict,
    sentences: Vec<String>,
    /// Where the ship was.
    own: Option<Position>,
    /// Whether the radio itself rang, where a person was asked.
    radio_rang: Option<bool>,
}

/// An entry that was written for a proof: its number and hash.
type Entered = Option<(i64, String)>;

/// Proves it.
pub(super) fn run(args: &ProveArgs, common: &Common) -> Result<ExitCode, Error> {
    let config = super::configuration(common)?;
    let subjects = subjects(args.beacon.as_deref(), &config)?;
    let proofs = if args.capture.is_empty() {
        live(args, common, &config, subjects)?
    } else {
        let evidence = app::evidence(&args.capture, app::settings(&config))
            .map_err(|why| super::error_of(&why))?;
        let proofs = of_recording(subjects, &config, &evidence);
        for proof in &proofs {
            tell(&proof.verdict, common)?;
        }
        if !common.json {
            tell_of_others(&proofs, &evidence.witnessed);
        }
        proofs
    };
    let mut entries: Vec<Entered> = vec![None; proofs.len()];
    // What was heard is not lost because it cannot be written down: the page is made all the same.
    let mut unwritten = None;
    if !args.no_log && (args.capture.is_empty() || args.record) {
        let folder = super::books(args.storage.as_deref(), &config)?;
        for (proof, entered) in proofs.iter().zip(&mut entries) {
            match write_down(proof, args, &folder) {
                Ok(written) => *entered = Some(written),
                Err(why) => unwritten = Some(why),
            }
        }
    }
    if let Some(path) = &args.certificate {
        let page = certificate::page(&config, &proofs, &entries, args.by.as_deref());
        std::fs::write(path, page)
            .map_err(|why| Error::unwritable(&path.display().to_string(), &why))?;
    }
    match unwritten {
        Some(why) => Err(why),
        None => Ok(exit_code(&proofs)),
    }
}

/// The worst counts: ACTIVE before anything that is not proven.
fn exit_code(proofs: &[Proof]) -> ExitCode {
    match proofs.iter().map(|proof| proof.verdict.verdict).max() {
        Some(Judgement::Proven) => ExitCode::Done,
        Some(Judgement::ActiveHeard) => ExitCode::HeardActive,
        _ => ExitCode::Finding,
    }
}

/// The beacons to be judged: the one that was named, else the muster; none if there is neither.
fn subjects(named: Option<&str>, config: &Config) -> Result<Vec<Subject>, Error> {
    let of_muster = config.beacons.iter().map(|beacon| Subject {
        mmsi: Some(beacon.mmsi),
        person: beacon.holder.clone(),
        dsc_mmsi: beacon.dsc_mmsi,
        stranger: false,
    });
    let Some(named) = named else { return Ok(of_muster.collect()) };
    let mmsi = named.parse().ok().and_then(Mmsi::new);
    let found: Vec<Subject> = of_muster
        .filter(|it| {
            it.mmsi == mmsi.filter(|_| mmsi.is_some()) || it.person.as_deref() == Some(named)
        })
        .collect();
    match (found.as_slice(), mmsi) {
        ([], Some(mmsi)) if mmsi.beacon_kind().is_some() => {
            let stranger = !config.beacons.is_empty();
            Ok(vec![Subject { mmsi: Some(mmsi), stranger, ..Subject::default() }])
        }
        ([], Some(mmsi)) => Err(Error::new(
            format!("{mmsi} is no survivor beacon's identity"),
            "it begins with 970, 972 or 974",
        )),
        ([], None) => Err(Error::new(
            format!("nobody of the muster is called {named:?} and carries a beacon"),
            "write the name as in the configuration, or the beacon's identity",
        )),
        _ => Ok(found),
    }
}

/// Judges a recording. Without a muster every beacon that was heard is judged.
fn of_recording(mut subjects: Vec<Subject>, config: &Config, evidence: &Evidence) -> Vec<Proof> {
    if subjects.is_empty() {
        let heard = heard_identities(&evidence.witnessed).map(Some);
        let subject = |mmsi| Subject { mmsi, ..Subject::default() };
        subjects.extend(heard.map(subject));
        if subjects.is_empty() {
            subjects.push(Subject::default());
        }
    }
    let window = evidence.span.unwrap_or((Utc::EPOCH, Utc::EPOCH));
    subjects.iter().map(|it| proof(it, config, window, &evidence.witnessed)).collect()
}

fn proof(subject: &Subject, config: &Config, window: (Utc, Utc), witnessed: &[Witnessed]) -> Proof {
    let others = config.beacons.iter().filter(|beacon| Some(beacon.mmsi) != subject.mmsi);
    let others: Vec<Mmsi> = others.filter_map(|beacon| beacon.dsc_mmsi).collect();
    let verdict = judge(subject, &others, window, witnessed);
    let of_subject = witnessed.iter().filter(|it| match &it.what {
        Transmission::Beacon { mmsi, .. } => Some(*mmsi) == subject.mmsi,
        Transmission::Call(call) => {
            call.caller_mmsi.is_some()
                && [subject.mmsi, subject.dsc_mmsi].contains(&call.caller_mmsi)
        }
    });
    let own = witnessed.iter().rev().find_map(|it| it.own);
    let sentences = of_subject.take(16).map(|it| it.line.clone()).collect();
    Proof { verdict, sentences, own, radio_rang: None }
}

/// The beacons that were heard, each once, in the order they came.
fn heard_identities(witnessed: &[Witnessed]) -> impl Iterator<Item = Mmsi> {
    let mut heard = Vec::new();
    for it in witnessed {
        if let Transmission::Beacon { mmsi, .. } = it.what
            && !heard.contains(&mmsi)
        {
            heard.push(mmsi);
        }
    }
    heard.into_iter()
}

/// Tests of beacons that were not asked for.
fn tell_of_others(proofs: &[Proof], witnessed: &[Witnessed]) {
    let judged = |mmsi: &Mmsi| proofs.iter().any(|proof| proof.verdict.mmsi == Some(*mmsi));
    for mmsi in heard_identities(witnessed).filter(|mmsi| !judged(mmsi)) {
        let _ = writeln!(anstream::stderr(), "also heard, and not judged: beacon {mmsi}");
    }
}

/// Proves live: a dialogue on the terminal, or plain lines.
fn live(
    args: &ProveArgs,
    common: &Common,
    config: &Config,
    subjects: Vec<Subject>,
) -> Result<Vec<Proof>, Error> {
    if subjects.is_empty() {
        return Err(Error::new(
            "there is no muster, and no beacon was named",
            "name one with --beacon, or write [[beacon]] into the configuration",
        ));
    }
    let plan = Plan {
        inputs: super::watch::inputs(&args.input, config)?,
        settings: app::settings(config),
        // What is heard ACTIVE sounds like the emergency it may be.
        sounder: super::sound_check::settings(config, io::stderr().is_terminal()),
        hooks: Vec::new(),
        keeps_logbook: false,
        folder: None,
        record: None,
        keeper: None,
    };
    let asks =
        !args.plain && !common.json && io::stdin().is_terminal() && io::stdout().is_terminal();
    let courier = Courier::start(io::stdout())
        .map_err(|why| Error::new(format!("cannot start: {why}"), "check the limit of threads"))?;
    let longest = Duration::from_secs(60 * u64::from(args.minutes));
    let out = super::out(&courier);
    let mut dialogue = Dialogue::new(subjects, config.clone(), longest, out, asks, common.json);
    let done = super::block_on(app::watch(plan, || None, &mut dialogue));
    courier.settle(Duration::from_secs(2));
    done?;
    dialogue.end()
}

/// Writes a verdict into the logbook: the number and the hash of its entry.
fn write_down(proof: &Proof, args: &ProveArgs, folder: &Path) -> Result<(i64, String), Error> {
    let verdict = &proof.verdict;
    let mut draft = Draft::note(summary(verdict), args.by.as_deref(), None, verdict.ended);
    draft.kind = Kind::Test;
    draft.mmsi = verdict.mmsi;
    draft.person.clone_from(&verdict.person);
    draft.sentences.clone_from(&proof.sentences);
    draft.own = proof.own;
    draft.range_nm = verdict.range_m.map(|m| (f64::from(m) / 1.852).round() / 1000.0);
    draft.details = serde_json::to_value(verdict).unwrap_or_default();
    if let (Some(rang), Some(details)) = (proof.radio_rang, draft.details.as_object_mut()) {
        details.insert("radio_rang".to_owned(), rang.into());
        let said = if rang { "the radio itself rang" } else { "the radio itself did not ring" };
        draft.text = format!("{}; {said}", draft.text);
    }
    let entry = logbook::append(folder, draft)?;
    let hash = super::logbook::reader(folder)?.get(entry)?.map(|it| it.hash).unwrap_or_default();
    let _ = writeln!(anstream::stderr(), "written down as entry {entry}");
    Ok((entry, hash))
}

fn who(verdict: &Verdict) -> String {
    match (&verdict.person, verdict.mmsi) {
        (Some(person), Some(mmsi)) => format!("{person}'s beacon {mmsi}"),
        (_, Some(mmsi)) => format!("beacon {mmsi}"),
        _ => "no beacon".to_owned(),
    }
}

/// The verdict in a line.
fn summary(verdict: &Verdict) -> String {
    let who = who(verdict);
    let Verdict { messages_heard, messages_expected, channel_a, channel_b, .. } = verdict;
    let heard = format!("{messages_heard} of {messages_expected} heard");
    let channels = format!("channel A {channel_a}, B {channel_b}");
    match verdict.verdict {
        Judgement::Proven => {
            let range = verdict.range_m.map(|m| format!(", {m} m away")).unwrap_or_default();
            format!("{who}: test PROVEN: {heard}, {channels}, position valid{range}")
        }
        Judgement::Partial => format!("{who}: test heard IN PART: {heard}, {channels}"),
        Judgement::NotHeard => format!("{who}: NOT HEARD"),
        Judgement::ActiveHeard => format!("{who}: heard ACTIVE, {messages_heard} messages"),
    }
}

/// Tells a verdict on standard output.
fn tell(verdict: &Verdict, common: &Common) -> Result<(), Error> {
    let mut out = anstream::stdout().lock();
    let told = if common.json {
        serde_json::to_writer(&mut out, verdict)
            .map_err(io::Error::from)
            .and_then(|()| writeln!(out))
    } else {
        write!(out, "{}", words(verdict))
    };
    told.map_err(|why| Error::unwritable("standard output", &why))
}

/// The verdict with its reasons.
fn words(verdict: &Verdict) -> String {
    let mut text = wrapped(&printable(&summary(verdict)), "");
    for finding in &verdict.findings {
        text.push_str(&wrapped(&format!("- {}", printable(finding)), "  "));
    }
    let place = match verdict.position {
        Place::Valid | Place::None => None,
        Place::Default => Some("no fix"),
        Place::Stale => Some("an old fix"),
    };
    if let Some(place) = place {
        text.push_str(&format!("  its position: {place}\n"));
    }
    match verdict.dsc_call {
        Some(true) => text.push_str("  its DSC test call was heard\n"),
        Some(false) => text.push_str(&wrapped(
            "its DSC test call was not heard by this program, which is no failure: many radios do \
             not pass calls on. If the radio itself rang, write that down: \
             `overside logbook note`",
            "  ",
        )),
        None => {}
    }
    text
}
