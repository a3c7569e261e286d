//! Writes to where it may stick: a terminal that was stopped, a pipe nobody reads. Who writes never
//! waits for it; an alarm must not.

use std::fs::File;
use std::io::{self, Write};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use crate::thread;

/// How much may wait. Beyond it lines are given up, whole and counted: the logbook has them.
/// Our own.
const LIMIT: usize = 4 * 1024 * 1024;

#[derive(Debug, Default)]
struct Buffer {
    /// Handed over and not yet let go: a frame goes as a whole.
    gathered: Vec<u8>,
    waiting: Vec<u8>,
    /// The thread is writing something.
    writing: bool,
    /// Bytes given up since the last that were taken.
    lost: u64,
    error: Option<io::Error>,
}

#[derive(Debug)]
struct Shared {
    buffer: Mutex<Buffer>,
    changed: Condvar,
    /// The same output, if it can be had so that it takes what it can and makes nobody wait.
    at_once: Option<File>,
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, Buffer> {
        self.buffer.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What waits is given up: who comes next gets the error.
    fn failed(&self, why: io::Error) {
        let mut buffer = self.lock();
        buffer.writing = false;
        buffer.error = Some(why);
        buffer.waiting.clear();
        buffer.gathered.clear();
    }
}

/// A way out that never blocks. Copies write by the same thread.
#[derive(Clone, Debug)]
pub struct NonBlockingWriter {
    shared: Arc<Shared>,
}

impl NonBlockingWriter {
    /// Starts writing to this output, by a thread of its own.
    ///
    /// # Errors
    /// No thread can be started.
    pub fn start(to: impl Write + Send + 'static) -> io::Result<Self> {
        Self::start_with(to, None)
    }

    /// Starts writing to standard output. What that takes without waiting is written by whoever lets
    /// it go: an alarm need not wait until a thread is awake.
    ///
    /// # Errors
    /// No thread can be started.
    pub fn stdout() -> io::Result<Self> {
        #[cfg(target_os = "linux")]
        let at_once = opened_again(rustix::stdio::stdout()).ok();
        #[cfg(not(target_os = "linux"))]
        let at_once = None;
        Self::start_with(io::stdout(), at_once)
    }

    fn start_with(mut to: impl Write + Send + 'static, at_once: Option<File>) -> io::Result<Self> {
        let (buffer, changed) = Default::default();
        let shared = Arc::new(Shared { buffer, changed, at_once });
        let writer = Self { shared: Arc::clone(&shared) };
        let write = move |panicked: Option<&str>| {
            if let Some(why) = panicked {
                shared.failed(io::Error::other(why.to_owned()));
            }
            loop {
                let mut buffer = shared.lock();
                while buffer.waiting.is_empty() {
                    buffer = shared.changed.wait(buffer).unwrap_or_else(PoisonError::into_inner);
                }
                let load = std::mem::take(&mut buffer.waiting);
                buffer.writing = true;
                drop(buffer);
                let done = to.write_all(&load).and_then(|()| to.flush());
                match done {
                    Ok(()) => shared.lock().writing = false,
                    Err(why) => shared.failed(why),
                }
                shared.changed.notify_all();
            }
        };
        thread::spawn("output", write)?;
        Ok(writer)
    }

    /// Whether all that was handed over has arrived.
    pub fn is_idle(&self) -> bool {
        let buffer = self.shared.lock();
        buffer.waiting.is_empty() && !buffer.writing
    }

    /// Waits until all has arrived, but not for ever. Whether it has.
    pub fn settle(&self, patience: Duration) -> bool {
        let busy = |buffer: &mut Buffer| {
            (!buffer.waiting.is_empty() || buffer.writing) && buffer.error.is_none()
        };
        let waited = self.shared.changed.wait_timeout_while(self.shared.lock(), patience, busy);
        !waited.unwrap_or_else(PoisonError::into_inner).1.timed_out()
    }
}

impl Write for NonBlockingWriter {
    /// Takes everything at once.
    ///
    /// # Errors
    /// What the output said to something handed over before.
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut buffer = self.shared.lock();
        if let Some(why) = buffer.error.take() {
            return Err(why);
        }
        let mut taken = bytes;
        let held = buffer.waiting.len() + buffer.gathered.len() + bytes.len();
        if buffer.lost > 0 || held > LIMIT {
            if held > LIMIT / 2 {
                buffer.lost += bytes.len() as u64;
                return Ok(bytes.len());
            }
            // It goes on with a whole line.
            let begin = memchr::memchr(b'\n', bytes).map_or(bytes.len(), |end| end + 1);
            taken = &bytes[begin..];
            let lost = std::mem::take(&mut buffer.lost) + begin as u64;
            buffer.gathered.push(b'\n');
            buffer.gathered.extend_from_slice(taken);
            // This may be written by the same writer.
            drop(buffer);
            tracing::warn!("{lost} bytes of output were given up: nobody took them");
            return Ok(bytes.len());
        }
        buffer.gathered.extend_from_slice(taken);
        Ok(bytes.len())
    }

    /// Lets go what was handed over; does not wait until it has arrived.
    fn flush(&mut self) -> io::Result<()> {
        let mut buffer = self.shared.lock();
        let gathered = std::mem::take(&mut buffer.gathered);
        // Never past what was let go before. What fails is met by the thread again, which tells it.
        let overtakes = buffer.writing || !buffer.waiting.is_empty() || buffer.error.is_some();
        let at_once = self.shared.at_once.as_ref().filter(|_| !overtakes && !gathered.is_empty());
        let written = at_once.and_then(|mut it| it.write(&gathered).ok()).unwrap_or(0);
        // The thread is not woken for nothing.
        if let Some(rest @ [_, ..]) = gathered.get(written..) {
            buffer.waiting.extend_from_slice(rest);
            self.shared.changed.notify_all();
        }
        buffer.error.take().map_or(Ok(()), Err)
    }
}

/// Opens a pipe or a terminal a second time, so that it never makes its writer wait: set on the first,
/// that would hold for every program that writes to it. A file has a place of its own each time it is
/// opened, so it is not.
#[cfg(target_os = "linux")]
fn opened_again(it: rustix::fd::BorrowedFd<'_>) -> io::Result<File> {
    use std::os::fd::AsRawFd as _;

    use rustix::fs::{FileType, Mode, OFlags};
    let kind = FileType::from_raw_mode(rustix::fs::fstat(it)?.st_mode);
    if kind != FileType::Fifo && !rustix::termios::isatty(it) {
        return Err(io::ErrorKind::Unsupported.into());
    }
    let path = format!("/proc/self/fd/{}", it.as_raw_fd());
    let flags = OFlags::WRONLY | OFlags::NONBLOCK | OFlags::NOCTTY | OFlags::CLOEXEC;
    Ok(rustix::fs::open(path, flags, Mode::empty())?.into())
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;

    use super::*;

    /// An output that takes nothing until it is let, and then says what it took.
    struct Stuck {
        gate: mpsc::Receiver<()>,
        took: mpsc::Sender<Vec<u8>>,
    }

    impl Write for Stuck {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.gate.recv().map_err(|_| io::ErrorKind::BrokenPipe)?;
            self.took.send(bytes.to_vec()).map_err(|_| io::ErrorKind::BrokenPipe)?;
            Ok(bytes.len())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn a_stuck_output_holds_nobody_up_and_memory_stays_bounded() {
        let ((open, gate), (took, taken)) = (mpsc::channel(), mpsc::channel());
        let mut writer = NonBlockingWriter::start(Stuck { gate, took }).unwrap();
        writer.write_all(b"first\n").unwrap();
        writer.flush().unwrap();
        while !writer.shared.lock().writing {
            std::thread::yield_now();
        }
        let line = [b'x'; 1023].iter().chain(b"\n").copied().collect::<Vec<u8>>();
        for _ in 0..10_000 {
            writer.write_all(&line).unwrap();
            writer.flush().unwrap();
        }
        assert!(writer.shared.lock().waiting.len() <= LIMIT);
        assert!(!writer.is_idle() && !writer.settle(Duration::ZERO));
        open.send(()).unwrap();
        assert_eq!(taken.recv().unwrap(), b"first\n");
        open.send(()).unwrap();
        let rest = taken.recv().unwrap();
        assert!(rest.len() > LIMIT / 2 && rest.ends_with(b"x\n"));
        assert!(writer.settle(Duration::from_secs(10)));
        writer.write_all(b"cut off\nwhole\n").unwrap();
        writer.flush().unwrap();
        open.send(()).unwrap();
        assert_eq!(taken.recv().unwrap(), b"\nwhole\n");
    }

    /// A pipe that nobody reads takes what it has room for, and holds nobody up.
    #[cfg(target_os = "linux")]
    #[test]
    fn what_is_taken_at_once_is_not_written_twice_and_nothing_overtakes() {
        use std::io::Read as _;
        use std::os::fd::AsFd as _;

        let (mut out, into) = io::pipe().unwrap();
        let at_once = opened_again(into.as_fd()).unwrap();
        let writer = NonBlockingWriter::start_with(into, Some(at_once)).unwrap();
        let (mut to, mut said) = (writer.clone(), Vec::new());
        let mut say = |n: u32, size: usize| {
            let line = format!("{n:size$}\n");
            to.write_all(line.as_bytes()).unwrap();
            to.flush().unwrap();
            said.extend_from_slice(line.as_bytes());
        };
        say(0, 8);
        assert!(writer.is_idle(), "it went without the thread");
        // Far more than a pipe takes, in lines that do not fit its pages.
        (1..100).for_each(|n| say(n, 3001));
        assert!(!writer.is_idle());
        let mut took = vec![0; said.len()];
        out.read_exact(&mut took).unwrap();
        assert!(took == said);
        assert!(opened_again(tempfile::tempfile().unwrap().as_fd()).is_err());
    }

    #[test]
    fn a_closed_output_is_an_error_to_who_comes_next() {
        let ((open, gate), (took, taken)) = (mpsc::channel(), mpsc::channel());
        let mut writer = NonBlockingWriter::start(Stuck { gate, took }).unwrap();
        drop((open, taken));
        writer.write_all(b"x").unwrap();
        writer.flush().unwrap();
        assert!(writer.settle(Duration::from_secs(10)));
        assert_eq!(writer.flush().unwrap_err().kind(), io::ErrorKind::BrokenPipe);
    }
}
