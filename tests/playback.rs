//! A replay as a person steps through it: where it stops, and what of the time before its beginning
//! is known.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

use std::collections::VecDeque;
use std::io;
use std::path::Path;
use std::time::Duration;

use overside::app::{Replay, replay};
use overside::frontend::{Context, Frontend, Request};
use overside::screen::History;
use overside::time::{Stamp, Utc};
use overside::watch::{Command, Event, EventBody, Settings, Watch};

/// Somebody who presses keys, one after the other, and writes down what they see.
#[derive(Default)]
struct Eye {
    keys: VecDeque<Request>,
    told: Vec<Event>,
    recalled: Vec<Event>,
    history: History,
    /// Where the recording stood after each key.
    stood: Vec<Utc>,
    /// Keys are pressed only at the end.
    waits: bool,
    ended: bool,
    pressed: bool,
}

impl Frontend for Eye {
    fn tell(&mut self, event: &Event) -> io::Result<()> {
        self.history.tell(event);
        self.told.push(event.clone());
        Ok(())
    }

    fn show(&mut self, _: &Watch, now: Stamp, context: Context<'_>) -> io::Result<()> {
        let Context::Replay(state) = context else { panic!("it is a replay") };
        self.ended = state.ended;
        if std::mem::take(&mut self.pressed) {
            self.stood.push(now.utc);
        }
        Ok(())
    }

    fn next_frame(&self) -> Option<Duration> {
        None
    }

    async fn request(&mut self) -> Request {
        if self.waits && !self.ended {
            return std::future::pending().await;
        }
        self.pressed = true;
        self.keys.pop_front().unwrap_or(Request::Quit)
    }

    fn recall(&mut self, event: &Event) {
        self.history.tell(event);
        self.recalled.push(event.clone());
    }

    fn forget(&mut self) {
        self.history = History::default();
    }

    fn stays(&self) -> bool {
        true
    }
}

fn run(name: &str, from: Option<&str>, mut eye: Eye) -> Eye {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("captures").join(name);
    let from = from.map(|from| Utc::parse_rfc3339(from).unwrap());
    let played = Replay { files: vec![file], from, ..Replay::default() };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(replay(&played, Settings::default(), &mut eye)).unwrap();
    eye
}

fn clocks(stood: &[Utc]) -> Vec<String> {
    stood.iter().map(|at| at.clock()).collect()
}

/// The first word of the beacon, its place, the calls, the passes, the silence, the signal back, OFF.
#[test]
fn the_next_event_is_whatever_people_care_about() {
    let keys = std::iter::repeat_n(Request::NextEvent, 20).collect();
    let eye = run("overboard_drill.nmea", None, Eye { keys, ..Eye::default() });
    let clocks = clocks(&eye.stood);
    let wanted = ["14:03:15Z", "14:07:16Z", "14:12:37Z", "14:14:30Z", "14:15:18Z", "14:19:19Z"];
    let mut stood = clocks.iter();
    for at in wanted {
        assert!(stood.any(|it| it == at), "no stop at {at}: {clocks:?}");
    }
    let first_place = eye.told.iter().find_map(|event| match &event.body {
        EventBody::BeaconUpdate(update) if update.beacon.position.is_some() => Some(event.at),
        _ => None,
    });
    assert!(eye.stood.contains(&first_place.unwrap()), "not at the first position: {clocks:?}");
}

#[test]
fn tests_and_what_ends_are_events_as_well() {
    let keys = std::iter::repeat_n(Request::NextEvent, 30).collect();
    let eye = run("muster_round.nmea", None, Eye { keys, ..Eye::default() });
    let stood = clocks(&eye.stood);
    for at in ["09:01:11Z", "09:02:38Z", "09:02:56Z", "09:04:13Z"] {
        assert!(stood.iter().any(|it| it == at), "no stop at {at}: {stood:?}");
    }
    let keys = std::iter::repeat_n(Request::NextEvent, 30).collect();
    let eye = run("night_watch.nmea", None, Eye { keys, ..Eye::default() });
    let stood = clocks(&eye.stood);
    for at in ["23:16:52Z", "23:25:28Z", "23:26:55Z", "23:32:10Z", "23:32:46Z"] {
        assert!(stood.iter().any(|it| it == at), "no stop at {at}: {stood:?}");
    }
}

#[test]
fn backwards_it_stops_where_it_stopped_before() {
    let forth = std::iter::repeat_n(Request::NextEvent, 5);
    let back = std::iter::repeat_n(Request::PreviousEvent, 4);
    let keys = forth.chain(back).collect();
    let eye = run("overboard_drill.nmea", None, Eye { keys, ..Eye::default() });
    let (forth, back) = eye.stood.split_at(5);
    let expected: Vec<Utc> = forth[..4].iter().rev().copied().collect();
    assert_eq!(&back[..4], expected, "{:?}", clocks(&eye.stood));
}

/// A replay that begins later knows what came before, and an alert keeps the time it was raised at.
#[test]
fn what_came_before_the_beginning_is_remembered() {
    const FROM: &str = "2026-06-14T14:16:00Z";
    let whole = run("overboard_drill.nmea", None, Eye { waits: true, ..Eye::default() });
    let acknowledge = whole.told.iter().find_map(|event| match &event.body {
        EventBody::Alert(alert) => Some(Request::Command(Command::Acknowledge(alert.id))),
        _ => None,
    });
    let keys = acknowledge.into_iter().collect();
    let eye = Eye { waits: true, keys, ..Eye::default() };
    let eye = run("overboard_drill.nmea", Some(FROM), eye);
    let from = Utc::parse_rfc3339(FROM).unwrap();
    assert!(!eye.recalled.is_empty() && eye.recalled.iter().all(|event| event.at < from));
    assert!(eye.told.iter().all(|event| event.at >= from));
    let raised = |eye: &Eye| {
        let entry = eye.history.newest(false).last().unwrap();
        (entry.id, entry.raised)
    };
    assert_eq!(raised(&eye), raised(&whole));
    let acknowledged = eye.history.newest(false).last().unwrap();
    assert_eq!(acknowledged.raised.clock(), "14:03:15Z");
    assert!(acknowledged.acknowledged.is_some());
}

#[test]
fn going_back_does_not_leave_the_part_that_was_asked_for() {
    let keys = std::iter::repeat_n(Request::PreviousEvent, 3).collect();
    let eye = Eye { waits: false, keys, ..Eye::default() };
    let eye = run("overboard_drill.nmea", Some("2026-06-14T14:16:00Z"), eye);
    assert!(eye.stood.iter().all(|at| at.clock().as_str() >= "14:15:50Z"), "{:?}", eye.stood);
}
