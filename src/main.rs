//! The program: reads its arguments, runs the command, tells how it went.

use std::process::ExitCode;

use clap::Parser as _;
use overside::cli;

fn main() -> ExitCode {
    match cli::run(&cli::Args::parse()) {
        Ok(code) => code.into(),
        Err(error) => {
            error.print();
            cli::ExitCode::Fault.into()
        }
    }
}
