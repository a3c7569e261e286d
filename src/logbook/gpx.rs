//! Where ship and casualties were, as GPX 1.1 (<https://www.topografix.com/GPX/1/1/>).

use std::collections::BTreeMap;
use std::io::{self, Write};

use super::draft::Draft;
use super::entry::Entry;
use super::error::Error;
use super::kind::Kind;
use super::reader::{Filter, Reader};
use crate::gpx::{Document, Track};
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::Utc;
use crate::watch::AlertId;

/// Writes the ship's track, a track for each casualty and a waypoint for each alert about people.
///
/// # Errors
/// That of the output, or of a logbook that cannot be read.
pub fn write_gpx<E: From<Error> + From<io::Error>>(
    reader: &Reader,
    filter: &Filter,
    output: impl Write,
) -> Result<(), E> {
    let mut gpx = Document::begin(output)?;
    for (name, draft, place) in waypoints::<E>(reader, filter)?.into_values() {
        let at = draft.at();
        let about = if draft.position.is_some() { draft.text } else { of_own(&draft.text) };
        gpx.waypoint(place, Some(at), &name, &about)?;
    }
    gpx.track(|track| {
        reader.entries::<E>(filter, |Entry { session, draft, .. }| {
            let Some(own) = draft.own else { return Ok(()) };
            step(track, "own ship", (session, &draft), own, draft.own_age_s).map_err(E::from)
        })
    })?;
    for mmsi in reader.stations("beacon")? {
        let wanted = Filter { kind: Some(Kind::Beacon), mmsi: Some(mmsi), ..filter.clone() };
        gpx.track(|track| {
            reader.entries::<E>(&wanted, |Entry { session, draft, .. }| {
                let (Some(place), Some(_)) = (draft.position, draft.mode()) else { return Ok(()) };
                let name = casualty(mmsi, draft.person.as_deref());
                step(track, &name, (session, &draft), place, draft.fix_age_s).map_err(E::from)
            })
        })?;
    }
    Ok(gpx.end()?)
}

/// The name of a casualty's track or waypoint.
fn casualty(mmsi: Mmsi, person: Option<&str>) -> String {
    match person {
        Some(person) => format!("{person} ({mmsi})"),
        None => mmsi.to_string(),
    }
}

fn of_own(text: &str) -> String {
    format!("{text} (own position: that of the casualty was not known)")
}

/// A name, the entry and the place of each alert about people: the casualty's place as soon as an
/// entry has one, the ship's until then.
fn waypoints<E: From<Error>>(
    reader: &Reader,
    filter: &Filter,
) -> Result<BTreeMap<AlertId, (String, Draft, Position)>, E> {
    let mut found: BTreeMap<AlertId, (String, Draft, Position)> = BTreeMap::new();
    let wanted = Filter { kind: Some(Kind::Alert), ..filter.clone() };
    reader.entries::<E>(&wanted, |Entry { draft, .. }| {
        let Some(change) = draft.alert().filter(|_| draft.is_about_people()) else {
            return Ok(());
        };
        let id = change.alert;
        let placed = found.get(&id).map(|(_, before, _)| before.position.is_some());
        let Some(place) = draft.position.or(draft.own) else { return Ok(()) };
        if placed.is_none() || (placed == Some(false) && draft.position.is_some()) {
            let who = draft.mmsi.map(|mmsi| casualty(mmsi, draft.person.as_deref()));
            let name = format!("alert {}", id.0);
            let name = who.map_or(name.clone(), |who| format!("{name}: {who}"));
            found.insert(id, (name, draft, place));
        }
        Ok(())
    })?;
    Ok(found)
}

/// The place of a draft as a point of a track, at the time it was taken. What was written in
/// another watch begins a new segment.
fn step(
    track: &mut Track<'_, impl Write>,
    name: &str,
    (session, draft): (Option<i64>, &Draft),
    place: Position,
    age_s: Option<u64>,
) -> io::Result<()> {
    let age_ms = age_s.and_then(|age| i64::try_from(age.saturating_mul(1000)).ok());
    let taken = draft.at().unix_ms().saturating_sub(age_ms.unwrap_or(0));
    let time = Utc::from_unix_ms(taken).unwrap_or(draft.at());
    track.point(name, session, place, time)
}
