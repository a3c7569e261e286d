//! The man pages and the completions, written from the definitions by which the program reads its
//! arguments: `cargo run --example pages -- FOLDER`.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Command, CommandFactory as _};
use clap_complete::Shell;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, bold, roman};
use overside::cli::Args;

/// What no definition of an argument says: sections of `overside(1)`, each a list of terms.
const FURTHER: &[(&str, &[(&str, &str)])] = &[
    (
        "EXIT STATUS",
        &[
            ("0", "Done. A self-test was proven; everyone of the muster is ready."),
            ("1", "Done, with a finding: a test not received, something due, lines rejected."),
            ("2", "Not done: wrong arguments, a wrong configuration, a file that cannot be read."),
            ("3", "A beacon was heard ACTIVE during what should have been a test."),
        ],
    ),
    (
        "FILES",
        &[
            ("./overside.toml, ~/.config/overside/overside.toml", "The configuration."),
            ("~/.local/share/overside", "The logbook and the recordings."),
            ("/etc/overside/overside.toml", "The configuration of the service."),
            ("/var/lib/overside", "The logbook and the recordings of the service."),
            ("/usr/share/doc/overside", "The manual: begin with README.md."),
        ],
    ),
];

/// Writes the page of every command into `man/` and the completions of three shells into
/// `completions/`, under the names by which a Debian system finds them.
///
/// # Errors
/// What kept a file from being written.
pub fn write(folder: &Path) -> io::Result<()> {
    let man = folder.join("man");
    fs::create_dir_all(&man)?;
    let mut program = Args::command();
    program.build();
    write_page(&program, &man, None)?;
    let completions = folder.join("completions");
    fs::create_dir_all(&completions)?;
    for (shell, file) in
        [(Shell::Bash, "overside"), (Shell::Zsh, "_overside"), (Shell::Fish, "overside.fish")]
    {
        let mut text = Vec::new();
        clap_complete::generate(shell, &mut Args::command(), "overside", &mut text);
        fs::write(completions.join(file), text)?;
    }
    Ok(())
}

/// The page of a command and those of the commands under it.
fn write_page(command: &Command, folder: &Path, above: Option<&str>) -> io::Result<()> {
    let page =
        Man::new(command.clone()).date(" ").source(concat!("overside ", env!("CARGO_PKG_VERSION")));
    let file = page.get_filename();
    let name = file.trim_end_matches(".1");
    let mut text = Vec::new();
    page.render(&mut text)?;
    let mut end = Roff::new();
    for (section, terms) in FURTHER.iter().filter(|_| above.is_none()) {
        end.control("SH", [*section]);
        for (term, meaning) in *terms {
            end.control("TP", []);
            end.text([bold(*term)]);
            end.text([roman(*meaning)]);
        }
    }
    if let Some(above) = above {
        end.control("SH", ["SEE ALSO"]);
        end.text([bold(above), roman("(1)")]);
    }
    end.to_writer(&mut text)?;
    fs::write(folder.join(&file), text)?;
    command.get_subcommands().try_for_each(|below| write_page(below, folder, Some(name)))
}

#[allow(dead_code, reason = "a test writes the pages itself")]
fn main() -> ExitCode {
    let Some(folder) = std::env::args_os().nth(1).map(PathBuf::from) else {
        eprintln!("usage: cargo run --example pages -- FOLDER");
        return ExitCode::from(2);
    };
    match write(&folder) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("{}: {why}", folder.display());
            ExitCode::FAILURE
        }
    }
}
