//! Where ship and casualties were, as GPX 1.1 (<https://www.topografix.com/GPX/1/1/>).

use std::collections::BTreeMap;
use std::io::{self, Write};

use super::draft::Draft;
use super::entry::Entry;
use super::error::Error;
use super::kind::Kind;
use super::reader::{Filter, Reader};
use crate::gpx::Document;
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::Utc;

/// A casualty was at its last fix if that is no older: a beacon sends one burst a minute
/// (ITU-R M.1371-5 annex 9), and the first of two may be lost.
const FIX_HOLDS_S: u64 = 120;

/// The age of a fix is written in whole seconds: the same place that much later is the same fix.
const SAME_FIX_MS: i64 = 1_000;

/// Writes the ship's track, a track for each casualty and a waypoint for each alert about people of
/// which it is known where the casualty was when the alert changed.
///
/// # Errors
/// That of the output, or of a logbook that cannot be read.
pub fn write_gpx<E: From<Error> + From<io::Error>>(
    reader: &Reader,
    filter: &Filter,
    output: impl Write,
) -> Result<(), E> {
    let mut gpx = Document::begin(output)?;
    for (name, place, draft) in waypoints::<E>(reader, filter)? {
        gpx.waypoint(place, Some(draft.at()), &name, &draft.text)?;
    }
    let mut own = Track::default();
    reader.entries::<E>(filter, |Entry { session, draft, .. }| {
        own.extend(draft.own.map(|place| Point::new(session, &draft, place, draft.own_age_s)));
        Ok(())
    })?;
    own.write(&mut gpx, "own ship")?;
    for mmsi in reader.stations("beacon")? {
        let wanted = Filter { kind: Some(Kind::Beacon), mmsi: Some(mmsi), ..filter.clone() };
        let (mut track, mut person) = (Track::default(), None);
        reader.entries::<E>(&wanted, |Entry { session, draft, .. }| {
            let place = draft.position.filter(|_| draft.mode().is_some());
            track.extend(place.map(|place| Point::new(session, &draft, place, draft.fix_age_s)));
            person = person.take().or(draft.person);
            Ok(())
        })?;
        track.write(&mut gpx, &casualty(mmsi, person.as_deref()))?;
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

/// A name, the place and the entry of each alert about people: of the first entry that has a place.
fn waypoints<E: From<Error>>(
    reader: &Reader,
    filter: &Filter,
) -> Result<Vec<(String, Position, Draft)>, E> {
    let alerts = reader.alerts()?;
    let mut found = BTreeMap::new();
    let wanted = Filter { kind: Some(Kind::Alert), ..filter.clone() };
    reader.entries::<E>(&wanted, |Entry { entry, draft, .. }| {
        let fresh = draft.fix_age_s.is_none_or(|age| age <= FIX_HOLDS_S);
        let place = draft.position.filter(|_| fresh && draft.is_about_people());
        if let Some((id, place)) = draft.alert().map(|it| it.alert).zip(place) {
            let who = draft.mmsi.map(|mmsi| casualty(mmsi, draft.person.as_deref()));
            let name = format!("alert {}", id.0);
            let name = who.map_or(name.clone(), |who| format!("{name}: {who}"));
            let first = alerts.get(&entry).copied().unwrap_or(entry);
            found.entry((id, first)).or_insert((name, place, draft));
        }
        Ok(())
    })?;
    Ok(found.into_values().collect())
}

/// A place of a track.
struct Point {
    /// When it was taken.
    time: Utc,
    place: Position,
    /// What was written in another watch begins a new segment.
    session: Option<i64>,
}

impl Point {
    fn new(session: Option<i64>, draft: &Draft, place: Position, age_s: Option<u64>) -> Self {
        let age_ms = age_s.and_then(|age| i64::try_from(age.saturating_mul(1000)).ok());
        let taken = draft.at().unix_ms().saturating_sub(age_ms.unwrap_or(0));
        let time = Utc::from_unix_ms(taken).unwrap_or(draft.at());
        Self { time, place, session }
    }
}

/// The places of a track, in the order they were written down.
#[derive(Default)]
struct Track(Vec<Point>);

impl Track {
    fn extend(&mut self, point: Option<Point>) {
        self.0.extend(point);
    }

    /// Writes it by time, and each fix once.
    fn write(mut self, gpx: &mut Document<impl Write>, name: &str) -> io::Result<()> {
        self.0.sort_by_key(|it| it.time);
        self.0.dedup_by(|next, last| {
            let same = (next.place, next.session) == (last.place, last.session);
            let passed_ms = next.time.ms_since(last.time);
            passed_ms == 0 || (same && passed_ms <= SAME_FIX_MS)
        });
        gpx.track(|track| {
            let mut points = self.0.iter();
            points.try_for_each(|it| track.point(name, it.session, it.place, it.time))
        })
    }
}
