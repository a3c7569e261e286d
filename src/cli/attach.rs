//! `overside attach`: one more screen on a watch that runs.

use std::path::PathBuf;

use super::{Common, Error, ExitCode};

/// Which watch is looked at.
#[derive(Clone, Debug, clap::Args)]
pub struct AttachArgs {
    /// The watch that keeps its logbook in this folder; else in the configured one, else the only
    /// watch that runs
    #[arg(long, value_name = "FOLDER")]
    pub folder: Option<PathBuf>,
}

/// Looks at a watch until its screen is left.
#[cfg(unix)]
pub(super) fn run(args: &AttachArgs, common: &Common) -> Result<ExitCode, Error> {
    use std::io::IsTerminal as _;
    if !std::io::stdin().is_terminal() || !std::io::stdout().is_terminal() {
        return Err(Error::new("there is no terminal to look at the watch on", "run it on one"));
    }
    let path = here::find(args, common)?;
    super::block_on(async { Ok(here::look(&path).await) })??;
    Ok(ExitCode::Done)
}

/// There are no such sockets here.
#[cfg(not(unix))]
pub(super) fn run(_: &AttachArgs, _: &Common) -> Result<ExitCode, Error> {
    Err(Error::new(
        "a watch cannot be looked at from elsewhere on this system",
        "look at the screen of the watch itself",
    ))
}

#[cfg(unix)]
mod here {
    use std::io::{self, Write as _};
    use std::path::{Path, PathBuf};
    use std::time::Duration;

    use crossterm::event::Event;
    use futures_util::{SinkExt as _, StreamExt as _};
    use tokio::net::UnixStream;
    use tokio_util::codec::{FramedRead, FramedWrite};

    use super::super::{Common, Error, display};
    use super::AttachArgs;
    use crate::app;
    use crate::attach::{COLOURS, DRAWN, Hello, LONGEST_DRAWN, LONGEST_SAID, Said, VERSION, cut};
    use crate::edge::{NonBlockingWriter, StandardError, door_of, doors};
    use crate::screen::Terminal;
    use crate::text::printable;

    /// What to do where no watch can be looked at.
    const BEGIN: &str = "begin one with `overside watch`, or name the folder of its logbook with \
                         --folder; another user's needs sudo";

    /// How long this terminal may take for what it was given, when it is to be given back.
    const LEAVE: Duration = Duration::from_secs(1);

    /// How often it is looked whether the terminal has taken the last frame.
    const TAKES: Duration = Duration::from_millis(20);

    /// The socket of the watch that is meant.
    pub(super) fn find(args: &AttachArgs, common: &Common) -> Result<PathBuf, Error> {
        if let Some(folder) = &args.folder {
            let none = || format!("no watch that can be looked at keeps {}", folder.display());
            return door_of(folder).ok_or_else(|| Error::new(none(), BEGIN));
        }
        let env = |name: &str| std::env::var_os(name);
        let configured = super::super::configuration(common)?.storage.folder(env);
        if let Some(path) = configured.as_deref().and_then(door_of) {
            return Ok(path);
        }
        let mut found = doors(env);
        match (found.pop(), found.len()) {
            (Some(path), 0) => Ok(path),
            (Some(_), more) => Err(Error::new(
                format!("{} watches run here", more + 1),
                "name the folder of the logbook of one with --folder",
            )),
            (None, _) => Err(Error::new("no watch runs here", BEGIN)),
        }
    }

    /// Looks at the watch until it is left, or gone.
    pub(super) async fn look(path: &Path) -> Result<(), Error> {
        let unusable = |why: io::Error| {
            Error::new(format!("cannot look at the watch at {}: {why}", path.display()), BEGIN)
        };
        let stream = UnixStream::connect(path).await.map_err(unusable)?;
        let (reader, writer) = stream.into_split();
        let mut drawn = FramedRead::new(reader, cut(LONGEST_DRAWN));
        let mut says = FramedWrite::new(writer, cut(LONGEST_SAID));
        let hello = hello().map_err(unusable)?;
        let depth = hello.depth;
        let hello = Said::Hello(hello).frame().map_err(unusable)?;
        // Nothing is taken over before there is something to draw: a refusal is read as it is.
        let _ = says.send(hello).await;
        let first = drawn.next().await.and_then(Result::ok);
        let first = first.ok_or_else(gone)?;
        if first.first() != Some(&DRAWN) {
            return refused(&first);
        }
        let end = app::end_signal(true);
        let mut end = std::pin::pin!(end);
        let mut out = NonBlockingWriter::stdout().map_err(unusable)?;
        let held = StandardError::hold();
        let (mut terminal, mut keys) = Terminal::enter(out.clone(), depth).map_err(unusable)?;
        let passed = |terminal: &mut Terminal, frame: &[u8]| terminal.pass(&frame[1..]);
        let mut result = passed(&mut terminal, &first).map_err(unusable);
        while result.is_ok() {
            let idle = out.is_idle();
            tokio::select! {
                () = &mut end => break,
                event = keys.event() => match event {
                    None => break,
                    Some(event @ (Event::Key(_) | Event::Mouse(_) | Event::Resize(..))) => {
                        let frame = Said::Event(event).frame().map_err(unusable)?;
                        // Where it cannot be said, the end of the watch is found out below.
                        let _ = says.send(frame).await;
                    }
                    Some(_) => {}
                },
                frame = drawn.next(), if idle => match frame.and_then(Result::ok) {
                    Some(frame) if frame.first() == Some(&DRAWN) => {
                        result = passed(&mut terminal, &frame).map_err(unusable);
                    }
                    Some(frame) if frame.first() == Some(&COLOURS) => {
                        display::remember_colours(&String::from_utf8_lossy(&frame[1..]));
                    }
                    Some(why) => {
                        result = refused(&why);
                        break;
                    }
                    None => result = Err(gone()),
                },
                () = tokio::time::sleep(TAKES), if !idle => {}
            }
        }
        if !out.settle(LEAVE) {
            terminal.abandon();
        }
        drop((terminal, held));
        let _ = out.flush();
        if result.is_ok() {
            let _ = writeln!(io::stderr(), "The screen is left; the watch goes on.");
        }
        result
    }

    /// The watch says why it draws no more; nothing where that was wanted.
    fn refused(frame: &[u8]) -> Result<(), Error> {
        let why = String::from_utf8_lossy(frame.get(1..).unwrap_or_default());
        if why.is_empty() {
            return Ok(());
        }
        Err(Error::new(printable(&why).into_owned(), "then try again"))
    }

    fn gone() -> Error {
        Error::new(
            "THE WATCH IS GONE: it has ended, or was ended; nothing is watched any more",
            "begin it again with `overside watch`, or look at the service that keeps it",
        )
    }

    /// What this terminal is.
    fn hello() -> io::Result<Hello> {
        let env = |name: &str| std::env::var_os(name);
        let theme = display::theme(display::colours_unwanted(), env);
        let name = rustix::termios::ttyname(io::stdin(), Vec::new()).unwrap_or_default();
        let name = name.to_string_lossy();
        Ok(Hello {
            version: VERSION,
            terminal: name.trim_start_matches("/dev/").to_owned(),
            size: crossterm::terminal::size()?,
            unicode: theme.unicode(),
            palette: theme.palette.name().to_owned(),
            depth: theme.depth,
        })
    }
}
