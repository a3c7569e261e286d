//! Whether an input can be listened to.

/// How an input lets itself be listened to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Access {
    /// It is open.
    Open,
    /// This user may not open it; the group that may, if it has a name.
    NoPermission(Option<String>),
    /// Another program has it, and it is not taken from it.
    InUse,
    /// A watch of this computer reads it, and it is not taken from it.
    Watched {
        /// The process of that watch, if it says so.
        pid: Option<u32>,
        /// The name that the input has there.
        name: String,
        /// Why it cannot be heard through that watch; `None` if it can.
        unheard: Option<String>,
    },
    /// It is not there.
    Missing,
    /// It cannot be opened, or broke off, and why.
    Failed(String),
}

impl Access {
    /// Its word in JSON, if nothing was heard because of it.
    pub const fn word(&self) -> Option<&'static str> {
        match self {
            Self::Open | Self::Watched { unheard: None, .. } => None,
            Self::NoPermission(_) => Some("no_permission"),
            Self::InUse => Some("in_use"),
            Self::Watched { .. } => Some("read_by_watch"),
            Self::Missing => Some("missing"),
            Self::Failed(_) => Some("failed"),
        }
    }
}
