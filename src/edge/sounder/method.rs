//! The ways out of a sound, and the programs behind them.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use super::{SounderSettings, Sounding, wave};
use crate::edge::process::Process;
use crate::time::Mono;

/// The players that are looked for, with what keeps them quiet on the terminal.
const PLAYERS: [(&str, &[&str]); 3] = [("pw-play", &[]), ("paplay", &[]), ("aplay", &["-q"])];

/// A way out of a sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SoundMethod {
    /// The configured command.
    Command,
    /// A player that was found on the system.
    Player(&'static str),
    /// The terminal's bell.
    Bell,
}

impl fmt::Display for SoundMethod {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Command => f.write_str("command"),
            Self::Player(name) => f.write_str(name),
            Self::Bell => f.write_str("terminal bell"),
        }
    }
}

/// The first player on a search path such as that in `$PATH`, and where it is.
pub(super) fn player(path: &std::ffi::OsStr) -> Option<(&'static str, PathBuf)> {
    PLAYERS.iter().find_map(|&(name, _)| Some((name, find(path, name)?)))
}

/// Where on a search path a program is.
fn find(path: &std::ffi::OsStr, name: &str) -> Option<PathBuf> {
    std::env::split_paths(path).map(|folder| folder.join(name)).find(|it| is_program(it))
}

fn is_program(path: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        std::fs::metadata(path)
            .is_ok_and(|file| file.is_file() && file.permissions().mode() & 0o111 != 0)
    }
    #[cfg(not(unix))]
    path.is_file()
}

/// Starts the program of a way; a player was found at `player`. Never through a shell: what is put in for the placeholders stays
/// one argument.
pub(super) fn start(
    way: SoundMethod,
    settings: &SounderSettings,
    player: Option<&Path>,
    sounding: &Sounding,
    folder: &Path,
    now: Mono,
) -> io::Result<Process> {
    let sound = wave::file(folder, sounding.priority)?;
    let argv = match way {
        SoundMethod::Command => {
            filled(settings.command.as_deref().unwrap_or_default(), sounding, &sound)
        }
        SoundMethod::Player(name) => {
            let options = PLAYERS.iter().find(|(player, _)| *player == name);
            let options = options.map_or(&[][..], |(_, options)| options);
            let program = player.unwrap_or(Path::new(name));
            let mut argv = vec![program.to_string_lossy().into_owned()];
            argv.extend(options.iter().map(|&option| option.to_owned()));
            argv.push(sound.to_string_lossy().into_owned());
            argv
        }
        SoundMethod::Bell => Vec::new(),
    };
    let until = now + wave::length(sounding.priority) + settings.hangs_after;
    Process::start(&argv, None, until)
}

/// The command with its placeholders filled in.
fn filled(command: &[String], sounding: &Sounding, sound: &Path) -> Vec<String> {
    let (priority, cause) = (sounding.priority.word(), sounding.cause.word());
    let mmsi = sounding.mmsi.map(|mmsi| mmsi.to_string()).unwrap_or_default();
    let sound = sound.to_string_lossy();
    let fill = |argument: &String| {
        argument
            .replace("{sound}", &sound)
            .replace("{priority}", priority)
            .replace("{cause}", cause)
            .replace("{mmsi}", &mmsi)
    };
    command.iter().map(fill).collect()
}

/// A folder of our own for the sounds: `$XDG_RUNTIME_DIR/overside`, else one under the folder for
/// temporary files that nobody else can have made before.
pub(super) fn folder() -> PathBuf {
    let runtime = std::env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from);
    match runtime.filter(|path| path.is_absolute()) {
        Some(path) => path.join("overside"),
        None => std::env::temp_dir().join(format!("overside-{:016x}", fastrand::u64(..))),
    }
}
