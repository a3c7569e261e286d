//! A file to whose end all is added.

use std::fs::File;
use std::io::Write as _;
use std::path::Path;

use super::lane::Lane;

/// Writes what waits until nothing more comes. The disk is waited for: this thread has nothing else
/// to do.
///
/// # Errors
/// Those of the system, in words.
pub(super) async fn write(lane: &Lane, path: &Path) -> Result<(), String> {
    let failed = |why| format!("{} cannot be written ({why})", path.display());
    let mut file = File::options().append(true).create(true).open(path).map_err(failed)?;
    lane.works();
    while let Some(message) = lane.queue.next().await {
        if let Err(why) = file.write_all(&message.bytes) {
            lane.queue.count_dropped(1);
            return Err(failed(why));
        }
        lane.works();
    }
    Ok(())
}
