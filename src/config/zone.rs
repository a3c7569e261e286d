//! The zone data of the system.

use std::path::Path;

use super::Config;
use crate::zone::Zone;

/// Where systems keep them.
const FOLDERS: [&str; 3] = ["/usr/share/zoneinfo", "/usr/lib/zoneinfo", "/etc/zoneinfo"];

/// No zone's data are larger, in bytes. Our own.
const LARGEST: u64 = 64 * 1024;

impl Config {
    /// The zone that `[vessel] time_zone` names; `None` if it names none.
    ///
    /// # Errors
    /// The system has no data for it, in words for a person: then there is UTC alone.
    pub fn zone(&self) -> Result<Option<Zone>, String> {
        let Some(name) = &self.vessel.time_zone else { return Ok(None) };
        let read = |folder: &&str| {
            let path = Path::new(folder).join(name);
            let is_file = path.metadata().is_ok_and(|it| it.is_file() && it.len() <= LARGEST);
            is_file.then(|| std::fs::read(path).ok()).flatten()
        };
        let bytes = FOLDERS.iter().find_map(read);
        let zone = bytes.and_then(|bytes| Zone::read(name, &bytes));
        zone.map(Some).ok_or_else(|| {
            format!(
                "this computer has no data for the time zone {name} ([vessel] time_zone): times \
                 are UTC alone; correct the name, or install tzdata"
            )
        })
    }
}

/// Whether a name may be that of a zone: no path leads out of the folder by it.
pub(super) fn is_name(name: &str) -> bool {
    let part = |part: &str| {
        let fits = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '+');
        !part.is_empty() && part.chars().all(fits)
    };
    name.len() <= 64 && name.split('/').all(part)
}
