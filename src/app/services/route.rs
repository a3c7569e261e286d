//! The route of a search, written beside the logbook.

use std::fs::File;
use std::io::{self, BufWriter};

use super::Services;
use crate::app::entries::moment;
use crate::app::notices::Notice;
use crate::gpx;
use crate::logbook::{Act, Draft};
use crate::navigation::Leg;
use crate::thread;
use crate::time::Stamp;
use crate::watch::Watch;

impl Services {
    /// Writes the legs of a search as a route for a plotter, beside the logbook.
    pub(in crate::app) fn export(
        &mut self,
        plan: Option<(String, Vec<Leg>)>,
        by: Option<&str>,
        watch: &Watch,
        now: Stamp,
    ) {
        let Some((why, legs)) = plan else {
            "no search to write".clone_into(&mut self.parts.route);
            return;
        };
        let label = now.utc.to_string().replace(['-', ':'], "");
        let name = format!("search-{}Z.gpx", label.split('.').next().unwrap_or_default());
        let path = self.folder.clone().unwrap_or_default().join(name);
        let text = format!("Route of the search asked for: {}", path.display());
        let by = by.or(self.watchkeeper.as_deref());
        self.write(Draft::operator(Act::AskedForRoute, text, by, &moment(watch, now)), now);
        "route is being written".clone_into(&mut self.parts.route);
        let notices = self.notices.clone();
        // A disk that hangs must not hold up an alarm.
        let begun = thread::spawn("route", move |panicked| {
            let done = match panicked {
                Some(why) => Err(io::Error::other(why.to_owned())),
                None => File::create(&path)
                    .and_then(|file| gpx::route(BufWriter::new(file), &why, &legs, Some(now.utc))),
            };
            let _ = notices.send(Notice::Route(match done {
                Ok(()) => format!("route written: {}", path.display()),
                Err(error) => format!("route NOT written: {}: {error}", path.display()),
            }));
        });
        if let Err(why) = begun {
            self.parts.route = format!("route NOT written: no thread for it: {why}");
        }
    }
}
