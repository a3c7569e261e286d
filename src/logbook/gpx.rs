//! Where ship and casualties were, as GPX 1.1 (<https://www.topografix.com/GPX/1/1/>).

use std::collections::BTreeMap;
use std::io::{self, Write};

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

use super::draft::{Draft, Kind};
use super::error::Error;
use super::reader::{Entry, Filter, Reader};
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
    let mut gpx = Gpx { xml: Writer::new_with_indent(output, b' ', 1), open: false, last: None };
    gpx.begin()?;
    for (name, draft, place) in waypoints::<E>(reader, filter)?.into_values() {
        let at = draft.at();
        let about = if draft.position.is_some() { draft.text } else { of_own(&draft.text) };
        gpx.point("wpt", place, Some(at), Some((&name, &about)))?;
    }
    gpx.track(|gpx| {
        reader.entries::<E>(filter, |Entry { draft, .. }| {
            let Some(own) = draft.own else { return Ok(()) };
            gpx.step(&draft, own, draft.own_age_s, "own ship").map_err(E::from)
        })
    })?;
    for mmsi in reader.stations("beacon")? {
        let wanted = Filter { kind: Some(Kind::Beacon), mmsi: Some(mmsi), ..filter.clone() };
        gpx.track(|gpx| {
            reader.entries::<E>(&wanted, |Entry { draft, .. }| {
                let (Some(place), Some(_)) = (draft.position, draft.mode) else { return Ok(()) };
                let name = casualty(mmsi, draft.person.as_deref());
                gpx.step(&draft, place, draft.fix_age_s, &name).map_err(E::from)
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
        let Some(id) = draft.alert.filter(|_| draft.is_about_people()) else { return Ok(()) };
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

/// The document while it is written.
struct Gpx<W: Write> {
    xml: Writer<W>,
    /// Whether a track is open.
    open: bool,
    /// The watch and the place of the point before.
    last: Option<(Option<i64>, Position, Utc)>,
}

impl<W: Write> Gpx<W> {
    fn begin(&mut self) -> io::Result<()> {
        self.xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
        let root = BytesStart::new("gpx").with_attributes([
            ("version", "1.1"),
            ("creator", "overside"),
            ("xmlns", "http://www.topografix.com/GPX/1/1"),
        ]);
        self.xml.write_event(Event::Start(root))
    }

    fn end(&mut self) -> io::Result<()> {
        self.close("gpx")?;
        let output = self.xml.get_mut();
        output.write_all(b"\n")?;
        output.flush()
    }

    /// A track of what `steps` writes; none at all if that is nothing.
    fn track<E: From<io::Error>>(
        &mut self,
        steps: impl FnOnce(&mut Self) -> Result<(), E>,
    ) -> Result<(), E> {
        (self.open, self.last) = (false, None);
        steps(self)?;
        if self.open {
            self.close("trkseg")?;
            self.close("trk")?;
        }
        Ok(())
    }

    /// A point of the track, unless it is the one before once more. What was written in another
    /// watch begins a new segment.
    fn step(
        &mut self,
        draft: &Draft,
        place: Position,
        age_s: Option<u64>,
        name: &str,
    ) -> io::Result<()> {
        let age_ms = age_s.and_then(|age| i64::try_from(age.saturating_mul(1000)).ok());
        let taken = draft.at().unix_ms().saturating_sub(age_ms.unwrap_or(0));
        let time = Utc::from_unix_ms(taken).unwrap_or(draft.at());
        if self.last.is_some_and(|(_, there, then)| there == place && then == time) {
            return Ok(());
        }
        if !self.open {
            self.open("trk")?;
            self.text("name", name)?;
            self.open("trkseg")?;
            self.open = true;
        } else if self.last.is_some_and(|(session, ..)| session != draft.session) {
            self.close("trkseg")?;
            self.open("trkseg")?;
        }
        self.last = Some((draft.session, place, time));
        self.point("trkpt", place, Some(time), None)
    }

    fn point(
        &mut self,
        element: &str,
        place: Position,
        time: Option<Utc>,
        about: Option<(&str, &str)>,
    ) -> io::Result<()> {
        // The schema's longitudes end below 180 degrees.
        let lon = if place.lon() >= 180.0 { -180.0 } else { place.lon() };
        let (lat, lon) = (place.lat().to_string(), lon.to_string());
        let start = BytesStart::new(element)
            .with_attributes([("lat", lat.as_str()), ("lon", lon.as_str())]);
        self.xml.write_event(Event::Start(start))?;
        if let Some(time) = time {
            self.text("time", &time.to_string())?;
        }
        if let Some((name, description)) = about {
            self.text("name", name)?;
            self.text("desc", description)?;
        }
        self.close(element)
    }

    fn text(&mut self, element: &str, text: &str) -> io::Result<()> {
        let clean: String = text.chars().filter(|&c| is_xml(c)).collect();
        self.open(element)?;
        self.xml.write_event(Event::Text(BytesText::new(&clean)))?;
        self.close(element)
    }

    fn open(&mut self, element: &str) -> io::Result<()> {
        self.xml.write_event(Event::Start(BytesStart::new(element)))
    }

    fn close(&mut self, element: &str) -> io::Result<()> {
        self.xml.write_event(Event::End(BytesEnd::new(element)))
    }
}

/// Whether XML 1.0 (fifth edition, production 2) has a place for it, and it steers no terminal.
fn is_xml(c: char) -> bool {
    !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}')
}
