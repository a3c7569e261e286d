//! Casualties as deltas of Signal K (specification 1.5): a notification of the own vessel, and the place
//! of each beacon as that of a search-and-rescue object.

use serde_json::{Value, json};

use super::casualty::casualties;
use crate::mmsi::Mmsi;
use crate::position::Position;
use crate::watch::{BeaconView, Picture, State};

/// The delta that tells how things stand; `rehearsed` says whether it is of what is only rehearsed.
pub fn delta(picture: &Picture, rehearsed: bool, own: Option<Mmsi>) -> Vec<Value> {
    let those = || casualties(picture).filter(|it| it.rehearsed.is_some() == rehearsed);
    let mut deltas = vec![json!({
        "context": own.map_or("vessels.self".to_owned(), |it| format!("vessels.urn:mrn:imo:mmsi:{it}")),
        "updates": [update(picture, json!([{
            "path": "notifications.mob",
            "value": notification(picture, &those().collect::<Vec<_>>()),
        }]))],
    })];
    for view in those() {
        let (Some(mmsi), Some(place)) = (view.mmsi(), view.place(picture.now.at)) else { continue };
        deltas.push(json!({
            "context": format!("sar.urn:mrn:imo:mmsi:{mmsi}"),
            "updates": [update(picture, json!([{
                "path": "navigation.position",
                "value": position(place),
            }]))],
        }));
    }
    deltas
}

fn update(picture: &Picture, values: Value) -> Value {
    json!({
        "source": { "label": "overside", "type": "overside" },
        "timestamp": picture.now.utc.to_string(),
        "values": values,
    })
}

/// Nobody is overboard: `normal`. Else an emergency, which sounds until somebody takes note.
fn notification(picture: &Picture, those: &[&BeaconView]) -> Value {
    let Some(first) = those.first() else {
        return json!({ "state": "normal", "method": [], "message": "Nobody is overboard" });
    };
    let others = those.len() - 1;
    let more = if others == 0 { String::new() } else { format!(", and {others} more") };
    let kind = if first.rehearsed.is_some() { "REHEARSAL: person" } else { "Person" };
    let who = first.person.clone().or(first.mmsi().map(|it| it.to_string()));
    let who = who.map(|it| format!(": {it}")).unwrap_or_default();
    let reckoned = if first.datum.is_some() { "; position is estimated" } else { "" };
    let sounds = picture
        .alerts
        .iter()
        .any(|it| it.cause.is_about_people() && it.state == State::ActiveUnacknowledged);
    let method: &[&str] = if sounds { &["visual", "sound"] } else { &["visual"] };
    // A point set by hand has no object of its own: its place can stand here alone.
    let at = first.place(picture.now.at).filter(|_| first.mmsi().is_none());
    let at = at.map(|it| format!(" at {it}")).unwrap_or_default();
    json!({
        "state": "emergency",
        "method": method,
        "message": format!("{kind} overboard{who}{at}{more}{reckoned}"),
    })
}

fn position(place: Position) -> Value {
    json!({ "latitude": place.lat(), "longitude": place.lon() })
}
