//! What is only rehearsed or replayed stays on this computer.

use super::*;

/// What is only rehearsed stays on this computer: it goes to loopback, and to no other address.
#[test]
fn a_rehearsal_does_not_leave_this_computer() {
    let (display, uri) = display();
    let file = tempfile::NamedTempFile::new().unwrap();
    let beyond = UdpSocket::bind("0.0.0.0:0").unwrap();
    beyond.set_read_timeout(Some(Duration::from_millis(300))).unwrap();
    let Some(address) = own_address() else {
        eprintln!("NOT RUN: this computer has no address but loopback");
        return;
    };
    let port = beyond.local_addr().unwrap().port();
    let outputs = [
        output("plotter", &uri, "\"heard\", \"events\", \"casualty\", \"alerts\", \"signalk\""),
        output(
            "net",
            &format!("udp://{address}:{port}"),
            "\"heard\", \"events\", \"casualty\", \"alerts\", \"signalk\"",
        ),
        output("file", &format!("file:{}", file.path().display()), "\"heard\""),
    ];
    let watch = Talking::start(&outputs.concat());
    let line = format!(
        "{}{}",
        tag("t:REHEARSAL"),
        vdm(&position(972_000_017, 14, Some((54.5, 10.3)), 9), 'A')
    );
    watch.send(&line);
    assert!(std::iter::repeat_with(|| next_of(&display)).any(|it| it.starts_with(&line)));
    watch.event(|it| it["event"] == "alert" && it["rehearsed"] == "rehearsal");
    watch.event(|it| it["event"] == "logged" && it["mmsi"] == 972_000_017);
    // Nor what such lines make it say without a mark of its own: of a call, a notice, a text.
    for (event, sentence) in [
        ("dsc_call", sealed("CDDSC,12,9720000170,12,10,26,1543001015,1200,,,S,")),
        (
            "mob_notice",
            sealed("IIMOB,00011,A,120000,0,0,120000,5430.000,N,01015.000,E,,,972000017,"),
        ),
        ("safety_text", vdm(&text(211_000_005, "972000017 IS SEEN"), 'B')),
    ] {
        watch.send(&format!("{}{sentence}", tag("t:REHEARSAL")));
        watch.event(|it| it["event"] == event);
    }
    let mut buffer = [0; 4096];
    while let Ok(length) = beyond.recv(&mut buffer) {
        let came = String::from_utf8_lossy(&buffer[..length]);
        assert!(!came.contains("972000017") && !came.contains("REHEARSAL"), "{came}");
        assert!(!came.contains("Mate"), "{came}");
    }
    watch.stop();
    assert!(std::fs::read_to_string(file.path()).unwrap().contains(&line));
}

/// That an alert is in the logbook is an event like all others.
#[test]
fn what_was_logged_is_told_to_others() {
    let (display, uri) = display();
    let watch = Talking::start(&output("club", &uri, "\"events\""));
    watch.send(&vdm(&position(972_000_017, 14, Some((54.5, 10.3)), 9), 'A'));
    let is_it = |it: &Value| it["event"] == "logged" && it["cause"] == "beacon_active";
    let told = watch.event(is_it);
    let said =
        std::iter::repeat_with(|| serde_json::from_str(&next(&display)).unwrap()).find(is_it);
    assert_eq!(said, Some(told));
}

/// A replay says nothing to anybody, whatever the configuration says.
#[test]
fn a_replay_says_nothing() {
    let home = tempfile::tempdir().unwrap();
    let (config, said) = (home.path().join("own.toml"), home.path().join("said"));
    let all = "\"heard\", \"events\", \"casualty\", \"alerts\", \"signalk\"";
    let outputs = output("file", &format!("file:{}", said.display()), all);
    std::fs::write(&config, format!("[alarm]\nsound = false\n{outputs}")).unwrap();
    let recorded = home.path().join("recorded.nmea");
    std::fs::write(&recorded, vdm(&text(972_000_017, "MOB ACTIVE"), 'A') + "\r\n").unwrap();
    let replay = ["replay", recorded.to_str().unwrap(), "--headless", "--speed", "max", "--json"];
    let done = overside(home.path(), &replay).env("OVERSIDE_CONFIG", &config).output().unwrap();
    assert!(String::from_utf8_lossy(&done.stdout).contains("emergency_alarm"), "{done:?}");
    assert!(!said.exists());
}
