//! A scenario: what it sends, twice the same.
#![no_main]

use libfuzzer_sys::fuzz_target;
use overside::rehearse::Scenario;

fuzz_target!(|text: &str| {
    let Ok(scenario) = Scenario::parse(text) else { return };
    let lines = || scenario.lines().take(2_000).map(|line| scenario.tagged(&line));
    assert!(lines().eq(lines()));
});
