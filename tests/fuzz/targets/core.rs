//! Lines, times and commands: the same script gives the same alerts, and nothing panics.
#![no_main]

use libfuzzer_sys::fuzz_target;
use overside_fuzz::{drain, play, watch};

fuzz_target!(|script: &[u8]| {
    let mut alerts = [(); 2].map(|()| {
        let mut watch = watch();
        play(&mut watch, script, |watch, _| drain(watch));
        format!("{:?}", watch.alerts())
    });
    let [one, other] = &mut alerts;
    assert_eq!(one, other);
});
