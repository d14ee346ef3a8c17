//! Crows and what else sounds, from both ways of listening: by level ([`Finder`]) and by tone
//! ([`Tonal`]).
//!
//! Which stretches are crows is decided by tone. Where one begins and ends, breath included, is told
//! by the level, wherever the pauses about it are quieter than the crow. Where they are not (gain
//! control, a street, somebody speaking), its tone's own bounds stand, and what hangs on the level is
//! left out. What the level finds without a tone of its own is handed on as before: air, a reed that
//! is wild, something struck.

use std::collections::VecDeque;

use super::finder::Finder;
use super::floor::Floor;
use super::no_crow::{Other, Why};
use super::others::Gathered;
use super::sound::{LONGEST_S, LONGEST_SAMPLES, MARGIN_S, Sound};
use super::tonal::{Segment, Tonal, Verdict};
use crate::dsp::periodicity::Period;
use crate::dsp::power;

/// Breath before a tone, and air after it, count this far where the level tells them.
const LEAD_S: f64 = 1.5;
/// Breath that leads a tone for longer than this begins at once, …
const SHORT_LEAD_S: f64 = 0.2;
/// … by so much over what was there before, both taken over this long: a room that a gain turns up
/// swells.
const AT_ONCE_DB: f64 = 5.0;
const AT_ONCE_S: f64 = 0.1;
/// After its tone a sound is over where it stays this far under the tone …
const OVER_DB: f64 = 18.0;
/// … for so long, and goes on no longer than this where it does not.
const OVER_S: f64 = 0.05;
const SHORT_TAIL_S: f64 = 0.5;
/// A sound that is still loud so long after its tone ended is not told from the room by level.
const STILL_LOUD_S: f64 = 1.3;
/// Tones of one reed with less than this between them, nothing else telling them apart, are one crow.
const ONE_CROW_S: f64 = 0.3;
/// Room noise kept from before a crow.
const BEFORE_S: f64 = 0.5;
/// Correlation given to the periods of a course that was followed by its partials.
const FOLLOWED: f64 = 0.9;
/// Others that sound this long beside a crow are no breath of it.
const OTHERS_S: f64 = 0.1;
const OTHERS_DB: f32 = 6.0;
/// Notes this near to a melody are part of it.
const PHRASE_S: f64 = 0.8;
/// Share of a sound that notes of a melody take up to make it one.
const PLAYED_SHARE: f64 = 0.4;

/// Finds crows in a stream of samples.
#[derive(Debug)]
pub struct CrowFinder {
    sample_rate_hz: f64,
    by_level: Finder,
    by_tone: Tonal,
    /// The last samples, for sounds whose bounds the level does not tell.
    kept: VecDeque<f32>,
    base: u64,
    pushed: u64,
    /// Found by level, not yet matched with tones.
    loud: VecDeque<Sound>,
    /// Crows by tone, not yet matched with a level.
    tones: VecDeque<Segment>,
    /// Bounds of what was handed out without waiting for the level, in seconds.
    taken: VecDeque<(f64, f64)>,
    /// The rest of what was followed.
    aside: VecDeque<Segment>,
    /// Of that, what lies in the sounds handed out last: part of them, if they turn out to be something.
    held: Vec<Segment>,
    others: Gathered,
    /// Whether the maker says that what is set aside for its pitch was the reed.
    keeps_tones: bool,
}

impl CrowFinder {
    /// For samples at `sample_rate_hz` of crows whose pitch lies within `expected_hz`.
    pub fn new(sample_rate_hz: u32, expected_hz: (f64, f64)) -> Self {
        let rate = f64::from(sample_rate_hz);
        Self {
            sample_rate_hz: rate,
            by_level: Finder::new(sample_rate_hz),
            by_tone: Tonal::new(rate, expected_hz),
            kept: VecDeque::new(),
            base: 0,
            pushed: 0,
            loud: VecDeque::new(),
            tones: VecDeque::new(),
            taken: VecDeque::new(),
            aside: VecDeque::new(),
            held: Vec::new(),
            others: Gathered::default(),
            keeps_tones: false,
        }
    }

    /// The same, for a take of which the maker says that it held nothing but the reed: tones that are
    /// set aside for what their pitch does are crows. Tones of the room are not.
    pub fn keeping_tones(self) -> Self {
        Self { keeps_tones: true, ..self }
    }

    /// What has ended by its level and is not yet judged by its tone: the next crow, if it is one.
    pub fn unjudged(&self) -> Option<&Sound> {
        self.loud.back().filter(|sound| sound.tonal)
    }

    /// By level alone: room noise, and what sounds now.
    pub fn by_level(&self) -> &Finder {
        &self.by_level
    }

    /// Takes the next samples; returns the sounds that have ended and are known for what they are.
    pub fn push(&mut self, samples: &[f32]) -> Vec<Sound> {
        let mut found = Vec::new();
        for piece in samples.chunks(1 << 13) {
            self.loud.extend(self.by_level.push(piece));
            self.kept.extend(piece);
            self.pushed += piece.len() as u64;
            self.by_tone.push(piece);
            self.sort_segments();
            found.extend(self.resolve(false));
            self.forget();
        }
        found
    }

    /// Ends the take; returns the sounds still open.
    pub fn finish(&mut self) -> Vec<Sound> {
        self.loud.extend(self.by_level.finish());
        self.by_tone.finish();
        self.sort_segments();
        self.resolve(true)
    }

    /// Takes back what was followed within sounds that were handed out and are nothing by themselves.
    ///
    /// * `nothing_s`: bounds of those of the sounds handed out last, in seconds of the take.
    pub fn give_back(&mut self, nothing_s: &[(f64, f64)]) {
        for segment in std::mem::take(&mut self.held) {
            let (from_s, to_s) = self.bounds_s(&segment);
            if nothing_s.iter().any(|(start_s, end_s)| from_s < *end_s && to_s > *start_s) {
                self.aside.push_back(segment);
            }
        }
        self.aside.make_contiguous().sort_by_key(|segment| segment.first);
    }

    /// All that was set aside, once the take has ended and its last sounds are judged.
    pub fn others(&mut self) -> Vec<Other> {
        let (by_tone, others) = (&self.by_tone, &mut self.others);
        others.gather(self.aside.drain(..), |frame| by_tone.time_s(frame));
        others.list()
    }

    /// Start of what sounds now or has ended without being handed out yet, in seconds of the take.
    pub fn pending_since_s(&self) -> Option<f64> {
        let loud = self.loud.front().map(|sound| sound.start_s);
        let tone = self.tones.front().map(|tone| self.by_tone.time_s(tone.first));
        [self.by_level.open_since_s(), loud, tone].into_iter().flatten().reduce(f64::min)
    }

    fn now_s(&self) -> f64 {
        self.pushed as f64 / self.sample_rate_hz
    }

    fn bounds_s(&self, tone: &Segment) -> (f64, f64) {
        (self.by_tone.time_s(tone.first), self.by_tone.time_s(tone.end))
    }

    fn sort_segments(&mut self) {
        for segment in self.by_tone.judged() {
            match segment.verdict {
                Verdict::Not(why)
                    if self.keeps_tones && why != Why::GoesOn && segment.is_note() =>
                {
                    self.tones.push_back(segment);
                }
                Verdict::Not(_) => self.aside.push_back(segment),
                Verdict::Crow | Verdict::Unsettled => self.tones.push_back(segment),
            }
        }
    }

    /// Matches tones and levels as far as both are known.
    fn resolve(&mut self, ended: bool) -> Vec<Sound> {
        let mut found = Vec::new();
        let judged_s = if ended { f64::INFINITY } else { self.by_tone.judged_until_s() };
        while let Some(sound) = self.loud.pop_front() {
            if sound.end_s > judged_s {
                self.loud.push_front(sound);
                break;
            }
            found.extend(self.in_sound(sound));
        }
        // Tones that no sound found by level holds, or one that goes on and on.
        while let Some(tone) = self.tones.front() {
            let (from_s, to_s) = self.bounds_s(tone);
            let next_s = self.tones.get(1).map(|next| self.by_tone.time_s(next.first));
            if self.loud.front().is_some_and(|sound| sound.start_s < to_s && sound.end_s > from_s) {
                break;
            }
            let open_s = self.by_level.open_since_s().filter(|open_s| *open_s < to_s && !ended);
            let waits = open_s.is_some()
                && self.now_s() - to_s < STILL_LOUD_S
                && next_s.is_none_or(|next_s| next_s - to_s < ONE_CROW_S);
            if waits {
                break;
            }
            let Some(tone) = self.tones.pop_front() else { break };
            let mut group = vec![tone];
            while let Some(next) = self.tones.front() {
                let gap_s = self.by_tone.time_s(next.first)
                    - self.by_tone.time_s(group[group.len() - 1].end);
                if gap_s >= ONE_CROW_S {
                    break;
                }
                group.extend(self.tones.pop_front());
            }
            found.extend(self.of_tones(&group, None));
        }
        found.sort_by(|a: &Sound, b| a.start_s.total_cmp(&b.start_s));
        self.set_aside(&found, judged_s);
        found
    }

    /// What a sound found by level turns out to hold.
    fn in_sound(&mut self, sound: Sound) -> Vec<Sound> {
        let (start_s, end_s) = (sound.start_s, sound.end_s);
        let within = |from_s: f64, to_s: f64| to_s.min(end_s) - from_s.max(start_s);
        let mut tones: Vec<Segment> = Vec::new();
        self.tones = std::mem::take(&mut self.tones)
            .into_iter()
            .filter_map(|tone| {
                let (from_s, to_s) = self.bounds_s(&tone);
                if within(from_s, to_s) >= 0.5 * (to_s - from_s) {
                    tones.push(tone);
                    return None;
                }
                Some(tone)
            })
            .collect();
        self.taken.retain(|(_, to_s)| *to_s > start_s - LONGEST_S);
        let taken = self.taken.iter().any(|(from_s, to_s)| within(*from_s, *to_s) > 0.0);
        let mut groups: Vec<Vec<Segment>> = Vec::new();
        for tone in tones {
            let from_s = self.by_tone.time_s(tone.first);
            match groups.last_mut() {
                Some(group)
                    if from_s - self.by_tone.time_s(group[group.len() - 1].end) < ONE_CROW_S =>
                {
                    group.push(tone);
                }
                _ => groups.push(vec![tone]),
            }
        }
        match groups.as_slice() {
            // What is left of a sound whose crows were handed out is the room.
            [] if taken => Vec::new(),
            [] if self.is_played(start_s, end_s) => Vec::new(),
            [] => vec![sound],
            [group] if !taken => {
                let (from_s, to_s) = self.own_bounds_s(group);
                if self.is_joined_by_others(&sound, group, from_s, to_s) {
                    return self.of_tones(group, None).into_iter().collect();
                }
                let near = from_s - start_s < LEAD_S && end_s - to_s < LEAD_S;
                if near && self.begins_at_once(&sound, from_s) {
                    let end_s = self.end_of(end_s, from_s, to_s);
                    return vec![self.ended(sound, end_s)];
                }
                self.of_tones(group, Some(&sound)).into_iter().collect()
            }
            groups => {
                groups.iter().filter_map(|group| self.of_tones(group, Some(&sound))).collect()
            }
        }
    }

    /// Bounds of a crow's tones, with what goes on at one of its partials where they leave off.
    fn own_bounds_s(&self, crow: &[Segment]) -> (f64, f64) {
        let bounds = crow.iter().map(|tone| self.bounds_s(tone));
        let (mut from_s, mut to_s) =
            bounds.reduce(|all, own| (all.0.min(own.0), all.1.max(own.1))).unwrap_or_default();
        for other in &self.aside {
            let (other_from_s, other_to_s) = self.bounds_s(other);
            let adjoins = other_from_s < to_s + OTHERS_S && other_to_s > from_s - OTHERS_S;
            if adjoins && crow.iter().any(|tone| tone.has_partial_at(other)) {
                (from_s, to_s) = (from_s.min(other_from_s), to_s.max(other_to_s));
            }
        }
        (from_s, to_s)
    }

    /// Power of the differences of the samples between two moments. `None` where nothing is kept of it.
    fn power_between(&self, from_s: f64, to_s: f64) -> Option<f64> {
        let at = |seconds: f64| {
            let place = (seconds.max(0.0) * self.sample_rate_hz) as u64;
            place.saturating_sub(self.base) as usize
        };
        let (from, to) = (at(from_s), at(to_s).min(self.kept.len()));
        (from <= to).then(|| power::of_differences(self.kept.range(from..to)))?
    }

    /// Whether a sound begins as breath does, not as a room does that a gain turns up. `from_s` is
    /// where its tone begins.
    fn begins_at_once(&self, sound: &Sound, from_s: f64) -> bool {
        let start_s = sound.start_s;
        if from_s - start_s < SHORT_LEAD_S || start_s < 1.5 * AT_ONCE_S {
            return true;
        }
        let before = self.power_between(start_s - 1.5 * AT_ONCE_S, start_s - 0.5 * AT_ONCE_S);
        let after = self.power_between(start_s + 0.5 * AT_ONCE_S, start_s + 1.5 * AT_ONCE_S);
        before
            .zip(after)
            .is_none_or(|(before, after)| after > before * 10.0_f64.powf(AT_ONCE_DB / 10.0))
    }

    /// Where a sound that lasts till `end_s` falls after its tone, which sounds from `from_s` to `to_s`.
    /// Without a fall its end stands where it is near, and else the tone's own.
    fn end_of(&self, end_s: f64, from_s: f64, to_s: f64) -> f64 {
        let Some(tone) = self.power_between(from_s, to_s) else { return end_s };
        let least = tone * 10.0_f64.powf(-OVER_DB / 10.0);
        let pieces = ((end_s - to_s) / OVER_S).max(0.0) as usize;
        let is_over = |from_s: &f64| {
            self.power_between(*from_s, from_s + OVER_S).is_some_and(|power| power < least)
        };
        let falls_s = (0..pieces).map(|i| to_s + i as f64 * OVER_S).find(is_over);
        falls_s.unwrap_or(if end_s - to_s > SHORT_TAIL_S { to_s } else { end_s })
    }

    /// A sound up to `end_s`.
    fn ended(&self, sound: Sound, end_s: f64) -> Sound {
        let kept_s = (end_s + MARGIN_S - sound.offset_s).max(0.0);
        let mut samples = sound.samples;
        samples.truncate((kept_s * self.sample_rate_hz) as usize);
        Sound { end_s, samples, followed: true, ..sound }
    }

    /// Whether something that is not a crow makes a sound longer than its crow, from `from_s` to `to_s`.
    /// Its own reverberation, its own octaves, a partial of it that sounds on, are none.
    fn is_joined_by_others(&self, sound: &Sound, crow: &[Segment], from_s: f64, to_s: f64) -> bool {
        self.aside.iter().any(|other| {
            let (other_from_s, other_to_s) = self.bounds_s(other);
            let before_s = other_to_s.min(from_s) - other_from_s.max(sound.start_s);
            let after_s = other_to_s.min(sound.end_s) - other_from_s.max(to_s);
            let is_own =
                crow.iter().any(|tone| tone.has_partial_at(other) || !tone.is_near_beside(other));
            !is_own && other.salience_db > OTHERS_DB && before_s.max(after_s) > OTHERS_S
        })
    }

    /// Whether notes of a melody make up much of a stretch.
    fn is_played(&self, start_s: f64, end_s: f64) -> bool {
        let of_melody = |s: &&Segment| s.verdict == Verdict::Not(Why::Steps);
        let near = self.aside.iter().filter(of_melody).any(|step| {
            let (from_s, to_s) = self.bounds_s(step);
            from_s < end_s + PHRASE_S && to_s > start_s - PHRASE_S
        });
        let played: f64 = self
            .aside
            .iter()
            .filter(|note| near && note.is_note())
            .map(|note| {
                let (from_s, to_s) = self.bounds_s(note);
                (to_s.min(end_s) - from_s.max(start_s)).max(0.0)
            })
            .sum();
        played > PLAYED_SHARE * (end_s - start_s)
    }

    /// A sound with the bounds of its tones; those of the level stand where they are near.
    fn of_tones(&mut self, tones: &[Segment], loud: Option<&Sound>) -> Option<Sound> {
        let (first, last) = (tones.first()?, tones.last()?);
        let (from_s, to_s) = (self.bounds_s(first).0, self.bounds_s(last).1);
        let earliest_s = self.taken.back().map_or(0.0, |(_, to_s)| *to_s);
        let start_s = loud
            .filter(|loud| self.begins_at_once(loud, from_s))
            .map(|loud| loud.start_s)
            .filter(|s| from_s - s < LEAD_S && *s >= earliest_s && *s < from_s)
            .unwrap_or(from_s);
        let end_s = loud
            .map(|loud| loud.end_s)
            .filter(|end_s| (0.0..LEAD_S).contains(&(end_s - to_s)))
            .map_or(to_s, |end_s| self.end_of(end_s, from_s, to_s));
        self.taken.push_back((start_s, end_s));
        let rate = self.sample_rate_hz;
        let at = |seconds: f64| {
            let place = (seconds.max(0.0) * rate) as u64;
            place.saturating_sub(self.base).min(self.kept.len() as u64) as usize
        };
        let begin = at(start_s - MARGIN_S);
        let end = at(end_s + MARGIN_S).max(begin);
        let kept = |from: usize, to: usize| -> Option<Vec<f32>> {
            (from <= to).then(|| self.kept.range(from..to).copied().collect())
        };
        let periods: Vec<(f64, Period)> = tones
            .iter()
            .flat_map(|tone| &tone.track)
            .map(|(frame, hz)| {
                (self.by_tone.time_s(*frame), Period { hz: *hz, correlation: FOLLOWED })
            })
            .collect();
        Some(Sound {
            start_s,
            end_s,
            offset_s: (self.base + begin as u64) as f64 / rate,
            samples: kept(begin, end)?,
            before: kept(at((start_s - BEFORE_S).max(earliest_s)), begin)?,
            periods,
            floor: None::<Floor>,
            tonal: true,
            crest: 1.0,
            high_share: 1.0,
            cut: end - begin < ((end_s - start_s) * rate) as usize,
            by_tone: true,
            followed: true,
        })
    }

    /// Hands what is not a crow on to the list of others, once nothing can be made of it any more.
    fn set_aside(&mut self, found: &[Sound], judged_s: f64) {
        for segment in std::mem::take(&mut self.aside) {
            let (from_s, to_s) = self.bounds_s(&segment);
            let is_in = |sound: &Sound| to_s.min(sound.end_s) - from_s.max(sound.start_s) > 0.0;
            if found.iter().any(is_in) {
                self.held.push(segment);
            } else {
                self.aside.push_back(segment);
            }
        }
        // What comes back is older than what is left, and is listed first.
        if !self.held.is_empty() {
            return;
        }
        let pending_s = self.pending_since_s().unwrap_or(f64::INFINITY).min(judged_s);
        let (by_tone, others) = (&self.by_tone, &mut self.others);
        let over =
            self.aside.iter().take_while(|s| by_tone.time_s(s.end) + LEAD_S < pending_s).count();
        let over = if pending_s.is_finite() { over } else { 0 };
        others.gather(self.aside.drain(..over), |frame| by_tone.time_s(frame));
    }

    /// Drops samples that no sound can need any more.
    fn forget(&mut self) {
        let longest = ((LONGEST_S * self.sample_rate_hz) as usize).min(LONGEST_SAMPLES);
        let over = self.kept.len().saturating_sub(longest + longest / 4);
        self.kept.drain(..over);
        self.base += over as u64;
    }
}
