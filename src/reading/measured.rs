//! Everything that is measured of one crow over its steady part.

use std::ops::Range;

use super::figures::balance::MeanSpectrum;
use super::figures::breath::{noise_beside_lines, noise_power};
use super::figures::steadiness::{self, level_sd_db, rattle};
use super::find::hum::RoomLine;
use super::find::sound::Sound;
use super::track::base::Bases;
use super::track::family::NoiseProfile;
use super::track::orders::Orders;
use super::track::rungs::RungCourse;
use super::track::tones::{Deviation, Tones, one_tone, tones};
use crate::dsp::phase::{MeanFrequency, PhaseTrack};
use crate::dsp::statistics::{line, median};
use crate::pitch::A4;
use crate::profile::Profile;

/// A sustained rung sounds in this share of the steady part …
const SUSTAINED_SHARE: f64 = 0.5;
/// … within this of a straight line …
const SUSTAINED_CENTS: f64 = 50.0;
/// … in this share of its frames (the line's own ends may stray).
const SUSTAINED_FRAMES: f64 = 0.9;
/// … and not gliding faster than this: a reed may drift, a hinge glides.
const SUSTAINED_SLOPE_CENTS_PER_S: f64 = 300.0;
/// Octaves are held against each other when they sound together for this share of the time in
/// which either does.
const TOGETHER: f64 = 0.4;

/// One rung with everything measured of it.
#[derive(Debug)]
pub struct MeasuredRung {
    /// Which: its partials are odd multiples of the base times 2^index.
    pub index: u32,
    /// Mean frequency.
    pub hz: f64,
    /// Whether it is sustained.
    pub sustained: bool,
    /// When it sounds, and how strongly.
    pub course: RungCourse,
    /// Moments in seconds and frequencies in hertz of 50 ms frames.
    pub track: Vec<(f64, f64)>,
}

/// What is measured over the steady part.
#[derive(Debug)]
pub struct Measured {
    /// The steady part, in frames, from end to end …
    pub steady: Range<usize>,
    /// … and those of them that are not far under the median level.
    pub held: Vec<usize>,
    /// Its first and last moment, in seconds of the take.
    pub steady_s: (f64, f64),
    /// Noise at the multiples of the base.
    pub noise: NoiseProfile,
    /// The rungs that sound, lowest first.
    pub rungs: Vec<MeasuredRung>,
    /// Index into `rungs` of the lowest sustained one.
    pub lowest: Option<usize>,
    /// The tones from the lowest sustained one up.
    pub tones: Option<Tones>,
    /// Mean frequency of the lowest sustained rung and half width of its 95 % interval, in hertz.
    pub fundamental: Option<(f64, f64)>,
    /// The lowest sustained rung's: moments in seconds and frequencies in hertz of 50 ms frames.
    pub track: Vec<(f64, f64)>,
    /// Level of all partials at these moments, relative to anything.
    pub track_level_db: Vec<f64>,
    /// Mean spectrum, room noise taken off.
    pub mean: Option<MeanSpectrum>,
    /// The crow's own noise and the room's, at the multiples of the base.
    pub air: NoiseProfile,
    /// Power of all partials.
    pub tone_power: f64,
    /// Rate in hertz and depth of the rattle.
    pub rattle: Option<(f64, f64)>,
    /// Standard deviation of the 50 ms level.
    pub level_sd_db: Option<f64>,
}

impl Measured {
    /// Whether the two lowest tones stand at 2:1.
    pub fn locked(&self) -> bool {
        self.deviation().is_none_or(|d| d.locked())
    }

    /// How the two lowest tones stand to 2:1.
    pub fn deviation(&self) -> Option<Deviation> {
        self.tones.as_ref().and_then(|t| t.deviation)
    }
}

/// The tone that one or more rungs are multiples of.
struct RungTone {
    hz: f64,
    /// Moments in seconds and frequencies in hertz.
    frames: Vec<(f64, f64)>,
}

/// Measures the steady part of a crow whose rungs, and roughly whose tones, are known.
pub fn measure(
    sound: &Sound,
    context: &Context<'_>,
    orders: &Orders,
    bases: &Bases,
    courses: &[RungCourse],
    steady: Range<usize>,
    held: Vec<usize>,
) -> Measured {
    let noise = NoiseProfile::new(orders, orders.bins_per_unit as f64, steady.clone());
    let part = Part { orders, noise: &noise, bases, courses, steady: &steady, held: &held };
    let steady_s = part.ends_s();
    let sounding = part.sounding();
    let split = sounding.tones.as_ref().and_then(|t| t.deviation).is_some_and(|d| !d.locked());
    let track = sounding.track();
    let fundamental = part.fundamental(&sounding, &track, sound.by_tone);
    let track_level_db = part.levels_db(&track);
    let tone_power: f64 =
        courses.iter().map(|course| course.family(orders, &noise).power(steady.clone())).sum();
    let mean = mean_spectrum(sound, context, steady_s.0, steady_s.1);
    let samples = stretch(sound, context, steady_s.0, steady_s.1);
    let between = noise_power(orders, &noise, context.sample_rate_hz / 2.0, |_| 0.0);
    let outside_tone = between + mean.as_ref().map_or(0.0, |mean| mean.rumble);
    let rattle = if split || sounding.takes_turns(&held) {
        None
    } else {
        rattle(samples, context.sample_rate_hz, orders.reference_hz, outside_tone)
    };
    let room = mean.as_ref().map_or(0.0, |mean| mean.rumble + mean.room);
    let lines_between = split || rattle.is_some();
    let air = if lines_between { noise_beside_lines(orders, &steady) } else { None };
    let Sounding { rungs, lowest, tones } = sounding;
    Measured {
        air: air.unwrap_or_else(|| noise.clone()),
        level_sd_db: level_sd_db(samples, context.sample_rate_hz, room),
        steady,
        held,
        steady_s,
        noise,
        rungs,
        lowest,
        tones,
        fundamental,
        track,
        track_level_db,
        mean,
        tone_power,
        rattle,
    }
}

/// The steady part, with what is known of it beforehand.
struct Part<'a> {
    orders: &'a Orders,
    /// At the multiples of the base.
    noise: &'a NoiseProfile,
    bases: &'a Bases,
    courses: &'a [RungCourse],
    steady: &'a Range<usize>,
    held: &'a [usize],
}

/// The rungs of the steady part, and the tones that they are multiples of.
struct Sounding {
    rungs: Vec<MeasuredRung>,
    /// Index into `rungs` of the lowest sustained one.
    lowest: Option<usize>,
    /// From the lowest sustained one up.
    tones: Option<Tones>,
}

impl Part<'_> {
    /// Its first and last moment, in seconds of the take.
    fn ends_s(&self) -> (f64, f64) {
        let time_s = &self.orders.time_s;
        (time_s[self.steady.start], time_s[self.steady.end - 1])
    }

    fn sounding(&self) -> Sounding {
        let all_tones = self.tones_from(0);
        let mut rungs = self.rungs();
        self.tell(&mut rungs, all_tones.as_ref(), 0);
        rungs.iter_mut().for_each(|rung| rung.sustained &= is_straight(&rung.track));
        let lowest = rungs.iter().position(|rung| rung.sustained);
        // The figures of the lowest sustained rung rest on its own multiples alone: what lies between
        // belongs to a tone that does not last.
        let tones = match lowest.map(|i| rungs[i].index) {
            Some(0) | None => all_tones,
            Some(index) => {
                let own = self.tones_from(index as usize);
                if own.as_ref().and_then(Tones::lower_mean).is_some() {
                    self.tell(&mut rungs, own.as_ref(), index);
                }
                own
            }
        };
        Sounding { rungs, lowest, tones }
    }

    /// The tones from the rung of this index up.
    fn tones_from(&self, index: usize) -> Option<Tones> {
        let (orders, noise, steady) = (self.orders, self.noise, self.steady);
        let lowest = 1 << index;
        let known = (index == 0).then_some(self.bases);
        let pair = self.courses.get(index).zip(self.courses.get(index + 1));
        let heard = pair.filter(|(lower, _)| lower.present(self.held) > 0.0);
        let Some((lower, upper)) = heard else {
            return tones(orders, noise, lowest, steady.clone(), steady.clone(), known);
        };
        let both: Vec<usize> =
            steady.clone().filter(|i| lower.sounds[*i] && upper.sounds[*i]).collect();
        let either = steady.clone().filter(|i| lower.sounds[*i] || upper.sounds[*i]).count();
        match (both.first(), both.last()) {
            (Some(&first), Some(&last)) if both.len() as f64 >= TOGETHER * either as f64 => {
                let together = first..last + 1;
                tones(orders, noise, lowest, steady.clone(), together, known)
            }
            _ => one_tone(orders, noise, lowest, steady.clone()),
        }
    }

    /// Those that sound, their frequencies not yet told.
    fn rungs(&self) -> Vec<MeasuredRung> {
        let sounds = |course: &RungCourse| {
            course.entry(self.orders).is_some() && sounding_power(course, self.steady.clone()) > 0.0
        };
        let each = self.courses.iter().enumerate().filter(|(_, course)| sounds(course));
        each.map(|(index, course)| MeasuredRung {
            index: index as u32,
            hz: 0.0,
            sustained: course.present(self.held) >= SUSTAINED_SHARE,
            course: course.clone(),
            track: Vec::new(),
        })
        .collect()
    }

    /// Frequency and course of the rungs from the `lowest` of two tones up, by each one's own. In a split
    /// crow the lowest rung is the lower tone, all above the upper.
    fn tell(&self, rungs: &mut Vec<MeasuredRung>, tones: Option<&Tones>, lowest: u32) {
        let (from_s, to_s) = self.ends_s();
        let frame_s = steadiness::FRAME_S.min((to_s - from_s) / 4.0);
        let told = |track: &PhaseTrack, base: Option<MeanFrequency>| {
            Some(RungTone { hz: base?.hz, frames: track.frames(frame_s) })
        };
        let lower = tones.and_then(|tones| told(&tones.lower, tones.lower_mean()));
        let upper = tones.and_then(|tones| told(tones.upper.as_ref()?, tones.upper_mean()));
        rungs.retain_mut(|rung| {
            let Some(above) = rung.index.checked_sub(lowest) else { return true };
            let of_upper = upper.as_ref().filter(|_| above > 0);
            let Some(tone) = of_upper.or(lower.as_ref()) else { return false };
            let multiple = f64::from(1_u32 << above);
            rung.hz = tone.hz * multiple;
            rung.track = tone.frames.iter().map(|(t, hz)| (*t, hz * multiple)).collect();
            true
        });
    }

    /// Level of all partials at the moments of a track, relative to anything.
    fn levels_db(&self, track: &[(f64, f64)]) -> Vec<f64> {
        let (time_s, frames) = (&self.orders.time_s, self.orders.frames());
        let level = |(moment_s, _): &(f64, f64)| {
            let frame = time_s.partition_point(|t| t < moment_s).min(frames - 1);
            let power: f64 = self.courses.iter().map(|course| course.power[frame]).sum();
            10.0 * power.max(f64::MIN_POSITIVE).log10()
        };
        track.iter().map(level).collect()
    }

    /// Mean frequency of the lowest sustained rung and half width of its 95 % interval, in hertz.
    ///
    /// * `track`: that rung's.
    fn fundamental(
        &self,
        sounding: &Sounding,
        track: &[(f64, f64)],
        by_tone: bool,
    ) -> Option<(f64, f64)> {
        let lowest = sounding.lowest?;
        let mean = sounding.tones.as_ref()?.lower_mean()?;
        let ends_s = match sounding.rungs.get(lowest) {
            Some(rung) => unsure_ends_s(&rung.course, self.orders, self.steady.clone()),
            None => (0.0, 0.0),
        };
        let ends = boundary_ci95_hz(track, self.orders, by_tone, ends_s);
        Some((mean.hz, mean.ci95_hz.hypot(ends)))
    }
}

impl Sounding {
    /// The lowest sustained rung's: moments in seconds and frequencies in hertz.
    fn track(&self) -> Vec<(f64, f64)> {
        let lower = self.tones.as_ref().filter(|_| self.lowest.is_some()).map(|t| &t.lower);
        lower.map(|track| track.frames(steadiness::FRAME_S)).unwrap_or_default()
    }

    /// Octaves that take turns move the level as well; that is told by their switches. A faint rung
    /// high up that flickers moves nothing.
    fn takes_turns(&self, held: &[usize]) -> bool {
        let mut lowest_two = self.rungs.iter().filter(|rung| rung.sustained).take(2);
        lowest_two.any(|rung| rung.course.switches(held) >= 2)
    }
}

/// Besides half a frame, an end of the steady part is not known to better than this: a room lets a tone go
/// on when it has ended …
const END_S: f64 = 0.012;
/// … nor to better than this where its level does not tell it …
const END_BY_TONE_S: f64 = 0.05;
/// … nor to better than the time in which the rung stands further than this under its median level there: it
/// comes in after the other octave, fades, or is the room.
const FULL_DB: f64 = 3.0;

/// For how long, in seconds, a rung has not come to its full level when the steady part begins, and no longer
/// has it when it ends.
fn unsure_ends_s(course: &RungCourse, orders: &Orders, steady: Range<usize>) -> (f64, f64) {
    let power = &course.power[steady.clone()];
    let full = median(power.iter().copied()).map(|m| m * 10.0_f64.powf(-FULL_DB / 10.0));
    let first = power.iter().position(|p| Some(*p) >= full);
    let last = power.iter().rposition(|p| Some(*p) >= full);
    let Some((first, last)) = first.zip(last) else { return (0.0, 0.0) };
    let at = |frame: usize| orders.time_s[steady.start + frame];
    (at(first) - at(0), at(power.len() - 1) - at(last))
}

/// What not knowing the steady part's ends does to the mean of a frequency that drifts, as half width of a
/// 95 % interval in hertz.
///
/// * `by_tone`: whether the ends were told by the tone alone;
/// * `ends_s`: how long it is unsure at either end whether the tone is that of the steady part.
pub fn boundary_ci95_hz(
    track: &[(f64, f64)],
    orders: &Orders,
    by_tone: bool,
    ends_s: (f64, f64),
) -> f64 {
    let (x, y): (Vec<f64>, Vec<f64>) = track.iter().copied().unzip();
    let half_frame_s = orders.bins_per_unit as f64 / orders.reference_hz / 2.0;
    let end_s = if by_tone { END_BY_TONE_S } else { END_S };
    // The mean of a line moves by half of what an end is moved by.
    let moved_s = half_frame_s + end_s + ends_s.0.hypot(ends_s.1) / 2.0;
    line(&x, &y).map_or(0.0, |fit| fit.slope.abs() * moved_s)
}

/// Whether nearly all frames of a track lie within ±50 cents of a straight line.
pub fn is_straight(track: &[(f64, f64)]) -> bool {
    let Some(&(_, first)) = track.first() else { return false };
    if track.iter().any(|(_, hz)| !(*hz > 0.0)) {
        return false;
    }
    let (x, cents): (Vec<f64>, Vec<f64>) =
        track.iter().map(|(t, hz)| (*t, 1200.0 * (hz / first).log2())).unzip();
    let Some(fit) = line(&x, &cents) else { return track.len() == 1 };
    if fit.slope.abs() > SUSTAINED_SLOPE_CENTS_PER_S {
        return false;
    }
    let near = x.iter().zip(&cents).filter(|(t, c)| (*c - fit.at(**t)).abs() <= SUSTAINED_CENTS);
    near.count() as f64 >= SUSTAINED_FRAMES * track.len() as f64
}

/// Sum of the power of a rung's partials over those of `frames` in which it sounds.
pub fn sounding_power(course: &RungCourse, frames: Range<usize>) -> f64 {
    frames.filter(|b| course.sounds[*b]).map(|b| course.power[b]).sum()
}

/// The samples between two moments of the take.
pub fn stretch<'a>(sound: &'a Sound, context: &Context<'_>, from_s: f64, to_s: f64) -> &'a [f32] {
    let at = |seconds: f64| {
        (((seconds - sound.offset_s) * context.sample_rate_hz).round().max(0.0) as usize)
            .min(sound.samples.len())
    };
    let (start, end) = (at(from_s), at(to_s));
    sound.samples.get(start..end).unwrap_or_default()
}

/// Mean spectrum between two moments of the take.
pub fn mean_spectrum(
    sound: &Sound,
    context: &Context<'_>,
    from_s: f64,
    to_s: f64,
) -> Option<MeanSpectrum> {
    let samples = stretch(sound, context, from_s, to_s);
    MeanSpectrum::new(samples, context.sample_rate_hz, sound.floor.as_ref(), context.floor_bin_hz)
}

/// The course of one crow, for pictures and the bench.
#[derive(Debug, Clone, Default)]
pub struct CrowTracks {
    /// First and last moment of the steady part, in seconds of the take.
    pub steady_s: Option<(f64, f64)>,
    /// Frequency of each rung over time: outer index as `Crow::figures.rungs`.
    pub rungs: Vec<Vec<TrackPoint>>,
    /// The partials found over the steady part, lowest first.
    pub partials: Vec<Partial>,
}

/// One point of a track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackPoint {
    /// Seconds of the take.
    pub time_s: f64,
    /// Frequency of the rung then, in hertz; `None` where it does not sound.
    pub hz: Option<f64>,
    /// Level relative to a full-scale sine.
    pub level_dbfs: Option<f64>,
}

/// One partial over the steady part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Partial {
    /// In hertz.
    pub hz: f64,
    /// Relative to a full-scale sine.
    pub level_dbfs: f64,
    /// Index into the crow's `rungs`; `None` for a combination tone.
    pub rung: Option<usize>,
}

/// What a take's crows are read against.
#[derive(Debug, Clone, Copy)]
pub struct Context<'a> {
    /// Samples per second.
    pub sample_rate_hz: f64,
    /// Width of a bin of the floor's density.
    pub floor_bin_hz: f64,
    /// What is expected.
    pub profile: &'a Profile,
    /// Pitch of A4.
    pub a4: A4,
    /// Lines that the room holds.
    pub room_lines: &'a [RoomLine],
    /// Whether the maker says that what moves as a voice does was the reed.
    pub tones_kept: bool,
}
