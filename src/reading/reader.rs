//! The one way samples become a reading.

use std::borrow::Cow;

use super::crow::{Heard, read_sound};
use super::figures::{Crow, Kind, Reading, SCHEMA};
use super::find::crows::CrowFinder;
use super::find::hum::{
    LEAST_ROOM_S, MainsHum, RoomLine, is_of_another_rate, mains_hum, room_lines,
};
use super::find::no_crow::{Other, What, Why};
use super::find::others::joined;
use super::find::sound::Sound;
use super::measured::{Context, CrowTracks, stretch};
use super::not_a_crow::{
    about, are_notes, is_much_weaker, is_of_a_device, is_of_a_voice, is_of_another,
};
use super::octaves_now::{OctavesNow, octaves_now};
use super::overload::OverloadCount;
use super::recorder::{Recorder, upper_edge_hz};
use super::splice::without_splices;
use super::summary::summarise;
use super::warnings::{Evidence, warnings};
use crate::pitch::A4;
use crate::profile::Profile;
use crate::take::{Faults, OneChannel, Take, TakeError};
use crate::units::Dbfs;

/// A reading and what pictures of it need.
#[derive(Debug, Clone)]
pub struct Analysis {
    /// The figures.
    pub reading: Reading,
    /// For each crow of the reading, in the same order.
    pub tracks: Vec<CrowTracks>,
    /// Mean power spectral density of the room noise, full scale squared per hertz.
    pub floor: Vec<(f64, f64)>,
}

/// What sounds at this moment of a live take.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Now {
    /// Level of the last 50 ms, relative to a full-scale sine.
    pub level_dbfs: Option<f64>,
    /// Level of the room noise.
    pub floor_dbfs: Option<f64>,
    /// Strongest tone, in hertz, without regard to octaves.
    pub hz: Option<f64>,
    /// Whether a crow is sounding.
    pub sounding: bool,
    /// Whether the noise floor is known, so that a crow will be caught.
    pub armed: bool,
}

/// Reads a take piece by piece. Memory does not grow with the take's length beyond its figures.
#[derive(Debug)]
pub struct Reader {
    sample_rate_hz: u32,
    profile: Profile,
    a4: A4,
    finder: CrowFinder,
    samples: u64,
    overload: OverloadCount,
    recorder: Recorder,
    extremes: Option<(f32, f32)>,
    cut: bool,
    spliced: bool,
    /// The room's own, as last heard.
    room_lines: Vec<RoomLine>,
    read: Vec<(Crow, CrowTracks)>,
    /// What was read and is none.
    no_crows: Vec<Other>,
    /// When it was last loud in the sound that was looked at last before it was judged, and when that
    /// sound seemed to end, in seconds.
    looked_at: (Option<f64>, Option<f64>),
    tones_kept: bool,
}

/// Half the distance between extremes under which there is no sound: −90 dBFS, a step of 16 bits.
const SILENT_PEAK: f32 = 3.16e-5;

/// Whether samples between these extremes hold no sound. A constant offset is none.
pub fn is_silent((low, high): (f32, f32)) -> bool {
    high - low < 2.0 * SILENT_PEAK
}

/// Share of the largest sample that is rounding: of samples that differ by no more, what the
/// transforms give is their own rounding.
const ROUNDING: f32 = 4.0 * f32::EPSILON;

/// Whether samples between these extremes are all one: nothing but an offset, as a muted input has.
fn is_constant((low, high): (f32, f32)) -> bool {
    high - low <= ROUNDING * low.abs().max(high.abs())
}

/// The lowest and the highest of `samples` and of those `before`.
fn extremes(before: Option<(f32, f32)>, samples: &[f32]) -> Option<(f32, f32)> {
    let Some(&first) = samples.first() else { return before };
    let (mut low, mut high) = before.unwrap_or((first, first));
    // Side by side, as vector registers hold them.
    let (mut lows, mut highs) = ([low; 16], [high; 16]);
    let (pieces, rest) = samples.as_chunks::<16>();
    for piece in pieces {
        lows = std::array::from_fn(|i| if piece[i] < lows[i] { piece[i] } else { lows[i] });
        highs = std::array::from_fn(|i| if piece[i] > highs[i] { piece[i] } else { highs[i] });
    }
    for &sample in rest.iter().chain(&lows).chain(&highs) {
        (low, high) = (low.min(sample), high.max(sample));
    }
    Some((low, high))
}

impl Reader {
    /// A reader for samples at `sample_rate_hz`.
    pub fn new(sample_rate_hz: u32, profile: &Profile, a4: A4) -> Self {
        Self {
            sample_rate_hz,
            profile: profile.clone(),
            a4,
            finder: CrowFinder::new(sample_rate_hz, expected_hz(profile, a4)),
            samples: 0,
            overload: OverloadCount::default(),
            recorder: Recorder::new(sample_rate_hz),
            extremes: None,
            cut: false,
            spliced: false,
            room_lines: Vec::new(),
            read: Vec::new(),
            no_crows: Vec::new(),
            looked_at: (None, None),
            tones_kept: false,
        }
    }

    /// The same, for a take of which its maker says that it held nothing but the reed: tones that would
    /// be set aside are crows, those of the room apart.
    pub fn keeping_tones(self) -> Self {
        Self { finder: self.finder.keeping_tones(), tones_kept: true, ..self }
    }

    /// What a sound that seems to be over is, once, before it is known for a crow: that is known when a
    /// second and a half have shown what follows it. Where it goes on after all, it is looked at again.
    /// `None` where there is nothing new.
    pub fn first_look(&mut self) -> Option<Crow> {
        /// Ends of one sound, found before and after it was closed, lie nearer to each other.
        const SAME_END_S: f64 = 0.05;
        let over_s = self.finder.by_level().seems_over_since_s();
        if over_s.is_some() && over_s == self.looked_at.0 {
            return None;
        }
        let sound = match over_s {
            Some(_) => Cow::Owned(self.finder.by_level().as_if_over()?),
            None => Cow::Borrowed(self.finder.unjudged()?),
        };
        let is_new = self.looked_at.1.is_none_or(|end_s| (sound.end_s - end_s).abs() > SAME_END_S);
        self.looked_at = (over_s, Some(sound.end_s));
        if !is_new {
            return None;
        }
        let crow = read_sound(&sound, &self.context()).crow().filter(|_| sound.tonal)?;
        (crow.kind != Kind::Breath).then_some(crow)
    }

    /// Takes the next samples (full scale ±1, finite) and returns the crows that ended in them,
    /// with their tracks.
    pub fn push(&mut self, samples: &[f32]) -> Vec<(Crow, CrowTracks)> {
        self.samples += samples.len() as u64;
        self.overload.push(samples);
        self.recorder.push(samples);
        self.extremes = extremes(self.extremes, samples);
        let mut ended = Vec::new();
        for piece in samples.chunks(1 << 14) {
            let sounds = self.finder.push(piece);
            ended.extend(self.read_sounds(sounds));
        }
        self.read.extend(ended.iter().cloned());
        ended
    }

    /// What sounds now, for a live display.
    pub fn now(&self) -> Now {
        let recent = self.finder.by_level().recent(0.05);
        let power = recent.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>();
        Now {
            level_dbfs: level(power / recent.len().max(1) as f64),
            floor_dbfs: self.floor_dbfs(),
            hz: self
                .finder
                .by_level()
                .open_since_s()
                .and(self.finder.by_level().period_now())
                .map(|p| p.hz),
            sounding: self.finder.by_level().open_since_s().is_some()
                && !self.extremes.is_some_and(is_constant),
            armed: self.finder.by_level().floor().is_some(),
        }
    }

    /// Which octaves sound now; none while nothing does.
    pub fn octaves_now(&self) -> OctavesNow {
        let now = self.now();
        let hz = now.hz.filter(|_| now.sounding);
        hz.map_or_else(OctavesNow::default, |hz| {
            octaves_now(self.finder.by_level().recent(0.1), f64::from(self.sample_rate_hz), hz)
        })
    }

    /// Start of the crow that sounds now or has just ended without being returned yet, in seconds
    /// of the take.
    pub fn pending_since_s(&self) -> Option<f64> {
        self.finder.pending_since_s()
    }

    /// Reads what is left of a recording block by block, so that its length costs no memory, and ends the
    /// take. `source` only goes into the reading.
    ///
    /// Errors: the recording cannot be read on.
    pub fn read_through(
        mut self,
        recording: &mut OneChannel,
        source: &str,
    ) -> Result<Analysis, TakeError> {
        let mut block = Vec::new();
        while recording.next_block(&mut block)? {
            self.push(&block);
        }
        Ok(self.finish(source, recording.channels(), recording.channel(), recording.faults()))
    }

    /// Ends the take. `source`, `channels` and `channel` only go into the reading.
    pub fn finish(mut self, source: &str, channels: u16, channel: u16, faults: Faults) -> Analysis {
        let sounds = self.finder.finish();
        let last = self.read_sounds(sounds);
        self.read.extend(last);
        let mut others = self.finder.others();
        others.append(&mut self.no_crows);
        self.read.sort_by(|one, two| one.0.start_s.total_cmp(&two.0.start_s));
        let unlike = self.set_aside_unlike(&others);
        others.extend(unlike);
        let others = joined(others);
        let floor_dbfs = self.floor_dbfs();
        let (mut crows, tracks): (Vec<Crow>, Vec<CrowTracks>) = self.read.into_iter().unzip();
        let done = self.recorder.done(&crows, &others);
        crows.iter_mut().for_each(|crow| done.spoil(&mut crow.figures));
        let summary = summarise(&crows, self.a4);
        let silent = self.extremes.is_some_and(|found| is_silent(found) || is_constant(found));
        let (quiet, rate) = (self.finder.by_level().quiet(), f64::from(self.sample_rate_hz));
        let duration_s = self.samples as f64 / f64::from(self.sample_rate_hz.max(1));
        let warnings = warnings(&Evidence {
            crows: &crows,
            others: &others,
            summary: &summary,
            faults,
            silent,
            overload: self.overload.overload().filter(|_| !silent),
            floor_dbfs,
            hum_hz: mains_hum(quiet, rate).filter(MainsHum::is_trouble).map(|hum| hum.mains_hz),
            sample_rate_hz: self.sample_rate_hz,
            duration_s,
            cut: self.cut,
            recorder: done,
            edge_hz: self.finder.by_level().floor().and_then(|floor| {
                upper_edge_hz(&floor.density, self.finder.by_level().floor_bin_hz())
            }),
            wrong_rate: is_of_another_rate(quiet, rate),
            spliced: self.spliced,
        });
        let bin_hz = self.finder.by_level().floor_bin_hz();
        let floor = self.finder.by_level().floor().map_or_else(Vec::new, |floor| {
            let bins = floor.density.iter().enumerate();
            bins.map(|(k, density)| (k as f64 * bin_hz, f64::from(*density))).collect()
        });
        Analysis {
            reading: Reading {
                schema: SCHEMA,
                source: source.to_owned(),
                sample_rate_hz: self.sample_rate_hz,
                channels,
                channel,
                duration_s,
                a4_hz: self.a4.hz(),
                profile: self.profile.name,
                crows,
                others,
                tones_kept: self.tones_kept,
                microphone: None,
                summary,
                warnings,
            },
            tracks,
            floor,
        }
    }

    /// Takes out of the crows what only the others of the take show to be none.
    ///
    /// * `heard`: what was set aside before.
    fn set_aside_unlike(&mut self, heard: &[Other]) -> Vec<Other> {
        let all: Vec<&Crow> = self.read.iter().map(|(crow, _)| crow).collect();
        let unlike = |index: usize| {
            let sound = all[index];
            let crows: Vec<&Crow> = [&all[..index], &all[index + 1..]].concat();
            if self.tones_kept {
                None
            } else if is_much_weaker(sound, &crows) {
                Some((What::Instrument, Why::Weaker))
            } else if is_of_a_device(sound, &crows) {
                Some((What::Machine, Why::Breathless))
            } else if is_of_a_voice(sound, &crows) {
                Some((What::Speech, Why::Glides))
            } else if is_of_another(sound, &about(&all, index)) {
                Some((What::Unknown, Why::Unlike))
            } else {
                None
            }
        };
        let mut judged: Vec<_> = (0..self.read.len()).map(unlike).collect();
        if !self.tones_kept {
            let left: Vec<usize> = (0..all.len()).filter(|i| judged[*i].is_none()).collect();
            let crows: Vec<&Crow> = left.iter().map(|index| all[*index]).collect();
            let notes = are_notes(&crows, heard);
            for (index, _) in left.into_iter().zip(notes).filter(|(_, is_note)| *is_note) {
                judged[index] = Some((What::Instrument, Why::Steps));
            }
        }
        let mut others = Vec::new();
        let mut kept = Vec::new();
        for (read, unlike) in std::mem::take(&mut self.read).into_iter().zip(judged) {
            let crow = &read.0;
            match unlike {
                Some((what, why)) => others.push(Other {
                    what,
                    from_s: crow.start_s,
                    to_s: crow.end_s,
                    hz: crow.figures.fundamental.hz,
                    why,
                }),
                None => kept.push(read),
            }
        }
        self.read = kept;
        others
    }

    fn read_sounds(&mut self, sounds: Vec<Sound>) -> Vec<(Crow, CrowTracks)> {
        let sample_rate_hz = f64::from(self.sample_rate_hz);
        let mut read = Vec::new();
        let mut nothing_s = Vec::new();
        for sound in sounds {
            if extremes(None, &sound.samples).is_some_and(is_constant) {
                continue;
            }
            // Right after another crow the room is not heard: it is what it was.
            if sound.before.len() as f64 >= LEAST_ROOM_S * sample_rate_hz {
                self.room_lines = room_lines(&sound.before, sample_rate_hz);
            }
            let bounds_s = (sound.start_s, sound.end_s);
            let (sound, spliced) = without_splices(sound, sample_rate_hz);
            let crow = match read_sound(&sound, &self.context()) {
                Heard::Crow(crow) => *crow,
                Heard::Other(other) => {
                    self.no_crows.push(other);
                    continue;
                }
                Heard::Nothing => {
                    nothing_s.push(bounds_s);
                    continue;
                }
            };
            if crow.0.kind != Kind::Breath {
                self.spliced |= spliced;
                self.cut |= sound.cut;
                let samples = stretch(&sound, &self.context(), sound.start_s, sound.end_s);
                self.recorder.push_crow(samples, sample_rate_hz);
            }
            read.push(crow);
        }
        self.finder.give_back(&nothing_s);
        read
    }

    fn context(&self) -> Context<'_> {
        Context {
            sample_rate_hz: f64::from(self.sample_rate_hz),
            floor_bin_hz: self.finder.by_level().floor_bin_hz(),
            profile: &self.profile,
            a4: self.a4,
            room_lines: &self.room_lines,
            tones_kept: self.tones_kept,
        }
    }

    fn floor_dbfs(&self) -> Option<f64> {
        let floor = self.finder.by_level().floor()?;
        let bin_hz = self.finder.by_level().floor_bin_hz();
        let from = (100.0 / bin_hz).ceil() as usize;
        // Samples far over full scale have powers beyond what the floor's numbers hold.
        let power = floor.density.iter().skip(from).map(|d| f64::from(*d) * bin_hz).sum();
        level(power).filter(|dbfs| dbfs.is_finite())
    }
}

/// Where the pitch of a crow may lie: from some steps under the lowest expected octave to some over
/// the highest; anywhere without a target.
fn expected_hz(profile: &Profile, a4: A4) -> (f64, f64) {
    const BELOW_OCTAVES: f64 = 8.0 / 12.0;
    const ABOVE_OCTAVES: f64 = 5.0 / 12.0;
    profile.target_frequency(a4).map_or((95.0, 2000.0), |target| {
        let octave = |register: i32, more: f64| target.hz() * f64::exp2(f64::from(register) + more);
        let lowest = octave(profile.lowest_register(), -BELOW_OCTAVES);
        (lowest.max(95.0), octave(profile.highest_register(), ABOVE_OCTAVES).min(2000.0))
    })
}

fn level(mean_square: f64) -> Option<f64> {
    Dbfs::from_mean_square(mean_square).map(|level| level.0)
}

/// Reads a whole take.
pub fn read(take: &Take, profile: &Profile, a4: A4) -> Analysis {
    let mut reader = Reader::new(take.sample_rate_hz, profile, a4);
    let _ = reader.push(&take.samples);
    reader.finish(&take.source, take.channels, take.channel, take.faults)
}
