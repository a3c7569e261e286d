//! Any bytes as a recorded file, with whatever times it tells; measured afterwards as a debrief does.
#![no_main]

use libfuzzer_sys::fuzz_target;
use overside::capture::Recording;
use overside::debrief::{About, Observer, document};
use overside_fuzz::watch;

fuzz_target!(|bytes: &[u8]| {
    let Ok(folder) = tempfile::tempdir() else { return };
    let path = folder.path().join("recorded.nmea");
    if std::fs::write(&path, bytes).is_err() {
        return;
    }
    let (mut watch, mut observer) = (watch(), Observer::new());
    watch.record_reception();
    let Ok(mut recording) = Recording::open(&[path], &mut watch) else { return };
    while let Ok(Some(line)) = recording.next(&mut watch) {
        watch.handle(line.as_input());
        observer.look(&mut watch, line.stamp);
        while let Some(event) = watch.poll_output() {
            observer.hear(&event);
        }
    }
    let _ = document(&[observer.finish(About::default())]);
});
