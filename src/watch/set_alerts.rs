//! The alerts that an AIS set has open by its own account: ALF tells each change of one, ALC lists all
//! of them again and again. A part of a list ends nothing, nor does silence.

use super::set_conditions::{Condition, condition};
use crate::wire::nmea::{Alc, AlcAlert, Alf, AlfState};

/// How many are kept of one set: each condition that counts, several times over. Our own.
const LIMIT: usize = 32;

/// The alerts of the set behind one input.
#[derive(Debug, Default)]
pub(super) struct SetAlerts {
    known: Vec<SetAlert>,
    /// The list of which all parts have come so far: its sequential number, and the next part.
    list: Option<(Option<u16>, u16)>,
}

/// One alert that is about a condition which counts here.
#[derive(Debug)]
struct SetAlert {
    name: Name,
    revision: Option<u16>,
    condition: u16,
    active: bool,
    /// It is in the list that is coming.
    listed: bool,
}

/// By what the set names an alert: maker, number, instance.
type Name = (Option<String>, u32, Option<u32>);

impl SetAlerts {
    /// Takes a change of one alert.
    pub(super) fn on_alf(&mut self, alf: &Alf) -> Option<Condition> {
        // A second sentence has no state: it only says more.
        let state = alf.state?;
        let active = !matches!(state, AlfState::RectifiedUnacknowledged | AlfState::Normal);
        let name = (alf.manufacturer.clone(), alf.alert?, alf.instance);
        let place = self.known.iter().position(|it| it.name == name);
        let condition = match place {
            Some(place) => self.known[place].condition,
            None => condition(name.1, alf.text.as_deref())?,
        };
        match place {
            Some(place) if state == AlfState::Normal => {
                self.known.remove(place);
            }
            Some(place) => {
                let known = &mut self.known[place];
                (known.active, known.revision) = (active, alf.revision);
            }
            None if state == AlfState::Normal => {}
            None => self.keep(name, alf.revision, condition, active),
        }
        Some((condition, active || self.holds(condition)))
    }

    /// Takes a part of the list of all alerts. The conditions that hold by it, and those that are over
    /// because the list is whole and lacks them.
    pub(super) fn on_alc(&mut self, alc: &Alc) -> Vec<Condition> {
        let whole = self.is_next_part(alc);
        let mut told: Vec<_> = alc.alerts.iter().filter_map(|it| self.listed(it)).collect();
        if whole && alc.number == alc.total {
            self.list = None;
            let (listed, over) =
                std::mem::take(&mut self.known).into_iter().partition(|it| it.listed);
            self.known = listed;
            let over: Vec<SetAlert> = over;
            told.extend(over.iter().map(|it| (it.condition, self.holds(it.condition))));
        }
        told
    }

    /// Whether all parts of the list have come, up to this one.
    fn is_next_part(&mut self, alc: &Alc) -> bool {
        if alc.number == Some(1) {
            self.list = Some((alc.sequence, 1));
            self.known.iter_mut().for_each(|it| it.listed = false);
        }
        let due = self.list.filter(|&(sequence, number)| {
            let complete = alc.count.is_some_and(|count| usize::from(count) == alc.alerts.len());
            complete && sequence == alc.sequence && alc.number == Some(number)
        });
        self.list = due.map(|(sequence, number)| (sequence, number.saturating_add(1)));
        due.is_some()
    }

    /// Takes one alert of a list. What it is about, if that holds by it: it was not known, or it has
    /// changed and how was missed.
    fn listed(&mut self, alert: &AlcAlert) -> Option<Condition> {
        let name = (alert.manufacturer.clone(), alert.alert?, alert.instance);
        let Some(known) = self.known.iter_mut().find(|it| it.name == name) else {
            let condition = condition(name.1, None)?;
            self.keep(name, alert.revision, condition, true);
            return Some((condition, true));
        };
        known.listed = true;
        let changed = known.revision != alert.revision;
        (known.revision, known.active) = (alert.revision, known.active || changed);
        changed.then_some((known.condition, true))
    }

    fn keep(&mut self, name: Name, revision: Option<u16>, condition: u16, active: bool) {
        if self.known.len() >= LIMIT {
            // What is over gives way; what is left out ends by its number all the same.
            let Some(over) = self.known.iter().position(|it| !it.active) else { return };
            self.known.remove(over);
        }
        self.known.push(SetAlert { name, revision, condition, active, listed: true });
    }

    fn holds(&self, condition: u16) -> bool {
        self.known.iter().any(|it| it.condition == condition && it.active)
    }
}
