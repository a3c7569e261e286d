//! `overside rehearse --live`: a rehearsal in real time.

use std::fmt::Write as _;
use std::io;
use std::time::Duration;

use super::RehearseArgs;
use crate::cli::{Error, ExitCode, Speed};
use crate::edge::{Clock, InputUri, LineOutput};
use crate::mmsi::Mmsi;
use crate::rehearse::{Destination, Scenario};
use crate::time::{Mono, Utc};

/// Plays the scenario from now on, until its end or Ctrl-C.
pub(super) fn play(args: &RehearseArgs, to: &str, scenario: Scenario) -> Result<ExitCode, Error> {
    let destination = destination(to)?;
    destination.admits(&scenario, args.to_network).map_err(|why| {
        Error::new(format!("{} is not played to {to}: {why}", args.scenario.display()), why.hint())
    })?;
    let (output, name) = open(destination).map_err(|why| {
        let hint = "check the address, or play to udp://127.0.0.1:10110";
        Error::new(format!("cannot play to {to}: {why}"), hint)
    })?;
    let clock = Clock::start();
    let scenario = scenario.starting(rounded(clock.now().utc));
    announce(args, &scenario, &name);
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.map_err(|why| {
        Error::new(format!("cannot start: {why}"), "check how many files the program may open")
    })?;
    let played = runtime.block_on(async {
        tokio::select! {
            played = lines(args.speed, &scenario, output, &clock) => played,
            _ = tokio::signal::ctrl_c() => Ok(()),
        }
    });
    conclude(args.speed, &scenario, &clock);
    played.map_err(|why| {
        Error::new(
            format!("cannot play to {name}: {why}"),
            "check that the address can be reached from this computer",
        )
    })?;
    Ok(ExitCode::Done)
}

/// Sends each line when its time has come.
async fn lines(
    speed: Option<Speed>,
    scenario: &Scenario,
    mut output: LineOutput,
    clock: &Clock,
) -> io::Result<()> {
    let begun = clock.now().at;
    for line in scenario.lines() {
        if let Some(speed) = pace(speed) {
            let after_s = line.at.ms_since(scenario.start()) as f64 / 1000.0 / speed;
            let due = Duration::try_from_secs_f64(after_s).unwrap_or(Duration::MAX);
            let wait = due.saturating_sub(clock.now().at.since(begun));
            if !wait.is_zero() {
                tokio::time::sleep(wait).await;
            }
        }
        output.send(scenario.tagged(&line).as_bytes())?;
        // Ctrl-C is heard here, where nothing waits.
        tokio::task::yield_now().await;
    }
    Ok(())
}

/// How many times as fast as the scenario; None without waiting.
const fn pace(speed: Option<Speed>) -> Option<f64> {
    match speed {
        Some(Speed::Times(times)) => Some(times),
        Some(Speed::Max) => None,
        None => Some(1.0),
    }
}

/// Where it is to be played. A serial port is refused, however it is written.
fn destination(to: &str) -> Result<Destination, Error> {
    if to == "pty" {
        return Ok(Destination::PseudoTerminal);
    }
    let refuse = |what: &str, hint: &str| Error::new(format!("{to} is {what}"), hint);
    match to.parse() {
        Ok(InputUri::Udp(address)) => Ok(Destination::Udp(address)),
        Ok(InputUri::Serial { .. }) => Err(refuse(
            "a serial port: a rehearsal is never written to one: a transponder or a radio may be connected to it",
            "play to udp://127.0.0.1:10110, or to a pseudo-terminal: --live pty",
        )),
        Ok(InputUri::File(path)) => Err(refuse(
            "nowhere that a rehearsal can be played to",
            &format!("write the capture with --to {}", path.display()),
        )),
        // What begins like a path may be a port's.
        Ok(_) | Err(_) => Err(refuse(
            "nowhere that a rehearsal can be played to; a serial port never is",
            "play to udp://127.0.0.1:10110, or to a pseudo-terminal: --live pty",
        )),
    }
}

/// The output, and the name under which an input takes what it sends.
fn open(destination: Destination) -> io::Result<(LineOutput, String)> {
    match destination {
        Destination::Udp(address) => {
            Ok((LineOutput::udp(address)?, InputUri::Udp(address).to_string()))
        }
        Destination::PseudoTerminal => {
            let (output, path) = LineOutput::pseudo_terminal()?;
            Ok((output, InputUri::Serial { path, baud: 38_400 }.to_string()))
        }
    }
}

/// To the nearest second.
fn rounded(now: Utc) -> Utc {
    let seconds = (now.unix_ms() + 500).div_euclid(1000);
    Utc::from_unix_ms(seconds.saturating_mul(1000)).unwrap_or(now)
}

/// Says what is being played, and that it is a rehearsal. How long a drill goes on would tell when
/// its casualty begins.
fn announce(args: &RehearseArgs, scenario: &Scenario, name: &str) {
    let mut text =
        format!("playing {} to {name} from {} on", args.scenario.display(), { scenario.start() });
    let whole = scenario.duration().as_secs();
    if scenario.is_drill() {
        let _ = write!(text, ": DRILL, somebody goes overboard within {} min", args.within);
    } else {
        let _ = write!(text, ", for {} min {} s", whole / 60, whole % 60);
    }
    let identities: Vec<String> =
        scenario.beacon_identities().iter().map(Mmsi::to_string).collect();
    if !identities.is_empty() {
        let _ =
            write!(text, "\nidentities {} are being sent as a rehearsal", identities.join(", "));
    }
    tell(&text);
}

/// Says when a drill's casualty began, if it did.
fn conclude(speed: Option<Speed>, scenario: &Scenario, clock: &Clock) {
    let casualty = scenario.is_drill().then(|| scenario.casualty_after()).flatten();
    let Some(after) = casualty else { return };
    // The count began with the first line.
    let passed = clock.now().at.since(Mono::START);
    let begun = pace(speed).is_none_or(|pace| passed.as_secs_f64() * pace >= after.as_secs_f64());
    if begun {
        let minutes = after.as_secs_f64() / 60.0;
        let at = scenario.start().plus(after);
        tell(&format!(
            "somebody went overboard in the drill at {at}, {minutes:.1} min after the start"
        ));
    } else {
        tell("the drill ended before anybody went overboard");
    }
}

/// A line on standard error. If that is gone, there is nobody left to tell.
fn tell(text: &str) {
    use std::io::Write as _;
    let _ = writeln!(anstream::stderr().lock(), "{text}");
}
