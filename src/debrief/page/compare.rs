//! Several drills side by side.

use super::figures::FIGURES;
use super::multiples::{Scales, draw};
use super::text::day;
use crate::debrief::drill::{Casualty, Drill};
use crate::drawing::escaped;

/// How a casualty of a drill is called beside others.
fn name(drill: &Drill, casualty: Option<&Casualty>) -> String {
    let when = drill.begun.map(|begun| format!("{}, ", day(begun))).unwrap_or_default();
    let who = casualty.map(|casualty| format!(", {}", casualty.name())).unwrap_or_default();
    format!("{when}{}{who}", drill.recording)
}

/// The table, a row for each casualty.
pub(super) fn table(drills: &[Drill]) -> String {
    let mut html =
        "<table class=\"compare\">\n<thead><tr><th scope=\"col\">drill, casualty</th>".to_owned();
    for figure in &FIGURES {
        html += &format!("<th scope=\"col\">{}</th>", figure.name);
    }
    html += "</tr></thead>\n<tbody>\n";
    for drill in drills {
        if drill.casualties.is_empty() {
            html += &format!(
                "<tr><th scope=\"row\">{}</th><td colspan=\"{}\">no active beacon was heard</td></tr>\n",
                escaped(&name(drill, None)),
                FIGURES.len()
            );
        }
        for casualty in &drill.casualties {
            html +=
                &format!("<tr><th scope=\"row\">{}</th>", escaped(&name(drill, Some(casualty))));
            for figure in &FIGURES {
                let value = (figure.of)(&casualty.measures);
                let value = value.unwrap_or_else(|| "not known".to_owned());
                html += &format!("<td data-of=\"{}\">{value}</td>", figure.name);
            }
            html += "</tr>\n";
        }
    }
    html + "</tbody>\n</table>\n"
}

/// Range against time of each, on the same scales.
pub(super) fn multiples(drills: &[Drill]) -> String {
    let scales = Scales::of(drills);
    let mut html = "<div class=\"multiples\">\n".to_owned();
    let all = drills.iter().flat_map(|drill| drill.casualties.iter().map(move |it| (drill, it)));
    for (number, (drill, casualty)) in all.enumerate() {
        html += &format!(
            "<figure>\n<figcaption>{}</figcaption>\n{}</figure>\n",
            escaped(&name(drill, Some(casualty))),
            draw(casualty, scales, &format!("multiple-{number}"))
        );
    }
    html + "</div>\n"
}
