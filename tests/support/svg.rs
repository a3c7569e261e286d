//! A frame as a picture: one SVG without anything from elsewhere.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

use std::fmt::Write as _;

use ratatui::buffer::{Buffer, Cell};
use ratatui::style::{Color, Modifier};

/// A cell in pixels.
const WIDE: usize = 10;
const HIGH: usize = 20;

fn hex(color: Color) -> String {
    match color {
        Color::Rgb(r, g, b) => format!("#{r:02x}{g:02x}{b:02x}"),
        other => panic!("{other:?} has no colour of its own"),
    }
}

/// The buffer as SVG: a ground for each run of one colour, then what stands on it. Blocks and lines
/// are drawn, so that no font leaves gaps in them.
pub fn svg(buffer: &Buffer, title: &str) -> String {
    let (columns, rows) = (usize::from(buffer.area.width), usize::from(buffer.area.height));
    let (width, height) = (columns * WIDE, rows * HIGH);
    // The keys stand on the plain ground.
    let plain = buffer.content.last().map_or(String::new(), |cell| hex(cell.bg));
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" \
         font-family=\"monospace\" font-size=\"16.6\" shape-rendering=\"crispEdges\">\n\
         <title>{}</title>\n<rect width=\"{width}\" height=\"{height}\" fill=\"{plain}\"/>\n",
        escaped(title)
    );
    for (row, cells) in buffer.content.chunks(columns).enumerate() {
        let mut column = 0;
        for run in cells.chunk_by(|a, b| a.bg == b.bg) {
            let (x, y, wide) = (column * WIDE, row * HIGH, run.len() * WIDE);
            let ground = hex(run[0].bg);
            if ground != plain {
                writeln!(
                    out,
                    "<rect x=\"{x}\" y=\"{y}\" width=\"{wide}\" height=\"{HIGH}\" \
                     fill=\"{ground}\"/>"
                )
                .unwrap();
            }
            column += run.len();
        }
    }
    for (row, cells) in buffer.content.chunks(columns).enumerate() {
        let mut column = 0;
        let alike = |a: &Cell, b: &Cell| {
            (a.fg, a.modifier, shape(a).is_some()) == (b.fg, b.modifier, shape(b).is_some())
        };
        for run in cells.chunk_by(alike) {
            match shape(&run[0]) {
                Some(_) => shapes(&mut out, row, column, run),
                None => text(&mut out, row, column, run),
            }
            column += run.len();
        }
    }
    out + "</svg>\n"
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

/// Text, held to its columns whatever the font.
fn text(out: &mut String, row: usize, column: usize, run: &[Cell]) {
    let whole: String = run.iter().map(Cell::symbol).collect();
    let trimmed = whole.trim();
    if trimmed.is_empty() {
        return;
    }
    let before = whole.chars().take_while(|c| *c == ' ').count();
    let (x, y) = ((column + before) * WIDE, row * HIGH + 15);
    let (length, fill) = (trimmed.chars().count() * WIDE, hex(run[0].fg));
    let bold = run[0].modifier.contains(Modifier::BOLD);
    let weight = if bold { " font-weight=\"bold\"" } else { "" };
    writeln!(
        out,
        "<text x=\"{x}\" y=\"{y}\" textLength=\"{length}\" lengthAdjust=\"spacingAndGlyphs\" \
         fill=\"{fill}\"{weight} xml:space=\"preserve\">{}</text>",
        escaped(trimmed)
    )
    .unwrap();
}

/// The rectangles of a block or line character, in the pixels of its cell: x, y, width, height.
fn shape(cell: &Cell) -> Option<Vec<[usize; 4]>> {
    const X: usize = WIDE / 2;
    const Y: usize = HIGH / 2;
    let (left, right) = ([0, Y, X + 1, 1], [X, Y, WIDE - X, 1]);
    let (up, down) = ([X, 0, 1, Y], [X, Y, 1, HIGH - Y]);
    Some(match cell.symbol() {
        "█" => vec![[0, 0, WIDE, HIGH]],
        "▂" => vec![[1, HIGH * 3 / 4, WIDE - 2, HIGH / 4]],
        "▃" => vec![[1, HIGH * 5 / 8, WIDE - 2, HIGH * 3 / 8]],
        "▅" => vec![[1, HIGH * 3 / 8, WIDE - 2, HIGH * 5 / 8]],
        "▆" => vec![[1, HIGH / 4, WIDE - 2, HIGH * 3 / 4]],
        "─" => vec![left, right],
        "│" => vec![up, down],
        "┌" => vec![right, down],
        "┐" => vec![left, down],
        "└" => vec![right, up],
        "┘" => vec![left, up],
        _ => return None,
    })
}

/// Neighbours that are alike and reach from edge to edge are one rectangle.
fn shapes(out: &mut String, row: usize, column: usize, run: &[Cell]) {
    let fill = hex(run[0].fg);
    let mut place = column;
    for same in run.chunk_by(|a, b| a.symbol() == b.symbol()) {
        let across = matches!(same[0].symbol(), "█" | "─");
        for at in (0..same.len()).take(if across { 1 } else { same.len() }) {
            for [dx, dy, wide, high] in shape(&same[0]).unwrap() {
                let wide = if across { same.len() * WIDE } else { wide };
                let dx = if across { 0 } else { dx };
                let (x, y) = ((place + at) * WIDE + dx, row * HIGH + dy);
                writeln!(
                    out,
                    "<rect x=\"{x}\" y=\"{y}\" width=\"{wide}\" height=\"{high}\" fill=\"{fill}\"/>"
                )
                .unwrap();
                if across {
                    break;
                }
            }
        }
        place += same.len();
    }
}
