//! The phones and programs that have given the code: for thirty days, or until all are forgotten.
//!
//! *Invariant:* a secret that was given out is kept as its hash alone, in a file for the watch's user
//! alone.

use std::fs::{self, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use crate::text::is_hostile;
use crate::time::Utc;

/// How long one is known.
pub(super) const DAYS_KNOWN: u64 = 30;

/// So many are known at most; the oldest gives way. Our own.
const MOST: usize = 64;

/// A name is cut to so many characters. Our own.
const NAME: usize = 24;

/// The name of the file.
const FILE: &str = "phones";

/// One that has given the code.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Phone {
    /// The hash of its secret.
    pub hash: String,
    /// How it is called in the logbook.
    pub name: String,
    /// Until when it is known, in milliseconds since 1970.
    until_ms: i64,
}

/// All of them.
#[derive(Debug)]
pub(super) struct Phones {
    file: Option<PathBuf>,
    /// The state of the file that was read or written last; `None` where nothing is kept in it.
    seen: Option<(SystemTime, u64)>,
    known: Vec<Phone>,
}

impl Phones {
    /// Those of this folder; for as long as this program runs if `None`.
    pub(super) fn open(folder: Option<&Path>) -> Self {
        let mut phones =
            Self { file: folder.map(|it| it.join(FILE)), seen: None, known: Vec::new() };
        phones.look_again();
        phones
    }

    /// Another program may have forgotten all, or let one in.
    fn look_again(&mut self) {
        let Some(file) = &self.file else { return };
        let state = state(file);
        if state == self.seen {
            return;
        }
        self.known = state.and_then(|_| read(file)).unwrap_or_default();
        self.seen = state;
    }

    /// The one with this secret, if it is still known.
    pub(super) fn of_secret(&mut self, secret: &str, now: Utc) -> Option<Phone> {
        let hash = hash(secret);
        self.of_hash(&hash, now)
    }

    /// The one with a secret of this hash, if it is still known.
    pub(super) fn of_hash(&mut self, hash: &str, now: Utc) -> Option<Phone> {
        self.look_again();
        self.known.iter().find(|it| it.hash == hash && it.until_ms > now.unix_ms()).cloned()
    }

    /// Lets one in, under this name or the next number. Its secret.
    ///
    /// # Errors
    /// The system has no random numbers.
    pub(super) fn add(&mut self, name: &str, now: Utc) -> io::Result<String> {
        self.look_again();
        let secret: String =
            super::code::random::<32>()?.iter().map(|it| format!("{it:02x}")).collect();
        let until_ms = now.plus(Duration::from_secs(DAYS_KNOWN * 86_400)).unix_ms();
        self.known.retain(|it| it.until_ms > now.unix_ms());
        if self.known.len() >= MOST {
            self.known.remove(0);
        }
        let name: String = name.trim().chars().filter(|it| !is_hostile(*it)).take(NAME).collect();
        let number = self.known.len() + 1;
        let name = if name.is_empty() { format!("phone {number}") } else { name };
        self.known.push(Phone { hash: hash(&secret), name, until_ms });
        self.seen = None;
        if let Some(file) = &self.file {
            match write(file, &self.known) {
                Ok(()) => self.seen = state(file),
                Err(why) => {
                    tracing::warn!("who has given the code is not kept: {}: {why}", file.display());
                }
            }
        }
        Ok(secret)
    }
}

/// Forgets all phones of this folder, for a watch that runs too. How many there were.
///
/// # Errors
/// The file cannot be removed.
pub fn forget(folder: &Path) -> io::Result<usize> {
    let file = folder.join(FILE);
    let count = read(&file).map_or(0, |known| known.len());
    match fs::remove_file(&file) {
        Err(why) if why.kind() != io::ErrorKind::NotFound => Err(why),
        _ => Ok(count),
    }
}

fn hash(secret: &str) -> String {
    Sha256::digest(secret.as_bytes()).iter().map(|it| format!("{it:02x}")).collect()
}

fn state(file: &Path) -> Option<(SystemTime, u64)> {
    let is = fs::metadata(file).ok()?;
    Some((is.modified().ok()?, is.len()))
}

/// A file that cannot be read lets nobody in.
fn read(file: &Path) -> Option<Vec<Phone>> {
    serde_json::from_slice(&fs::read(file).ok()?).ok()
}

/// Writes it whole or not at all.
fn write(file: &Path, known: &[Phone]) -> io::Result<()> {
    if let Some(folder) = file.parent() {
        fs::create_dir_all(folder)?;
    }
    let new = file.with_extension(std::process::id().to_string());
    let _ = fs::remove_file(&new);
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let written = options.open(&new).and_then(|mut it| it.write_all(&serde_json::to_vec(known)?));
    let done = written.and_then(|()| fs::rename(&new, file));
    if done.is_err() {
        let _ = fs::remove_file(&new);
    }
    done
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(day: u32) -> Utc {
        Utc::from_date_and_ms(2026, 6, day, 0).unwrap()
    }

    #[test]
    fn one_is_known_for_thirty_days_over_restarts_and_by_its_hash() {
        let folder = tempfile::tempdir().unwrap();
        let mut phones = Phones::open(Some(folder.path()));
        let secret = phones.add("Mate\u{202e}\u{1b}[2J", day(1)).unwrap();
        let text = fs::read_to_string(folder.path().join(FILE)).unwrap();
        assert!(!text.contains(&secret), "{text}");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt as _;
            let is = fs::metadata(folder.path().join(FILE)).unwrap();
            assert_eq!(is.permissions().mode() & 0o777, 0o600);
        }
        let mut again = Phones::open(Some(folder.path()));
        assert_eq!(again.of_secret(&secret, day(30)).unwrap().name, "Mate[2J");
        let after = day(30).plus(Duration::from_secs(86_400));
        assert_eq!(again.of_secret(&secret, after), None);
        assert_eq!(again.of_secret(&text, day(2)), None);
        assert_eq!(again.of_secret("", day(2)), None);
    }

    #[test]
    fn what_one_program_forgets_another_does_not_know() {
        let folder = tempfile::tempdir().unwrap();
        let mut phones = Phones::open(Some(folder.path()));
        let secret = phones.add("", day(1)).unwrap();
        assert_eq!(phones.of_secret(&secret, day(1)).unwrap().name, "phone 1");
        let mut other = Phones::open(Some(folder.path()));
        let second = other.add("", day(1)).unwrap();
        assert_eq!(phones.of_secret(&second, day(1)).unwrap().name, "phone 2");
        assert_eq!(forget(folder.path()).unwrap(), 2);
        assert_eq!(phones.of_secret(&secret, day(1)), None);
        assert_eq!(forget(folder.path()).unwrap(), 0);
        // A damaged file lets nobody in.
        let third = phones.add("", day(1)).unwrap();
        fs::write(folder.path().join(FILE), "[{").unwrap();
        assert_eq!(phones.of_secret(&third, day(1)), None);
        assert_eq!(Phones::open(None).of_secret(&third, day(1)), None);
    }
}
