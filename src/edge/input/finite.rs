//! A file or standard input: read once to the end, by a thread of its own.
//!
//! Such a read cannot be called off, and a runtime waits for its own threads before it goes. A
//! plain thread lets the program end while a pipe is still open.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use tokio::sync::oneshot;

use super::What;
use super::sender::{ArrivalSender, Unheard};
use crate::thread;
use crate::wire::Splitter;

/// Reads standard input, returns when it ended.
pub(super) async fn standard_input(sender: ArrivalSender) -> Result<(), Unheard> {
    in_a_thread(sender, "-".to_owned(), || Ok(io::stdin())).await
}

/// Reads a file, returns when it ended.
pub(super) async fn file(sender: ArrivalSender, path: &Path) -> Result<(), Unheard> {
    let name = format!("file:{}", path.display());
    let path = path.to_owned();
    // A named pipe waits to be opened until somebody writes: that too is the thread's business.
    in_a_thread(sender, name, move || File::open(path)).await
}

async fn in_a_thread<R: Read>(
    sender: ArrivalSender,
    name: String,
    open: impl FnOnce() -> io::Result<R> + Send + 'static,
) -> Result<(), Unheard> {
    let (done, ended) = oneshot::channel();
    let reader = sender.clone();
    let title = format!("input {}", sender.input);
    let (mut open, mut done) = (Some(open), Some(done));
    let thread = thread::spawn(&title, move |panicked| {
        let ended = match (panicked, open.take()) {
            (None, Some(open)) => read(&reader, &name, open),
            (why, _) => give_up(&reader, &name, why.unwrap_or_default()),
        };
        // The error says that nobody listens, and then nobody waits for the end either.
        let _ = done.take().map(|done| done.send(ended));
    });
    match thread {
        // The channel does not break without a word.
        Ok(_) => ended.await.unwrap_or(Err(Unheard)),
        Err(error) => {
            sender.say(What::Lost(format!("no thread can be started to read ({error})"))).await?;
            sender.say(What::Ended).await
        }
    }
}

fn read<R: Read>(
    sender: &ArrivalSender,
    name: &str,
    open: impl FnOnce() -> io::Result<R>,
) -> Result<(), Unheard> {
    let say = |what| sender.pass_blocking(vec![sender.arrival(what)]);
    match open() {
        Ok(source) => {
            say(What::Opened)?;
            if let Err(error) = read_lines(sender, source)? {
                say(What::Lost(format!("{name}: reading failed ({error}); it is not read again")))?;
            }
        }
        Err(error) => say(What::Lost(format!(
            "{name}: it cannot be opened ({error}); correct the path and start again"
        )))?,
    }
    say(What::Ended)
}

/// Says that reading has panicked: that is the end.
fn give_up(sender: &ArrivalSender, name: &str, why: &str) -> Result<(), Unheard> {
    let lost = What::Lost(format!("{name}: reading failed ({why}); it is not read again"));
    sender.pass_blocking(vec![sender.arrival(lost), sender.arrival(What::Ended)])
}

fn read_lines(sender: &ArrivalSender, mut source: impl Read) -> Result<io::Result<()>, Unheard> {
    let mut splitter = Splitter::new();
    let mut buffer = vec![0; 16_384];
    let end = loop {
        match source.read(&mut buffer) {
            Ok(0) => break Ok(()),
            Ok(length) => sender.pass_blocking(sender.cut(&mut splitter, &buffer[..length]))?,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => break Err(error),
        }
    };
    sender.pass_blocking(sender.rest(&mut splitter))?;
    Ok(end)
}
