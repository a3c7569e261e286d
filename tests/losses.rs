//! How long until the alarm when part of the messages is lost: a table of the seconds from a
//! beacon's first transmission, over 400 seeded activations a row.
//!
//! The bursts are those of ITU-R M.1371-5 annex 9, section 5: eight messages 2.000 s apart, once a
//! minute. One heard message is enough, so the table is what chance alone allows; what the watch
//! adds would show in it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::fmt::Write as _;
use std::time::Duration;

use overside::time::{Mono, Stamp, Utc};
use overside::watch::{EventBody, Input, Priority, Settings, Watch};

const ACTIVATIONS: u64 = 400;
const MINUTES: u64 = 30;

/// Seconds until the emergency is raised; `None` if it is not within [`MINUTES`].
fn seconds_to_alarm(lost: f64, seed: u64) -> Option<u64> {
    let mut dice = fastrand::Rng::with_seed(seed);
    let mut watch = Watch::new(Settings::default());
    let input = watch.input("ais");
    let line = support::vdm(&support::position(972_000_017, 14, None, 60), 'A');
    for minute in 0..MINUTES {
        for message in 0..8 {
            if dice.f64() < lost {
                continue;
            }
            let second = minute * 60 + message * 2;
            let span = Duration::from_secs(second);
            let stamp = Stamp { at: Mono::START + span, utc: Utc::EPOCH.plus(span) };
            watch.handle(Input::Line { stamp, input, bytes: line.as_bytes() });
            while let Some(event) = watch.poll_output() {
                if let EventBody::Alert(alert) = event.body {
                    assert_eq!(alert.priority, Priority::EmergencyAlarm);
                    return Some(second);
                }
            }
        }
    }
    None
}

#[test]
fn one_heard_message_raises_the_alarm() {
    let mut table = String::from("lost   half  nine of ten  the slowest\n");
    for percent in [0, 10, 30, 50, 70, 80, 90, 95, 98] {
        let lost = f64::from(percent) / 100.0;
        let mut seconds: Vec<Option<u64>> =
            (0..ACTIVATIONS).map(|seed| seconds_to_alarm(lost, seed)).collect();
        seconds.sort_by_key(|s| s.unwrap_or(u64::MAX));
        let at = |part: u64| {
            let place = (ACTIVATIONS * part / 100).min(ACTIVATIONS - 1) as usize;
            seconds[place].map_or("never".to_owned(), |s| format!("{s} s"))
        };
        let (half, most, all) = (at(50), at(90), at(100));
        writeln!(table, "{percent:>3} % {half:>6} {most:>12} {all:>12}").unwrap();
    }
    insta::assert_snapshot!(table, @r"
    lost   half  nine of ten  the slowest
      0 %    0 s          0 s          0 s
     10 %    0 s          2 s          6 s
     30 %    0 s          2 s         10 s
     50 %    0 s          6 s         60 s
     70 %    4 s         12 s        122 s
     80 %    6 s         64 s        186 s
     90 %   14 s        132 s        548 s
     95 %   72 s        310 s        964 s
     98 %  240 s        904 s        never
    ");
}
