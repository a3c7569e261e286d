//! What a person looks at and acts on: which casualty, which alert.

use std::time::Duration;

use crate::beacon::BURST_OVER;
use crate::time::Mono;
use crate::watch::{
    Alert, BeaconView, CasualtyId, Mode, Picture, Priority, Reception, Rehearsed, State,
};

/// How long after its last message a test is still what the watch is about. Our own.
pub(super) const TEST_LOOKED_AT: Duration = Duration::from_secs(120);

/// The casualty or beacon that is shown large: the selected one, else the first that nobody has
/// taken note of, else the first; of tests the selected one, else the one that began last.
pub fn beacon_in_view(picture: &Picture, selected: Option<CasualtyId>) -> Option<&BeaconView> {
    let mut casualties = picture.beacons.iter().filter(|beacon| beacon.casualty);
    let chosen = casualties.clone().find(|beacon| Some(beacon.id) == selected);
    let waits = |alert: &Alert, beacon: &BeaconView| {
        alert.casualty() == Some(beacon.id) && is_unacknowledged(alert)
    };
    chosen
        .or_else(|| casualties.find(|it| picture.alerts.iter().any(|alert| waits(alert, it))))
        .or_else(|| match picture.beacons.first() {
            Some(first) if is_test(first) => tests(picture)
                .find(|test| Some(test.id) == selected)
                .or_else(|| latest_test(picture)),
            first => first,
        })
}

/// The test that began last: of several beacons that are tested one after the other, the one that is
/// being tested now.
fn latest_test(picture: &Picture) -> Option<&BeaconView> {
    picture.beacons.iter().filter(|it| is_test(it)).max_by_key(|it| began(it))
}

fn began(test: &BeaconView) -> Option<Mono> {
    last_burst(test).map(|it| it.at).min()
}

/// When the test began that began last, if any is heard.
pub fn test_begun(picture: &Picture) -> Option<Mono> {
    began(latest_test(picture)?)
}

/// Whether nothing more is to be expected of what a person chose to look at, if that is a test.
pub fn is_over(picture: &Picture, selected: Option<CasualtyId>) -> bool {
    let chosen = picture.beacons.iter().find(|it| Some(it.id) == selected);
    chosen.is_some_and(|it| is_test(it) && picture.now.at.since(it.last.at) > BURST_OVER)
}

/// The tests of the last two minutes.
pub fn tests(picture: &Picture) -> impl Iterator<Item = &BeaconView> + Clone {
    let lately = |it: &&BeaconView| picture.now.at.since(it.last.at) <= TEST_LOOKED_AT;
    picture.beacons.iter().filter(|it| is_test(it)).filter(lately)
}

fn is_test(beacon: &BeaconView) -> bool {
    !beacon.casualty && matches!(beacon.mode, Some(Mode::Test | Mode::TestPresumed))
}

/// The alert that a person acts on: the most urgent unacknowledged one of what is in view, else the
/// most urgent unacknowledged one, else the most urgent.
pub fn alert_in_view(picture: &Picture, selected: Option<CasualtyId>) -> Option<&Alert> {
    let shown = beacon_in_view(picture, selected).map(|beacon| beacon.id);
    picture.alerts.iter().max_by_key(|alert| {
        let waiting = is_unacknowledged(alert);
        let in_view = shown.is_some() && alert.casualty() == shown;
        let both = waiting && in_view && alert.priority >= Priority::Warning;
        (both, waiting, alert.priority, alert.is_active(), in_view)
    })
}

/// The alert about people that is in view, which a person can say is over; never one about the
/// watch itself, which would hide that it is deaf. A caution is none: by a test nobody is in danger,
/// and nobody has to be safe.
pub fn incident_in_view(picture: &Picture, selected: Option<CasualtyId>) -> Option<&Alert> {
    about_people(picture, selected, Priority::Warning)
}

/// The alert about people that is in view, whatever its priority.
pub fn about_people_in_view(picture: &Picture, selected: Option<CasualtyId>) -> Option<&Alert> {
    about_people(picture, selected, Priority::Caution)
}

fn about_people(
    picture: &Picture,
    selected: Option<CasualtyId>,
    least: Priority,
) -> Option<&Alert> {
    let shown = beacon_in_view(picture, selected).filter(|it| it.casualty).map(|it| it.id);
    let about_people = |alert: &&Alert| {
        alert.cause.is_about_people() && alert.is_active() && alert.priority >= least
    };
    let incidents = picture.alerts.iter().filter(about_people);
    incidents.max_by_key(|alert| (shown.is_some() && alert.casualty() == shown, alert.priority))
}

/// Whether it is nobody's of the muster; a point set by hand is about one of the crew.
pub fn is_stranger(picture: &Picture, beacon: &BeaconView) -> bool {
    beacon.mmsi().is_some_and(|mmsi| !picture.muster.contains(&mmsi))
}

/// Its place among those in danger, from 1, and how many those are; `None` for one who is not.
pub fn counted(picture: &Picture, id: CasualtyId) -> Option<(usize, usize)> {
    let in_danger = || picture.beacons.iter().filter(|beacon| beacon.casualty);
    let place = in_danger().position(|beacon| beacon.id == id)?;
    Some((place + 1, in_danger().count()))
}

/// What is played, as far as it may be called so: a rehearsal at once; a drill surprises until
/// somebody has acknowledged it. What is read aloud says it always.
pub fn rehearsal_known(picture: &Picture) -> Option<Rehearsed> {
    picture.rehearsed.filter(|it| *it == Rehearsed::Rehearsal || picture.rehearsal_noted)
}

/// The casualty after the one in view; where nobody is in danger, the test.
pub fn next_casualty(picture: &Picture, selected: Option<CasualtyId>) -> Option<CasualtyId> {
    let mut casualties: Vec<CasualtyId> =
        picture.beacons.iter().filter(|b| b.casualty).map(|b| b.id).collect();
    if casualties.is_empty() {
        casualties = tests(picture).map(|it| it.id).collect();
    }
    let shown = beacon_in_view(picture, selected).map(|beacon| beacon.id);
    let index = casualties.iter().position(|id| Some(*id) == shown);
    let next = index.map_or(0, |index| (index + 1) % casualties.len().max(1));
    casualties.get(next).copied()
}

/// Whether something flashes: an alert that nobody has taken note of and nobody has silenced.
pub fn flashes(picture: &Picture) -> bool {
    picture.alerts.iter().any(|alert| {
        alert.state == State::ActiveUnacknowledged && alert.priority >= Priority::Warning
    })
}

/// Whether somebody still has to take note of it.
pub fn is_unacknowledged(alert: &Alert) -> bool {
    matches!(
        alert.state,
        State::ActiveUnacknowledged | State::ActiveSilenced | State::RectifiedUnacknowledged
    )
}

/// The most urgent alert that nobody has taken note of.
pub fn unacknowledged(picture: &Picture) -> Option<&Alert> {
    picture.alerts.iter().filter(|alert| is_unacknowledged(alert)).max_by_key(|a| a.priority)
}

/// What was heard of a beacon's last burst, or of its last test if that was tested again at once.
pub fn last_burst(beacon: &BeaconView) -> impl Iterator<Item = &Reception> {
    let is_gap = |pair: &[Reception]| pair[1].at.since(pair[0].at) > BURST_OVER;
    let begins = beacon.receptions.windows(2).rposition(is_gap).map_or(0, |place| place + 1);
    beacon.receptions.iter().skip(begins)
}
