//! Tells a service manager how the watch is doing: the notification protocol of `sd_notify(3)`, a
//! datagram to the socket that `$NOTIFY_SOCKET` names. Without that variable nothing is told.

use std::ffi::OsString;
use std::time::Duration;

/// The way to the service manager, if there is one.
#[derive(Debug, Default)]
pub struct Service {
    #[cfg(unix)]
    socket: Option<(std::os::unix::net::UnixDatagram, std::os::unix::net::SocketAddr)>,
    watchdog: Option<Duration>,
}

impl Service {
    /// What the environment says of it.
    pub fn from_env(env: impl Fn(&str) -> Option<OsString>) -> Self {
        let number = |name| env(name)?.to_str()?.parse::<u64>().ok();
        // The watchdog may be meant for another process of the service.
        let ours = number("WATCHDOG_PID").is_none_or(|pid| pid == u64::from(std::process::id()));
        let watchdog = number("WATCHDOG_USEC").filter(|&it| ours && it > 0);
        Self {
            #[cfg(unix)]
            socket: env("NOTIFY_SOCKET").and_then(|name| open(&name).ok()),
            // Half of it, as sd_watchdog_enabled(3) recommends.
            watchdog: watchdog.map(|micros| Duration::from_micros(micros / 2)),
        }
    }

    /// How often [`Self::ping`] is wanted, if at all.
    pub const fn watchdog_every(&self) -> Option<Duration> {
        self.watchdog
    }

    /// The watch has begun.
    pub fn ready(&self, status: &str) {
        self.tell(&format!("READY=1\nSTATUS={status}"));
    }

    /// How the watch is doing, for whoever asks the manager.
    pub fn status(&self, status: &str) {
        self.tell(&format!("STATUS={status}"));
    }

    /// The loop has turned.
    pub fn ping(&self) {
        self.tell("WATCHDOG=1");
    }

    /// The configuration is read again; [`Self::ready`] ends that.
    pub fn reloading(&self) {
        #[cfg(unix)]
        self.tell(&format!("RELOADING=1\nMONOTONIC_USEC={}", super::clock::since_boot_us()));
    }

    /// The watch is about to end.
    pub fn stopping(&self) {
        self.tell("STOPPING=1");
    }

    fn tell(&self, message: &str) {
        #[cfg(unix)]
        if let Some((socket, to)) = &self.socket
            && let Err(why) = socket.send_to_addr(message.as_bytes(), to)
        {
            tracing::debug!("the service manager does not listen: {why}");
        }
        #[cfg(not(unix))]
        let _ = message;
    }
}

/// Opens the socket; a name that begins with `@` is in the abstract namespace.
#[cfg(unix)]
fn open(
    name: &std::ffi::OsStr,
) -> std::io::Result<(std::os::unix::net::UnixDatagram, std::os::unix::net::SocketAddr)> {
    use std::os::unix::ffi::OsStrExt as _;
    use std::os::unix::net::{SocketAddr, UnixDatagram};
    let socket = UnixDatagram::unbound()?;
    // A manager that does not read must not hold the watch up.
    socket.set_nonblocking(true)?;
    let address = match name.as_bytes() {
        #[cfg(any(target_os = "linux", target_os = "android"))]
        [b'@', name @ ..] => {
            use std::os::linux::net::SocketAddrExt as _;
            SocketAddr::from_abstract_name(name)?
        }
        _ => SocketAddr::from_pathname(name)?,
    };
    Ok((socket, address))
}

#[cfg(test)]
#[cfg(unix)]
mod tests {
    use std::os::unix::net::UnixDatagram;

    use super::*;

    fn heard(socket: &UnixDatagram) -> String {
        let mut buffer = [0; 256];
        let length = socket.recv(&mut buffer).unwrap();
        String::from_utf8_lossy(&buffer[..length]).into_owned()
    }

    /// The messages of sd_notify(3).
    #[test]
    fn the_manager_hears_of_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notify");
        let manager = UnixDatagram::bind(&path).unwrap();
        let service = Service::from_env(|name| match name {
            "NOTIFY_SOCKET" => Some(path.clone().into()),
            "WATCHDOG_USEC" => Some("3000000".into()),
            _ => None,
        });
        service.ready("listening");
        assert_eq!(heard(&manager), "READY=1\nSTATUS=listening");
        service.status("watching");
        assert_eq!(heard(&manager), "STATUS=watching");
        service.ping();
        assert_eq!(heard(&manager), "WATCHDOG=1");
        service.reloading();
        assert!(heard(&manager).starts_with("RELOADING=1\nMONOTONIC_USEC="));
        service.stopping();
        assert_eq!(heard(&manager), "STOPPING=1");
        assert_eq!(service.watchdog_every(), Some(Duration::from_millis(1500)));
    }

    #[test]
    fn without_a_manager_nothing_is_told() {
        let service = Service::from_env(|_| None);
        service.ready("listening");
        assert_eq!(service.watchdog_every(), None);
        let other = |name: &str| {
            (name == "WATCHDOG_PID" || name == "WATCHDOG_USEC").then(|| OsString::from("1"))
        };
        assert_eq!(Service::from_env(other).watchdog_every(), None, "meant for another process");
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_name_with_an_at_is_abstract() {
        use std::os::linux::net::SocketAddrExt as _;
        let name = format!("overside-{:016x}", fastrand::u64(..));
        let address = std::os::unix::net::SocketAddr::from_abstract_name(&name).unwrap();
        let manager = UnixDatagram::bind_addr(&address).unwrap();
        let at = |it: &str| (it == "NOTIFY_SOCKET").then(|| OsString::from(format!("@{name}")));
        Service::from_env(at).ping();
        assert_eq!(heard(&manager), "WATCHDOG=1");
    }
}
