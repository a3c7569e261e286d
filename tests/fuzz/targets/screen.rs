//! A picture drawn at odd sizes, with whatever keys were pressed: the first two bytes are the size,
//! the third how often and which.
#![no_main]

use libfuzzer_sys::fuzz_target;
use overside::screen::{KEYS, Screen, Theme};
use overside_fuzz::{play, watch};
use ratatui::{Terminal, backend::TestBackend};

fuzz_target!(|bytes: &[u8]| {
    let Some((&[width, height, pressed], script)) = bytes.split_first_chunk() else { return };
    let (mut watch, mut screen) = (watch(), Screen::new(Theme::default()));
    let end = play(&mut watch, script, |watch, _| {
        while let Some(event) = watch.poll_output() {
            screen.tell(&event);
        }
    });
    let picture = watch.picture(end);
    let size = TestBackend::new(width.into(), height.into());
    let Ok(mut terminal) = Terminal::new(size);
    for press in 0..=pressed % 4 {
        let key = usize::from(pressed / 4 + press) % KEYS.len();
        screen.act(KEYS[key].action, &picture);
        let Ok(_) = terminal.draw(|frame| screen.draw(frame, &picture));
    }
});
