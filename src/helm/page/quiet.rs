//! Nobody in danger: that the watch is alive, who is watched for, how far one would hear, what is
//! deaf; and a test while one is heard.

use super::parts::{Around, age, fact};
use crate::advice::{
    Advice, Situation, Subject, all_declared_safe, fix_is_old, last_burst, reach_now, subject,
};
use crate::beacon::MESSAGES;
use crate::navigation::{Grade, radio_horizon, working_range};
use crate::text::escaped;
use crate::watch::{BeaconView, InputState, Mode, Picture};

/// An antenna on an inflated lifejacket, above the water, in metres; as on the terminal. Our own.
const BEACON_HEIGHT_M: f64 = 0.2;

/// So many people are named. Our own.
const NAMED: usize = 12;

/// So many inputs are listed, what is not well first. Our own.
const LISTED: usize = 6;

/// All of it.
pub(super) fn section(picture: &Picture, around: &Around<'_>) -> String {
    let advice = Advice::of(picture, None);
    let headline = escaped(&advice.headline());
    let (class, said) = match subject(picture, None) {
        Subject::Test(beacon) => ("test", test(beacon)),
        _ => match advice.situation {
            Situation::Deaf { .. } => ("alarm", "<p>A beacon would not be noticed.</p>".to_owned()),
            Situation::Alarm(_) => ("alarm", String::new()),
            Situation::Ended(_) | Situation::Warning(_) | Situation::DeclaredSafe(_) => {
                ("warning", String::new())
            }
            Situation::NoAisYet | Situation::NothingYet => ("warning", String::new()),
            _ => ("good", String::new()),
        },
    };
    let declared: String = all_declared_safe(picture)
        .map(|who| format!("<p class=\"remark\">{}</p>\n", escaped(&who)))
        .collect();
    format!(
        "<section class=\"quiet chosen\" id=\"quiet\" data-name=\"{headline}\" aria-label=\"{headline}\">\n\
         <header class=\"band {class}\"><h1>{headline}</h1>{said}</header>\n{declared}\
         <div><h2>Watched for</h2>\n<p class=\"crew\">{}</p>\n\
         <h2>How far it hears</h2>\n<p class=\"reach\">{}</p></div>\n\
         <dl class=\"facts\">\n{}</dl>\n</section>\n",
        crew(picture),
        reach(picture, around),
        inputs(picture, around),
    )
}

/// That it is a test, and how much of it was heard.
fn test(beacon: &BeaconView) -> String {
    let what = match beacon.mode {
        Some(Mode::Test) => "This is a TEST, no emergency.",
        _ => "Probably a TEST: its text has not come yet. Count heads.",
    };
    let heard = match last_burst(beacon).count().min(MESSAGES) {
        0 => "heard before this watch began".to_owned(),
        heard => format!("{heard} of {MESSAGES} heard"),
    };
    format!("<p><b class=\"real\">TEST</b> <span>{heard}</span></p><p>{what}</p>")
}

/// Whose beacons are in the muster.
fn crew(picture: &Picture) -> String {
    let called = picture
        .watched
        .iter()
        .map(|(mmsi, person)| person.clone().unwrap_or_else(|| format!("spare beacon {mmsi}")));
    let mut names: Vec<String> = called.map(|name| escaped(&name)).collect();
    if names.is_empty() {
        return "nobody is in the muster: every beacon counts as a stranger's".to_owned();
    }
    if names.len() > NAMED {
        let more = names.len() - NAMED;
        names.truncate(NAMED);
        names.push(format!("and {more} more"));
    }
    names.join(", ")
}

/// How far one would hear now, by the ships heard; where that is not known, by the height of the
/// antenna besides.
fn reach(picture: &Picture, around: &Around<'_>) -> String {
    let heard = reach_now(&picture.reach);
    let height = around.vessel.antenna_height_m.filter(|_| picture.reach.interval().is_none());
    let by_height = height.map(|height| {
        let horizon = radio_horizon(BEACON_HEIGHT_M, height);
        let likely = working_range(horizon);
        format!("; by the height of the antenna likely to {likely}, limit {horizon}")
    });
    heard + &by_height.unwrap_or_default()
}

fn inputs(picture: &Picture, around: &Around<'_>) -> String {
    // A recording is no input of its own until a line without a source comes in.
    let mut inputs: Vec<_> =
        picture.inputs.iter().filter(|it| !around.replay || it.heard.is_some()).collect();
    inputs.sort_by_key(|input| input.state == Some(InputState::Live));
    let mut html = String::new();
    for input in inputs.iter().take(LISTED) {
        let live = input.state == Some(InputState::Live);
        let state = input.state.map_or("waiting", InputState::name);
        // What gave AIS is as old as its AIS, whatever else comes by it.
        let heard = match (&input.garbled, input.ais.or(input.heard)) {
            (Some(_), _) => "no sentence".to_owned(),
            (None, Some(span)) => format!("{} ago", age(span)),
            (None, None) => "never heard".to_owned(),
        };
        let class = if live { "" } else { "worry" };
        html += &fact(class, &escaped(&input.name), state, &heard);
    }
    if inputs.len() > LISTED {
        html += &fact("", "inputs", &format!("{} more", inputs.len() - LISTED), "");
    }
    let own = &picture.own;
    let by = match own.grade {
        Some(Grade::Transponder) => "by AIS",
        Some(Grade::Estimated) => "estimated",
        _ => "",
    };
    html += &match own.position.zip(own.age) {
        Some((position, span)) => {
            let class = if fix_is_old(own.age) { "worry" } else { "" };
            let more = format!("{} old {by}", age(span));
            fact(class, "own position", &position.to_string(), more.trim_end())
        }
        None => fact("worry", "own position", "not known", ""),
    };
    let stations = match picture.stations {
        0 => "none".to_owned(),
        count => count.to_string(),
    };
    let nearest = picture.nearest.first().map(|it| format!("nearest {} {}", it.range, it.bearing));
    html + &fact("", "other stations heard", &stations, &nearest.unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_age_on_the_page_is_rounded_up_and_counted_on_from_what_it_is() {
        let span = std::time::Duration::from_millis(11_200);
        assert_eq!(age(span), "<span data-age=\"11.200\">12 s</span>");
    }
}
