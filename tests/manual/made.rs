//! The parts of the manual's reference that are made from the program: its commands and its keys.

use std::fmt::Write as _;

use clap::builder::StyledStr;
use clap::{Arg, ArgAction, Command, CommandFactory as _};
use overside::cli::Args;
use overside::screen::{KEYS, When};

/// The program's commands as it builds them.
pub fn root() -> Command {
    let mut root = Args::command();
    root.build();
    root
}

/// Every command with its options, as Markdown.
pub fn commands() -> String {
    let root = root();
    let mut page = String::from("Options of every command, before or after its name:\n\n");
    options(&mut page, root.get_arguments());
    walk(&mut page, &root, "overside");
    page
}

fn walk(page: &mut String, command: &Command, path: &str) {
    for sub in command.get_subcommands().filter(|sub| !sub.is_hide_set()) {
        let path = format!("{path} {}", sub.get_name());
        let about = sub.get_long_about().or(sub.get_about()).map(said).unwrap_or_default();
        let _ = write!(page, "\n### {path}\n\n{about}.\n\n");
        let usage = sub.clone().render_usage().to_string();
        let _ = write!(page, "```text\n{}\n```\n", usage.trim_start_matches("Usage: ").trim());
        let own = sub.get_arguments().filter(|arg| !arg.is_global_set());
        let own: Vec<&Arg> =
            own.filter(|arg| !arg.is_hide_set() && arg.get_id() != "help").collect();
        if !own.is_empty() {
            page.push('\n');
            options(page, own.into_iter());
        }
        walk(page, sub, &path);
    }
}

fn options<'a>(page: &mut String, arguments: impl Iterator<Item = &'a Arg>) {
    page.push_str("| option | what it does |\n|---|---|\n");
    for arg in arguments {
        let _ = writeln!(page, "| `{}` | {} |", name(arg), explained(arg));
    }
}

/// `--since T`, `-v, --verbose`, `FILE…`.
fn name(arg: &Arg) -> String {
    let takes = matches!(arg.get_action(), ArgAction::Set | ArgAction::Append);
    let values = arg.get_value_names().filter(|_| takes).unwrap_or_default().join(" ");
    let several = arg.get_num_args().is_some_and(|range| range.max_values() > 1);
    let parts = [
        arg.get_short().map(|short| format!("-{short}")),
        arg.get_long().map(|long| format!("--{long}")),
    ];
    let mut name = parts.into_iter().flatten().collect::<Vec<_>>().join(", ");
    if !values.is_empty() {
        let gap = if name.is_empty() { "" } else { " " };
        let _ = write!(name, "{gap}{values}{}", if several { "…" } else { "" });
    }
    name.replace('|', "\\|")
}

fn explained(arg: &Arg) -> String {
    let mut text = arg.get_long_help().or(arg.get_help()).map(said).unwrap_or_default();
    let values: Vec<_> = match arg.get_action() {
        ArgAction::Set | ArgAction::Append if !arg.is_hide_possible_values_set() => {
            arg.get_possible_values().iter().map(|it| format!("`{}`", it.get_name())).collect()
        }
        _ => Vec::new(),
    };
    if !values.is_empty() {
        let _ = write!(text, ": {}", values.join(", "));
    }
    let defaults = arg.get_default_values().iter().map(|it| it.to_string_lossy());
    let defaults: Vec<_> = defaults.filter(|it| it != "false" && it != "0").collect();
    if !defaults.is_empty() {
        let _ = write!(text, "; {} if left out", defaults.join(", "));
    }
    text.replace('|', "\\|")
}

/// A text of the help on one line.
fn said(text: &StyledStr) -> String {
    let text = text.to_string();
    let parts =
        text.split("\n\n").map(|part| part.split_whitespace().collect::<Vec<_>>().join(" "));
    parts.map(|part| part.trim_end_matches('.').to_owned()).collect::<Vec<_>>().join(". ")
}

/// The keys of the screen, as Markdown.
pub fn keys() -> String {
    let mut page = String::from("| key | what it does | when |\n|---|---|---|\n");
    for key in KEYS {
        let _ = writeln!(page, "| `{}` | {} | {} |", key.name, key.help, when(key.when));
    }
    page
}

const fn when(when: When) -> &'static str {
    match when {
        When::Always => "always",
        When::Unacknowledged => "an alert is not acknowledged",
        When::Open => "a warning or an alarm about people is open",
        When::Several => "two casualties or more",
        When::Unlisted => "a TEST of a beacon that is on no list, in a live watch",
        When::Danger => "somebody is in danger",
        When::Joined => "a beacon is taken for a point set by hand, in a live watch",
        When::Testing => "a self-test is in view",
        When::Watching => "a live watch",
        When::Searching => "a search is planned, in a live watch",
        When::Found => "a live watch that has found its inputs by itself",
        When::Outputs => "a live watch that says something to other equipment",
        When::Live => "a live watch that is quiet",
        When::Replay => "a replay",
        When::History => "the history",
        When::Lines => "a page with more lines than fit",
        When::Saying => "the page of what to say",
        When::Page => "a page or a form",
    }
}
