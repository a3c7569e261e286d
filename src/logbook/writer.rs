//! The one writer: a thread that waits for the disk, so that nobody else does.

use std::path::PathBuf;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::damage;
use super::details::{Details, WatchEvent};
use super::draft::Draft;
use super::error::Error;
use super::queue::{self, Queue};
use super::store::{Session, Store};
use crate::text::counted;
use crate::thread;
use crate::time::Utc;

/// Drafts written in one transaction, at most.
const BATCH: usize = 256;

/// What became of what was handed in.
#[derive(Debug)]
pub enum WriterReport {
    /// It is on the disk.
    Committed {
        /// The entry's number.
        entry: i64,
        /// What was written.
        draft: Box<Draft>,
    },
    /// The logbook cannot be written: what happened, to which file, and what to do. Told once until
    /// it works again.
    Failed(String),
    /// It works again.
    Works,
    /// It was damaged, is now under this name, and a new one was begun.
    SetAside(PathBuf),
}

/// How long the writer waits for what may change.
#[derive(Clone, Copy, Debug)]
pub struct Patience {
    /// For a lock that another program holds.
    pub lock: Duration,
    /// After a failure; doubled after each further one.
    pub first: Duration,
    /// After a failure, at most.
    pub longest: Duration,
}

impl Default for Patience {
    fn default() -> Self {
        Self {
            lock: Duration::from_secs(2),
            first: Duration::from_secs(1),
            longest: Duration::from_secs(10),
        }
    }
}

/// The logbook of a watch that is under way. None of its methods waits for the disk, save
/// [`Self::close`].
#[derive(Debug)]
pub struct Logbook {
    shared: Arc<Shared>,
    ended: Receiver<()>,
}

#[derive(Debug)]
struct Shared {
    waiting: Mutex<Waiting>,
    changed: Condvar,
}

#[derive(Debug)]
struct Waiting {
    queue: Queue,
    /// Drafts that the thread has taken and not written yet.
    in_hand: usize,
    closing: bool,
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, Waiting> {
        // What a thread that panicked left behind is still a queue.
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Logbook {
    /// Begins a watch in the logbook of this folder: `begun` is its first entry,
    /// which says that the watch has begun. What becomes of each entry is told to `reports`, on the writer's thread.
    ///
    /// Never fails: where the logbook cannot be written, a report says so.
    pub fn open(
        folder: PathBuf,
        begun: Draft,
        reports: impl Fn(WriterReport) + Clone + Send + 'static,
    ) -> Self {
        Self::open_with(folder, begun, Patience::default(), reports)
    }

    /// The same with another patience.
    pub fn open_with(
        folder: PathBuf,
        begun: Draft,
        patience: Patience,
        reports: impl Fn(WriterReport) + Clone + Send + 'static,
    ) -> Self {
        let waiting = Waiting { queue: Queue::new(queue::LIMIT), in_hand: 1, closing: false };
        let shared = Arc::new(Shared { waiting: Mutex::new(waiting), changed: Condvar::new() });
        let (over, ended) = channel();
        let told = reports.clone();
        let mut writer = Writer {
            shared: Arc::clone(&shared),
            folder,
            patience,
            reports,
            begun,
            batch: Vec::new(),
            store: None,
            session: None,
            set_aside: None,
            failing: false,
            _over: over,
        };
        // Without a thread nothing is ever taken: the queue fills, and `close` tells how much of it.
        if let Err(why) = thread::spawn("logbook", move |panicked| writer.run(panicked)) {
            told(WriterReport::Failed(format!("no thread for it: {why}")));
        }
        Self { shared, ended }
    }

    /// Hands in a draft. Returns at once; at the limit of 20 000 what is worth least gives way.
    pub fn write(&self, draft: Draft) {
        self.shared.lock().queue.push(draft);
        self.shared.changed.notify_one();
    }

    /// Writes what waits, waits for that as long as `timeout`, and ends. Returns how many entries
    /// could not be written.
    pub fn close(self, timeout: Duration) -> u64 {
        self.end();
        // Whether it ended or not: what it has not written is counted.
        let _ = self.ended.recv_timeout(timeout);
        let waiting = self.shared.lock();
        waiting.queue.lost() + (waiting.queue.len() + waiting.in_hand) as u64
    }

    fn end(&self) {
        self.shared.lock().closing = true;
        self.shared.changed.notify_one();
    }
}

impl Drop for Logbook {
    fn drop(&mut self) {
        self.end();
    }
}

/// What the thread has.
struct Writer<F> {
    shared: Arc<Shared>,
    folder: PathBuf,
    patience: Patience,
    reports: F,
    begun: Draft,
    /// Taken from the queue, and not written yet.
    batch: Vec<Draft>,
    store: Option<Store>,
    /// The entry that began this watch, once it is written into the file that is open.
    session: Option<i64>,
    /// Why the file that is open was begun anew, until that is written.
    set_aside: Option<String>,
    failing: bool,
    /// Dropped when the thread ends.
    _over: Sender<()>,
}

impl<F: Fn(WriterReport)> Writer<F> {
    fn run(&mut self, panicked: Option<&str>) {
        if let Some(why) = panicked {
            // As after any failure: what the file is like is seen when it is opened again.
            self.store = None;
            self.fail(&why);
        }
        let mut pause = self.patience.first;
        loop {
            let closing = self.shared.lock().closing;
            match self.write() {
                Ok(()) => {
                    pause = self.patience.first;
                    if !self.wait_for_drafts() {
                        break;
                    }
                }
                // That was the last attempt.
                Err(why) if closing => {
                    self.fail(&why);
                    break;
                }
                Err(why) => {
                    self.fail(&why);
                    self.wait(pause);
                    pause = (pause * 2).min(self.patience.longest);
                }
            }
        }
        self.store = None;
    }

    /// Waits until there is something to write, and takes it. False if there is nothing and never
    /// will be.
    fn wait_for_drafts(&mut self) -> bool {
        let shared = Arc::clone(&self.shared);
        let mut waiting = shared.lock();
        while waiting.queue.is_empty() {
            if waiting.closing {
                return false;
            }
            waiting = shared.changed.wait(waiting).unwrap_or_else(PoisonError::into_inner);
        }
        let lost = waiting.queue.take_lost();
        self.batch = waiting.queue.take(BATCH);
        if lost > 0 {
            let are = if lost == 1 { "is" } else { "are" };
            let entries = counted(lost, "entry");
            let text = format!("{entries} {are} missing here: too many waited to be written");
            self.batch.insert(0, self.remark(text));
        }
        waiting.in_hand = self.batch.len();
        true
    }

    /// Waits so long, or until the end.
    fn wait(&self, pause: Duration) {
        let waiting = self.shared.lock();
        let closing = |waiting: &mut Waiting| !waiting.closing;
        drop(self.shared.changed.wait_timeout_while(waiting, pause, closing));
    }

    /// Opens the logbook if need be, and writes what is in hand.
    fn write(&mut self) -> Result<(), Error> {
        match self.try_to_write() {
            Err(Error::Damaged { what, .. }) => {
                self.let_go_of_damaged(&what)?;
                self.try_to_write()
            }
            Err(why @ Error::Replaced { .. }) => {
                (self.store, self.session) = (None, None);
                let text =
                    "the logbook was removed or replaced while the watch ran: it goes on here";
                self.set_aside = Some(text.to_owned());
                self.fail(&why);
                self.try_to_write()
            }
            Err(why) => {
                // What a file that failed is like is seen when it is opened again.
                self.store = None;
                Err(why)
            }
            Ok(()) => Ok(()),
        }
    }

    fn try_to_write(&mut self) -> Result<(), Error> {
        if self.store.as_ref().is_some_and(Store::is_replaced) {
            return Err(Error::Replaced { path: self.folder.join(super::FILE) });
        }
        self.open()?;
        let Some(store) = &mut self.store else { return Ok(()) };
        let first = match self.session.filter(|_| !self.batch.is_empty()) {
            Some(session) => store.append(&self.batch, Session::Of(session))?,
            None => 0,
        };
        let written = std::mem::take(&mut self.batch);
        self.shared.lock().in_hand = 0;
        self.tell(first, written);
        Ok(())
    }

    /// Opens the file and begins the watch in it.
    fn open(&mut self) -> Result<(), Error> {
        if self.store.is_none() {
            let store = Store::open(&self.folder, self.patience.lock)?;
            // A store that is held is closed without being written to if it turns out damaged.
            self.store.insert(store).look_through()?;
        }
        if self.session.is_some() {
            return Ok(());
        }
        let why = self.set_aside.clone().map(|text| self.remark(text));
        let Some(store) = &mut self.store else { return Ok(()) };
        if let Some(why) = why {
            let first = store.append(std::slice::from_ref(&why), Session::Outside)?;
            self.set_aside = None;
            self.tell(first, vec![why]);
        }
        let Some(store) = &mut self.store else { return Ok(()) };
        let begun = self.begun.clone();
        let first = store.append(std::slice::from_ref(&begun), Session::BeginsHere)?;
        self.session = Some(first);
        self.shared.lock().in_hand = self.batch.len();
        self.tell(first, vec![begun]);
        Ok(())
    }

    /// Sets the damaged file aside.
    fn let_go_of_damaged(&mut self, what: &str) -> Result<(), Error> {
        if let Some(store) = self.store.take() {
            store.abandon();
        }
        self.session = None;
        let now = self.batch.first().unwrap_or(&self.begun).host_ms;
        let now = Utc::from_unix_ms(now).unwrap_or(Utc::EPOCH);
        let aside = damage::set_aside(&self.folder, now)?;
        let name = aside.file_name().unwrap_or_default().to_string_lossy().into_owned();
        self.set_aside = Some(format!(
            "the logbook was damaged ({what}) and set aside as {name}: a new one begins here"
        ));
        (self.reports)(WriterReport::SetAside(aside));
        Ok(())
    }

    /// The logbook tells of itself, at the time of what is in hand.
    fn remark(&self, text: String) -> Draft {
        let at = self.batch.first().unwrap_or(&self.begun);
        let (arrival_us, host_ms, gnss_ms) = (at.arrival_us, at.host_ms, at.gnss_ms);
        let details =
            Details::Watch { event: Some(WatchEvent::Logbook), told: serde_json::Value::Null };
        Draft { arrival_us, host_ms, gnss_ms, text, details, ..Draft::default() }
    }

    /// Tells of what was written, under numbers from `first` on.
    fn tell(&mut self, first: i64, written: Vec<Draft>) {
        if std::mem::take(&mut self.failing) {
            (self.reports)(WriterReport::Works);
        }
        for (draft, entry) in written.into_iter().zip(first..) {
            (self.reports)(WriterReport::Committed { entry, draft: Box::new(draft) });
        }
    }

    fn fail(&mut self, why: &impl ToString) {
        if !std::mem::replace(&mut self.failing, true) {
            (self.reports)(WriterReport::Failed(why.to_string()));
        }
    }
}
