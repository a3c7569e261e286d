//! How the program ends.

/// What the exit code tells a script.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum ExitCode {
    /// Done. A self-test was proven; everyone of the muster is ready.
    Done = 0,
    /// Done, with a finding: a self-test heard in part or not at all, something of the muster due,
    /// lines rejected by `decode --strict`.
    Finding = 1,
    /// Could not do it: bad arguments, bad configuration, a file that cannot be read.
    Fault = 2,
    /// A beacon was heard ACTIVE during what should have been a test.
    HeardActive = 3,
}

impl From<ExitCode> for std::process::ExitCode {
    fn from(code: ExitCode) -> Self {
        Self::from(code as u8)
    }
}
