//! Datagrams, one a message: to an address, to all of a network, to a group.

use std::io;
use std::net::{Ipv4Addr, Ipv6Addr, SocketAddr};

use tokio::net::UdpSocket;

use super::lane::Lane;

/// Sends what waits until nothing more comes.
///
/// # Errors
/// Those of the system, in words.
pub(super) async fn send(lane: &Lane, to: SocketAddr) -> Result<(), String> {
    let socket = open(to).await.map_err(|why| format!("the socket cannot be opened ({why})"))?;
    while let Some(message) = lane.queue.next().await {
        match socket.send_to(&message.bytes, to).await {
            Ok(_) => lane.works(),
            // The answer to an earlier datagram: there is no program at that port now.
            Err(why) if why.kind() == io::ErrorKind::ConnectionRefused => lane.works(),
            Err(why) => {
                lane.queue.count_dropped(1);
                return Err(format!("nothing can be sent to {to} ({why}; is the network up?)"));
            }
        }
    }
    Ok(())
}

async fn open(to: SocketAddr) -> io::Result<UdpSocket> {
    let any: SocketAddr = match to {
        SocketAddr::V4(_) => (Ipv4Addr::UNSPECIFIED, 0).into(),
        SocketAddr::V6(_) => (Ipv6Addr::UNSPECIFIED, 0).into(),
    };
    let socket = UdpSocket::bind(any).await?;
    socket.set_broadcast(true)?;
    Ok(socket)
}
