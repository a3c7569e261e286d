//! `overside init`: a first configuration in one sitting.

use std::fs;
use std::io::{self, IsTerminal as _};
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::talk::say;
use super::{Common, Error, ExitCode};
use crate::app::{candidates, proposed, survey};
use crate::config::Config;
use crate::edge::create;
use crate::setup::{Answers, QUESTIONS, Session, Topic};
use crate::survey::{Met, Need, NeedKind, needs};
use crate::text::printable;

/// What is answered before anything is asked.
#[derive(Clone, Debug, clap::Args)]
pub struct InitArgs {
    /// The ship's name
    #[arg(long)]
    pub name: Option<String>,
    /// The ship's MMSI
    #[arg(long)]
    pub mmsi: Option<String>,
    /// The call sign
    #[arg(long)]
    pub call_sign: Option<String>,
    /// Somebody aboard, by name or role; may be given several times
    #[arg(long, value_name = "NAME")]
    pub person: Vec<String>,
    /// How many persons are aboard
    #[arg(long, value_name = "N")]
    pub persons_aboard: Option<String>,
    /// The beacon of a person, the lifejacket it is in and its battery's date; may be given several
    /// times
    #[arg(long, value_name = "NAME=MMSI[,JACKET[,DATE]]")]
    pub beacon: Vec<String>,
    /// The folder of the logbook and the recordings
    #[arg(long)]
    pub folder: Option<String>,
    /// Begin the watch with the computer: a unit of this user's systemd
    #[arg(long)]
    pub service: bool,
    /// Sound the alarm, to hear it
    #[arg(long)]
    pub sound: bool,
    /// Neither look for inputs nor write any: the watch looks for them itself
    #[arg(long)]
    pub no_inputs: bool,
    /// How long to listen for inputs
    #[arg(long, value_name = "SECONDS", default_value_t = 8,
          value_parser = clap::value_parser!(u32).range(2..=3600))]
    pub seconds: u32,
    /// Look at serial ports alone
    #[arg(long)]
    pub no_network: bool,
    /// Write without asking
    #[arg(long)]
    pub yes: bool,
    /// Look for serial ports under this folder, as for a test
    #[arg(long, hide = true, value_name = "FOLDER", default_value = "/")]
    pub root: PathBuf,
}

/// Asks, shows what comes of it, and writes it after a yes.
pub(super) fn run(args: &InitArgs, common: &Common) -> Result<ExitCode, Error> {
    let path = new_file(common)?;
    let asks = io::stdin().is_terminal() && io::stderr().is_terminal();
    let given = given(args);
    if !asks {
        check_given(&given, args.yes)?;
    }
    let mut answers = Answers::default();
    let mut met = None;
    if !args.no_inputs {
        (answers.inputs, met) = listen(args)?;
    }
    let answers = answer(answers, &given, args, asks)?;
    let refused = |why: crate::config::NotEntered| Error::new(why.what, why.hint);
    let text = answers.text(&path).map_err(refused)?;
    say(&format!("\nTo be written to {}:\n{}", path.display(), indented(&text)));
    let yes = |text: &str| Ok(text.eq_ignore_ascii_case("y"));
    let question = format!("Write it to {}? y, or Enter for no", path.display());
    if asks && !args.yes && !super::muster::ask(&question, yes)? {
        say("nothing was written");
        return Ok(ExitCode::Finding);
    }
    write_new(&path, &text)?;
    say(&format!("written: {}", path.display()));
    if answers.service {
        begin_with_the_computer(&path)?;
    }
    if answers.sound {
        let config = Config::parse(&text, &path).unwrap_or_default();
        super::sound_check::run(&config, common)?;
    }
    if let Some(met) = met {
        say(&met);
    }
    say("Next: overside watch. Then test each beacon: overside prove.");
    Ok(ExitCode::Done)
}

/// Where the configuration is written.
fn new_file(common: &Common) -> Result<PathBuf, Error> {
    let env = |name: &str| std::env::var_os(name);
    let path = Config::new_file(common.config.as_deref(), env).ok_or_else(|| {
        Error::new("no folder for the configuration is known", "name a file with --config")
    })?;
    // One that is found before it would be read in its place.
    let there = if path.symlink_metadata().is_ok() {
        Some(path.clone())
    } else if common.config.is_none() && env("OVERSIDE_CONFIG").is_none_or(|it| it.is_empty()) {
        Config::find(None, env).ok().flatten().map(|(_, path)| path)
    } else {
        None
    };
    match there {
        None => Ok(path),
        Some(there) => Err(Error::new(
            format!("{} is there already: nothing is overwritten", there.display()),
            "add to it with `overside muster add` and `overside inputs --write`, or name another file \
             with --config",
        )),
    }
}

/// What the options answer, by topic; of a beacon, by the name of who has it.
fn given(args: &InitArgs) -> Vec<(Topic, String)> {
    let yes = |is: bool| is.then(|| "y".to_owned());
    let persons = (!args.person.is_empty()).then(|| args.person.join(","));
    let all = [
        (Topic::Name, args.name.clone()),
        (Topic::Mmsi, args.mmsi.clone()),
        (Topic::CallSign, args.call_sign.clone()),
        (Topic::Persons, persons),
        (Topic::Aboard, args.persons_aboard.clone()),
        (Topic::Folder, args.folder.clone()),
        (Topic::Service, yes(args.service)),
        (Topic::Sound, yes(args.sound)),
    ];
    all.into_iter().filter_map(|(topic, text)| Some((topic, text?))).collect()
}

/// Without a terminal, whether nothing is lacking.
fn check_given(given: &[(Topic, String)], yes: bool) -> Result<(), Error> {
    let has = |topic| given.iter().any(|(it, _)| *it == topic);
    let needed = |topic| match topic {
        // It is counted.
        Topic::Aboard => !has(Topic::Persons),
        _ => true,
    };
    let lacking = QUESTIONS.iter().filter(|it| it.needed && !has(it.topic) && needed(it.topic));
    let mut lacking: Vec<&str> = lacking.map(|it| it.option).collect();
    lacking.extend((!yes).then_some("--yes"));
    match lacking.as_slice() {
        [] => Ok(()),
        lacking => Err(Error::new(
            format!("nobody can be asked, as this is no terminal; missing: {}", lacking.join(", ")),
            "give what is missing as options; overside help init shows them",
        )),
    }
}

/// Asks what is not given.
fn answer(
    answers: Answers,
    given: &[(Topic, String)],
    args: &InitArgs,
    asks: bool,
) -> Result<Answers, Error> {
    let mut session = Session::new(answers);
    if asks {
        say("Some short questions; Enter takes what is in brackets, Ctrl-C writes nothing.");
    }
    while let Some((topic, question)) = session.question() {
        let option = |it: &&(Topic, String)| it.0 == topic;
        let text = match given.iter().find(option) {
            Some((_, text)) => Some(text.clone()),
            None => of_person(&args.beacon, topic, session.person())?,
        };
        if let Some(text) = text {
            session
                .answer(&text)
                .map_err(|why| Error::new(format!("{text:?}: {why}"), "correct it"))?;
        } else if !asks {
            session.answer("").map_err(|why| Error::new(question, why))?;
        } else {
            session = super::muster::ask(&question, |line| {
                let mut next = session.clone();
                next.answer(line).map(|()| next)
            })?;
        }
    }
    let known = |name: &str| session.answers.carriers.iter().any(|it| it.person == name);
    for beacon in &args.beacon {
        let (name, _) = parted(beacon)?;
        if !known(name) {
            return Err(Error::new(
                format!("{name} has a beacon and is nobody aboard"),
                "give --person",
            ));
        }
    }
    Ok(session.answers)
}

/// `NAME=MMSI[,JACKET[,DATE]]`.
fn parted(text: &str) -> Result<(&str, Vec<&str>), Error> {
    let (name, rest) = text.split_once('=').ok_or_else(|| {
        Error::new(format!("{text:?} is no beacon"), "write NAME=MMSI, such as Mate=972000017")
    })?;
    Ok((name.trim(), rest.split(',').map(str::trim).collect()))
}

/// What the options say of a person's beacon: nothing of one of whom they say nothing.
fn of_person(
    beacons: &[String],
    topic: Topic,
    person: Option<&str>,
) -> Result<Option<String>, Error> {
    let place = match topic {
        Topic::Beacon => 0,
        Topic::Jacket => 1,
        Topic::Battery => 2,
        _ => return Ok(None),
    };
    for beacon in beacons {
        let (name, parts) = parted(beacon)?;
        if Some(name) == person {
            return Ok(Some(parts.get(place).copied().unwrap_or_default().to_owned()));
        }
    }
    Ok(None)
}

/// Listens for inputs: what is written of them, and which needs of a watch they meet.
fn listen(args: &InitArgs) -> Result<(Vec<crate::config::Input>, Option<String>), Error> {
    say(&format!("Listening for inputs, {} s; nothing is sent.", args.seconds));
    let all = candidates(Vec::new(), &args.root, !args.no_network);
    let time = Duration::from_secs(args.seconds.into());
    let found = super::block_on(async { Ok(survey(all, time).await) })?;
    for it in found.iter().filter(|it| it.is_worth_telling()) {
        say(&format!("  {}", printable(&it.name())));
        let _ = super::inputs::say_below(&mut anstream::stderr(), 6, &it.words());
    }
    for alarm in super::inputs::alarms(&found) {
        say(&alarm);
    }
    let inputs = proposed(&found, &[]);
    if inputs.is_empty() {
        say("Nothing that a watch needs. The watch goes on looking; `overside inputs` shows more.");
    }
    let heard: Vec<_> = found.iter().map(|it| (it.name(), &it.traffic)).collect();
    let needs = needs(heard.iter().map(|(name, traffic)| (name.as_str(), *traffic)));
    let counted = |it: &&Need| NeedKind::COUNTED.contains(&it.need);
    let needs: Vec<_> = needs.iter().filter(counted).collect();
    let lacking: Vec<_> = needs.iter().filter(|it| it.met != Met::Yes).collect();
    let met = needs.len() - lacking.len();
    let names: Vec<_> = lacking.iter().map(|it| it.need.name()).collect();
    let lacks =
        if names.is_empty() { String::new() } else { format!("; lacking: {}", names.join("; ")) };
    Ok((inputs, Some(format!("{met} of {} needs met{lacks}", needs.len()))))
}

/// Writes a file that is not there, in a folder that may have to be made.
fn write_new(path: &Path, text: &str) -> Result<(), Error> {
    let made = path.parent().map_or(Ok(()), fs::create_dir_all);
    made.and_then(|()| create(path, text)).map_err(|why| {
        let hint = match why.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
                "make room on the disk, or name a file on another with --config"
            }
            _ => "check who may write its folder, or name another file with --config",
        };
        Error::new(format!("{} was not written: {why}", path.display()), hint)
    })
}

/// Where the package puts its unit.
const PACKAGED: &str = "/usr/lib/systemd/system/overside.service";

/// Writes a unit of this user's systemd, or says where the package has put one.
fn begin_with_the_computer(configuration: &Path) -> Result<(), Error> {
    if Path::new(PACKAGED).exists() {
        say(&format!(
            "The package has a service, which reads /etc/overside/overside.toml: copy {} there, then \
             sudo systemctl enable --now overside",
            configuration.display()
        ));
        return Ok(());
    }
    let env = |name: &str| std::env::var_os(name).filter(|it| !it.is_empty()).map(PathBuf::from);
    let folder = env("XDG_CONFIG_HOME").or_else(|| env("HOME").map(|home| home.join(".config")));
    let Some(folder) = folder else {
        return Err(Error::new("no folder for the unit is known", "set HOME"));
    };
    let unit = folder.join("systemd/user/overside.service");
    if unit.exists() {
        say(&format!("{} is there already: it is left as it is", unit.display()));
        return Ok(());
    }
    let program = std::env::current_exe().unwrap_or_else(|_| "overside".into());
    let absolute = std::path::absolute(configuration).unwrap_or_else(|_| configuration.to_owned());
    write_new(&unit, &unit_text(&program, &absolute))?;
    say(&format!(
        "written: {}\nBegin it now and with the computer:\n  systemctl --user enable --now overside\n  \
         sudo loginctl enable-linger $USER",
        unit.display()
    ));
    Ok(())
}

/// The unit: begun again whatever happens, and when its loop no more turns.
fn unit_text(program: &Path, configuration: &Path) -> String {
    // The words of a unit, after systemd.syntax(7) and systemd.service(5), "Command lines".
    let quoted = |path: &Path| {
        let text: String = path.display().to_string().chars().map(in_unit).collect();
        format!("\"{text}\"")
    };
    format!(
        "[Unit]\nDescription=Watch for survivor beacons on AIS\nStartLimitIntervalSec=0\n\n\
         [Service]\nType=notify\nExecStart={} watch --headless --config {}\n\
         ExecReload=/bin/sh -c \"kill -HUP $MAINPID\"\nWatchdogSec=20\nRestart=always\nRestartSec=1\n\
         TimeoutStopSec=10\n\n[Install]\nWantedBy=default.target\n",
        quoted(program),
        // Variables are put into all words but the first.
        quoted(configuration).replace('$', "$$")
    )
}

/// A character of a word in quotes in a unit.
fn in_unit(c: char) -> String {
    match c {
        '%' => "%%".to_owned(),
        '"' | '\\' => format!("\\{c}"),
        c if c.is_ascii_control() => format!("\\x{:02x}", u32::from(c)),
        c => c.to_string(),
    }
}

fn indented(text: &str) -> String {
    let line = |line| format!("  {}", printable(line)).trim_end().to_owned() + "\n";
    text.lines().map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_of_any_letters_is_one_word_of_the_unit() {
        let program = Path::new("/opt/a $b/overside");
        let unit = unit_text(program, Path::new("/home/m $HOME/50%/\"x\"\\\n[Service]/o.toml"));
        let begin = unit.lines().find(|line| line.starts_with("ExecStart=")).unwrap();
        assert_eq!(
            begin,
            "ExecStart=\"/opt/a $b/overside\" watch --headless --config \
             \"/home/m $$HOME/50%%/\\\"x\\\"\\\\\\x0a[Service]/o.toml\""
        );
        assert_eq!(unit.lines().filter(|line| line.starts_with('[')).count(), 3);
    }
}
