//! Reads the large numbers off a frame, by shapes of its own.

use ratatui::buffer::Buffer;

/// Rows of dots of 0 to 9, the point and the brackets.
const SHAPES: [(char, [&str; 5]); 13] = [
    ('0', ["###", "#.#", "#.#", "#.#", "###"]),
    ('1', [".#.", "##.", ".#.", ".#.", "###"]),
    ('2', ["###", "..#", "###", "#..", "###"]),
    ('3', ["###", "..#", ".##", "..#", "###"]),
    ('4', ["#.#", "#.#", "###", "..#", "..#"]),
    ('5', ["###", "#..", "###", "..#", "###"]),
    ('6', ["###", "#..", "###", "#.#", "###"]),
    ('7', ["###", "..#", ".#.", ".#.", ".#."]),
    ('8', ["###", "#.#", "###", "#.#", "###"]),
    ('9', ["###", "#.#", "###", "..#", "###"]),
    ('.', [".", ".", ".", ".", "#"]),
    ('[', ["##", "#.", "#.", "#.", "##"]),
    (']', ["##", ".#", ".#", ".#", "##"]),
];

/// Whether a number stands somewhere on the frame, at any size.
pub fn reads(buffer: &Buffer, number: &str) -> bool {
    let sizes = [(4, 2), (3, 2), (2, 2), (2, 1), (1, 1)];
    sizes.iter().any(|&(wide, tall)| {
        let dots = rows_of(number, wide, tall);
        let (width, height) = (usize::from(buffer.area.width), usize::from(buffer.area.height));
        let (columns, rows) = (dots[0].len(), dots.len());
        if columns > width || rows > height {
            return false;
        }
        let full = |x: usize, y: usize| matches!(buffer.content[y * width + x].symbol(), "█" | "#");
        (0..=height - rows).any(|y| {
            (0..=width - columns).any(|x| {
                dots.iter().enumerate().all(|(dy, row)| {
                    row.iter().enumerate().all(|(dx, dot)| full(x + dx, y + dy) == *dot)
                })
            })
        })
    })
}

fn rows_of(number: &str, wide: usize, tall: usize) -> Vec<Vec<bool>> {
    let mut rows = vec![Vec::new(); 5 * tall];
    for (place, c) in number.chars().enumerate() {
        let shape = SHAPES.iter().find(|(it, _)| *it == c).unwrap().1;
        for (y, row) in rows.iter_mut().enumerate() {
            if place > 0 {
                row.push(false);
            }
            for dot in shape[y / tall].chars() {
                row.extend(std::iter::repeat_n(dot == '#', wide));
            }
        }
    }
    rows
}
