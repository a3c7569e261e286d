//! The first line: one sentence in plain words that is true right now.

use ratatui::layout::Rect;

use super::super::pen::Pen;
use super::super::theme::Role;
use super::super::{Screen, words};
use crate::advice::{
    Advice, Reality, STRANGER, Situation, Subject, is_unacknowledged, last_burst, rehearsal_known,
    subject,
};
use crate::beacon::MESSAGES;
use crate::mmsi::BeaconKind;
use crate::watch::{Alert, BeaconView, Cause, Picture, Priority, Rehearsed, State};
use crate::zone::Zone;

/// What the headline says.
struct Sentence {
    /// What is always said.
    what: String,
    /// What is said after it where there is room, the longest first.
    more: Vec<String>,
    /// Its background.
    role: Role,
}

impl Sentence {
    fn new(what: impl Into<String>, role: Role) -> Self {
        Self { what: what.into(), more: Vec::new(), role }
    }
}

fn sentence(screen: &Screen, picture: &Picture) -> Sentence {
    let advice = Advice::of(picture, screen.selected);
    let what = advice.headline();
    match subject(picture, screen.selected) {
        Subject::Casualty(beacon) => casualty(picture, beacon, &advice),
        Subject::Test(beacon) => {
            let said = match last_burst(beacon).count().min(MESSAGES) {
                // Over a restart it is known that it was, and not how much of it came.
                0 => "heard before this watch began".to_owned(),
                heard => format!("{heard} of {MESSAGES} heard"),
            };
            Sentence::new(format!("{what}: {said}"), Role::TestBackground)
        }
        Subject::Quiet => Sentence::new(what, background(&advice.situation)),
    }
}

/// The headline of a casualty, with how long it has been so.
fn casualty(picture: &Picture, beacon: &BeaconView, advice: &Advice) -> Sentence {
    let mut alerts = picture.alerts.iter().filter(|it| it.casualty() == Some(beacon.id));
    let is_alarm = alerts.any(|alert| alert.priority >= Priority::Alarm);
    let role = if is_alarm { Role::AlarmBackground } else { Role::WarningBackground };
    let since = words::age(picture.now.at.since(beacon.since.at));
    let silent = words::age(picture.now.at.since(beacon.last.at));
    let more = match advice.real {
        Some(Reality::Marked) => {
            vec![format!("marked by hand {since} ago"), format!("marked {since} ago")]
        }
        Some(Reality::Called) => vec![format!("DSC call {since} ago"), format!("DSC {since}")],
        Some(Reality::SignalLost | Reality::PerhapsLost) => {
            vec![format!("not heard for {silent}"), silent]
        }
        Some(Reality::Active) if beacon.kind == BeaconKind::Mob => {
            vec![format!("beacon ACTIVE {since}"), format!("ACTIVE {since}")]
        }
        Some(Reality::Active) => vec![format!("for {since}")],
        Some(Reality::TooLongForATest) => {
            vec![format!("{since} of what should be a test"), since]
        }
        _ => vec![format!("beacon heard {since}"), since],
    };
    let stranger = advice.who.as_ref().filter(|who| who.stranger).map(|_| STRANGER.to_owned());
    let more = stranger.into_iter().chain(more).collect();
    Sentence { what: advice.headline(), more, role }
}

/// The background of a headline that is about no beacon.
fn background(situation: &Situation) -> Role {
    match situation {
        Situation::Deaf { .. } | Situation::Alarm(_) | Situation::Casualty => Role::AlarmBackground,
        Situation::Ended(_) | Situation::Warning(_) | Situation::DeclaredSafe(_) => {
            Role::WarningBackground
        }
        Situation::Test => Role::TestBackground,
        Situation::Listening | Situation::Heard(_) => Role::Good,
        Situation::NoAisYet | Situation::NothingYet => Role::Warning,
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
    let state_role = match other {
        Some(alert) if alert.is_active() && alert.priority >= Priority::Alarm => {
            shade(Role::AlarmBackground)
        }
        Some(_) => shade(Role::WarningBackground),
        None => role,
    };
    pen.background(area, role);
    let state = match waiting {
        // There is no room for more.
        Some(_) if area.width < 40 => "!",
        None if area.width < 40 => "",
        _ => state(screen, picture, waiting, area.width),
    };
    let replay = screen.replay.is_some() && (area.width >= 80 || area.width < 60);
    let now = picture.clock.best(picture.now.utc);
    let local = screen.vessel.zone.as_ref().filter(|_| area.width >= 80);
    let clock = match area.width < 50 {
        true => String::new(),
        false => now.clock() + &Zone::beside(local, now),
    };
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
    before(pen, if replay { "REPLAY" } else { "" }, Role::ReplayBackground);
    before(pen, rehearsal_known(picture).map_or("", Rehearsed::word), Role::ReplayBackground);
    let room = Rect { width: end, ..area };
    let column = pen.put(room, 0, u16::from(area.width >= 60), &sentence.what, role) + 2;
    let fits = |text: &&String| column + pen.width(text) <= room.width;
    if let Some(more) = sentence.more.iter().find(fits) {
        pen.put(room, 0, column, more, role);
    }
}

/// Whether an alert is about another than the headline.
fn is_other(screen: &Screen, picture: &Picture, alert: &Alert) -> bool {
    match subject(picture, screen.selected) {
        Subject::Casualty(beacon) | Subject::Test(beacon) => alert.casualty() != Some(beacon.id),
        Subject::Quiet => false,
    }
}

/// The background of a headline that flashes, while it is not lit.
fn dark(role: Role) -> Role {
    match role {
        Role::AlarmBackground => Role::Alarm,
        Role::TestBackground => Role::Test,
        _ => Role::Warning,
    }
}

/// How far the alert in view has been dealt with; or that another one has not, which the headline
/// is not about.
fn state(screen: &Screen, picture: &Picture, waiting: Option<&Alert>, width: u16) -> &'static str {
    let narrow = width < 80;
    let Some(alert) = waiting else {
        let own = picture.alerts.iter().filter(|alert| !is_other(screen, picture, alert));
        return match own.map(|alert| alert.priority).max() {
            Some(priority) if priority > Priority::Caution && narrow => "ACKN.",
            Some(priority) if priority > Priority::Caution => "acknowledged",
            _ => "",
        };
    };
    let other = is_other(screen, picture, alert);
    match alert.state {
        // What is over is nothing new, whatever it was.
        State::RectifiedUnacknowledged if other && narrow => "OTHER ENDED",
        State::RectifiedUnacknowledged if other => "OTHER ENDED, UNACKN.",
        _ if other => match alert.priority {
            Priority::EmergencyAlarm if narrow => "NEW EMERG.",
            Priority::EmergencyAlarm => "NEW EMERGENCY",
            Priority::Alarm => "NEW ALARM",
            Priority::Warning | Priority::Caution => "NEW WARNING",
        },
        State::ActiveSilenced => "SILENCED",
        // Of a casualty that was silent and is in danger still.
        State::RectifiedUnacknowledged
            if alert.cause == Cause::BeaconSilent
                && matches!(subject(picture, screen.selected), Subject::Casualty(_)) =>
        {
            match width {
                ..80 => "SIGNAL BACK",
                80..100 => "SIGNAL BACK: a",
                _ => "SIGNAL BACK: press a",
            }
        }
        State::RectifiedUnacknowledged => match width {
            ..80 => "ENDED",
            80..100 => "ENDED, UNACKN.",
            _ => "ENDED, UNACKNOWLEDGED",
        },
        _ if narrow => "UNACKN.",
        _ => "UNACKNOWLEDGED",
    }
}
