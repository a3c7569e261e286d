//! A recording, of one file or several: its lines in order, each with when and by which input it
//! came in.

use std::collections::{HashSet, VecDeque};
use std::fs::{self, File};
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::Reader;
use crate::time::Stamp;
use crate::watch::{Input, Watch};
use crate::wire::{InputId, Splitter};

/// Read at a time.
const CHUNK_BYTES: usize = 64 * 1024;

/// A recording that cannot be read.
#[derive(Debug, thiserror::Error)]
#[error("cannot read {}: {cause}", path.display())]
pub struct Unreadable {
    /// Which file.
    pub path: PathBuf,
    /// Why.
    pub cause: io::Error,
}

/// A line of a recording.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlacedLine {
    /// When it came in.
    pub stamp: Stamp,
    /// By which input: the TAG block's source, else the file.
    pub input: InputId,
    /// The line without its end.
    pub bytes: Vec<u8>,
}

impl PlacedLine {
    /// What it is to the watch.
    pub fn as_input(&self) -> Input<'_> {
        Input::Line { stamp: self.stamp, input: self.input, bytes: &self.bytes }
    }
}

/// A recording that is being read, as far as it is needed.
pub struct Recording {
    waiting: VecDeque<PathBuf>,
    path: PathBuf,
    source: Option<Box<dyn Read>>,
    splitter: Splitter,
    chunk: Vec<u8>,
    ready: VecDeque<Vec<u8>>,
    /// A file was opened of which no line was placed yet.
    file_begun: bool,
    reader: Reader,
    /// What tells that a part was recorded before; `None` where each line counts.
    overlap: Option<Overlap>,
}

impl Recording {
    /// Opens it; `-` is standard input. Its inputs become those of the watch.
    ///
    /// # Errors
    /// A file that is not there, is a folder or cannot be opened.
    pub fn open(files: &[PathBuf], watch: &mut Watch) -> Result<Self, Unreadable> {
        files.iter().try_for_each(|path| check_file(path))?;
        let path = files.first().cloned().unwrap_or_default();
        let mut recording = Self {
            waiting: files.iter().cloned().collect(),
            source: None,
            splitter: Splitter::new(),
            chunk: vec![0; CHUNK_BYTES],
            ready: VecDeque::new(),
            file_begun: false,
            reader: Reader::new(watch, &name(&path)),
            overlap: None,
            path,
        };
        recording.begin_next()?;
        Ok(recording)
    }

    /// The same without what a file before has too: two recordings may overlap.
    #[must_use]
    pub fn each_moment_once(mut self) -> Self {
        self.overlap = Some(Overlap::default());
        self
    }

    /// Whether something was left out because a file before has it.
    pub fn overlaps(&self) -> bool {
        self.overlap.as_ref().is_some_and(|it| it.was_found)
    }

    /// The next line; `None` at the end.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn next(&mut self, watch: &mut Watch) -> Result<Option<PlacedLine>, Unreadable> {
        let bytes = loop {
            let Some(bytes) = self.next_line()? else { return Ok(None) };
            let Some(overlap) = &mut self.overlap else { break bytes };
            if !overlap.is_before(&self.path, &bytes, &self.ready) {
                break bytes;
            }
        };
        if std::mem::take(&mut self.file_begun) {
            self.reader.begin_file(watch, &name(&self.path));
        }
        let place = self.reader.place(watch, &bytes);
        Ok(Some(PlacedLine { stamp: place.stamp, input: place.input, bytes }))
    }

    fn next_line(&mut self) -> Result<Option<Vec<u8>>, Unreadable> {
        while self.ready.is_empty() {
            let Some(source) = &mut self.source else {
                if self.begin_next()? {
                    continue;
                }
                return Ok(None);
            };
            let keep = |line: &[u8]| self.ready.push_back(line.to_vec());
            match source.read(&mut self.chunk) {
                Ok(0) => {
                    self.splitter.finish(keep);
                    self.source = None;
                }
                Ok(count) => self.splitter.push(&self.chunk[..count], keep),
                Err(why) if why.kind() == io::ErrorKind::Interrupted => {}
                Err(cause) => return Err(Unreadable { path: self.path.clone(), cause }),
            }
        }
        Ok(self.ready.pop_front())
    }

    /// Opens the next file. Whether there is one.
    fn begin_next(&mut self) -> Result<bool, Unreadable> {
        let Some(path) = self.waiting.pop_front() else { return Ok(false) };
        self.source = Some(if is_standard_input(&path) {
            Box::new(io::stdin())
        } else {
            let file = File::open(&path);
            Box::new(file.map_err(|cause| Unreadable { path: path.clone(), cause })?)
        });
        self.path = path;
        self.file_begun = true;
        Ok(true)
    }
}

/// So many moments are remembered: six days of one a second. Our own.
const MOMENTS: usize = 500_000;

/// What of a file a file before has too, by own ship's positions with their date: of one receiver no two
/// are alike, whatever the clock of a recorder does.
#[derive(Debug, Default)]
struct Overlap {
    path: PathBuf,
    before: HashSet<u64>,
    here: HashSet<u64>,
    is_before: bool,
    was_found: bool,
}

impl Overlap {
    /// Whether a file before has this line too, by the last position, or by the next where there was none.
    fn is_before(&mut self, path: &Path, line: &[u8], next: &VecDeque<Vec<u8>>) -> bool {
        if self.path != path {
            self.path = path.to_owned();
            self.before.extend(self.here.drain());
            let first = std::iter::once(line).chain(next.iter().map(Vec::as_slice));
            let first = first.into_iter().find_map(moment);
            self.is_before = first.is_some_and(|it| self.before.contains(&it));
        }
        if let Some(moment) = moment(line) {
            self.is_before = self.before.contains(&moment);
            if self.before.len() + self.here.len() < MOMENTS {
                self.here.insert(moment);
            }
        }
        self.was_found |= self.is_before;
        self.is_before
    }
}

/// What stands for the moment of an RMC sentence with time and date.
fn moment(line: &[u8]) -> Option<u64> {
    let sentence = &line[line.iter().position(|byte| *byte == b'$')?..];
    let mut fields = sentence.split(|byte| *byte == b',');
    let is_told = fields.next()?.get(3..6)? == b"RMC"
        && fields.next().is_some_and(|time| !time.is_empty())
        && fields.nth(6).is_some_and(|date| !date.is_empty());
    let mut hasher = DefaultHasher::new();
    sentence.trim_ascii_end().hash(&mut hasher);
    is_told.then(|| hasher.finish())
}

/// Whether a path means standard input.
pub fn is_standard_input(path: &Path) -> bool {
    path == Path::new("-")
}

/// Whether there is something to read at a path, so that a wrong name is told before anything
/// begins. A pipe is something.
///
/// # Errors
/// It is not there, it is a folder, or it is compressed.
pub fn check_file(path: &Path) -> Result<(), Unreadable> {
    let cause = match fs::metadata(path) {
        _ if is_standard_input(path) => return Ok(()),
        Ok(it) if it.is_dir() => io::ErrorKind::IsADirectory.into(),
        Ok(it) if it.is_file() && is_compressed(path) => {
            io::Error::new(io::ErrorKind::Unsupported, "it is compressed")
        }
        Ok(_) => return Ok(()),
        Err(cause) => cause,
    };
    Err(Unreadable { path: path.to_owned(), cause })
}

/// Whether a file begins as those of gzip, zstd, xz, bzip2 or zip do, and as no line does.
fn is_compressed(path: &Path) -> bool {
    let begins: [&[u8]; 5] =
        [b"\x1f\x8b", b"\x28\xb5\x2f\xfd", b"\xfd7zXZ\0", b"BZh", b"PK\x03\x04"];
    let mut first = Vec::new();
    // What cannot be read is told when it is opened.
    let read = File::open(path).and_then(|file| file.take(8).read_to_end(&mut first));
    read.is_ok() && begins.iter().any(|it| first.starts_with(it))
}

/// What the watch calls a file.
fn name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}
