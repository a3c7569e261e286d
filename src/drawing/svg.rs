//! A drawing while it is made: lines, shapes and labels with classes that the style sheet colours.

use crate::text::escaped;

/// The style of all drawings.
pub(super) const STYLE: &str = include_str!("chart.css");

/// The height of letters, in units of the drawing; chart.css says the same.
const LETTER: f64 = 13.0;

/// For whom a drawing is made. One unit is about a pixel in either.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layout {
    /// A desk, or paper.
    Wide,
    /// A phone.
    Narrow,
}

impl Layout {
    /// Both of them.
    pub const BOTH: [Self; 2] = [Self::Wide, Self::Narrow];

    /// The width of its drawings.
    pub const fn width(self) -> f64 {
        match self {
            Self::Wide => 720.0,
            Self::Narrow => 340.0,
        }
    }

    /// One of two numbers.
    pub const fn of<T: Copy>(self, wide: T, narrow: T) -> T {
        match self {
            Self::Wide => wide,
            Self::Narrow => narrow,
        }
    }

    /// The class that the style sheet shows it by.
    pub const fn class(self) -> &'static str {
        self.of("wide", "narrow")
    }
}

/// A place in a drawing: to the right, and down.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Down.
    pub y: f64,
}

impl Point {
    /// At these.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// How far the other is.
    pub fn apart(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// So far off in a direction: 0 is up, 90 to the right.
    pub fn towards(self, degrees: f64, length: f64) -> Self {
        let (across, up) = degrees.to_radians().sin_cos();
        Self::new(self.x + across * length, self.y - up * length)
    }
}

/// Where a label stands beside its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// To the right of it.
    Start,
    /// Across it.
    Middle,
    /// To the left of it.
    End,
}

/// The width that a text takes at the most: figures and letters of wide sans-serif fonts.
pub fn width_of(text: &str) -> f64 {
    text.chars().count() as f64 * LETTER * 0.65
}

/// A drawing.
pub struct Drawing {
    width: f64,
    height: f64,
    body: String,
}

impl Drawing {
    /// An empty one.
    pub const fn new(width: f64, height: f64) -> Self {
        Self { width, height, body: String::new() }
    }

    /// A straight line.
    pub fn line(&mut self, from: Point, to: Point, class: &str) {
        let (Point { x, y }, Point { x: x2, y: y2 }) = (from, to);
        self.body += &format!(
            "<line x1=\"{x:.1}\" y1=\"{y:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\" class=\"{class}\"/>\n"
        );
    }

    /// A line through points; nothing if there are fewer than two.
    pub fn way(&mut self, points: &[Point], class: &str) {
        if points.len() > 1 {
            self.body += &format!("<path d=\"{}\" class=\"line {class}\"/>\n", steps(points));
        }
    }

    /// A filled shape.
    pub fn shape(&mut self, points: &[Point], class: &str) {
        self.body += &format!("<path d=\"{}Z\" class=\"{class}\"/>\n", steps(points));
    }

    /// A rectangle, by its upper left corner.
    pub fn rect(&mut self, at: Point, (width, height): (f64, f64), class: &str) {
        let Point { x, y } = at;
        self.body += &format!(
            "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{width:.1}\" height=\"{height:.1}\" class=\"{class}\"/>\n"
        );
    }

    /// A circle.
    pub fn circle(&mut self, at: Point, radius: f64, class: &str) {
        let Point { x, y } = at;
        self.body +=
            &format!("<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.1}\" class=\"{class}\"/>\n");
    }

    /// A label whose letters stand on the height of the point.
    pub fn text(&mut self, at: Point, anchor: Anchor, class: &str, text: &str) {
        let Point { x, y } = at;
        let side = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " mid",
            Anchor::End => " end",
        };
        self.body += &format!(
            "<text x=\"{x:.1}\" y=\"{y:.1}\" class=\"{class}{side}\">{}</text>\n",
            escaped(text)
        );
    }

    /// A number of the list in its circle, or some in a longer one.
    pub fn pill(&mut self, middle: Point, text: &str) {
        let (width, height) = pill_size(text);
        let Point { x, y } = middle;
        self.body += &format!(
            "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{width:.1}\" height=\"{height:.1}\" rx=\"{:.1}\" class=\"pill\"/>\n",
            x - width / 2.0,
            y - height / 2.0,
            height / 2.0
        );
        self.text(Point::new(x, y + 4.5), Anchor::Middle, "number", text);
    }

    /// The whole element, with what a screen reader says of it. `id` is its own on the page.
    pub fn finish(self, id: &str, class: &str, title: &str, about: &str) -> String {
        let Self { width, height, body } = self;
        format!(
            "<svg class=\"{class}\" viewBox=\"0 0 {width:.0} {height:.0}\" role=\"img\" \
             aria-labelledby=\"{id}-title {id}-about\">\n<title id=\"{id}-title\">{}</title>\n\
             <desc id=\"{id}-about\">{}</desc>\n{body}</svg>\n",
            escaped(title),
            escaped(about)
        )
    }

    /// A drawing in a line of text, of which nothing is to be read aloud.
    pub fn swatch(self) -> String {
        let Self { width, height, body } = self;
        format!(
            "<svg class=\"swatch\" viewBox=\"0 0 {width:.0} {height:.0}\" aria-hidden=\"true\">{body}</svg>"
        )
    }
}

/// Width and height of a pill.
pub fn pill_size(text: &str) -> (f64, f64) {
    (20_f64.max(width_of(text) + 8.0), 20.0)
}

fn steps(points: &[Point]) -> String {
    let mut path = String::new();
    for (step, Point { x, y }) in points.iter().enumerate() {
        let letter = if step == 0 { 'M' } else { 'L' };
        path += &format!("{letter}{x:.1} {y:.1}");
    }
    path
}

/// A drawing as a file of its own.
pub fn alone(drawing: &str) -> String {
    let named = drawing.replacen("<svg ", "<svg xmlns=\"http://www.w3.org/2000/svg\" ", 1);
    let styled = format!("<style>\n{STYLE}svg{{background:var(--paper)}}\n</style>\n<title");
    named.replacen("<title", &styled, 1)
}
