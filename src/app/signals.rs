//! What the system asks of a watch: to end, to read its plan again, to say that all is well.

#[cfg(unix)]
use std::task::Poll;

/// Listens from now on for an interrupt or a request to end; on a screen for the end of its terminal,
/// too. What runs without one may outlive the terminal it was started from.
pub fn end_signal(on_screen: bool) -> impl Future<Output = ()> {
    #[cfg(unix)]
    let mut signals: Vec<_> = {
        use tokio::signal::unix::{SignalKind, signal};
        let kinds = [SignalKind::interrupt(), SignalKind::terminate(), SignalKind::hangup()];
        let wanted = kinds.into_iter().filter(|it| on_screen || *it != SignalKind::hangup());
        wanted.filter_map(|kind| signal(kind).ok()).collect()
    };
    #[cfg(not(unix))]
    let _ = on_screen;
    async move {
        #[cfg(unix)]
        if !signals.is_empty() {
            return std::future::poll_fn(|context| {
                let came = signals.iter_mut().any(|it| it.poll_recv(context).is_ready());
                if came { Poll::Ready(()) } else { Poll::Pending }
            })
            .await;
        }
        let _ = tokio::signal::ctrl_c().await;
    }
}

/// A request to read the configuration again: a hang-up, where that is not the end of the terminal.
pub(super) struct HangUp {
    #[cfg(unix)]
    signal: Option<tokio::signal::unix::Signal>,
}

impl HangUp {
    pub(super) fn new(wanted: bool) -> Self {
        #[cfg(unix)]
        {
            use tokio::signal::unix::{SignalKind, signal};
            let signal = wanted.then(|| signal(SignalKind::hangup()).ok()).flatten();
            Self { signal }
        }
        #[cfg(not(unix))]
        {
            let _ = wanted;
            Self {}
        }
    }

    pub(super) async fn heard(&mut self) {
        #[cfg(unix)]
        if let Some(signal) = &mut self.signal
            && signal.recv().await.is_some()
        {
            return;
        }
        std::future::pending().await
    }
}

/// Waits for the next moment to say that all is well; for ever where nobody wants to know.
pub(super) async fn ping(pings: &mut Option<tokio::time::Interval>) {
    match pings {
        Some(pings) => {
            pings.tick().await;
        }
        None => std::future::pending().await,
    }
}
