//! What several parts of the page are made of: ages that count on, a fact with its label, what waits.

use std::time::Duration;

use crate::advice::{Vessel, deafness, is_unacknowledged, minutes, short_age};
use crate::text::escaped;
use crate::watch::{Alert, Picture, Priority};

/// What is known besides the picture.
pub(super) struct Around<'a> {
    /// Whether it is a replay.
    pub replay: bool,
    /// The own ship as she is described.
    pub vessel: &'a Vessel,
    /// Whether this page may acknowledge and silence.
    pub may_acknowledge: bool,
}

/// An age, rounded up, that the script counts on.
pub(super) fn age(span: Duration) -> String {
    format!("<span data-age=\"{:.3}\">{}</span>", span.as_secs_f64(), short_age(span))
}

/// A time that is left, which the script counts down.
pub(super) fn left(span: Duration) -> String {
    format!("<span data-left=\"{:.3}\">{}</span>", span.as_secs_f64(), minutes(span))
}

/// A fact: what it is, the figure, and what is to be said of it. The figure is HTML.
pub(super) fn fact(class: &str, what: &str, figure: &str, more: &str) -> String {
    let more = if more.is_empty() { String::new() } else { format!("<small>{more}</small>") };
    format!("<div class=\"fact {class}\"><dt>{what}</dt><dd>{figure}{more}</dd></div>\n")
}

/// What is wrong besides what `headline` says: that the watch is deaf, then the most urgent alert about
/// no casualty that nobody has acknowledged, and how many more there are.
pub(super) fn alerts(picture: &Picture, around: &Around<'_>, headline: &str) -> String {
    let in_danger = |alert: &Alert| {
        picture.beacons.iter().any(|it| it.casualty && Some(it.id) == alert.casualty())
    };
    let mut said = String::new();
    if let Some(deaf) = deafness(picture).filter(|deaf| deaf.words() != headline) {
        said += &format!(
            "<p class=\"band alarm\" role=\"alert\"><strong>{}</strong> A beacon would not be noticed.</p>\n",
            escaped(&deaf.words())
        );
    }
    let mut waiting: Vec<&Alert> = picture
        .alerts
        .iter()
        .filter(|it| is_unacknowledged(it) && !in_danger(it) && it.priority >= Priority::Warning)
        .collect();
    waiting.sort_by_key(|it| std::cmp::Reverse(it.priority));
    if let Some(first) = waiting.first() {
        let class = if first.priority >= Priority::Alarm { "alarm" } else { "warning" };
        let ended = if first.is_active() { "" } else { "Ended: " };
        let more = match waiting.len() {
            1 => String::new(),
            count => format!(" (and {} more)", count - 1),
        };
        let asks = buttons(first, around);
        said += &match headline.contains(&first.text) && waiting.len() == 1 {
            true => asks,
            false => {
                let text = escaped(&first.text);
                format!("<div class=\"band {class}\"><p>{ended}{text}{more}</p>{asks}</div>\n")
            }
        };
    }
    said
}

/// The buttons with which a phone takes note of an alert, where it may.
pub(super) fn buttons(alert: &Alert, around: &Around<'_>) -> String {
    if !around.may_acknowledge {
        return String::new();
    }
    let form = |path: &str, word: &str| {
        format!(
            "<form method=\"post\" action=\"/{path}\"><input type=\"hidden\" name=\"alert\" \
             value=\"{}\"><button>{word}</button></form>",
            alert.id.0
        )
    };
    let silence = alert.state == crate::watch::State::ActiveUnacknowledged;
    let silence = if silence { form("silence", "silence") } else { String::new() };
    format!("<div class=\"asks\">{}{silence}</div>", form("acknowledge", "acknowledge"))
}
