//! A pseudo-terminal with the program on it, and what is to be seen there.
#![allow(dead_code, reason = "each test uses its part")]

use std::ffi::OsStr;
use std::io::{Read, Write};
use std::path::Path;
use std::process::Command;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, mpsc};
use std::time::Duration;

use portable_pty::{Child, CommandBuilder, ExitStatus, MasterPty, PtySize};

/// Generous: a loaded machine starts a process in this time.
pub const PATIENCE: Duration = Duration::from_secs(30);

/// The program with nothing in its environment but this and a folder for what it remembers.
pub fn overside(environment: &[(&str, &str)], state: &Path) -> CommandBuilder {
    let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_overside"));
    command.env_clear();
    command.cwd(state);
    command.env("TERM", "xterm-256color");
    command.env("LANG", "C.UTF-8");
    for name in ["HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME"] {
        command.env(name, state);
    }
    for (name, value) in environment {
        command.env(name, OsStr::new(value));
    }
    command
}

/// What came out so far, and how it looks.
struct Output {
    parser: vt100::Parser,
    bytes: Vec<u8>,
    /// A text that has to be there all the time, and whether it was.
    expected: Option<(&'static str, bool)>,
    hung_up: bool,
}

/// The end that a terminal emulator holds, and its keyboard.
struct Emulator {
    pty: Box<dyn MasterPty + Send>,
    keyboard: Box<dyn Write + Send>,
}

/// A terminal of 80 columns and 24 rows with a program on it.
pub struct Terminal {
    shared: Arc<(Mutex<Output>, Condvar)>,
    /// `None` after a hang-up.
    emulator: Mutex<Option<Emulator>>,
    reader: Mutex<Option<std::thread::JoinHandle<()>>>,
    ended: mpsc::Receiver<ExitStatus>,
    pid: u32,
    /// The modes of the terminal, as printed, before the program came.
    modes: String,
}

fn size(columns: u16, rows: u16) -> PtySize {
    PtySize { rows, cols: columns, pixel_width: 0, pixel_height: 0 }
}

fn modes(master: &dyn MasterPty) -> String {
    format!("{:?}", master.get_termios().unwrap())
}

impl Terminal {
    /// Starts the program.
    pub fn start(command: CommandBuilder) -> Self {
        let pair = portable_pty::native_pty_system().openpty(size(80, 24)).unwrap();
        let modes = modes(&*pair.master);
        let mut child: Box<dyn Child + Send + Sync> = pair.slave.spawn_command(command).unwrap();
        drop(pair.slave);
        let pid = child.process_id().unwrap();
        let (tx, ended) = mpsc::channel();
        std::thread::spawn(move || tx.send(child.wait().unwrap()));
        let parser = vt100::Parser::new(24.try_into().unwrap(), 80.try_into().unwrap(), 0);
        let output = Output { parser, bytes: Vec::new(), expected: None, hung_up: false };
        let shared = Arc::new((Mutex::new(output), Condvar::new()));
        let reader = pair.master.try_clone_reader().unwrap();
        let to = Arc::clone(&shared);
        let reader = std::thread::spawn(move || read(reader, &to));
        let keyboard = pair.master.take_writer().unwrap();
        let emulator = Mutex::new(Some(Emulator { pty: pair.master, keyboard }));
        Self { shared, emulator, reader: Mutex::new(Some(reader)), ended, pid, modes }
    }

    fn output(&self) -> MutexGuard<'_, Output> {
        self.shared.0.lock().unwrap()
    }

    /// Whether this is to be seen within the time.
    pub fn waited(&self, patience: Duration, shows: impl Fn(&vt100::Screen) -> bool) -> bool {
        let waits = |output: &mut Output| !shows(output.parser.screen());
        !self.shared.1.wait_timeout_while(self.output(), patience, waits).unwrap().1.timed_out()
    }

    /// Waits until this is to be seen.
    pub fn wait_for(&self, what: &str, shows: impl Fn(&vt100::Screen) -> bool) {
        assert!(self.waited(PATIENCE, shows), "{what} is not to be seen:\n{}", self.text());
    }

    /// Waits until this text is to be seen.
    pub fn wait_for_text(&self, text: &str) {
        self.wait_for(text, |screen| screen.contents().contains(text));
    }

    /// Waits until the bell rings.
    pub fn wait_for_bell(&self) {
        let waits = |output: &mut Output| !output.bytes.contains(&7);
        let rung = self.shared.1.wait_timeout_while(self.output(), PATIENCE, waits).unwrap();
        assert!(!rung.1.timed_out(), "the bell does not ring");
    }

    /// Something about the screen as it is now.
    pub fn look<T>(&self, at: impl Fn(&vt100::Screen) -> T) -> T {
        at(self.output().parser.screen())
    }

    /// All that is to be read now.
    pub fn text(&self) -> String {
        self.look(vt100::Screen::contents)
    }

    /// All that came out so far.
    pub fn bytes(&self) -> Vec<u8> {
        self.output().bytes.clone()
    }

    /// From now on this text has to be there whenever something has been drawn.
    pub fn expect_from_now_on(&self, text: &'static str) {
        self.output().expected = Some((text, true));
    }

    /// Whether it was.
    pub fn expectation_held(&self) -> bool {
        self.output().expected.is_some_and(|(_, held)| held)
    }

    /// Presses keys.
    pub fn press(&self, keys: &str) {
        self.send(keys.as_bytes());
    }

    /// The bytes of keys, as a terminal of another encoding sends them.
    pub fn send(&self, keys: &[u8]) {
        let mut emulator = self.emulator.lock().unwrap();
        let keyboard = &mut emulator.as_mut().unwrap().keyboard;
        keyboard.write_all(keys).unwrap();
        keyboard.flush().unwrap();
    }

    /// Gives the terminal another size.
    pub fn resize(&self, columns: u16, rows: u16) {
        let (height, width) = (rows.try_into().unwrap(), columns.try_into().unwrap());
        self.output().parser.screen_mut().set_size(height, width);
        self.emulator.lock().unwrap().as_ref().unwrap().pty.resize(size(columns, rows)).unwrap();
    }

    /// Sends the program a signal.
    pub fn signal(&self, name: &str) {
        let pid = self.pid.to_string();
        assert!(Command::new("kill").args([name, &pid]).status().unwrap().success());
    }

    /// Closes the terminal emulator. The program draws every second, so the reader notices.
    pub fn hang_up(&self) {
        self.output().hung_up = true;
        self.reader.lock().unwrap().take().unwrap().join().unwrap();
        self.emulator.lock().unwrap().take();
    }

    /// Waits for the end of the program.
    pub fn exit_status(&self) -> ExitStatus {
        let status = self.ended.recv_timeout(PATIENCE);
        let status = status.unwrap_or_else(|_| panic!("it does not end:\n{}", self.text()));
        // What was written last is still on its way.
        if let Some(reader) = self.reader.lock().unwrap().take() {
            reader.join().unwrap();
        }
        status
    }

    /// Waits for the end of the program, whatever has become of the terminal.
    pub fn ended(&self) -> ExitStatus {
        self.ended.recv_timeout(PATIENCE).unwrap_or_else(|_| panic!("it does not end"))
    }

    fn modes(&self) -> String {
        modes(&*self.emulator.lock().unwrap().as_ref().unwrap().pty)
    }

    /// Whether keys come unread and unprinted.
    pub fn is_raw(&self) -> bool {
        let modes = self.modes();
        !modes.contains("ICANON") && !modes.contains("ECHO ") && modes != self.modes
    }

    /// The terminal is as it was before the program came, with a cursor and no mouse.
    pub fn assert_whole(&self) {
        assert_eq!(self.modes(), self.modes, "modes of the terminal");
        assert!(self.modes.contains("ICANON") && self.modes.contains("ECHO"), "{}", self.modes);
        let output = self.output();
        let screen = output.parser.screen();
        assert!(!screen.alternate_screen() && !screen.hide_cursor(), "{}", screen.contents());
        assert_eq!(screen.mouse_protocol_mode(), vt100::MouseProtocolMode::None);
        let leave = b"\x1b[?1049l";
        let left = output.bytes.windows(leave.len()).filter(|bytes| bytes == leave).count();
        // A second time would put the cursor back over what was printed since.
        assert_eq!(left, 1, "left the alternate screen {left} times");
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        // No hang-up: that does not end every watch.
        if matches!(self.ended.try_recv(), Err(mpsc::TryRecvError::Empty)) {
            let _ = Command::new("kill").args(["-KILL", &self.pid.to_string()]).status();
        }
    }
}

fn read(mut from: Box<dyn Read + Send>, to: &(Mutex<Output>, Condvar)) {
    let mut chunk = [0; 4096];
    // The other end is closed: an end for some systems, an error for others.
    while let Ok(count @ 1..) = from.read(&mut chunk) {
        let mut output = to.0.lock().unwrap();
        output.parser.process(&chunk[..count]);
        output.bytes.extend_from_slice(&chunk[..count]);
        let screen = output.parser.screen();
        let (shown, alternate) = (screen.contents(), screen.alternate_screen());
        if let Some((text, held)) = &mut output.expected {
            *held &= !alternate || shown.contains(*text);
        }
        to.1.notify_all();
        if output.hung_up {
            return;
        }
    }
}
