//! One casualty: which way, how far, how old, real or test.

use super::parts::{Around, age, buttons, fact, left};
use super::{dial, plot};
use crate::advice::{Advice, Reality, is_unacknowledged, rehearsal_known};
use crate::advice::{
    Ages, Figures, Rough, STRANGER, Step, ToSteer, Whereabouts, fix_is_old, metres, miles, name,
    own_is_old, relative, short_age, side,
};
use crate::navigation::{AheadFrom, Guidance, Position, range_and_bearing};
use crate::text::escaped;
use crate::units::{Degrees, NauticalMiles};
use crate::watch::{BeaconView, CasualtyId, Cause, Picture, Priority, State};

/// Inside this the range is in metres: what the page was asked for.
const IN_METRES: NauticalMiles = NauticalMiles(0.2);

/// Less than this off the course is on it: nobody steers better. Our own.
const ON_IT: f64 = 2.5;

/// Less than this between two legs is no turn, as on the terminal. Our own.
const STRAIGHT_ON: f64 = 5.0;

/// Where to turn: in words, and by how much.
struct Turn {
    words: String,
    /// From the bow, or where nobody knows where it points, from true north.
    arrow: Option<f64>,
}

/// All of it.
pub(super) fn section(
    picture: &Picture,
    around: &Around<'_>,
    beacon: &BeaconView,
    chosen: bool,
) -> String {
    let advice = Advice::about(picture, None, beacon);
    let step = Step::onward(picture, beacon);
    let turn = turn(picture, beacon, &step);
    let chosen = if chosen { " chosen" } else { "" };
    let headline = escaped(&advice.headline());
    let mut html = format!(
        "<section class=\"casualty{chosen}\" id=\"{}\" data-name=\"{headline}\" data-who=\"{}\" aria-label=\"{headline}\">\n{}",
        identity(beacon.id),
        escaped(&name(beacon)),
        band(picture, around, beacon, &advice, &headline)
    );
    html += &format!("<p class=\"turn\">{}</p>\n", escaped(&turn.words));
    let (dial, plot) = (dial::draw(picture, beacon, turn.arrow), plot::draw(picture, beacon));
    html += &format!("<div class=\"drawn\">{dial}{plot}</div>\n");
    html += &range(picture, beacon);
    html += &format!("<dl class=\"facts\">\n{}</dl>\n", facts(picture, beacon).concat());
    let person = beacon.person.as_deref();
    html +=
        &format!("<div class=\"words\"><p class=\"step\">{}</p>\n", escaped(&step.words(person)));
    html += &remarks(picture, beacon);
    html += &others(picture, beacon);
    html + "</div>\n</section>\n"
}

/// Which section is whose.
pub(super) fn identity(id: CasualtyId) -> String {
    match id {
        CasualtyId::Beacon(mmsi) => format!("beacon-{mmsi}"),
        CasualtyId::Mark(number) => format!("point-{number}"),
    }
}

/// Real or not, who, since when, and whether anybody has taken note.
fn band(
    picture: &Picture,
    around: &Around<'_>,
    beacon: &BeaconView,
    advice: &Advice,
    headline: &str,
) -> String {
    let alerts = || picture.alerts.iter().filter(|it| it.casualty() == Some(beacon.id));
    let alarm = alerts().any(|it| it.priority >= Priority::Alarm);
    let waiting = alerts().filter(|it| is_unacknowledged(it)).max_by_key(|it| it.priority);
    let state = match waiting {
        None => "acknowledged",
        Some(alert) => match (alert.state, alert.cause) {
            (State::ActiveSilenced, _) => "SILENCED",
            (State::RectifiedUnacknowledged, Cause::BeaconSilent) => "SIGNAL BACK",
            (State::RectifiedUnacknowledged, _) => "ENDED",
            _ => "UNACKNOWLEDGED",
        },
    };
    let ages = Ages::of(picture, beacon);
    let since = match advice.real {
        Some(Reality::Marked) => format!("marked {} ago", age(ages.since)),
        Some(Reality::Called) => format!("DSC call {} ago", age(ages.since)),
        Some(Reality::SignalLost | Reality::PerhapsLost) => {
            format!("not heard for {}", age(ages.heard))
        }
        Some(Reality::Active) => format!("ACTIVE for {}", age(ages.since)),
        _ => format!("heard for {}", age(ages.since)),
    };
    let flashes = waiting.is_some_and(|it| it.state == State::ActiveUnacknowledged);
    format!(
        "<header class=\"band {}{}\"><h1>{headline}</h1>\
         <p><b class=\"real\">{}</b> <span>{since}</span> <span class=\"state\">{state}</span></p>\
         {}</header>\n",
        if alarm { "alarm" } else { "warning" },
        if flashes { " flashes" } else { "" },
        real(picture, around),
        waiting.map(|it| buttons(it, around)).unwrap_or_default(),
    )
}

/// Whether it is to be taken as real: what is played is not, as far as it may be called so. A drill
/// surprises until somebody has acknowledged it; until then the watch says of it what it says of all.
fn real(picture: &Picture, around: &Around<'_>) -> &'static str {
    match rehearsal_known(picture) {
        _ if around.replay => "REPLAY",
        Some(rehearsed) => rehearsed.word(),
        None => "TAKE AS REAL",
    }
}

/// Which way to turn.
fn turn(picture: &Picture, beacon: &BeaconView, step: &Step) -> Turn {
    let ahead = picture.own.ahead.map(|(ahead, _)| ahead);
    let from_bow =
        |course: Degrees| ahead.map_or(course.value(), |ahead| course.relative_to(ahead));
    let on_way = beacon.way.and_then(|way| way.turn());
    let holding = |course: Degrees, turn: Option<f64>| Turn {
        words: match turn.filter(|_| ahead.is_some()) {
            None => format!("steer {course}"),
            Some(turn) if turn.abs() < ON_IT => format!("on course, hold {course}"),
            Some(turn) => format!("a little to {}, {:.0}°", side(turn), turn.abs()),
        },
        arrow: Some(turn.unwrap_or_else(|| from_bow(course))),
    };
    let first = || {
        let (own, first) = picture.own.position.zip(beacon.own_at_first)?;
        Some(from_bow(range_and_bearing(own, first).1))
    };
    let said = |words: &str, arrow| Turn { words: words.to_owned(), arrow };
    // Where the arrow leads is told in words, too, where the bow is known.
    let there = |words: &str| {
        let arrow = first();
        let told = arrow.filter(|turn| ahead.is_some() && turn.abs() >= ON_IT);
        let told = told.map(|turn| format!(": to {}, {:.0}°", side(turn), turn.abs()));
        Turn { words: format!("{words}{}", told.unwrap_or_default()), arrow }
    };
    match step {
        Step::TurnTowards { onto, .. } | Step::TurnOntoLeg(onto) => Turn {
            words: format!("turn to {}, {:.0}°", side(onto.turn), onto.turn.abs()),
            arrow: Some(onto.turn),
        },
        Step::Steer { course, .. } => holding(*course, on_way),
        Step::HoldLeg { course } => holding(*course, ahead.map(|ahead| course.relative_to(ahead))),
        Step::TurnBack { .. } => said("TURN BACK", on_way),
        Step::SlowDown { look } => said(
            "SLOW DOWN",
            look.as_ref().map(|it| match it {
                Rough::FromBow(relative) | Rough::FromCourse(relative) => *relative,
                Rough::Bearing(bearing) => from_bow(*bearing),
            }),
        ),
        Step::LookAllRound | Step::OwnPositionOld => said("LOOK ALL ROUND", None),
        Step::TurnBackOnTrack => there("TURN BACK ON YOUR TRACK"),
        Step::CountHeads => said("COUNT HEADS", first()),
        Step::Acknowledge { .. } => said("ACKNOWLEDGE", None),
    }
}

/// How far it is, large; where that is not known, why, and where to go meanwhile.
fn range(picture: &Picture, beacon: &BeaconView) -> String {
    let Some((figures, place)) = Figures::of(picture, beacon).zip(Whereabouts::of(picture, beacon))
    else {
        return match beacon.position {
            Some(position) => no_range("OWN POSITION NOT KNOWN", &format!("beacon at {position}")),
            None => no_range("NO POSITION YET", &meanwhile(picture, beacon)),
        };
    };
    let in_metres = place.range < IN_METRES && figures.unit() == "NM";
    let (number, unit) = if in_metres {
        let metres = format!("{:.0}", place.range.metres());
        (if figures.stale { format!("[{metres}]") } else { metres }, "m")
    } else {
        (figures.range.clone(), figures.unit())
    };
    let mut more: Vec<String> = Vec::new();
    if figures.stale {
        let what = if beacon.datum.is_some() { "estimated position" } else { "last known" };
        more.push(what.to_owned());
    }
    if in_metres {
        more.push(format!("{} NM", figures.range));
    }
    let stale = if figures.stale { " stale" } else { "" };
    format!(
        "<p class=\"range{stale}\"><span class=\"unseen\">range </span><b>{number}</b> \
         <span class=\"unit\">{unit}</span> <small>{}</small></p>\n",
        more.join(", ")
    )
}

fn no_range(what: &str, more: &str) -> String {
    format!("<p class=\"range none\"><b>{what}</b> <small>{}</small></p>\n", escaped(more))
}

/// Where to go while the beacon has no position: one of the crew fell where the ship was; a stranger
/// need not have.
fn meanwhile(picture: &Picture, beacon: &BeaconView) -> String {
    let Some(first) = beacon.own_at_first else {
        return "usual within a minute or two".to_owned();
    };
    let ours = beacon.person.is_some();
    let what = if ours { "head back to where you were at" } else { "first heard from here at" };
    let way = |own: Position| {
        let (range, bearing) = range_and_bearing(own, first);
        format!(": {} NM {bearing}", miles(range))
    };
    let way = picture.own.position.map(way).unwrap_or_default();
    format!("{what} {}{way}", beacon.since.utc.clock())
}

fn facts(picture: &Picture, beacon: &BeaconView) -> Vec<String> {
    let mut facts = steering(picture, beacon);
    if let Some(figures) = Figures::of(picture, beacon)
        && let Some(bearing) = &figures.bearing
    {
        let from_bow = beacon.way.and_then(|way| way.relative).map(|(degrees, from)| {
            let by = if from == AheadFrom::CourseOverGround { " (by COG)" } else { "" };
            format!("{}{by}", relative(degrees))
        });
        let class = if figures.stale { "stale" } else { "" };
        facts.push(fact(class, "bearing", &format!("{bearing}°T"), &from_bow.unwrap_or_default()));
    }
    let ages = Ages::of(picture, beacon);
    let worry = |is_bad: bool| if is_bad { "worry" } else { "" };
    let by = |call: bool| if call { "by DSC" } else { "" };
    if !ages.by_hand {
        let fix = ages.fix.map_or("not known".to_owned(), age);
        facts.push(fact(worry(fix_is_old(ages.fix)), "age of fix", &fix, by(ages.fix_by_call)));
    }
    facts.push(match &beacon.datum {
        Some((datum, _)) => {
            let half = format!("half within {}", metres(datum.radius50));
            fact("worry", "95 % within", &metres(datum.radius95), &half)
        }
        None => {
            let what = if ages.by_hand { "marked" } else { "heard" };
            let said = format!("{} ago", age(ages.heard));
            fact(worry(beacon.silent), what, &said, by(ages.heard_by_call))
        }
    });
    facts
}

/// The course to steer and its time, or the leg of the search and the turn at its end.
fn steering(picture: &Picture, beacon: &BeaconView) -> Vec<String> {
    let guidance = beacon.search.as_ref().and_then(|it| it.guidance.as_ref().ok()?.as_ref());
    if let Some((to, Guidance { leg, then })) = ToSteer::on_leg(picture, beacon).zip(guidance) {
        let of = beacon.search.as_ref().map_or(0, |search| search.legs);
        let leg_said = format!("leg {} of {of}", leg.place.leg);
        let then = match then {
            Some(turn) if turn.by.abs() < STRAIGHT_ON => "straight on".to_owned(),
            Some(turn) => format!("to {} onto {}", side(turn.by), turn.course),
            None => "end of this pass".to_owned(),
        };
        let in_time = format!("in {}", left(leg.time));
        return vec![
            fact("", "steer", &to.course, &leg_said),
            fact("", "next turn", &in_time, &then),
        ];
    }
    if Whereabouts::of(picture, beacon).is_some_and(|place| place.is_close()) {
        return Vec::new();
    }
    let Some(way) = &beacon.way else { return Vec::new() };
    vec![match ToSteer::on_way(way) {
        Some(to) => fact("", "steer", &to.course, &to.time),
        None => fact("worry", "steer", "no course", "drifts too fast for any"),
    }]
}

/// What else there is to know of this one.
fn remarks(picture: &Picture, beacon: &BeaconView) -> String {
    let mut said: Vec<String> = Vec::new();
    if crate::advice::is_stranger(picture, beacon) {
        said.push(STRANGER.to_owned());
    }
    said.extend(beacon.other_place.map(|other| other.words()));
    if let Some(search) = &beacon.search {
        match &search.guidance {
            Ok(Some(Guidance { leg, then })) if leg.place.leg == 0 => {
                let first = then.map(|turn| format!("; first leg {}", turn.course));
                said.push(format!("start search at datum{}", first.unwrap_or_default()));
            }
            Ok(Some(_)) => {}
            Ok(None) => said.push("SEARCH: both passes done; ask the coastguard".to_owned()),
            Err(why) => said.push(format!("SEARCH: {why}")),
        }
    } else if let Some(why) = beacon.unsteerable {
        said.push(format!("no SEARCH: {why}"));
    }
    if let Some((datum, _)) = &beacon.datum {
        said.push(format!("datum now {}", datum.position_at(picture.now.at)));
    }
    if let Some(own) = picture.own.age.filter(|it| own_is_old(*it)) {
        said.push(format!("own position {} old", short_age(own)));
    }
    said.iter().map(|line| format!("<p class=\"remark\">{}</p>\n", escaped(line))).collect()
}

/// The others in danger, each to be chosen.
fn others(picture: &Picture, beacon: &BeaconView) -> String {
    let others = picture.beacons.iter().filter(|it| it.casualty && it.id != beacon.id);
    let line = |other: &BeaconView| {
        let waits = picture
            .alerts
            .iter()
            .any(|it| it.casualty() == Some(other.id) && is_unacknowledged(it));
        let place = Figures::of(picture, other)
            .map_or("no position".to_owned(), |figures| figures.line("°T"));
        format!(
            "<a class=\"other{}\" href=\"#{}\">{}{} {place}</a>\n",
            if waits { " new" } else { "" },
            identity(other.id),
            if waits { "NEW: " } else { "" },
            escaped(&name(other)),
        )
    };
    others.map(line).collect()
}
