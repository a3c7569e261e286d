//! Displays that connect by TCP: slow, dead and resetting ones, and what they ask.

use super::*;

#[test]
fn displays_connect_and_a_slow_or_dead_one_holds_up_nobody() {
    let port = free_port();
    let uri = format!("tcp-listen://127.0.0.1:{port}");
    let watch = Talking::start(&output("plotters", &uri, "\"heard\", \"events\""));
    let connect = || TcpStream::connect(("127.0.0.1", port)).unwrap();
    let good = connect();
    good.set_read_timeout(Some(PATIENCE)).unwrap();
    // One that never reads, one that resets in the middle, one that hangs up at once.
    let slow = socket2::Socket::new(socket2::Domain::IPV4, socket2::Type::STREAM, None).unwrap();
    slow.set_recv_buffer_size(2_048).unwrap();
    slow.connect(&std::net::SocketAddr::from(([127, 0, 0, 1], port)).into()).unwrap();
    let slow = TcpStream::from(slow);
    let mut resets = Some(connect());
    drop(connect());
    watch.serves(&good);
    let mut lines = BufReader::new(good).lines().map(Result::unwrap);
    for number in 0..3_000 {
        let line = sealed(&format!("IIMTW,{}.{:02},C", number / 100, number % 100));
        watch.send(&line);
        assert!(lines.any(|it| it == line), "{number}");
        if number == 100 {
            // Unread bytes make a reset of a close.
            resets = None;
        }
    }
    assert!(resets.is_none());
    // That the slow one is too slow is told.
    watch.event(|it| it["cause"] == "output_failed");
    watch.send(&vdm(&text(972_000_017, "MOB ACTIVE"), 'A'));
    let alarm = lines.find(|it| it.contains("emergency_alarm")).unwrap();
    assert_eq!(serde_json::from_str::<Value>(&alarm).unwrap()["mmsi"], 972_000_017);
    watch.event(|it| it["event"] == "alert" && it["priority"] == "emergency_alarm");
    // The slow one is hung up on: it finds an end.
    std::thread::sleep(Duration::from_secs(11));
    slow.set_read_timeout(Some(PATIENCE)).unwrap();
    let mut taken = Vec::new();
    let _ = (&slow).read_to_end(&mut taken);
    assert!(taken.starts_with(b"$") || taken.starts_with(b"{"));
    assert!(taken.len() < 60_000, "{}", taken.len());
    // Others come and go.
    watch.send(&sealed("IIMTW,17.5,C"));
    assert!(lines.any(|it| it.contains("17.5")));
    watch.stop();
}

#[test]
fn a_port_that_is_taken_is_an_alert_and_tried_again() {
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let uri = format!("tcp-listen://{}", taken.local_addr().unwrap());
    let watch = Talking::start(&output("plotters", &uri, "\"heard\""));
    let failed = |state: &'static str| {
        move |it: &Value| {
            it["cause"] == "output_failed" && it["event"] == "alert" && it["state"] == state
        }
    };
    drop(taken);
    // Rectified, and nobody took note.
    let over = watch.event(failed("rectified_unacknowledged"));
    assert!(over["text"].as_str().unwrap().starts_with("Output: plotters: port 127."), "{over}");
    assert_eq!(over["priority"], "warning");
    watch.stop();
}

/// The lines of a display, and what it says.
struct Display {
    lines: std::io::Lines<BufReader<TcpStream>>,
    says: TcpStream,
}

impl Display {
    fn connect(port: u16) -> Self {
        let says = TcpStream::connect(("127.0.0.1", port)).unwrap();
        says.set_read_timeout(Some(PATIENCE)).unwrap();
        says.set_write_timeout(Some(Duration::from_millis(200))).unwrap();
        Self { lines: BufReader::new(says.try_clone().unwrap()).lines(), says }
    }

    fn line_with(&mut self, part: &str) -> String {
        self.lines.by_ref().map(Result::unwrap).find(|it| it.contains(part)).unwrap()
    }

    fn say(&mut self, bytes: &[u8]) {
        self.says.write_all(bytes).unwrap();
    }
}

/// A display asks by the connection it is served by: obeyed where that is accepted, refused elsewhere;
/// noise, half lines and floods ask nothing and hold up nobody.
#[test]
fn a_display_asks_by_its_own_connection_where_that_is_accepted() {
    let (open, strict, deaf) = (free_port(), free_port(), free_port());
    let at = |name: &str, port: u16, what: &str| {
        output(name, &format!("tcp-listen://127.0.0.1:{port}"), what)
    };
    let outputs = at("open", open, "\"alerts\"")
        + "accept = true\n"
        + &at("strict", strict, "\"alerts\"")
        + &at("deaf", deaf, "\"heard\"")
        + "accept = true\n";
    let watch = Talking::start(&outputs);
    let [mut open, mut strict, mut deaf] = [open, strict, deaf].map(Display::connect);
    // Each is served before anything happens: who asks for an alert that is not there is refused.
    watch.serves(&deaf.says);
    let ended = |line: String| (line + "\r\n").into_bytes();
    for (display, unknown) in [(&mut open, "999998"), (&mut strict, "999999")] {
        display.say(&ended(sealed(&format!("CAACN,120000.00,OVS,10001,{unknown},A,C"))));
        display.line_with(&format!(",OVS,10001,{unknown},A*"));
    }
    watch.send(&vdm(&position(972_000_017, 14, Some((54.5, 10.293)), 9), 'A'));
    let raised = open.line_with(",E,V,OVS,10001,");
    let instance = raised.split(',').nth(10).unwrap().to_owned();
    strict.line_with(",E,V,OVS,10001,");
    let ask = |command: &str| sealed(&format!("CAACN,120000.00,OVS,10001,{instance},{command},C"));
    // Where no alerts are told nobody is asked.
    deaf.say(&ended(ask("A")));
    // Refused, and told to all.
    strict.say(&ended(ask("A")));
    let refused = format!(",OVS,10001,{instance},A*");
    assert!(strict.line_with(&refused).contains("ARC"));
    assert!(open.line_with(&refused).contains("ARC"));
    // Noise, a wrong checksum, none, a line without an end: nothing of it asks.
    open.say(&[0, 255, 13, 36, 33, 92, 10]);
    open.say(&ended(ask("A").replace(",A,C*", ",S,C*")));
    open.say(&ended(ask("A").split('*').next().unwrap().to_owned()));
    let mut long = vec![b'x'; 3_000];
    long.extend(ended(ask("A")));
    open.say(&long);
    // In two halves, with a rest between.
    let (asked, half) = (ended(ask("S")), 17);
    open.say(&asked[..half]);
    std::thread::sleep(Duration::from_millis(50));
    open.say(&asked[half..]);
    assert!(open.line_with("ALF,2,1").contains(",E,S,OVS,10001,"));
    // A flood from one is read slowly, and the others are served.
    let mut flood = Display::connect(strict.says.peer_addr().unwrap().port());
    let questions = ended(ask("Q")).repeat(2_000);
    let _ = flood.says.write_all(&questions);
    let _ = flood.says.write_all(&vec![b'$'; 1 << 20]);
    open.say(&ended(ask("A")));
    let acknowledged = watch.event(|it| it["state"] == "active_acknowledged");
    assert_eq!(acknowledged["cause"], "beacon_active");
    assert!(open.line_with(",E,A,OVS,10001,").starts_with("$U8ALF"));
    // Half a line, and gone.
    strict.say(b"$CAACN,1200");
    drop((flood, strict));
    watch.send(&sealed("IIMTW,17.5,C"));
    deaf.line_with("17.5");
    watch.stop();
}
