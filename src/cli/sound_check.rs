//! `overside watch --sound-check`: sounds the alarm by every way, because one that nobody can hear is
//! worse than none.

use std::io::{self, IsTerminal as _, Write as _};
use std::sync::mpsc;
use std::time::Duration;

use super::{Common, Error, ExitCode};
use crate::config::Config;
use crate::edge::{Clock, SoundMethod, Sounder, SounderReport, SounderSettings};
use crate::text::{json_line, printable};

/// How long a program may go on after its sound.
pub(super) const HANGS_AFTER: Duration = Duration::from_secs(5);

/// How a configured watch sounds. `bell`: whether there is a terminal that can ring.
pub(super) fn settings(config: &Config, bell: bool) -> SounderSettings {
    SounderSettings {
        command: config.alarm.command.clone(),
        sound: config.alarm.sound,
        bell,
        path: std::env::var_os("PATH").unwrap_or_default(),
        hangs_after: HANGS_AFTER,
    }
}

/// Sounds, and says how that went.
pub(super) fn run(config: &Config, common: &Common) -> Result<ExitCode, Error> {
    let bell = io::stderr().is_terminal();
    let settings = settings(config, bell);
    let (tx, reports) = mpsc::channel();
    let told = move |report| {
        let _ = tx.send(report);
    };
    let sounder = Sounder::start(settings, Clock::start(), told)
        .map_err(|why| Error::new(format!("cannot start: {why}"), "check the limit of threads"))?;
    sounder.check();
    let mut out = anstream::stdout().lock();
    let mut works = false;
    let failed = |why| Error::unwritable("standard output", &why);
    for report in reports {
        match report {
            SounderReport::Ring => {
                let _ = io::stderr().write_all(b"\x07");
            }
            SounderReport::Checked { way, heard } => {
                works |= heard.is_ok() && way != SoundMethod::Bell;
                let said = match &heard {
                    Ok(()) if way == SoundMethod::Bell => {
                        "rung; a terminal does not say if it is heard"
                    }
                    Ok(()) => "works",
                    Err(why) => why,
                };
                if common.json {
                    let object = serde_json::json!({
                        "way": way.to_string(), "works": heard.is_ok(), "text": said,
                    });
                    json_line(&mut out, &object).map_err(failed)?;
                } else {
                    writeln!(out, "{way}: {}", printable(said)).map_err(failed)?;
                }
            }
            SounderReport::CheckEnded => break,
            _ => {}
        }
    }
    if !common.json {
        let end = if works {
            "Did you hear it, where the watchkeeper sleeps? Three short tones, once for each way."
        } else {
            "No command and no player sounds. Set [alarm] command, or install pw-play, paplay or \
             aplay."
        };
        writeln!(out, "{}", super::talk::parted(end)).map_err(failed)?;
    }
    Ok(if works { ExitCode::Done } else { ExitCode::Finding })
}
