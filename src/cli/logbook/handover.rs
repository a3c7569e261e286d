//! `overside logbook handover`: the watch on a page, for the relief.

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;

use serde_json::{Value, json};

use super::super::moment::{host_time, moment};
use super::list::{local_time, row};
use super::{Common, Error, ExitCode, reader};
use crate::app::damaged;
use crate::logbook::{self, Details, Draft, Entry, Handover, WatchEvent};
use crate::text::{counted, json_line, printable};
use crate::time::Utc;
use crate::zone::Zone;

/// A handover.
#[derive(Debug, clap::Args)]
pub struct HandoverArgs {
    /// Who hands over
    #[arg(long, value_name = "WHO")]
    pub from: Option<String>,
    /// Who takes over
    #[arg(long, value_name = "WHO")]
    pub to: Option<String>,
    /// Sum up from this time on, or from so long ago, such as 4h, and not from the last handover
    #[arg(long, value_name = "T", value_parser = moment)]
    pub since: Option<Utc>,
    /// Write into the logbook that the watch was handed over
    #[arg(long)]
    pub write: bool,
}

/// What to ask before the watch is taken over: STCW A-VIII/2 part 4-1, paragraphs 19 to 22, for a
/// small boat; the form is our own.
const QUESTIONS: [&str; 7] = [
    "Is the relief fit, and used to the dark? No handover during a manoeuvre.",
    "Position, course, speed, intended track; standing orders; dangers ahead; ships in sight.",
    "Wind, sea, tide and visibility, and what is to come.",
    "Who is on deck, clipped on, and wearing which beacon?",
    "Is the receiver alive, and which beacon or test was heard last?",
    "Which alarms are silenced, and why?",
    "Which VHF and DSC channel is watched; which beacons are still open?",
];

/// Prints the page.
pub(super) fn run(
    args: &HandoverArgs,
    folder: &Path,
    zone: Option<&Zone>,
    common: &Common,
) -> Result<ExitCode, Error> {
    let now = host_time();
    let page = reader(folder)?.handover(args.since, now)?;
    let mut output = anstream::stdout().lock();
    let written = match common.json {
        true => json_line(&mut output, &as_json(args, &page)),
        false => output.write_all(as_page(args, &page, zone).as_bytes()),
    };
    written.map_err(|why| Error::unwritable("standard output", &why))?;
    if args.write {
        let entry = logbook::append(folder, entry_of(args, &page, now))?;
        tracing::info!("entry {entry}");
    }
    Ok(ExitCode::Done)
}

fn entry_of(args: &HandoverArgs, page: &Handover, now: Utc) -> Draft {
    let mut text = "watch handed over".to_owned();
    for (word, who) in [("from", &args.from), ("to", &args.to)] {
        if let Some(who) = who {
            let _ = write!(text, " {word} {who}");
        }
    }
    let open: Vec<_> = page.open.iter().filter_map(|it| Some(it.draft.alert()?.alert)).collect();
    let told = json!({ "from": args.from, "to": args.to, "open": open });
    let details = Details::Watch { event: Some(WatchEvent::HandedOver), told };
    Draft { operator: args.from.clone(), ..Draft::outside(details, text, now) }
}

fn as_page(args: &HandoverArgs, page: &Handover, zone: Option<&Zone>) -> String {
    let mut text = String::new();
    let who = |who: &Option<String>| printable(who.as_deref().unwrap_or("…")).into_owned();
    let _ = writeln!(text, "HANDOVER from {} to {}", who(&args.from), who(&args.to));
    let minutes = page.until.ms_since(page.from).max(0) / 60_000;
    let (from, until) = (local_time(page.from, zone), local_time(page.until, zone));
    let _ = writeln!(text, "{from} to {until}, {} h {:02} min", minutes / 60, minutes % 60);
    for (when, own) in [("when it began", page.first_own), ("now", page.last_own)] {
        let place =
            own.map_or("not known".to_owned(), |(at, own)| format!("{own} at {}", at.clock()));
        let _ = writeln!(text, "Position {when}: {place}");
    }
    if !page.damaged.is_empty() {
        let damaged = damaged(&page.damaged);
        let _ = writeln!(text, "\nLOGBOOK DAMAGED, parts may be missing here: {damaged}");
    }
    let since = |entry: &Entry| {
        let raised = page.raised.get(&entry.entry).filter(|it| **it != entry.draft.at());
        let before = raised.is_some_and(|it| *it < page.from);
        let before = if before { ", before this watch" } else { "" };
        let raised = raised.map(|it| format!(" (raised {}{before})", local_time(*it, zone)));
        row(entry, zone) + &raised.unwrap_or_default()
    };
    part(&mut text, "Alerts open", page.open.iter().map(since));
    part(&mut text, "Alerts ended", page.resolved.iter().map(since));
    let tests = page.tests.iter().map(|test| {
        let whose = test.person.as_deref().map(|it| format!(" ({it})")).unwrap_or_default();
        format!(
            "{}{whose}, {} from {}",
            test.mmsi,
            counted(test.reports, "report"),
            local_time(test.first, zone)
        )
    });
    part(&mut text, "Tests heard", tests);
    let outages = page.outages.iter().map(|it| {
        let (minutes, seconds) = (it.seconds / 60, it.seconds % 60);
        let end = if it.over { "" } else { " and still" };
        format!(
            "{} for {minutes} min {seconds} s{end}, from {}",
            it.input,
            local_time(it.since, zone)
        )
    });
    part(&mut text, "Inputs that failed", outages);
    part(&mut text, "Hearing", hearing(page, zone).into_iter());
    part(&mut text, "Notes", page.notes.iter().map(|entry| row(entry, zone)));
    part(&mut text, "Ask", QUESTIONS.iter().map(|question| format!("[ ] {question}")));
    text
}

/// How far a beacon would be heard: as it was last written down, and the least.
fn hearing(page: &Handover, zone: Option<&Zone>) -> Vec<String> {
    let said =
        |entry: &Entry| format!("{}, {}", entry.draft.text, local_time(entry.draft.at(), zone));
    let least = page
        .least_reach
        .as_ref()
        .filter(|least| page.reach.as_ref().is_some_and(|last| last.entry != least.entry));
    let least = least.map(|entry| format!("least: {}", said(entry)));
    let last = page.reach.as_ref().map(said);
    let last = last.unwrap_or_else(|| "reach of a beacon not known".to_owned());
    std::iter::once(last).chain(least).collect()
}

fn part(text: &mut String, title: &str, lines: impl Iterator<Item = String>) {
    let _ = writeln!(text, "\n{title}");
    let mut any = false;
    for line in lines {
        any = true;
        let _ = writeln!(text, "  {}", printable(&line));
    }
    if !any {
        text.push_str("  none\n");
    }
}

fn as_json(args: &HandoverArgs, page: &Handover) -> Value {
    let numbers = |entries: &[Entry]| entries.iter().map(|it| it.entry).collect::<Vec<_>>();
    let tests = page.tests.iter().map(|it| {
        json!({ "mmsi": it.mmsi, "person": it.person, "first": it.first, "reports": it.reports })
    });
    let outages = page.outages.iter().map(
        |it| json!({ "input": it.input, "since": it.since, "seconds": it.seconds, "over": it.over }),
    );
    let place = |own: Option<(Utc, _)>| own.map(|(_, place)| place);
    json!({
        "from": args.from,
        "to": args.to,
        "begin": page.from,
        "end": page.until,
        "alerts_open": numbers(&page.open),
        "alerts_ended": numbers(&page.resolved),
        "tests": tests.collect::<Vec<_>>(),
        "inputs_failed": outages.collect::<Vec<_>>(),
        "reach": page.reach.as_ref().map(|it| it.entry),
        "least_reach": page.least_reach.as_ref().map(|it| it.entry),
        "notes": numbers(&page.notes),
        "own_begin": place(page.first_own),
        "own_end": place(page.last_own),
        "damaged": page.damaged,
    })
}
