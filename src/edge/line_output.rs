//! Where a rehearsal is played: datagrams or a pseudo-terminal. A serial port is never opened here:
//! a transponder or a radio may hang on it.

use std::io;
use std::net::{Ipv4Addr, Ipv6Addr, SocketAddr, UdpSocket};

/// What takes lines and passes them on. A line that nobody listens for is lost, as on any wire.
#[derive(Debug)]
pub struct LineOutput(Kind);

#[derive(Debug)]
enum Kind {
    Udp {
        socket: UdpSocket,
        to: SocketAddr,
    },
    #[cfg(unix)]
    PseudoTerminal(pseudo_terminal::PseudoTerminal),
}

impl LineOutput {
    /// Datagrams to an address, one a line; broadcast and multicast too. The caller decides whether
    /// that may be.
    ///
    /// # Errors
    /// Those of the system.
    pub fn udp(to: SocketAddr) -> io::Result<Self> {
        let socket = if to.is_ipv4() {
            UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0))?
        } else {
            UdpSocket::bind((Ipv6Addr::UNSPECIFIED, 0))?
        };
        socket.set_broadcast(true)?;
        Ok(Self(Kind::Udp { socket, to }))
    }

    /// A new pseudo-terminal, and the path at which a program opens it as a serial port.
    ///
    /// # Errors
    /// Those of the system; `Unsupported` where there are none.
    pub fn pseudo_terminal() -> io::Result<(Self, String)> {
        #[cfg(unix)]
        return pseudo_terminal::PseudoTerminal::open()
            .map(|(made, path)| (Self(Kind::PseudoTerminal(made)), path));
        #[cfg(not(unix))]
        Err(io::ErrorKind::Unsupported.into())
    }

    /// Passes a line on; it has its line end.
    ///
    /// # Errors
    /// Those of the system. That nobody listens is none.
    pub fn send(&mut self, line: &[u8]) -> io::Result<()> {
        match &mut self.0 {
            Kind::Udp { socket, to } => match socket.send_to(line, *to) {
                // The answer to an earlier datagram: there is no program at that port now.
                Err(why) if why.kind() == io::ErrorKind::ConnectionRefused => Ok(()),
                sent => sent.map(|_| ()),
            },
            #[cfg(unix)]
            Kind::PseudoTerminal(terminal) => terminal.send(line),
        }
    }
}

#[cfg(unix)]
mod pseudo_terminal {
    use std::io;
    use std::os::fd::OwnedFd;

    use rustix::fs::{Mode, OFlags, fcntl_setfl, open};
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

    #[derive(Debug)]
    pub(super) struct PseudoTerminal {
        master: OwnedFd,
        /// Kept open, so that it goes on when a reader closes it.
        _device: OwnedFd,
        /// What the last line left over when the terminal was full.
        rest: Vec<u8>,
    }

    impl PseudoTerminal {
        pub fn open() -> io::Result<(Self, String)> {
            let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
            grantpt(&master)?;
            unlockpt(&master)?;
            let path = ptsname(&master, Vec::new())?;
            let device = open(&path, OFlags::RDWR | OFlags::NOCTTY, Mode::empty())?;
            // As a serial port is: every byte as it came, and nothing echoed.
            let mut settings = tcgetattr(&device)?;
            settings.make_raw();
            tcsetattr(&device, OptionalActions::Now, &settings)?;
            fcntl_setfl(&master, OFlags::NONBLOCK)?;
            let made = Self { master, _device: device, rest: Vec::new() };
            Ok((made, path.to_string_lossy().into_owned()))
        }

        /// A line that finds no room is left out as a whole; one that is begun is ended first.
        pub fn send(&mut self, line: &[u8]) -> io::Result<()> {
            let written = self.write(&self.rest)?;
            self.rest.drain(..written);
            if !self.rest.is_empty() {
                return Ok(());
            }
            let written = self.write(line)?;
            if written > 0 {
                self.rest.extend(line.iter().skip(written));
            }
            Ok(())
        }

        /// How much of it there is room for.
        fn write(&self, bytes: &[u8]) -> io::Result<usize> {
            match rustix::io::write(&self.master, bytes) {
                Ok(written) => Ok(written),
                Err(rustix::io::Errno::AGAIN) => Ok(0),
                Err(why) => Err(why.into()),
            }
        }
    }
}
