//! What a live watch writes into the logbook of its events and of what the watchkeeper does.

use crate::logbook::{Act, Details, Draft, KNOWN_DAMAGE, Moment, WatchEvent};
use crate::text::counted;
use crate::time::{Mono, Stamp, rounded_up};
use crate::watch::{Command, Event, Muted, Watch};

/// What is written down of an event; `None` of those that are not logged.
///
/// It is written down with the moment it happened, which may lie before this one: what was due by
/// the time alone is told before the line that comes after it.
pub fn entry_of(event: &Event, watch: &Watch, now: Stamp, line: Option<&[u8]>) -> Option<Draft> {
    let ago = u64::try_from(now.utc.ms_since(event.at)).unwrap_or(0);
    let arrival = Mono::from_micros(now.at.micros().saturating_sub(ago.saturating_mul(1000)));
    let moment = Moment { arrival, host: event.at, ..moment(watch, now) };
    Draft::of_event(event, &moment, line)
}

/// What is written down of an act of the operator, before the watch applies it; `None` of a key that
/// means nothing else than that somebody is there.
pub fn entry_of_act(
    command: Command,
    watchkeeper: Option<&str>,
    watch: &Watch,
    now: Stamp,
) -> Option<Draft> {
    let draft = |act, text: &str| Draft::operator(act, text, watchkeeper, &moment(watch, now));
    let (act, verb, id) = match command {
        Command::Acknowledge(id) => (Act::Acknowledged, "Acknowledged", id),
        Command::Silence(id) => (Act::Silenced, "Silenced for 30 s", id),
        Command::Resolve(id) => (Act::DeclaredOver, "Declared over", id),
        Command::MarkOverboard => {
            let text = "Marked by hand: person overboard now, here";
            return Some(draft(Act::MarkedOverboard, text));
        }
        Command::Part(mmsi) => {
            let picture = watch.picture(now);
            let beacon = picture.beacons.iter().find(|it| it.mmsi() == Some(mmsi))?;
            let (at, _) = beacon.marked?;
            let name = beacon.person.as_deref().unwrap_or("the beacon");
            let at = at.utc.clock();
            let text = format!("Parted: marked by hand at {at}, and {name} ({mmsi}): two persons");
            return Some(Draft { mmsi: Some(mmsi), ..draft(Act::Parted, &text) });
        }
        Command::PlaceShip(position) => {
            let text = format!("Own position by hand: {position}");
            return Some(draft(Act::PlacedShip, &text));
        }
        Command::Seas(seas) => {
            return Some(draft(Act::NamedSeas, &format!("Seas {}", seas.words())));
        }
        Command::Mute(what) => {
            let name = watch.muted_name(what).filter(|_| watch.may_mute(what))?;
            let mut draft = draft(Act::Muted, &format!("Muted: {name}"));
            if let Muted::Station(mmsi) = what {
                draft.mmsi = Some(mmsi);
            }
            return Some(draft);
        }
        Command::Unmute => {
            let names: Vec<String> =
                watch.muted().iter().filter_map(|&what| watch.muted_name(what)).collect();
            let text = format!("Heard again, muted before: {}", names.join(", "));
            return Some(draft(Act::Unmuted, &text)).filter(|_| !names.is_empty());
        }
        Command::Present => return None,
    };
    let about = watch.alerts().iter().find(|alert| alert.id == id);
    let text = about.map_or_else(|| verb.to_owned(), |alert| format!("{verb}: {}", alert.text));
    let mut draft = draft(act, &text);
    draft.details = Details::Operator { act: Some(act), alert: Some(id) };
    draft.mmsi = about.and_then(|alert| alert.mmsi);
    if act == Act::DeclaredOver {
        // From how far off it was declared over counts for the next watch too.
        draft.position = about.and_then(|alert| watch.known_of(alert).position);
    }
    Some(draft)
}

/// That somebody has taken note of entries that are damaged: no watch tells of these again.
pub(super) fn of_known_damage(entries: &[i64], watch: &Watch, now: Stamp) -> Draft {
    let text = format!("Acknowledged: {}", damaged(entries));
    let told = serde_json::json!({ KNOWN_DAMAGE: entries });
    Draft::watch(WatchEvent::Logbook, text, told, &moment(watch, now))
}

/// Says which entries are damaged, the first of them by number.
pub fn damaged(entries: &[i64]) -> String {
    let numbers: Vec<String> = entries.iter().take(8).map(i64::to_string).collect();
    let more = if entries.len() > numbers.len() { " …" } else { "" };
    let count = counted(entries.len(), "entry");
    format!(
        "{count} missing, altered or unreadable ({}{more}); see overside logbook check",
        numbers.join(", ")
    )
}

/// A moment of which only the time is known.
pub(super) const fn bare(now: Stamp) -> Moment {
    let (gnss, own, own_age_s, sog, cog) = (None, None, None, None, None);
    Moment { arrival: now.at, host: now.utc, gnss, own, own_age_s, sog, cog }
}

/// All that is known of a moment.
pub(super) fn moment(watch: &Watch, now: Stamp) -> Moment {
    let own = watch.own(now.at);
    Moment {
        arrival: now.at,
        host: now.utc,
        gnss: watch.gnss_utc(),
        own: own.position,
        own_age_s: own.age.map(|age| rounded_up(age, 1)),
        sog: own.sog,
        cog: own.cog,
    }
}
