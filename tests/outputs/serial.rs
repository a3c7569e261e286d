//! A serial port that is slower than what is heard.

use super::*;

/// At 4,800 bits a second not half of what a receiver says at 38,400 has room: what has not is counted
/// and told, and a casualty waits for one sentence at most.
#[test]
fn a_slow_serial_port_drops_what_was_heard_and_says_so_and_the_casualty_goes_first() {
    use std::os::fd::AsFd as _;
    let pair =
        rustix::pty::openpt(rustix::pty::OpenptFlags::RDWR | rustix::pty::OpenptFlags::NOCTTY)
            .unwrap();
    rustix::pty::grantpt(&pair).unwrap();
    rustix::pty::unlockpt(&pair).unwrap();
    let path = rustix::pty::ptsname(pair.as_fd(), Vec::new()).unwrap();
    let path = path.to_str().unwrap().to_owned();
    let (tx, came) = mpsc::channel();
    std::thread::spawn(move || {
        let mut lines = BufReader::new(std::fs::File::from(pair)).lines();
        while let Some(Ok(line)) = lines.next() {
            if tx.send((Instant::now(), line)).is_err() {
                return;
            }
        }
    });
    let uri = format!("serial:{path}?baud=4800");
    let watch = Talking::start(&output("old plotter", &uri, "\"heard\", \"casualty\""));
    let begun = Instant::now();
    let line = |number: u32| {
        let place = Some((54.5, 10.25 + f64::from(number) / 1e4));
        let channel = if number.is_multiple_of(2) { 'A' } else { 'B' };
        vdm(&position(211_000_002, 0, place, number as u8 % 60), channel)
    };
    // 75 sentences a second are some 38,400 bits.
    for number in 0..75 * 8 {
        watch.send(&line(number));
        std::thread::sleep(Duration::from_millis(12));
    }
    watch.send(&vdm(&position(972_000_017, 14, Some((54.5, 10.3)), 9), 'A'));
    let sent = Instant::now();
    let (mut bytes, mut heard) = (0, 0);
    let told = loop {
        let (at, line) = came.recv_timeout(PATIENCE).unwrap();
        bytes += line.len() + 2;
        if line.starts_with("$U8TLL") {
            break at;
        }
        heard += 1;
    };
    assert!(told.duration_since(sent) < Duration::from_secs(2), "{:?}", told.duration_since(sent));
    // No faster than the line.
    let possible = told.duration_since(begun).as_secs_f64() * 480.0;
    assert!((bytes as f64) < possible + 200.0, "{bytes} of {possible}");
    assert!(heard < 75 * 8 / 2, "{heard}");
    let alert = watch.event(|it| it["cause"] == "output_failed");
    let text = alert["text"].as_str().unwrap();
    assert!(text.starts_with("Output: old plotter: too slow or away: "), "{text}");
    assert!(text.ends_with(" messages were not sent to it; casualties go first"), "{text}");
    watch.stop();
}
