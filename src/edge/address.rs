//! The parts of an address that several kinds of input and output have, and what may be wrong with it.

/// The variable of the environment in which the password for a broker is looked for, if no file is
/// named.
pub const PASSWORD: &str = "OVERSIDE_MQTT_PASSWORD";

/// What is wrong with the name of an input.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum UriFault {
    /// The bit rate is no number from 1 up.
    #[error("baud={0} is no bit rate")]
    BadBaud(String),
    /// The port after the last colon is missing or no number from 1 to 65 535.
    #[error("it does not end with a colon and a port from 1 to 65535")]
    BadPort,
    /// A password would be shown and written down with the address.
    #[error(
        "a password does not stand in it: write USER@HOST and password_file=PATH, or set {}",
        PASSWORD
    )]
    Password,
    /// A broker's setting that does not exist.
    #[error(
        "{0:?} is no setting of a broker; there are password_file=, ca=, client=, and spool= of an output"
    )]
    UnknownBrokerSetting(String),
    /// The topic is none of stations' lines.
    #[error("its topic does not end with STATION/heard, such as overside/+/heard")]
    BadTopic,
    /// An IPv6 address without its brackets, or brackets around something else.
    #[error("an IPv6 address, and nothing else, stands in brackets: [::1]:10110")]
    Brackets,
    /// Nothing where the path or the host belongs.
    #[error("there is no path or host in it")]
    Empty,
    /// Datagrams are received at an address, not at a name.
    #[error("{0:?} is no IP address; datagrams are received at an address of this computer")]
    NotAnAddress(String),
    /// A port's setting that does not exist.
    #[error("{0:?} is no setting of a serial port; there is baud=N alone")]
    UnknownSetting(String),
    /// It begins with no kind of input.
    #[error("it begins with none of the kinds of input")]
    UnknownKind,
}

/// A host and a port, as `HOST:PORT`; an IPv6 address loses its brackets.
pub(super) fn host_and_port(rest: &str) -> Result<(&str, u16), UriFault> {
    let (host, port) = rest.rsplit_once(':').ok_or(UriFault::BadPort)?;
    let port = port.parse().ok().filter(|&port| port != 0).ok_or(UriFault::BadPort)?;
    let bare = host.strip_prefix('[').and_then(|host| host.strip_suffix(']'));
    match bare {
        Some(bare) if bare.parse::<std::net::Ipv6Addr>().is_ok() => Ok((bare, port)),
        None if host.is_empty() => Err(UriFault::Empty),
        None if !host.contains([':', '[', ']', '/']) => Ok((host, port)),
        _ => Err(UriFault::Brackets),
    }
}
