//! What a datagram of IEC 61162-450 carries that is no sentences, by its first six bytes (7.1.1, 7.1.2).
//! Such a datagram is known by them alone, as a line of its own: the rest would be noise.

use std::fmt;

/// A datagram that is known and carries no sentences.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum OtherDatagram {
    /// `RaUdP`: a part of a file.
    File,
    /// `RrUdP`: a part of a file that is sent again if it is lost.
    RepeatableFile,
    /// `NkPgN`: messages of an N2K network.
    N2k,
    /// `RrTcP`: a part of a file that was meant for TCP.
    TcpFile,
}

impl OtherDatagram {
    const ALL: [Self; 4] = [Self::File, Self::RepeatableFile, Self::N2k, Self::TcpFile];

    /// What begins like this; `None` for sentences and for what is not known.
    pub fn of(bytes: &[u8]) -> Option<Self> {
        Self::ALL.into_iter().find(|it| bytes.starts_with(it.header().as_bytes()))
    }

    /// Its first six bytes.
    pub const fn header(self) -> &'static str {
        match self {
            Self::File => "RaUdP\0",
            Self::RepeatableFile => "RrUdP\0",
            Self::N2k => "NkPgN\0",
            Self::TcpFile => "RrTcP\0",
        }
    }
}

/// `N2K messages (NkPgN)`.
impl fmt::Display for OtherDatagram {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = if *self == Self::N2k { "N2K messages" } else { "files" };
        write!(f, "{what} ({})", self.header().trim_end_matches('\0'))
    }
}
