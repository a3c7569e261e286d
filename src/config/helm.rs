//! The page at the helm: where it is, and what a phone may do.

use std::net::{IpAddr, SocketAddr};

use serde::Deserialize;

/// `[helm]`: the page at the helm.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Helm {
    /// The address of this computer and the port at which the page is served, such as
    /// `192.168.1.5:8010`. No page if left out.
    pub listen: Option<String>,
    /// Whether an address may be taken that is not private, link-local or loopback. `false` if left
    /// out.
    pub allow_any: bool,
    /// Whether a phone may acknowledge and silence alerts. `false` if left out.
    pub may_acknowledge: bool,
}

impl Helm {
    /// Where the page is served, if it is to be.
    ///
    /// # Errors
    /// It is no address, or one that may be reached from anywhere, and that is not allowed: in words
    /// with what would be right after a colon.
    pub fn address(&self) -> Result<Option<SocketAddr>, String> {
        let Some(text) = &self.listen else { return Ok(None) };
        let Ok(address) = text.parse::<SocketAddr>() else {
            return Err(format!(
                "is no address with a port: write that of this computer on the boat's own network, \
                 such as 192.168.1.5:8010, and not {text:?}"
            ));
        };
        let ip = address.ip().to_canonical();
        if self.allow_any || is_near(ip) {
            return Ok(Some(address));
        }
        let why = match ip.is_unspecified() {
            true => format!("is every address of this computer ({ip}), public ones too"),
            false => format!("is {ip}, which is not private, link-local or loopback"),
        };
        Err(format!(
            "{why}: write the address on the boat's own network, or allow_any = true beside it if \
             everybody may come to the page"
        ))
    }
}

/// Whether it is private (RFC 1918, RFC 4193), link-local (RFC 3927, RFC 4291 2.5.6) or loopback.
const fn is_near(ip: IpAddr) -> bool {
    match ip {
        IpAddr::V4(ip) => ip.is_private() || ip.is_link_local() || ip.is_loopback(),
        IpAddr::V6(ip) => ip.is_unique_local() || ip.is_unicast_link_local() || ip.is_loopback(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_that_others_reach_is_refused_unless_allowed() {
        let helm = |listen: &str, allow_any| {
            let listen = Some(listen.to_owned());
            Helm { listen, allow_any, may_acknowledge: false }.address()
        };
        for near in [
            "192.168.1.5:8010",
            "10.0.0.1:80",
            "172.31.0.1:80",
            "169.254.7.7:8010",
            "127.0.0.1:8010",
            "[::1]:8010",
            "[fe80::1%2]:8010",
            "[fd12::1]:8010",
            "[::ffff:192.168.1.5]:8010",
        ] {
            assert!(helm(near, false).unwrap().is_some(), "{near}");
        }
        for far in [
            "0.0.0.0:8010",
            "[::]:8010",
            "8.8.8.8:8010",
            "172.32.0.1:80",
            "[2001:db8::1]:8010",
            "[::ffff:8.8.8.8]:8010",
        ] {
            let why = helm(far, false).unwrap_err();
            assert!(why.contains("allow_any"), "{why}");
            assert!(helm(far, true).unwrap().is_some(), "{far}");
        }
        for wrong in ["", "8010", "192.168.1.5", "boat.example:8010", "192.168.1.5:80100"] {
            let why = helm(wrong, true).unwrap_err();
            assert!(why.contains("no address with a port: write"), "{why}");
        }
        assert_eq!(Helm::default().address(), Ok(None));
    }
}
