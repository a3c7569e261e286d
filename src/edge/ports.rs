//! The serial ports of a computer, by the folders in which Linux shows them: no library of the system
//! is needed for it.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// A serial port.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Port {
    /// The path that stays the same when it is plugged in again, or into another order; else that of
    /// its device.
    pub path: PathBuf,
    /// Its device, as `/dev/ttyUSB0`: the next one plugged in may get this name.
    pub device: PathBuf,
    /// Maker and product of a USB adapter, as it says itself. Text from elsewhere.
    pub usb: Option<String>,
}

/// The ports under a root folder, `/` but in tests, by their devices' names. None where they are
/// shown in another way.
pub fn ports(root: &Path) -> Vec<Port> {
    let names = names(&root.join("sys/class/tty"));
    // By its number an adapter is known in any socket; by its socket, where it has no number.
    let stable = ["by-path", "by-id"].map(|kind| links(&root.join("dev/serial").join(kind)));
    let mut ports: Vec<Port> = names.iter().filter_map(|name| port(root, name, &stable)).collect();
    ports.sort_by(|a, b| a.device.cmp(&b.device));
    ports
}

fn port(root: &Path, name: &str, stable: &[BTreeMap<PathBuf, PathBuf>; 2]) -> Option<Port> {
    let class = root.join("sys/class/tty").join(name);
    // Consoles and pseudo-terminals are no devices.
    let hardware = fs::canonicalize(class.join("device")).ok()?;
    // The system makes names for ports on the board that may be there; type 0 is none.
    let kind = fs::read_to_string(class.join("type"));
    if kind.is_ok_and(|kind| kind.trim() == "0") {
        return None;
    }
    let device = root.join("dev").join(name);
    let real = fs::canonicalize(&device).ok()?;
    let [by_path, by_id] = stable;
    let path = by_id.get(&real).or_else(|| by_path.get(&real)).cloned();
    Some(Port { path: path.unwrap_or_else(|| device.clone()), device, usb: usb(&hardware, root) })
}

/// What a USB adapter says it is: in the folder of the adapter, above that of its port.
fn usb(hardware: &Path, root: &Path) -> Option<String> {
    let root = fs::canonicalize(root).ok()?;
    let folders = hardware.ancestors().take_while(|folder| folder.starts_with(&root));
    let adapter = folders.into_iter().find(|folder| folder.join("product").is_file())?;
    let read = |file: &str| {
        let text = fs::read_to_string(adapter.join(file)).ok()?;
        Some(text.trim().chars().take(60).collect::<String>()).filter(|it| !it.is_empty())
    };
    let words: Vec<String> = ["manufacturer", "product"].into_iter().filter_map(read).collect();
    (!words.is_empty()).then(|| words.join(" "))
}

/// The links in a folder, by what they lead to.
fn links(folder: &Path) -> BTreeMap<PathBuf, PathBuf> {
    let mut paths: Vec<_> = names(folder).into_iter().map(|name| folder.join(name)).collect();
    paths.sort();
    paths.into_iter().filter_map(|link| Some((fs::canonicalize(&link).ok()?, link))).collect()
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries.filter_map(|entry| entry.file_name().into_string().ok()).collect()
}

/// Why a serial port cannot be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Closed {
    /// It is not there.
    Missing,
    /// Another program has it.
    InUse,
    /// This user may not; the group that may, if it has a name.
    NoPermission(Option<String>),
    /// Otherwise: what the system says.
    Otherwise(String),
}

/// Tries whether a serial port can be opened, and gives it back at once. Needs a tokio runtime with
/// IO.
///
/// # Errors
/// Why not.
pub fn try_port(path: &str, baud: u32) -> Result<(), Closed> {
    if is_held(Path::new(path)) {
        return Err(Closed::InUse);
    }
    let opened = tokio_serial::SerialStream::open(&tokio_serial::new(path, baud));
    let error = match opened {
        Ok(_) => return Ok(()),
        Err(error) => io::Error::from(error),
    };
    Err(match error.kind() {
        io::ErrorKind::PermissionDenied => Closed::NoPermission(group_of(Path::new(path))),
        // The library says the same of a port that is not there and one that is taken.
        io::ErrorKind::NotFound if !Path::new(path).exists() => Closed::Missing,
        io::ErrorKind::NotFound | io::ErrorKind::ResourceBusy => Closed::InUse,
        _ => Closed::Otherwise(error.to_string()),
    })
}

/// Whether another program has it open, as far as the system lets this user see: one that did not take
/// it for itself alone would be read at another rate from then on, and get half of what comes.
#[cfg(unix)]
pub fn is_held(path: &Path) -> bool {
    let Ok(device) = fs::metadata(path) else { return false };
    let own = std::process::id().to_string();
    let numbered = |name: &String| *name != own && name.bytes().all(|b| b.is_ascii_digit());
    names(Path::new("/proc")).into_iter().filter(numbered).any(|process| {
        let folder = Path::new("/proc").join(process).join("fd");
        let open = |file: String| fs::metadata(folder.join(file));
        names(&folder).into_iter().any(|it| open(it).is_ok_and(|it| is_same_device(&it, &device)))
    })
}

#[cfg(not(unix))]
pub fn is_held(_: &Path) -> bool {
    false
}

/// Whether two files are one device. Pseudo-terminals (major numbers 136 to 143 of Linux) have the same
/// numbers again in each container.
#[cfg(unix)]
fn is_same_device(one: &fs::Metadata, other: &fs::Metadata) -> bool {
    use std::os::unix::fs::{FileTypeExt as _, MetadataExt as _};
    let is_pseudo = (136..=143).contains(&(one.rdev() >> 8 & 0xFFF));
    one.file_type().is_char_device()
        && other.file_type().is_char_device()
        && one.rdev() == other.rdev()
        && (!is_pseudo || one.dev() == other.dev())
}

/// The name of the group that a device belongs to.
#[cfg(unix)]
fn group_of(path: &Path) -> Option<String> {
    use std::os::unix::fs::MetadataExt as _;
    let number = fs::metadata(path).ok()?.gid().to_string();
    let groups = fs::read_to_string("/etc/group").ok()?;
    let mut groups = groups.lines().map(|line| line.split(':').collect::<Vec<_>>());
    let group = groups.find(|fields| fields.get(2) == Some(&number.as_str()))?;
    Some((*group.first()?).to_owned())
}

#[cfg(not(unix))]
fn group_of(_: &Path) -> Option<String> {
    None
}
