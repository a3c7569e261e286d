//! A serial port that is slower than what is heard.

use std::fs::File;

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

use super::*;

/// What is plugged in at the other end of the cable, and the port's path.
fn port() -> (File, String) {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    grantpt(&master).unwrap();
    unlockpt(&master).unwrap();
    let path = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
    (File::from(master), path)
}

/// The sentences of real traffic of a river and a strait, as they came from a receiver.
fn traffic() -> Option<Vec<String>> {
    let file = support::recordings()?.join("ais/vernon_seine_20160331.log");
    let text = std::fs::read_to_string(file).unwrap();
    let lines = text.lines().filter_map(|it| it.split_once('!'));
    Some(lines.map(|(_, it)| format!("!{it}")).collect())
}

/// At 4,800 bits a second not half of what a receiver says at 38,400 has room: what has not is counted
/// and told, and a casualty waits for one sentence at most. Both by pseudo-terminals.
#[test]
fn a_slow_serial_port_drops_what_was_heard_and_says_so_and_the_casualty_goes_first() {
    let Some(traffic) = traffic() else { return };
    let ((mut receiver, comes), (plotter, goes)) = (port(), port());
    let (tx, came) = mpsc::channel();
    std::thread::spawn(move || {
        let mut lines = BufReader::new(plotter).lines();
        while let Some(Ok(line)) = lines.next() {
            if tx.send((Instant::now(), line)).is_err() {
                return;
            }
        }
    });
    let uri = format!("serial:{goes}?baud=4800");
    let input = format!("[[input]]\nname = \"receiver\"\nuri = \"serial:{comes}?baud=38400\"\n");
    let watch = Talking::start(&(input + &output("old plotter", &uri, "\"heard\", \"casualty\"")));
    let begun = Instant::now();
    let mut say = |line: &str| receiver.write_all(format!("{line}\r\n").as_bytes()).unwrap();
    // As fast as 38,400 bits a second let it.
    let (mut sent, mut bytes) = (0, 0);
    for line in &traffic {
        say(line);
        (sent, bytes) = (sent + 1, bytes + line.len() + 2);
        let takes = Duration::from_secs_f64(bytes as f64 / 3_840.0);
        std::thread::sleep(takes.saturating_sub(begun.elapsed()));
        if takes > Duration::from_secs(8) {
            break;
        }
    }
    say(&vdm(&position(972_000_017, 14, Some((54.5, 10.3)), 9), 'A'));
    let cried = Instant::now();
    let (mut bytes, mut heard) = (0, Vec::new());
    let told = loop {
        let (at, line) = came.recv_timeout(PATIENCE).unwrap();
        bytes += line.len() + 2;
        if line.starts_with("$U8TLL") {
            break at;
        }
        heard.push(line);
    };
    let waited = told.duration_since(cried);
    assert!(waited < Duration::from_secs(2), "{waited:?}");
    // No faster than the line; each whole, and in its order.
    let possible = told.duration_since(begun).as_secs_f64() * 480.0;
    assert!((bytes as f64) < possible + 200.0, "{bytes} of {possible}");
    assert!(heard.len() < sent / 2, "{} of {sent}", heard.len());
    let mut all = traffic.iter();
    let ours = |it: &&String| !it.contains("ZDA") && !it.starts_with("$U8");
    for line in heard.iter().filter(ours) {
        assert!(all.any(|it| it == line), "{line}");
    }
    let alert = watch.event(|it| it["cause"] == "output_failed");
    let text = alert["text"].as_str().unwrap();
    assert!(text.starts_with("Output: old plotter: too slow or away: "), "{text}");
    assert!(text.ends_with(" messages were not sent to it; casualties go first"), "{text}");
    watch.stop();
}
