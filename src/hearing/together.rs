//! Hours of reach put together.

use std::collections::BTreeMap;

use serde::Serialize;

use super::map::{CommonMap, Placed};
use crate::position::Position;
use crate::time::Utc;
use crate::units::NauticalMiles;
use crate::watch::{
    AisClass, ChannelCount, InputCount, NotKnown, RangeCount, Reach, ReachHour, SectorCount,
    SectorFrom,
};

/// How many inputs are told apart; the watch gives no more in an hour. Our own.
const INPUTS: usize = 32;

/// An hour that began longer ago than this says nothing of now. Our own.
const NOW_MS: i64 = 2 * 3_600_000;

/// No beacon at the water is heard beyond the horizon of a mast of a hundred metres, however good the
/// day. Our own.
const FARTHEST_NM: f64 = 50.0;

/// How the boat heard over some hours.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Hearing {
    /// When the first hour began; `None` without any.
    pub from: Option<Utc>,
    /// When the last began.
    pub until: Option<Utc>,
    /// The last of them, if it is no older than two hours; of a recording, its end.
    pub now: Option<Reach>,
    /// In the middle of the hours in which it was known.
    pub median_nm: Option<NauticalMiles>,
    /// How the hours were, the oldest first.
    pub hours: Vec<HourShown>,
    /// By class and range, nearest first.
    pub by_range: Vec<RangeCount>,
    /// By direction, from the bow and then from north, clockwise.
    pub by_sector: Vec<SectorTogether>,
    /// By channel.
    pub by_channel: Vec<ChannelCount>,
    /// By input, by their names.
    pub by_input: Vec<InputTogether>,
    /// Where the watch's own receiver was at the end of a recording, or stands; `None` if not known.
    pub position: Option<Position>,
    /// Other stations whose lines are in a recording, by their names; none of what a watch has kept.
    pub stations: Vec<StationTogether>,
    /// Where all of them together would hear a beacon; `None` where no place of a station is known.
    pub map: Option<CommonMap>,
}

/// How another station heard, by what its own receiver had.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StationTogether {
    /// Its name as an input: `station pier`.
    pub station: String,
    /// Where it stands; `None` if nobody has told: then nothing else is known either.
    pub position: Option<Position>,
    /// At the end of the recording.
    pub now: Option<Reach>,
    /// In the middle of the hours in which it was known.
    pub median_nm: Option<NauticalMiles>,
    /// Reports that were due.
    pub expected: u64,
    /// How many of those came.
    pub received: u64,
    /// By direction, from the bow and then from north, clockwise.
    pub by_sector: Vec<SectorTogether>,
}

impl StationTogether {
    /// Puts the hours of a station together.
    pub fn of(station: String, position: Option<Position>, heard: Hearing) -> Self {
        let sum = |count: fn(&RangeCount) -> u32| {
            heard.by_range.iter().map(|it| u64::from(count(it))).sum()
        };
        Self {
            station,
            position,
            median_nm: heard.median_nm,
            expected: sum(|it| it.expected),
            received: sum(|it| it.received),
            now: heard.now,
            by_sector: heard.by_sector,
        }
    }
}

/// What is shown of an hour.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct HourShown {
    /// When it began.
    pub start: Utc,
    /// How far a beacon would have been heard; `None` if that was not known.
    pub range80_nm: Option<NauticalMiles>,
    /// Not less than this.
    pub low_nm: Option<NauticalMiles>,
    /// Not more than this.
    pub high_nm: Option<NauticalMiles>,
    /// From how many stations.
    pub stations: u16,
    /// Why it was not known.
    pub why_not: Option<NotKnown>,
}

/// A direction over some hours.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SectorTogether {
    /// From where it is counted.
    pub from: SectorFrom,
    /// Where it begins, clockwise: 0, 30, to 330; it is 30 degrees wide.
    pub sector_deg: u16,
    /// Reports that were due.
    pub expected: u64,
    /// How many of those came.
    pub received: u64,
    /// In the middle of the hours in which it was known.
    pub median_nm: Option<NauticalMiles>,
}

/// An input over some hours.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InputTogether {
    /// Its name.
    pub input: String,
    /// Reports that were due while it was there.
    pub expected: u64,
    /// How many of those it heard.
    pub received: u64,
    /// In the middle of the hours in which it was known.
    pub median_nm: Option<NauticalMiles>,
}

/// Counts of one kind, and the ranges that were known.
#[derive(Debug, Default)]
struct Sum {
    expected: u64,
    received: u64,
    ranges: Vec<f64>,
}

impl Sum {
    fn add(&mut self, expected: u32, received: u32, range: Option<NauticalMiles>) {
        self.expected += u64::from(expected);
        self.received += u64::from(received.min(expected));
        self.ranges.extend(possible(range).map(|it| it.0));
    }
}

impl Hearing {
    /// Puts hours together, in whatever order they come. `now` is how it is at the end of a recording;
    /// of what a watch has kept, the last hour, as seen from `at`.
    pub fn of(mut hours: Vec<ReachHour>, now: Option<Reach>, at: Option<Utc>) -> Self {
        hours.sort_by_key(|hour| hour.start);
        let last = hours
            .last()
            .filter(|last| at.is_some_and(|at| (0..=NOW_MS).contains(&at.ms_since(last.start))));
        let now = now.or_else(|| last.map(|it| it.reach.clone()));
        let mut ranges: BTreeMap<(u8, u64), (RangeCount, Sum)> = BTreeMap::new();
        let mut sectors: BTreeMap<(bool, u16), Sum> = BTreeMap::new();
        let mut channels: BTreeMap<char, Sum> = BTreeMap::new();
        let mut inputs: BTreeMap<&str, Sum> = BTreeMap::new();
        for hour in &hours {
            let is_possible = |it: &&RangeCount| {
                [it.from_nm, it.to_nm].iter().all(|nm| (0.0..=1e3).contains(&nm.0))
            };
            for it in hour.by_range.iter().filter(is_possible) {
                let key = (place(it.class), (it.from_nm.0 * 1000.0) as u64);
                let (_, sum) = ranges.entry(key).or_insert_with(|| (it.clone(), Sum::default()));
                sum.add(it.expected, it.received, None);
            }
            for SectorCount { from, sector_deg, expected, received, range80_nm } in &hour.by_sector
            {
                if *sector_deg < 360 && sector_deg.is_multiple_of(30) {
                    let sum = sectors.entry((*from == SectorFrom::North, *sector_deg)).or_default();
                    sum.add(*expected, *received, *range80_nm);
                }
            }
            for it in &hour.by_channel {
                channels.entry(it.channel).or_default().add(it.expected, it.received, None);
            }
            for InputCount { input, expected, received, range80_nm } in &hour.by_input {
                if inputs.len() < INPUTS || inputs.contains_key(input.as_str()) {
                    inputs.entry(input).or_default().add(*expected, *received, *range80_nm);
                }
            }
        }
        // Where nothing was due there is no share.
        let by_range =
            ranges.into_values().filter(|(_, sum)| sum.expected > 0).map(|(first, sum)| {
                RangeCount { expected: count(sum.expected), received: count(sum.received), ..first }
            });
        let by_sector = sectors.into_iter().filter(|(_, sum)| sum.expected > 0).map(
            |((north, sector_deg), sum)| SectorTogether {
                from: if north { SectorFrom::North } else { SectorFrom::Bow },
                sector_deg,
                expected: sum.expected,
                received: sum.received,
                median_nm: median(sum.ranges),
            },
        );
        let by_channel =
            channels.into_iter().filter(|(_, sum)| sum.expected > 0).map(|(channel, sum)| {
                ChannelCount {
                    channel,
                    expected: count(sum.expected),
                    received: count(sum.received),
                }
            });
        let by_input =
            inputs.into_iter().filter(|(_, sum)| sum.expected > 0).map(|(input, sum)| {
                InputTogether {
                    input: input.to_owned(),
                    expected: sum.expected,
                    received: sum.received,
                    median_nm: median(sum.ranges),
                }
            });
        let (by_range, by_sector) = (by_range.collect(), by_sector.collect());
        let (by_channel, by_input) = (by_channel.collect(), by_input.collect());
        let shown: Vec<HourShown> = hours.iter().map(HourShown::of).collect();
        Self {
            from: shown.first().map(|it| it.start),
            until: shown.last().map(|it| it.start),
            now,
            median_nm: median(shown.iter().filter_map(|it| Some(it.range80_nm?.0)).collect()),
            hours: shown,
            by_range,
            by_sector,
            by_channel,
            by_input,
            position: None,
            stations: Vec::new(),
            map: None,
        }
    }

    /// The same, heard from this place and beside these stations.
    pub fn among(self, position: Option<Position>, stations: Vec<StationTogether>) -> Self {
        let own = position
            .filter(|_| !self.by_range.is_empty())
            .map(|place| placed(None, place, (self.median_nm, self.now.as_ref()), &self.by_sector));
        let others = stations.iter().filter_map(|it| {
            let known = (it.median_nm, it.now.as_ref());
            Some(placed(Some(&it.station), it.position?, known, &it.by_sector))
        });
        let receivers: Vec<Placed> = (1..)
            .zip(own.into_iter().chain(others))
            .map(|(number, it)| Placed { number, ..it })
            .collect();
        let is_common = receivers.iter().any(|it| it.station.is_some());
        let map = is_common.then(|| CommonMap::of(receivers));
        Self { position, stations, map, ..self }
    }

    /// The hours in which it was known: the least and the greatest.
    pub fn extremes(&self) -> Option<(HourShown, HourShown)> {
        let known = || self.hours.iter().filter(|it| it.range80_nm.is_some());
        let order = |a: &&HourShown, b: &&HourShown| {
            let range = |it: &HourShown| it.range80_nm.map_or(0.0, |range| range.0);
            range(a).total_cmp(&range(b))
        };
        Some((*known().min_by(order)?, *known().max_by(order)?))
    }

    /// The directions that more is known of: those from the bow or those from north.
    pub fn sectors(&self) -> Vec<&SectorTogether> {
        let of = |from| self.by_sector.iter().filter(move |it| it.from == from);
        let due = |from| of(from).map(|it| it.expected).sum::<u64>();
        let from = if due(SectorFrom::Bow) >= due(SectorFrom::North) {
            SectorFrom::Bow
        } else {
            SectorFrom::North
        };
        of(from).collect()
    }
}

impl HourShown {
    fn of(hour: &ReachHour) -> Self {
        let Reach { range80_nm, low_nm, high_nm, stations, why_not, .. } = hour.reach;
        let [range80_nm, low_nm, high_nm] = [range80_nm, low_nm, high_nm].map(possible);
        Self { start: hour.start, range80_nm, low_nm, high_nm, stations, why_not }
    }
}

/// A receiver for the map, not numbered yet. Where a bow has pointed over the hours is not known:
/// directions from it count for nothing there.
fn placed(
    station: Option<&str>,
    position: Position,
    (median, now): (Option<NauticalMiles>, Option<&Reach>),
    by_sector: &[SectorTogether],
) -> Placed {
    let range_nm = median.or_else(|| possible(now?.low_nm));
    let mut sectors_nm = [None; 12];
    for it in by_sector.iter().filter(|it| it.from == SectorFrom::North && range_nm.is_some()) {
        if let Some(sector) = sectors_nm.get_mut(usize::from(it.sector_deg / 30)) {
            *sector = it.median_nm;
        }
    }
    Placed { number: 0, station: station.map(str::to_owned), position, range_nm, sectors_nm }
}

/// A range that can be one: a table may be damaged.
fn possible(range: Option<NauticalMiles>) -> Option<NauticalMiles> {
    range.filter(|it| (0.0..=FARTHEST_NM).contains(&it.0))
}

const fn place(class: AisClass) -> u8 {
    match class {
        AisClass::A => 0,
        AisClass::BSo => 1,
        AisClass::BCs => 2,
    }
}

fn count(sum: u64) -> u32 {
    u32::try_from(sum).unwrap_or(u32::MAX)
}

/// The middle one, or the lower of the two in the middle.
fn median(mut ranges: Vec<f64>) -> Option<NauticalMiles> {
    ranges.sort_by(f64::total_cmp);
    let middle = ranges.len().checked_sub(1)? / 2;
    ranges.get(middle).map(|&it| NauticalMiles(it))
}
