//! How an output is named in the configuration.

use std::fmt;
use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
use std::str::FromStr;

use crate::edge::input::is_name;
use crate::edge::{Broker, InputUri};

/// Where sentences go. Printed, it reads back as the same output.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum OutputUri {
    /// `file:PATH`: added at the end of a file.
    File(PathBuf),
    /// `mqtt://HOST[:PORT]/overside/STATION`, `mqtts://…`: published at a broker as what this station
    /// says.
    Mqtt(Box<Broker>),
    /// `serial:PATH?baud=N`: a serial port, as of an input; 38 400 bits a second unless given.
    Serial {
        /// The port's device.
        path: String,
        /// Bits per second: 4 800 is usual for older displays.
        baud: u32,
    },
    /// `tcp-listen://ADDRESS:PORT`: whoever connects there gets all from then on.
    TcpListen(SocketAddr),
    /// `udp://ADDRESS:PORT`: datagrams to an address, a broadcast address or a multicast group.
    Udp(SocketAddr),
}

impl OutputUri {
    /// Whether other stations are told there.
    pub const fn is_broker(&self) -> bool {
        matches!(self, Self::Mqtt(_))
    }

    /// Whether nothing that is sent there leaves this computer. A serial port always does: a
    /// transponder or a radio may hang on it. So does a group, and every address but loopback.
    pub const fn is_this_computer(&self) -> bool {
        match self {
            Self::File(_) => true,
            // A broker passes on to whoever asks.
            Self::Mqtt(_) | Self::Serial { .. } => false,
            Self::TcpListen(address) | Self::Udp(address) => match address.ip() {
                IpAddr::V4(ip) => ip.is_loopback(),
                IpAddr::V6(ip) => ip.is_loopback(),
            },
        }
    }
}

/// A text that names no output.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "{uri:?} is no output ({fault}): write udp://192.0.2.255:10110, udp://239.192.0.2:60002, \
     tcp-listen://0.0.0.0:10110, mqtt://192.0.2.10/overside/STATION, \
     serial:/dev/ttyUSB1?baud=38400 or file:PATH"
)]
pub struct BadOutputUri {
    /// The text.
    pub uri: String,
    /// What is wrong with it.
    pub fault: String,
}

impl FromStr for OutputUri {
    type Err = BadOutputUri;

    fn from_str(uri: &str) -> Result<Self, BadOutputUri> {
        if let Some((scheme @ ("mqtt" | "mqtts"), rest)) = uri.split_once("://") {
            return station(rest, scheme == "mqtts").map_err(|fault| {
                let shown = uri.rsplit_once('@').map_or(uri, |(_, place)| place);
                BadOutputUri { uri: shown.to_owned(), fault }
            });
        }
        // What inputs have too is written in the same way.
        let (kind, same) = match uri.strip_prefix("tcp-listen://") {
            Some(address) => {
                (Self::TcpListen as fn(SocketAddr) -> Self, format!("udp://{address}"))
            }
            None => (Self::Udp as fn(SocketAddr) -> Self, uri.to_owned()),
        };
        let bad = |fault: String| BadOutputUri { uri: uri.to_owned(), fault };
        match same.parse::<InputUri>().map_err(|why| bad(why.fault.to_string()))? {
            InputUri::Udp(address) => Ok(kind(address)),
            InputUri::File(path) => Ok(Self::File(path)),
            InputUri::Serial { path, baud } => Ok(Self::Serial { path, baud }),
            InputUri::Tcp { .. } => {
                Err(bad("displays connect to this program: it is tcp-listen".to_owned()))
            }
            InputUri::Mqtt(_) | InputUri::Stdin | InputUri::ThroughWatch(_) => {
                Err(bad("it begins with none of the kinds of output".to_owned()))
            }
        }
    }
}

/// A broker, and the topic of one station.
fn station(rest: &str, tls: bool) -> Result<OutputUri, String> {
    let broker = Broker::parse(rest, tls, "").map_err(|why| why.to_string())?;
    let station = broker.topic.rsplit('/').next().unwrap_or_default();
    if station.is_empty() || broker.topic.contains(['+', '#']) {
        return Err("it does not name the station: mqtt://HOST/overside/STATION".to_owned());
    }
    // A watch would take its lines as the broker's own.
    if !is_name(station) {
        let fault = "a station is called by 1 to 32 letters, digits, spaces, -, _ or .";
        return Err(fault.to_owned());
    }
    Ok(OutputUri::Mqtt(Box::new(broker)))
}

impl fmt::Display for OutputUri {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(path) => write!(f, "file:{}", path.display()),
            Self::Mqtt(broker) => broker.fmt(f),
            Self::Serial { path, baud } => write!(f, "serial:{path}?baud={baud}"),
            Self::TcpListen(address) => write!(f, "tcp-listen://{address}"),
            Self::Udp(address) => write!(f, "udp://{address}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_reads_and_prints_back() {
        for (uri, stays) in [
            ("udp://192.0.2.255:10110", false),
            ("udp://239.192.0.2:60002", false),
            ("udp://127.0.0.1:10111", true),
            ("tcp-listen://0.0.0.0:10110", false),
            ("tcp-listen://[::1]:10110", true),
            ("serial:/dev/ttyUSB1?baud=4800", false),
            ("file:heard.nmea", true),
            ("mqtt://127.0.0.1:1883/overside/pier?spool=/tmp/unsent", false),
        ] {
            let parsed: OutputUri = uri.parse().unwrap();
            assert_eq!(parsed.to_string(), uri);
            assert_eq!(parsed.is_this_computer(), stays, "{uri}");
        }
        for (uri, fault) in [
            ("tcp://192.0.2.1:10110", "it is tcp-listen"),
            ("-", "none of the kinds"),
            ("tcp-listen://plotter:10110", "no IP address"),
            ("udp://192.0.2.1", "a port"),
            ("mqtt://192.0.2.1", "name the station"),
            ("mqtt://192.0.2.1/overside/+", "name the station"),
            ("mqtt://192.0.2.1/overside/a$b", "1 to 32 letters"),
            (&format!("mqtt://192.0.2.1/overside/{}", "x".repeat(33)), "1 to 32 letters"),
        ] {
            let why = uri.parse::<OutputUri>().unwrap_err().to_string();
            assert!(why.contains(fault), "{why}");
        }
    }
}
