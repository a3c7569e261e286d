//! `overside watch`: the live watch.

/// What the live watch is told.
#[derive(Debug, clap::Args)]
pub struct WatchArgs {
    /// No screen: print events on standard output
    #[arg(long)]
    pub headless: bool,
    /// Read this input: serial:PATH?baud=N, udp://HOST:PORT, tcp://HOST:PORT, file:PATH, or - for
    /// standard input; may be given several times
    #[arg(long, value_name = "URI")]
    pub input: Vec<String>,
}
