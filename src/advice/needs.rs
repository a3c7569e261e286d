//! Which needs of a watch are met by what it hears now, and what it costs that the others are not.

use super::whereabouts::own_is_old;
use crate::navigation::Grade;
use crate::survey::NeedKind;
use crate::watch::{InputState, InputView, OwnView};

/// The needs that are counted, and which of them are not met.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Needs {
    /// Which are not met and what that costs, the most important first.
    pub lacking: Vec<(NeedKind, &'static str)>,
}

impl Needs {
    /// Those of a watch that hears this.
    pub fn of(inputs: &[InputView], own: &OwnView) -> Self {
        let lacks = |need| match need {
            NeedKind::AisBothChannels => lacking_ais(inputs),
            NeedKind::OwnPosition => lacking_position(own),
            NeedKind::Heading if own.heading.is_none() => Some("no heading: bow taken from COG"),
            _ => None,
        };
        let lacking = NeedKind::COUNTED.into_iter().filter_map(|need| Some((need, lacks(need)?)));
        Self { lacking: lacking.collect() }
    }

    /// Whether nothing is lacking.
    pub fn are_met(&self) -> bool {
        self.lacking.is_empty()
    }

    /// `watching, 3 of 3 needs met`.
    pub fn counted(&self) -> String {
        let all = NeedKind::COUNTED.len();
        format!("watching, {} of {all} needs met", all - self.lacking.len())
    }

    /// The same with what is lacking.
    pub fn words(&self) -> String {
        let lacking = self.lacking.iter().map(|(_, cost)| (*cost).to_owned());
        std::iter::once(self.counted()).chain(lacking).collect::<Vec<_>>().join("; ")
    }
}

/// Both channels may come by one input or by two.
fn lacking_ais(inputs: &[InputView]) -> Option<&'static str> {
    let hears = |it: &&InputView| {
        it.hears_ais && matches!(it.state, Some(InputState::Live | InputState::Noisy))
    };
    let hearing: Vec<&InputView> = inputs.iter().filter(hears).collect();
    let channel = |which: usize| {
        let told = hearing.iter().filter_map(|it| it.channels[which]);
        // One input that hears it is enough.
        told.max()
    };
    Some(match (channel(0), channel(1)) {
        _ if hearing.is_empty() => "no AIS: no beacon is heard",
        (Some(true), Some(true)) => return None,
        (Some(false), _) => "AIS channel A is silent: half of a beacon's messages are lost",
        (_, Some(false)) => "AIS channel B is silent: half of a beacon's messages are lost",
        (Some(true), None) => "AIS channel B not heard yet",
        (None, Some(true)) => "AIS channel A not heard yet",
        (None, None) => "AIS, but the receiver does not tell on which channel",
    })
}

fn lacking_position(own: &OwnView) -> Option<&'static str> {
    match (own.age, own.grade) {
        (None, _) => Some("no position: no range or bearing"),
        (Some(age), _) if own_is_old(age) => {
            Some("own position is old: so are ranges and bearings")
        }
        (_, Some(Grade::Estimated)) => {
            Some("own position by hand or dead reckoning: ranges are no better")
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;
    use crate::position::Position;
    use crate::units::Degrees;
    use crate::wire::InputId;

    fn input(state: InputState, channels: [Option<bool>; 2]) -> InputView {
        InputView {
            id: InputId(0),
            name: "ais".to_owned(),
            state: Some(state),
            heard: Some(Duration::ZERO),
            ais: Some(Duration::ZERO),
            garbled: None,
            hears_ais: true,
            channels,
        }
    }

    fn under_way(age_s: u64, grade: Grade) -> OwnView {
        OwnView {
            position: Position::new(57.7, 10.6),
            age: Some(Duration::from_secs(age_s)),
            grade: Some(grade),
            heading: Some(Degrees::new(320.0)),
            ..OwnView::default()
        }
    }

    #[test]
    fn three_of_three_and_one_less_for_each_that_lacks() {
        const BOTH: [Option<bool>; 2] = [Some(true), Some(true)];
        let good = under_way(1, Grade::Satellite);
        let words = |inputs: &[InputView], own: &OwnView| Needs::of(inputs, own).words();
        let live = [input(InputState::Live, BOTH)];
        assert_eq!(words(&live, &good), "watching, 3 of 3 needs met");
        assert!(Needs::of(&live, &good).are_met());
        assert_eq!(
            words(&[], &OwnView::default()),
            "watching, 0 of 3 needs met; no AIS: no beacon is heard; no position: no range or \
             bearing; no heading: bow taken from COG"
        );
        // What was heard is heard no more.
        let lost = [input(InputState::Lost, BOTH), input(InputState::Silent, BOTH)];
        assert!(words(&lost, &good).contains("2 of 3 needs met; no AIS"));
        for (channels, what) in [
            ([Some(true), Some(false)], "AIS channel B is silent"),
            ([Some(false), None], "AIS channel A is silent"),
            ([None, Some(true)], "AIS channel A not heard yet"),
            ([None, None], "does not tell on which channel"),
        ] {
            let said = words(&[input(InputState::Live, channels)], &good);
            assert!(said.contains("2 of 3 needs met") && said.contains(what), "{said}");
        }
        // Two receivers of one channel each are as good as one of both.
        let [a, b] = [[Some(true), None], [Some(false), Some(true)]];
        let two = [input(InputState::Live, a), input(InputState::Live, b)];
        assert_eq!(words(&two, &good), "watching, 3 of 3 needs met");
        for own in [under_way(60, Grade::Satellite), under_way(1, Grade::Estimated)] {
            assert!(words(&live, &own).contains("2 of 3 needs met; own position"));
        }
    }
}
