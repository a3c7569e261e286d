//! A copy of the folders in which a system shows its serial ports, with pseudo-terminals for the ports.
#![allow(dead_code, reason = "each test uses its part")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::fs::{self, File};
use std::io::Write as _;
use std::os::unix::fs::symlink;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

use rustix::fs::OFlags;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use tempfile::TempDir;

use super::support::{class_b, sealed, vdm};

/// A folder that stands for the root of a system, and what is plugged in.
pub struct System {
    pub root: TempDir,
    pub plugged: Vec<Plugged>,
}

/// What is at the other end of a port: it speaks at one rate, and is noise at every other.
pub struct Plugged {
    ends: Arc<AtomicBool>,
    task: Option<JoinHandle<()>>,
    pub device: String,
}

impl Drop for Plugged {
    fn drop(&mut self) {
        self.ends.store(true, Ordering::Relaxed);
        self.task.take().map(JoinHandle::join);
    }
}

impl Plugged {
    /// Says the lines again and again, to who listens at this rate.
    pub fn new(rate: u32, lines: Vec<String>) -> Self {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let device = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
        // Who has not set it yet listens raw, and hears nothing of its own.
        let mut modes = tcgetattr(&master).unwrap();
        modes.make_raw();
        tcsetattr(&master, OptionalActions::Now, &modes).unwrap();
        // Nobody may listen for long: what does not fit is lost, as on a wire.
        rustix::fs::fcntl_setfl(&master, OFlags::RDWR | OFlags::NONBLOCK).unwrap();
        let ends = Arc::new(AtomicBool::new(false));
        let ended = Arc::clone(&ends);
        let task = std::thread::spawn(move || {
            let mut wire = File::from(master);
            while !ended.load(Ordering::Relaxed) {
                for line in &lines {
                    let speed = tcgetattr(&wire).map_or(0, |modes| modes.output_speed());
                    let _ = match speed == rate {
                        true => wire.write_all(format!("{line}\r\n").as_bytes()),
                        false => wire.write_all(&[0xF8, 0x00, 0x87, 0xFE, 0x80, 0xE0, 0x78, 0x06]),
                    };
                    std::thread::sleep(Duration::from_millis(10));
                }
            }
        });
        Self { ends, task: Some(task), device }
    }
}

impl System {
    pub fn new() -> Self {
        let root = tempfile::tempdir().unwrap();
        for folder in ["dev/serial/by-id", "dev/serial/by-path", "sys/class/tty"] {
            fs::create_dir_all(root.path().join(folder)).unwrap();
        }
        // Neither a console nor a port that is a name only is a port.
        fs::create_dir_all(root.path().join("sys/class/tty/tty0")).unwrap();
        fs::create_dir_all(root.path().join("sys/class/tty/ttyS3/device")).unwrap();
        fs::write(root.path().join("sys/class/tty/ttyS3/type"), "0\n").unwrap();
        fs::write(root.path().join("dev/ttyS3"), "").unwrap();
        Self { root, plugged: Vec::new() }
    }

    pub fn path(&self, inner: &str) -> std::path::PathBuf {
        self.root.path().join(inner)
    }

    /// Plugs an adapter in: by this name of the system, with this product's name.
    pub fn plug(&mut self, name: &str, product: &str, plugged: Plugged) {
        let adapter = format!("sys/devices/usb1/{product}");
        let port = format!("{adapter}/1.0/{name}");
        fs::create_dir_all(self.path(&port)).unwrap();
        fs::write(self.path(&format!("{adapter}/manufacturer")), "Demo\n").unwrap();
        fs::write(self.path(&format!("{adapter}/product")), format!("{product}\n")).unwrap();
        fs::create_dir_all(self.path(&format!("sys/class/tty/{name}"))).unwrap();
        symlink(self.path(&port), self.path(&format!("sys/class/tty/{name}/device"))).unwrap();
        symlink(&plugged.device, self.path(&format!("dev/{name}"))).unwrap();
        let by_id = self.path(&format!("dev/serial/by-id/usb-{product}"));
        symlink(format!("../../{name}"), by_id).unwrap();
        self.plugged.push(plugged);
    }

    /// Unplugs the adapter that has this name of the system.
    pub fn unplug(&mut self, name: &str, product: &str) {
        fs::remove_file(self.path(&format!("dev/serial/by-id/usb-{product}"))).unwrap();
        fs::remove_file(self.path(&format!("dev/{name}"))).unwrap();
        fs::remove_dir_all(self.path(&format!("sys/class/tty/{name}"))).unwrap();
    }

    pub fn by_id(&self, product: &str) -> String {
        self.path(&format!("dev/serial/by-id/usb-{product}")).display().to_string()
    }
}

/// Ships near by, each on these channels.
pub fn ships(mmsis: std::ops::Range<u32>, channels: &[char]) -> Vec<String> {
    let lines = mmsis.flat_map(|mmsi| channels.iter().map(move |&channel| (mmsi, channel)));
    lines.map(|(mmsi, channel)| vdm(&class_b(mmsi, 57.7, 10.6), channel)).collect()
}

/// What a satellite compass with a wind vane says.
pub fn gnss() -> Vec<String> {
    vec![
        sealed("GPGGA,120000.00,5742.070,N,01035.890,E,1,09,0.9,4.0,M,40.0,M,,"),
        sealed("GPHDT,123.4,T"),
        sealed("WIMWV,045.0,R,12.0,N,A"),
    ]
}
