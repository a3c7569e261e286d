//! Any bytes as the file of a logbook: read, or refused.
#![no_main]

use libfuzzer_sys::fuzz_target;
use overside::logbook::{Error, FILE, Filter, Reader};

fuzz_target!(|bytes: &[u8]| {
    let Ok(folder) = tempfile::tempdir() else { return };
    if std::fs::write(folder.path().join(FILE), bytes).is_err() {
        return;
    }
    let Ok(Some(reader)) = Reader::open(folder.path()) else { return };
    let _ = reader.entries::<Error>(&Filter::default(), |_| Ok(()));
    let _ = (reader.open_incidents(), reader.recordings());
});
