/// A row of the one table of all benches: what was measured, the figure, and what stands beside it.
pub fn row(what: &str, figure: &str, beside: &str) {
    println!("{what:<50}{figure:>24}  {beside}");
}
