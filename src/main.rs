//! The program: reads its arguments, runs the command, tells how it went.

use std::process::ExitCode;

use clap::Parser as _;
use overside::cli;

fn main() -> ExitCode {
    let args = match cli::Args::try_parse() {
        Ok(args) => args,
        Err(why) => match cli::wrong_arguments(&why) {
            Some(error) => {
                error.print();
                return cli::ExitCode::Fault.into();
            }
            None => why.exit(),
        },
    };
    match cli::run(&args) {
        Ok(code) => code.into(),
        Err(error) => {
            error.print();
            cli::ExitCode::Fault.into()
        }
    }
}
