//! What a whole batch comes to: kinds, pitch against the target, and what needs attention first.

use std::collections::BTreeMap;

use super::form::Entry;

/// Takes that are named in each group of those that need attention.
const NAMED: usize = 5;

/// Why a take needs attention, the most pressing first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Attention {
    /// It could not be read.
    NotRead,
    /// It holds no crow.
    NoCrow,
    /// Its octaves are not at 2:1.
    Split,
    /// It sounds, and no tone is sustained.
    Unsettled,
    /// Too much of the sound is at full scale, or the room is loud.
    Doubtful,
    /// It is further from the target than the profile allows.
    OffTarget,
}

/// The takes of one group: how many, and the most pressing of them with a number to rank by.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Group {
    /// All of them.
    pub count: u64,
    /// The most pressing.
    pub first: Vec<(Entry, f64)>,
}

/// What a batch comes to. Of a take it keeps its pitch alone.
#[derive(Debug, Clone)]
pub struct Summary {
    /// Takes with a row.
    pub rows: u64,
    /// Rows taken over from an earlier run.
    pub taken_over: u64,
    /// Files in folders that are no recordings.
    pub passed_over: u64,
    /// Seconds of sound in all takes.
    pub audio_s: f64,
    /// Takes by kind; the empty word stands for no crow.
    pub kinds: BTreeMap<String, u64>,
    /// Distance from the target of every take that has one, in cents: eight bytes a take, so that
    /// the median here is the page's to the last digit.
    pub target_cents: Vec<f64>,
    /// Takes that need attention.
    pub attention: BTreeMap<Attention, Group>,
    tolerance_cents: f64,
}

impl Summary {
    /// Of nothing yet.
    ///
    /// * `tolerance_cents`: distance from the target that needs no attention.
    pub fn new(tolerance_cents: f64) -> Self {
        Self {
            rows: 0,
            taken_over: 0,
            passed_over: 0,
            audio_s: 0.0,
            kinds: BTreeMap::new(),
            target_cents: Vec::new(),
            attention: BTreeMap::new(),
            tolerance_cents,
        }
    }

    /// Takes that could not be read.
    pub fn failed(&self) -> u64 {
        self.attention.get(&Attention::NotRead).map_or(0, |group| group.count)
    }

    /// Takes that were read.
    pub fn read(&self) -> u64 {
        self.rows - self.failed()
    }

    /// Adds one row.
    pub fn add(&mut self, entry: Entry) {
        self.rows += 1;
        self.audio_s += entry.duration_s.unwrap_or_default();
        if entry.error.is_none() {
            *self.kinds.entry(entry.kind.clone().unwrap_or_default()).or_default() += 1;
            self.target_cents.extend(entry.target_cents.filter(|cents| cents.is_finite()));
        }
        let Some((attention, weight)) = self.attention_for(&entry) else { return };
        let group = self.attention.entry(attention).or_default();
        group.count += 1;
        let place = group.first.partition_point(|(_, other)| *other >= weight);
        if place < NAMED {
            group.first.insert(place, (entry, weight));
            group.first.truncate(NAMED);
        }
    }

    /// Which group a take belongs to, and how pressing it is there.
    fn attention_for(&self, entry: &Entry) -> Option<(Attention, f64)> {
        if entry.error.is_some() {
            return Some((Attention::NotRead, 0.0));
        }
        let off = entry.target_cents.unwrap_or_default().abs();
        match entry.kind.as_deref() {
            None => Some((Attention::NoCrow, 0.0)),
            Some("split") => {
                Some((Attention::Split, entry.alignment_cents.unwrap_or_default().abs()))
            }
            Some("unsettled") => Some((Attention::Unsettled, 0.0)),
            Some(_) if !entry.warnings.is_empty() => {
                Some((Attention::Doubtful, entry.warnings.split(' ').count() as f64))
            }
            Some(_) if off > self.tolerance_cents => Some((Attention::OffTarget, off)),
            Some(_) => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(kind: &str, target_cents: f64) -> Entry {
        Entry {
            source: format!("{kind} {target_cents}"),
            kind: Some(kind.into()),
            target_cents: Some(target_cents),
            ..Entry::default()
        }
    }

    #[test]
    fn the_furthest_from_the_target_are_named_first_and_the_rest_counted() {
        let mut summary = Summary::new(20.0);
        for cents in [-10.0, 25.0, -90.0, 30.0, 40.0, -50.0, 60.0] {
            summary.add(entry("octaves", cents));
        }
        let group = &summary.attention[&Attention::OffTarget];
        assert_eq!(group.count, 6);
        let named: Vec<_> = group.first.iter().map(|(_, off)| *off).collect();
        assert_eq!(named, [90.0, 60.0, 50.0, 40.0, 30.0]);
        assert_eq!(summary.target_cents.len(), 7);
    }

    #[test]
    fn one_that_was_not_read_has_no_kind() {
        let mut summary = Summary::new(20.0);
        summary.add(Entry { error: Some("is empty".into()), ..Entry::default() });
        summary.add(Entry { kind: None, ..Entry::default() });
        assert_eq!((summary.rows, summary.failed(), summary.read()), (2, 1, 1));
        assert_eq!(summary.kinds, BTreeMap::from([(String::new(), 1)]));
        assert_eq!(summary.attention[&Attention::NoCrow].count, 1);
        assert!(summary.target_cents.is_empty());
    }
}
