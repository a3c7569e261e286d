//! What is heard goes on as it came, each sentence once, and nothing that makes anybody transmit.

use super::*;

#[test]
fn what_is_heard_goes_on_byte_for_byte_and_soon() {
    let (display, uri) = display();
    let watch = Talking::start(&output("plotter", &uri, "\"heard\""));
    let sentence = vdm(&position(211_000_002, 0, Some((54.5, 10.25)), 7), 'A');
    let lines = [
        sentence.clone(),
        format!("{}{}", tag("s:mast,c:1781402400"), vdm(&position(211_000_003, 0, None, 9), 'B')),
        // Not by the letter, and good.
        format!(" {}  ", sealed("IIMTW,16.5,C")),
        sealed("PXYZ,anything,1"),
    ];
    // The machine may be crowded just then: of many one at least is as soon as the program can.
    let more = (0..1_000).map(|number| sealed(&format!("IIMTW,{number}.5,C")));
    let mut fastest = Duration::MAX;
    for (number, line) in lines.into_iter().chain(more).enumerate() {
        if number >= 4 && fastest < Duration::from_millis(5) {
            break;
        }
        let begun = Instant::now();
        watch.send(&line);
        assert_eq!(next_of(&display), format!("{line}\r\n"));
        fastest = fastest.min(begun.elapsed());
    }
    assert!(fastest < Duration::from_millis(5), "{fastest:?}");
    // Noise, a wrong checksum, what makes a transponder transmit, our own: none of it.
    watch.send("noise");
    watch.send(&sentence.replace('*', "*F"));
    watch.send(&sealed("!AIABM,1,1,0,972000017,1,6,0,0"));
    watch.send(&sealed("CDDSC,20,2110000020,00,21,26,,,,,B,"));
    watch.send(&sealed("U8TLL,99,5430.000,N,01015.000,E,Mate,120000,T,"));
    nothing_more(&display);
    watch.send(&sealed("IIMTW,17.5,C"));
    assert!(next_of(&display).contains("17.5"));
    watch.stop();
}

/// Each hears the other and passes on what it hears: a line goes round once and ends.
#[test]
fn a_loop_of_two_programs_ends() {
    let (display, uri) = display();
    let (one, two) = (free_port(), free_port());
    let to_two = output("two", &format!("udp://127.0.0.1:{two}"), "\"heard\", \"casualty\"");
    let first = Talking::start_at(one, &(to_two + &output("plotter", &uri, "\"heard\"")));
    let to_one = output("one", &format!("udp://127.0.0.1:{one}"), "\"heard\", \"casualty\"");
    let second = Talking::start_at(two, &to_one);
    let line = vdm(&position(211_000_002, 0, Some((54.5, 10.25)), 7), 'A');
    first.send(&line);
    assert_eq!(next_of(&display), format!("{line}\r\n"));
    nothing_more_of(&display);
    second.send(&vdm(&position(211_000_002, 0, Some((54.6, 10.25)), 8), 'B'));
    next_of(&display);
    nothing_more_of(&display);
    // And a casualty: one alarm in each, and the point of it goes round no more either.
    first.send(&vdm(&position(972_000_017, 14, Some((54.5, 10.3)), 9), 'A'));
    for watch in [&first, &second] {
        let alarm = watch.event(|it| it["event"] == "alert" && it["priority"] == "emergency_alarm");
        assert_eq!(alarm["cause"], "beacon_active");
    }
    let ours = next_of(&display);
    assert!(ours.starts_with("!AIVDM"), "{ours}");
    nothing_more_of(&display);
    first.stop();
    second.stop();
}

/// A relay says how many lines it did not pass on: at the first, not at each, and at its end.
#[test]
fn a_relay_says_what_it_did_not_pass_on() {
    let home = tempfile::tempdir().unwrap();
    let (display, uri) = display();
    let port = free_port();
    let input = format!("udp://127.0.0.1:{port}");
    let mut relay = overside(home.path(), &["relay", "--input", &input, "--output", &uri]);
    let mut child = relay.stderr(Stdio::piped()).spawn().unwrap();
    let mut said = BufReader::new(child.stderr.take().unwrap()).lines().map(Result::unwrap);
    assert!(said.any(|it| it.contains("is open")));
    let to = UdpSocket::bind("127.0.0.1:0").unwrap();
    let send = |line: &str| to.send_to(line.as_bytes(), ("127.0.0.1", port)).unwrap();
    send(&sealed("CDDSC,20,2110000020,00,21,26,,,,,B,"));
    let first = said.next().unwrap();
    let expected =
        "not passed on so far: 1 might make a radio transmit, 0 had been passed on before";
    assert_eq!(first, expected);
    send(&sealed("!AIABM,1,1,0,972000017,1,6,0,0"));
    send(&sealed("U8TLL,99,,,,,Mate,,L,"));
    send(&sealed("IIMTW,17.5,C"));
    assert!(next(&display).contains("17.5"));
    assert!(Command::new("kill").arg(child.id().to_string()).status().unwrap().success());
    let rest: Vec<String> = said.collect();
    assert_eq!(rest, [expected.replace(": 1", ": 2").replace(", 0", ", 1")]);
    assert!(child.wait().unwrap().success());
}

/// Whatever happens, nothing that makes a radio or a transponder transmit leaves the program; every
/// formatter there can be is tried on what is passed on, and each of our own sentences is looked at.
#[test]
fn nothing_that_transmits_ever_leaves() {
    let letters = || (b'A'..=b'Z').map(char::from);
    let (mut heard, mut withheld) = (overside::outputs::Heard::default(), Vec::new());
    for formatter in letters()
        .flat_map(|a| letters().flat_map(move |b| letters().map(move |c| format!("{a}{b}{c}"))))
    {
        let line = sealed(&format!("AI{formatter},1,2,3"));
        let verdict = heard.judge(Default::default(), Default::default(), line.as_bytes());
        assert_eq!(verdict == Verdict::Withheld, is_of_a_transmitter(&formatter), "{formatter}");
        if verdict == Verdict::Withheld {
            withheld.push(formatter);
        }
    }
    for needed in ["ABM", "BBM", "AIR", "DSC", "SSD", "VSD", "ACA", "LRF", "FSI", "DLM", "CAB"] {
        assert!(withheld.iter().any(|it| it == needed), "{needed}");
    }
    let ours = ["TLL", "WPL", "MOB", "RMB", "BOD", "ALF", "ALC", "ARC", "HBT"];
    assert!(ours.iter().all(|it| !is_of_a_transmitter(it)));
    // What is written: no other formatter is made anywhere in the room.
    let room = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/outputs");
    let mut made = std::collections::BTreeSet::new();
    for file in ["alerts.rs", "casualty.rs"] {
        let text = std::fs::read_to_string(room.join(file)).unwrap();
        let code = text.split("#[cfg(test)]").next().unwrap().to_owned();
        for piece in code.split('"').skip(1).step_by(2) {
            let begins = piece.get(..4).filter(|it| {
                it.ends_with(',') && it[..3].bytes().all(|byte| byte.is_ascii_uppercase())
            });
            made.extend(begins.map(|it| it[..3].to_owned()));
        }
    }
    // `ACN,` is what is looked for in what comes in.
    made.remove("ACN");
    assert_eq!(made.into_iter().collect::<Vec<_>>(), {
        let mut ours = ours.map(str::to_owned);
        ours.sort();
        ours.to_vec()
    });
}

/// All that was recorded of real traffic goes through unchanged, but what makes others transmit.
#[test]
fn real_traffic_is_passed_on_byte_for_byte() {
    let Some(folder) = support::recordings() else { return };
    let mut heard = overside::outputs::Heard::default();
    let (mut passed, mut at) = (0, Duration::ZERO);
    let mut folders = vec![folder];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            for line in std::fs::read(&path).unwrap().split(|&byte| byte == b'\n') {
                let line = line.strip_suffix(b"\r").unwrap_or(line);
                at += Duration::from_millis(600);
                let stamp = Stamp { at: Mono::START + at, utc: Utc::EPOCH };
                let verdict = heard.judge(Default::default(), stamp.at, line);
                let good = overside::wire::Line::parse(line);
                match (&good, verdict) {
                    (Ok(_), Verdict::PassedOn) => {
                        let message = Message::heard("ais", stamp, line, false);
                        assert_eq!(&*message.bytes, [line, b"\r\n"].concat());
                        passed += 1;
                    }
                    (Ok(it), Verdict::Withheld) => {
                        assert!(is_of_a_transmitter(it.sentence.formatter));
                    }
                    (Err(_), Verdict::Bad) => {}
                    other => panic!("{other:?}: {}", String::from_utf8_lossy(line)),
                }
            }
        }
    }
    assert!(passed > 1_000, "{passed}");
}

/// Nothing but the clock by which the start was waited for.
fn nothing_more_of(display: &UdpSocket) {
    display.set_read_timeout(Some(Duration::from_millis(700))).unwrap();
    let mut buffer = [0; 4096];
    while let Ok(length) = display.recv(&mut buffer) {
        let came = String::from_utf8_lossy(&buffer[..length]);
        assert!(came.contains("ZDA"), "{came}");
    }
    display.set_read_timeout(Some(PATIENCE)).unwrap();
}

/// The number of a line in a stream that wraps all that counts: the line counts of TAG blocks (1 to
/// 999), the identifiers of sentences that belong together (0 to 9), what is known again (4,096), the
/// queues (1,024), what the system keeps of a connection.
fn line_of_a_stream(number: u32) -> String {
    let tag = tag(&format!("n:{},s:mast", number % 999 + 1));
    let (sequence, channel) = (number / 2 % 10, ['A', 'B'][number as usize / 2 % 2]);
    let body = match number % 8 {
        part @ (0 | 1) => {
            format!("!AIVDM,2,{},{sequence},{channel},{:06},0", part + 1, number / 2)
        }
        _ => format!("IIMTW,{}.{:02},C", number / 100, number % 100),
    };
    format!("{tag}{}\r\n", sealed(&body))
}

/// A year of it does not fit into a test; a stream that wraps every counter and buffer several times
/// does: through a process, by datagrams and by TCP, not a byte is another.
#[test]
fn a_long_stream_comes_out_as_it_went_in() {
    let (display, uri) = display();
    let port = free_port();
    let tcp = output("tcp", &format!("tcp-listen://127.0.0.1:{port}"), "\"heard\"");
    let watch = Talking::start(&(output("udp", &uri, "\"heard\"") + &tcp));
    let stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    watch.serves(&stream);
    let mut by_tcp = BufReader::new(stream);
    let mut next_by_tcp = || loop {
        let mut line = String::new();
        by_tcp.read_line(&mut line).unwrap();
        if !line.contains("ZDA") {
            return line;
        }
    };
    for begin in (0..9_984).step_by(64) {
        let lines: Vec<String> = (begin..begin + 64).map(line_of_a_stream).collect();
        lines.iter().for_each(|it| watch.send(it.trim_end()));
        for line in lines {
            assert_eq!(next_of(&display), line);
            assert_eq!(next_by_tcp(), line);
        }
    }
    nothing_more_of(&display);
    watch.stop();
}

/// To a broadcast address, and to a group.
#[test]
fn datagrams_reach_a_whole_network_and_a_group() {
    use std::net::Ipv4Addr;
    let listen = || {
        let socket = UdpSocket::bind("0.0.0.0:0").unwrap();
        socket.set_read_timeout(Some(PATIENCE)).unwrap();
        let port = socket.local_addr().unwrap().port();
        (socket, port)
    };
    let (all, port) = listen();
    let mut outputs = output("all", &format!("udp://127.255.255.255:{port}"), "\"heard\"");
    let member = own_address().map(|here| {
        let (socket, port) = listen();
        let group = Ipv4Addr::new(239, 192, 0, 2);
        socket.join_multicast_v4(&group, &here).unwrap();
        outputs += &output("group", &format!("udp://{group}:{port}"), "\"heard\"");
        socket
    });
    if member.is_none() {
        eprintln!("NOT RUN: multicast: this computer has no address but loopback");
    }
    let watch = Talking::start(&outputs);
    let line = vdm(&position(211_000_002, 0, Some((54.5, 10.25)), 7), 'A');
    watch.send(&line);
    for socket in [Some(all), member].into_iter().flatten() {
        assert_eq!(next_of(&socket), format!("{line}\r\n"));
    }
    watch.stop();
}
