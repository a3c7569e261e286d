//! The first line: one sentence in plain words that is true right now.

use ratatui::layout::Rect;

use super::super::pen::Pen;
use super::super::theme::Role;
use super::super::{Screen, is_unacknowledged, unacknowledged, words};
use super::{Subject, subject};
use crate::mmsi::BeaconKind;
use crate::watch::{
    Alert, BeaconView, CasualtyId, Cause, InputState, Mode, Picture, Priority, State,
};

/// What the headline says.
struct Sentence {
    /// What is always said.
    what: String,
    /// What is said after it where there is room, the longest first.
    more: Vec<String>,
    /// Its ground.
    role: Role,
}

impl Sentence {
    fn new(what: impl Into<String>, role: Role) -> Self {
        Self { what: what.into(), more: Vec::new(), role }
    }
}

fn sentence(screen: &Screen, picture: &Picture) -> Sentence {
    match subject(screen, picture) {
        Subject::Casualty(beacon) => casualty(picture, beacon),
        Subject::Test(beacon) => {
            let heard = this_burst(beacon).count().min(8);
            let sure = if beacon.mode == Some(Mode::Test) { "TEST" } else { "PROBABLY A TEST" };
            let what = format!("{sure} of {}: {heard} of 8 heard", words::name(beacon));
            Sentence::new(what, Role::TestGround)
        }
        Subject::Quiet => quiet(picture),
    }
}

fn casualty(picture: &Picture, beacon: &BeaconView) -> Sentence {
    let name = words::headline_name(beacon);
    let alarm = picture
        .alerts
        .iter()
        .any(|alert| alert.casualty() == Some(beacon.id) && alert.priority >= Priority::Alarm);
    let role = if alarm { Role::AlarmGround } else { Role::WarningGround };
    let now = picture.now.at;
    let since = words::age(now.since(beacon.since.at));
    let (what, more) = if matches!(beacon.id, CasualtyId::Mark(_)) {
        let more = vec![format!("marked by hand {since} ago"), format!("marked {since} ago")];
        (format!("{name} OVERBOARD"), more)
    } else if beacon.silent {
        let silent = words::age(now.since(beacon.last.at));
        (format!("{name}: SIGNAL LOST"), vec![format!("not heard for {silent}"), silent])
    } else {
        match beacon.mode {
            Some(Mode::Active) if beacon.kind == BeaconKind::Mob => {
                let more = vec![format!("beacon ACTIVE {since}"), format!("ACTIVE {since}")];
                (format!("{name} OVERBOARD"), more)
            }
            Some(Mode::Active) => (format!("{name} ACTIVE"), vec![format!("for {since}")]),
            Some(Mode::Test | Mode::TestPresumed) => {
                let more = vec![format!("{since} of what should be a test"), since];
                (format!("{name}: TOO LONG FOR A TEST"), more)
            }
            _ => {
                let more = vec![format!("beacon heard {since}"), since];
                (format!("{name}: PERHAPS ACTIVE"), more)
            }
        }
    };
    Sentence { what, more, role }
}

fn quiet(picture: &Picture) -> Sentence {
    if let Some(deaf) = deafness(picture) {
        return Sentence::new(deaf, Role::AlarmGround);
    }
    if let Some(alert) = other_alarm(picture) {
        return Sentence::new(&*alert.text, Role::AlarmGround);
    }
    match unacknowledged(picture) {
        Some(alert) if !alert.is_active() => {
            Sentence::new(over(picture, alert), Role::WarningGround)
        }
        Some(alert) => Sentence::new(&*alert.text, Role::WarningGround),
        None => {
            let live = || picture.inputs.iter().filter(|it| it.state == Some(InputState::Live));
            if live().any(|input| input.hears_ais) {
                Sentence::new("Listening. Nothing heard from any beacon.", Role::Good)
            } else if live().next().is_some() {
                Sentence::new("No AIS heard yet.", Role::Warning)
            } else {
                Sentence::new("Nothing heard yet from any input.", Role::Warning)
            }
        }
    }
}

/// What an alert was about that is over, and nobody has taken note of it.
pub(super) fn over(picture: &Picture, alert: &Alert) -> String {
    let beacon = picture.beacons.iter().find(|beacon| Some(beacon.id) == alert.casualty());
    match beacon {
        Some(beacon) if beacon.mode == Some(Mode::Off) => {
            format!("{}: beacon switched OFF. Is everybody aboard?", words::headline_name(beacon))
        }
        _ => format!("Over: {}", alert.text),
    }
}

pub(super) fn draw(screen: &Screen, pen: &mut Pen<'_>, area: Rect, picture: &Picture) {
    let sentence = sentence(screen, picture);
    let waiting = screen.alert_in_view(picture).filter(|alert| is_unacknowledged(alert));
    let flashes = waiting.is_some_and(|alert| {
        alert.state == State::ActiveUnacknowledged && alert.priority >= Priority::Warning
    });
    let shade = |role| if flashes && !screen.lit { dark(role) } else { role };
    // What waits may be another than what the headline is about: then its own words flash.
    let other = waiting.filter(|alert| is_other(screen, picture, alert));
    let role = if other.is_some() { sentence.role } else { shade(sentence.role) };
    let state_role = match other.map(|alert| alert.priority) {
        Some(Priority::EmergencyAlarm | Priority::Alarm) => shade(Role::AlarmGround),
        Some(Priority::Warning | Priority::Caution) => shade(Role::WarningGround),
        None => role,
    };
    pen.ground(area, role);
    let state = match waiting {
        // There is no room for more.
        Some(_) if area.width < 40 => "!",
        None if area.width < 40 => "",
        _ => state(screen, picture, waiting, area.width < 80),
    };
    let replay = screen.replay.is_some() && (area.width >= 80 || area.width < 60);
    let clock =
        if area.width < 50 { String::new() } else { picture.clock.best(picture.now.utc).clock() };
    // From right to left. At 60 columns the time bar alone says that it is a replay.
    let mut end = area.width;
    let mut before = |pen: &mut Pen<'_>, text: &str, role| {
        if !text.is_empty() {
            let text = format!(" {text} ");
            pen.put_right(Rect { width: end, ..area }, 0, &text, role);
            end = end.saturating_sub(pen.width(&text));
        }
    };
    before(pen, &clock, role);
    before(pen, state, state_role);
    before(pen, if replay { "REPLAY" } else { "" }, Role::ReplayGround);
    before(pen, if picture.drill { "DRILL" } else { "" }, Role::ReplayGround);
    let room = Rect { width: end, ..area };
    let column = pen.put(room, 0, u16::from(area.width >= 60), &sentence.what, role) + 2;
    let fits = |text: &&String| column + pen.width(text) <= room.width;
    if let Some(more) = sentence.more.iter().find(fits) {
        pen.put(room, 0, column, more, role);
    }
}

/// Whether an alert is about another than the headline.
fn is_other(screen: &Screen, picture: &Picture, alert: &Alert) -> bool {
    match subject(screen, picture) {
        Subject::Casualty(beacon) | Subject::Test(beacon) => alert.casualty() != Some(beacon.id),
        Subject::Quiet => false,
    }
}

/// The ground of a headline that flashes, while it is not lit.
fn dark(role: Role) -> Role {
    match role {
        Role::AlarmGround => Role::Alarm,
        Role::TestGround => Role::Test,
        _ => Role::Warning,
    }
}

/// How far the alert in view has been dealt with; or that another one has not, which the headline
/// is not about.
fn state(
    screen: &Screen,
    picture: &Picture,
    waiting: Option<&Alert>,
    narrow: bool,
) -> &'static str {
    let Some(alert) = waiting else {
        let own = picture.alerts.iter().filter(|alert| !is_other(screen, picture, alert));
        return match own.map(|alert| alert.priority).max() {
            Some(priority) if priority > Priority::Caution && narrow => "ACKN.",
            Some(priority) if priority > Priority::Caution => "acknowledged",
            _ => "",
        };
    };
    match alert.state {
        _ if is_other(screen, picture, alert) => match alert.priority {
            Priority::EmergencyAlarm if narrow => "NEW EMERG.",
            Priority::EmergencyAlarm => "NEW EMERGENCY",
            Priority::Alarm => "NEW ALARM",
            Priority::Warning | Priority::Caution => "NEW WARNING",
        },
        State::ActiveSilenced => "SILENCED",
        State::RectifiedUnacknowledged if narrow => "OVER",
        State::RectifiedUnacknowledged => "OVER, NOT ACKN.",
        _ if narrow => "UNACKN.",
        _ => "UNACKNOWLEDGED",
    }
}

/// That nothing is left that hears AIS.
pub(super) fn deafness(picture: &Picture) -> Option<String> {
    let deaf = picture.alerts.iter().any(|alert| {
        alert.cause == Cause::InputSilent && alert.priority == Priority::Alarm && alert.is_active()
    });
    let down = |state| matches!(state, Some(InputState::Silent | InputState::Lost));
    let ears = picture.inputs.iter().filter(|input| input.hears_ais || input.heard.is_none());
    let heard = ears.clone().filter_map(|input| input.heard).min();
    let all_down = deaf && ears.clone().all(|input| down(input.state));
    all_down.then(|| match heard {
        Some(age) => format!("NOT LISTENING: no AIS for {}", words::age(age)),
        None => "NOT LISTENING: nothing heard from any receiver".to_owned(),
    })
}

/// An alarm that is about no beacon that is shown: a DSC call, a crew alarm on board.
pub(super) fn other_alarm(picture: &Picture) -> Option<&Alert> {
    let alarms = picture.alerts.iter().filter(|alert| {
        alert.priority >= Priority::Alarm && alert.is_active() && alert.cause != Cause::InputSilent
    });
    alarms.max_by_key(|alert| alert.priority)
}

/// What was heard of the last burst.
pub(super) fn this_burst(beacon: &BeaconView) -> impl Iterator<Item = &crate::watch::Reception> {
    let burst = std::time::Duration::from_secs(20);
    beacon.receptions.iter().filter(move |r| beacon.last.at.since(r.at) <= burst)
}
