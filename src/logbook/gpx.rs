//! The logbook as GPX 1.1: own track, a track per casualty, alerts as waypoints.

use std::collections::BTreeMap;
use std::io::{self, Write};

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

use super::draft::{Draft, Kind};
use crate::mmsi::Mmsi;
use crate::navigation::Position;
use crate::time::Utc;
use crate::watch::{Priority, State};

/// A place and when it was.
type Point = (Position, Utc);

/// What becomes a GPX file: gathered entry by entry.
#[derive(Debug, Default)]
pub struct Tracks {
    own: Vec<Point>,
    casualties: BTreeMap<Mmsi, (String, Vec<Point>)>,
    alerts: Vec<(Point, String)>,
}

impl Tracks {
    /// Takes an entry.
    pub fn take(&mut self, draft: &Draft) {
        let at = draft.at();
        if let Some(own) = draft.own
            && self.own.last().is_none_or(|(last, _)| *last != own)
        {
            self.own.push((own, at));
        }
        let (Some(position), Some(mmsi)) = (draft.position, draft.mmsi) else { return };
        match draft.kind {
            Kind::Beacon => {
                let named = || draft.person.clone().unwrap_or_else(|| format!("beacon {mmsi}"));
                let (_, track) =
                    self.casualties.entry(mmsi).or_insert_with(|| (named(), Vec::new()));
                track.push((position, at));
            }
            Kind::Alert
                if draft.state == Some(State::ActiveUnacknowledged)
                    && draft.priority >= Some(Priority::Warning) =>
            {
                self.alerts.push(((position, at), draft.text.clone()));
            }
            _ => {}
        }
    }
}

/// Writes the tracks after the GPX 1.1 schema, <https://www.topografix.com/GPX/1/1/gpx.xsd>.
///
/// # Errors
/// That of the output.
pub fn write_gpx(out: &mut impl Write, tracks: &Tracks) -> io::Result<()> {
    let mut xml = Writer::new_with_indent(out, b' ', 1);
    xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    let gpx = BytesStart::new("gpx").with_attributes([
        ("version", "1.1"),
        ("creator", "overside"),
        ("xmlns", "http://www.topografix.com/GPX/1/1"),
    ]);
    xml.write_event(Event::Start(gpx))?;
    // Waypoints come before tracks in the schema.
    for (point, text) in &tracks.alerts {
        place(&mut xml, "wpt", *point, Some(text))?;
    }
    track(&mut xml, "own ship", &tracks.own)?;
    for (name, points) in tracks.casualties.values() {
        track(&mut xml, name, points)?;
    }
    xml.write_event(Event::End(BytesEnd::new("gpx")))?;
    xml.into_inner().write_all(b"\n")
}

fn track<W: Write>(xml: &mut Writer<W>, name: &str, points: &[Point]) -> io::Result<()> {
    if points.is_empty() {
        return Ok(());
    }
    xml.write_event(Event::Start(BytesStart::new("trk")))?;
    text(xml, "name", name)?;
    xml.write_event(Event::Start(BytesStart::new("trkseg")))?;
    for point in points {
        place(xml, "trkpt", *point, None)?;
    }
    xml.write_event(Event::End(BytesEnd::new("trkseg")))?;
    xml.write_event(Event::End(BytesEnd::new("trk")))
}

fn place<W: Write>(
    xml: &mut Writer<W>,
    tag: &str,
    (position, at): Point,
    name: Option<&str>,
) -> io::Result<()> {
    let (lat, lon) = (format!("{:.7}", position.lat()), format!("{:.7}", position.lon()));
    // The schema's longitudes end before 180.
    let lon = if lon == "180.0000000" { "-180.0000000".to_owned() } else { lon };
    let start = BytesStart::new(tag).with_attributes([("lat", &*lat), ("lon", &*lon)]);
    xml.write_event(Event::Start(start))?;
    text(xml, "time", &at.to_string())?;
    if let Some(name) = name {
        text(xml, "name", name)?;
    }
    xml.write_event(Event::End(BytesEnd::new(tag)))
}

/// An element of text; XML 1.0 has no place for control characters, escaped or not.
fn text<W: Write>(xml: &mut Writer<W>, tag: &str, content: &str) -> io::Result<()> {
    let allowed = |c: &char| !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}');
    let plain: String = content.chars().filter(allowed).collect();
    xml.write_event(Event::Start(BytesStart::new(tag)))?;
    xml.write_event(Event::Text(BytesText::new(&plain)))?;
    xml.write_event(Event::End(BytesEnd::new(tag)))
}
