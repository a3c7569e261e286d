//! What sounds and who is told, with real programs: ways that work, fail, hang and are missing.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

mod support;

use std::ffi::OsString;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{self, Receiver};
use std::time::Duration;

use overside::edge::{
    Clock, Hook, HookReport, Hooks, RATE, SoundMethod, Sounder, SounderReport, SounderSettings,
    Sounding, length, wave,
};
use overside::mmsi::Mmsi;
use overside::time::{Mono, Stamp, Utc};
use overside::watch::{AlertId, Cause, Command, Input, Priority, Settings, Watch};

/// Generous: a loaded machine starts a process in this time.
const PATIENCE: Duration = Duration::from_secs(20);

const EMERGENCY: Sounding = Sounding {
    priority: Priority::EmergencyAlarm,
    cause: Cause::BeaconActive,
    mmsi: Mmsi::new(972_000_017),
    alert: AlertId(1),
    repeats: 0,
};

const WARNING: Sounding =
    Sounding { priority: Priority::Warning, alert: AlertId(2), mmsi: None, ..EMERGENCY };

/// A program that does this, and says into a file with what it was called.
fn program(folder: &Path, name: &str, script: &str) -> PathBuf {
    let path = folder.join(name);
    let said = folder.join(format!("{name}.said"));
    let text = format!("#!/bin/sh\necho \"$@\" >> '{}'\n{script}\n", said.display());
    std::fs::write(&path, text).unwrap();
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o755)).unwrap();
    path
}

fn said(folder: &Path, name: &str) -> Vec<String> {
    let text = std::fs::read_to_string(folder.join(format!("{name}.said"))).unwrap_or_default();
    text.lines().map(str::to_owned).collect()
}

/// A sounder, and what it reports.
fn sounder(command: Option<Vec<String>>, path: &Path) -> (Sounder, Receiver<SounderReport>) {
    let (tx, reports) = mpsc::channel();
    let settings = SounderSettings {
        command,
        sound: true,
        bell: true,
        path: OsString::from(path),
        hangs_after: Duration::from_millis(300),
    };
    let told = move |report| {
        let _ = tx.send(report);
    };
    (Sounder::start(settings, Clock::start(), told).unwrap(), reports)
}

fn next(reports: &Receiver<SounderReport>) -> SounderReport {
    reports.recv_timeout(PATIENCE).expect("a report, in time")
}

fn wait_until(what: &str, is_so: impl Fn() -> bool) {
    let met = (0..2000).any(|_| {
        std::thread::sleep(Duration::from_millis(5));
        is_so()
    });
    assert!(met, "{what}");
}

#[test]
fn the_command_comes_first_and_is_given_no_shell() {
    let folder = tempfile::tempdir().unwrap();
    let lamp = program(folder.path(), "lamp", "exit 0");
    program(folder.path(), "aplay", "exit 0");
    let argv = [lamp.to_str().unwrap(), "{priority} for {mmsi}; touch x", "{cause}", "{sound}"];
    let (mut sounder, reports) = sounder(Some(argv.map(str::to_owned).to_vec()), folder.path());
    assert_eq!(next(&reports), SounderReport::Uses(SoundMethod::Command));
    sounder.want(Some(EMERGENCY));
    wait_until("the command was run", || !said(folder.path(), "lamp").is_empty());
    sounder.want(None);
    let line = said(folder.path(), "lamp").remove(0);
    assert!(line.starts_with("emergency_alarm for 972000017; touch x beacon_active /"), "{line}");
    assert!(line.ends_with("emergency_alarm.wav"), "{line}");
    assert!(said(folder.path(), "aplay").is_empty());
}

#[test]
fn what_fails_hangs_or_is_missing_gives_way_to_the_next() {
    for (script, why) in [("exit 3", "exit status: 3"), ("sleep 60", "hangs")] {
        let folder = tempfile::tempdir().unwrap();
        let command = program(folder.path(), "horn", script).display().to_string();
        program(folder.path(), "aplay", "exit 0");
        let (mut sounder, reports) = sounder(Some(vec![command]), folder.path());
        assert_eq!(next(&reports), SounderReport::Uses(SoundMethod::Command));
        sounder.want(Some(WARNING));
        let SounderReport::Failed { way: SoundMethod::Command, why: told } = next(&reports) else {
            panic!("{script}: it did not fail")
        };
        assert!(told.contains(why), "{told}");
        assert_eq!(next(&reports), SounderReport::Uses(SoundMethod::Player("aplay")));
        wait_until("the player sounds", || said(folder.path(), "aplay").len() == 1);
        assert!(said(folder.path(), "aplay")[0].starts_with("-q /"));
    }
    let folder = tempfile::tempdir().unwrap();
    let (mut sounder, reports) = sounder(Some(vec!["/no/such/horn".into()]), folder.path());
    next(&reports);
    sounder.want(Some(WARNING));
    assert!(matches!(next(&reports), SounderReport::Failed { way: SoundMethod::Command, .. }));
    assert_eq!(next(&reports), SounderReport::Uses(SoundMethod::Bell));
    // Two strokes are a warning (IEC 62923-1, from memory), and there are no more until it is
    // repeated.
    assert_eq!([next(&reports), next(&reports)], [SounderReport::Ring, SounderReport::Ring]);
    sounder.want(Some(Sounding { repeats: 1, ..WARNING }));
    assert_eq!([next(&reports), next(&reports)], [SounderReport::Ring, SounderReport::Ring]);
    sounder.want(Some(Sounding { priority: Priority::Alarm, ..WARNING }));
    for _ in 0..3 {
        assert_eq!(next(&reports), SounderReport::Ring);
    }
}

#[test]
fn silence_ends_the_sound_at_once_and_all_it_has_started() {
    let folder = tempfile::tempdir().unwrap();
    let pid = folder.path().join("pid");
    // The child of a child, as a player's own server would be.
    let script = format!("sleep 60 & echo $! > '{}'; wait", pid.display());
    let command = program(folder.path(), "horn", &script).display().to_string();
    let settings = SounderSettings {
        command: Some(vec![command]),
        sound: true,
        bell: false,
        path: OsString::new(),
        hangs_after: Duration::from_secs(60),
    };
    let mut sounder = Sounder::start(settings, Clock::start(), |_| {}).unwrap();
    sounder.want(Some(EMERGENCY));
    let read = || std::fs::read_to_string(&pid).unwrap_or_default().trim().to_owned();
    wait_until("it sounds", || !read().is_empty());
    let child = PathBuf::from("/proc").join(read());
    assert!(child.exists() || !Path::new("/proc").is_dir());
    sounder.want(None);
    // A zombie whose parent is gone is no sound any more.
    let gone =
        || std::fs::read_to_string(child.join("stat")).map_or(true, |stat| stat.contains(") Z "));
    wait_until("the child of the child has ended", gone);
}

/// A flood of alarms is no way to keep one from being heard: each sound is let end.
#[test]
fn a_flood_lets_each_sound_end() {
    let folder = tempfile::tempdir().unwrap();
    let done = folder.path().join("done");
    let script = format!("sleep 0.05; echo >> '{}'", done.display());
    program(folder.path(), "aplay", &script);
    let (mut sounder, _reports) = sounder(None, folder.path());
    for number in 1..400 {
        let alarm = Sounding { priority: Priority::Alarm, alert: AlertId(number), ..EMERGENCY };
        sounder.want(Some(alarm));
        std::thread::sleep(Duration::from_millis(1));
    }
    wait_until("sounds have ended", || {
        std::fs::read_to_string(&done).is_ok_and(|text| text.lines().count() >= 2)
    });
}

#[test]
fn without_any_way_it_says_so() {
    let (tx, reports) = mpsc::channel();
    let told = move |report| {
        let _ = tx.send(report);
    };
    let settings = SounderSettings {
        command: None,
        sound: true,
        bell: false,
        path: OsString::new(),
        hangs_after: PATIENCE,
    };
    let sounder = Sounder::start(settings.clone(), Clock::start(), told).unwrap();
    assert_eq!(next(&reports), SounderReport::Mute);
    sounder.settings(SounderSettings { sound: false, ..settings });
    assert_eq!(next(&reports), SounderReport::Off);
}

#[test]
fn a_check_tries_every_way_and_says_which_works() {
    let folder = tempfile::tempdir().unwrap();
    let horn = program(folder.path(), "horn", "exit 1").display().to_string();
    program(folder.path(), "pw-play", "exit 0");
    let (sounder, reports) = sounder(Some(vec![horn]), folder.path());
    next(&reports);
    sounder.check();
    let mut heard = Vec::new();
    loop {
        match next(&reports) {
            SounderReport::Checked { way, heard: it } => heard.push((way, it.is_ok())),
            SounderReport::CheckEnded => break,
            _ => {}
        }
    }
    let expected = [
        (SoundMethod::Command, false),
        (SoundMethod::Player("pw-play"), true),
        (SoundMethod::Bell, true),
    ];
    assert_eq!(heard, expected);
    assert!(said(folder.path(), "pw-play")[0].ends_with("alarm.wav"));
}

/// MSC.302(87) 7.3.5 and 7.3.8: it sounds until it is acknowledged or rectified, and not while it is
/// silenced. Of several the most urgent sounds.
#[test]
fn what_waits_sounds_until_it_is_acknowledged_or_rectified() {
    let mut watch = Watch::new(Settings::default());
    let input = watch.input("ais");
    let mut second = 0;
    let mut stamp = || {
        second += 1;
        let after = Duration::from_secs(second);
        let begin = Utc::parse_rfc3339("2026-06-14T02:00:00Z").unwrap();
        Stamp { at: Mono::START + after, utc: begin.plus(after) }
    };
    let mut sounds = |watch: &mut Watch, line: Option<String>, command: Option<Command>| {
        if let Some(line) = line {
            watch.handle(Input::Line { stamp: stamp(), input, bytes: line.as_bytes() });
        }
        if let Some(command) = command {
            watch.handle(Input::Command { stamp: stamp(), command });
        }
        while watch.poll_output().is_some() {}
        Sounding::of(watch.alerts()).map(|it| (it.priority, it.alert))
    };
    let says = |of, text| Some(support::vdm(&support::text(of, text), 'A'));
    let emergency = |id| Some((Priority::EmergencyAlarm, AlertId(id)));
    let (one, two) = (972_000_017, 972_000_018);
    assert_eq!(sounds(&mut watch, says(one, "MOB TEST"), None), None, "a caution is silent");
    assert_eq!(sounds(&mut watch, says(one, "MOB ACTIVE"), None), emergency(2));
    assert_eq!(sounds(&mut watch, None, Some(Command::Silence(AlertId(2)))), None);
    let warned = sounds(&mut watch, says(200_000_001, "MAYDAY"), None);
    assert_eq!(warned, Some((Priority::Warning, AlertId(3))));
    assert_eq!(sounds(&mut watch, says(two, "MOB ACTIVE"), None), emergency(4));
    assert_eq!(sounds(&mut watch, says(two, "MOB OFF"), None), warned, "rectified");
    assert_eq!(sounds(&mut watch, None, Some(Command::Acknowledge(AlertId(3)))), None);
}

/// As another library reads them: 16 bits, mono; three short signals for an alarm, two for a warning,
/// one without a pause for an emergency; pitches within 200 to 2 500 Hz, the alarm's and the
/// warning's far apart (IEC 62923-1, from memory; MSC.302(87) 7.3.4).
#[test]
fn the_sounds_are_what_the_standard_wants() {
    let mut pitches = Vec::new();
    for (priority, signals) in
        [(Priority::EmergencyAlarm, 1), (Priority::Alarm, 3), (Priority::Warning, 2)]
    {
        let mut reader = hound::WavReader::new(std::io::Cursor::new(wave(priority))).unwrap();
        let spec = reader.spec();
        assert_eq!((spec.channels, spec.bits_per_sample, spec.sample_rate), (1, 16, RATE));
        let samples: Vec<i16> = reader.samples().map(Result::unwrap).collect();
        let seconds = samples.len() as f64 / f64::from(RATE);
        assert!((seconds - length(priority).as_secs_f64()).abs() < 0.01);
        // Loudness in hundredths of a second.
        let loud: Vec<bool> = samples
            .chunks(RATE as usize / 100)
            .map(|part| part.iter().any(|sample| sample.unsigned_abs() > 8_000))
            .collect();
        let begins = loud.chunk_by(|a, b| a == b).filter(|run| run[0] && run.len() > 5).count();
        assert_eq!(begins, signals, "{priority:?}");
        // Crossings of zero from below, in the first tenth of a second after the fade.
        let part = &samples[RATE as usize / 50..RATE as usize / 50 + RATE as usize / 10];
        let pitch = part.windows(2).filter(|pair| pair[0] < 0 && pair[1] >= 0).count() * 10;
        assert!((200..=2_500).contains(&pitch), "{priority:?}: {pitch} Hz");
        pitches.push(pitch);
    }
    assert!(pitches[1] > 2 * pitches[2], "{pitches:?}");
    assert!(wave(Priority::Caution).len() == 44, "a caution makes no sound");
}

/// Runs the command itself; nothing of the machine's own is found on the path that it is given.
#[test]
fn the_command_line_checks_the_sound() {
    let folder = tempfile::tempdir().unwrap();
    program(folder.path(), "paplay", "exit 0");
    let check = |path: &Path| {
        let output = assert_cmd::Command::new(env!("CARGO_BIN_EXE_overside"))
            .args(["watch", "--sound-check"])
            .current_dir(folder.path())
            .env("PATH", path)
            .env("XDG_CONFIG_HOME", folder.path())
            .env_remove("OVERSIDE_CONFIG")
            .output()
            .unwrap();
        (output.status.code(), String::from_utf8(output.stdout).unwrap())
    };
    let (code, text) = check(&folder.path().join("nothing"));
    assert_eq!(code, Some(1));
    assert!(text.contains("No command and no player sounds"), "{text}");
    // The script needs a shell, which is found by its full name.
    let (code, text) = check(folder.path());
    assert!(code == Some(0) && text.starts_with("paplay: works"), "{code:?} {text}");
}

/// Passes on what is reported, and panics once it has, at one of the reports.
fn panics_at<T: Send + 'static>(mut report: usize, tx: mpsc::Sender<T>) -> impl FnMut(T) + Send {
    move |said| {
        let _ = tx.send(said);
        report = report.wrapping_sub(1);
        assert!(report != 0, "of the test");
    }
}

/// A sounder that panics says so as of a way that fails, and sounds by the next.
#[test]
fn a_panic_in_the_sounder_silences_no_alarm() {
    let folder = tempfile::tempdir().unwrap();
    let command = program(folder.path(), "horn", "exit 0").display().to_string();
    program(folder.path(), "aplay", "exit 0");
    let (tx, reports) = mpsc::channel();
    let settings = SounderSettings {
        command: Some(vec![command]),
        sound: true,
        bell: true,
        path: OsString::from(folder.path()),
        hangs_after: Duration::from_millis(300),
    };
    let mut sounder = Sounder::start(settings, Clock::start(), panics_at(1, tx)).unwrap();
    sounder.want(Some(EMERGENCY));
    assert_eq!(next(&reports), SounderReport::Uses(SoundMethod::Command));
    let SounderReport::Failed { way: SoundMethod::Command, why } = next(&reports) else {
        panic!("it is not told")
    };
    assert!(why.contains("it panicked: of the test"), "{why}");
    assert_eq!(next(&reports), SounderReport::Uses(SoundMethod::Player("aplay")));
    wait_until("the player sounds", || !said(folder.path(), "aplay").is_empty());
}

/// A command that hangs while more comes than can wait: an emergency is told, what it is never told
/// of is counted, and that ends when it works again.
#[test]
fn a_slow_hook_is_told_of_the_emergency_and_what_it_never_got_is_counted() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().display();
    let script = format!("while [ ! -e '{path}/go' ]; do sleep 0.05; done; cat >> '{path}/told'");
    let phone = program(folder.path(), "phone", &script);
    let patient = Hook { hangs_after: PATIENCE, ..hook(&phone, Priority::Caution) };
    let (tx, reports) = mpsc::channel();
    let told = move |report| drop(tx.send(report));
    let hooks = Hooks::start(vec![patient], Clock::start(), told);
    hooks.tell(Priority::EmergencyAlarm, "emergency");
    for _ in 0..600 {
        hooks.tell(Priority::Caution, "caution");
    }
    let next = || reports.recv_timeout(PATIENCE).unwrap();
    let HookReport::Failed { why, .. } = next() else { panic!("it is not told") };
    assert!(why.contains("least urgent events were not told to it"), "{why}");
    hooks.tell(Priority::EmergencyAlarm, "another");
    std::fs::write(folder.path().join("go"), "").unwrap();
    while next() != HookReport::Works {}
    drop(hooks);
    let written = || std::fs::read_to_string(folder.path().join("told")).unwrap_or_default();
    let all = (0..1200).any(|_| {
        std::thread::sleep(Duration::from_millis(50));
        written().contains("another")
    });
    assert!(all && written().starts_with("emergency"), "{}", written());
}

/// A hook that panics says so as of one that fails, and is told on.
#[test]
fn a_panic_in_a_hook_is_told_and_the_hook_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let flag = folder.path().join("flag");
    let phone = program(folder.path(), "phone", &format!("test -e '{}'", flag.display()));
    let (tx, reports) = mpsc::channel();
    let report = std::sync::Mutex::new(panics_at(2, tx));
    let told = move |it| (report.lock().unwrap_or_else(std::sync::PoisonError::into_inner))(it);
    let hooks = Hooks::start(vec![hook(&phone, Priority::Caution)], Clock::start(), told);
    let next = || reports.recv_timeout(PATIENCE).unwrap();
    hooks.tell(Priority::Alarm, "one");
    assert!(matches!(next(), HookReport::Failed { .. }));
    std::fs::write(&flag, "").unwrap();
    hooks.tell(Priority::Alarm, "two");
    assert_eq!(next(), HookReport::Works);
    let HookReport::Failed { why, .. } = next() else { panic!("it is not told") };
    assert!(why.contains("it panicked: of the test"), "{why}");
    hooks.tell(Priority::Alarm, "three");
    assert_eq!(next(), HookReport::Works);
}

fn hook(command: &Path, from: Priority) -> Hook {
    let command = vec![command.display().to_string()];
    Hook { command, from, hangs_after: Duration::from_millis(300) }
}

#[test]
fn hooks_are_told_in_order_one_at_a_time() {
    let folder = tempfile::tempdir().unwrap();
    let heard = folder.path().join("heard");
    let script = format!("cat >> '{}'", heard.display());
    let phone = program(folder.path(), "phone", &script);
    let (tx, reports) = mpsc::channel();
    let told = move |report| drop(tx.send(report));
    let hooks = Hooks::start(vec![hook(&phone, Priority::Warning)], Clock::start(), told);
    for number in 0..20 {
        hooks.tell(Priority::Alarm, &format!("{{\"number\":{number}}}"));
        hooks.tell(Priority::Caution, "{\"number\":-1}");
    }
    let read = || std::fs::read_to_string(&heard).unwrap_or_default();
    wait_until("all are told", || read().lines().count() == 20);
    let expected: String = (0..20).map(|number| format!("{{\"number\":{number}}}\n")).collect();
    assert_eq!(read(), expected);
    assert!(reports.try_recv().is_err());
}

#[test]
fn a_hook_that_hangs_or_fails_is_ended_told_and_tried_again() {
    let folder = tempfile::tempdir().unwrap();
    let once = folder.path().join("once");
    let script = format!("[ -e '{0}' ] || {{ touch '{0}'; sleep 60; }}", once.display());
    let phone = program(folder.path(), "phone", &script);
    let (tx, reports) = mpsc::channel();
    let tx = std::sync::Mutex::new(tx);
    let hooks =
        Hooks::start(vec![hook(&phone, Priority::Warning)], Clock::start(), move |report| {
            let _ = tx.lock().unwrap().send(report);
        });
    hooks.tell(Priority::Alarm, "{}");
    hooks.tell(Priority::Alarm, "{}");
    let report = reports.recv_timeout(PATIENCE).unwrap();
    assert!(matches!(report, HookReport::Failed { why, .. } if why.contains("hangs")));
    assert_eq!(reports.recv_timeout(PATIENCE).unwrap(), HookReport::Works);
}

/// A watch without a screen whose emergencies a phone is told of.
fn watch(folder: &Path, stdout: std::process::Stdio) -> std::process::Child {
    let heard = folder.join("heard");
    let phone = program(folder, "phone", &format!("cat >> '{}'", heard.display()));
    let config = folder.join("overside.toml");
    let text = format!(
        "[alarm]\nsound = false\n[[hook]]\ncommand = [\"{}\"]\nfrom = \"emergency_alarm\"\n",
        phone.display()
    );
    std::fs::write(&config, text).unwrap();
    std::process::Command::new(env!("CARGO_BIN_EXE_overside"))
        .args(["watch", "--headless", "--json", "--input", "-", "--config"])
        .arg(&config)
        .arg("--storage")
        .arg(folder)
        .stdin(std::process::Stdio::piped())
        .stdout(stdout)
        .spawn()
        .unwrap()
}

/// Nobody reads what the watch says, and the pipe is full: the alarm goes out all the same.
#[test]
fn an_output_that_sticks_delays_no_alarm() {
    let folder = tempfile::tempdir().unwrap();
    let mut child = watch(folder.path(), std::process::Stdio::piped());
    let mut lines = String::new();
    for number in 0..1_000 {
        // Safety texts, each of which is told at some length: far more than a pipe holds.
        let text = support::text(211_000_000 + number, "WEATHER FINE");
        lines.push_str(&format!("{}\n", support::vdm(&text, 'A')));
    }
    lines.push_str(&support::vdm(&support::position(972_000_017, 14, None, 60), 'A'));
    lines.push('\n');
    let mut stdin = child.stdin.take().unwrap();
    std::io::Write::write_all(&mut stdin, lines.as_bytes()).unwrap();
    let heard = folder.path().join("heard");
    let read = || std::fs::read_to_string(&heard).unwrap_or_default();
    wait_until("the phone is told", || read().ends_with('\n'));
    drop(stdin);
    // It ends, too, though its last words find nobody.
    assert!(child.wait().unwrap().success());
}

/// From the alert to the phone, through the program itself.
#[test]
fn the_watch_tells_its_hooks() {
    let folder = tempfile::tempdir().unwrap();
    let heard = folder.path().join("heard");
    let mut child = watch(folder.path(), std::process::Stdio::null());
    let line = support::vdm(&support::position(972_000_017, 14, None, 60), 'A');
    let test = support::vdm(&support::text(972_000_018, "MOB TEST"), 'B');
    let mut stdin = child.stdin.take().unwrap();
    std::io::Write::write_all(&mut stdin, format!("{test}\n{line}\n").as_bytes()).unwrap();
    let read = || std::fs::read_to_string(&heard).unwrap_or_default();
    wait_until("the phone is told", || read().ends_with('\n'));
    drop(stdin);
    assert!(child.wait().unwrap().success());
    let told: serde_json::Value = serde_json::from_str(read().trim()).unwrap();
    assert_eq!((&told["event"], &told["cause"]), (&"alert".into(), &"beacon_active".into()));
}
