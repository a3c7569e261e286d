//! A file or standard input: read once to the end, by a thread of its own.
//!
//! Such a read cannot be called off, and a runtime waits for its own threads before it goes. A
//! plain thread lets the program end while a pipe is still open.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use tokio::sync::oneshot;

use super::What;
use super::outlet::{Outlet, Unheard};
use crate::wire::Splitter;

/// Reads standard input, returns when it ended.
pub(super) async fn standard_input(outlet: Outlet) -> Result<(), Unheard> {
    in_a_thread(outlet, "-".to_owned(), || Ok(io::stdin())).await
}

/// Reads a file, returns when it ended.
pub(super) async fn file(outlet: Outlet, path: &Path) -> Result<(), Unheard> {
    let name = format!("file:{}", path.display());
    let path = path.to_owned();
    // A named pipe waits to be opened until somebody writes: that too is the thread's business.
    in_a_thread(outlet, name, move || File::open(path)).await
}

async fn in_a_thread<R: Read>(
    outlet: Outlet,
    name: String,
    open: impl FnOnce() -> io::Result<R> + Send + 'static,
) -> Result<(), Unheard> {
    let (done, ended) = oneshot::channel();
    let reader = outlet.clone();
    let title = format!("input {}", outlet.input);
    let thread = std::thread::Builder::new().name(title).spawn(move || {
        // The error says that nobody listens, and then nobody waits for the end either.
        let _ = done.send(read(&reader, &name, open));
    });
    match thread {
        // The channel breaks without a word only if the thread panicked.
        Ok(_) => ended.await.unwrap_or(Err(Unheard)),
        Err(error) => {
            outlet.say(What::Lost(format!("no thread can be started to read ({error})"))).await?;
            outlet.say(What::Ended).await
        }
    }
}

fn read<R: Read>(
    outlet: &Outlet,
    name: &str,
    open: impl FnOnce() -> io::Result<R>,
) -> Result<(), Unheard> {
    let say = |what| outlet.pass_blocking(vec![outlet.arrival(what)]);
    match open() {
        Ok(source) => {
            say(What::Opened)?;
            if let Err(error) = read_lines(outlet, source)? {
                say(What::Lost(format!("{name}: reading failed ({error}); it is not read again")))?;
            }
        }
        Err(error) => say(What::Lost(format!(
            "{name}: it cannot be opened ({error}); correct the path and start again"
        )))?,
    }
    say(What::Ended)
}

fn read_lines(outlet: &Outlet, mut source: impl Read) -> Result<io::Result<()>, Unheard> {
    let mut splitter = Splitter::new();
    let mut buffer = vec![0; 16_384];
    let end = loop {
        match source.read(&mut buffer) {
            Ok(0) => break Ok(()),
            Ok(length) => outlet.pass_blocking(outlet.cut(&mut splitter, &buffer[..length]))?,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => break Err(error),
        }
    };
    outlet.pass_blocking(outlet.rest(&mut splitter))?;
    Ok(end)
}
