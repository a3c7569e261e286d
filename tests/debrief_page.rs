//! The page of the debrief: what stands on it, and that nothing hostile does. The pages go to
//! `target/tmp/debrief-pages/` as well, where tests/oracle/page.py opens them in a browser.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

#[path = "support/drills.rs"]
mod drills;
#[path = "support/pages.rs"]
mod pages;

use std::fs;
use std::path::PathBuf;

use drills::*;
use overside::debrief::{Drill, chart, page};
use pages::*;

/// Bytes of the page of one drill.
const SMALL: usize = 500_000;

/// Text as HTML, made without the program.
fn as_html(text: &str) -> String {
    let pairs = [('&', "&amp;"), ('<', "&lt;"), ('>', "&gt;"), ('"', "&quot;"), ('\'', "&#39;")];
    pairs.iter().fold(text.to_owned(), |text, (c, name)| text.replace(*c, name))
}

#[test]
fn pages_are_small_and_need_nothing_else() {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("debrief-pages");
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    for (name, drills) in all() {
        let html = page(&drills);
        fs::write(folder.join(format!("{name}.html")), &html).unwrap();
        assert!(html.len() < SMALL * drills.len().min(2), "{name}: {} bytes", html.len());
        for elsewhere in ["<script>", "http:", "https:", " src=", "url(", "@import", "<link", "<a "]
        {
            let text = html.replace("http-equiv", "");
            assert!(!text.contains(elsewhere), "{name} contains {elsewhere}");
        }
        let tamed = |c: char| !c.is_control() || c == '\n';
        assert!(html.chars().all(|c| tamed(c) && c != '\u{202e}'), "{name}");
        if let Some(picture) = drills.first().and_then(chart) {
            fs::write(folder.join(format!("{name}.svg")), picture).unwrap();
        }
    }
}

#[test]
fn all_that_was_measured_stands_on_the_page() {
    for drill in [demo(), scene(1), scene(4), two_in_the_water(), noted()] {
        let html = page(std::slice::from_ref(&drill));
        for said in drill.findings.iter().chain(drill.casualties.iter().flat_map(|it| &it.findings))
        {
            assert_eq!(html.matches(&as_html(said)).count(), 1, "{said}");
        }
        for event in &drill.events {
            let number = format!("<span class=\"no\">{}</span>", event.number);
            assert!(html.contains(&number) && html.contains(&as_html(&event.text)), "{event:?}");
        }
        for casualty in &drill.casualties {
            let measures = serde_json::to_value(&casualty.measures).unwrap();
            for (key, measured) in measures.as_object().unwrap() {
                let how = measured.get("how").or_else(|| measured.get("why"));
                // Who tells of the recovery stands beside its time, and the bands in their drawing.
                if key == "recovered_by" || key == "reception_by_range" {
                    continue;
                }
                let how = how.unwrap_or_else(|| panic!("{key}: {measured}")).as_str().unwrap();
                assert!(html.contains(&as_html(how)), "{key}: {how}");
            }
        }
    }
}

#[test]
fn hostile_text_comes_out_inert() {
    let html = page(&[hostile()]);
    assert!(html.contains("&lt;script&gt;alert(1)&lt;/script&gt; &quot;&amp;&#39;"));
    assert!(html.contains(r"\u{1b}[2J \u{202e}gnp.exe =1+1"));
    assert!(!html.contains("<script"));
}

#[test]
fn one_who_is_not_known_is_not_made_up() {
    let html = page(&[blind()]);
    assert!(html.contains("own position is not in the recording"));
    assert!(html.contains("<span class=\"unknown\">not known</span>"));
    assert!(!html.contains("range, NM"));
    let html = page(&[empty()]);
    assert!(html.contains("there is nothing to measure") && !html.contains("<svg"));
}

/// The number of an attribute of a line of a drawing.
fn attribute(line: &str, name: &str) -> f64 {
    let rest = line.split_once(&format!(" {name}=\"")).unwrap().1;
    rest.split('"').next().unwrap().parse().unwrap()
}

/// Vertices of own track on a chart.
fn own_track(svg: &str) -> Vec<(f64, f64)> {
    let phases = ["before", "going-on", "returning", "there", "after"];
    let lines = svg.lines().filter(|line| {
        phases.iter().any(|phase| line.ends_with(&format!("class=\"line {phase}\"/>")))
    });
    let steps = |line: &str| {
        let path = line.split('"').nth(1).unwrap().to_owned();
        let steps: Vec<(f64, f64)> = path
            .split(['M', 'L'])
            .filter_map(|step| step.split_once(' '))
            .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
            .collect();
        steps
    };
    lines.flat_map(steps).collect()
}

fn extent(places: impl Iterator<Item = (f64, f64)>) -> (f64, f64) {
    let begin = (f64::INFINITY, f64::NEG_INFINITY);
    let wider = |span: (f64, f64), value: f64| (span.0.min(value), span.1.max(value));
    let (x, y) = places.fold((begin, begin), |(x, y), it| (wider(x, it.0), wider(y, it.1)));
    (x.1 - x.0, y.1 - y.0)
}

/// The truth of a scene is on a plane in metres: its extent on the drawing, measured with the scale
/// bar, is the same in both directions.
#[test]
fn the_chart_is_true_to_scale() {
    for seed in [5, 10, 15, 20] {
        let truth = Rehearsed::of(seed);
        assert_eq!(truth.end, End::Nothing);
        let drill = scene(seed);
        let svg = chart(&drill).unwrap();
        let bar = svg.lines().find(|line| line.contains("class=\"bar\"")).unwrap();
        let length = attribute(bar, "x2") - attribute(bar, "x1");
        let label = svg.lines().find_map(|line| line.split_once(" NM (")).unwrap().0;
        let miles: f64 = label.rsplit('>').next().unwrap().parse().unwrap();
        let scale = length / (miles * 1852.0);
        // Drawn from three minutes before the first message on.
        let first = drill.casualties[0].receptions[0].at;
        let first = (seconds(first) - 180.0).max(0.0) as usize;
        let sailed = (first..truth.way.len()).map(|second| truth.own(second as f64));
        let (east, north) = extent(sailed);
        let (across, up) = extent(own_track(&svg).into_iter());
        for (drawn, true_m) in [(across / scale, east), (up / scale, north)] {
            // Own position jitters.
            assert!((drawn - true_m).abs() < 12.0 + 0.01 * true_m, "{seed}: {drawn} {true_m}");
        }
    }
}

#[test]
fn several_drills_have_the_same_scales() {
    let drills: Vec<Drill> = [1, 2, 3].map(scene).into();
    let html = page(&drills);
    let axis = |drawing: &str| -> Vec<String> {
        let ticks = drawing.lines().filter(|line| line.contains("class=\"tick"));
        ticks.map(|line| line.split_once('>').unwrap().1.to_owned()).collect()
    };
    let drawings: Vec<&str> = html.split("<svg class=\"small\"").skip(1).collect();
    let axes: Vec<Vec<String>> =
        drawings.iter().map(|it| axis(it.split("</svg>").next().unwrap())).collect();
    assert_eq!(axes.len(), 3);
    assert!(axes.iter().all(|it| *it == axes[0] && it.len() > 5), "{axes:?}");
    for drill in &drills {
        assert_eq!(html.matches(&format!("<h2><bdi>{}</bdi></h2>", drill.recording)).count(), 1);
    }
}

#[test]
fn the_picture_of_the_documentation_is_what_is_drawn() {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("docs/images/debrief.svg");
    let drawn = chart(&demo()).unwrap();
    if std::env::var_os("OVERSIDE_RENEW_PICTURES").is_some_and(|value| value == "1") {
        fs::write(&path, &drawn).unwrap();
    }
    assert!(
        fs::read_to_string(&path).is_ok_and(|kept| kept == drawn),
        "docs/images/debrief.svg is not what is drawn. Renew it with \
         OVERSIDE_RENEW_PICTURES=1 cargo test --test debrief_page, and look at it"
    );
}

/// Where a zone is configured the local time stands beside UTC, wherever a time stands.
#[test]
fn local_time_stands_beside_utc() {
    let drill = local();
    let html = page(std::slice::from_ref(&drill));
    let casualty = &drill.casualties[0];
    let alarm = casualty.measures.alarm.alarm_at.value().unwrap();
    let both = overside::zone::Zone::both(drill.zone.as_ref(), *alarm);
    assert_eq!(both, "14:03:15Z (16:03 CEST)");
    for said in drill.findings.iter().chain(&casualty.findings) {
        // A time of day is nowhere without it.
        let times =
            said.matches("Z ").count() + said.matches("Z,").count() + said.matches("Z.").count();
        assert_eq!(times, said.matches("Z (1").count(), "{said}");
    }
    // The number table, the axes of both charts over time in both layouts, and the list of events.
    assert!(html.contains(&format!("<td>{both}")), "the number table");
    assert_eq!(html.matches(">CEST</text>").count(), 4);
    assert!(html.contains(">16:05</text>") && html.contains(">14:05</text>"));
    assert!(
        html.contains("<td><span>14:03:15</span> <span>(16:03 CEST)</span></td>"),
        "the list of events"
    );
    // JSON stays in UTC.
    let json = overside::debrief::document(std::slice::from_ref(&drill));
    let told = &json["recordings"][0]["casualties"][0]["alarm_at"];
    assert!(told.as_str().unwrap().starts_with("2026-06-14T14:03:15."), "{told}");
    let plain = overside::debrief::plot(
        casualty,
        (78, 8),
        overside::drawing::Dots::Ascii,
        drill.zone.as_ref(),
    );
    assert!(plain.iter().any(|line| line.contains("Z (16:")), "{plain:?}");
}

/// The second chart is of the last 200 m alone, with a scale of its own, and true to it: the boat comes
/// in from where she was, as far off as she was.
#[test]
fn the_last_metres_are_drawn_true_to_their_own_scale() {
    let mut drawn = 0;
    for seed in [1, 2, 3, 4, 6, 7, 8, 9] {
        let (truth, drill) = (Rehearsed::of(seed), scene(seed));
        let html = page(std::slice::from_ref(&drill));
        let Some((_, svg)) = html
            .split_once("<svg class=\"wide\"")
            .and_then(|_| html.split_once("aria-labelledby=\"d1-near-0-wide-title"))
        else {
            continue;
        };
        let svg = svg.split("</svg>").next().unwrap();
        let bar = svg.lines().find(|line| line.contains("class=\"bar\"")).unwrap();
        let length = attribute(bar, "x2") - attribute(bar, "x1");
        let label = svg.lines().find_map(|line| line.split_once(" NM (")).unwrap().0;
        let miles: f64 = label.rsplit('>').next().unwrap().parse().unwrap();
        let scale = length / (miles * 1852.0);
        let ring = svg.lines().filter(|line| line.ends_with("class=\"line axis\"/>")).count();
        assert!(ring >= 1, "{seed}: no ring");
        // The mark of the casualty is a cross: its middle is that of a stroke.
        let mark = svg.lines().find(|line| line.contains("class=\"mark\"")).unwrap();
        let middle =
            |one: &str, other: &str| f64::midpoint(attribute(mark, one), attribute(mark, other));
        let casualty = (middle("x1", "x2"), middle("y1", "y2"));
        let off_m = drill.casualties[0].measures.approach.closest_approach_m.tolerance().unwrap();
        assert!(html.contains(&format!("known to ±{:.0} m (95 of 100 times)", off_m.ceil())));
        let (x, y) = own_track(svg)[0];
        let seen = ((x - casualty.0) / scale, (casualty.1 - y) / scale);
        let from = drill.casualties[0].ranges.iter().rev().skip_while(|it| {
            it.at > *drill.casualties[0].measures.recovery.at_casualty_at.value().unwrap()
        });
        let from = from.take_while(|it| it.range_nm.metres() < 200.0).last().unwrap().at;
        let (own, there) = (truth.own(seconds(from)), truth.casualty(seconds(from)));
        let real = (own.0 - there.0, own.1 - there.1);
        assert!(apart(seen, real) < off_m + 8.0, "{seed}: {seen:?} {real:?}");
        drawn += 1;
    }
    assert!(drawn >= 5, "{drawn}");
}
