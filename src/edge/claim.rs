//! One owner of each input: a lock by its address, for all programs of this kind on this computer.
//!
//! Other programs may listen to the same broadcast or group: only our own lock counts.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs::{File, TryLockError};
use std::io::{self, Read as _, Seek as _};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use super::InputUri;
use super::runtime_folder::{others, runtime_folder};

/// No file of a lock is longer. Our own.
const LONGEST: u64 = 16 * 1024;

/// How often a lock is tried again, and after how long. Our own.
const STARTS: u32 = 5;
const STARTING: Duration = Duration::from_millis(10);

/// Who reads an input.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Holder {
    /// The number of its process.
    pub pid: u32,
    /// The name that the input has there.
    pub input: String,
    /// The folder of its logbook, if it keeps one.
    pub folder: Option<PathBuf>,
    /// Since when, as RFC 3339.
    pub since: String,
    /// The socket by which it passes on what it receives; `None` of a program that passes on
    /// nothing.
    #[serde(default)]
    pub door: Option<PathBuf>,
}

/// An input that another program of this kind reads.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InUse {
    /// Its name.
    pub input: String,
    /// Its address.
    pub uri: InputUri,
    /// Who reads it, if that can be told.
    pub by: Option<Box<Holder>>,
}

/// The locks of the inputs that this program reads, until it ends, however it ends.
#[derive(Debug, Default)]
pub struct Claims {
    folder: Option<PathBuf>,
    /// Folders of other users, in which locks can be seen.
    others: Vec<PathBuf>,
    held: BTreeMap<String, File>,
}

/// One lock that an address needs. Who listens at all addresses of the computer keeps everybody from
/// the port; who listens at one of them keeps away who would listen at all.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Lock {
    name: String,
    shared: bool,
}

impl Claims {
    /// No locks yet. Where no folder for them can be had, none are taken: that keeps nobody from
    /// watching.
    pub fn new(env: impl Fn(&str) -> Option<OsString>) -> Self {
        let folder = runtime_folder(env);
        if let Err(why) = &folder {
            tracing::warn!(
                "no folder for locks ({why}): another watch of the same input is not seen"
            );
        }
        let folder = folder.ok();
        let others = folder.as_deref().map(|own| others(own).collect()).unwrap_or_default();
        Self { folder, others, held: BTreeMap::new() }
    }

    /// Those of these folders, its own and others'.
    #[cfg(test)]
    pub fn within(folder: PathBuf, others: Vec<PathBuf>) -> Self {
        Self { folder: Some(folder), others, held: BTreeMap::new() }
    }

    /// Takes the locks of these inputs, and gives back those of all others; all or nothing.
    ///
    /// # Errors
    /// One of them is in use.
    pub fn hold(&mut self, inputs: &[(String, InputUri)], holder: &Holder) -> Result<(), InUse> {
        let Some(folder) = &self.folder else { return Ok(()) };
        let (mut wanted, mut taken) = (Vec::new(), BTreeMap::new());
        for (input, uri) in inputs {
            for lock in locks(uri) {
                wanted.push(lock.name.clone());
                if self.held.contains_key(&lock.name) || taken.contains_key(&lock.name) {
                    continue;
                }
                match take(folder, &self.others, &lock) {
                    Ok(file) => drop(taken.insert(lock.name, (file, input))),
                    Err(Some(by)) => {
                        let by = by.map(Box::new);
                        return Err(InUse { input: input.clone(), uri: uri.clone(), by });
                    }
                    Err(None) => {}
                }
            }
        }
        // Not before all are had: who is refused writes nothing over the name of who has them.
        for (name, (mut file, input)) in taken {
            let holder = Holder { input: input.clone(), ..holder.clone() };
            // For people and for who wants to ask: the lock is what counts.
            let _ = file.set_len(0);
            let _ = file.rewind();
            let _ = serde_json::to_writer(&mut file, &holder);
            self.held.insert(name, file);
        }
        self.held.retain(|name, _| wanted.contains(name));
        Ok(())
    }

    /// Who else reads an input; `None` if nobody does.
    pub fn reader(&self, input: &str, uri: &InputUri) -> Option<InUse> {
        let folder = self.folder.as_deref()?;
        let held = locks(uri).into_iter().filter(|lock| !self.held.contains_key(&lock.name));
        let by =
            held.filter_map(|lock| take(folder, &self.others, &lock).err().flatten()).next()?;
        Some(InUse { input: input.to_owned(), uri: uri.clone(), by: by.map(Box::new) })
    }
}

/// The locks of an address. What is read once to its end has none.
fn locks(uri: &InputUri) -> Vec<Lock> {
    let exclusive = |name: String| Lock { name, shared: false };
    match uri {
        InputUri::Udp(address) => {
            let port = format!("udp-{}", address.port());
            match address {
                // All of IPv6 is all of IPv4, too.
                _ if address.ip().is_unspecified() => vec![exclusive(port)],
                _ if address.ip().is_multicast() => vec![exclusive(of_host(&port, address))],
                _ => {
                    let at_one = exclusive(of_host(&port, address));
                    vec![Lock { name: port, shared: true }, at_one]
                }
            }
        }
        InputUri::Tcp { host, port } => {
            vec![exclusive(named(&format!("tcp-{}-{port}", host.to_ascii_lowercase())))]
        }
        InputUri::Serial { path, .. } => {
            let device = std::fs::canonicalize(path).unwrap_or_else(|_| path.into());
            vec![exclusive(named(&format!("serial-{}", device.display())))]
        }
        InputUri::Mqtt(broker) => {
            let super::Broker { host, port, topic, .. } = broker.as_ref();
            vec![exclusive(named(&format!("mqtt-{}-{port}-{topic}", host.to_ascii_lowercase())))]
        }
        // A watch has the locks of what is heard through it.
        InputUri::File(_) | InputUri::Stdin | InputUri::ThroughWatch(_) => Vec::new(),
    }
}

fn of_host(port: &str, address: &SocketAddr) -> String {
    named(&format!("{port}-{}", address.ip()))
}

/// A name that can be one of a file, and is another for each text.
fn named(text: &str) -> String {
    let harmless = |c: char| c.is_ascii_alphanumeric() || ".-".contains(c);
    if text.len() <= 80 && text.chars().all(harmless) {
        return text.to_owned();
    }
    let readable = text.chars().take(40).map(|c| if harmless(c) { c } else { '_' });
    let hash = Sha256::digest(text.as_bytes());
    let hash: String = hash.iter().take(8).map(|byte| format!("{byte:02x}")).collect();
    format!("{}-{hash}", readable.collect::<String>())
}

/// Takes a lock; else `Some` of who has it, or `None` if there can be none.
fn take(folder: &Path, others: &[PathBuf], lock: &Lock) -> Result<File, Option<Option<Holder>>> {
    let name = format!("{}.lock", lock.name);
    for other in others {
        // Another user's can be read, at the best.
        if let Ok(mut file) = File::open(other.join(&name))
            && matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock))
        {
            return Err(Some(read(&mut file)));
        }
    }
    let path = folder.join(&name);
    let not = |why: io::Error| {
        tracing::warn!("no lock {}: {why}", path.display());
        None
    };
    let mut options = File::options();
    options.read(true).write(true).create(true).truncate(false);
    let mut file = options.open(&path).map_err(not)?;
    let try_once = || if lock.shared { file.try_lock_shared() } else { file.try_lock() };
    let mut locked = try_once();
    // A program that is just being started holds the files of who starts it, for a moment.
    for _ in 0..STARTS {
        if !matches!(locked, Err(TryLockError::WouldBlock)) {
            break;
        }
        std::thread::sleep(STARTING);
        locked = try_once();
    }
    match locked {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(Some(read(&mut file))),
        Err(TryLockError::Error(why)) => Err(not(why)),
    }
}

fn read(file: &mut File) -> Option<Holder> {
    let mut text = String::new();
    file.take(LONGEST).read_to_string(&mut text).ok()?;
    serde_json::from_str(&text).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inputs(uris: &[&str]) -> Vec<(String, InputUri)> {
        uris.iter().map(|uri| ((*uri).to_owned(), uri.parse().unwrap())).collect()
    }

    #[test]
    fn an_address_has_one_owner() {
        let folder = tempfile::tempdir().unwrap();
        // In its own folder alone: another watch on this computer may hold the same address.
        let claims = || Claims { folder: Some(folder.path().into()), ..Claims::default() };
        let first = Holder { pid: 7, folder: Some("/a".into()), ..Holder::default() };
        let other = Holder { pid: 8, ..Holder::default() };
        for (mine, theirs, is_refused) in [
            ("udp://127.0.0.1:10110", "udp://127.0.0.1:10110", true),
            ("udp://0.0.0.0:10110", "udp://127.0.0.1:10110", true),
            ("udp://127.0.0.1:10110", "udp://0.0.0.0:10110", true),
            ("udp://[::]:10110", "udp://127.0.0.1:10110", true),
            ("udp://127.0.0.1:10110", "udp://127.0.0.2:10110", false),
            ("udp://127.0.0.1:10110", "udp://127.0.0.1:10111", false),
            ("udp://239.192.0.2:60002", "udp://239.192.0.2:60002", true),
            ("udp://239.192.0.2:60002", "udp://239.192.0.4:60002", false),
            ("tcp://Receiver.example:10110", "tcp://receiver.example:10110", true),
            ("serial:/dev/null", "serial:/dev/../dev/null?baud=4800", true),
            ("file:/dev/null", "file:/dev/null", false),
            ("-", "-", false),
        ] {
            let (mut one, mut two) = (claims(), claims());
            one.hold(&inputs(&[mine]), &first).unwrap();
            // Again by the same program, and under two names.
            one.hold(&inputs(&[mine, mine]), &first).unwrap();
            let refused = two.hold(&inputs(&["udp://127.0.0.1:9", theirs]), &other);
            assert_eq!(refused.is_err(), is_refused, "{mine} {theirs}");
            if let Err(InUse { by, input, .. }) = refused {
                let by = by.unwrap();
                assert_eq!((by.pid, by.input.as_str(), input.as_str()), (7, mine, theirs));
                let reader = two.reader("x", &theirs.parse().unwrap()).unwrap();
                assert_eq!(reader.by.unwrap(), by);
                // All or nothing.
                claims().hold(&inputs(&["udp://127.0.0.1:9"]), &other).unwrap();
            }
            // What is no longer read is free.
            one.hold(&[], &first).unwrap();
            assert_eq!(two.reader("x", &theirs.parse().unwrap()), None);
            two.hold(&inputs(&[theirs]), &other).unwrap();
        }
    }

    #[test]
    fn names_of_locks_are_names_of_files() {
        for text in ["serial-/dev/serial/by-id/a b", &"x".repeat(400), "serial-../../etc"] {
            let name = named(text);
            assert!(name.len() < 100 && !name.contains('/'), "{name}");
            assert_ne!(name, named(&format!("{text}x")));
        }
    }
}
