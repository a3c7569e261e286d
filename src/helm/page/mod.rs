//! What the page shows: reckoned and worded here, from `advice/`; the script in it counts ages and
//! notices silence, and decides nothing.
//!
//! *Invariant:* nothing from the air reaches the page unescaped. The policy of the server allows no
//! script, style or attribute `style` inside the page: both come from paths of their own.

use serde::Serialize;

use super::Snapshot;
use crate::advice::{Advice, Vessel};
use crate::time::Utc;

/// What is shown at one moment: sent as the event `state` of `/events`.
#[derive(Clone, Debug, Serialize)]
pub struct State {
    /// The moment, UTC as far as known.
    pub now: Utc,
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

impl State {
    /// What is shown of this.
    pub fn of(snapshot: &Snapshot, _vessel: &Vessel, _may_acknowledge: bool) -> Self {
        let picture = &snapshot.picture;
        let words = Advice::of(picture, None).words();
        Self { now: picture.now.utc, html: format!("<p>{}</p>", escaped(&words)) }
    }
}

/// The whole page, as it is asked for: it shows the present state without any script.
pub fn render(state: &State, _options: &Options) -> String {
    format!(
        "<!doctype html><html lang=en><head><meta charset=utf-8><title>overside</title>\
         <meta name=viewport content=\"width=device-width\">\
         <link rel=stylesheet href=/helm.css><noscript><meta http-equiv=refresh content=5></noscript>\
         </head><body><main>{}</main><script src=/helm.js></script></body></html>",
        state.html
    )
}

/// The script of the page, served as `/helm.js`.
pub const fn script() -> &'static str {
    "new EventSource('/events').addEventListener('state', event => {\
     document.querySelector('main').innerHTML = JSON.parse(event.data).html; });"
}

/// The style of the page, served as `/helm.css`.
pub const fn style() -> &'static str {
    "body{background:#000;color:#fff;font:1.5rem sans-serif}"
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
