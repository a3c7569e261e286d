//! A proof beside a watch: what the watch reads is heard through the watch.

use super::Error;
use super::plan::Plan;
#[cfg(unix)]
use crate::edge::passed_on::Listener;
use crate::edge::{Claims, Holder, InputUri};

/// A plan in which what a watch of this computer reads is heard through that watch, and which
/// watches these are, with the names of the inputs there.
///
/// # Errors
/// An input that another program reads, through which it cannot be heard.
pub async fn through_watches(mut plan: Plan) -> Result<(Plan, Vec<Holder>), Error> {
    let claims = Claims::new(|name| std::env::var_os(name));
    let mut through = Vec::new();
    for (name, uri) in &mut plan.inputs {
        let Some(reader) = claims.reader(name, uri) else { continue };
        match listen(uri).await {
            Ok(holder) => through.push(holder),
            Err(why) => return Err(Error::NotThrough(reader, why)),
        }
        *uri = InputUri::ThroughWatch(Box::new(uri.clone()));
    }
    Ok((plan, through))
}

/// Tries whether it can be heard, and through which watch.
#[cfg(unix)]
pub(super) async fn listen(uri: &InputUri) -> Result<Holder, String> {
    Listener::open(uri).await.map(|listener| listener.holder().clone())
}

#[cfg(not(unix))]
pub(super) async fn listen(_: &InputUri) -> Result<Holder, String> {
    Err("no watch passes on what it receives on this system".to_owned())
}
