//! `overside inputs`: what is connected and what it says.

use std::io::{self, IsTerminal as _};
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde_json::{Value, json};

use super::talk::say;
use super::{Common, Error, ExitCode};
use crate::app::{self, Surveyed, candidates, proposed, survey};
use crate::config::Input;
use crate::edge::InputUri;
use crate::survey::{Met, Need, needs};
use crate::text::{json_line, printable, wrapped};
use crate::wire::ais::BeaconWord;

/// Where an input is written if there is no configuration yet.
pub(super) const NEW_FILE: &str = "overside.toml";

/// How inputs are looked for.
#[derive(Clone, Debug, clap::Args)]
pub struct InputsArgs {
    /// Look at this address too, as in `overside watch`; may be given several times
    #[arg(long, value_name = "URI")]
    pub input: Vec<String>,
    /// How long to listen
    #[arg(long, value_name = "SECONDS", default_value_t = 12,
          value_parser = clap::value_parser!(u32).range(2..=3600))]
    pub seconds: u32,
    /// Look at serial ports and at what is given alone
    #[arg(long)]
    pub no_network: bool,
    /// Write what was found into the configuration, after a yes
    #[arg(long)]
    pub write: bool,
    /// Write without asking
    #[arg(long, requires = "write")]
    pub yes: bool,
    /// Look for serial ports under this folder, as for a test
    #[arg(long, hide = true, value_name = "FOLDER", default_value = "/")]
    pub root: PathBuf,
}

/// Listens, says what was found, and writes it down if that is wished.
pub(super) fn run(args: &InputsArgs, common: &Common) -> Result<ExitCode, Error> {
    let asks = !args.yes && io::stdin().is_terminal() && io::stderr().is_terminal();
    if args.write && !asks && !args.yes {
        let what = "it is not asked whether to write: this is no terminal";
        return Err(Error::new(what, "write without asking: --yes"));
    }
    let file = super::configuration_file(common)?;
    let configured = file.as_ref().map_or(&[][..], |(config, _)| &config.inputs);
    let all = candidates(given(args, configured)?, &args.root, !args.no_network);
    let time = Duration::from_secs(args.seconds.into());
    say(&format!("Listening for {} s; nothing is sent.", args.seconds));
    let found = super::block_on(async { Ok(survey(all, time).await) })?;
    let heard: Vec<_> = found.iter().map(|it| (it.name(), &it.traffic)).collect();
    let needs = needs(heard.iter().map(|(name, traffic)| (name.as_str(), *traffic)));
    let mut out = anstream::stdout().lock();
    match common.json {
        true => print_json(&mut out, &found, &needs)?,
        false => print(&mut out, &found, &needs, args)?,
    }
    for alarm in alarms(&found) {
        say(&alarm);
    }
    if args.write {
        return write(&found, configured, file.as_ref().map(|(_, path)| path.as_path()), asks);
    }
    let is_met = |need: &Need| need.met == Met::Yes || !need.need.is_vital();
    Ok(if needs.iter().all(is_met) { ExitCode::Done } else { ExitCode::Finding })
}

/// What the configuration has and what is given by hand, but what is read once to its end.
fn given(
    args: &InputsArgs,
    configured: &[Input],
) -> Result<Vec<(Option<String>, InputUri)>, Error> {
    let parse = |name: &str, uri: &str| {
        uri.parse::<InputUri>()
            .map_err(|why| Error::new(format!("input {name}: {why}"), "correct it"))
    };
    let mut all = Vec::new();
    for input in configured {
        let uri = parse(&input.name, &input.uri)?;
        if !uri.is_finite() {
            all.push((Some(input.name.clone()), uri));
        }
    }
    for text in &args.input {
        let uri = parse(text, text)?;
        if uri.is_finite() {
            let what = format!("{text} is read once to its end, and is nothing to listen to");
            return Err(Error::new(what, "look at a recording with `overside decode --tally`"));
        }
        all.push((None, uri));
    }
    Ok(all)
}

fn print(
    out: &mut impl io::Write,
    found: &[Surveyed],
    needs: &[Need],
    args: &InputsArgs,
) -> Result<(), Error> {
    writeln!(out, "WHAT IS CONNECTED")?;
    let (told, quiet): (Vec<_>, Vec<_>) = found.iter().partition(|it| it.is_worth_telling());
    told.iter().try_for_each(|it| print_one(out, it))?;
    if told.is_empty() {
        writeln!(out, "  nothing: no serial port, and no traffic by network")?;
    }
    if !quiet.is_empty() {
        let addresses = quiet.iter().filter(|it| it.candidate.group.is_none());
        let ports = addresses
            .map(|it| format!("UDP {}, ", it.uri().to_string().replace("udp://0.0.0.0:", "")));
        let ports: String = ports.collect();
        writeln!(out, "  no traffic: {ports}the groups of IEC 61162-450 not named here")?;
    }
    writeln!(out, "\nWHAT A WATCH NEEDS (heard in {} s)", args.seconds)?;
    for need in needs {
        let met = match need.met {
            Met::Yes => "met",
            Met::Partly => "IN PART",
            Met::No => "NOT MET",
            Met::Unknown => "not known",
        };
        let by: Vec<_> = need.inputs.iter().map(|name| printable(name)).collect();
        let by = if by.is_empty() { String::new() } else { format!(": {}", by.join(", ")) };
        writeln!(out, "  {met:<9}  {}{by}", need.need.name())?;
        say_below(out, 13, need.cost.unwrap_or_default())?;
    }
    Ok(())
}

fn print_one(out: &mut impl io::Write, it: &Surveyed) -> io::Result<()> {
    let group = it.candidate.group.map(|group| format!("  (IEC 61162-450 {group})"));
    writeln!(out, "  {}{}", printable(&it.name()), group.unwrap_or_default())?;
    if it.candidate.name.is_some() {
        writeln!(out, "      {}", printable(&it.uri().to_string()))?;
    }
    if let Some(port) = &it.candidate.port {
        let usb = port.usb.as_deref().map(|usb| format!("{}, ", printable(usb)));
        let device = port.device.display().to_string();
        writeln!(out, "      {}now {}", usb.unwrap_or_default(), printable(&device))?;
    }
    say_below(out, 6, &it.words())?;
    if let Some(stable) = it.better_path() {
        let stable = printable(&stable).into_owned();
        writeln!(out, "      another port may get this name: better {stable}")?;
    }
    Ok(())
}

/// A text in lines of a terminal of eighty columns, so far from its left edge.
pub(super) fn say_below(out: &mut impl io::Write, edge: usize, text: &str) -> io::Result<()> {
    let text = printable(text);
    for line in wrapped(text.split(' ').filter(|word| !word.is_empty()), 79 - edge, 0) {
        writeln!(out, "{:edge$}{line}", "")?;
    }
    Ok(())
}

fn print_json(out: &mut impl io::Write, found: &[Surveyed], needs: &[Need]) -> Result<(), Error> {
    for it in found.iter().filter(|it| it.is_worth_telling()) {
        json_line(out, &object(it))?;
    }
    json_line(out, &json!({ "needs": needs }))?;
    Ok(())
}

fn object(it: &Surveyed) -> Value {
    let traffic = &it.traffic;
    let serial = it.serial.as_ref();
    let port = it.candidate.port.as_ref();
    let [a, b, untold] = traffic.channels;
    let last = traffic.last.map(|last| it.until.since(last).as_millis() as f64 / 1000.0);
    let beacons: Vec<_> = traffic
        .beacons
        .iter()
        .map(|(mmsi, word)| json!({ "mmsi": mmsi.value(), "beacon_word": word }))
        .collect();
    json!({
        "input": it.candidate.name,
        "uri": it.uri().to_string(),
        "state": it.state(),
        "text": it.words(),
        "device": port.map(|port| port.device.display().to_string()),
        "usb": port.and_then(|port| port.usb.clone()),
        "group": it.candidate.group,
        "baud": serial.and_then(|serial| serial.fits),
        "garbled_at": serial.map(|serial| &serial.garbled),
        "sentences": traffic.sentences,
        "ships": traffic.ships.len(),
        "other_stations": traffic.others.len(),
        "channels": { "a": a, "b": b, "not_told": untold },
        "transponder": traffic.has_transponder,
        "fix": traffic.fix,
        "satellites": traffic.satellites,
        "heading": traffic.heading,
        "wind": traffic.wind,
        "calls": traffic.calls,
        "damaged": traffic.damaged,
        "without_checksum": traffic.without_checksum,
        "not_sentences": traffic.other_datagrams.values().sum::<u64>(),
        "last_s": last,
        "beacons": beacons,
    })
}

/// What nobody may overlook though this is no watch.
pub(super) fn alarms(found: &[Surveyed]) -> Vec<String> {
    let beacons = found.iter().flat_map(|it| &it.traffic.beacons).filter_map(|(mmsi, word)| {
        let what = match word {
            Some(BeaconWord::Test) => return None,
            Some(BeaconWord::Active) => "IS ACTIVE",
            Some(BeaconWord::Off | BeaconWord::Cancel) => "was switched off just now",
            None => "is on the air",
        };
        Some(format!("BEACON {mmsi} {what}. Count heads; start the watch now: overside watch"))
    });
    let calls = found.iter().any(|it| it.traffic.distress).then(|| {
        "A DISTRESS CALL came in by DSC. Look at the radio; start the watch now: overside watch"
            .to_owned()
    });
    let crew = found.iter().any(|it| it.traffic.overboard).then(|| {
        "A CREW ALARM on board was set off. Count heads; start the watch now: overside watch"
            .to_owned()
    });
    let mut all: Vec<_> = beacons.chain(calls).chain(crew).collect();
    all.sort();
    all.dedup();
    all
}

/// Shows what would be written, and writes it after a yes.
fn write(
    found: &[Surveyed],
    configured: &[Input],
    path: Option<&Path>,
    asks: bool,
) -> Result<ExitCode, Error> {
    let inputs = proposed(found, configured);
    if inputs.is_empty() {
        say("nothing was found that is not in the configuration");
        return Ok(ExitCode::Finding);
    }
    let refused = |why: crate::config::NotEntered| Error::new(why.what, why.hint);
    let change = app::InputChange::look(path, Path::new(NEW_FILE), &inputs).map_err(refused)?;
    let lines: String =
        change.difference().iter().map(|line| format!("  {}\n", printable(line))).collect();
    say(&format!("To be changed in {}:\n{lines}", change.path.display()));
    let yes = |text: &str| Ok(text.eq_ignore_ascii_case("y"));
    if asks && !super::muster::ask("Write it? y, or Enter for no", yes)? {
        say("nothing was written");
        return Ok(ExitCode::Finding);
    }
    change.write().map_err(refused)?;
    say("written; a watch that runs headless reads it again at SIGHUP");
    Ok(ExitCode::Done)
}
