//! The logbook on a disk that can fail: what the writer is handed waits here until the model of the
//! disk takes it. While the power is off, all that was written goes through the real writer into a
//! real file, and what the next watch goes on with is read from there.

use std::collections::{BTreeMap, VecDeque};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::mpsc::channel;
use std::time::Duration;

use overside::logbook::{Draft, FILE, Logbook, Patience, WriterReport};
use overside::watch::{Cause, Event, EventBody, Priority, State};
use rusqlite::{Connection, OpenFlags};
use tempfile::TempDir;

use crate::script::Disk;

/// An entry of an alert, as the judge knows it: from what was handed to the disk.
#[derive(Clone, Debug)]
pub struct Row {
    pub alert: u32,
    pub cause: Cause,
    pub priority: Priority,
    pub state: State,
    pub mmsi: Option<u32>,
    pub text: String,
    /// A byte of it was altered since.
    pub damaged: bool,
}

impl Row {
    /// What is to be found in the logbook of an event.
    pub fn of(event: &Event) -> Option<Self> {
        let EventBody::Alert(alert) = &event.body else { return None };
        Some(Self {
            alert: alert.id.0,
            cause: alert.cause,
            priority: alert.priority,
            state: alert.state,
            mmsi: alert.mmsi.map(|mmsi| mmsi.value()),
            text: alert.text.clone(),
            damaged: false,
        })
    }
}

/// What became of what was handed in.
pub enum Done {
    /// An alert's entry, by its number.
    Committed(i64, Row),
    Failed,
    Works,
}

pub struct Books {
    folder: TempDir,
    disk: Disk,
    /// Another program has it.
    pub held: bool,
    /// Written in this life of the program; the first began it.
    written: Vec<Draft>,
    waiting: VecDeque<(u64, Draft, Option<Row>)>,
    last: i64,
    failing: bool,
    /// The entries of alerts that are on the disk, by number.
    pub rows: BTreeMap<i64, Row>,
    /// How many drafts were written.
    pub count: u64,
}

/// A writer that does not wait for what is not going to change.
const IMPATIENT: Patience = Patience {
    lock: Duration::from_millis(20),
    first: Duration::from_millis(5),
    longest: Duration::from_millis(20),
};

/// Drafts handed to the real writer at once: less than it keeps.
const AT_ONCE: usize = 10_000;

impl Books {
    pub fn new() -> Self {
        // In memory where that can be had: the figures of a disk are not what is looked at.
        let memory = Path::new("/dev/shm");
        let folder = if memory.is_dir() {
            tempfile::tempdir_in(memory)
        } else {
            tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR"))
        };
        Self {
            folder: folder.unwrap(),
            disk: Disk::Works,
            held: false,
            written: Vec::new(),
            waiting: VecDeque::new(),
            last: 0,
            failing: false,
            rows: BTreeMap::new(),
            count: 0,
        }
    }

    pub fn folder(&self) -> PathBuf {
        self.folder.path().to_owned()
    }

    pub fn set(&mut self, disk: Disk) {
        self.disk = disk;
    }

    /// Takes an entry; an alert's with what the judge is to find.
    pub fn write(&mut self, draft: Draft, row: Option<Row>, now: u64) {
        self.waiting.push_back((now, draft, row));
    }

    /// The highest number given.
    pub fn last(&self) -> i64 {
        self.last
    }

    /// The first entry that waits, if it is an alert's, with the number it will have.
    pub fn first_waiting(&self) -> Option<(i64, Row)> {
        let (_, _, row) = self.waiting.front()?;
        Some((self.last + 1, row.clone()?))
    }

    /// When the disk is done with the next entry, if it takes its time.
    pub fn due(&self) -> Option<u64> {
        match self.disk {
            Disk::Slow(ms) if !self.held => self.waiting.front().map(|(since, ..)| since + ms),
            _ => None,
        }
    }

    /// Lets the disk do what it can by now.
    pub fn work(&mut self, now: u64) -> Vec<Done> {
        let mut done = Vec::new();
        let disk = if self.held { Disk::ReadOnly } else { self.disk };
        match disk {
            Disk::Full | Disk::ReadOnly => {
                if !self.waiting.is_empty() && !std::mem::replace(&mut self.failing, true) {
                    done.push(Done::Failed);
                }
                return done;
            }
            Disk::Works => {}
            Disk::Slow(ms) if self.waiting.front().is_some_and(|(since, ..)| since + ms <= now) => {
            }
            Disk::Slow(_) => return done,
        }
        if !self.waiting.is_empty() && std::mem::take(&mut self.failing) {
            done.push(Done::Works);
        }
        while !self.waiting.is_empty() {
            if let Some(row) = self.commit() {
                done.push(Done::Committed(self.last, row));
            }
        }
        done
    }

    /// The power fails: of what waits so many are written, if the disk writes at all.
    pub fn power_off(&mut self, written: usize) {
        if self.disk == Disk::Works && !self.held {
            for _ in 0..written.min(self.waiting.len()) {
                self.commit();
            }
        }
        self.waiting.clear();
        (self.failing, self.held) = (false, false);
    }

    fn commit(&mut self) -> Option<Row> {
        let (_, draft, row) = self.waiting.pop_front()?;
        self.last += 1;
        self.count += 1;
        self.written.push(draft);
        self.rows.extend(row.clone().map(|row| (self.last, row)));
        row
    }

    /// Forgets the entry that was written last: what no disk may do.
    pub fn lose_last(&mut self) {
        if self.written.pop().is_some() {
            self.rows.remove(&self.last);
            self.last -= 1;
        }
    }

    /// Writes by the real writer what this life has written.
    pub fn settle(&mut self) {
        let mut drafts = std::mem::take(&mut self.written).into_iter();
        let Some(begun) = drafts.next() else { return };
        let first = self.last - drafts.len() as i64;
        let (told, reports) = channel();
        let tell = move |report| drop(told.send(report));
        let book = Logbook::open_with(self.folder(), begun, IMPATIENT, tell);
        let mut committed = 0;
        let mut given = 1;
        let mut wait = |given: i64| {
            while committed < given {
                match reports.recv().unwrap() {
                    WriterReport::Committed { entry, .. } => {
                        assert_eq!(entry, first + committed, "entries are numbered one by one");
                        committed += 1;
                    }
                    report => panic!("the real writer: {report:?}"),
                }
            }
        };
        for draft in drafts {
            book.write(draft);
            given += 1;
            if (given as usize).is_multiple_of(AT_ONCE) {
                wait(given);
            }
        }
        wait(given);
        assert_eq!(book.close(Duration::from_secs(600)), 0);
    }

    /// Alters one byte of one of the last entries in the file. Whether there was any.
    pub fn alter(&mut self, back: u8, salt: u64) -> bool {
        let entry = self.last - (salt % u64::from(back.max(1))) as i64;
        if entry < 1 {
            return false;
        }
        let path = self.folder.path().join(FILE);
        let connection =
            Connection::open_with_flags(&path, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap();
        let read = |row: &rusqlite::Row<'_>| row.get(0);
        let body: String =
            connection.query_row("SELECT body FROM entry WHERE entry = ?1", [entry], read).unwrap();
        drop(connection);
        // What lies on its first page, which a long entry leaves.
        let head = &body.as_bytes()[..body.len().min(400)];
        let place = (salt >> 8) as usize % head.len();
        let letter = match head[place] {
            digit @ b'0'..=b'8' => digit + 1,
            b'9' => b'0',
            b'"' | b'{' | b'}' | b':' | b',' => b'?',
            letter => letter ^ 1,
        };
        let mut file = fs::read(&path).unwrap();
        let found: Vec<usize> = memchr::memmem::find_iter(&file, head).collect();
        for &begin in &found {
            file[begin + place] = letter;
        }
        fs::write(&path, file).unwrap();
        if let Some(row) = self.rows.get_mut(&entry) {
            row.damaged = true;
        }
        !found.is_empty()
    }
}
