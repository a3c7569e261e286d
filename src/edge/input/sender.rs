//! Where one input's arrivals leave for the program.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::mpsc::Sender;
use tokio::sync::mpsc::error::TrySendError;

use super::{Arrival, Important, Stations, What};
use crate::edge::Clock;
use crate::time::Stamp;
use crate::wire::Splitter;

/// Nobody listens any more: the receiver was dropped.
#[derive(Debug)]
pub(super) struct Unheard;

/// The channel of one input, and what is needed to fill it.
#[derive(Clone, Debug)]
pub(super) struct ArrivalSender {
    pub(super) input: usize,
    pub(super) clock: Clock,
    pub(super) tx: Sender<Arrival>,
    pub(super) important: Important,
    pub(super) stations: Stations,
    began: Stamp,
}

impl ArrivalSender {
    pub(super) fn new(
        input: usize,
        clock: Clock,
        tx: Sender<Arrival>,
        important: Important,
        stations: Stations,
    ) -> Self {
        Self { input, clock, tx, important, stations, began: clock.now() }
    }

    /// Now, by a label that goes on evenly though the computer's clock is set.
    pub(super) fn even_now(&self) -> Stamp {
        let Stamp { at, .. } = self.clock.now();
        let whole = Duration::from_millis(at.since(self.began.at).as_millis() as u64);
        Stamp { at, utc: self.began.utc.plus(whole) }
    }

    /// Something that happened to a station.
    pub(super) fn of_station(&self, station: &Arc<str>, stamp: Stamp, what: What) -> Arrival {
        Arrival { input: self.input, station: Some(Arc::clone(station)), stamp, what }
    }

    /// Says that something happened now.
    pub(super) async fn say(&self, what: What) -> Result<(), Unheard> {
        self.pass(vec![self.arrival(what)]).await
    }

    /// Says it if there is room. Whether there was.
    pub(super) fn try_say(&self, what: What) -> bool {
        self.tx.try_send(self.arrival(what)).is_ok()
    }

    /// Passes arrivals on, in order.
    pub(super) async fn pass(&self, arrivals: Vec<Arrival>) -> Result<(), Unheard> {
        for arrival in arrivals {
            self.tx.send(arrival).await.map_err(|_| Unheard)?;
        }
        Ok(())
    }

    /// Whether what comes now has to wait for room.
    pub(super) fn is_held_back(&self) -> bool {
        self.tx.capacity() == 0 && !self.tx.is_closed()
    }

    /// As [`Self::pass`], without a turn for anybody else while there is room.
    pub(super) async fn pass_at_once(&self, arrivals: Vec<Arrival>) -> Result<(), Unheard> {
        for arrival in arrivals {
            match self.tx.try_send(arrival) {
                Ok(()) => {}
                Err(TrySendError::Closed(_)) => return Err(Unheard),
                Err(TrySendError::Full(arrival)) => {
                    self.tx.send(arrival).await.map_err(|_| Unheard)?;
                }
            }
        }
        Ok(())
    }

    /// As [`Self::pass`], for a thread outside the runtime.
    pub(super) fn pass_blocking(&self, arrivals: Vec<Arrival>) -> Result<(), Unheard> {
        for arrival in arrivals {
            self.tx.blocking_send(arrival).map_err(|_| Unheard)?;
        }
        Ok(())
    }

    /// Something that happened now.
    pub(super) fn arrival(&self, what: What) -> Arrival {
        Arrival { input: self.input, station: None, stamp: self.clock.now(), what }
    }

    /// The lines that these bytes, just read, end; all have one stamp.
    pub(super) fn cut(&self, splitter: &mut Splitter, bytes: &[u8]) -> Vec<Arrival> {
        self.lines(|each| splitter.push(bytes, each))
    }

    /// The line that had no end when the stream ended.
    pub(super) fn rest(&self, splitter: &mut Splitter) -> Vec<Arrival> {
        self.lines(|each| splitter.finish(each))
    }

    fn lines(&self, split: impl FnOnce(&mut dyn FnMut(&[u8]))) -> Vec<Arrival> {
        let (input, stamp) = (self.input, self.clock.now());
        let mut lines = Vec::new();
        split(&mut |line| {
            lines.push(Arrival { input, station: None, stamp, what: What::Line(line.to_vec()) });
        });
        lines
    }
}
