//! The folder of a report: what is written there, and what was there before.

use std::fs;
use std::path::{Path, PathBuf};

use crate::cli::Error;
use crate::debrief::{Drill, document, page, write_gpx};
use crate::text::json_line;

/// The folder that is named after the recordings.
pub(super) fn named(drills: &[Drill]) -> PathBuf {
    let first = drills.first().map_or("", |drill| drill.recording.as_str());
    // A name out of a file's name stays a name.
    let plain: String = first
        .chars()
        .map(|c| if c.is_alphanumeric() || matches!(c, '-' | '_' | '.') { c } else { '-' })
        .collect();
    let plain = plain.trim_matches(['-', '.']);
    let further = match drills.len() {
        0 | 1 => String::new(),
        count => format!("-and-{}-more", count - 1),
    };
    PathBuf::from(format!("debrief-{plain}{further}"))
}

/// Writes the report. A line for each file that was there before and is replaced.
pub(super) fn write(folder: &Path, drills: &[Drill]) -> Result<Vec<String>, Error> {
    fs::create_dir_all(folder).map_err(|why| {
        Error::new(
            format!("cannot make the folder {}: {why}", folder.display()),
            "name another with --folder",
        )
    })?;
    let mut said = Vec::new();
    said.extend(replace(&folder.join("debrief.html"), page(drills).as_bytes())?);
    let mut json = Vec::new();
    json_line(&mut json, &document(drills))?;
    said.extend(replace(&folder.join("debrief.json"), &json)?);
    let mut track = Vec::new();
    write_gpx(drills, &mut track)?;
    said.extend(replace(&folder.join("track.gpx"), &track)?);
    Ok(said)
}

/// Writes a file. What to say if there was one before.
fn replace(path: &Path, bytes: &[u8]) -> Result<Option<String>, Error> {
    let was_there = path.exists();
    fs::write(path, bytes).map_err(|why| Error::unwritable(&path.display().to_string(), &why))?;
    Ok(was_there.then(|| format!("{} was there before and is replaced", path.display())))
}
