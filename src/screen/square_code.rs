//! A text as a square code that a camera reads (ISO/IEC 18004), in half blocks.

use qrcodegen::{QrCode, QrCodeEcc};

/// So many light squares are around it (ISO/IEC 18004 asks for four; two do, from practice).
const MARGIN: i32 = 2;

/// The rows of the code, two of its squares above each other in a character: what is light in it is
/// drawn, what is dark is left, for a dark background. Empty if the text is too long for any.
pub fn square_code(text: &str) -> Vec<String> {
    let Ok(code) = QrCode::encode_text(text, QrCodeEcc::Low) else { return Vec::new() };
    let range = -MARGIN..code.size() + MARGIN;
    let row = |y: i32| {
        let square = |x| match (code.get_module(x, y), code.get_module(x, y + 1)) {
            (false, false) => '█',
            (false, true) => '▀',
            (true, false) => '▄',
            (true, true) => ' ',
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
        let rows = square_code("http://192.168.1.5:8010/#004217");
        assert_eq!(rows.len(), 15);
        assert!(rows.iter().all(|row| row.chars().count() == 29), "{rows:#?}");
        assert_eq!(rows[0], "█".repeat(29));
        assert!(square_code(&"long".repeat(1000)).is_empty());
    }
}
