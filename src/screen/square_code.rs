//! A text as a square code that a camera reads (ISO/IEC 18004), in half blocks.

use qrcodegen::{QrCode, QrCodeEcc};

/// So many light squares are around it (ISO/IEC 18004 asks for four; two do, from practice).
const MARGIN: i32 = 2;

/// The rows of the code, two of its squares above each other in a character. On a dark background
/// what is light in it is drawn, on a light one what is dark. Empty if the text is too long for any.
pub fn square_code(text: &str, on_dark: bool) -> Vec<String> {
    let Ok(code) = QrCode::encode_text(text, QrCodeEcc::Low) else { return Vec::new() };
    let range = -MARGIN..code.size() + MARGIN;
    let row = |y: i32| {
        let drawn = |x, y| code.get_module(x, y) != on_dark;
        let square = |x| match (drawn(x, y), drawn(x, y + 1)) {
            (true, true) => '█',
            (true, false) => '▀',
            (false, true) => '▄',
            (false, false) => ' ',
        };
        range.clone().map(square).collect()
    };
    range.clone().step_by(2).map(row).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_square_and_has_a_light_margin() {
        let text = "http://192.168.1.5:8010/#004217";
        let rows = square_code(text, true);
        assert_eq!(rows.len(), 15);
        assert!(rows.iter().all(|row| row.chars().count() == 29), "{rows:#?}");
        assert_eq!(rows[0], "█".repeat(29));
        assert_eq!(square_code(text, false)[0], " ".repeat(29));
        assert!(square_code(&"long".repeat(1000), true).is_empty());
    }
}
