//! Frames as text: the characters, and a run-length digest of their styles.
#![allow(dead_code, reason = "each test uses its part")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on says so")]

use std::fmt::Write as _;

use overside::screen::Screen;
use overside::watch::Picture;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::{Buffer, Cell};
use ratatui::style::{Color, Modifier};

pub fn frame(screen: &Screen, picture: &Picture, (width, height): (u16, u16)) -> Buffer {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    terminal.draw(|frame| screen.draw(frame, picture)).unwrap();
    terminal.backend().buffer().clone()
}

pub fn rows(buffer: &Buffer) -> Vec<String> {
    let width = usize::from(buffer.area.width).max(1);
    let row = |cells: &[Cell]| cells.iter().map(Cell::symbol).collect::<String>();
    buffer.content.chunks(width).map(|cells| row(cells).trim_end().to_owned()).collect()
}

pub fn text(buffer: &Buffer) -> String {
    rows(buffer).join("\n") + "\n"
}

fn hex(color: Color) -> String {
    match color {
        Color::Rgb(r, g, b) => format!("{r:02X}{g:02X}{b:02X}"),
        Color::Reset => "own".to_owned(),
        other => panic!("{other:?} is in no palette"),
    }
}

pub fn style(cell: &Cell) -> String {
    let mut style = format!("{} on {}", hex(cell.fg), hex(cell.bg));
    for (modifier, name) in [
        (Modifier::BOLD, "bold"),
        (Modifier::REVERSED, "reversed"),
        (Modifier::UNDERLINED, "underlined"),
    ] {
        if cell.modifier.contains(modifier) {
            write!(style, " {name}").unwrap();
        }
    }
    style
}

/// Which style each run of cells has: `a80` is a row of 80 in the style `a`, which stands below.
pub fn styles(buffer: &Buffer) -> String {
    let mut known: Vec<String> = Vec::new();
    let mut digest = String::new();
    for row in buffer.content.chunks(usize::from(buffer.area.width).max(1)) {
        for run in row.chunk_by(|a, b| style(a) == style(b)) {
            let name = style(&run[0]);
            let place = known.iter().position(|it| *it == name).unwrap_or_else(|| {
                known.push(name);
                known.len() - 1
            });
            write!(digest, "{}{} ", char::from(b'a' + place as u8), run.len()).unwrap();
        }
        digest.truncate(digest.trim_end().len());
        digest.push('\n');
    }
    for (place, name) in known.iter().enumerate() {
        writeln!(digest, "{} = {name}", char::from(b'a' + place as u8)).unwrap();
    }
    digest
}
