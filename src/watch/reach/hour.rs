//! What is counted in an hour, and what is told of it at its end.

use super::bins::{BINS, Bin, SECTORS, Sector};
use super::report::{
    AisClass, ChannelCount, InputCount, RangeCount, Reach, ReachHour, SectorCount,
};
use super::stations::{INPUTS, Report};
use crate::time::Stamp;
use crate::units::NauticalMiles;

/// Reports that were due, and those that came.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Count {
    pub expected: u32,
    pub received: u32,
}

const CLASSES: [AisClass; 3] = [AisClass::A, AisClass::BSo, AisClass::BCs];

/// An hour under way.
#[derive(Debug)]
pub(super) struct Hour {
    pub begun: Stamp,
    by_range: [[Count; BINS]; CLASSES.len()],
    by_sector: [Count; 2 * SECTORS],
    by_channel: [u32; 2],
    on_a_channel: u32,
    by_input: [u32; INPUTS],
    all: Count,
}

/// How far a beacon would be heard in each direction, and by each input.
pub(super) struct Parts {
    pub sectors: [Option<NauticalMiles>; 2 * SECTORS],
    pub inputs: Vec<(String, Option<NauticalMiles>)>,
}

impl Hour {
    pub(super) fn new(begun: Stamp) -> Self {
        Self {
            begun,
            by_range: [[Count::default(); BINS]; CLASSES.len()],
            by_sector: [Count::default(); 2 * SECTORS],
            by_channel: [0; 2],
            on_a_channel: 0,
            by_input: [0; INPUTS],
            all: Count::default(),
        }
    }

    /// So many were due, and this one came.
    pub(super) fn due(&mut self, report: &Report, due: u16, channel: Option<char>) {
        let class = report.class as usize;
        let counts = [
            &mut self.by_range[class][report.bin.number()],
            &mut self.by_sector[report.sector.number()],
            &mut self.all,
        ];
        for count in counts {
            count.expected = count.expected.saturating_add(due.into());
            count.received = count.received.saturating_add(1);
        }
        let channel = channel.and_then(|it| ['A', 'B'].iter().position(|name| *name == it));
        if let Some(channel) = channel {
            self.by_channel[channel] += 1;
            self.on_a_channel = self.on_a_channel.saturating_add(due.into());
        }
        self.again(report);
    }

    /// An input has heard what was due.
    pub(super) fn again(&mut self, report: &Report) {
        if let Some(input) = report.input {
            self.by_input[input] = self.by_input[input].saturating_add(1);
        }
    }

    /// What is told at its end.
    pub(super) fn close(&self, reach: Reach, parts: Parts) -> ReachHour {
        let by_range = CLASSES.iter().zip(&self.by_range).flat_map(|(class, counts)| {
            (0..).zip(counts).filter(|(_, it)| it.expected > 0).map(|(number, it)| RangeCount {
                class: *class,
                from_nm: Bin::begin(number),
                to_nm: Bin::begin(number + 1),
                expected: it.expected,
                received: it.received,
            })
        });
        let by_sector = (0..).zip(&self.by_sector).filter(|(_, it)| it.expected > 0);
        let by_sector = by_sector.map(|(number, it)| {
            let (from, sector_deg) = Sector::parts(number);
            let range80_nm = parts.sectors[number];
            let Count { expected, received } = *it;
            SectorCount { from, sector_deg, expected, received, range80_nm }
        });
        let by_channel = ['A', 'B'].into_iter().zip(self.by_channel);
        let by_channel = by_channel.filter(|_| self.on_a_channel > 0).map(|(channel, received)| {
            ChannelCount { channel, expected: self.on_a_channel.div_ceil(2), received }
        });
        let by_input = parts.inputs.into_iter().zip(self.by_input);
        let by_input = by_input.map(|((input, range80_nm), received)| InputCount {
            input,
            expected: self.all.expected,
            received,
            range80_nm,
        });
        ReachHour {
            start: self.begun.utc,
            reach,
            by_range: by_range.collect(),
            by_sector: by_sector.collect(),
            by_channel: by_channel.collect(),
            by_input: by_input.collect(),
        }
    }
}
