//! A watch that goes on with what another left open, at whatever moment, and then hears a script.
//! The first eight bytes say when, and what of it.
#![no_main]

use libfuzzer_sys::fuzz_target;
use overside::mmsi::Mmsi;
use overside::navigation::Position;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{AlertId, Cause, LeftOpen, Mode, OpenAlert, OpenBeacon, Priority};
use overside_fuzz::{begin, drain, play, watch};

fuzz_target!(|bytes: &[u8]| {
    let Some((&[a, b, c, d, e, f, g, h], script)) = bytes.split_first_chunk() else { return };
    let at = Mono::from_micros(u64::from_be_bytes([a, b, c, d, 0, 0, 0, 0]));
    let utc = Utc::from_unix_ms(i64::from(a) << 40 | i64::from(e) << 32).unwrap_or(Utc::EPOCH);
    let mmsi = Mmsi::new(972_000_010 + u32::from(f % 8));
    let causes =
        [Cause::BeaconActive, Cause::OverboardMarked, Cause::DscDistress, Cause::MobNotice];
    let alert = |number: u8| OpenAlert {
        was: (number & 32 != 0).then(|| AlertId(u32::from(h))),
        rehearsed: None,
        joined_by: None,
        id: AlertId(u32::from(number)),
        cause: causes[usize::from(number) % causes.len()],
        priority: Priority::EmergencyAlarm,
        rectified: number & 16 != 0,
        mmsi,
        text: "left open".to_owned(),
        matter: None,
        raised: at,
        place: Position::new(f64::from(c) - 90.0, f64::from(d) - 180.0),
        heard: at,
        sentence: None,
    };
    let beacon = OpenBeacon {
        mmsi: mmsi.unwrap_or_else(|| unreachable!()),
        mode: if g & 1 == 0 { Mode::Active } else { Mode::Test },
        since: Stamp { at, utc },
        last: Stamp { at: begin().at, utc },
        position: Position::new(f64::from(d) - 90.0, f64::from(c)),
        fix_at: Some(at),
        declared: None,
        joined: None,
        own_at_first: None,
    };
    let left = LeftOpen {
        alerts: vec![alert(g), alert(h)],
        beacons: vec![beacon],
        last_id: u32::from_be_bytes([e, f, g, h]),
    };
    let mut watch = watch();
    watch.resume(left, begin());
    drain(&mut watch);
    play(&mut watch, script, |watch, _| drain(watch));
});
