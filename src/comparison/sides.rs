//! The two sides: their takes, and the crows in them that sound.

use std::collections::{BTreeMap, BTreeSet};

use super::Side;
use crate::reading::{Crow, Kind, Reading, commonest_kind};

/// The takes of one side.
pub(super) struct Takes<'a> {
    pub readings: &'a [Reading],
}

/// Both sides.
pub(super) struct Sides<'a> {
    pub before: Takes<'a>,
    pub after: Takes<'a>,
}

impl<'a> Takes<'a> {
    /// Crows that sound.
    pub fn crows(&self) -> impl Iterator<Item = &'a Crow> + Clone + use<'a> {
        self.readings
            .iter()
            .flat_map(|reading| &reading.crows)
            .filter(|crow| crow.kind != Kind::Breath)
    }

    pub fn described(&self) -> Side {
        let kind = commonest_kind(self.crows());
        Side {
            source: self.readings.iter().map(|reading| reading.source.clone()).collect(),
            crow_count: self.crows().count(),
            kind,
            kind_count: self.crows().filter(|crow| Some(crow.kind) == kind).count(),
            register: self.register(kind),
        }
    }
}

impl Takes<'_> {
    /// The register of the lowest tone of most crows of a kind, the lower one on a tie.
    fn register(&self, kind: Option<Kind>) -> Option<i32> {
        let of_kind = self.crows().filter(|crow| Some(crow.kind) == kind);
        let mut counts = BTreeMap::new();
        for register in of_kind.filter_map(|crow| crow.figures.fundamental.register) {
            *counts.entry(register).or_insert(0_usize) += 1;
        }
        counts.into_iter().rev().max_by_key(|(_, count)| *count).map(|(register, _)| register)
    }
}

impl<'a> Sides<'a> {
    pub fn new(before: &'a [Reading], after: &'a [Reading]) -> Self {
        Self { before: Takes { readings: before }, after: Takes { readings: after } }
    }

    pub fn readings(&self) -> impl Iterator<Item = &'a Reading> + use<'a> {
        self.before.readings.iter().chain(self.after.readings)
    }

    /// The different values of something over all takes, as text.
    pub fn different(&self, of: impl Fn(&Reading) -> String) -> BTreeSet<String> {
        self.readings().map(of).collect()
    }

    /// Whether levels of the two sides were taken through the same channel.
    pub fn levels_compare(&self) -> bool {
        self.different(channel).len() <= 1
    }
}

pub(super) fn channel(reading: &Reading) -> String {
    format!("{} of {}", reading.channel, reading.channels)
}
