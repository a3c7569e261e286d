//! Points set by hand: somebody went over the side, and whoever saw it pressed the key. There need
//! not be a beacon; if one is heard afterwards, it takes the point over.

use super::Watch;
use super::alert::{Cause, Matter, Priority};
use super::alerts::Raise;
use super::event::EventBody;
use super::left_open::OpenAlert;
use super::mark::Mark;
use crate::time::Stamp;

/// How many points may be open at once: more than a small boat has people. Our own.
const MARKS_LIMIT: usize = 16;

impl Watch {
    /// Somebody went over the side now, here.
    pub(super) fn mark_overboard(&mut self) {
        if self.marks.len() >= MARKS_LIMIT {
            let text = format!(
                "Point not set: {MARKS_LIMIT} are open. Write time and position down; end one with o"
            );
            let matter = Matter::TooManyEmergencies(Cause::OverboardMarked);
            let priority = Priority::EmergencyAlarm;
            self.raise(Raise::of_ship(matter, Cause::OverboardMarked, priority, text));
            return;
        }
        let number = self.free_number();
        let position = self.own_position().0;
        let at = self.now;
        self.marks.push(Mark::new(number, at, position));
        let here = position.map_or("own position not known".to_owned(), |it| it.to_string());
        self.raise(Raise {
            matter: Matter::Mark(number),
            cause: Cause::OverboardMarked,
            priority: Priority::EmergencyAlarm,
            mmsi: None,
            text: format!("Person overboard, marked by hand at {}: {here}", at.utc.clock()),
            place: position,
            acknowledged: false,
        });
        self.tell(EventBody::OverboardMarked { mark: number, position });
        self.datums_due();
    }

    /// Goes on with a point that was set before a restart, under its number if that is known and no
    /// other point's. There is room for what was open, whatever the limit.
    pub(super) fn resume_mark(&mut self, open: &OpenAlert, now: Stamp) -> Matter {
        let number = match open.matter {
            Some(Matter::Mark(number)) if !self.is_mark(number) => number,
            _ => self.free_number(),
        };
        let mark = Mark::new(number, open.raised_at(now), open.place);
        self.marks.push(Mark { not_of: open.joined_by, ..mark });
        Matter::Mark(number)
    }

    pub(super) fn is_mark(&self, number: u16) -> bool {
        self.marks.iter().any(|mark| mark.number == number)
    }

    /// The next number that no point has.
    pub(super) fn free_number(&self) -> u16 {
        let last = self.marks.iter().map(|mark| mark.number).max().unwrap_or(0);
        let next = last.checked_add(1);
        next.or_else(|| (1..last).find(|&number| !self.is_mark(number))).unwrap_or(last)
    }

    /// A point is done with.
    pub(super) fn forget_mark(&mut self, number: u16) {
        self.marks.retain(|mark| mark.number != number);
    }
}
