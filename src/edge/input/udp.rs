//! Datagrams: unicast, broadcast or multicast.

use std::io;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};

use socket2::{Domain, Protocol, Socket, Type};
use tokio::net::UdpSocket;

use super::sender::{ArrivalSender, Unheard};
use super::stream::Break;
use crate::wire::Splitter;

/// No datagram is longer.
const LONGEST: usize = 65_535;

/// Binds the socket; a multicast group is joined on the interface that the routes give.
///
/// The address may be shared: several programs hear the same broadcast or multicast. Unicast
/// datagrams reach the program that came last.
///
/// # Errors
/// Why it cannot be opened, and what to look at.
pub(super) fn open(address: SocketAddr) -> Result<UdpSocket, String> {
    bind(address).map_err(|error| {
        let advice = match error.kind() {
            io::ErrorKind::AddrInUse => "does another program keep this port for itself?",
            io::ErrorKind::PermissionDenied => "ports below 1024 are the system's; take another",
            _ if address.ip().is_multicast() => "is the network up, and has the group a route?",
            _ => "is it an address of this computer, and is the network up?",
        };
        format!("it cannot be opened ({error}; {advice})")
    })
}

fn bind(address: SocketAddr) -> io::Result<UdpSocket> {
    let socket = Socket::new(Domain::for_address(address), Type::DGRAM, Some(Protocol::UDP))?;
    socket.set_reuse_address(true)?;
    socket.set_broadcast(true)?;
    socket.set_nonblocking(true)?;
    match address.ip() {
        // Bound to any address, not to the group: broadcast to the same port is heard as well.
        IpAddr::V4(group) if group.is_multicast() => {
            socket.bind(&SocketAddr::from((Ipv4Addr::UNSPECIFIED, address.port())).into())?;
            socket.join_multicast_v4(&group, &Ipv4Addr::UNSPECIFIED)?;
        }
        IpAddr::V6(group) if group.is_multicast() => {
            socket.bind(&SocketAddr::from((Ipv6Addr::UNSPECIFIED, address.port())).into())?;
            socket.join_multicast_v6(&group, 0)?;
        }
        _ => socket.bind(&address.into())?,
    }
    UdpSocket::from_std(socket.into())
}

/// Passes on every line of every datagram until the socket fails. The end of a datagram ends a
/// line.
pub(super) async fn listen(socket: UdpSocket, sender: &ArrivalSender) -> Result<Break, Unheard> {
    let mut splitter = Splitter::new();
    let mut buffer = vec![0; LONGEST];
    let mut heard = false;
    loop {
        match socket.recv(&mut buffer).await {
            Ok(length) => {
                heard = true;
                sender.pass(sender.cut(&mut splitter, &buffer[..length])).await?;
                sender.pass(sender.rest(&mut splitter)).await?;
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Ok(Break { heard, error: Some(error) }),
        }
    }
}

/// Why a socket is lost.
pub(super) fn cause(error: Option<io::Error>) -> String {
    match error {
        Some(error) => format!("the socket failed ({error}; is the network up?)"),
        None => "the socket was closed".to_owned(),
    }
}
