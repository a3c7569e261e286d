//! When nobody listened: an input that could have heard a beacon was lost. What did not come then is
//! not missing.

use std::time::Duration;

use crate::time::{Stamp, Utc};
use crate::watch::{InputState, InputView};

/// So many spans are kept; more are one from the first to the last. Our own.
const LIMIT: usize = 64;

/// The times in which nobody listened.
#[derive(Debug, Default)]
pub struct Unheard {
    over: Vec<(Utc, Utc)>,
    /// Since when an input is lost that is lost now.
    since: Option<Utc>,
    begun: Option<Utc>,
}

impl Unheard {
    /// How the inputs do now. One that is lost was last listened to when it was last heard; one that
    /// gives bytes without a sentence, as at a wrong baud rate, is not listened to.
    pub fn look(&mut self, inputs: &[InputView], now: Stamp) {
        let begun = *self.begun.get_or_insert(now.utc);
        let is_lost = |it: &InputView| it.state == Some(InputState::Lost) || it.garbled.is_some();
        let others_hear = inputs.iter().any(|it| it.hears_ais && !is_lost(it));
        let deaf = inputs.iter().filter(|it| is_lost(it) && (it.hears_ais || !others_hear));
        let last_heard = |it: &InputView| {
            let ago = it.heard.unwrap_or(Duration::MAX).as_millis();
            let ago = i64::try_from(ago).unwrap_or(i64::MAX);
            let at = now.utc.unix_ms().saturating_sub(ago);
            Utc::from_unix_ms(at).map_or(begun, |at| at.max(begun))
        };
        match (deaf.map(last_heard).min(), self.since) {
            (Some(since), None) => self.since = Some(since),
            (None, Some(since)) => {
                self.since = None;
                self.over.push((since, now.utc));
                if self.over.len() > LIMIT {
                    let first = self.over.remove(0).0;
                    self.over[0].0 = first;
                }
            }
            _ => {}
        }
    }

    /// All of them until now.
    pub fn spans(&self, now: Utc) -> Vec<(Utc, Utc)> {
        self.over.iter().copied().chain(self.since.map(|since| (since, now))).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Mono;
    use crate::wire::InputId;

    fn now(second: u64) -> Stamp {
        let span = Duration::from_secs(second);
        Stamp { at: Mono::START + span, utc: Utc::EPOCH.plus(span) }
    }

    fn input(state: InputState, heard_s: u64, hears_ais: bool) -> InputView {
        let heard = Some(Duration::from_secs(heard_s));
        let (ais, name) = (heard.filter(|_| hears_ais), "x".to_owned());
        let (id, state, garbled) = (InputId(0), Some(state), None);
        InputView { id, name, state, heard, hears_ais, ais, garbled, channels: [None; 2] }
    }

    #[test]
    fn nobody_listens_from_the_last_line_to_the_next() {
        let mut unheard = Unheard::default();
        unheard.look(&[], now(100));
        unheard.look(&[input(InputState::Live, 0, true)], now(110));
        unheard.look(&[input(InputState::Lost, 4, true)], now(120));
        let at = |second| now(second).utc;
        assert_eq!(unheard.spans(at(121)), [(at(116), at(121))]);
        unheard.look(&[input(InputState::Lost, 14, true)], now(130));
        unheard.look(&[input(InputState::Live, 0, true)], now(140));
        assert_eq!(unheard.spans(at(150)), [(at(116), at(140))]);
        // What hears no beacon is not listened to for one, but where it may be all there is.
        let ais = input(InputState::Live, 0, true);
        unheard.look(&[ais, input(InputState::Lost, 60, false)], now(160));
        assert_eq!(unheard.spans(at(160)).len(), 1);
        unheard.look(&[input(InputState::Lost, 100, false)], now(170));
        assert_eq!(unheard.spans(at(170))[1], (at(100), at(170)), "not before it began");
    }

    /// A position receiver that talks is no AIS receiver that hears.
    #[test]
    fn bytes_without_a_sentence_are_nobody_listening() {
        let mut unheard = Unheard::default();
        let gnss = input(InputState::Live, 0, false);
        let garbled = Some("bytes arrive, no sentences".to_owned());
        let ais = InputView { heard: None, garbled, ..input(InputState::Silent, 0, false) };
        unheard.look(&[gnss.clone(), ais], now(100));
        assert_eq!(unheard.spans(now(200).utc), [(now(100).utc, now(200).utc)]);
        unheard.look(&[gnss, input(InputState::Live, 0, true)], now(300));
        assert_eq!(unheard.spans(now(400).utc), [(now(100).utc, now(300).utc)]);
    }

    #[test]
    fn however_often_it_is_lost_no_more_is_kept() {
        let mut unheard = Unheard::default();
        for second in 0..10 * LIMIT as u64 {
            let state = [InputState::Lost, InputState::Live][second as usize % 2];
            unheard.look(&[input(state, 0, true)], now(second));
        }
        let spans = unheard.spans(now(0).utc);
        assert_eq!((spans.len(), spans[0].0), (LIMIT, now(0).utc));
    }
}
