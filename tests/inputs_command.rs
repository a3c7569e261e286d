//! `overside inputs` against the world: a copy of the folders in which a system shows its ports, with
//! pseudo-terminals for the ports, and real sockets.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

mod support;
#[path = "support/system.rs"]
mod system;

use std::fs::{self, File};
use std::net::UdpSocket;
use std::os::unix::fs::{PermissionsExt as _, symlink};
use std::path::Path;
use std::process::{Command, Output};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use serde_json::Value;
use support::sealed;
use system::{Plugged, System, gnss, ships};

/// The program on such a system.
trait Runs {
    fn command(&self, arguments: &[&str]) -> Command;
    fn run(&self, arguments: &[&str]) -> Output;
    fn said(&self, arguments: &[&str]) -> String;
    fn objects(&self, arguments: &[&str]) -> (Vec<Value>, Value);
}

impl Runs for System {
    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_overside"));
        command.env_clear().current_dir(self.root.path());
        for name in ["HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_RUNTIME_DIR"] {
            command.env(name, self.path("home"));
        }
        command.args(["inputs", "--seconds", "6", "--root"]).arg(self.root.path());
        command.args(arguments);
        command
    }

    fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().unwrap()
    }

    /// What it says, without any network.
    fn said(&self, arguments: &[&str]) -> String {
        let output = self.run(&[&["--no-network"], arguments].concat());
        String::from_utf8(output.stdout).unwrap()
    }

    /// The same in JSON: the inputs, and the needs.
    fn objects(&self, arguments: &[&str]) -> (Vec<Value>, Value) {
        let said = self.said(&[&["--json"], arguments].concat());
        let mut all: Vec<Value> =
            said.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        let needs = all.pop().unwrap()["needs"].take();
        (all, needs)
    }
}

/// Whatever the lines it is in.
fn assert_says(said: &str, parts: &[&str]) {
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in parts {
        let part = part.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(&part), "{part:?} is not in:\n{said}");
    }
}

fn met(needs: &Value, need: &str) -> String {
    let all = needs.as_array().unwrap();
    all.iter().find(|it| it["need"] == need).unwrap()["met"].as_str().unwrap().to_owned()
}

#[test]
fn each_port_is_read_at_the_rate_that_fits_and_named_by_what_it_says() {
    let mut system = System::new();
    let ais = Plugged::new(38_400, ships(200_000_001..200_000_008, &['A', 'B']));
    system.plug("ttyUSB0", "Receiver", ais);
    system.plug("ttyUSB1", "Compass", Plugged::new(4_800, gnss()));
    let output = system.run(&["--no-network"]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let said = String::from_utf8(output.stdout).unwrap();
    assert_says(
        &said,
        &[
            &format!("serial:{}?baud=38400", system.by_id("Receiver")),
            "Demo Receiver, now ",
            "AIS receiver: 7 ships, both channels, last ",
            &format!("serial:{}?baud=4800", system.by_id("Compass")),
            "navigation only, no AIS: GNSS: fix, 9 satellites, heading, wind",
            "met        AIS, both channels",
            "met        own position",
            "not known  DSC",
            "not known  MOB button",
        ],
    );
    assert!(!said.contains("ttyS3") && !said.contains("tty0"), "{said}");
    let (inputs, needs) = system.objects(&[]);
    assert_eq!(inputs.len(), 2, "{inputs:?}");
    assert_eq!((&inputs[0]["state"], &inputs[0]["baud"]), (&"live".into(), &38_400.into()));
    assert_eq!(inputs[0]["ships"], 7);
    assert_eq!(inputs[1]["sentences"]["HDT"].as_u64().map(|n| n > 0), Some(true));
    assert_eq!(met(&needs, "wind"), "yes");
}

/// One channel alone, no fix, no checksums; silence. Nothing of it is called met.
#[test]
fn what_is_missing_is_named_with_what_it_costs() {
    let mut system = System::new();
    system.plug("ttyUSB0", "Half", Plugged::new(38_400, ships(200_000_001..200_000_009, &['A'])));
    let bare = vec!["$GPRMC,120000,A,5742.070,N,01035.890,E,0.0,,010120,,".to_owned()];
    system.plug("ttyUSB1", "Bare", Plugged::new(4_800, bare));
    let no_fix = vec![sealed("GPGGA,120000.00,,,,,0,00,,,M,,M,,")];
    system.plug("ttyUSB2", "Sky", Plugged::new(4_800, no_fix));
    system.plug("ttyUSB3", "Off", Plugged::new(4_800, Vec::new()));
    system.plug("ttyUSB4", "Noise", Plugged::new(1, vec![String::new()]));
    let output = system.run(&["--no-network"]);
    assert_eq!(output.status.code(), Some(1));
    assert_says(
        &String::from_utf8(output.stdout).unwrap(),
        &[
            "8 ships, channel A only, last ",
            "no checksums: a watch takes no sentence without one",
            "GNSS: no fix",
            "nothing at all: is it switched on?",
            "bytes but no sentences at 4800, 38400, 9600, 115200",
            "IN PART    AIS, both channels",
            "half of what a beacon sends may be lost",
            "NOT MET    own position\n             an alarm would sound, but without range",
            "NOT MET    heading",
            "NOT MET    wind",
        ],
    );
}

/// A crew alarm on board is a need that is met, and set off it is told, whatever else is listed.
#[test]
fn a_crew_alarm_that_is_set_off_meanwhile_is_told() {
    for (status, is_alarm) in [("A", true), ("M", true), ("T", false)] {
        let mut system = System::new();
        let notice = sealed(&format!("IIMOB,00017,{status},020000,1,0,,,,,,,,,0"));
        system.plug("ttyUSB0", "Button", Plugged::new(4_800, vec![notice]));
        let output = system.run(&["--no-network"]);
        let said = String::from_utf8(output.stdout).unwrap();
        assert_says(&said, &["navigation only, no AIS: MOB button", "met        MOB button"]);
        let told = String::from_utf8(output.stderr).unwrap();
        assert_eq!(told.contains("A CREW ALARM on board was set off"), is_alarm, "{told}");
    }
}

/// The rate in the configuration is corrected, what is new is added, no comment is lost; what was
/// found is found by a path that does not go with the order of plugging in.
#[test]
fn what_was_found_is_written_after_a_yes_and_holds_when_two_ports_swap_names() {
    let mut system = System::new();
    let ais = || Plugged::new(38_400, ships(200_000_001..200_000_008, &['A', 'B']));
    system.plug("ttyUSB0", "Receiver", ais());
    system.plug("ttyUSB1", "Compass", Plugged::new(4_800, gnss()));
    let receiver = system.by_id("Receiver");
    let text = format!(
        "# our boat\n[[input]] # on the mast\nname = \"mast\"\nuri = \"serial:{receiver}?baud=4800\" # old\n"
    );
    fs::write(system.path("overside.toml"), &text).unwrap();
    assert_says(&system.said(&[]), &["bytes but no sentences at 4800: 38400 fits; AIS receiver"]);
    // Not without a yes.
    let output = system.run(&["--no-network", "--write"]);
    assert_eq!(output.status.code(), Some(2), "{output:?}");
    assert_eq!(fs::read_to_string(system.path("overside.toml")).unwrap(), text);
    let output = system.run(&["--no-network", "--write", "--yes"]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    assert_says(
        &String::from_utf8(output.stderr).unwrap(),
        &[
            &format!("- uri = \"serial:{receiver}?baud=4800\" # old"),
            &format!("+ uri = \"serial:{receiver}?baud=38400\" # old"),
            "+ name = \"gnss\"",
        ],
    );
    let compass = system.by_id("Compass");
    let after = format!(
        "{}\n[[input]]\nname = \"gnss\"\nuri = \"serial:{compass}?baud=4800\"\n",
        text.replace("4800", "38400")
    );
    assert_eq!(fs::read_to_string(system.path("overside.toml")).unwrap(), after);

    // Unplugged, and plugged in again in the other order.
    let names: Vec<String> = system.plugged.iter().map(|it| it.device.clone()).collect();
    for (name, device, product) in
        [("ttyUSB1", &names[0], "Receiver"), ("ttyUSB0", &names[1], "Compass")]
    {
        fs::remove_file(system.path(&format!("dev/{name}"))).unwrap();
        symlink(device, system.path(&format!("dev/{name}"))).unwrap();
        let link = system.path(&format!("dev/serial/by-id/usb-{product}"));
        fs::remove_file(&link).unwrap();
        symlink(format!("../../{name}"), link).unwrap();
    }
    let (inputs, _) = system.objects(&[]);
    let told = |name: &str| inputs.iter().find(|it| it["input"] == name).unwrap();
    assert_eq!(inputs.len(), 2);
    assert_eq!(told("mast")["ships"], 7);
    assert!(told("mast")["device"].as_str().unwrap().ends_with("dev/ttyUSB1"));
    assert_eq!(told("gnss")["fix"], true);
    // Nothing is left to write. Who wrote the device's own name is told of a better one.
    let output = system.run(&["--no-network", "--write", "--yes"]);
    assert_says(&String::from_utf8(output.stderr).unwrap(), &["nothing was found that is not in"]);
    assert_eq!(fs::read_to_string(system.path("overside.toml")).unwrap(), after);
    let by_device = format!("serial:{}", system.path("dev/ttyUSB1").display());
    fs::remove_file(system.path("overside.toml")).unwrap();
    assert_says(&system.said(&["--input", &by_device]), &[&format!("better {receiver}")]);
}

/// Without a configuration one is made, and read by who comes after.
#[test]
fn a_configuration_is_made_where_there_is_none() {
    let mut system = System::new();
    system.plug("ttyUSB0", "Receiver", Plugged::new(9_600, gnss()));
    let output = system.run(&["--no-network", "--write", "--yes"]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let uri = format!("serial:{}?baud=9600", system.by_id("Receiver"));
    let text = fs::read_to_string(system.path("overside.toml")).unwrap();
    assert_eq!(text, format!("[[input]]\nname = \"gnss\"\nuri = \"{uri}\"\n"));
}

#[test]
fn a_port_in_use_and_one_without_permission_are_said_to_be() {
    let mut system = System::new();
    system.plug("ttyUSB0", "Held", Plugged::new(4_800, gnss()));
    system.plug("ttyUSB1", "Closed", Plugged::new(4_800, gnss()));
    let held = system.path("dev/ttyUSB0");
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    let _inside = runtime.enter();
    let held = tokio_serial::SerialStream::open(&tokio_serial::new(held.to_str().unwrap(), 4_800));
    let _held = held.unwrap();
    fs::set_permissions(&system.plugged[1].device, fs::Permissions::from_mode(0o000)).unwrap();
    let mut command = system.command(&["--no-network"]);
    if rustix::process::geteuid().is_root() {
        // Root may open everything: as nobody, who can read the folder.
        use std::os::unix::process::CommandExt as _;
        for device in &system.plugged[..1] {
            fs::set_permissions(&device.device, fs::Permissions::from_mode(0o666)).unwrap();
        }
        fs::set_permissions(system.root.path(), fs::Permissions::from_mode(0o755)).unwrap();
        command.uid(65_534);
    }
    let Ok(output) = command.output() else {
        eprintln!("NOT RUN: nobody may not run the program here; permissions are not tested");
        return;
    };
    let said = String::from_utf8(output.stdout).unwrap();
    assert_says(&said, &["another program uses it: not taken from it", "no permission: "]);
}

#[test]
fn datagrams_are_heard_and_a_port_of_another_program_is_left_to_it() {
    let system = System::new();
    let free = || UdpSocket::bind("127.0.0.1:0").unwrap();
    let taken = free();
    let address = |socket: &UdpSocket| socket.local_addr().unwrap();
    let open = address(&free());
    let ends = Arc::new(AtomicBool::new(false));
    let ended = Arc::clone(&ends);
    let task = std::thread::spawn(move || {
        let sender = free();
        while !ended.load(Ordering::Relaxed) {
            for line in ships(200_000_001..200_000_003, &['A', 'B']) {
                let _ = sender.send_to(line.as_bytes(), open);
            }
            let beacon = support::sealed_armour("AIVDM,1,1,,A,>>M@rl1<59B1@E=@0000000,2");
            let _ = sender.send_to(beacon.as_bytes(), open);
            std::thread::sleep(Duration::from_millis(50));
        }
    });
    let (open, held) = (format!("udp://{open}"), format!("udp://{}", address(&taken)));
    let output = system.run(&["--no-network", "--input", &open, "--input", &held]);
    ends.store(true, Ordering::Relaxed);
    task.join().unwrap();
    assert_says(
        &String::from_utf8(output.stdout).unwrap(),
        &["AIS receiver: 2 ships, 1 other station, both channels", "another program uses it"],
    );
    // A test of a beacon is no reason to count heads.
    assert!(!String::from_utf8(output.stderr).unwrap().contains("BEACON"));
    let output = system.run(&["--no-network", "--input", "file:/dev/null"]);
    assert_eq!(output.status.code(), Some(2));
}

/// It is heard through the watch, and the watch goes on hearing it.
#[test]
fn what_a_running_watch_reads_is_not_taken_from_it() {
    let mut system = System::new();
    let ais = Plugged::new(38_400, ships(200_000_001..200_000_008, &['A', 'B']));
    system.plug("ttyUSB0", "Receiver", ais);
    fs::create_dir_all(system.path("home")).unwrap();
    let uri = format!("serial:{}", system.by_id("Receiver"));
    let mut watch = Command::new(env!("CARGO_BIN_EXE_overside"));
    watch.current_dir(system.root.path()).env("HOME", system.path("home"));
    for name in ["XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_RUNTIME_DIR"] {
        watch.env(name, system.path("home"));
    }
    let log = File::create(system.path("events")).unwrap();
    watch.args(["watch", "--headless", "--json", "--input", &uri]).stdout(log);
    let mut watch = watch.spawn().unwrap();
    let lives = || fs::read_to_string(system.path("events")).unwrap().contains("\"live\"");
    for _ in 0..600 {
        if lives() {
            break;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    assert!(lives());
    let said = system.said(&[]);
    let events = fs::read_to_string(system.path("events")).unwrap();
    watch.kill().unwrap();
    watch.wait().unwrap();
    let process = format!("the watch that runs (process {}) reads it as ", watch.id());
    assert_says(&said, &["AIS receiver: 7 ships, both channels", &process, "heard through it"]);
    assert!(!events.contains("\"lost\""), "{events}");
}

/// Two adapters without numbers share one name: the socket they are in tells them apart.
#[test]
fn ports_are_told_apart_by_their_sockets_where_they_have_no_numbers() {
    let mut system = System::new();
    system.plug("ttyUSB0", "Same", Plugged::new(4_800, Vec::new()));
    system.plug("ttyACM0", "Other", Plugged::new(4_800, Vec::new()));
    fs::remove_file(system.path("dev/serial/by-id/usb-Same")).unwrap();
    fs::remove_file(system.path("dev/serial/by-id/usb-Other")).unwrap();
    symlink("../../ttyUSB0", system.path("dev/serial/by-path/pci-usb-0:1")).unwrap();
    let found = overside::edge::ports(system.root.path());
    let paths: Vec<_> = found.iter().map(|port| port.path.as_path()).collect();
    let inner = |path| system.path(path);
    let wanted = [inner("dev/ttyACM0"), inner("dev/serial/by-path/pci-usb-0:1")];
    assert_eq!(paths, wanted.iter().map(|it| it.as_path()).collect::<Vec<&Path>>());
    assert_eq!(found[1].usb.as_deref(), Some("Demo Same"));
}
