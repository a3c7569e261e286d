//! A script observed and measured: numbers, sentences and JSON of whatever it holds.
#![no_main]

use libfuzzer_sys::fuzz_target;
use overside::debrief::{About, Observer, document, page};
use overside_fuzz::{play, watch};

fuzz_target!(|script: &[u8]| {
    let (mut watch, mut observer) = (watch(), Observer::new());
    watch.record_reception();
    play(&mut watch, script, |watch, stamp| {
        observer.look(watch, stamp);
        while let Some(event) = watch.poll_output() {
            observer.hear(&event);
        }
    });
    let drills = [observer.finish(About::default())];
    let _ = (document(&drills), page(&drills));
});
