//! `overside watch`: the live watch.

use super::story::Story;
use super::{Common, Error, ExitCode};
use crate::app;
use crate::edge::InputUri;

/// What the live watch is told.
#[derive(Debug, clap::Args)]
pub struct WatchArgs {
    /// No screen: print events on standard output
    #[arg(long)]
    pub headless: bool,
    /// Read this input: serial:PATH?baud=N, udp://HOST:PORT, tcp://HOST:PORT, file:PATH, or - for
    /// standard input; may be given several times
    #[arg(long, value_name = "URI")]
    pub input: Vec<String>,
}

/// Keeps the watch until it is ended.
pub(super) fn run(args: &WatchArgs, common: &Common) -> Result<ExitCode, Error> {
    let config = super::configuration(common)?;
    let given = args.input.iter().map(|uri| (uri.clone(), uri.clone()));
    let configured = config.inputs.iter().map(|input| (input.name.clone(), input.uri.clone()));
    let inputs =
        if args.input.is_empty() { configured.collect() } else { given.collect::<Vec<_>>() };
    if inputs.is_empty() {
        return Err(Error::new(
            "there is no input to watch",
            "give one, such as --input udp://0.0.0.0:10110, or an [[input]] in the configuration",
        ));
    }
    let parse = |(name, uri): (String, String)| match uri.parse::<InputUri>() {
        Ok(uri) => Ok((name, uri)),
        Err(why) => Err(Error::new(
            format!("input {name}: {why}"),
            "correct it; `overside watch --help` shows the forms",
        )),
    };
    let inputs = inputs.into_iter().map(parse).collect::<Result<Vec<_>, _>>()?;
    let typed = inputs.iter().any(|(_, uri)| *uri == InputUri::Stdin);
    if super::wants_screen(args.headless || typed, common) {
        let mut display = super::display()?;
        super::block_on(app::watch(&inputs, app::settings(&config), &mut display))?;
        return Ok(ExitCode::Done);
    }
    let mut story = Story::new(anstream::stdout().lock(), common.json);
    super::block_on(app::watch(&inputs, app::settings(&config), &mut story))?;
    Ok(ExitCode::Done)
}
