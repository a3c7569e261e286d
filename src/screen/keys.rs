//! What keys do. The table here is what the key line and the help screen print.

use crossterm::event::{Event, KeyCode, KeyModifiers};

use super::action::Action;

/// When a key makes sense.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// Always.
    Always,
    /// While an alert is not acknowledged.
    Unacknowledged,
    /// While a warning or an alarm about people is open.
    Open,
    /// With two casualties or more.
    Several,
    /// With a test of a beacon that is on no list, in a live watch.
    Unlisted,
    /// With somebody in danger.
    Danger,
    /// With a beacon that is taken for a point set by hand, in a live watch.
    Joined,
    /// While a self-test is in view that nobody has had judged.
    Testing,
    /// In a live watch.
    Watching,
    /// While a search is planned, in a live watch.
    Searching,
    /// In a live watch that has found its inputs by itself, and they are not kept yet.
    Found,
    /// In a live watch that says something to other equipment.
    Outputs,
    /// In a live watch that is quiet.
    Live,
    /// In a replay.
    Replay,
    /// In the history.
    History,
    /// On a page that may have more lines than fit.
    Lines,
    /// On the page of what to say.
    Saying,
    /// On a page that can be left.
    Page,
}

/// A key, what it does, and how that is said in two words.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// The key.
    pub code: KeyCode,
    /// How it is printed.
    pub name: &'static str,
    /// What it does.
    pub action: Action,
    /// The same in a word or two.
    pub label: &'static str,
    /// When it makes sense.
    pub when: When,
    /// The same in a sentence, for the help.
    pub help: &'static str,
}

const fn key(
    code: KeyCode,
    name: &'static str,
    action: Action,
    label: &'static str,
    when: When,
    help: &'static str,
) -> Key {
    Key { code, name, action, label, when, help }
}

/// Every key there is. No key can lose an alert.
pub const KEYS: &[Key] = {
    use Action as A;
    use KeyCode::Char;
    use When as W;
    &[
        key(
            Char('a'),
            "a",
            A::Acknowledge,
            "acknowledge",
            W::Unacknowledged,
            "acknowledge the alert in view; it stays until it ends",
        ),
        key(
            Char('s'),
            "s",
            A::Silence,
            "silence 30 s",
            W::Unacknowledged,
            "stop the sound of the alert in view; it comes back after 30 s",
        ),
        key(
            Char('m'),
            "m",
            A::Voice,
            "what to say",
            W::Danger,
            "MAYDAY, relay or cancellation to be read aloud, and what the crew does",
        ),
        key(
            Char('o'),
            "o",
            A::Resolve,
            "over",
            W::Open,
            "say that the incident in view is over and everybody is safe; asks",
        ),
        key(
            Char('v'),
            "v",
            A::WriteTest,
            "write down this test",
            W::Testing,
            "judge the self-test in view, as `overside prove` does, and write it down",
        ),
        key(
            Char('p'),
            "p",
            A::MarkOverboard,
            "overboard",
            W::Watching,
            "person overboard now, here: marks time and place, with or without a beacon",
        ),
        key(
            Char('d'),
            "d",
            A::Part,
            "two people",
            W::Joined,
            "part a beacon from the point it is taken for: two people; asks",
        ),
        key(
            Char('e'),
            "e",
            A::Enrol,
            "enter in muster",
            W::Unlisted,
            "enter a beacon that is on no list, heard as TEST, in the muster; asks",
        ),
        key(
            Char('w'),
            "w",
            A::Who,
            "who helps",
            W::Danger,
            "ships and aircraft that could help, the first to be there first",
        ),
        key(
            Char('x'),
            "x",
            A::Export,
            "write route",
            W::Searching,
            "write the legs of the search as a GPX route, into the folder of the logbook",
        ),
        key(
            Char('g'),
            "g",
            A::Seas,
            "seas",
            W::Searching,
            "say how high the seas are: a search is planned by them",
        ),
        key(
            Char('r'),
            "r",
            A::Renew,
            "renew",
            W::Saying,
            "on the page of what to say: fill it in anew",
        ),
        key(
            KeyCode::Tab,
            "tab",
            A::NextCasualty,
            "next casualty",
            W::Several,
            "look at the next casualty; on the page of what to say, the next text",
        ),
        key(Char(' '), "space", A::Pause, "hold", W::Replay, "hold the replay, or go on"),
        key(Char('+'), "+", A::Faster, "faster", W::Replay, "replay faster: ×1, ×10, ×60"),
        key(Char('-'), "-", A::Slower, "slower", W::Replay, "replay slower"),
        key(
            KeyCode::Right,
            "right",
            A::NextEvent,
            "next event",
            W::Replay,
            "go on to the next event",
        ),
        key(
            KeyCode::Left,
            "left",
            A::PreviousEvent,
            "event before",
            W::Replay,
            "go back to the event before",
        ),
        key(KeyCode::Up, "up", A::Up, "newer", W::Lines, "towards the newest entry"),
        key(KeyCode::Down, "down", A::Down, "older", W::Lines, "towards the oldest entry"),
        key(
            KeyCode::Enter,
            "enter",
            A::Details,
            "details",
            W::History,
            "all there is about the entry, with its sentence",
        ),
        key(
            Char('f'),
            "f",
            A::Filter,
            "alarms only",
            W::History,
            "show alarms alone, or every alert",
        ),
        key(
            Char('t'),
            "t",
            A::SoundCheck,
            "test sound",
            W::Live,
            "sound the alarm once by every way there is; listen which you hear",
        ),
        key(
            Char('k'),
            "k",
            A::KeepInputs,
            "keep inputs",
            W::Found,
            "write the inputs that were found into the configuration; asks",
        ),
        key(
            Char('u'),
            "u",
            A::Outputs,
            "outputs",
            W::Outputs,
            "what other equipment is told: where, how much, what was dropped or held back",
        ),
        key(Char('h'), "h", A::History, "history", W::Always, "all alerts since the watch began"),
        key(Char('n'), "n", A::Colours, "colours", W::Always, "day, dusk, night"),
        key(
            Char('b'),
            "b",
            A::Orientation,
            "turn plot",
            W::Always,
            "plot north up, or head up (course up without a heading)",
        ),
        key(Char('?'), "?", A::Help, "help", W::Always, "this page"),
        key(
            Char('q'),
            "q",
            A::Quit,
            "end",
            W::Always,
            "end the watch; asks, and while somebody is in danger for a word; on a page, go back",
        ),
        key(KeyCode::Esc, "esc", A::Leave, "back", W::Page, "go back from a page or a form"),
        key(
            Char('l'),
            "l",
            A::PlaceShip,
            "own position",
            W::Watching,
            "enter own position by hand, for a boat without a position receiver",
        ),
        key(
            Char('j'),
            "j",
            A::Note,
            "note",
            W::Watching,
            "write a note into the logbook; a new alarm closes the form",
        ),
        key(
            Char('z'),
            "z",
            A::Mute,
            "mute",
            W::Watching,
            "mute the stranger in view, or its input, or hear all again; asks",
        ),
    ]
};

impl Action {
    /// What an event of the terminal asks for while something is being entered: every character
    /// counts, and none of them is a key of the table.
    pub fn typed(event: &Event) -> Option<Self> {
        let Event::Key(key) = event else { return Self::of(event) };
        let held = key.modifiers.intersects(KeyModifiers::CONTROL | KeyModifiers::ALT);
        match key.code {
            _ if !key.is_press() && !key.is_repeat() => None,
            KeyCode::Esc => Some(Self::Leave),
            KeyCode::Char('c') if key.modifiers.contains(KeyModifiers::CONTROL) => {
                Some(Self::Leave)
            }
            KeyCode::Char(c) if !held => Some(Self::Typed(c)),
            KeyCode::Backspace => Some(Self::Erase),
            KeyCode::Enter => Some(Self::Enter),
            _ => Some(Self::Other),
        }
    }

    /// What an event of the terminal asks for.
    pub fn of(event: &Event) -> Option<Self> {
        match event {
            Event::Key(key) if key.is_press() || key.is_repeat() => {
                if key.modifiers.contains(KeyModifiers::CONTROL) && key.code == KeyCode::Char('c') {
                    return Some(Self::End);
                }
                // What is meant for a multiplexer or the terminal acknowledges nothing.
                if key.modifiers.intersects(KeyModifiers::CONTROL | KeyModifiers::ALT) {
                    return Some(Self::Other);
                }
                let code = match key.code {
                    KeyCode::Char(c) => KeyCode::Char(c.to_ascii_lowercase()),
                    code => code,
                };
                if code == KeyCode::Char('y') {
                    return Some(Self::Confirm);
                }
                if let KeyCode::Char(c @ '1'..='9') = code {
                    return Some(Self::Choice(c as u8 - b'0'));
                }
                let known = KEYS.iter().find(|key| key.code == code);
                Some(known.map_or(Self::Other, |key| key.action))
            }
            Event::Resize(..) => Some(Self::Resized),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use crossterm::event::KeyEvent;

    use super::*;

    #[test]
    fn no_key_does_two_things() {
        for (place, key) in KEYS.iter().enumerate() {
            assert!(KEYS[..place].iter().all(|other| other.code != key.code), "{}", key.name);
        }
    }

    fn pressed(code: KeyCode, modifiers: KeyModifiers) -> Option<Action> {
        Action::of(&Event::Key(KeyEvent::new(code, modifiers)))
    }

    #[test]
    fn every_key_does_what_the_table_says() {
        for key in KEYS {
            assert_eq!(pressed(key.code, KeyModifiers::NONE), Some(key.action), "{}", key.name);
            if let KeyCode::Char(c) = key.code {
                let upper = KeyCode::Char(c.to_ascii_uppercase());
                assert_eq!(pressed(upper, KeyModifiers::SHIFT), Some(key.action), "{}", key.name);
            }
        }
        assert_eq!(pressed(KeyCode::Esc, KeyModifiers::NONE), Some(Action::Leave));
        assert_eq!(pressed(KeyCode::Char('Y'), KeyModifiers::SHIFT), Some(Action::Confirm));
    }

    #[test]
    fn what_is_meant_for_others_does_nothing() {
        let (control, alt) = (KeyModifiers::CONTROL, KeyModifiers::ALT);
        assert_eq!(pressed(KeyCode::Char('c'), control), Some(Action::End));
        assert_eq!(pressed(KeyCode::Char('c'), KeyModifiers::NONE), Some(Action::Other));
        for modifiers in [control, alt] {
            assert_eq!(pressed(KeyCode::Char('a'), modifiers), Some(Action::Other));
            assert_eq!(pressed(KeyCode::Char('y'), modifiers), Some(Action::Other));
        }
        let mut released = KeyEvent::new(KeyCode::Char('a'), KeyModifiers::NONE);
        released.kind = crossterm::event::KeyEventKind::Release;
        assert_eq!(Action::of(&Event::Key(released)), None);
    }

    #[test]
    fn a_resize_is_told() {
        assert_eq!(Action::of(&Event::Resize(60, 20)), Some(Action::Resized));
        assert_eq!(Action::of(&Event::FocusLost), None);
    }
}
