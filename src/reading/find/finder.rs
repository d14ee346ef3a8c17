//! Where a take holds sounds: samples in pieces of any size enter, finished sounds leave.
//!
//! A sound begins where any band rises 6 dB over the room noise and ends where all have fallen
//! back for 0.15 s. While the take runs, the floor of the past decides when to wake and when to
//! stop waiting; the bounds themselves are drawn afterwards, from the floor known by then, so a
//! take that begins in the middle of a crow is read as well as one that begins in silence.

use std::collections::VecDeque;
use std::ops::Range;

use super::edges::{Edge, edge_s};
use super::floor::{FRAMES_PER_BLOCK, Floor, FloorTracker};
use super::frames::{BANDS, FRAMES_PER_PERIODICITY, Frame, Framer};
use super::hum::is_faint_mains;
use super::kept::Kept;
use super::runs::loud_runs;
use super::sound::{LONGEST_S, LONGEST_SAMPLES, MARGIN_S, Sound};
use crate::dsp::periodicity::Period;

/// The finder waits a little longer than the gap, so that the floor after the sound is known too.
const WAIT_S: f64 = 0.2;
/// A sound seems to be over after this much floor: most are, and who waits is shown what it was.
const SEEMS_OVER_S: f64 = 0.06;
/// A sound is closed when its tone has been gone this long, though air still flows.
const AIR_AFTER_TONE_S: f64 = 2.0;
/// Noise without tone is closed after this long.
const LONGEST_AIR_S: f64 = 4.0;
/// However long it goes on, a sound is handed out after this long.
const LONGEST_SOUND_S: f64 = 60.0;
/// Blocks without tone after which the floor's spectrum is taken anew.
const BLOCKS_PER_SPECTRUM: u64 = 8;
/// Room noise kept for finding hum.
const QUIET_S: f64 = 0.5;
/// Of the room before a sound this much next to it is left alone.
const BEFORE_S: f64 = 0.02;
/// Kept before a sound: its bounds may turn out to lie earlier than was noticed.
const LOOK_BACK_S: f64 = 1.0;
/// A frame holds tone from this correlation on. Air alone reaches it in a few percent of frames.
const TONAL: f64 = 0.35;
/// The same while the noise is not known, and cannot be taken off first.
const TONAL_BLIND: f64 = 0.6;
/// A tone heard by so many tests in a row lasts.
const LASTING: u64 = 5;
/// A sound has tone when it holds this many tonal tests (each 10 ms).
const LEAST_TONAL: usize = 10;

#[derive(Debug, Clone, Copy)]
struct Open {
    first: u64,
    last_loud: u64,
    last_tonal: Option<u64>,
}

/// Finds sounds in a stream of samples.
#[derive(Debug)]
pub struct Finder {
    sample_rate_hz: f64,
    framer: Framer,
    tracker: FloorTracker,
    floor: Option<Floor>,
    kept: Kept,
    frames: VecDeque<Frame>,
    first_frame: u64,
    next_frame: u64,
    block: BlockSum,
    open: Option<Open>,
    /// Whether the last frame was over the floor.
    was_loud: bool,
    loud_run: u64,
    /// Tests in a row that heard a tone.
    tonal_run: u64,
    /// Frame before which everything has been handed out.
    handed: u64,
    pushed: u64,
    /// Frame at which the floor was first known.
    armed_at: u64,
    /// Blocks without tone so far.
    blocks: u64,
    quiet: Vec<f32>,
}

#[derive(Debug, Default)]
struct BlockSum {
    bands: [f32; BANDS],
    density: Vec<f32>,
    /// Frames whose density is in the sum; those of a tone that goes on are not.
    densities: u64,
    frames: u64,
    /// Tests that heard a tone.
    tonal: u64,
    /// Whether any of them was made with the floor known.
    known: bool,
}

impl Finder {
    /// For samples at `sample_rate_hz`.
    pub fn new(sample_rate_hz: u32) -> Self {
        let framer = Framer::new(f64::from(sample_rate_hz));
        Self {
            sample_rate_hz: f64::from(sample_rate_hz),
            block: BlockSum { density: vec![0.0; framer.floor_bins()], ..BlockSum::default() },
            framer,
            tracker: FloorTracker::default(),
            floor: None,
            kept: Kept::default(),
            frames: VecDeque::new(),
            first_frame: 0,
            next_frame: 0,
            open: None,
            was_loud: false,
            loud_run: 0,
            tonal_run: 0,
            handed: 0,
            pushed: 0,
            armed_at: 0,
            blocks: 0,
            quiet: Vec::new(),
        }
    }

    /// Takes the next samples; returns the sounds that have ended.
    pub fn push(&mut self, samples: &[f32]) -> Vec<Sound> {
        let mut found = Vec::new();
        // Pieces keep little at a time however much arrives at once.
        for piece in samples.chunks(1 << 14) {
            self.kept.push(piece);
            self.pushed += piece.len() as u64;
            while self.frame_is_complete() {
                self.take_frame();
                if self.should_close() {
                    found.extend(self.close());
                }
            }
            self.forget();
        }
        found
    }

    /// Ends the take; returns the sounds still open.
    pub fn finish(&mut self) -> Vec<Sound> {
        self.close()
    }

    /// Room noise as known now.
    pub fn floor(&self) -> Option<&Floor> {
        self.floor.as_ref()
    }

    /// Width of a bin of the floor's density, in hertz.
    pub fn floor_bin_hz(&self) -> f64 {
        self.framer.bin_hz()
    }

    /// Start of the sound that is open, as noticed so far, in seconds of the take.
    pub fn open_since_s(&self) -> Option<f64> {
        self.open.map(|open| self.framer.middle_s(open.first))
    }

    /// When the sound that is open was last over the floor, in seconds of the take, once that is so long
    /// ago that it seems to be over; `None` while it goes on, and where it held no tone.
    pub fn seems_over_since_s(&self) -> Option<f64> {
        let open = self.open.filter(|open| open.last_tonal.is_some())?;
        let quiet = self.next_frame.saturating_sub(1 + open.last_loud);
        (quiet >= self.frames_in(SEEMS_OVER_S)).then(|| self.framer.middle_s(open.last_loud))
    }

    /// The sound that is open, or the last one if it holds several, as if it were over now.
    pub fn as_if_over(&self) -> Option<Sound> {
        let from = self.sounds_from(self.open?);
        let (first, last) = *self.loud_runs(from..self.next_frame).last()?;
        self.sound(first, last, self.floor.as_ref())
    }

    /// The first half second of room noise in which nothing sounded; empty before there was one.
    pub fn quiet(&self) -> &[f32] {
        &self.quiet
    }

    /// Strongest period of the last frames, if they hold tone.
    pub fn period_now(&self) -> Option<Period> {
        self.frames
            .iter()
            .rev()
            .take(6)
            .find_map(|frame| frame.period.filter(|p| p.correlation > TONAL))
    }

    /// The last samples, up to `seconds` of them.
    pub fn recent(&self, seconds: f64) -> &[f32] {
        self.kept.newest((seconds * self.sample_rate_hz) as usize)
    }

    fn frame_is_complete(&self) -> bool {
        self.next_frame * self.framer.hop() as u64 + self.framer.frame_len() as u64 <= self.pushed
    }

    fn take_frame(&mut self) {
        let index = self.next_frame;
        let start = index * self.framer.hop() as u64;
        let samples = self.kept.frame(start, self.framer.frame_len());
        let tested = index.is_multiple_of(FRAMES_PER_PERIODICITY);
        let goes_on = self.tone_goes_on(index);
        // Between two tests a tone that goes on is as loud as it was; no block with tone enters the
        // floor.
        let lasts = goes_on && self.tonal_run >= LASTING;
        let held = self.frames.back().filter(|_| lasts && !tested).map(|frame| frame.bands);
        let bands = held.unwrap_or_else(|| {
            let bands = self.framer.bands(samples, tested && self.was_loud);
            for (sum, density) in self.block.density.iter_mut().zip(self.framer.density()) {
                *sum += density;
            }
            self.block.densities += 1;
            bands
        });
        let loud = self.floor.as_ref().is_none_or(|floor| floor.hears(&bands));
        // Digital silence is a floor to rise above, but no noise to take off what rises. Nor is the
        // floor where all bands rise at once and no tone goes on: that may be another room's noise.
        let known = self
            .floor
            .as_ref()
            .filter(|floor| !floor.is_silent() && (goes_on || !floor.is_under(&bands)));
        let blind = known.is_none();
        self.was_loud = loud;
        let period = if loud && tested {
            let floor = known.map_or(&[][..], |floor| &floor.density);
            self.framer
                .period(samples, floor)
                .filter(|period| self.floor.is_some() || !is_faint_mains(period.hz, bands[0]))
        } else {
            None
        };
        let limit = if blind { TONAL_BLIND } else { TONAL };
        let tonal = period.is_some_and(|p| p.correlation >= limit);
        if tested {
            self.tonal_run = if tonal { self.tonal_run + 1 } else { 0 };
        }
        self.frames.push_back(Frame { bands, period });
        self.next_frame += 1;
        self.note(index, loud && (self.floor.is_some() || tonal), tonal);
        self.fill_block(bands, tonal);
        self.keep_quiet(start + self.framer.frame_len() as u64);
    }

    /// Keeps the first half second in which nothing sounded, the last of it just before sample `end`.
    fn keep_quiet(&mut self, end: u64) {
        if !self.quiet.is_empty() || self.open.is_some() || self.floor.is_none() {
            return;
        }
        let since = self.handed.max(self.armed_at);
        if self.next_frame.saturating_sub(since) >= self.frames_in(QUIET_S + 0.1) {
            let n = (QUIET_S * self.sample_rate_hz) as usize;
            self.quiet = self.kept.before(end, n).to_vec();
        }
    }

    fn note(&mut self, index: u64, loud: bool, tonal: bool) {
        if let Some(open) = &mut self.open {
            if loud {
                open.last_loud = index;
            }
            if tonal {
                open.last_tonal = Some(index);
                open.last_loud = index;
            }
        } else {
            self.loud_run = if loud { self.loud_run + 1 } else { 0 };
            if self.loud_run >= 3 || (tonal && self.floor.is_none()) {
                let first = (index + 1).saturating_sub(self.loud_run.max(1));
                self.open =
                    Some(Open { first, last_loud: index, last_tonal: tonal.then_some(index) });
                self.loud_run = 0;
            }
        }
    }

    fn fill_block(&mut self, bands: [f32; BANDS], tonal: bool) {
        for (sum, band) in self.block.bands.iter_mut().zip(bands) {
            *sum += band;
        }
        self.block.tonal += u64::from(tonal);
        self.block.known |= tonal && self.floor.is_some();
        self.block.frames += 1;
        if self.block.frames < FRAMES_PER_BLOCK {
            return;
        }
        let share = 1.0 / FRAMES_PER_BLOCK as f32;
        let first = self.next_frame - FRAMES_PER_BLOCK;
        let bands = self.block.bands.map(|band| band * share);
        let part = 1.0 / self.block.densities.max(1) as f32;
        let density = self.block.density.iter().map(|density| density * part).collect();
        // Before the floor is known, rumble seems to have a period now and then.
        let tests = FRAMES_PER_BLOCK / FRAMES_PER_PERIODICITY;
        if self.block.tonal == 0 || (!self.block.known && 2 * self.block.tonal <= tests) {
            self.tracker.push(first, bands, density);
            if self.floor.is_none() {
                self.armed_at = self.next_frame;
            }
            // The spectrum of the floor costs more than its bands and moves as slowly.
            self.blocks += 1;
            match (&mut self.floor, self.tracker.bands()) {
                (Some(floor), Some(bands)) if !self.blocks.is_multiple_of(BLOCKS_PER_SPECTRUM) => {
                    floor.bands = bands;
                }
                _ => self.floor = self.tracker.floor(),
            }
        } else if self.floor.is_none() {
            self.tracker.push_doubtful(first, bands, density);
            self.floor = self.tracker.floor();
        }
        self.block.bands = [0.0; BANDS];
        self.block.density.fill(0.0);
        self.block.densities = 0;
        self.block.frames = 0;
        self.block.tonal = 0;
        self.block.known = false;
    }

    /// Whether the test before frame `index` heard a tone.
    fn tone_goes_on(&self, index: u64) -> bool {
        let tonal = self.open.and_then(|open| open.last_tonal);
        tonal.is_some_and(|tonal| index - tonal <= FRAMES_PER_PERIODICITY)
    }

    fn frames_in(&self, seconds: f64) -> u64 {
        (seconds * self.sample_rate_hz / self.framer.hop() as f64).round() as u64
    }

    fn should_close(&self) -> bool {
        let Some(open) = self.open else { return false };
        let now = self.next_frame - 1;
        let since = |frame: u64| now.saturating_sub(frame);
        since(open.last_loud) >= self.frames_in(WAIT_S)
            || since(open.first) >= self.frames_in(LONGEST_SOUND_S)
            || match open.last_tonal {
                Some(tonal) => since(tonal) >= self.frames_in(AIR_AFTER_TONE_S),
                None => since(open.first) >= self.frames_in(LONGEST_AIR_S),
            }
    }

    /// Draws the bounds of the sounds since the last ones handed out and hands them out.
    fn close(&mut self) -> Vec<Sound> {
        let Some(open) = self.open.take() else { return Vec::new() };
        let from = self.sounds_from(open);
        let quiet_since =
            open.last_tonal.map_or(open.first, |tonal| tonal + FRAMES_PER_PERIODICITY);
        let mut sounds = Vec::new();
        let mut rest = from;
        self.floor = self.tracker.floor();
        if let Some(risen) = self.tracker.risen_since(quiet_since) {
            // What came before the room became louder stands over the room as it was; where no tone
            // tells the room from air through a reed that does not speak, all of it does.
            rest = if open.last_tonal.is_some() { risen.max(from) } else { self.next_frame };
            sounds = self.sounds(from..rest);
            self.tracker.forget_before(risen);
            self.floor = self.tracker.floor();
        }
        sounds.extend(self.sounds(rest..self.next_frame));
        self.handed = self.next_frame;
        self.kept.sound_is_over();
        sounds
    }

    /// The first frame in which what is open may begin.
    fn sounds_from(&self, open: Open) -> u64 {
        let earliest = open.first.saturating_sub(self.frames_in(LOOK_BACK_S));
        earliest.max(self.handed).max(self.first_frame)
    }

    /// The sounds over the floor in `span`.
    fn sounds(&self, span: Range<u64>) -> Vec<Sound> {
        let floor = self.floor.as_ref();
        let runs = self.loud_runs(span).into_iter();
        runs.filter_map(|(first, last)| self.sound(first, last, floor)).collect()
    }

    fn loud_runs(&self, span: Range<u64>) -> Vec<(u64, u64)> {
        let before = span.start.saturating_sub(self.first_frame) as usize;
        let count = span.end.saturating_sub(span.start) as usize;
        let frames = (span.start..).zip(self.frames.iter().skip(before).take(count));
        loud_runs(frames, self.floor.as_ref(), |seconds| self.frames_in(seconds))
    }

    fn sound(&self, first: u64, last: u64, floor: Option<&Floor>) -> Option<Sound> {
        let frames = |a: u64, b: u64| {
            (a..=b).filter_map(|i| self.frames.get((i - self.first_frame) as usize).map(|f| (i, f)))
        };
        let periods: Vec<(f64, Period)> = frames(first, last)
            .filter_map(|(i, f)| f.period.map(|p| (self.framer.middle_s(i), p)))
            .filter(|(_, p)| p.correlation >= TONAL)
            .collect();
        let mut powers: Vec<f32> = frames(first, last).map(|(_, f)| f.bands.iter().sum()).collect();
        let highest = powers.iter().copied().fold(0.0, f32::max);
        let middle = powers.len() / 2;
        let median = *powers.select_nth_unstable_by(middle, f32::total_cmp).1;
        let width =
            |b: usize| super::frames::BAND_EDGES_HZ[b + 1] - super::frames::BAND_EDGES_HZ[b];
        let (mut low, mut high) = (0.0, 0.0);
        for (_, frame) in frames(first, last) {
            low += f64::from(frame.bands[0]) * width(0);
            high += (1..BANDS).map(|b| f64::from(frame.bands[b]) * width(b)).sum::<f64>();
        }
        let end_of_take_s = self.pushed as f64 / self.sample_rate_hz;
        let start_s = if first <= 1 {
            0.0
        } else {
            self.edge(self.framer.middle_s(first), floor, Edge::Rise)
        };
        let end_s = if last + 4 >= self.next_frame {
            end_of_take_s
        } else {
            self.edge(self.framer.middle_s(last), floor, Edge::Fall)
        };
        let rate = self.sample_rate_hz;
        let (base, samples) = self.kept.around(start_s * rate, end_s * rate);
        let at = |seconds: f64| {
            ((seconds * rate) as u64).saturating_sub(base).min(samples.len() as u64) as usize
        };
        let begin = at((start_s - MARGIN_S).max(0.0));
        let end = at(end_s + MARGIN_S).max(begin);
        let longest = self.longest_samples();
        let quiet_s = (start_s - QUIET_S).max(self.quiet_since_s(first));
        Some(Sound {
            start_s,
            end_s,
            offset_s: (base + begin as u64) as f64 / rate,
            samples: samples.get(begin..end.min(begin + longest))?.to_vec(),
            before: samples[at(quiet_s).min(at(start_s - BEFORE_S))..at(start_s - BEFORE_S)]
                .to_vec(),
            tonal: periods.len() >= LEAST_TONAL,
            periods,
            floor: floor.cloned(),
            crest: if median > 0.0 { highest / median } else { f32::INFINITY },
            high_share: (high / (low + high)) as f32,
            cut: (end_s - start_s) * rate > longest as f64,
            by_tone: false,
            followed: false,
        })
    }

    /// From when on nothing had sounded before frame `first`, in seconds of the take.
    fn quiet_since_s(&self, first: u64) -> f64 {
        let last_loud = (self.first_frame..first.saturating_sub(1)).rev().find(|index| {
            let frame = self.frames.get((index - self.first_frame) as usize);
            frame.is_some_and(|frame| {
                self.floor.as_ref().is_some_and(|floor| floor.hears(&frame.bands))
            })
        });
        last_loud.map_or(0.0, |index| self.framer.middle_s(index) + BEFORE_S)
    }

    /// Sharpens an edge that a frame found.
    fn edge(&self, coarse_s: f64, floor: Option<&Floor>, edge: Edge) -> f64 {
        let Some(floor) = floor else { return coarse_s };
        let rate = self.sample_rate_hz;
        let (base, samples) = self.kept.around(coarse_s * rate, f64::INFINITY);
        edge_s(samples, base, rate, coarse_s, &floor.bands, edge)
    }

    fn longest_samples(&self) -> usize {
        ((LONGEST_S * self.sample_rate_hz) as usize).min(LONGEST_SAMPLES)
    }

    /// Drops what no sound can need any more.
    fn forget(&mut self) {
        let look_back = ((LOOK_BACK_S + MARGIN_S + 0.1) * self.sample_rate_hz) as u64;
        let next_sample = self.next_frame * self.framer.hop() as u64;
        let wanted = self.open.map_or(next_sample, |open| open.first * self.framer.hop() as u64);
        let longest = self.longest_samples() as u64 + look_back;
        self.kept.forget(wanted.saturating_sub(look_back), next_sample, longest, look_back);
        let keep_frames = self
            .open
            .map_or(self.next_frame, |open| open.first)
            .saturating_sub(self.frames_in(LOOK_BACK_S) + 2);
        while self.first_frame < keep_frames && self.frames.pop_front().is_some() {
            self.first_frame += 1;
        }
    }
}
