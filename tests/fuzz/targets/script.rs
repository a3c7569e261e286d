//! What happens to a watch, read from a text that a fuzzer may change at will.
//!
//! A line is a line of the first input, a tenth of a second after what came before, but for:
//! `+N` N seconds pass · `@xN` a command (`a` acknowledge, `s` silence, `r` resolve
//! alert N, `m` mark, `p` present) · `?` the input breaks off · `!!` it is opened again.

use std::time::Duration;

use overside::time::{Mono, Stamp, Utc};
use overside::watch::{AlertId, Command, Input, Settings, Watch};

/// The moment at which a script begins.
pub fn begin() -> Stamp {
    Stamp { at: Mono::START, utc: Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap_or(Utc::EPOCH) }
}

/// A watch that has heard nothing.
pub fn watch() -> Watch {
    Watch::new(Settings { expects_inputs: true, ..Settings::default() })
}

/// Plays a script to a watch; what it told is looked at after each input. When it ended.
pub fn play(watch: &mut Watch, script: &[u8], mut look: impl FnMut(&mut Watch, Stamp)) -> Stamp {
    let input = watch.input("ais");
    let mut stamp = begin();
    for line in script.split(|&byte| byte == b'\n').take(500) {
        let number = |text: &[u8]| {
            std::str::from_utf8(text).ok().and_then(|text| text.parse::<u64>().ok()).unwrap_or(1)
        };
        let passed = match line {
            [b'+', rest @ ..] => Duration::from_secs(number(rest)),
            _ => Duration::from_millis(100),
        };
        stamp = stamp.at(stamp.at + passed);
        let alert = |rest: &[u8]| AlertId(u32::try_from(number(rest)).unwrap_or(u32::MAX));
        let command = |command| Input::Command { stamp, command };
        watch.handle(match line {
            [b'+', ..] => Input::Tick { stamp },
            [b'@', b'a', rest @ ..] => command(Command::Acknowledge(alert(rest))),
            [b'@', b's', rest @ ..] => command(Command::Silence(alert(rest))),
            [b'@', b'r', rest @ ..] => command(Command::Resolve(alert(rest))),
            [b'@', b'm', ..] => command(Command::MarkOverboard),
            [b'@', b'p', ..] => command(Command::Present),
            [b'?', ..] => Input::Lost { stamp, input, reason: "unplugged" },
            b"!!" => Input::Opened { stamp, input },
            bytes => Input::Line { stamp, input, bytes },
        });
        look(watch, stamp);
    }
    stamp
}

/// Takes what a watch has to tell, as a program prints it.
pub fn drain(watch: &mut Watch) {
    while let Some(event) = watch.poll_output() {
        let _ = serde_json::to_string(&event);
    }
}
