//! The recorder: every received line, with the time it came in and its input, in files that a power
//! cut harms by a second at most.
//!
//! A line is written as it came, with a TAG block of our own right before the sentence:
//! `\s:ais,c:1781402400123*5A\!AIVDM,…`. One that the sender put there stays, and stands before it:
//! of two the second counts. The times in a file go evenly, by the arrival count: where the
//! computer's clock is set on the way, another file begins. So no step of a clock ever reorders
//! anything or makes an age jump in a replay.

use std::collections::{HashSet, VecDeque};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::archive::{self, Retention};
use crate::text::counted;
use crate::thread;
use crate::time::{Mono, Stamp, Utc};
use crate::wire::{Line, Tag, checksum};

/// How long lines may wait for the disk: with the time to write them, less than a second.
const WAIT: Duration = Duration::from_millis(700);

/// The size at which another file begins: some four hours of a busy coast.
const FILE_BYTES: u64 = 64 * 1024 * 1024;

/// What may wait while the disk does not take it: half an hour of a busy coast.
const WAITING_BYTES: usize = 8 * 1024 * 1024;

/// With so much waiting, the second is not waited for: somebody pours a file in.
const HURRY_BYTES: usize = WAITING_BYTES / 16;

/// A step of the computer's clock against the arrival count that begins another file.
const STEP_MS: u64 = 2_000;

/// Writes between two looks at what may be deleted: about an hour.
const WRITES_PER_CLEARING: u32 = 5_000;

/// What the recorder has to say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RecorderReport {
    /// Lines cannot be written; said once.
    Failed(String),
    /// They can again.
    Works,
}

/// Gives the names of the recordings that the logbook refers to; `None` if that is not known: then
/// nothing is deleted.
pub type Referred = Box<dyn Fn() -> Option<HashSet<String>> + Send>;

/// Bytes for one file.
#[derive(Debug)]
struct Piece {
    name: String,
    bytes: Vec<u8>,
}

#[derive(Debug, Default)]
struct Waiting {
    pieces: VecDeque<Piece>,
    bytes: usize,
    /// Lines given up because the disk took none for too long.
    lost: u64,
    urgent: bool,
    closing: bool,
    /// The thread waits until there is something to write.
    idle: bool,
    /// The present date, if anybody knows it.
    date: Option<Utc>,
}

#[derive(Debug, Default)]
struct Shared {
    waiting: Mutex<Waiting>,
    wake: Condvar,
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, Waiting> {
        // What waits is whole at any moment: a panic elsewhere takes nothing from it.
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The time labels of one file.
#[derive(Clone, Debug)]
struct Labels {
    name: String,
    began: Stamp,
    bytes: u64,
}

impl Labels {
    fn at(&self, now: Mono) -> Utc {
        self.began.utc.plus(now.since(self.began.at))
    }
}

/// Records what the inputs say. None of its methods waits for the disk, but its start and its end.
#[derive(Debug)]
pub struct Recorder {
    shared: Arc<Shared>,
    /// Gives an error once the writer has ended.
    ended: Receiver<()>,
    next: u64,
    labels: Option<Labels>,
    file_bytes: u64,
}

impl Recorder {
    /// Begins to record into a folder, which is made when the first line comes. `report` is called
    /// from the thread that writes.
    ///
    /// # Errors
    /// No thread can be started. Whatever is wrong with the folder is reported, not an error.
    pub fn start(
        folder: PathBuf,
        keep: Retention,
        referred: Referred,
        report: impl FnMut(RecorderReport) + Send + 'static,
    ) -> io::Result<Self> {
        let last = archive::recordings(&folder).ok().and_then(|all| all.last().map(|it| it.number));
        let shared = Arc::new(Shared::default());
        let (ends, ended) = channel();
        let mut work = RecordWriter {
            shared: Arc::clone(&shared),
            folder,
            keep,
            referred,
            report: Box::new(report),
            open: None,
            failed: false,
            torn: false,
            writes: 0,
            _ends: ends,
        };
        thread::spawn("recorder", move |panicked| work.run(panicked))?;
        let next = last.unwrap_or(0) + 1;
        Ok(Self { shared, ended, next, labels: None, file_bytes: FILE_BYTES })
    }

    /// Begins another file at this size instead.
    pub fn with_file_bytes(self, file_bytes: u64) -> Self {
        Self { file_bytes, ..self }
    }

    /// Records a line of an input. Empty lines say nothing.
    pub fn record(&mut self, input: &str, stamp: Stamp, line: &[u8]) {
        if line.is_empty() {
            return;
        }
        let file_bytes = self.file_bytes;
        let labels = match &mut self.labels {
            Some(labels) if goes_on(labels, stamp, file_bytes) => labels,
            labels => {
                let name = archive::name(self.next, stamp.utc);
                self.next += 1;
                labels.insert(Labels { name, began: stamp, bytes: 0 })
            }
        };
        let tagged = tagged(input, labels.at(stamp.at), line);
        labels.bytes += tagged.len() as u64;
        let mut waiting = self.shared.lock();
        waiting.bytes += tagged.len();
        match waiting.pieces.back_mut() {
            // Small pieces: what gives way in need is seconds, not hours.
            Some(piece) if piece.name == labels.name && piece.bytes.len() < 64 * 1024 => {
                piece.bytes.extend_from_slice(&tagged);
            }
            _ => {
                let name = labels.name.clone();
                waiting.pieces.push_back(Piece { name, bytes: tagged });
            }
        }
        let hurries = waiting.bytes > HURRY_BYTES && !waiting.urgent;
        waiting.urgent |= hurries;
        if std::mem::take(&mut waiting.idle) || hurries {
            self.shared.wake.notify_one();
        }
        while waiting.bytes > WAITING_BYTES
            && let Some(piece) = waiting.pieces.pop_front()
        {
            waiting.bytes -= piece.bytes.len();
            waiting.lost += piece.bytes.iter().filter(|&&b| b == b'\n').count() as u64;
        }
    }

    /// Lets everything reach the disk at once, not within the second: an alert was raised. Does not
    /// wait until it has.
    pub fn flush_soon(&self) {
        self.shared.lock().urgent = true;
        self.shared.wake.notify_one();
    }

    /// The present date as far as somebody vouches for it; `None` while clocks are in doubt, and
    /// then nothing is deleted for its age.
    pub fn set_date(&self, date: Option<Utc>) {
        self.shared.lock().date = date;
    }

    /// The recording that is being written, and the label of a moment in it.
    pub fn place(&self, now: Mono) -> Option<(String, Utc)> {
        self.labels.as_ref().map(|labels| (labels.name.clone(), labels.at(now)))
    }

    /// Ends the recording, once all that waits is written or has been tried; waits no longer than
    /// this for it.
    pub fn close(self, patience: Duration) {
        self.shared.lock().closing = true;
        self.shared.wake.notify_one();
        let _ = self.ended.recv_timeout(patience);
    }
}

fn goes_on(labels: &Labels, stamp: Stamp, file_bytes: u64) -> bool {
    let label = labels.at(stamp.at);
    labels.bytes < file_bytes
        && label.date() == labels.began.utc.date()
        && stamp.utc.ms_since(label).unsigned_abs() <= STEP_MS
}

/// The line with our TAG block right before its sentence, and a line end.
pub fn tagged(input: &str, label: Utc, line: &[u8]) -> Vec<u8> {
    let block = format!("s:{},c:{}", Tag::value_of(input), label.unix_ms());
    let place = Line::parse(line).map_or(0, |line| line.start());
    let mut out = Vec::with_capacity(line.len() + block.len() + 8);
    out.extend_from_slice(&line[..place]);
    out.extend_from_slice(format!("\\{block}*{:02X}\\", checksum(block.as_bytes())).as_bytes());
    out.extend_from_slice(&line[place..]);
    out.extend_from_slice(b"\r\n");
    out
}

/// The side that writes.
struct RecordWriter {
    shared: Arc<Shared>,
    folder: PathBuf,
    keep: Retention,
    referred: Referred,
    report: Box<dyn FnMut(RecorderReport) + Send>,
    open: Option<(String, File)>,
    failed: bool,
    /// A line may have been cut by an error: a line end comes before the next.
    torn: bool,
    writes: u32,
    /// Is there as long as this is.
    _ends: Sender<()>,
}

impl RecordWriter {
    fn run(&mut self, panicked: Option<&str>) {
        if let Some(why) = panicked {
            (self.open, self.torn) = (None, true);
            self.tell(Err(io::Error::other(why.to_owned())), 0);
        }
        loop {
            let (pieces, closing, lost, date) = self.take();
            let done = self.write_all(pieces);
            self.tell(done, lost);
            if closing {
                return;
            }
            if self.writes >= WRITES_PER_CLEARING {
                self.writes = 0;
                self.clear(date);
            }
        }
    }

    /// Waits until there is something and it is time, and takes what there is. Nothing wakes it
    /// where nothing comes in.
    fn take(&self) -> (VecDeque<Piece>, bool, u64, Option<Utc>) {
        let mut waiting = self.shared.lock();
        waiting.idle = waiting.pieces.is_empty();
        let nothing = |waiting: &mut Waiting| waiting.idle && !waiting.urgent && !waiting.closing;
        let waited = self.shared.wake.wait_while(waiting, nothing);
        let waiting = waited.unwrap_or_else(PoisonError::into_inner);
        let idle = |waiting: &mut Waiting| !waiting.urgent && !waiting.closing;
        let waited = self.shared.wake.wait_timeout_while(waiting, WAIT, idle);
        let (mut waiting, _) = waited.unwrap_or_else(PoisonError::into_inner);
        waiting.urgent = false;
        waiting.bytes = 0;
        let lost = std::mem::take(&mut waiting.lost);
        (std::mem::take(&mut waiting.pieces), waiting.closing, lost, waiting.date)
    }

    /// Writes the pieces and waits for the disk; what could not be written waits again.
    fn write_all(&mut self, mut pieces: VecDeque<Piece>) -> io::Result<()> {
        if pieces.is_empty() {
            return Ok(());
        }
        self.writes += 1;
        let mut done = Ok(());
        let mut written = Vec::new();
        while let Some(piece) = pieces.pop_front() {
            done = self.write(&piece);
            if done.is_err() {
                pieces.push_front(piece);
                break;
            }
            written.push(piece);
        }
        if let (Ok(()), Some((_, file))) = (&done, &self.open) {
            done = file.sync_data();
        }
        if done.is_err() {
            self.open = None;
            self.torn = true;
            let mut waiting = self.shared.lock();
            for piece in pieces.into_iter().rev() {
                waiting.bytes += piece.bytes.len();
                waiting.pieces.push_front(piece);
            }
        }
        done
    }

    fn write(&mut self, piece: &Piece) -> io::Result<()> {
        if self.open.as_ref().is_none_or(|(name, _)| *name != piece.name) {
            if let Some((_, before)) = self.open.take() {
                before.sync_data()?;
            }
            fs::create_dir_all(&self.folder)?;
            let path = self.folder.join(&piece.name);
            let file = OpenOptions::new().create(true).append(true).open(path)?;
            // The name must outlast a power cut, too.
            File::open(&self.folder).and_then(|folder| folder.sync_all())?;
            self.open = Some((piece.name.clone(), file));
            self.writes = self.writes.max(WRITES_PER_CLEARING);
        }
        let Some((_, file)) = &mut self.open else { return Ok(()) };
        if std::mem::take(&mut self.torn) {
            file.write_all(b"\r\n")?;
        }
        file.write_all(&piece.bytes)
    }

    fn tell(&mut self, done: io::Result<()>, lost: u64) {
        match done {
            Err(why) if !self.failed => {
                self.failed = true;
                let folder = self.folder.display();
                (self.report)(RecorderReport::Failed(format!(
                    "{folder}: {why}; check the disk, or watch with --no-record"
                )));
            }
            Ok(()) if self.failed => {
                self.failed = false;
                (self.report)(RecorderReport::Works);
            }
            _ => {}
        }
        if lost > 0 {
            tracing::warn!("not recorded: {}; the disk took none", counted(lost, "received line"));
        }
    }

    /// Deletes what may go.
    fn clear(&self, date: Option<Utc>) {
        let Some(referred) = (self.referred)() else { return };
        let Ok(all) = archive::recordings(&self.folder) else { return };
        let disk = disk_bytes(&self.folder);
        for name in archive::superfluous(&all, &referred, self.keep, disk, date) {
            match fs::remove_file(self.folder.join(&name)) {
                Ok(()) => tracing::info!("recording {name} deleted: it was no longer to be kept"),
                Err(why) => tracing::warn!("cannot delete the recording {name}: {why}"),
            }
        }
    }
}

/// The size of the disk that a folder is on, if the system tells.
fn disk_bytes(folder: &Path) -> Option<u64> {
    #[cfg(unix)]
    return rustix::fs::statvfs(folder).ok().map(|disk| disk.f_blocks * disk.f_frsize);
    #[cfg(not(unix))]
    {
        let _ = folder;
        None
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;

    use super::*;

    /// A beacon's test, published in libais' tests.
    const TEST: &str = "!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D";

    fn stamp(ms: u64) -> Stamp {
        let begun = Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap();
        Stamp { at: Mono::START, utc: begun }.at(Mono::from_micros(ms * 1000))
    }

    fn recorded(line: &str) -> String {
        String::from_utf8(tagged("ais", stamp(123).utc, line.as_bytes())).unwrap()
    }

    #[test]
    fn our_tag_block_stands_before_the_sentence_and_counts() {
        let plain = recorded(TEST);
        assert!(plain.starts_with("\\s:ais,c:1781402400123*"), "{plain}");
        let body = "s:r1,c:1400000000";
        let theirs = format!("\\{body}*{:02X}\\{TEST}", checksum(body.as_bytes()));
        for line in [TEST.to_owned(), theirs, format!("1400000000 {TEST}")] {
            let recorded = recorded(&line);
            assert!(recorded.ends_with(&format!("{TEST}\r\n")), "{recorded}");
            let read = Line::parse(recorded.trim_end().as_bytes()).unwrap();
            assert_eq!(read.tag.unwrap().source, Some(&b"ais"[..]));
            assert_eq!(read.time(), Some(stamp(123).utc));
        }
        let odd = String::from_utf8(tagged("a,b*\\é", stamp(0).utc, b"noise")).unwrap();
        assert!(odd.starts_with("\\s:a^2Cb^2A^5C^C3^A9,c:"), "{odd}");
    }

    /// A recorder, and what it reports.
    fn recorder(folder: &std::path::Path) -> (Recorder, mpsc::Receiver<RecorderReport>) {
        recorder_by(folder, |_| {})
    }

    fn recorder_by(
        folder: &std::path::Path,
        mut told: impl FnMut(&RecorderReport) + Send + 'static,
    ) -> (Recorder, mpsc::Receiver<RecorderReport>) {
        let keep = Retention { days: 30, disk_percent: 90 };
        let referred: Referred = Box::new(|| Some(HashSet::new()));
        let (tx, reports) = mpsc::channel();
        let report = move |report: RecorderReport| {
            let _ = tx.send(report.clone());
            told(&report);
        };
        (Recorder::start(folder.to_owned(), keep, referred, report).unwrap(), reports)
    }

    #[test]
    fn a_panic_is_told_and_the_recording_goes_on() {
        let folder = tempfile::tempdir().unwrap();
        let blocked = folder.path().join("recordings");
        fs::write(&blocked, "no folder").unwrap();
        let mut panicked = false;
        let (mut recorder, reports) = recorder_by(&blocked, move |_| {
            assert!(std::mem::replace(&mut panicked, true), "of the test");
        });
        let next = || reports.recv_timeout(Duration::from_secs(30)).unwrap();
        recorder.record("ais", stamp(0), TEST.as_bytes());
        recorder.flush_soon();
        assert!(matches!(next(), RecorderReport::Failed(_)));
        fs::remove_file(&blocked).unwrap();
        recorder.record("ais", stamp(1), TEST.as_bytes());
        recorder.flush_soon();
        assert_eq!(next(), RecorderReport::Works);
        recorder.close(Duration::from_secs(30));
        let all = archive::recordings(&blocked).unwrap();
        let text = fs::read_to_string(blocked.join(&all[0].name)).unwrap();
        assert_eq!(text.matches(TEST).count(), 2);
    }

    #[test]
    fn a_day_a_size_and_a_step_of_the_clock_begin_another_file() {
        let folder = tempfile::tempdir().unwrap();
        let (recorder, reports) = recorder(folder.path());
        let mut recorder = recorder.with_file_bytes(250);
        let day = 86_400_000;
        for ms in [0, 10, 20, 30, 40, day, day + 10] {
            recorder.record("ais", stamp(ms), TEST.as_bytes());
        }
        // The clock is set back by an hour: the arrival count goes on.
        let set_back = Stamp { utc: stamp(day - 3_600_000).utc, ..stamp(day + 20) };
        recorder.record("ais", set_back, TEST.as_bytes());
        recorder.close(Duration::from_secs(30));
        assert_eq!(reports.iter().count(), 0);
        let lines = |name: &str| fs::read_to_string(folder.path().join(name)).unwrap();
        let all = archive::recordings(folder.path()).unwrap();
        let counts: Vec<_> = all.iter().map(|it| lines(&it.name).lines().count()).collect();
        assert_eq!(counts, [4, 1, 2, 1]);
        assert_eq!(all[3].begun, set_back.utc);
        assert!(all.is_sorted_by_key(|it| it.number));
    }

    #[test]
    fn a_second_watch_goes_on_with_the_numbers() {
        let folder = tempfile::tempdir().unwrap();
        for _ in 0..3 {
            let (mut recorder, _) = recorder(folder.path());
            recorder.record("ais", stamp(0), TEST.as_bytes());
            assert_eq!(recorder.place(stamp(5).at).unwrap().1, stamp(5).utc);
            recorder.close(Duration::from_secs(30));
        }
        let numbers: Vec<u64> =
            archive::recordings(folder.path()).unwrap().iter().map(|it| it.number).collect();
        assert_eq!(numbers, [1, 2, 3]);
    }
}
