//! Reads a recording for how far its receiver hears.

use std::path::PathBuf;

use super::Error;
use crate::capture::Recording;
use crate::time::{Mono, Stamp, Utc};
use crate::watch::{EventBody, Reach, ReachHour, Settings, Watch};

/// Reads a recording for how far it shows the boat to hear: hour by hour, the last one as far as it
/// goes, and at its end.
///
/// # Errors
/// A file that cannot be read.
pub fn hear(files: &[PathBuf], settings: Settings) -> Result<(Vec<ReachHour>, Reach), Error> {
    let mut watch = Watch::new(settings);
    let mut recording = Recording::open(files, &mut watch)?;
    let (mut hours, mut last) = (Vec::new(), Stamp { at: Mono::START, utc: Utc::EPOCH });
    while let Some(line) = recording.next(&mut watch)? {
        last = line.stamp;
        watch.handle(line.as_input());
        while let Some(event) = watch.poll_output() {
            if let EventBody::Reach(hour) = event.body {
                hours.push(*hour);
            }
        }
    }
    hours.extend(watch.reach_hour());
    Ok((hours, watch.reach(last)))
}
