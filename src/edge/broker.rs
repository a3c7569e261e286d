//! A broker of messages: how it is named, and how a program connects to it (MQTT 3.1.1).
//!
//! A password stands in a file or in the environment, never in the address, which is shown and
//! written down.

use std::fmt;
use std::path::PathBuf;
use std::sync::Once;
use std::time::Duration;

use rumqttc::{AsyncClient, EventLoop, MqttOptions, TlsConfiguration, Transport};
use sha2::{Digest as _, Sha256};

use super::address::{PASSWORD, UriFault, host_and_port};

/// The ports that are registered for MQTT and for MQTT over TLS (IANA).
const PORT: u16 = 1883;
const TLS_PORT: u16 = 8883;

/// The certificates that the system trusts, on most systems.
const CERTIFICATES: [&str; 3] =
    ["/etc/ssl/certs/ca-certificates.crt", "/etc/pki/tls/certs/ca-bundle.crt", "/etc/ssl/cert.pem"];

/// How often a silent connection is probed; it is given up after twice that. Our own.
const KEEP_ALIVE: Duration = Duration::from_secs(10);

/// How long a broker may take to answer. Our own.
pub(super) const CONNECT_TIMEOUT: Duration = Duration::from_secs(5);

/// The largest message that is taken, in bytes: some thousand lines. Our own.
pub(super) const LARGEST: usize = 256 * 1024;

/// The largest that is read, and then passed over: at a larger one the connection breaks. Our own.
const LARGEST_READ: usize = 16 * 1024 * 1024;

/// Messages that may be under way and not acknowledged. Our own: what a second of fifty stations
/// needs over a link of half a second.
const UNDER_WAY: u16 = 1000;

/// A broker, and a topic at it.
///
/// `mqtt://[USER@]HOST[:PORT][/TOPIC][?password_file=PATH&ca=PATH&client=NAME&spool=PATH]`;
/// `mqtts` is the same over TLS.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Broker {
    /// Whether the connection is encrypted, and the broker proves who it is.
    pub tls: bool,
    /// A name or an address; an IPv6 address is without its brackets here.
    pub host: String,
    /// 1 to 65 535; 1883 if not given, and 8883 with TLS.
    pub port: u16,
    /// Who asks, if the broker wants to know.
    pub user: Option<String>,
    /// The file whose first line is the password.
    pub password_file: Option<PathBuf>,
    /// The file of the certificates that vouch for the broker; those of the system if none.
    pub ca: Option<PathBuf>,
    /// By which the broker knows this program again; made from the computer's name if none is given.
    pub client: Option<String>,
    /// The folder in which waits what cannot be sent, of an output.
    pub spool: Option<PathBuf>,
    /// The topic: of an input with `/heard` at its end, of an output without the kind of message.
    pub topic: String,
}

impl Broker {
    /// Reads what stands behind the scheme. Without a topic it is the one given.
    pub(super) fn parse(rest: &str, tls: bool, topic: &str) -> Result<Self, UriFault> {
        let (place, settings) = rest.split_once('?').unwrap_or((rest, ""));
        let (address, path) = place.split_once('/').unwrap_or((place, ""));
        let (user, address) = match address.rsplit_once('@') {
            Some((user, _)) if user.contains(':') => return Err(UriFault::Password),
            Some((user, address)) => (Some(user.to_owned()), address),
            None => (None, address),
        };
        let has_port = address.rsplit_once(':').is_some_and(|(_, port)| !port.contains(']'));
        let default = if tls { TLS_PORT } else { PORT };
        let whole = if has_port { address.to_owned() } else { format!("{address}:{default}") };
        let (host, port) = host_and_port(&whole)?;
        let mut broker = Self {
            tls,
            host: host.to_owned(),
            port,
            user: user.filter(|it| !it.is_empty()),
            password_file: None,
            ca: None,
            client: None,
            spool: None,
            topic: if path.is_empty() { topic } else { path }.to_owned(),
        };
        for setting in settings.split('&').filter(|setting| !setting.is_empty()) {
            match setting.split_once('=') {
                Some(("password_file", path)) => broker.password_file = Some(path.into()),
                Some(("ca", path)) => broker.ca = Some(path.into()),
                Some(("client", name)) => broker.client = Some(name.to_owned()),
                Some(("spool", path)) => broker.spool = Some(path.into()),
                _ => return Err(UriFault::UnknownBrokerSetting(setting.to_owned())),
            }
        }
        Ok(broker)
    }

    /// How to connect. `role` tells apart the connections of one computer.
    ///
    /// # Errors
    /// A file that cannot be read, in words for a person.
    pub(super) fn options(&self, role: &str) -> Result<MqttOptions, String> {
        let id = self.client.clone().unwrap_or_else(|| self.known_as(role));
        let mut options = MqttOptions::new(id, &self.host, self.port);
        options
            .set_clean_session(false)
            .set_keep_alive(KEEP_ALIVE)
            .set_inflight(UNDER_WAY)
            .set_max_packet_size(LARGEST_READ, LARGEST);
        if let Some(user) = &self.user {
            options.set_credentials(user, self.password()?);
        }
        if self.tls {
            options.set_transport(Transport::tls_with_config(self.certificates()?));
        }
        Ok(options)
    }

    /// The same name at each start of the same program for the same purpose, so that the broker goes
    /// on where it was.
    fn known_as(&self, role: &str) -> String {
        let names = ["/proc/sys/kernel/hostname", "/etc/hostname"];
        let host = names.iter().find_map(|path| std::fs::read_to_string(path).ok());
        let all = format!("{}\n{role}\n{self}", host.unwrap_or_default().trim());
        let digest = Sha256::digest(all.as_bytes());
        let digits = digest.iter().take(6).map(|byte| format!("{byte:02x}"));
        // 23 characters at most: more a broker need not take (MQTT 3.1.1, 3.1.3.1).
        format!("overside-{}", digits.collect::<String>())
    }

    fn password(&self) -> Result<String, String> {
        let Some(path) = &self.password_file else {
            return Ok(std::env::var(PASSWORD).unwrap_or_default());
        };
        let text = std::fs::read_to_string(path).map_err(|why| {
            format!("the password file {} cannot be read ({why})", path.display())
        })?;
        Ok(text.lines().next().unwrap_or_default().to_owned())
    }

    fn certificates(&self) -> Result<TlsConfiguration, String> {
        static PROVIDER: Once = Once::new();
        PROVIDER.call_once(|| {
            // Another that is there already does as well.
            let _ = rustls::crypto::ring::default_provider().install_default();
        });
        let read = |path: &PathBuf| {
            std::fs::read(path).map_err(|why| {
                format!("the certificates {} cannot be read ({why})", path.display())
            })
        };
        let ca = match &self.ca {
            Some(path) => read(path)?,
            None => CERTIFICATES.iter().find_map(|path| std::fs::read(path).ok()).ok_or(
                "no certificates of the system are found; name a file of them with ca=PATH",
            )?,
        };
        Ok(TlsConfiguration::Simple { ca, alpn: None, client_auth: None })
    }
}

/// A connection to be kept by whoever polls it. Nothing waits for a packet to be full: that would hold
/// up each alarm by the time of a confirmation.
pub(super) fn connection(options: MqttOptions, requests: usize) -> (AsyncClient, EventLoop) {
    let (client, mut events) = AsyncClient::new(options, requests);
    events.network_options.set_tcp_nodelay(true);
    (client, events)
}

/// Whether a message could not be read: the broker would send it again and again.
pub(super) const fn is_unreadable(why: &rumqttc::ConnectionError) -> bool {
    use rumqttc::{ConnectionError, StateError};
    matches!(why, ConnectionError::MqttState(StateError::Deserialization(_)))
}

/// Why a broker is not reached or is lost, for a person.
pub(super) fn cause(why: &rumqttc::ConnectionError) -> String {
    use rumqttc::{ConnectReturnCode, ConnectionError, StateError};
    match why {
        ConnectionError::Io(why) => {
            format!("the broker is not reached ({why}; does it run, is the address right?)")
        }
        ConnectionError::ConnectionRefused(
            ConnectReturnCode::BadUserNamePassword | ConnectReturnCode::NotAuthorized,
        ) => format!(
            "the broker does not let us in: user or password is wrong (password_file=PATH, or the \
             environment's {PASSWORD})"
        ),
        ConnectionError::NetworkTimeout
        | ConnectionError::FlushTimeout
        | ConnectionError::MqttState(StateError::AwaitPingResp) => {
            "the broker does not answer".to_owned()
        }
        ConnectionError::MqttState(StateError::ConnectionAborted) => {
            "the broker closed the connection".to_owned()
        }
        unreadable if is_unreadable(unreadable) => {
            "somebody publishes there what is too large to be read, or no message; what waited at the \
             broker was given up with it"
                .to_owned()
        }
        ConnectionError::Tls(rumqttc::TlsError::Io(why)) => match why.get_ref() {
            Some(inner) if inner.is::<rustls::Error>() => {
                format!("the broker does not prove who it is: {}", unproven(inner))
            }
            _ => format!("the connection to the broker failed ({why}; does it speak TLS there?)"),
        },
        other => format!("the connection to the broker failed ({other})"),
    }
}

/// What is wrong with the certificate of a broker.
fn unproven(why: &(dyn std::error::Error + Send + Sync + 'static)) -> String {
    use rustls::CertificateError as Bad;
    let words = match why.downcast_ref::<rustls::Error>() {
        Some(rustls::Error::InvalidCertificate(bad)) => match bad {
            Bad::Expired | Bad::ExpiredContext { .. } => {
                "its certificate has expired, or the clock of this computer is wrong"
            }
            Bad::NotValidYet | Bad::NotValidYetContext { .. } => {
                "its certificate is not valid yet, or the clock of this computer is wrong"
            }
            Bad::NotValidForName | Bad::NotValidForNameContext { .. } => {
                "its certificate is for another name than this address has"
            }
            Bad::UnknownIssuer => {
                "nobody who is trusted vouches for it (name the file of its authority with ca=PATH)"
            }
            _ => return why.to_string(),
        },
        _ => return why.to_string(),
    };
    words.to_owned()
}

impl fmt::Display for Broker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { tls, host, port, user, topic, .. } = self;
        let user = user.as_ref().map(|user| format!("{user}@")).unwrap_or_default();
        let host = if host.contains(':') { &format!("[{host}]") } else { host };
        write!(f, "mqtt{}://{user}{host}:{port}/{topic}", if *tls { "s" } else { "" })?;
        let path = |path: &Option<PathBuf>| path.as_ref().map(|it| it.display().to_string());
        let settings = [
            ("password_file", path(&self.password_file)),
            ("ca", path(&self.ca)),
            ("client", self.client.clone()),
            ("spool", path(&self.spool)),
        ];
        let mut mark = '?';
        for (key, value) in settings {
            if let Some(value) = value {
                write!(f, "{mark}{key}={value}")?;
                mark = '&';
            }
        }
        Ok(())
    }
}
