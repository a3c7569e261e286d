//! Datagrams: unicast, broadcast or multicast.

use std::io;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};

use socket2::{Domain, Protocol, Socket, Type};
use tokio::net::UdpSocket;

use super::drops::{self, Drops};
use super::sender::{ArrivalSender, Unheard};
use super::stream::Break;
use crate::wire::{OtherDatagram, Splitter};

/// What the system is asked to keep of a flood until it is read, in bytes; it may give less. Some
/// thousand datagrams, as many as come on loopback while a hundred lines are taken. Our own.
const KEPT: usize = 4 << 20;

/// How many datagrams are read at once, before something else has its turn. Our own.
const AT_ONCE: usize = 4096;

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
    // It is heard with less as well.
    let _ = socket.set_recv_buffer_size(KEPT);
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
    let (mut heard, mut told) = (false, false);
    let mut drops = Drops::of(&socket, sender.clock.now().at);
    loop {
        drops.tell(&socket, sender);
        // Where nothing comes in, nothing wakes it.
        let received = if drops.is_due_alone() {
            let wait = tokio::time::timeout(drops::EVERY, socket.recv(&mut buffer));
            let Ok(received) = wait.await else { continue };
            received
        } else {
            socket.recv(&mut buffer).await
        };
        match received {
            Ok(mut length) => {
                heard = true;
                for left in (0..AT_ONCE).rev() {
                    let whole = &buffer[..length];
                    let other = OtherDatagram::of(whole).map(|it| it.header().as_bytes());
                    let datagram = other.unwrap_or(whole);
                    if let Some(beyond) = beyond(datagram).filter(|_| !told) {
                        told = true;
                        tracing::warn!("{beyond}; it is read all the same");
                    }
                    // Read and dropped at once, or the system would drop those of the muster too.
                    if !sender.is_held_back() || sender.important.holds_any(datagram) {
                        sender.pass_at_once(sender.cut(&mut splitter, datagram)).await?;
                        sender.pass_at_once(sender.rest(&mut splitter)).await?;
                    } else {
                        drops.one();
                    }
                    // An error is met by the wait above.
                    match (left > 0).then(|| socket.try_recv(&mut buffer)) {
                        Some(Ok(more)) => {
                            drops.crowd();
                            length = more;
                        }
                        _ => break,
                    }
                }
                tokio::task::yield_now().await;
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Ok(Break { heard, error: Some(error) }),
        }
    }
}

/// What a datagram has more of than it may have by IEC 61162-450 6.2.4 and B.3: nothing that may be a
/// beacon is dropped for it, but other listeners may drop it.
fn beyond(datagram: &[u8]) -> Option<String> {
    const BYTES: usize = 1472;
    const TAG_BLOCK: usize = 80;
    if datagram.len() > BYTES {
        let bytes = datagram.len();
        return Some(format!("a datagram of {bytes} bytes, more than {BYTES} (IEC 61162-450)"));
    }
    let block = |line: &[u8]| {
        let inside = line.strip_prefix(b"\\")?;
        Some(inside.iter().position(|&byte| byte == b'\\')? + 2)
    };
    let longest = datagram.split(|&byte| byte == b'\n').filter_map(block).max()?;
    (longest > TAG_BLOCK).then(|| {
        format!("a TAG block of {longest} characters, more than {TAG_BLOCK} (IEC 61162-450)")
    })
}

/// Why a socket is lost.
pub(super) fn cause(error: Option<io::Error>) -> String {
    match error {
        Some(error) => format!("the socket failed ({error}; is the network up?)"),
        None => "the socket was closed".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEC 61162-450 ed. 3: datagrams of at most 1,472 bytes, TAG blocks of at most 80 characters
    /// with both of their delimiters.
    #[test]
    fn what_is_beyond_the_bounds_is_named() {
        let tag = |inside: usize| format!("\\{}\\$TIROT,123.45*67\r\n", "x".repeat(inside));
        assert_eq!(beyond(tag(78).as_bytes()), None);
        let long = format!("{}{}", tag(3), tag(79));
        assert!(beyond(long.as_bytes()).unwrap().contains("TAG block of 81 characters"));
        assert_eq!(beyond(&[b'x'; 1472]), None);
        assert!(beyond(&[b'x'; 1473]).unwrap().contains("1473 bytes"));
        assert_eq!(beyond(b"\\no end"), None);
    }
}
