//! Where labels stand: beside what they name, upon nothing else; and the numbers of what is listed.

use super::svg::{Drawing, Point, pill_size};

/// Free room around a label.
const MARGIN: f64 = 2.0;

/// How far from its point a label may stand, nearest first.
const DISTANCES: [f64; 8] = [19.0, 26.0, 34.0, 44.0, 56.0, 72.0, 92.0, 116.0];

/// Directions that are tried, in degrees.
const DIRECTIONS: i32 = 16;

/// The room of a label.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Room {
    middle: Point,
    size: (f64, f64),
}

impl Room {
    const fn around(middle: Point, size: (f64, f64)) -> Self {
        Self { middle, size }
    }

    fn holds(self, point: Point, margin: f64) -> bool {
        (point.x - self.middle.x).abs() < self.size.0 / 2.0 + margin
            && (point.y - self.middle.y).abs() < self.size.1 / 2.0 + margin
    }

    fn overlaps(self, other: Self) -> bool {
        let both = (self.size.0 + other.size.0, self.size.1 + other.size.1);
        Self::around(other.middle, both).holds(self.middle, MARGIN)
    }

    fn is_within(self, area: (Point, Point)) -> bool {
        let (across, down) = (self.size.0 / 2.0 + MARGIN, self.size.1 / 2.0 + MARGIN);
        self.middle.x - across >= area.0.x
            && self.middle.x + across <= area.1.x
            && self.middle.y - down >= area.0.y
            && self.middle.y + down <= area.1.y
    }
}

/// Labels of one drawing.
#[derive(Debug)]
pub struct Labels {
    area: (Point, Point),
    drawn: Vec<Point>,
    rooms: Vec<Room>,
    leaders: Vec<(Point, Point)>,
}

impl Labels {
    /// Within an area from its upper left to its lower right corner; `drawn` are points of the lines
    /// that labels had better not hide.
    pub const fn within(area: (Point, Point), drawn: Vec<Point>) -> Self {
        Self { area, drawn, rooms: Vec::new(), leaders: Vec::new() }
    }

    /// The middle of the best room for a label of this size beside a point; `None` if there is none.
    pub fn place(&mut self, beside: Point, size: (f64, f64)) -> Option<Point> {
        let mut best: Option<(f64, Point)> = None;
        for distance in DISTANCES {
            for direction in 0..DIRECTIONS {
                let degrees = f64::from(direction) * 360.0 / f64::from(DIRECTIONS);
                // A wide label stands further off to the side.
                let wider = (size.0 - size.1) / 2.0 * degrees.to_radians().sin().abs();
                let middle = beside.towards(degrees, distance + wider);
                let room = Room::around(middle, size);
                if !room.is_within(self.area) || self.rooms.iter().any(|it| it.overlaps(room)) {
                    continue;
                }
                let cost = distance / 8.0 + self.hidden(room) + self.crossed(beside, room);
                if best.is_none_or(|(least, _)| cost < least) {
                    best = Some((cost, middle));
                }
            }
        }
        let (_, middle) = best?;
        self.rooms.push(Room::around(middle, size));
        self.leaders.push((beside, middle));
        Some(middle)
    }

    /// How much of the lines a label would hide.
    fn hidden(&self, room: Room) -> f64 {
        let hidden = self.drawn.iter().filter(|point| room.holds(**point, 1.0)).count();
        (hidden as f64).min(12.0)
    }

    /// Whether its leader would run below other labels, or theirs below it.
    fn crossed(&self, beside: Point, room: Room) -> f64 {
        let below = self.rooms.iter().filter(|it| runs_through(beside, room.middle, **it)).count();
        let above = self.leaders.iter().filter(|it| runs_through(it.0, it.1, room)).count();
        (below + above) as f64 * 10.0
    }
}

fn runs_through(from: Point, to: Point, room: Room) -> bool {
    (0..=12).any(|step| {
        let share = f64::from(step) / 12.0;
        let (x, y) = (from.x + (to.x - from.x) * share, from.y + (to.y - from.y) * share);
        room.holds(Point::new(x, y), 1.0)
    })
}

/// Letters of a label with numbers.
const LONGEST: usize = 11;

/// Numbers in the order they come: `1–3, 7`.
pub fn listed(numbers: &[usize]) -> String {
    let runs: Vec<String> = numbers
        .chunk_by(|one, next| one + 1 == *next)
        .map(|run| match run {
            [one] => one.to_string(),
            [one, other] => format!("{one}, {other}"),
            [first, .., last] => format!("{first}–{last}"),
            [] => String::new(),
        })
        .collect();
    let all = runs.join(", ");
    if all.chars().count() <= LONGEST {
        return all;
    }
    match (numbers.first(), numbers.last()) {
        (Some(first), Some(last)) => format!("{first}…{last}"),
        _ => all,
    }
}

/// Numbers at their places, those of nearly the same place together.
pub fn grouped(numbered: impl Iterator<Item = (Point, usize)>) -> Vec<(Point, Vec<usize>)> {
    let mut groups: Vec<(Point, Vec<usize>)> = Vec::new();
    for (point, number) in numbered {
        match groups.iter_mut().find(|(other, _)| other.apart(point) < 9.0) {
            Some((_, numbers)) => numbers.push(number),
            None => groups.push((point, vec![number])),
        }
    }
    groups
}

/// Numbers beside their places; those that found no room.
pub fn draw_numbers(
    drawing: &mut Drawing,
    labels: &mut Labels,
    groups: &[(Point, Vec<usize>)],
) -> Vec<usize> {
    let mut left_out = Vec::new();
    let mut placed = Vec::new();
    for (point, numbers) in groups {
        let text = listed(numbers);
        match labels.place(*point, pill_size(&text)) {
            Some(middle) => placed.push((*point, middle, text)),
            None => left_out.extend(numbers),
        }
    }
    for (point, middle, _) in &placed {
        drawing.line(*point, *middle, "leader");
        drawing.circle(*point, 2.6, "dot");
    }
    for (_, middle, text) in &placed {
        drawing.pill(*middle, text);
    }
    left_out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_of_numbers_are_shortened() {
        assert_eq!(listed(&[4]), "4");
        assert_eq!(listed(&[1, 2]), "1, 2");
        assert_eq!(listed(&[1, 2, 3, 7]), "1–3, 7");
        assert_eq!(listed(&[1, 3, 5, 7, 9, 11]), "1…11");
    }

    #[test]
    fn labels_stand_apart_and_within() {
        let area = (Point::new(0.0, 0.0), Point::new(200.0, 200.0));
        let mut labels = Labels::within(area, Vec::new());
        let corner = Point::new(3.0, 3.0);
        let placed: Vec<Point> =
            (0..40).map_while(|_| labels.place(corner, (20.0, 20.0))).collect();
        assert!(placed.len() > 4 && placed.len() < 40, "{}", placed.len());
        for (number, one) in placed.iter().enumerate() {
            assert!(one.x >= 10.0 && one.y >= 10.0);
            for other in &placed[..number] {
                assert!((one.x - other.x).abs() >= 20.0 || (one.y - other.y).abs() >= 20.0);
            }
        }
    }
}
