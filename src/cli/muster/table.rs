//! The muster as a table of 80 columns, two lines a person, and what is to be done in sentences.

use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use chrono::NaiveDate;

use super::super::event_printer::wrapped;
use crate::config::Vessel;
use crate::muster::{Finding, Kit, Muster, Spare, Status};
use crate::text::{counted, printable};

const NAME: usize = 16;
const JACKET: usize = 14;
/// The day of a test and how it was received.
const TEST: usize = 49;

/// Writes it all.
pub(super) fn of(muster: &Muster, vessel: &Vessel) -> String {
    let mut page = String::new();
    let ship = vessel.name.as_deref().map_or(String::new(), |name| format!(", {}", shown(name)));
    let Muster { as_of, ready, of, .. } = muster;
    line(&mut page, &format!("Muster of {as_of}{ship}: {ready} of {of} ready"));
    page.push('\n');
    row(&mut page, ["PERSON", "BEACON", "LIFEJACKET", "BATTERY", "SERVICE", "CYLINDER"]);
    second(&mut page, "STATUS", Status::Ready, "LAST PROVEN TEST AND ITS RECEPTION", "NEXT TEST");
    for person in &muster.persons {
        kit(&mut page, &person.name, &person.kit);
    }
    if !muster.spares.is_empty() {
        line(&mut page, "\nSpare, in no count:");
    }
    for spare in &muster.spares {
        kit(&mut page, &spare_name(spare), &spare.kit);
    }
    findings(&mut page, muster);
    notes(&mut page, muster, vessel);
    page
}

fn spare_name(spare: &Spare) -> String {
    spare.holder.as_ref().map_or("-".to_owned(), |holder| format!("{holder}, second"))
}

fn kit(page: &mut String, name: &str, kit: &Kit) {
    let beacon = kit.beacon.map_or("-".to_owned(), |mmsi| mmsi.to_string());
    let jacket = kit.lifejacket.as_deref().unwrap_or("-");
    let dates = [kit.battery_expires, kit.service_due, kit.cylinder_due].map(date);
    row(page, [name, &beacon, jacket, &dates[0], &dates[1], &dates[2]]);
    let (last, next) = match (&kit.last_test, kit.beacon) {
        (Some(test), _) => {
            let next = date(kit.next_test);
            (format!("{}  {}", test.at.date(), test.summary), next)
        }
        (None, Some(_)) => ("never".to_owned(), "now".to_owned()),
        (None, None) => ("-".to_owned(), "-".to_owned()),
    };
    second(page, &kit.status.to_string(), kit.status, &last, &next);
}

fn date(day: Option<NaiveDate>) -> String {
    day.map_or("-".to_owned(), |day| day.to_string())
}

fn row(page: &mut String, [name, beacon, jacket, battery, service, cylinder]: [&str; 6]) {
    let (name, jacket) = (cut(name, NAME), cut(jacket, JACKET));
    line(
        page,
        &format!(
            "{name:<NAME$}  {beacon:<9}  {jacket:<JACKET$}  {battery:<10}  {service:<10}  {cylinder}"
        ),
    );
}

fn second(page: &mut String, status: &str, how: Status, last: &str, next: &str) {
    let style = style(how);
    let last = cut(last, TEST);
    let _ = write!(page, "  {style}{status}{style:#}{:1$}", "", NAME.saturating_sub(status.len()));
    line(page, &format!("{last:<TEST$}  {next}"));
}

/// Red for what has passed or is missing, yellow for what is near (as alarms and warnings,
/// MSC.191(79) 5.7.1); the word says it all without.
fn style(status: Status) -> Style {
    match status {
        Status::Ready => Style::new(),
        Status::Due => AnsiColor::Yellow.on_default(),
        Status::Overdue | Status::Unprotected => AnsiColor::Red.on_default().bold(),
    }
}

fn findings(page: &mut String, muster: &Muster) {
    let persons = muster.persons.iter().map(|it| (it.name.clone(), &it.kit));
    let spares = muster.spares.iter().map(|it| {
        let whose = it.holder.as_ref().map_or(String::new(), |name| format!(" of {name}"));
        (format!("Spare{whose}"), &it.kit)
    });
    for (name, kit) in persons.chain(spares).filter(|(_, kit)| !kit.findings.is_empty()) {
        line(page, &format!("\n{}", shown(&name)));
        for Finding { status, text } in &kit.findings {
            let style = style(*status);
            let wrapped = wrapped(&shown(text), "  ");
            // The word before the colon says what it is about.
            match wrapped.trim_start().split_once(':') {
                Some((about, rest)) => {
                    let _ = write!(page, "  {style}{about}{style:#}:{rest}");
                }
                None => page.push_str(&wrapped),
            }
        }
    }
}

fn notes(page: &mut String, muster: &Muster, vessel: &Vessel) {
    page.push('\n');
    if let Some(aboard) = vessel.persons_aboard.filter(|&it| it as usize > muster.of) {
        let named = muster.of;
        page.push_str(&wrapped(
            &format!(
                "{} aboard (vessel.persons_aboard), {named} named here: \
                 enter the others, guests too, as [[person]].",
                counted(aboard, "person")
            ),
            "",
        ));
    }
    page.push_str(&wrapped(
        "The makers' instructions come first, and every test costs battery: test no more often \
         than they allow. Six months between tests are common practice, no source; \
         test_every_months sets it.",
        "",
    ));
}

/// A text of a file or the air, inert on a terminal.
fn shown(text: &str) -> String {
    printable(text).into_owned()
}

/// A text that takes so many columns at most, inert.
fn cut(text: &str, columns: usize) -> String {
    let text = shown(text);
    if text.chars().count() <= columns {
        return text;
    }
    text.chars().take(columns.saturating_sub(1)).chain(['…']).collect()
}

/// Adds a line without blanks at its end.
fn line(page: &mut String, text: &str) {
    page.push_str(text.trim_end());
    page.push('\n');
}
