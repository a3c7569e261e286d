//! The AIS receivers on board: the same transmissions, and what each of them loses.

use super::Stage;
use super::scenario::{Receiver, Reception};
use crate::units::NauticalMiles;

/// A message on its way to the receivers.
pub(super) struct Signal<'a> {
    /// From how far away.
    pub range: NauticalMiles,
    /// How well its sender is heard.
    pub reception: &'a Reception,
    /// The share that the waves let through.
    pub sea: f64,
    /// The share that is left at this time; None for a sender that never fades.
    pub fade: Option<f64>,
    pub channel: char,
}

/// The receivers, for the messages of one sender. The first one rolls the sender's own dice: so what
/// it hears stays the same, however many others there are.
pub(super) struct Receivers<'a>(Vec<Listener<'a>>);

struct Listener<'a> {
    name: &'a str,
    receiver: Option<&'a Receiver>,
    /// None: the sender's.
    dice: Option<fastrand::Rng>,
}

impl<'a> Receivers<'a> {
    /// The receivers as they hear this sender.
    pub fn of(stage: &Stage<'a>, sender: u64) -> Self {
        let receivers = &stage.scenario.receivers;
        if receivers.is_empty() {
            let name = &stage.scenario.sources.ais.0;
            return Self(vec![Listener { name, receiver: None, dice: None }]);
        }
        let listener = |(index, receiver): (u64, &'a Receiver)| Listener {
            name: &receiver.name.get_ref().0,
            receiver: Some(receiver),
            // Identities have 30 bits.
            dice: (index > 0).then(|| stage.dice(index << 40 | sender)),
        };
        Self((0..).zip(receivers).map(listener).collect())
    }

    /// The names of those that hear a message.
    pub fn that_hear(&mut self, signal: &Signal<'_>, dice: &mut fastrand::Rng) -> Vec<&'a str> {
        let hears = |listener: &mut Listener<'a>| {
            let dice = listener.dice.as_mut().unwrap_or(dice);
            let own = listener.receiver.and_then(|it| it.reception.as_ref());
            let share = signal.reception.share(signal.range)
                * own.map_or(1.0, |own| own.share(signal.range))
                * signal.sea;
            let heard = dice.f64() < share;
            let through_fade = signal.fade.is_none_or(|left| dice.f64() < left);
            (heard && through_fade && !listener.is_deaf(signal.channel)).then_some(listener.name)
        };
        self.0.iter_mut().filter_map(hears).collect()
    }

    /// The names of those that can hear something on this channel.
    pub fn on(&self, channel: char) -> Vec<&'a str> {
        self.0
            .iter()
            .filter(|listener| !listener.is_deaf(channel))
            .map(|listener| listener.name)
            .collect()
    }
}

impl Listener<'_> {
    fn is_deaf(&self, channel: char) -> bool {
        let deaf = self.receiver.and_then(|it| it.deaf_channel);
        deaf.is_some_and(|deaf| deaf.letter() == channel)
    }
}

impl Reception {
    /// The share of messages heard from this far away.
    fn share(&self, range: NauticalMiles) -> f64 {
        let (sure, horizon) = (self.sure_nm.0, self.horizon_nm.0);
        let left = if range.0 <= sure {
            1.0
        } else if range.0 >= horizon {
            0.0
        } else {
            (horizon - range.0) / (horizon - sure)
        };
        self.base.0 * left
    }
}
