//! Whether each input still hears: live, silent, lost or noisy.

use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::channels::Channels;
use super::input::Dropped;
use super::levels::Levels;
use super::set_alerts::SetAlerts;
use super::settings::{INPUTS_LIMIT, Settings};
use crate::text::counted;
use crate::time::{Mono, seconds};
use crate::wire::{Garble, InputId, OtherDatagram};

/// Damage among the latest lines that makes an input noisy, and that lets it be sound again, in per
/// cent. A sound serial line has none; our own figures.
const NOISY_PERCENT: u32 = 30;
const SOUND_PERCENT: u32 = 10;

/// How long an input that lost datagrams is no sound one after the last of them. Our own.
const DROPS_COUNT: Duration = Duration::from_secs(60);

/// How long an input may be open and give bytes that are no sentences. Our own: whoever opens a line
/// in the middle of a sentence hears a whole one sooner.
const UNHEARD_AT_MOST: Duration = Duration::from_secs(5);

/// How long an input may give sentences and no AIS, if no other gives any. Our own.
const AIS_EVER: Duration = Duration::from_secs(60);

/// What is said of it: IEC 61162-450 has a group for navigation and another for AIS.
const NO_AIS_EVER: &str = "sentences come, but no AIS: this is navigation, or no ship is near";

/// How many of the latest lines are looked at, and how many there must be. Our own.
const LATEST: u32 = 128;
const FEWEST: u32 = 40;

/// How an input is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum InputState {
    /// Sentences come in.
    Live,
    /// It is open and what it gave before does not come any more.
    Silent,
    /// It broke off.
    Lost,
    /// Too many of its lines are damaged.
    Noisy,
}

/// An input.
#[derive(Clone, Debug, Serialize)]
pub struct InputView {
    /// Which it is.
    #[serde(skip)]
    pub id: InputId,
    /// Its name.
    pub name: String,
    /// How it is doing; `None` before anything was heard.
    pub state: Option<InputState>,
    /// How long ago it said anything sound.
    #[serde(rename = "heard_s", serialize_with = "seconds")]
    pub heard: Option<Duration>,
    /// How long ago it gave AIS of another station; `None` if it never did.
    #[serde(rename = "ais_s", serialize_with = "seconds")]
    pub ais: Option<Duration>,
    /// What is to be said of the bytes that it gives, if no sentence is among them.
    pub garbled: Option<String>,
    /// Whether it gave AIS of other stations.
    pub hears_ais: bool,
    /// Whether it hears the channels A and B of AIS; `None` of one on which nothing has come yet.
    #[serde(skip)]
    pub channels: [Option<bool>; 2],
}

impl InputView {
    /// The input and what is to be said of the bytes that it gives, if no sentence is among them.
    pub fn garble(&self) -> Option<String> {
        self.garbled.as_ref().map(|said| format!("input {}: {said}", self.name))
    }
}

/// What kind of sentence an input gave.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum TrafficKind {
    /// An AIS message of another station.
    Ais,
    /// A sentence of a position receiver.
    Gnss,
    /// A sentence of an AIS set that tells of no other station: its own transmission, its alarms.
    Set,
    /// A call or notice of a radio that is quiet until something happens: it can tell that an
    /// input is live, and never be missed.
    Call,
    /// Any other.
    Other,
}

/// An input whose state has changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Change {
    pub input: InputId,
    pub name: String,
    pub state: InputState,
    pub text: String,
    /// With it, nothing is left that can hear AIS.
    pub deaf: bool,
}

/// What an input gave before and gives no more. AIS matters most.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Missed {
    /// AIS, which it never gave, while nothing else may give it. What it did give matters more.
    AisEver,
    Position,
    Anything,
    Ais,
}

#[derive(Debug, Default)]
struct Health {
    name: String,
    opened: Option<Mono>,
    ais: Option<Mono>,
    gnss: Option<Mono>,
    call: Option<Mono>,
    other: Option<Mono>,
    /// It gave a sentence of an AIS set.
    is_set: bool,
    lost: Option<String>,
    state: Option<InputState>,
    /// What is missed while it is silent.
    missed: Option<Missed>,
    /// One bit a line, the latest lowest: set if it was damaged.
    damage: u128,
    lines: u32,
    /// Nothing was heard since it was opened.
    unheard: bool,
    /// What came in since its last sentence and was none.
    garble: Garble,
    /// A datagram that came since then and carried none.
    other_datagram: Option<OtherDatagram>,
    /// Bits a second, if it is a serial line.
    bit_rate: Option<u32>,
    /// It was taken away on purpose.
    forgotten: bool,
    /// It is a station, whose lines come by this input: a broker's.
    through: Option<InputId>,
    /// Stations come by it: it hears nothing itself.
    is_broker: bool,
    /// That input is lost: whether the station speaks is not known, and it is not missed on its own.
    away: bool,
    /// The datagrams it lost in one flood, and when it lost the last.
    dropped: Option<(Dropped, Mono)>,
    channels: Channels,
    levels: Levels,
    set_alerts: SetAlerts,
}

/// The health of all inputs.
#[derive(Debug, Default)]
pub(super) struct Inputs {
    table: Vec<Health>,
}

impl Inputs {
    /// The input with this name, new if need be. Names beyond the limit share the last place.
    pub(super) fn enter(&mut self, name: &str) -> InputId {
        let found = self.table.iter().position(|input| input.name == name);
        let place = found.unwrap_or_else(|| {
            if self.table.len() < INPUTS_LIMIT {
                self.table.push(Health {
                    name: name.to_owned(),
                    unheard: true,
                    ..Health::default()
                });
            }
            self.table.len() - 1
        });
        InputId(place as u16)
    }

    /// A station whose lines come by another input from now on.
    pub(super) fn enter_station(&mut self, name: &str, through: InputId) -> InputId {
        let id = self.enter(name);
        if let Some(input) = self.table.get_mut(usize::from(id.0)).filter(|_| id != through) {
            (input.through, input.away) = (Some(through), false);
            if let Some(broker) = self.table.get_mut(usize::from(through.0)) {
                broker.is_broker = true;
            }
        }
        id
    }

    /// The input by which a station's lines come.
    pub(super) fn through(&self, id: InputId) -> Option<InputId> {
        self.table.get(usize::from(id.0))?.through
    }

    fn stations_of(&mut self, through: InputId) -> impl Iterator<Item = &mut Health> {
        self.table.iter_mut().filter(move |it| it.through == Some(through))
    }

    /// The name of an input.
    pub(super) fn name(&self, id: InputId) -> Option<&str> {
        self.table.get(usize::from(id.0)).map(|input| input.name.as_str())
    }

    /// Whether it hears both channels of AIS.
    pub(super) fn channels_mut(&mut self, id: InputId) -> Option<&mut Channels> {
        self.table.get_mut(usize::from(id.0)).map(|input| &mut input.channels)
    }

    /// The levels it tells.
    pub(super) fn levels_mut(&mut self, id: InputId) -> Option<&mut Levels> {
        self.table.get_mut(usize::from(id.0)).map(|input| &mut input.levels)
    }

    /// The alerts of the AIS set behind it.
    pub(super) fn set_alerts_mut(&mut self, id: InputId) -> Option<&mut SetAlerts> {
        self.table.get_mut(usize::from(id.0)).map(|input| &mut input.set_alerts)
    }

    /// An input that was taken away on purpose. Its name may come again.
    pub(super) fn forget(&mut self, id: InputId) {
        if let Some(input) = self.table.get_mut(usize::from(id.0)) {
            let name = std::mem::take(&mut input.name);
            *input = Health { name, unheard: true, forgotten: true, ..Health::default() };
        }
    }

    /// What there is to see of each.
    pub(super) fn views(&self, now: Mono) -> impl Iterator<Item = InputView> {
        let known = (0..).zip(&self.table).filter(|(_, input)| !input.forgotten);
        known.map(move |(id, input)| InputView {
            id: InputId(id),
            name: input.name.clone(),
            state: input.state,
            heard: input.spoken().into_iter().flatten().max().map(|last| now.since(last)),
            ais: input.ais.map(|last| now.since(last)),
            garbled: input.garbled().filter(|_| input.unheard),
            hears_ais: input.ais.is_some(),
            channels: input.channels.heard(),
        })
    }

    pub(super) fn heard(
        &mut self,
        id: InputId,
        traffic: TrafficKind,
        now: Mono,
        settings: &Settings,
    ) -> Option<Change> {
        let input = self.table.get_mut(usize::from(id.0))?;
        input.count(false);
        input.unheard = false;
        (input.garble, input.other_datagram) = (Garble::default(), None);
        // A line that comes in after all shows that it is not lost.
        input.lost = None;
        match traffic {
            TrafficKind::Ais => input.ais = Some(now),
            TrafficKind::Gnss => input.gnss = Some(now),
            TrafficKind::Call => input.call = Some(now),
            TrafficKind::Other => input.other = Some(now),
            TrafficKind::Set => {
                input.is_set = true;
                input.other = Some(now);
            }
        }
        self.review(id, now, settings)
    }

    pub(super) fn rejected(
        &mut self,
        id: InputId,
        damaged: bool,
        now: Mono,
        settings: &Settings,
    ) -> Option<Change> {
        self.table.get_mut(usize::from(id.0))?.count(damaged);
        self.review(id, now, settings)
    }

    /// Bytes came in that are no sentence.
    pub(super) fn garbled(
        &mut self,
        id: InputId,
        bytes: &[u8],
        now: Mono,
        settings: &Settings,
    ) -> Option<Change> {
        let input = self.table.get_mut(usize::from(id.0))?;
        input.garble.push(bytes);
        self.rejected(id, true, now, settings)
    }

    /// A datagram came in that carries no sentences: no damage, and nothing heard.
    pub(super) fn not_sentences(
        &mut self,
        id: InputId,
        other: OtherDatagram,
        now: Mono,
        settings: &Settings,
    ) -> Option<Change> {
        self.table.get_mut(usize::from(id.0))?.other_datagram = Some(other);
        self.rejected(id, false, now, settings)
    }

    /// Says at which rate an input is read that is a serial line.
    pub(super) fn set_bit_rate(&mut self, id: InputId, rate: u32) {
        if let Some(input) = self.table.get_mut(usize::from(id.0)) {
            input.bit_rate = Some(rate);
        }
    }

    pub(super) fn opened(&mut self, id: InputId, now: Mono) {
        if let Some(input) = self.table.get_mut(usize::from(id.0)) {
            input.opened = Some(now);
            input.forgotten = false;
            input.lost = None;
            input.unheard = true;
            (input.garble, input.other_datagram) = (Garble::default(), None);
        }
        for station in self.stations_of(id) {
            (station.away, station.opened) = (false, Some(now));
        }
    }

    pub(super) fn lost(
        &mut self,
        id: InputId,
        reason: &str,
        now: Mono,
        settings: &Settings,
    ) -> Option<Change> {
        self.table.get_mut(usize::from(id.0))?.lost = Some(reason.to_owned());
        self.stations_of(id).for_each(|station| station.away = true);
        self.review(id, now, settings)
    }

    /// Datagrams were lost. Those of one flood are counted together.
    pub(super) fn dropped(
        &mut self,
        id: InputId,
        more: Dropped,
        now: Mono,
        settings: &Settings,
    ) -> Option<Change> {
        let input = self.table.get_mut(usize::from(id.0))?;
        let before = input.dropped.filter(|_| input.is_flooded(now)).unwrap_or_default().0;
        let total = Dropped {
            by_us: before.by_us.saturating_add(more.by_us),
            by_system: before.by_system.saturating_add(more.by_system),
        };
        input.dropped = Some((total, now));
        self.review(id, now, settings)
    }

    /// The inputs whose state changes by the time alone.
    pub(super) fn due(&mut self, now: Mono, settings: &Settings) -> Vec<Change> {
        let ids = 0..self.table.len() as u16;
        ids.filter_map(|id| self.review(InputId(id), now, settings)).collect()
    }

    /// When [`Self::due`] has something to look at after `now`.
    pub(super) fn next_deadline(&self, now: Mono, settings: &Settings) -> Option<Mono> {
        let ids = 0..self.table.len() as u16;
        ids.filter_map(|id| self.next_deadline_of(InputId(id), now, settings)).min()
    }

    /// The same for one input alone.
    pub(super) fn next_deadline_of(
        &self,
        id: InputId,
        now: Mono,
        settings: &Settings,
    ) -> Option<Mono> {
        let input = self.table.get(usize::from(id.0))?;
        input.next_deadline(now, settings, self.is_sole_hope(id, settings))
    }

    /// Whether an input that is heard and gave no AIS yet is the last that might: whoever wired it has
    /// perhaps taken the wrong one.
    fn is_sole_hope(&self, id: InputId, settings: &Settings) -> bool {
        let own = usize::from(id.0);
        let silent_so_far = |it: &Health| it.ais.is_none() && !it.is_set && it.spoke();
        let others = || (0..).zip(&self.table).filter(|(place, _)| *place != own);
        settings.expects_inputs
            && self.table.get(own).is_some_and(silent_so_far)
            && others().all(|(_, it)| !it.is_set && !it.is_ais_receiver(settings))
    }

    fn review(&mut self, id: InputId, now: Mono, settings: &Settings) -> Option<Change> {
        let sole_hope = self.is_sole_hope(id, settings);
        let input = &mut self.table[usize::from(id.0)];
        let (state, missed, text) = input.judge(now, settings, sole_hope)?;
        if input.state == Some(state) && input.missed == missed {
            return None;
        }
        (input.state, input.missed) = (Some(state), missed);
        let name = input.name.clone();
        let is_ais_receiver = input.is_ais_receiver(settings);
        let down = matches!(state, InputState::Silent | InputState::Lost);
        let deaf = down
            && is_ais_receiver
            && !self.table.iter().any(|it| it.is_ais_receiver(settings) && it.hears());
        Some(Change { input: id, name, state, text, deaf })
    }
}

impl Health {
    fn count(&mut self, damaged: bool) {
        self.damage = self.damage << 1 | u128::from(damaged);
        self.lines = (self.lines + 1).min(LATEST);
    }

    /// Whether it gave AIS before, or may yet: nothing is known of it. A name that a replay knows and
    /// that never gave a sentence, as its file's, is no input.
    fn is_ais_receiver(&self, settings: &Settings) -> bool {
        let may_yet = !self.spoke() && (settings.expects_inputs || self.opened.is_some());
        !self.forgotten && (self.ais.is_some() || may_yet)
    }

    /// Whether it ever gave a sound sentence.
    fn spoke(&self) -> bool {
        self.spoken().iter().any(Option::is_some)
    }

    /// When it gave each kind of sound sentence last.
    const fn spoken(&self) -> [Option<Mono>; 4] {
        [self.ais, self.gnss, self.call, self.other]
    }

    /// What is to be said of bytes that are no sentences, if such came since the last.
    fn garbled(&self) -> Option<String> {
        let other = |it| format!("datagrams come, no sentences in them: {it}");
        let garble = (!self.garble.is_empty()).then(|| self.garble.words(self.bit_rate));
        garble.or(self.other_datagram.map(other))
    }

    /// Whether datagrams were lost lately.
    fn is_flooded(&self, now: Mono) -> bool {
        self.dropped.is_some_and(|(_, last)| now < last + DROPS_COUNT)
    }

    fn hears(&self) -> bool {
        self.lost.is_none() && self.missed.is_none() && !self.away && !self.is_broker
    }

    /// When something would be missed after `now`; what is missed already waits for no time.
    fn next_deadline(&self, now: Mono, settings: &Settings, sole_hope: bool) -> Option<Mono> {
        let limits = self.limits(settings, sole_hope).map(|(at, ..)| at);
        let flood_over = self.dropped.map(|(_, last)| last + DROPS_COUNT);
        limits.chain(flood_over).filter(|&at| at > now && self.lost.is_none() && !self.away).min()
    }

    /// When each kind of sentence it gave would be missed.
    fn limits(
        &self,
        settings: &Settings,
        sole_hope: bool,
    ) -> impl Iterator<Item = (Mono, Missed, Duration)> + use<> {
        let opened = self.opened;
        let since_opened =
            |last: Option<Mono>| last.map(|last| last.max(opened.unwrap_or_default()));
        // What gives AIS is judged by that alone: the loss of the own position has its own alert.
        let gnss = self.gnss.filter(|_| self.ais.is_none());
        // Instruments are missed only if there is nothing else to go by.
        let other = self.other.filter(|_| self.ais.is_none() && self.gnss.is_none());
        let ais_ever = opened.filter(|_| sole_hope);
        let never = self.opened.filter(|_| settings.expects_inputs && !self.spoke());
        [
            (since_opened(gnss), Missed::Position, settings.gnss_silence),
            (since_opened(other).or(never), Missed::Anything, settings.ais_silence),
            (ais_ever, Missed::AisEver, AIS_EVER),
            (since_opened(self.ais), Missed::Ais, settings.ais_silence),
        ]
        .into_iter()
        .filter_map(|(last, missed, limit)| Some((last? + limit, missed, limit)))
    }

    fn judge(
        &self,
        now: Mono,
        settings: &Settings,
        sole_hope: bool,
    ) -> Option<(InputState, Option<Missed>, String)> {
        if self.away {
            return None;
        }
        if let Some(reason) = &self.lost {
            return Some((InputState::Lost, None, reason.clone()));
        }
        let passed = self.limits(settings, sole_hope).filter(|&(at, ..)| at <= now);
        if let Some((_, missed, limit)) = passed.max_by_key(|&(_, missed, _)| missed) {
            let what = match missed {
                Missed::Position => "no position sentence",
                Missed::Anything => "nothing",
                Missed::AisEver | Missed::Ais => "no AIS",
            };
            let garbled = self.garbled().filter(|_| missed == Missed::Anything);
            let text = match missed {
                Missed::AisEver => NO_AIS_EVER.to_owned(),
                _ => garbled.unwrap_or_else(|| format!("{what} for {} s", limit.as_secs())),
            };
            return Some((InputState::Silent, Some(missed), text));
        }
        if let Some((dropped, _)) = self.dropped.filter(|_| self.is_flooded(now)) {
            return Some((InputState::Noisy, None, format!("flood: {}", dropped.words())));
        }
        let open = self.opened.is_some_and(|opened| opened + UNHEARD_AT_MOST <= now);
        if open && self.unheard && self.garble.is_plain() {
            return Some((InputState::Noisy, None, self.garble.words(self.bit_rate)));
        }
        let damaged = self.damage.count_ones();
        let percent = damaged * 100 / self.lines.max(1);
        let was_noisy = self.state == Some(InputState::Noisy);
        let limit = if was_noisy { SOUND_PERCENT } else { NOISY_PERCENT };
        if self.lines >= FEWEST && percent >= limit {
            let text = format!("{damaged} of the last {} lines damaged", self.lines);
            return Some((InputState::Noisy, None, text));
        }
        (self.spoke() && !self.unheard).then(|| {
            // The flood may just have ended: only now it is known how much was lost.
            let lost = self.dropped.filter(|_| self.state == Some(InputState::Noisy));
            let text = lost.map(|(dropped, _)| format!("live; in the flood {}", dropped.words()));
            (InputState::Live, None, text.unwrap_or_else(|| "live".to_owned()))
        })
    }
}

impl Dropped {
    /// `12 datagrams dropped, 3 of them by the system`.
    fn words(self) -> String {
        let all = self.by_us.saturating_add(self.by_system);
        format!("{} dropped, {} of them by the system", counted(all, "datagram"), self.by_system)
    }
}
