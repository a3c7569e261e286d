//! What could not be sent to a broker: it waits on disk, in the recorder's own files, and is taken from
//! there in order.

use std::collections::HashSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use super::lane::Lane;
use crate::capture::{Recorder, RecorderReport, Referred, Retention, recordings};
use crate::time::Stamp;

/// The size at which another file begins: what is sent is deleted by the file. Our own.
const FILE_BYTES: u64 = 1024 * 1024;

/// How much waits: some five hours of a busy coast (75 lines a second). The oldest gives way. Our own.
const LIMIT: u64 = 128;

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
                Ok(recorder) => self.recorder = Some(recorder.with_file_bytes(FILE_BYTES)),
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
        if self.unlooked >= FILE_BYTES {
            self.unlooked = 0;
            self.make_room();
        }
    }

    /// Lets the oldest go where there is too much.
    fn make_room(&mut self) {
        let files = self.files();
        let surplus = files.len().saturating_sub(LIMIT as usize);
        for path in &files[..surplus] {
            let bytes = fs::read(path).unwrap_or_default();
            let lines = bytes.iter().filter(|&&byte| byte == b'\n').count();
            self.lane.queue.count_dropped(lines as u64);
            let _ = fs::remove_file(path);
        }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edge::Clock;
    use crate::outputs::Wants;
    use crate::time::{Mono, Utc};

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
