//! A failing season is reduced to what is needed for its failure, and printed as a scenario.

use std::fmt::{self, Write as _};

use overside::watch::EventBody;

use crate::boat::{Boat, Noted};
use crate::judge::Breach;
use crate::script::{DAY, Fault, HOUR, Happening, MINUTE, Season, What};

/// The script of a season that fails, reduced and printed.
pub fn failing(season: Season) -> String {
    let script = season.script();
    let Some(breach) = Boat::new(None, false).sail(&script).breach else {
        return "it does not fail".to_owned();
    };
    let script = reduce(script, &breach);
    print(season.seed, &script, &breach)
}

/// Leaves out whatever is not needed for the same rule to be broken.
pub fn reduce(script: Vec<Happening>, breach: &Breach) -> Vec<Happening> {
    let fails = |script: &[Happening]| {
        Boat::new(None, false).sail(script).breach.is_some_and(|it| it.rule == breach.rule)
    };
    // What lies long before, and what comes after, is seldom needed. Inputs are opened all the same.
    let opened = |it: &Happening| matches!(it.what, What::Fault(Fault::Opened(_))) && it.at == 0;
    let mut kept: Vec<Happening> = script;
    for span in [10 * MINUTE, HOUR, 6 * HOUR, DAY, 7 * DAY] {
        let from = breach.at.saturating_sub(span);
        let near = |it: &&Happening| opened(it) || (from..=breach.at).contains(&it.at);
        let mut near: Vec<Happening> = kept.iter().filter(near).cloned().collect();
        for it in near.iter_mut().filter(|it| opened(it)) {
            it.at = from;
        }
        if fails(&near) {
            kept = near;
            break;
        }
    }
    // By halves, quarters, …, one by one, until nothing can be left out.
    let mut size = kept.len().div_ceil(2);
    loop {
        let mut from = 0;
        let mut less = false;
        while from < kept.len() {
            let until = (from + size).min(kept.len());
            let rest = [&kept[..from], &kept[until..]].concat();
            if fails(&rest) {
                kept = rest;
                less = true;
            } else {
                from = until;
            }
        }
        match (size, less) {
            (1, false) => return kept,
            (1, true) => {}
            _ => size = size.div_ceil(2),
        }
    }
}

/// In the format of `tests/scenarios/`, as far as that can carry it.
pub fn print(seed: u64, script: &[Happening], breach: &Breach) -> String {
    let trace = Boat::new(None, true).sail(script).trace;
    let first = trace.first().map_or(0, Noted::at);
    let mut text = String::new();
    let _ = writeln!(
        text,
        "# seed {seed}, {} happenings; {}: {}",
        script.len(),
        breach.rule,
        breach.what
    );
    let _ = writeln!(text, "about = \"{}\"\nsource = \"contract.md, exact rules\"", breach.rule);
    let _ = writeln!(text, "only = [\"alert\"]");
    let mut steps: Vec<(u64, Vec<String>, Vec<String>)> = Vec::new();
    for noted in &trace {
        let at = noted.at();
        if steps.last().is_none_or(|(last, ..)| *last != at) {
            steps.push((at, Vec::new(), Vec::new()));
        }
        let Some((_, lines, expect)) = steps.last_mut() else { continue };
        match noted {
            Noted::In(_, line) => lines.push(format!("{line:?}")),
            Noted::Beside(_, what) => lines.push(format!("# {what}")),
            Noted::Out(_, event) if matches!(event.body, EventBody::Alert(_)) => {
                expect.push(noted.to_string());
            }
            Noted::Out(..) => {}
        }
    }
    for (at, lines, expect) in steps {
        let seconds = (at - first) as f64 / 1000.0;
        let _ = writeln!(text, "\n[[step]]\nat = {seconds:.3}");
        let list = |text: &mut String, name: &str, of: &[String]| {
            if !of.is_empty() {
                let of: Vec<String> = of
                    .iter()
                    .map(|it| {
                        if it.starts_with('#') {
                            format!("    {it}\n")
                        } else {
                            format!("    {it},\n")
                        }
                    })
                    .collect();
                let _ = writeln!(text, "{name} = [\n{}]", of.concat());
            }
        };
        list(&mut text, "lines", &lines);
        list(&mut text, "expect", &expect);
    }
    text
}

impl Noted {
    fn at(&self) -> u64 {
        match self {
            Self::In(at, _) | Self::Out(at, _) | Self::Beside(at, _) => *at,
        }
    }
}

impl fmt::Display for Noted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::In(_, what) | Self::Beside(_, what) => f.write_str(what),
            Self::Out(_, event) => {
                let value = serde_json::to_value(event).map_err(|_| fmt::Error)?;
                let mut said = value["event"].as_str().unwrap_or_default().to_owned();
                for key in ["id", "cause", "priority", "state", "mmsi", "mode", "entry"] {
                    match &value[key] {
                        serde_json::Value::Null => {}
                        serde_json::Value::String(word) => write!(said, " {key}={word}")?,
                        other => write!(said, " {key}={other}")?,
                    }
                }
                write!(f, "{said:?}")
            }
        }
    }
}
