//! What is said to other equipment: each output, where it goes, and what it could not carry.

use ratatui::layout::Rect;

use super::super::Screen;
use super::super::pen::Pen;
use super::super::theme::Role;
use super::below;
use crate::frontend::{OutputView, OutputsView};
use crate::text::counted;

/// The outputs in a line of the quiet watch; nothing where there are none.
pub(super) fn in_short(outputs: &OutputsView) -> Option<String> {
    let (all, failing) = (outputs.each.len(), failing(outputs));
    match (all, failing) {
        (0, _) => None,
        (_, 0) => Some(format!("outputs  {all} on")),
        _ => Some(format!("outputs  {failing} of {all} with a fault")),
    }
}

fn failing(outputs: &OutputsView) -> usize {
    outputs.each.iter().filter(|it| it.fault.is_some()).count()
}

pub(super) fn draw(screen: &Screen, pen: &mut Pen<'_>, area: Rect) {
    pen.put(area, 0, 2, "What other equipment and programs are told", Role::Digits);
    let list = below(area, 1);
    let (rows, room) = (rows(screen), usize::from(list.height));
    let first = screen.line.min(rows.len().saturating_sub(room));
    for (row, (text, role)) in (0..).zip(rows.iter().skip(first).take(room)) {
        pen.put(list, row, 2, text, *role);
    }
    if rows.len() > first + room {
        pen.put_right(list, list.height.saturating_sub(1), " more: down ", Role::Warning);
    }
}

/// The page, row by row.
pub(in super::super) fn rows(screen: &Screen) -> Vec<(String, Role)> {
    let Some(outputs) = screen.parts.as_ref().map(|parts| &parts.outputs) else {
        return Vec::new();
    };
    if outputs.each.is_empty() {
        let none = "nothing: the configuration has no [[output]]".to_owned();
        return vec![(none, Role::Text)];
    }
    let OutputsView { each, withheld, returned } = outputs;
    let counts = [
        format!("not passed on: {withheld} might make a radio transmit"),
        format!("               {returned} had been passed on before"),
    ];
    // What is wrong comes first.
    let mut sorted: Vec<&OutputView> = each.iter().collect();
    sorted.sort_by_key(|it| it.fault.is_none());
    let counts = counts.into_iter().map(|text| (text, Role::Dim));
    sorted.into_iter().flat_map(rows_of).chain(counts).collect()
}

fn rows_of(output: &OutputView) -> Vec<(String, Role)> {
    let OutputView { name, uri, what, fault, since, sent, dropped, connected } = output;
    let (word, role) = if fault.is_some() { ("fault", Role::Warning) } else { ("on", Role::Good) };
    let connected = match connected {
        None => String::new(),
        Some(count) => format!("; {} connected", counted(*count, "display")),
    };
    let since = since.clock();
    let mut rows = vec![(format!("{word:<6} {name}, since {since}"), role)];
    rows.extend(fault.iter().map(|why| (format!("       {why}"), Role::Warning)));
    rows.push((format!("       {uri}{connected}"), Role::Text));
    let role = if *dropped > 0 { Role::Warning } else { Role::Text };
    rows.push((format!("       {what}: {sent} sent, {dropped} dropped"), role));
    rows.push((String::new(), Role::Text));
    rows
}
