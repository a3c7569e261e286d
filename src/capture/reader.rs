//! Lines of a recording with their stamps and inputs.

use std::collections::HashMap;

use super::timeline::Timeline;
use crate::time::Stamp;
use crate::watch::Watch;
use crate::wire::{InputId, Line, Tag};

/// How many groups of sentences are remembered for the parts that name no source.
const GROUPS: usize = 64;

/// How many sources are told apart before they share the file's input.
const SOURCES: usize = 250;

/// When and by which input a line came in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LineOrigin {
    /// When.
    pub stamp: Stamp,
    /// By which input: the TAG block's source, else the file.
    pub input: InputId,
}

/// Places the lines of one or several recordings, in order.
pub struct Reader {
    timeline: Timeline,
    file: InputId,
    sources: HashMap<Vec<u8>, InputId>,
    /// The groups begun last, and the inputs they came by.
    groups: Vec<(Vec<u8>, InputId)>,
}

impl Reader {
    /// A reader at the beginning of the first file, which the watch knows by `name`.
    pub fn new(watch: &mut Watch, name: &str) -> Self {
        Self {
            timeline: Timeline::new(),
            file: watch.input(name),
            sources: HashMap::new(),
            groups: Vec::new(),
        }
    }

    /// Another file begins.
    pub fn begin_file(&mut self, watch: &mut Watch, name: &str) {
        self.timeline.begin_file();
        self.file = watch.input(name);
    }

    /// When and by which input the next line came in.
    pub fn place(&mut self, watch: &mut Watch, raw: &[u8]) -> LineOrigin {
        let line = Line::parse(raw);
        let damaged;
        let tag = if let Ok(line) = &line {
            line.tag.as_ref()
        } else {
            damaged = Line::tag_of_damaged(raw);
            damaged.as_ref()
        };
        let stamp = self.timeline.stamp(raw, tag, line.as_ref().ok());
        let input = self.input(watch, tag);
        LineOrigin { stamp, input }
    }

    /// The later sentences of a group often leave out the source that the first one names.
    fn input(&mut self, watch: &mut Watch, tag: Option<&Tag<'_>>) -> InputId {
        let Some(tag) = tag else { return self.file };
        let group = tag.group;
        let Some(source) = tag.source else {
            let begun =
                group.and_then(|group| self.groups.iter().rev().find(|(id, _)| id == group.id));
            return begun.map_or(self.file, |&(_, input)| input);
        };
        let known = self.sources.get(source).copied();
        let input = known.unwrap_or_else(|| {
            if self.sources.len() >= SOURCES {
                return self.file;
            }
            let input = watch.input(&Tag::text_of(source));
            self.sources.insert(source.to_vec(), input);
            input
        });
        if let Some(group) = group.filter(|group| group.number == 1 && group.total > 1) {
            if self.groups.len() >= GROUPS {
                self.groups.remove(0);
            }
            self.groups.push((group.id.to_vec(), input));
        }
        input
    }
}
