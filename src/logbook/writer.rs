//! The one writer: a thread that takes what waits, commits it, and says so.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use super::draft::{Draft, Kind, Moment};
use super::error::Error;
use super::queue::{Batch, Queue};
use super::store::{FILE, Store};
use crate::time::Utc;

/// How long a lock of somebody else is waited for.
const PATIENCE: Duration = Duration::from_secs(2);

/// The first pause after a failure; it doubles up to the longest.
const FIRST_PAUSE: Duration = Duration::from_millis(500);
const LONGEST_PAUSE: Duration = Duration::from_secs(8);

/// What the writer has to say.
#[derive(Clone, Debug)]
pub enum Report {
    /// An entry is on the disk.
    Committed(Box<Draft>),
    /// Nothing can be written; said once, until it works again.
    Failed(String),
    /// It works again, and what waited is written.
    Works,
    /// A damaged logbook was set aside under this name, and a new one begun.
    SetAside(PathBuf),
}

/// The way into the logbook. None of its methods waits for the disk, save the last.
pub struct Logbook {
    queue: Arc<Queue>,
}

impl Logbook {
    /// Starts the writer on the logbook in a folder. `begun` is the entry with which this watch
    /// begins. `report` is called from the writer's thread.
    ///
    /// # Errors
    /// No thread can be started. Whatever is wrong with the folder is reported, not an error.
    pub fn open(
        folder: PathBuf,
        begun: Draft,
        report: impl FnMut(Report) + Send + 'static,
    ) -> std::io::Result<Self> {
        let queue = Arc::new(Queue::default());
        queue.push(begun);
        let writer = Writer {
            folder,
            queue: Arc::clone(&queue),
            report: Box::new(report),
            open: None,
            session: None,
            failed: false,
            pause: FIRST_PAUSE,
        };
        std::thread::Builder::new().name("logbook".to_owned()).spawn(move || writer.run())?;
        Ok(Self { queue })
    }

    /// Lets an entry be written.
    pub fn write(&self, draft: Draft) {
        self.queue.push(draft);
    }

    /// Waits until all is written, but not longer than this. How many entries were not.
    pub fn close(self, patience: Duration) -> usize {
        self.queue.close();
        self.queue.wait_for_end(patience)
    }
}

struct Writer {
    folder: PathBuf,
    queue: Arc<Queue>,
    report: Box<dyn FnMut(Report) + Send>,
    open: Option<(Store, Option<u64>)>,
    /// The entry with which this watch began.
    session: Option<i64>,
    failed: bool,
    pause: Duration,
}

impl Writer {
    fn run(mut self) {
        loop {
            let mut batch = self.queue.next();
            if batch.drafts.is_empty() && batch.closing {
                break;
            }
            let closing = batch.closing;
            match self.write(&mut batch) {
                Ok(()) => self.tell(batch),
                Err(why) => {
                    self.fail(&why);
                    let pause = self.pause;
                    self.pause = (pause * 2).min(LONGEST_PAUSE);
                    self.queue.put_back(batch, pause);
                    if closing {
                        // One attempt is made at the end; the plug will not wait.
                        break;
                    }
                }
            }
        }
        // Closed in order, so that nothing is left in the journal.
        self.open = None;
        self.queue.end();
    }

    fn write(&mut self, batch: &mut Batch) -> Result<(), Error> {
        if batch.lost > 0
            && let Some(last) = batch.drafts.last()
        {
            let text = format!("{} entries were given up: the disk took none", batch.lost);
            let moment = Moment::at(last.host());
            batch.drafts.push(Draft::new(Kind::Watch, text, &moment));
            batch.lost = 0;
        }
        // A file that somebody took away underneath would be written to for ever.
        if self.open.as_ref().is_some_and(|(_, file)| *file != identity(&self.folder)) {
            self.open = None;
        }
        if self.open.is_none() {
            let now = batch.drafts.first().map_or(Utc::EPOCH, Draft::host);
            self.open = Some((self.begin(now)?, None));
        }
        let Some((store, file)) = &mut self.open else { return Ok(()) };
        *file = identity(&self.folder);
        store.append(batch.drafts.iter_mut(), &mut self.session)
    }

    /// Opens the logbook; a damaged one is set aside, never deleted.
    fn begin(&mut self, now: Utc) -> Result<Store, Error> {
        match Store::open(&self.folder, PATIENCE) {
            Err(why) if why.is_damage() => {
                let aside = set_aside(&self.folder, now)?;
                let mut store = Store::open(&self.folder, PATIENCE)?;
                let name = aside.file_name().unwrap_or_default().to_string_lossy().into_owned();
                let text = format!("Logbook begun anew: the one before is damaged, kept as {name}");
                let mut draft = Draft::new(Kind::Watch, text, &Moment::at(now));
                draft.details = serde_json::json!({ "set_aside": name, "why": why.to_string() });
                store.append([&mut draft], &mut None)?;
                (self.report)(Report::SetAside(aside));
                Ok(store)
            }
            opened => opened,
        }
    }

    fn tell(&mut self, batch: Batch) {
        self.pause = FIRST_PAUSE;
        for draft in batch.drafts {
            (self.report)(Report::Committed(Box::new(draft)));
        }
        if std::mem::take(&mut self.failed) {
            (self.report)(Report::Works);
        }
    }

    fn fail(&mut self, why: &Error) {
        if why.is_damage() {
            // It is looked at anew, and set aside.
            self.open = None;
        }
        if !std::mem::replace(&mut self.failed, true) {
            (self.report)(Report::Failed(why.to_string()));
        }
    }
}

/// What tells the database file from another of the same name.
fn identity(folder: &Path) -> Option<u64> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt as _;
        std::fs::metadata(folder.join(FILE)).ok().map(|file| file.ino())
    }
    #[cfg(not(unix))]
    {
        let _ = (folder, FILE);
        None
    }
}

/// Renames the database and what belongs to it; nothing is overwritten.
fn set_aside(folder: &Path, now: Utc) -> Result<PathBuf, Error> {
    let label = now.to_string().replace([':', '-'], "");
    let label = label.split('.').next().unwrap_or_default().to_owned();
    let named = |count: u32| {
        let again = if count == 0 { String::new() } else { format!("-{count}") };
        folder.join(format!("logbook-{label}Z{again}.damaged.db"))
    };
    let aside = (0..).map(named).find(|path| !path.exists()).unwrap_or_else(|| named(0));
    let with = |path: &Path, end: &str| {
        let mut name = path.as_os_str().to_owned();
        name.push(end);
        PathBuf::from(name)
    };
    let from = folder.join(FILE);
    // The journal first: without it the database beside it would be taken for whole.
    for end in ["-wal", "-shm", ""] {
        let (from, to) = (with(&from, end), with(&aside, end));
        match std::fs::rename(&from, &to) {
            Err(why) if why.kind() == std::io::ErrorKind::NotFound => {}
            renamed => renamed.map_err(|source| Error::Folder { path: from, source })?,
        }
    }
    Ok(aside)
}
