//! The plot: own ship in the middle, rings, casualties, tracks and ships near. A column is half as
//! wide as a row is high, and the plot knows it: a circle is a circle.

use ratatui::layout::Rect;

use super::super::pen::Pen;
use super::super::theme::{Role, compass_point};
use super::super::{Screen, words};
use super::quiet::ship_name;
use crate::advice::ring;
use crate::navigation::{Offset, Position, destination, range_and_bearing};
use crate::units::Degrees;
use crate::watch::{BeaconView, Picture};

/// Of how many dots a leg of a search is drawn.
const LEG_DOTS: u32 = 12;

/// A plot is so wide before marks get names.
const NAMED: u16 = 50;

struct Plot<'a, 'b> {
    pen: &'a mut Pen<'b>,
    area: Rect,
    own: Position,
    /// Rows a nautical mile.
    rows_per_mile: f64,
    /// What is up.
    up: f64,
}

pub(super) fn draw(
    screen: &Screen,
    pen: &mut Pen<'_>,
    outer: Rect,
    picture: &Picture,
    casualty: Option<&BeaconView>,
) {
    if outer.width < 16 || outer.height < 6 {
        return;
    }
    let area = pen.frame(outer);
    let ahead = picture.own.heading.or(picture.own.cog);
    let up = ahead.filter(|_| screen.head_up).map(|ahead| ahead.value());
    let title = match (up, picture.own.heading) {
        (None, _) => " north up ",
        (Some(_), Some(_)) => " head up ",
        (Some(_), None) => " course up ",
    };
    let end = pen.put(outer, 0, 2, title, Role::Dim);
    if let (None, Some(ahead), false) = (up, ahead, pen.theme.unicode()) {
        let by = if picture.own.heading.is_some() { "heading" } else { "COG" };
        pen.put(outer, 0, end, &format!("{by} {} ", compass_point(ahead.value())), Role::Dim);
    }
    let Some(own) = picture.own.position else {
        let text = "own position not known";
        let column = area.width.saturating_sub(pen.width(text)) / 2;
        pen.put(area, area.height / 2, column, text, Role::Dim);
        return;
    };
    let miles = ring(picture, own, casualty);
    let last = outer.height - 1;
    pen.put_right(
        Rect { width: outer.width - 2, ..outer },
        last,
        &format!(" ring {miles} NM "),
        Role::Dim,
    );
    let up = up.unwrap_or_default();
    // The ring reaches to just inside the edge.
    let rows = f64::from(area.height.min(area.width / 2)) / 2.0 - 0.6;
    let mut plot = Plot { pen, area, own, rows_per_mile: rows / miles, up };
    let ring = plot.pen.theme.pick('·', '.');
    plot.ring(miles, ring);
    if rows >= 7.0 {
        plot.ring(miles / 2.0, ring);
    }
    plot.marks(picture, casualty);
    let bow = ahead.map_or('+', |ahead| plot.pen.theme.arrow(ahead.value() - up));
    plot.mark(own, bow, Role::Digits);
    if area.width >= NAMED {
        plot.names(picture);
    }
}

impl Plot<'_, '_> {
    fn marks(&mut self, picture: &Picture, casualty: Option<&BeaconView>) {
        let theme = self.pen.theme;
        for place in picture.own.track.iter().rev().step_by(3).take(40) {
            self.mark(*place, theme.pick('∙', ','), Role::Dim);
        }
        for ship in &picture.nearest {
            if let Some(place) = ship.contact.position {
                self.mark(place, theme.pick('▵', 'o'), Role::Text);
            }
        }
        let lost = casualty.filter(|beacon| beacon.position.is_none());
        if let Some(first) = lost.and_then(|beacon| beacon.own_at_first) {
            self.mark(first, theme.place_to_return_to(), Role::Digits);
        }
        if let Some(casualty) = casualty {
            self.search(casualty, picture);
        }
        for beacon in picture.beacons.iter().filter(|beacon| beacon.casualty) {
            for place in beacon.track.iter().rev().take(30) {
                self.mark(*place, theme.pick('•', '*'), Role::Warning);
            }
        }
        // The one that is shown large is never hidden by another.
        let mut casualties: Vec<_> = picture.beacons.iter().filter(|it| it.casualty).collect();
        casualties.sort_by_key(|it| casualty.is_some_and(|shown| shown.id == it.id));
        for other in casualties.iter().filter_map(|beacon| beacon.other_place) {
            self.mark(other.position, theme.casualty(), Role::Warning);
        }
        let now = picture.now.at;
        for place in casualties.iter().filter_map(|beacon| beacon.place(now)) {
            self.mark(place, theme.casualty(), Role::Alarm);
        }
    }

    /// The circle that holds a silent casualty with 95 %, and the legs of the search for it.
    fn search(&mut self, casualty: &BeaconView, picture: &Picture) {
        let theme = self.pen.theme;
        let Some((datum, _)) = &casualty.datum else { return };
        let centre = datum.position_at(picture.now.at);
        for step in 0..72 {
            let edge = destination(centre, Degrees::new(f64::from(step) * 5.0), datum.radius95);
            self.mark(edge, theme.pick('∘', 'o'), Role::Warning);
        }
        let Some(search) = &casualty.search else { return };
        let mut from = self.own;
        for to in &search.ahead {
            let way = Offset::between(from, *to);
            for step in 1..=LEG_DOTS {
                let part = f64::from(step) / f64::from(LEG_DOTS);
                let part = Offset { east_m: way.east_m * part, north_m: way.north_m * part };
                self.mark(part.from(from), theme.pick('·', '-'), Role::Digits);
            }
            from = *to;
        }
    }

    /// Names right of the marks, where nothing else stands.
    fn names(&mut self, picture: &Picture) {
        for beacon in picture.beacons.iter().filter(|beacon| beacon.casualty) {
            if let Some(place) = beacon.place(picture.now.at) {
                self.name(place, &words::name(beacon), Role::Alarm);
            }
        }
        for ship in &picture.nearest {
            if let Some(place) = ship.contact.position {
                self.name(place, &ship_name(ship), Role::Dim);
            }
        }
    }

    fn name(&mut self, place: Position, name: &str, role: Role) {
        let Some((row, column)) = self.cell_of(place) else { return };
        let width = self.pen.width(name);
        // With an empty column before and after.
        let (right, left) = (Some(column + 1), column.checked_sub(width + 2));
        let free = |at: &u16| self.pen.is_free(self.area, row, *at, width + 2);
        if let Some(at) = [right, left].into_iter().flatten().find(free) {
            self.pen.put(self.area, row, at + 1, name, role);
        }
    }

    fn mark(&mut self, place: Position, mark: char, role: Role) {
        if let Some((row, column)) = self.cell_of(place) {
            self.pen.dot(self.area, row, column, mark, role);
        }
    }

    fn ring(&mut self, miles: f64, mark: char) {
        for step in 0..72 {
            if let Some((row, column)) = self.cell(miles, self.up + f64::from(step) * 5.0) {
                self.pen.dot(self.area, row, column, mark, Role::Dim);
            }
        }
    }

    fn cell_of(&self, place: Position) -> Option<(u16, u16)> {
        let (range, bearing) = range_and_bearing(self.own, place);
        self.cell(range.0, bearing.value())
    }

    /// Row and column of a place, if it is on the plot.
    fn cell(&self, miles: f64, bearing: f64) -> Option<(u16, u16)> {
        let angle = (bearing - self.up).to_radians();
        let (east, north) = (miles * angle.sin(), miles * angle.cos());
        let column = f64::from(self.area.width) / 2.0 + east * self.rows_per_mile * 2.0;
        let row = f64::from(self.area.height) / 2.0 - north * self.rows_per_mile;
        let inside = column >= 0.0
            && row >= 0.0
            && column < f64::from(self.area.width)
            && row < f64::from(self.area.height);
        inside.then_some((row as u16, column as u16))
    }
}
