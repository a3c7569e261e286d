//! Ranges, bearings and variations for whoever wants to check them against another library: reads
//! lines of `lat lon lat lon day` from standard input and answers each with
//! `range_m bearing_deg lat lon variation_deg`, where the place is reached from the first one by that
//! range and bearing, and the variation is that of the first place.
//!
//! ```text
//! echo "50 -5 50.01 -4.9 2026-07-02" | cargo run --example geodesics
//! ```

use std::io::{self, BufRead as _, Write as _};

use overside::navigation::{Position, destination, range_and_bearing, variation};
use overside::time::Utc;

fn answer(line: &str) -> Option<String> {
    let mut words = line.split_whitespace();
    let mut number = || words.next()?.parse::<f64>().ok();
    let from = Position::new(number()?, number()?)?;
    let to = Position::new(number()?, number()?)?;
    let day = Utc::parse_rfc3339(&format!("{}T00:00:00Z", words.next()?))?;
    let (range, bearing) = range_and_bearing(from, to);
    let back = destination(from, bearing, range);
    let variation = variation(from, day).map_or("-".to_owned(), |degrees| format!("{degrees:.6}"));
    let (metres, degrees) = (range.metres(), bearing.value());
    Some(format!("{metres:.9} {degrees:.12} {:.12} {:.12} {variation}", back.lat(), back.lon()))
}

fn main() -> io::Result<()> {
    let mut output = io::BufWriter::new(io::stdout().lock());
    for line in io::stdin().lock().lines() {
        writeln!(output, "{}", answer(&line?).unwrap_or_else(|| "not understood".to_owned()))?;
    }
    output.flush()
}
