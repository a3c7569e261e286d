//! A connection to a server that sends sentences.

use std::io;
use std::time::Duration;

use socket2::{SockRef, TcpKeepalive};
use tokio::net::TcpStream;

/// How long a server may take to answer, its name's look-up included. Our own.
const CONNECT_TIMEOUT: Duration = Duration::from_secs(5);

/// Silence before the peer is probed, and between probes. This program never sends: without
/// probes a server whose cable was pulled would look connected for ever. With the nine probes
/// that are usual, it is given up after 37 s. Our own.
const KEEPALIVE: TcpKeepalive =
    TcpKeepalive::new().with_time(Duration::from_secs(10)).with_interval(Duration::from_secs(3));

/// Connects to the server.
///
/// # Errors
/// Why it cannot be reached, and what to look at.
pub(super) async fn open(host: &str, port: u16) -> Result<TcpStream, String> {
    let connected = tokio::time::timeout(CONNECT_TIMEOUT, TcpStream::connect((host, port))).await;
    let stream = match connected {
        Ok(connected) => connected.and_then(prepare),
        Err(_) => Err(io::Error::new(
            io::ErrorKind::TimedOut,
            format!("no answer in {} s", CONNECT_TIMEOUT.as_secs()),
        )),
    };
    stream.map_err(|error| {
        format!("it cannot be connected to ({error}; does the server run, is the address right?)")
    })
}

fn prepare(stream: TcpStream) -> io::Result<TcpStream> {
    // A connection from a port to itself is possible where no server listens on this computer: it
    // would look open, say nothing, and keep the server from its port.
    if stream.local_addr()? == stream.peer_addr()? {
        return Err(io::ErrorKind::ConnectionRefused.into());
    }
    SockRef::from(&stream).set_tcp_keepalive(&KEEPALIVE)?;
    Ok(stream)
}

/// Why a connection is lost.
pub(super) fn cause(error: Option<io::Error>) -> String {
    match error {
        Some(error) => format!("the connection failed ({error})"),
        None => "the server closed the connection".to_owned(),
    }
}
