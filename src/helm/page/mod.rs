//! What the page shows: reckoned and worded here, from `advice/`; the script in it counts ages and
//! notices silence, and decides nothing.
//!
//! *Invariant:* nothing from the air reaches the page unescaped. A number never stands still
//! unnoticed: what is shown covers itself after 5 s by its style alone, unless the script has shown
//! something newer.

mod casualty;
mod dial;
mod parts;
mod plot;
mod quiet;

use serde::Serialize;

use super::Snapshot;
use crate::advice::{Advice, Vessel, beacon_in_view, rehearsal_known};
use crate::text::escaped;
use crate::time::{Mono, Utc};
use crate::watch::{Picture, Priority, Rehearsed, State as AlertState};
use parts::Around;

/// What kind of text a page is.
pub(super) const HTML: &str = "text/html; charset=utf-8";

/// What is shown at one moment: sent as the event `state` of `/events`.
#[derive(Clone, Debug, Serialize)]
pub struct State {
    /// The moment, UTC as far as known.
    pub now: Utc,
    /// When the watch handed it over, in milliseconds from no particular moment: how much later than
    /// others it comes.
    pub handed_ms: u64,
    /// What the page consists of, as HTML.
    pub html: String,
}

/// How the page is wanted.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// The name of its colours: of the cookie `colours`, or of the query `?colours=`.
    pub colours: Option<String>,
    /// Whether it may acknowledge and silence.
    pub may_acknowledge: bool,
    /// There is no contact with the watch, and since when: the state is that of then.
    pub no_contact_since: Option<Utc>,
}

/// The colours there are, with their backgrounds, which the browser may paint before the style. Dusk
/// is the first choice, as on the terminal.
const COLOURS: [(&str, &str, &str); 3] =
    [("dusk", "dark", "#10141a"), ("night", "dark", "#000000"), ("day", "light", "#f4f4ee")];

impl State {
    /// What is shown of this.
    pub fn of(snapshot: &Snapshot, vessel: &Vessel, may_acknowledge: bool) -> Self {
        let picture = &snapshot.picture;
        let around = Around { replay: snapshot.replay.is_some(), vessel, may_acknowledge };
        let now = picture.clock.best(picture.now.utc);
        let handed_ms = snapshot.handed.since(Mono::START).as_millis() as u64;
        Self { now, handed_ms, html: shown(picture, &around, now) }
    }
}

/// All that changes, as HTML.
fn shown(picture: &Picture, around: &Around<'_>, now: Utc) -> String {
    let chosen = beacon_in_view(picture, None).filter(|it| it.casualty).map(|it| it.id);
    let casualties = picture.beacons.iter().filter(|it| it.casualty);
    let mut sections: String = casualties
        .map(|it| casualty::section(picture, around, it, Some(it.id) == chosen))
        .collect();
    if sections.is_empty() {
        sections = quiet::section(picture, around);
    }
    let headline = Advice::of(picture, None).headline();
    let clock = now.clock();
    let mut marks = String::new();
    if around.replay {
        marks += "<b class=\"mark\">REPLAY</b> ";
    }
    if let Some(word) = rehearsal_known(picture).map(Rehearsed::word) {
        marks += &format!("<b class=\"mark\">{word}</b> ");
    }
    format!(
        "<div id=\"shown\" data-clock=\"{clock}\" data-version=\"{}\" data-sound=\"{}\">\n\
         <p class=\"top\">{marks}<span class=\"clock\">{clock}</span></p>\n{}{sections}\
         <div class=\"cover\" role=\"alert\"><p><strong>NO CONTACT WITH THE WATCH</strong></p>\
         <p>since <strong>{clock}</strong> <span data-since>(<span data-age=\"0\">0 s</span>)</span></p>\
         <p>What was shown is covered: it may not hold any more. Look at the screen below.</p>\
         <p class=\"then\">{}</p></div>\n</div>\n",
        env!("CARGO_PKG_VERSION"),
        sound(picture),
        parts::alerts(picture, around, &headline),
        escaped(&format!("Known then: {}.", Advice::of(picture, None).words())),
    )
}

/// What is to sound, by the name of its priority: the most urgent alert that nobody has acknowledged
/// or silenced. Empty if nothing is.
fn sound(picture: &Picture) -> &'static str {
    let sounds = picture.alerts.iter().filter(|it| it.state == AlertState::ActiveUnacknowledged);
    match sounds.map(|alert| alert.priority).max() {
        Some(Priority::EmergencyAlarm) => "emergency_alarm",
        Some(Priority::Alarm) => "alarm",
        Some(Priority::Warning) => "warning",
        Some(Priority::Caution) | None => "",
    }
}

/// The whole page, as it is asked for: it shows the present state without any script.
pub fn render(state: &State, options: &Options) -> String {
    let (name, ..) = colours_of(options.colours.as_deref());
    let lost = options.no_contact_since.map_or("", |_| "lost");
    let others: String = COLOURS
        .iter()
        .filter(|(other, ..)| *other != name)
        .map(|(other, ..)| format!("<a href=\"/?colours={other}\">{other}</a> "))
        .collect();
    let head = "<noscript><meta http-equiv=\"refresh\" content=\"5\"></noscript>\n";
    let body = format!(
        "<main id=\"main\">\n{}</main>\n\
         <nav aria-label=\"What this page does\">\n\
         <p id=\"said\" role=\"status\"></p>\n<div class=\"keys\">\
         <button type=\"button\" id=\"acknowledge\" hidden>acknowledge</button>\
         <button type=\"button\" id=\"silence\" hidden>silence</button></div>\n<div class=\"keys\">\
         <button type=\"button\" id=\"next\" hidden>next casualty</button>\
         <button type=\"button\" id=\"sound\" aria-pressed=\"false\" hidden>SOUND IS OFF</button>\
         <button type=\"button\" id=\"colours\" hidden>{name}</button></div>\n\
         <noscript><p>Without script: again every 5 s. Colours: {others}</p></noscript>\n</nav>\n\
         <p id=\"aloud\" class=\"unseen\" aria-live=\"assertive\"></p>\n\
         <script src=\"/helm.js\"></script>\n",
        state.html
    );
    document("at the helm", lost, name, head, &body)
}

/// What is shown before there is any picture, as while a watch begins: it loads itself again.
pub(super) fn not_yet(colours: Option<&str>) -> String {
    let head = "<meta http-equiv=\"refresh\" content=\"2\">\n";
    let body = "<div class=\"cover\" role=\"alert\"><p><strong>NO CONTACT WITH THE WATCH</strong></p>\
                <p>It begins, or it does not answer. This page asks again by itself. Look at the \
                screen below.</p></div>\n";
    document("no contact", "lost", colours.unwrap_or_default(), head, body)
}

/// The colours of this name, or the first ones.
fn colours_of(name: Option<&str>) -> (&'static str, &'static str, &'static str) {
    COLOURS.into_iter().find(|(it, ..)| Some(*it) == name).unwrap_or(COLOURS[0])
}

/// A page with this in its head and body. The browser is told its background before the style comes:
/// nothing white is to flash at night.
pub(super) fn document(title: &str, class: &str, colours: &str, head: &str, body: &str) -> String {
    let (name, scheme, ground) = colours_of(Some(colours));
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\" data-colours=\"{name}\" class=\"{class}\">\n<head>\n\
         <meta charset=\"utf-8\">\n<title>overside: {title}</title>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1, viewport-fit=cover\">\n\
         <meta name=\"color-scheme\" content=\"{scheme}\">\n\
         <meta name=\"theme-color\" content=\"{ground}\">\n\
         <link rel=\"stylesheet\" href=\"/helm.css\">\n{head}</head>\n<body>\n{body}</body>\n</html>\n"
    )
}

/// The script of the page, served as `/helm.js`.
pub const fn script() -> &'static str {
    include_str!("helm.js")
}

/// The style of the page, served as `/helm.css`.
pub const fn style() -> &'static str {
    include_str!("helm.css")
}
