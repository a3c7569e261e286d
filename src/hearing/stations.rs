//! The stations in words: what each hears, and what of the sea all of them hear.

use super::map::{CommonMap, Gap};
use super::together::{Hearing, StationTogether};
use crate::advice::{about, reach};

/// Gaps that are told in words and drawn; JSON has more. Our own.
pub(super) const GAPS: usize = 3;

/// `2.1 NM (1.4 to 3.0)`: now, else in the middle of the hours.
pub(super) fn station_reach(it: &StationTogether) -> String {
    let now = it.now.as_ref().filter(|now| now.low_nm.is_some());
    match (now, it.median_nm) {
        (Some(now), _) => reach(now),
        (None, Some(nm)) => format!("{}, not now", about(nm)),
        (None, None) => "not known".to_owned(),
    }
}

/// The number of a station on the map; of the watch's own receiver without a name.
pub(super) fn number(hearing: &Hearing, station: Option<&str>) -> Option<usize> {
    let mut receivers = hearing.map.as_ref()?.receivers.iter();
    receivers.find(|it| it.station.as_deref() == station).map(|it| it.number)
}

/// What the map says; nothing where there is none.
pub(super) fn map_in_words(hearing: &Hearing) -> Vec<String> {
    let Some(map) = &hearing.map else { return Vec::new() };
    let mut words = Vec::new();
    if let Some(own) = number(hearing, None) {
        words.push(format!("{own} is this watch's own receiver, where it was last."));
    }
    let nowhere = hearing.stations.iter().filter(|it| it.position.is_none()).count();
    match nowhere {
        0 => {}
        1 => words.push("1 station is not on the map: nobody has told where it stands.".to_owned()),
        _ => words.push(format!(
            "{nowhere} stations are not on the map: nobody has told where they stand."
        )),
    }
    let deaf: Vec<usize> =
        map.receivers.iter().filter(|it| it.range_nm.is_none()).map(|it| it.number).collect();
    if !deaf.is_empty() {
        let numbers = crate::drawing::listed(&deaf);
        words.push(format!("How far {numbers} would hear a beacon is not known: no area."));
    }
    words.extend(areas(map));
    words.extend(gaps(map));
    words
}

/// How much of the sea is heard.
fn areas(map: &CommonMap) -> Option<String> {
    let [one, more, not_sure] = [map.one_nm2, map.more_nm2, map.not_sure_nm2].map(square);
    let known = match (map.one_nm2 > 0.0, map.more_nm2 > 0.0) {
        (true, true) => format!("by one within {one}, by two or more within {more}"),
        (true, false) => format!("by one within {one}, nowhere for certain by two"),
        (false, true) => format!("by two or more within {more}"),
        (false, false) => String::new(),
    };
    let perhaps = "if it is heard as far that way as in other directions";
    let heard = match (known.is_empty(), map.not_sure_nm2 > 0.0) {
        (true, false) => return None,
        (true, true) => format!("within {not_sure}, {perhaps}"),
        (false, true) => format!("{known}; within {not_sure} more {perhaps}"),
        (false, false) => known,
    };
    Some(format!("A beacon would be heard {heard}. Land is not known here and counts as sea."))
}

/// Where nobody hears.
fn gaps(map: &CommonMap) -> Vec<String> {
    let throughout = "On the straight lines between neighbours it would be heard throughout.";
    if map.neighbours > 0 && map.gaps.is_empty() {
        return vec![throughout.to_owned()];
    }
    let further = map.gaps.len().saturating_sub(GAPS);
    let further = (further > 0).then(|| format!("Narrower gaps between neighbours: {further}."));
    map.gaps.iter().take(GAPS).map(gap).chain(further).collect()
}

fn gap(gap: &Gap) -> String {
    let [one, other] = gap.between;
    let [unheard, not_sure] = [gap.unheard_nm, gap.not_sure_nm].map(about);
    let what = match (gap.unheard_nm.0 > 0.0, gap.not_sure_nm.0 > 0.0) {
        (true, true) => format!(
            "nobody would hear it on {unheard} of the way, perhaps nobody on {not_sure} more"
        ),
        (true, false) => format!("nobody would hear it on {unheard} of the way"),
        _ => format!("perhaps nobody would hear it on {not_sure} of the way"),
    };
    let to = |place: usize| match gap.known[place] {
        true => format!("to {}", about(gap.heard_nm[place])),
        false => format!("perhaps to {}", about(gap.heard_nm[place])),
    };
    let (near, far) = (to(0), to(1));
    format!(
        "Between {one} and {other}, {} apart, {what}: {one} hears {near} that way, {other} {far}.",
        about(gap.apart_nm),
    )
}

/// An area with no more digits than an estimate bears.
fn square(nm2: f64) -> String {
    match nm2 {
        ..9.95 => format!("{nm2:.1} NM²"),
        _ => {
            let unit = 10_f64.powf(nm2.log10().floor() - 1.0);
            format!("{:.0} NM²", (nm2 / unit).round() * unit)
        }
    }
}
