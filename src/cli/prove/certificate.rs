//! A page to be printed: what was proven, how it was received, and what is left to look at.

use std::fmt::Write as _;

use super::Entered;
use crate::config::Config;
use crate::drawing::escaped;
use crate::proof::SelfTest;
use crate::text::counted;

/// The page, one HTML file without script or network.
pub(super) fn page(
    config: &Config,
    tests: &[SelfTest],
    entries: &[Entered],
    by: Option<&str>,
) -> String {
    let ship = config.vessel.name.as_deref().unwrap_or("not named");
    let mut html = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>Self-test of survivor beacons: {ship}</title>\n<style>\n{STYLE}</style>\n\
         </head>\n<body>\n<h1>Self-test of survivor beacons</h1>\n\
         <p>Ship: <strong>{ship}</strong>{identity}{by}</p>\n",
        ship = escaped(ship),
        identity = config.vessel.mmsi.map(|mmsi| format!(", {mmsi}")).unwrap_or_default(),
        by = by.map(|by| format!("<br>Tested by: {}", escaped(by))).unwrap_or_default(),
    );
    for (test, entered) in tests.iter().zip(entries) {
        section(&mut html, test, entered);
    }
    let _ = write!(
        html,
        "<footer>\n<p>This page says what the receiver on board heard. It proves neither that the \
         beacon is released by water, nor its battery, nor its range. The maker's instructions, the \
         coastguard and local rules come first.</p>\n<p>overside {}</p>\n</footer>\n\
         </body>\n</html>\n",
        env!("CARGO_PKG_VERSION")
    );
    html
}

fn section(html: &mut String, test: &SelfTest, entered: &Entered) {
    let verdict = &test.verdict;
    let _ = writeln!(
        html,
        "<section>\n<h2>{}: {}</h2>\n<p>{}</p>\n<table>",
        escaped(&verdict.subject()),
        verdict.verdict.name(),
        escaped(&verdict.summary())
    );
    for (name, value) in rows(test, entered) {
        let _ =
            writeln!(html, "<tr><th scope=\"row\">{name}</th><td>{}</td></tr>", escaped(&value));
    }
    html.push_str("</table>\n");
    if !verdict.findings.is_empty() {
        html.push_str("<h3>Left to look at</h3>\n<ul>\n");
        for finding in &verdict.findings {
            let _ = writeln!(html, "<li>{}</li>", escaped(finding));
        }
        html.push_str("</ul>\n");
    }
    if !test.sentences.is_empty() {
        html.push_str("<h3>Received</h3>\n<pre>");
        for sentence in &test.sentences {
            let _ = writeln!(html, "{}", escaped(sentence));
        }
        html.push_str("</pre>\n");
    }
    html.push_str("</section>\n");
}

/// What was received, row by row: what it is and its value.
fn rows(test: &SelfTest, entered: &Entered) -> [(&'static str, String); 7] {
    let verdict = &test.verdict;
    [
        ("Listened", format!("{} to {}", verdict.started, verdict.ended)),
        ("Place", test.own.map_or("not known".to_owned(), |own| own.to_string())),
        (
            "Messages",
            format!(
                "{} of {}: {}, {}, in {}",
                verdict.messages_heard,
                verdict.messages_expected,
                counted(verdict.position_reports, "position report"),
                counted(verdict.text_messages, "text"),
                counted(verdict.bursts, "burst")
            ),
        ),
        ("Channels", format!("A {}, B {}", verdict.channel_a, verdict.channel_b)),
        (
            "Position",
            format!(
                "{}{}",
                verdict.position.name(),
                verdict.range_m.map(|m| format!(", {m} m from the ship")).unwrap_or_default()
            ),
        ),
        (
            "DSC test call",
            match (verdict.dsc_call, test.radio_rang) {
                (Some(true), _) => "heard".to_owned(),
                (_, Some(true)) => {
                    "the radio itself rang, as the person who tested says".to_owned()
                }
                (Some(false), _) => "not heard by this program".to_owned(),
                (None, _) => "none expected".to_owned(),
            },
        ),
        (
            "Logbook",
            match entered {
                Some((entry, hash)) => format!("entry {entry}, SHA-256 {hash}"),
                None => "not written down".to_owned(),
            },
        ),
    ]
}

const STYLE: &str = "\
body { font: 11pt/1.4 sans-serif; max-width: 44em; margin: 2em auto; padding: 0 1em; color: #111; \
background: #fff; }
h1 { font-size: 1.5em; }
h2 { font-size: 1.2em; border-top: 2px solid #111; padding-top: .6em; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .2em .6em .2em 0; \
border-bottom: 1px solid #bbb; overflow-wrap: anywhere; }
th { white-space: nowrap; font-weight: normal; color: #444; }
pre { font-size: 8.5pt; white-space: pre-wrap; overflow-wrap: anywhere; }
footer { border-top: 2px solid #111; margin-top: 2em; font-size: .9em; }
section { break-inside: avoid; }
@page { margin: 15mm; }
";
