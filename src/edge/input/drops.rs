//! How many datagrams a socket lost: those that this program dropped, and those that the system did,
//! as far as it tells.

use std::time::Duration;

use tokio::net::UdpSocket;

use super::What;
use super::sender::ArrivalSender;
use crate::time::Mono;
use crate::watch::Dropped;

/// How often it is looked at and told. Our own.
pub(super) const EVERY: Duration = Duration::from_secs(1);

/// What one socket lost and nobody was told of yet.
#[derive(Debug)]
pub(super) struct Drops {
    untold: Dropped,
    /// What the system had counted when it was looked at last.
    counted: u64,
    looked: Mono,
    /// More than one datagram waited since: else the system has had room for each.
    crowded: bool,
}

impl Drops {
    /// Of a socket just opened.
    pub(super) fn of(socket: &UdpSocket, now: Mono) -> Self {
        let counted = by_system(socket).unwrap_or(0);
        Self { untold: Dropped::default(), counted, looked: now, crowded: false }
    }

    /// This program drops one.
    pub(super) const fn one(&mut self) {
        self.untold.by_us = self.untold.by_us.saturating_add(1);
    }

    /// Several datagrams waited at once.
    pub(super) const fn crowd(&mut self) {
        self.crowded = true;
    }

    /// Whether there may be something to tell before another datagram comes.
    pub(super) fn is_due_alone(&self) -> bool {
        self.crowded || self.untold != Dropped::default()
    }

    /// Once in a while, asks the system and tells. What finds no room is told the next time.
    pub(super) fn tell(&mut self, socket: &UdpSocket, sender: &ArrivalSender) {
        let now = sender.clock.now().at;
        if now.since(self.looked) < EVERY {
            return;
        }
        self.looked = now;
        // Its list is long and takes its time.
        if std::mem::take(&mut self.crowded)
            && let Some(counted) = by_system(socket)
        {
            // The system counts in 32 bits and begins anew.
            self.untold.by_system += counted.wrapping_sub(self.counted) & u64::from(u32::MAX);
            self.counted = counted;
        }
        if self.untold != Dropped::default() && sender.try_say(What::Dropped(self.untold)) {
            self.untold = Dropped::default();
        }
    }
}

/// What Linux lists of this socket: the last column of its row, which its inode names. `None` where
/// there is no such list.
#[cfg(target_os = "linux")]
fn by_system(socket: &UdpSocket) -> Option<u64> {
    let inode = rustix::fs::fstat(socket).ok()?.st_ino.to_string();
    let lists = ["/proc/self/net/udp", "/proc/self/net/udp6"];
    lists.iter().find_map(|list| {
        let list = std::fs::read_to_string(list).ok()?;
        let row = list.lines().find(|row| row.split_whitespace().nth(9) == Some(&inode))?;
        row.split_whitespace().last()?.parse().ok()
    })
}

/// Nobody tells.
#[cfg(not(target_os = "linux"))]
fn by_system(_: &UdpSocket) -> Option<u64> {
    None
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;

    /// A socket that nobody reads is full one day: each datagram is counted from then on.
    #[tokio::test]
    async fn the_system_tells_what_it_dropped() {
        let socket = UdpSocket::bind("127.0.0.1:0").await.unwrap();
        assert_eq!(by_system(&socket), Some(0));
        let sender = std::net::UdpSocket::bind("127.0.0.1:0").unwrap();
        let sent: u64 = 20_000;
        for _ in 0..sent {
            sender.send_to(&[b'x'; 100], socket.local_addr().unwrap()).unwrap();
        }
        let dropped = by_system(&socket).unwrap();
        let mut taken = 0;
        let socket = socket.into_std().unwrap();
        while socket.recv(&mut [0; 200]).is_ok() {
            taken += 1;
        }
        assert_eq!((dropped > 0, taken + dropped), (true, sent));
    }
}
