//! What may be an input: what is given, the serial ports, and where sentences come by network.

use std::fs;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};

use crate::edge::{InputUri, Port, ports};

/// Where instruments and other programs send datagrams: common practice, no source.
const UDP_PORTS: [u16; 3] = [10_110, 2_000, 4_001];

/// The groups N of IEC 61162-450 table 4 from 1 on: to 239.192.0.N at port 60000 + N.
const GROUPS: [&str; 8] = ["MISC", "TGTD", "SATD", "NAVD", "VDRD", "RCOM", "TIME", "PROP"];

/// Something that may be an input.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Candidate {
    /// Its name in the configuration, if it is there.
    pub name: Option<String>,
    /// Where it is. The rate of a serial port that was found is no one's wish.
    pub uri: InputUri,
    /// The serial port that it is, if it was found as one.
    pub port: Option<Port>,
    /// The group of IEC 61162-450 that it is.
    pub group: Option<&'static str>,
    /// It was given by hand or by the configuration, and so is told of though it says nothing.
    pub given: bool,
}

impl Candidate {
    /// One that nobody has named.
    pub(super) fn of(uri: InputUri) -> Self {
        Self { name: None, uri, port: None, group: None, given: false }
    }
}

/// What is given, by the configuration with a name, and whatever else there may be: the serial ports
/// under the folder `root`, `/` but in tests; by network if it is looked at. Each once.
pub fn candidates(
    given: Vec<(Option<String>, InputUri)>,
    root: &Path,
    network: bool,
) -> Vec<Candidate> {
    let mut all: Vec<Candidate> = Vec::new();
    for (name, uri) in given {
        if !all.iter().any(|it| it.uri == uri) {
            all.push(Candidate { name, given: true, ..Candidate::of(uri) });
        }
    }
    for port in ports(root) {
        let real = real(&port.path);
        let is_it = |it: &&mut Candidate| matches!(&it.uri, InputUri::Serial { path, .. } if self::real(Path::new(path)) == real);
        if let Some(known) = all.iter_mut().find(is_it) {
            known.port = Some(port);
            continue;
        }
        all.extend(of_port(port));
    }
    let any = |port| SocketAddr::from((Ipv4Addr::UNSPECIFIED, port));
    let ports = UDP_PORTS.into_iter().map(|port| Candidate::of(InputUri::Udp(any(port))));
    for new in ports.chain(groups()).filter(|_| network) {
        let InputUri::Udp(address) = new.uri else { continue };
        match all.iter_mut().find(|it| is_heard_there(&it.uri, address)) {
            Some(known) => known.group = known.group.or(new.group),
            None => all.push(new),
        }
    }
    all
}

/// A serial port that was found; `None` if its path is no text.
pub(super) fn of_port(port: Port) -> Option<Candidate> {
    let path = port.path.to_str()?.to_owned();
    let uri = InputUri::Serial { path, baud: 38_400 };
    Some(Candidate { port: Some(port), ..Candidate::of(uri) })
}

/// The groups of IEC 61162-450.
pub(super) fn groups() -> impl Iterator<Item = Candidate> {
    (1..).zip(GROUPS).map(|(n, group): (u8, _)| {
        let address = SocketAddr::from((Ipv4Addr::new(239, 192, 0, n), 60_000 + u16::from(n)));
        Candidate { group: Some(group), ..Candidate::of(InputUri::Udp(address)) }
    })
}

/// Whether an input listens where another would: two at one port are in each other's way.
fn is_heard_there(uri: &InputUri, address: SocketAddr) -> bool {
    matches!(uri, InputUri::Udp(known) if known.port() == address.port()
        && (!known.ip().is_multicast() || known.ip() == address.ip()))
}

fn real(path: &Path) -> PathBuf {
    fs::canonicalize(path).unwrap_or_else(|_| path.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_place_is_looked_at_once() {
        let root = Path::new("/nowhere");
        let of = |given: &[&str]| {
            let given = given.iter().map(|uri| (None, uri.parse().unwrap()));
            candidates(given.collect(), root, true)
        };
        let uris = |given: &[&str]| -> Vec<String> {
            of(given).iter().map(|it| it.uri.to_string()).collect()
        };
        let all = uris(&[]);
        assert_eq!(all.len(), 11);
        assert_eq!(all[0], "udp://0.0.0.0:10110");
        assert!(all.contains(&"udp://239.192.0.2:60002".to_owned()), "{all:?}");
        let ais = of(&["udp://239.192.0.2:60002"]);
        assert_eq!((ais.len(), ais[0].group, ais[0].given), (11, Some("TGTD"), true));
        // One address of this computer is in the way of all of them.
        assert_eq!(uris(&["udp://127.0.0.1:10110", "udp://127.0.0.1:10110"]).len(), 11);
        assert_eq!(candidates(Vec::new(), root, false), []);
    }
}
