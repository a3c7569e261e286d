//! Nothing wrong: that the watch is alive and hears. Worth looking at for eight hours. And what is
//! wrong with the watch itself, or with others.

use ratatui::layout::{Constraint, Layout, Rect};

use super::super::digits::Dot;
use super::super::pen::{Pen, wrap};
use super::super::theme::Role;
use super::super::{Screen, words};
use super::{below, outputs, plot, right_of};
use crate::advice::{
    Needs, all_declared_safe, deafness, ended, is_unacknowledged, reach_in_short, reach_now,
};
use crate::frontend::KeptInputs;
use crate::navigation::Grade;
use crate::text::counted;
use crate::watch::{Cause, ContactView, InputState, InputView, NotKnown, Picture, Priority};

/// Rows that a sentence about reach may take: on 60 columns it needs three. Our own.
const SENTENCE: usize = 3;

pub(super) fn draw(screen: &Screen, pen: &mut Pen<'_>, body: Rect, picture: &Picture) {
    let plot_width = if body.width >= 100 { body.width / 2 } else { (body.width * 2 / 5).min(34) };
    let [left, right] =
        Layout::horizontal([Constraint::Min(30), Constraint::Length(plot_width)]).areas(body);
    plot::draw(screen, pen, right, picture, None);
    let rows = notice(screen, pen, below(left, 1), picture);
    let gap = if rows > 0 { rows + 2 } else { 1 };
    inputs(screen, pen, below(left, gap), picture);
}

/// The quiet watch below something else, with the plot where there is room.
pub(super) fn draw_watch(screen: &Screen, pen: &mut Pen<'_>, area: Rect, picture: &Picture) {
    if area.height >= 12 && area.width >= 60 {
        draw(screen, pen, area, picture);
    } else {
        inputs(screen, pen, area, picture);
    }
}

/// What is wrong, in full. How many rows it takes.
fn notice(screen: &Screen, pen: &mut Pen<'_>, area: Rect, picture: &Picture) -> u16 {
    let deaf = deafness(picture).is_some();
    let alert = screen.alert_in_view(picture);
    let waits = alert.is_some_and(is_unacknowledged);
    let mut row = 0;
    let mut lines = Vec::new();
    if deaf {
        let fits = |dot: &Dot| dot.tall == 1 && dot.columns("NO AIS") + 3 <= area.width;
        let dot = Dot::SIZES.into_iter().find(fits).unwrap_or(Dot::SMALL);
        pen.large(right_of(area, 2), "NO AIS", dot, Role::Alarm);
        row = dot.rows() + 1;
        lines.push(("A beacon would not be noticed.".to_owned(), Role::Alarm));
        lines.push(("Check receiver, antenna, cable.".to_owned(), Role::Text));
        for input in &picture.inputs {
            let told = input.garbled.iter().flat_map(|what| {
                wrap(&format!("{}: {what}", input.name), area.width.saturating_sub(3))
            });
            lines.extend(told.map(|line| (line, Role::Warning)));
        }
    } else if let Some(alert) = alert.filter(|alert| waits || alert.priority >= Priority::Alarm) {
        let text = if alert.is_active() { alert.text.clone() } else { ended(picture, alert) };
        let alarm = alert.is_active() && alert.priority >= Priority::Alarm;
        let role = if alarm { Role::Alarm } else { Role::Warning };
        let wrapped = wrap(&text, area.width.saturating_sub(3));
        lines.extend(wrapped.into_iter().take(4).map(|line| (line, role)));
        if matches!(alert.cause, Cause::DscDistress | Cause::DscRelay) {
            lines.push(("Listen on channel 16.".to_owned(), Role::Text));
        }
    }
    for declared in all_declared_safe(picture) {
        let wrapped = wrap(&declared, area.width.saturating_sub(3));
        lines.extend(wrapped.into_iter().map(|line| (line, Role::Warning)));
    }
    if waits {
        lines.push(("acknowledge: a".to_owned(), Role::Digits));
    }
    for (line, role) in lines {
        pen.put(area, row, 2, &line, role);
        row += 1;
    }
    row
}

/// The inputs, the own ship and the other stations, one a line.
fn inputs(screen: &Screen, pen: &mut Pen<'_>, area: Rect, picture: &Picture) {
    let mut row = 0;
    // A recording is no input of its own until a line without a source comes in.
    let shown = |input: &&InputView| screen.replay.is_none() || input.heard.is_some();
    let mut inputs: Vec<&InputView> = picture.inputs.iter().filter(shown).collect();
    // Where not all fit, what is not well is seen first.
    inputs.sort_by_key(|input| input.state == Some(InputState::Live));
    let most = usize::from(area.height.saturating_sub(5)).max(2);
    let most = if inputs.len() > most { most - 1 } else { most };
    for input in inputs.iter().take(most) {
        let sound = input.state == Some(InputState::Live);
        let role = if sound { Role::Good } else { Role::Warning };
        let column = pen.put(area, row, 2, &format!("{:<7}", state_word(input.state)), role);
        // What gave AIS is as old as its AIS, whatever else comes by it.
        let heard = match (&input.garbled, input.ais.or(input.heard)) {
            (Some(_), _) => "no sentence".to_owned(),
            (None, Some(age)) => format!("{} ago", words::short_age(age)),
            (None, None) => "never heard".to_owned(),
        };
        pen.put(area, row, column + 1, &format!("{heard:<11} {}", input.name), Role::Text);
        row += 1;
    }
    if inputs.len() > most {
        let more = format!("and {}", counted(inputs.len() - most, "more input"));
        pen.put(area, row, 2, &more, Role::Dim);
        row += 1;
    }
    let gap = u16::from(area.height >= row + 8);
    row += gap;
    for line in own_lines(picture) {
        pen.put(area, row, 2, &line, Role::Text);
        row += 1;
    }
    let parts = part_lines(screen, picture);
    let mut room = area.height.saturating_sub(row + parts.len() as u16);
    let needs = needs_lines(screen, picture, area.width);
    // Which needs are met, and what the others cost, keep their rows.
    let reach = reach_lines(picture, area.width, room.saturating_sub(needs.len() as u16));
    for line in reach {
        pen.put(area, row, 2, &line, reach_role(picture));
        row += 1;
        room -= 1;
    }
    for (line, role) in needs.into_iter().take(room.into()) {
        pen.put(area, row, 2, &line, role);
        row += 1;
    }
    for line in parts {
        pen.put(area, row, 2, &line, Role::Dim);
        row += 1;
    }
    stations(pen, below(area, row + gap), picture);
}

/// How far a beacon would be heard now, or why that is not known: as a sentence where there is room for
/// one, else in short. A watch that hears nothing now says that, and no range from before.
fn reach_lines(picture: &Picture, width: u16, room: u16) -> Vec<String> {
    let now = &picture.reach;
    if now.why_not == Some(NotKnown::NoAis) || deafness(picture).is_some() {
        return Vec::new();
    }
    let width = width.saturating_sub(3);
    // The words say it too, for whoever does not see the colour.
    let (usual, more) = if picture.reach_reduced { (", less than usual", 1) } else { ("", 0) };
    let (long, short) = (reach_now(now) + usual, reach_in_short(now) + usual);
    let fitting = [(long, SENTENCE + more), (short, 1 + more)].into_iter();
    let mut fitting = fitting.map(|(said, rows)| (wrap(&said, width), rows.min(room.into())));
    fitting.find(|(lines, rows)| lines.len() <= *rows).map(|(lines, _)| lines).unwrap_or_default()
}

/// Less than usual is a warning; what is not known is no number to go by.
fn reach_role(picture: &Picture) -> Role {
    match picture.reach.why_not {
        _ if picture.reach_reduced => Role::Warning,
        Some(_) => Role::Stale,
        None => Role::Text,
    }
}

/// Which needs of a watch are met, and what the others cost; in a replay nobody can mend it.
fn needs_lines(screen: &Screen, picture: &Picture, width: u16) -> Vec<(String, Role)> {
    if screen.parts.is_none() {
        return Vec::new();
    }
    let needs = Needs::of(&picture.inputs, &picture.own);
    let role = if needs.are_met() { Role::Good } else { Role::Warning };
    let lacking = needs.lacking.iter().flat_map(|(_, cost)| wrap(cost, width.saturating_sub(3)));
    std::iter::once(needs.counted()).chain(lacking).map(|line| (line, role)).collect()
}

/// By which way an alarm would sound, what is written down, and what the clocks say.
fn part_lines(screen: &Screen, picture: &Picture) -> Vec<String> {
    let Some(parts) = &screen.parts else { return Vec::new() };
    let found = parts.found.as_ref().map(|(said, kept)| match kept {
        KeptInputs::Written(file) => format!("inputs   kept in {file}"),
        KeptInputs::Waits => "inputs   looking at the configuration file".to_owned(),
        _ => format!("inputs   {said}"),
    });
    let lines = [
        format!("sound    {}", parts.sound),
        format!("logbook  {}", parts.logbook),
        format!("records  {}", parts.recording),
        format!("clock    {}", picture.clock.words()),
    ];
    lines.into_iter().chain(found).chain(outputs::in_short(&parts.outputs)).collect()
}

fn stations(pen: &mut Pen<'_>, area: Rect, picture: &Picture) {
    let stations = match picture.stations {
        0 => "no other station heard".to_owned(),
        count => format!("{} heard", counted(count, "other station")),
    };
    pen.put(area, 0, 2, &stations, Role::Dim);
    for (row, ship) in (1..).zip(picture.nearest.iter().take(8)) {
        let name = ship_name(ship);
        let line = format!("{name:<12} {:>8} {}", ship.range.to_string(), ship.bearing);
        pen.put(area, row, 3, &line, Role::Dim);
    }
}

/// What a ship is called: her name, else her identity.
pub(super) fn ship_name(ship: &ContactView) -> String {
    ship.contact.name.clone().unwrap_or_else(|| ship.contact.mmsi.to_string())
}

/// Where the ship is and how she moves, in two lines.
pub(super) fn own_lines(picture: &Picture) -> [String; 2] {
    let own = &picture.own;
    let place = match (own.position, own.age) {
        (Some(position), Some(age)) => {
            let by = match own.grade {
                Some(Grade::Transponder) => " AIS",
                Some(Grade::Estimated) => " est.",
                _ => "",
            };
            format!("own {position} {}{by}", words::short_age(age))
        }
        _ => "own position not known".to_owned(),
    };
    let speed = own.sog.map_or("speed not known".to_owned(), |sog| sog.to_string());
    let course = own.cog.map_or(String::new(), |cog| format!(" COG {cog}"));
    let heading = own.heading.map_or(String::new(), |heading| format!(" heading {heading}"));
    [place, format!("{speed}{course}{heading}")]
}

/// The state of an input in a word.
pub(super) fn state_word(state: Option<InputState>) -> &'static str {
    state.map_or("waiting", InputState::name)
}
