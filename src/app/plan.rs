//! What a live watch is told.

use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;

use crate::capture::Retention;
use crate::edge::output::Output;
use crate::edge::{Hook, InputUri, SounderSettings};
use crate::proof::Subject;
use crate::watch::Settings;

/// All that a live watch is told before it begins, and again when it is to be told anew.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The inputs, by name.
    pub inputs: Vec<(String, InputUri)>,
    /// Where inputs are looked for, because none is named.
    pub finds: Option<Finds>,
    /// What the watch itself is told.
    pub settings: Settings,
    /// The beacons of the muster, as their tests are judged.
    pub muster: Vec<Subject>,
    /// How an alarm sounds.
    pub sounder: SounderSettings,
    /// What is told of alerts.
    pub hooks: Vec<Hook>,
    /// What is said to other equipment.
    pub outputs: Vec<Output>,
    /// Whether a logbook is kept. Else nothing is written down, and nobody is told that it is not.
    pub keeps_logbook: bool,
    /// Where the logbook and the recordings are; `None` if no such place is known.
    pub folder: Option<PathBuf>,
    /// The configuration file, in which a new beacon can be entered.
    pub configuration: Option<PathBuf>,
    /// How much is recorded; nothing if `None`.
    pub record: Option<Retention>,
    /// Where the watch can be looked at by others on this computer.
    pub door: Option<PathBuf>,
    /// Who keeps the watch, as it is written down.
    pub watchkeeper: Option<String>,
}

/// Where inputs are looked for that nobody named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finds {
    /// The folder under which serial ports are looked for, `/` but in tests.
    pub root: PathBuf,
    /// The port at which datagrams are received, at any address of this computer.
    pub port: u16,
    /// The file in which they are kept if there is no configuration.
    pub new_file: PathBuf,
}

impl Finds {
    /// Where datagrams usually come, an input of the watch from the beginning.
    pub(super) fn first(&self) -> InputUri {
        InputUri::Udp(SocketAddr::from((Ipv4Addr::UNSPECIFIED, self.port)))
    }

    /// What is told before anything is found.
    pub fn words(&self) -> String {
        format!(
            "No input is named: listening on UDP {} and the groups of IEC 61162-450, and looking for \
             serial ports; nothing is sent",
            self.port
        )
    }
}
