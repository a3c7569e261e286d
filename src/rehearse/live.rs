//! Where a rehearsal may be played live, and where never.

use std::net::{IpAddr, SocketAddr};

use super::Scenario;
use crate::mmsi::Mmsi;

/// Where lines go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Destination {
    /// A pseudo-terminal of this computer, which a program opens like a serial port.
    PseudoTerminal,
    /// Datagrams to an address.
    Udp(SocketAddr),
}

/// Why a rehearsal is not played.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// The address is not one of this computer alone.
    #[error(
        "{0} is not this computer alone, and what is sent there is a network's: other displays on \
         it would raise a real alarm"
    )]
    Network(SocketAddr),
    /// Identities that real beacons may have, to a network.
    #[error(
        "{} may be a real beacon's identity, and other displays on the network cannot know that \
         this is a rehearsal", listed(.0)
    )]
    ForeignOnNetwork(Vec<Mmsi>),
    /// Identities that real beacons may have, and nothing in the scenario says that this is meant.
    #[error("{} may be a real beacon's identity", listed(.0))]
    Foreign(Vec<Mmsi>),
}

impl Refusal {
    /// What to do next.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Network(_) => {
                "play to udp://127.0.0.1:10110; or, when everybody who is on that network knows, \
                 add --to-network"
            }
            Self::ForeignOnNetwork(_) => {
                "give the beacons identities with manufacturer code 00: 972 00 yyyy"
            }
            Self::Foreign(_) => {
                "give the beacons identities with manufacturer code 00: 972 00 yyyy; or write \
                 `real_identities = true` into the scenario, for this computer alone"
            }
        }
    }
}

impl Destination {
    /// Whether only this computer can hear it: loopback is 127.0.0.0/8 and ::1 (RFC 6890).
    /// Broadcast, multicast and the unspecified address are not.
    pub fn is_this_computer(self) -> bool {
        match self {
            Self::PseudoTerminal => true,
            Self::Udp(address) => match address.ip() {
                IpAddr::V4(ip) => ip.is_loopback(),
                IpAddr::V6(ip) => ip.is_loopback(),
            },
        }
    }

    /// Whether a scenario may be played here; `to_network` is the word of whoever asked.
    ///
    /// # Errors
    /// Why not.
    pub fn admits(self, scenario: &Scenario, to_network: bool) -> Result<(), Refusal> {
        let foreign = scenario.foreign_identities();
        match self {
            Self::Udp(address) if !self.is_this_computer() => {
                if !to_network {
                    return Err(Refusal::Network(address));
                }
                if !foreign.is_empty() {
                    return Err(Refusal::ForeignOnNetwork(foreign));
                }
            }
            _ if !foreign.is_empty() && !scenario.allows_real_identities() => {
                return Err(Refusal::Foreign(foreign));
            }
            _ => {}
        }
        Ok(())
    }
}

fn listed(identities: &[Mmsi]) -> String {
    let texts: Vec<String> = identities.iter().map(Mmsi::to_string).collect();
    texts.join(", ")
}
