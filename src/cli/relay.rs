//! `overside relay`: inputs to outputs.

use std::io::Write as _;
use std::path::PathBuf;

use super::watch::{inputs, output};
use super::{Common, Error, ExitCode};
use crate::app;
use crate::config::{self, Config};
use crate::edge::StandardError;
use crate::edge::output::Output;
use crate::outputs::What;
use crate::text::printable;

/// What is passed on, and where.
#[derive(Clone, Debug, clap::Args)]
pub struct RelayArgs {
    /// Read this input, as of watch; may be given several times
    #[arg(long, value_name = "URI")]
    pub input: Vec<String>,
    /// Pass on what is heard to this output: mqtt://HOST/overside/STATION, mqtts://…, udp://HOST:PORT,
    /// tcp-listen://HOST:PORT, serial:PATH?baud=N or file:PATH; may be given several times
    #[arg(long, value_name = "URI")]
    pub output: Vec<String>,
    /// Keep what cannot be sent in this folder, instead of the configured one
    #[arg(long, value_name = "FOLDER")]
    pub storage: Option<PathBuf>,
}

/// Passes on until it is ended.
pub(super) fn run(args: &RelayArgs, common: &Common) -> Result<ExitCode, Error> {
    let config = super::configuration(common)?;
    let inputs = inputs(&args.input, &config)?;
    let outputs = outputs(args, &config)?;
    let say = |text: &str| drop(writeln!(StandardError::get(), "{}", printable(text)));
    super::block_on(app::relay(inputs, outputs, say))?;
    Ok(ExitCode::Done)
}

/// The outputs: those that were given, else those of the configuration.
fn outputs(args: &RelayArgs, config: &Config) -> Result<Vec<Output>, Error> {
    let given = args.output.iter().map(|uri| config::Output::heard(uri.clone()));
    let wanted: Vec<_> =
        if args.output.is_empty() { config.outputs.clone() } else { given.collect() };
    if wanted.is_empty() {
        return Err(Error::new(
            "there is no output to relay to",
            "give one, such as --output mqtt://192.0.2.10/overside/pier, or an [[output]] in the \
             configuration",
        ));
    }
    if let Some(other) = wanted.iter().find(|it| it.what != [What::Heard]) {
        return Err(Error::new(
            format!("output {} says more than what is heard", other.name),
            "a relay keeps no watch: write what = [\"heard\"], or use `overside watch`",
        ));
    }
    let folder = super::logbook_folder(args.storage.as_deref(), config).ok();
    wanted.iter().map(|it| output(it, folder.as_deref())).collect()
}
