//! `--helm`: the page at the helm, beside a watch or a replay.

use std::io::{self, IsTerminal as _, Write as _};

use super::{Error, ExitCode};
use crate::config::{Config, Helm};
use crate::edge::{StandardError, remembered};
use crate::helm::{self, Settings};

/// Whether there is a page at the helm, and where.
#[derive(Clone, Debug, clap::Args)]
pub struct HelmArgs {
    /// Serve a page for phones at this address of this computer, such as 192.168.1.5:8010
    #[arg(long, value_name = "ADDR:PORT")]
    pub helm: Option<String>,
}

/// The page that is wanted, after the arguments and the configuration; where it is, is told.
pub(super) fn settings(args: &HelmArgs, config: &Config) -> Result<Option<Settings>, Error> {
    let listen = args.helm.clone().or_else(|| config.helm.listen.clone());
    let helm = Helm { listen, ..config.helm.clone() };
    let address = helm.address().map_err(|why| {
        let (what, hint) = why.split_once(": ").unwrap_or((&why, "correct it"));
        Error::new(format!("the address of the page at the helm {what}"), hint)
    })?;
    let Some(listen) = address else { return Ok(None) };
    let code = helm::new_code()
        .map_err(|why| Error::new(format!("cannot make a code: {why}"), "start it again later"))?;
    let settings = Settings {
        listen,
        code,
        may_acknowledge: helm.may_acknowledge,
        folder: remembered::folder(|name| std::env::var_os(name)),
        vessel: super::vessel(config),
    };
    let _ = writeln!(StandardError::get(), "{}", settings.words(io::stderr().is_terminal()));
    Ok(Some(settings))
}

/// Forgets all phones.
pub(super) fn forget() -> Result<ExitCode, Error> {
    let Some(folder) = remembered::folder(|name| std::env::var_os(name)) else {
        return Err(Error::new(
            "there is no folder in which phones are kept: neither $XDG_STATE_HOME nor $HOME is set",
            "a watch that was begun like this forgets them when it ends",
        ));
    };
    let count = helm::forget(&folder)
        .map_err(|why| Error::new(format!("{}: {why}", folder.display()), "may it be written?"))?;
    let phones = if count == 1 { "phone is" } else { "phones are" };
    let _ = writeln!(StandardError::get(), "{count} {phones} forgotten: each needs the code again");
    StandardError::settle(std::time::Duration::from_secs(1));
    Ok(ExitCode::Done)
}
