//! GPX 1.1 (<https://www.topografix.com/GPX/1/1/>), written: waypoints, routes and tracks that any
//! plotter reads.
//!
//! *Invariant:* whatever text goes in, the document stays well-formed and steers no terminal. The
//! schema wants waypoints first, then routes, then tracks: whoever writes keeps to that order.

use std::io::{self, Write};

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

use crate::navigation::{Leg, Position};
use crate::text::is_hostile;
use crate::time::Utc;

/// A document while it is written.
pub struct Document<W: Write> {
    xml: Writer<W>,
}

/// A point to pass: what it is called and when one will be there.
#[derive(Clone, Debug, PartialEq)]
pub struct RoutePoint {
    /// Where it is.
    pub place: Position,
    /// When it is to be passed; `None` if that is not known.
    pub time: Option<Utc>,
    /// Short enough for a plotter's label.
    pub name: String,
    /// What to do there.
    pub description: String,
}

impl<W: Write> Document<W> {
    /// Begins a document.
    ///
    /// # Errors
    /// Those of the output; so in all that follows.
    pub fn begin(output: W) -> io::Result<Self> {
        let mut xml = Writer::new_with_indent(output, b' ', 1);
        xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
        let root = BytesStart::new("gpx").with_attributes([
            ("version", "1.1"),
            ("creator", "overside"),
            ("xmlns", "http://www.topografix.com/GPX/1/1"),
        ]);
        xml.write_event(Event::Start(root))?;
        Ok(Self { xml })
    }

    /// Ends it: without this it is not whole.
    ///
    /// # Errors
    /// Those of the output.
    pub fn end(mut self) -> io::Result<()> {
        self.close("gpx")?;
        let output = self.xml.get_mut();
        output.write_all(b"\n")?;
        output.flush()
    }

    /// A single point, with its name and a description.
    ///
    /// # Errors
    /// Those of the output.
    pub fn waypoint(
        &mut self,
        place: Position,
        time: Option<Utc>,
        name: &str,
        description: &str,
    ) -> io::Result<()> {
        self.point("wpt", place, time, Some((name, description)))
    }

    /// Points to pass one after the other.
    ///
    /// # Errors
    /// Those of the output.
    pub fn route(
        &mut self,
        name: &str,
        description: &str,
        points: impl IntoIterator<Item = RoutePoint>,
    ) -> io::Result<()> {
        self.open("rte")?;
        self.text("name", name)?;
        self.text("desc", description)?;
        for point in points {
            let about = Some((point.name.as_str(), point.description.as_str()));
            self.point("rtept", point.place, point.time, about)?;
        }
        self.close("rte")
    }

    /// A track of the points that `points` writes; none at all if there are none.
    ///
    /// # Errors
    /// Those of the output and of `points`.
    pub fn track<E: From<io::Error>>(
        &mut self,
        points: impl FnOnce(&mut Track<'_, W>) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut track = Track { document: self, last: None };
        points(&mut track)?;
        if track.last.is_some() {
            self.close("trkseg")?;
            self.close("trk")?;
        }
        Ok(())
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
        // XML 1.0 (fifth edition, production 2) has no place for most of what is hostile.
        let clean: String = text.chars().filter(|&c| !is_hostile(c)).collect();
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

/// Writes the legs of a search as a route: where it begins, then the end of each leg, where it will
/// be by then. `begin` is when the first is begun.
///
/// # Errors
/// Those of the output.
pub fn route(
    output: impl Write,
    description: &str,
    legs: &[Leg],
    begin: Option<Utc>,
) -> io::Result<()> {
    let mut time = begin;
    let start = legs.first().map(|leg| RoutePoint {
        place: leg.from,
        time,
        name: "start".to_owned(),
        description: "where the plan begins".to_owned(),
    });
    let ends = legs.iter().map(|leg| {
        time = time.map(|time| time.plus(leg.time));
        let name = match leg.place.leg {
            0 => "datum".to_owned(),
            number => format!("{}-{number}", leg.place.pass),
        };
        let description = format!("{}: steer {} for {}", leg.place, leg.course, leg.length);
        RoutePoint { place: leg.to, time, name, description }
    });
    let mut document = Document::begin(output)?;
    document.route("search", description, start.into_iter().chain(ends))?;
    document.end()
}

/// A track while it is written.
pub struct Track<'a, W: Write> {
    document: &'a mut Document<W>,
    /// The segment, the place and the time of the point before.
    last: Option<(Option<i64>, Position, Utc)>,
}

impl<W: Write> Track<'_, W> {
    /// The next point, unless it is the one before once more. The first gives the track its name;
    /// another `segment` than before, whatever is counted by it, leaves a gap in the line.
    ///
    /// # Errors
    /// Those of the output.
    pub fn point(
        &mut self,
        name: &str,
        segment: Option<i64>,
        place: Position,
        time: Utc,
    ) -> io::Result<()> {
        match self.last {
            None => {
                self.document.open("trk")?;
                self.document.text("name", name)?;
                self.document.open("trkseg")?;
            }
            Some((_, there, then)) if there == place && then == time => return Ok(()),
            Some((before, ..)) if before != segment => {
                self.document.close("trkseg")?;
                self.document.open("trkseg")?;
            }
            Some(_) => {}
        }
        self.last = Some((segment, place, time));
        self.document.point("trkpt", place, Some(time), None)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_route_stays_well_formed_whatever_it_is_called() {
        let mut bytes = Vec::new();
        let mut gpx = Document::begin(&mut bytes).unwrap();
        let place = Position::new(50.5, 180.0).unwrap();
        let name = "</name>\u{1b}[2J".to_owned();
        let time = Utc::from_unix_ms(0);
        let point = RoutePoint { place, time, name, description: "a & b".to_owned() };
        gpx.route("search", "sector", [point]).unwrap();
        gpx.track::<io::Error>(|_| Ok(())).unwrap();
        gpx.end().unwrap();
        let expected = r#"<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="overside" xmlns="http://www.topografix.com/GPX/1/1">
 <rte>
  <name>search</name>
  <desc>sector</desc>
  <rtept lat="50.5" lon="-180">
   <time>1970-01-01T00:00:00.000Z</time>
   <name>&lt;/name&gt;[2J</name>
   <desc>a &amp; b</desc>
  </rtept>
 </rte>
</gpx>
"#;
        assert_eq!(String::from_utf8(bytes).unwrap(), expected);
    }
}
