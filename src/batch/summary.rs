//! What a whole batch comes to: kinds, pitch against the target, and what needs attention first.

use std::collections::BTreeMap;

use super::form::Entry;
use crate::profile::Profile;
use crate::reading::Kind;
use crate::report::distribution::Heard;
use crate::words::batch::reason;

/// Takes that are named in each group of those that need attention.
const NAMED: usize = 5;

/// Why a take needs attention, the most pressing first: what says nothing of a reed, then reeds
/// that are no good as they are, then those that want a cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Attention {
    /// It could not be read.
    NotRead,
    /// It holds no crow.
    NoCrow,
    /// It sounds, and no tone is sustained.
    Unsettled,
    /// Its octaves are not at 2:1.
    Split,
    /// One octave sounds alone.
    Single,
    /// Its octaves take turns instead of sounding together.
    Turns,
    /// Its low octave comes late.
    Late,
    /// It rattles wildly.
    Rattle,
    /// Too much of the sound is at full scale, or the room is loud.
    Doubtful,
    /// It is further from the target than the profile allows.
    OffTarget,
}

impl Attention {
    /// The same in words.
    pub fn reason(self) -> &'static str {
        match self {
            Self::NotRead => reason::NOT_READ,
            Self::NoCrow => reason::NO_CROW,
            Self::Unsettled => reason::UNSETTLED,
            Self::Split => reason::SPLIT,
            Self::Single => reason::SINGLE,
            Self::Turns => reason::TURNS,
            Self::Late => reason::LATE,
            Self::Rattle => reason::RATTLE,
            Self::Doubtful => reason::DOUBTFUL,
            Self::OffTarget => reason::OFF_TARGET,
        }
    }
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
    /// Files in folders that are not recordings.
    pub passed_over: u64,
    /// Folders in folders, where those were not asked for.
    pub folders_inside: u64,
    /// Seconds of sound in all takes.
    pub audio_s: f64,
    /// Takes by how they are heard.
    pub kinds: BTreeMap<Heard, u64>,
    /// Distance from the target of every take that has one, in cents: eight bytes a take, so that
    /// the median here is the page's to the last digit.
    pub target_cents: Vec<f64>,
    /// Takes further from the target than the profile allows, whatever else there is.
    pub off_target: u64,
    /// Takes that need attention.
    pub attention: BTreeMap<Attention, Group>,
    profile: Profile,
}

impl Summary {
    /// Of nothing yet.
    ///
    /// * `profile`: says how far is off the target, how late is late, what takes turns, and what rattle is wild.
    pub fn new(profile: &Profile) -> Self {
        Self {
            rows: 0,
            taken_over: 0,
            passed_over: 0,
            folders_inside: 0,
            audio_s: 0.0,
            kinds: BTreeMap::new(),
            target_cents: Vec::new(),
            off_target: 0,
            attention: BTreeMap::new(),
            profile: profile.clone(),
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
            let kind = entry.kind.as_deref().and_then(Kind::coded);
            let heard = kind.map(|kind| (kind, self.is_peep(&entry)));
            *self.kinds.entry(heard).or_default() += 1;
            self.target_cents.extend(entry.target_cents.filter(|cents| cents.is_finite()));
        }
        self.off_target += u64::from(entry.error.is_none() && self.is_off_target(&entry));
        let Some((attention, weight)) = self.attention_for(&entry) else { return };
        let group = self.attention.entry(attention).or_default();
        group.count += 1;
        let place = group.first.partition_point(|(_, other)| *other >= weight);
        if place < NAMED {
            group.first.insert(place, (entry, weight));
            group.first.truncate(NAMED);
        }
    }

    /// Whether a take's lowest tone is the upper octave alone.
    pub(super) fn is_peep(&self, entry: &Entry) -> bool {
        entry.register.is_some_and(|register| self.profile.is_peep(register.round() as i32))
    }

    /// Which group a take belongs to, and how pressing it is there.
    fn attention_for(&self, entry: &Entry) -> Option<(Attention, f64)> {
        if entry.error.is_some() {
            return Some((Attention::NotRead, 0.0));
        }
        let off = entry.target_cents.unwrap_or_default().abs();
        // A peep's lowest tone is no low octave.
        let delay_s = entry.low_delay_s.filter(|_| !self.is_peep(entry)).unwrap_or_default();
        let switches = entry.switches_per_s.unwrap_or_default();
        let depth = entry.rattle_depth.unwrap_or_default();
        let lines = &self.profile.advice;
        match entry.kind.as_deref() {
            None => Some((Attention::NoCrow, 0.0)),
            Some("unsettled") => Some((Attention::Unsettled, 0.0)),
            Some("split") => {
                Some((Attention::Split, entry.alignment_cents.unwrap_or_default().abs()))
            }
            Some("single") => Some((Attention::Single, off)),
            Some(_) if switches > lines.switches_per_s => Some((Attention::Turns, switches)),
            Some(_) if delay_s > lines.slow_low_s => Some((Attention::Late, delay_s)),
            Some(_) if depth > lines.wild_rattle_depth => Some((Attention::Rattle, depth)),
            Some(_) if !entry.warnings.is_empty() => {
                Some((Attention::Doubtful, entry.warnings.split(' ').count() as f64))
            }
            Some(_) if off > self.profile.tolerance.target_cents => {
                Some((Attention::OffTarget, off))
            }
            Some(_) => None,
        }
    }

    /// Whether a take is off the target, whatever else there is.
    pub fn is_off_target(&self, entry: &Entry) -> bool {
        entry.target_cents.is_some_and(|off| off.abs() > self.profile.tolerance.target_cents)
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
        let mut summary = Summary::new(&Profile::default());
        for cents in [-10.0, 25.0, -90.0, 30.0, 40.0, -50.0, 60.0] {
            summary.add(entry("octaves", cents));
        }
        let group = &summary.attention[&Attention::OffTarget];
        assert_eq!(group.count, 6);
        let named: Vec<_> = group.first.iter().map(|(_, off)| *off).collect();
        assert_eq!(named, [90.0, 60.0, 50.0, 40.0, 30.0]);
        assert_eq!(summary.target_cents.len(), 7);
    }

    /// A take is named once, where it presses most.
    #[test]
    fn peeps_late_octaves_and_turns_need_attention_before_pitch_does() {
        let mut summary = Summary::new(&Profile::default());
        let late = Entry { low_delay_s: Some(0.35), ..entry("octaves", -57.0) };
        let peep = Entry { register: Some(1.0), ..entry("single", 3.0) };
        // The delay of a peep is that of its upper octave.
        let late_peep =
            Entry { low_delay_s: Some(0.35), register: Some(1.0), ..entry("octaves", 3.0) };
        let turns = Entry { switches_per_s: Some(2.7), ..late.clone() };
        let wild = Entry { rattle_depth: Some(0.8), ..entry("octaves", 40.0) };
        let split = entry("split", 0.0);
        for entry in [entry("octaves", 30.0), late, late_peep, peep, turns, wild, split] {
            summary.add(entry);
        }
        // The late one, the one in turns and the wild one too.
        assert_eq!(summary.off_target, 4);
        let found: Vec<_> = summary.attention.keys().copied().collect();
        use Attention::{Late, OffTarget, Rattle, Single, Split, Turns};
        assert_eq!(found, [Split, Single, Turns, Late, Rattle, OffTarget]);
        assert!(summary.attention.values().all(|group| group.count == 1));
    }

    #[test]
    fn one_that_was_not_read_has_no_kind() {
        let mut summary = Summary::new(&Profile::default());
        summary.add(Entry { error: Some("is empty".into()), ..Entry::default() });
        summary.add(Entry { kind: None, ..Entry::default() });
        assert_eq!((summary.rows, summary.failed(), summary.read()), (2, 1, 1));
        assert_eq!(summary.kinds, BTreeMap::from([(None, 1)]));
        assert_eq!(summary.attention[&Attention::NoCrow].count, 1);
        assert!(summary.target_cents.is_empty());
    }
}
