//! A configuration: read whole, or an error that names its place.
#![no_main]

use std::path::Path;

use libfuzzer_sys::fuzz_target;
use overside::config::Config;

fuzz_target!(|text: &str| {
    match Config::parse(text, Path::new("overside.toml")) {
        Ok(config) => drop(format!("{config:?}")),
        Err(why) => drop(why.to_string()),
    }
});
