//! `overside watch`: the live watch.

use std::io::{self, IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::event_printer::EventPrinter;
use super::helm::HelmArgs;
use super::{Common, Error, ExitCode};
use crate::app::{self, Finds, Plan};
#[cfg(unix)]
use crate::attach::Shared;
use crate::capture::Retention;
use crate::config::{Config, Helm};
use crate::edge::output::{BadOutputUri, Output, OutputUri};
use crate::edge::{Hook, InputUri, NonBlockingWriter, SounderSettings, StandardError};
use crate::frontend::Frontend;
use crate::helm::{self, AtHelm};
use crate::outputs::{Form, Wants};

/// What the live watch is told.
#[derive(Clone, Debug, clap::Args)]
pub struct WatchArgs {
    /// No screen: print events on standard output
    #[arg(long)]
    pub headless: bool,
    /// Read this input: serial:PATH?baud=N, udp://HOST:PORT, tcp://HOST:PORT, mqtt://HOST for
    /// the stations at a broker, file:PATH, or - for standard input; may be given several times
    #[arg(long, value_name = "URI")]
    pub input: Vec<String>,
    /// Keep the logbook and the recordings in this folder, instead of the configured one
    #[arg(long, value_name = "FOLDER")]
    pub storage: Option<PathBuf>,
    /// Do not record what the inputs say
    #[arg(long)]
    pub no_record: bool,
    /// Who keeps the watch, to be written down with every act
    #[arg(long, value_name = "WHO")]
    pub by: Option<String>,
    /// The page at the helm.
    #[command(flatten)]
    pub helm: HelmArgs,
    /// Forget all phones that have given the code of the page at the helm, and end
    #[arg(long)]
    pub helm_forget: bool,
    /// Look for serial ports under this folder, as for a test
    #[arg(long, hide = true, value_name = "FOLDER", default_value = "/")]
    pub root: PathBuf,
    /// Where datagrams are received if no input is named, as for a test
    #[arg(long, hide = true, value_name = "PORT", default_value_t = 10_110)]
    pub udp_port: u16,
    /// Sound the alarm once by every way there is, say which work, and end
    #[arg(long)]
    pub sound_check: bool,
}

/// Keeps the watch until it is ended.
pub(super) fn run(args: &WatchArgs, common: &Common) -> Result<ExitCode, Error> {
    let (config, file) = super::configuration_file(common)?.unzip();
    let config = config.unwrap_or_default();
    if args.sound_check {
        return super::sound_check::run(&config, common);
    }
    if args.helm_forget {
        return super::helm::forget();
    }
    let helm = super::helm::settings(&args.helm, &config)?;
    let plan = Plan { configuration: file, ..plan(args, &config)? };
    let typed = plan.inputs.iter().any(|(_, uri)| *uri == InputUri::Stdin);
    if super::wants_screen(args.headless || typed, common) {
        let finds = plan.finds.clone();
        if let Some(finds) = &finds {
            say(&finds.words());
        }
        let display = super::display(&config)?;
        let sounder = SounderSettings { bell: true, ..plan.sounder.clone() };
        // A hang-up is the end of the terminal: nothing is read again.
        let plan = Plan { sounder, ..plan };
        super::block_on(async { keep(plan, || None, display, &config, helm).await.0 })?;
        if finds.is_some() {
            say_how_to_keep(common);
        }
        return Ok(ExitCode::Done);
    }
    let plan = without_keys(plan);
    let finds = plan.finds.is_some();
    let writer = NonBlockingWriter::stdout()
        .map_err(|why| Error::new(format!("cannot start: {why}"), "check the limit of threads"))?;
    let printer = EventPrinter::new(super::out(&writer), common.json);
    let (again, from, before) = (args.clone(), common.clone(), config.helm.clone());
    let reload = move || read_again(&again, &from, &before).map(without_keys);
    let mut printed = Ok(());
    let done = super::block_on(async {
        let (done, printer) = keep(plan, reload, printer, &config, helm).await;
        printed = printer.map_or(Ok(()), |mut it| it.flush());
        done
    });
    writer.settle(Duration::from_secs(2));
    done?;
    if finds {
        say_how_to_keep(common);
    }
    printed.map_err(|why| Error::unwritable("standard output", &why))?;
    Ok(ExitCode::Done)
}

/// Keeps the watch, and lets others on this computer look at it. Gives its own front back, if that
/// was not lost.
async fn keep<F: Frontend>(
    plan: Plan,
    reload: impl Fn() -> Option<Plan> + Send + Sync + 'static,
    front: F,
    config: &Config,
    helm: Option<helm::Settings>,
) -> (Result<(), app::Error>, Option<F>) {
    #[cfg(unix)]
    {
        let env = |name: &str| std::env::var_os(name);
        let shared = Shared::open(front, super::vessel(config), env);
        let door = shared.door().map(Path::to_owned);
        let with_door = move |plan| Plan { door: door.clone(), ..plan };
        let plan = with_door(plan);
        let reload = move || reload().map(&with_door);
        let mut front = AtHelm::open(shared, helm);
        let done = app::watch(plan, reload, &mut front).await;
        (done, front.into_own().into_own())
    }
    #[cfg(not(unix))]
    {
        let (mut front, _) = (AtHelm::open(front, helm), config);
        (app::watch(plan, reload, &mut front).await, Some(front.into_own()))
    }
}

/// At the end of a watch for which no input is named, tells how to name them; not if that was done.
fn say_how_to_keep(common: &Common) {
    if super::configuration(common).is_ok_and(|config| config.inputs.is_empty()) {
        say(
            "This watch found its inputs by itself. To write them down:\n  overside inputs --write",
        );
        StandardError::settle(Duration::from_secs(1));
    }
}

/// Tells whoever began it.
fn say(text: &str) {
    let _ = writeln!(StandardError::get(), "{}", super::talk::parted(text));
}

/// How long a hook may run before it counts as hanging.
const HOOK_HANGS_AFTER: Duration = Duration::from_secs(30);

fn hook(hook: &crate::config::Hook) -> Hook {
    Hook { command: hook.command.clone(), from: hook.from, hangs_after: HOOK_HANGS_AFTER }
}

/// The folder of what cannot be sent, in that of the logbook.
const UNSENT: &str = "unsent";

pub(super) fn output(
    output: &crate::config::Output,
    folder: Option<&Path>,
) -> Result<Output, Error> {
    let mut uri = output.uri.parse().map_err(|why: BadOutputUri| {
        Error::new(format!("output {}: {why}", output.name), "correct it; `overside config check`")
    })?;
    let wants = Wants {
        what: output.what.clone(),
        inputs: output.inputs.clone(),
        every: Duration::from_secs(60) / output.rate.max(1),
        form: Form { mob: output.mob, steer: output.steer },
        accept: output.accept,
    };
    if let OutputUri::Mqtt(broker) = &mut uri
        && broker.spool.is_none()
    {
        let station = broker.topic.replace('/', "-");
        broker.spool = folder.map(|it| it.join(UNSENT).join(station));
    }
    Ok(Output { name: output.name.clone(), uri, wants })
}

/// The plan where nobody has a key to answer with.
fn without_keys(mut plan: Plan) -> Plan {
    if plan.settings.asking.take().is_some() {
        tracing::warn!("watch.awake_every_min does nothing without a screen: nobody can answer");
    }
    plan
}

/// The plan of a configuration that has changed; one that is wrong changes nothing.
fn read_again(args: &WatchArgs, common: &Common, before: &Helm) -> Option<Plan> {
    let read = super::configuration(common).and_then(|config| Ok((plan(args, &config)?, config)));
    match read {
        Ok((plan, config)) => {
            if config.helm != *before {
                tracing::warn!(
                    "[helm] has changed: the page at the helm goes on as before until the watch is \
                     begun again"
                );
            }
            Some(plan)
        }
        Err(why) => {
            tracing::error!("the configuration before goes on: {why}");
            None
        }
    }
}

/// The inputs: those that were given, else those of the configuration.
pub(super) fn inputs(given: &[String], config: &Config) -> Result<Vec<(String, InputUri)>, Error> {
    let configured = config.inputs.iter().map(|input| (input.name.clone(), input.uri.clone()));
    let inputs: Vec<_> = match given {
        [] => configured.collect(),
        given => given.iter().map(|uri| (uri.clone(), uri.clone())).collect(),
    };
    if inputs.is_empty() {
        return Err(Error::new(
            "there is no input to watch",
            "`overside inputs` shows what is connected, and writes it down with --write; or give one, such \
             as --input udp://0.0.0.0:10110",
        ));
    }
    let parse = |(name, uri): (String, String)| match uri.parse::<InputUri>() {
        Ok(uri) => Ok((name, uri)),
        Err(why) => Err(Error::new(
            format!("input {name}: {why}"),
            "correct it; `overside watch --help` shows the forms",
        )),
    };
    let inputs: Vec<(String, InputUri)> =
        inputs.into_iter().map(parse).collect::<Result<_, _>>()?;
    let file = |(_, uri): &'_ (String, InputUri)| match uri {
        InputUri::File(path) => Some(path.clone()),
        _ => None,
    };
    super::check_files(&inputs.iter().filter_map(file).collect::<Vec<_>>())?;
    Ok(inputs)
}

/// What the watch is to do, after the arguments and the configuration.
fn plan(args: &WatchArgs, config: &Config) -> Result<Plan, Error> {
    // Without any a watch finds what is connected: one that hears something is better than none.
    let is_named = !args.input.is_empty() || !config.inputs.is_empty();
    let inputs = if is_named { inputs(&args.input, config)? } else { Vec::new() };
    let finds = (!is_named).then(|| Finds {
        root: args.root.clone(),
        port: args.udp_port,
        new_file: super::inputs::NEW_FILE.into(),
    });
    let keep =
        Retention { days: config.storage.keep_days, disk_percent: config.storage.keep_percent };
    let folder = super::logbook_folder(args.storage.as_deref(), config).ok();
    Ok(Plan {
        inputs,
        finds,
        settings: app::live_settings(config),
        muster: app::subjects(config),
        sounder: super::sound_check::settings(config, io::stderr().is_terminal()),
        hooks: config.hooks.iter().map(hook).collect(),
        outputs: config
            .outputs
            .iter()
            .map(|it| output(it, folder.as_deref()))
            .collect::<Result<_, _>>()?,
        keeps_logbook: true,
        folder,
        configuration: None,
        record: (config.storage.record && !args.no_record).then_some(keep),
        door: None,
        watchkeeper: args.by.clone(),
    })
}
