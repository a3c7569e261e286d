//! What could not be sent to a broker: it waits on disk, in the recorder's own files, and is taken from
//! there in order.

use std::collections::HashSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use std::{fs, io};

use super::lane::Lane;
use crate::capture::{Recorder, RecorderReport, Referred, Retention, recordings};
use crate::mmsi::Mmsi;
use crate::time::Stamp;
use crate::wire::sender_of;

/// The size at which another file begins: what is sent is deleted by the file. Our own.
const FILE_BYTES: u64 = 1024 * 1024;

/// How much waits, in bytes: some five hours of a busy coast (75 lines a second). The oldest gives way,
/// beacons and calls last. Our own.
const LIMIT: u64 = 128 * FILE_BYTES;

/// How much is sent in one message. Our own.
const PIECE: usize = 16 * 1024;

/// How long the disk may take for what waits.
const PATIENCE: Duration = Duration::from_secs(5);

/// The folder in which it waits.
pub(super) struct Unsent {
    folder: PathBuf,
    lane: Arc<Lane>,
    recorder: Option<Recorder>,
    /// The file that is being sent: what it holds, and how much of that was sent and has arrived.
    open: Option<(PathBuf, Vec<u8>)>,
    sent: usize,
    arrived: usize,
    /// Something may wait.
    waits: bool,
    /// Bytes since it was looked at last whether there is too much.
    unlooked: u64,
    /// The size at which another file begins, and how much waits at most.
    file_bytes: u64,
    limit: u64,
}

impl Unsent {
    pub(super) fn within(folder: &Path, lane: Arc<Lane>) -> Self {
        let folder = folder.to_owned();
        Self {
            folder,
            lane,
            recorder: None,
            open: None,
            sent: 0,
            arrived: 0,
            waits: true,
            unlooked: 0,
            file_bytes: FILE_BYTES,
            limit: LIMIT,
        }
    }

    /// Whether anything waits.
    pub(super) const fn is_empty(&self) -> bool {
        !self.waits
    }

    /// The files that wait, the oldest first.
    fn files(&self) -> Vec<PathBuf> {
        let all = recordings(&self.folder).unwrap_or_default();
        all.iter().map(|it| self.folder.join(&it.name)).collect()
    }

    /// Keeps a line of an input.
    pub(super) fn keep(&mut self, input: &str, stamp: Stamp, line: &[u8]) {
        self.waits = true;
        if self.recorder.is_none() {
            let lane = Arc::clone(&self.lane);
            let report = move |report| match report {
                RecorderReport::Failed(why) => lane.fail(&format!("nothing can be kept: {why}")),
                RecorderReport::Works => {}
            };
            // It deletes nothing: what is sent is deleted here.
            let (keep, referred): (_, Referred) =
                (Retention { days: 365, disk_percent: 100 }, Box::new(|| None::<HashSet<_>>));
            match Recorder::start(self.folder.clone(), keep, referred, report) {
                Ok(recorder) => self.recorder = Some(recorder.with_file_bytes(self.file_bytes)),
                Err(why) => {
                    self.lane.fail(&format!("nothing can be kept ({why})"));
                    return self.lane.queue.count_dropped(1);
                }
            }
        }
        if let Some(recorder) = &mut self.recorder {
            recorder.record(input, stamp, line);
        }
        self.unlooked += line.len() as u64;
        if self.unlooked >= self.file_bytes {
            self.unlooked = 0;
            self.make_room();
        }
    }

    /// Lets the oldest go where there is too much: first of each file all but beacons and calls, and
    /// only if that is not enough those as well.
    fn make_room(&self) {
        for most_urgent in [true, false] {
            let mut files = recordings(&self.folder).unwrap_or_default();
            let all: u64 = files.iter().map(|it| it.bytes).sum();
            let mut surplus = all.saturating_sub(self.limit);
            // The newest is being written, and one may be being sent.
            files.pop();
            let open = self.open.as_ref().map(|(path, _)| path.as_path());
            let mut before: Option<(PathBuf, Vec<u8>)> = None;
            for path in files.iter().map(|it| self.folder.join(&it.name)) {
                if surplus == 0 {
                    break;
                }
                if open == Some(path.as_path()) {
                    continue;
                }
                let bytes = fs::read(&path).unwrap_or_default();
                let stays = |line: &&[u8]| most_urgent && is_urgent(line);
                let left: Vec<u8> = lines(&bytes).filter(stays).flatten().copied().collect();
                surplus = surplus.saturating_sub((bytes.len() - left.len()) as u64);
                let gone = lines(&bytes).count() - lines(&left).count();
                self.lane.queue.count_dropped(gone as u64);
                before = self.shorten(path, left, before);
            }
        }
    }

    /// Leaves this of a file, together with what was left of the one before: their number stays small.
    /// What there is then.
    fn shorten(
        &self,
        path: PathBuf,
        left: Vec<u8>,
        before: Option<(PathBuf, Vec<u8>)>,
    ) -> Option<(PathBuf, Vec<u8>)> {
        let (earlier, mut all) = match before {
            Some((earlier, all)) if all.len() as u64 <= self.file_bytes => (Some(earlier), all),
            _ => (None, Vec::new()),
        };
        all.extend(left);
        if all.is_empty() {
            let _ = fs::remove_file(&path);
            return None;
        }
        replace(&path, &all).ok()?;
        if let Some(earlier) = earlier {
            let _ = fs::remove_file(earlier);
        }
        Some((path, all))
    }

    /// All that was kept reaches the disk, so that it can be sent.
    pub(super) fn seal(&mut self) {
        if let Some(recorder) = self.recorder.take() {
            recorder.close(PATIENCE);
        }
    }

    /// The next lines to send, and how far they go; `None` if there are none, or as many under way as
    /// there are.
    pub(super) fn next(&mut self) -> Option<(Vec<u8>, usize)> {
        if self.open.is_none() {
            let Some(path) = self.files().into_iter().next() else {
                self.waits = false;
                return None;
            };
            let bytes = fs::read(&path).unwrap_or_default();
            (self.open, self.sent, self.arrived) = (Some((path, bytes)), 0, 0);
            self.arrived_to(0);
        }
        let (_, bytes) = self.open.as_ref()?;
        let rest = &bytes[self.sent..];
        let room = rest.len().min(PIECE);
        let end = memchr::memrchr(b'\n', &rest[..room]).map_or(room, |it| it + 1);
        if end == 0 {
            return None;
        }
        let piece = rest[..end].to_vec();
        self.sent += end;
        Some((piece, self.sent))
    }

    /// What was sent has arrived up to here; a file that has is deleted.
    pub(super) fn arrived_to(&mut self, end: usize) {
        self.arrived = end;
        if let Some((path, _)) = self.open.take_if(|(_, bytes)| end >= bytes.len()) {
            let _ = fs::remove_file(path);
            (self.sent, self.arrived) = (0, 0);
        }
    }

    /// What is under way is sent again.
    pub(super) fn rewind(&mut self) {
        self.sent = self.arrived;
    }
}

/// The lines of a file, with their ends.
fn lines(bytes: &[u8]) -> impl Iterator<Item = &[u8]> {
    bytes.split_inclusive(|&byte| byte == b'\n')
}

/// Writes a file anew, so that it is the one or the other after a power cut.
fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let new = path.with_extension("new");
    fs::write(&new, bytes)?;
    fs::rename(new, path)
}

/// Whether a line, with or without a TAG block, is a call or was sent in the name of a survivor beacon.
pub(super) fn is_urgent(line: &[u8]) -> bool {
    let behind = line.strip_prefix(b"\\").and_then(|it| it.splitn(2, |&c| c == b'\\').nth(1));
    let sender = sender_of(line).and_then(Mmsi::new);
    behind.unwrap_or(line).starts_with(b"{")
        || sender.is_some_and(|mmsi| mmsi.beacon_kind().is_some())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edge::Clock;
    use crate::outputs::Wants;
    use crate::time::{Mono, Utc};

    /// A beacon's test, published in libais' tests, and a call.
    const BEACON: &str = "!AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2*0D";
    const CALL: &str = r#"{"call":["CDDSC","12","2000000000"]}"#;

    /// What is sent of all that waits, without TAG blocks.
    fn sent(unsent: &mut Unsent) -> Vec<String> {
        let mut all = Vec::new();
        while let Some((piece, end)) = unsent.next() {
            all.extend(piece);
            unsent.arrived_to(end);
        }
        let text = String::from_utf8(all).unwrap();
        text.lines().filter_map(|it| it.rsplit('\\').next()).map(str::to_owned).collect()
    }

    #[test]
    fn at_the_bound_the_oldest_gives_way_and_beacons_and_calls_last() {
        let folder = tempfile::tempdir().unwrap();
        let lane =
            Arc::new(Lane::new(1, "bay", Wants::default(), Clock::start(), Arc::new(|_| {})));
        let begin = |limit: u64| {
            let unsent = Unsent::within(folder.path(), Arc::clone(&lane));
            Unsent { file_bytes: 2_000, limit, ..unsent }
        };
        let mut unsent = begin(10_000);
        let stamp = |ms: u64| {
            let (start, at) = (Mono::START, Mono::from_micros(ms * 1000));
            Stamp { at: start, utc: Utc::EPOCH }.at(at)
        };
        let mut kept = Vec::new();
        let mut keep = |unsent: &mut Unsent, number: u64, line: String| {
            unsent.keep("ais", stamp(number), line.as_bytes());
            if number.is_multiple_of(50) {
                // On disk: the test goes faster than any receiver.
                unsent.seal();
                unsent.make_room();
            }
            kept.push(line);
        };
        for number in 0..2_000 {
            let line = match number {
                300 | 301 | 900 => BEACON.to_owned(),
                700 | 1_100 => CALL.to_owned(),
                _ => format!("$TIROT,{number:06}.0,A*00"),
            };
            keep(&mut unsent, number, line);
        }
        unsent.seal();
        unsent.make_room();
        let waits: u64 = recordings(folder.path()).unwrap().iter().map(|it| it.bytes).sum();
        assert!((5_000..=10_000).contains(&waits), "{waits}");
        assert!(recordings(folder.path()).unwrap().len() < 10);
        let came = sent(&mut unsent);
        // In the order in which it was heard: what was urgent, and the newest of all else.
        let ordinary = came.iter().filter(|it| it.starts_with("$TIROT")).count();
        let urgent = kept.iter().filter(|it| !it.starts_with("$TIROT")).cloned();
        let newest = &kept[kept.len() - ordinary..];
        assert_eq!(came, urgent.chain(newest.to_vec()).collect::<Vec<_>>());
        assert_eq!(lane.queue.dropped(), (kept.len() - came.len()) as u64);
        // Nothing but beacons: the oldest of them give way as well.
        let mut unsent = begin(4_000);
        for number in 0..1_000 {
            unsent.keep("ais", stamp(number), BEACON.as_bytes());
            if number.is_multiple_of(20) {
                unsent.seal();
                unsent.make_room();
            }
        }
        unsent.seal();
        unsent.make_room();
        let waits: u64 = recordings(folder.path()).unwrap().iter().map(|it| it.bytes).sum();
        assert!(waits <= 4_000, "{waits}");
    }

    #[test]
    fn what_is_kept_is_sent_in_order_and_gone_when_it_has_arrived() {
        let folder = tempfile::tempdir().unwrap();
        let lane =
            Arc::new(Lane::new(1, "bay", Wants::default(), Clock::start(), Arc::new(|_| {})));
        let mut unsent = Unsent::within(folder.path(), Arc::clone(&lane));
        assert!(unsent.next().is_none() && unsent.is_empty());
        let stamp = |ms: u64| {
            let (start, at) = (Mono::START, Mono::from_micros(ms * 1000));
            Stamp { at: start, utc: Utc::EPOCH }.at(at)
        };
        let line = |number: u64| format!("$TIROT,{number:06}.0,A*00");
        (0..500).for_each(|it| unsent.keep("ais", stamp(it), line(it).as_bytes()));
        unsent.seal();
        // Those of the program before.
        let mut unsent = Unsent::within(folder.path(), lane);
        let (first, end) = unsent.next().unwrap();
        unsent.arrived_to(end);
        let (second, _) = unsent.next().unwrap();
        // The link breaks: what was under way goes again.
        unsent.rewind();
        let (again, end) = unsent.next().unwrap();
        assert_eq!(again, second);
        let (mut all, mut ends) = ([first, second].concat(), vec![end]);
        while let Some((lines, end)) = unsent.next() {
            all.extend(lines);
            ends.push(end);
        }
        let text = String::from_utf8(all).unwrap();
        let sent: Vec<&str> = text.lines().filter_map(|it| it.rsplit('\\').next()).collect();
        assert_eq!(sent, (0..500).map(line).collect::<Vec<_>>());
        assert!(!unsent.is_empty());
        ends.into_iter().for_each(|end| unsent.arrived_to(end));
        assert!(unsent.next().is_none() && unsent.is_empty());
        assert_eq!(recordings(folder.path()).unwrap(), []);
    }
}
