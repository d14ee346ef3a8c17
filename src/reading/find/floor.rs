//! The room noise of a take, per frequency: what its quietest stretches sound like.
//!
//! Blocks of frames that hold no tone enter, with their band levels and spectrum; what leaves is
//! the floor over a window of the past. The quietest blocks of each band are found by a quantile,
//! so that hum in one band does not hide where a sound begins in another, and breath before a crow
//! does not count as room noise.

use std::collections::VecDeque;

use super::frames::{BAND_EDGES_HZ, BANDS};

/// Frames per block: 50 ms.
pub const FRAMES_PER_BLOCK: u64 = 10;
/// 6 dB as a power ratio: so far a sound rises over the floor.
pub const RISE: f32 = 3.981_071_7;
/// Blocks remembered: 10 s.
const BLOCKS: usize = 200;
/// Share of blocks taken as certainly quiet.
const QUIET_QUANTILE: f64 = 0.15;
/// Blocks within this factor of the quiet ones (2.5 dB) are averaged.
const NEAR_QUIET: f32 = 1.8;
/// A floor needs this many blocks without tone.
const LEAST_BLOCKS: usize = 2;
/// No floor is taken to lie under this density (about −100 dBFS over 20 kHz): digital silence has
/// no noise to rise above.
pub const LEAST_DENSITY: f32 = 2.5e-15;

/// Room noise over a stretch of a take.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Floor {
    /// Mean density in each band.
    pub bands: [f32; BANDS],
    /// Density per bin of the frames, full scale squared per hertz.
    pub density: Vec<f32>,
}

impl Floor {
    /// Whether it is that of digital silence.
    pub fn is_silent(&self) -> bool {
        self.bands.iter().all(|band| *band <= LEAST_DENSITY)
    }

    /// Whether a frame with these bands rises over it in any band.
    pub fn hears(&self, bands: &[f32; BANDS]) -> bool {
        self.is_exceeded(bands, RISE)
    }

    /// Whether a frame with these bands rises over it so many times in any band.
    pub fn is_exceeded(&self, bands: &[f32; BANDS], times: f32) -> bool {
        bands.iter().zip(&self.bands).any(|(band, floor)| *band > times * floor)
    }

    /// Whether a frame with these bands rises over it in every band: a loud sound, or a room that
    /// is not this one any more.
    pub fn is_under(&self, bands: &[f32; BANDS]) -> bool {
        bands.iter().zip(&self.bands).all(|(band, floor)| *band > RISE * floor || *band == 0.0)
    }
}

#[derive(Debug, Clone)]
struct Block {
    first_frame: u64,
    bands: [f32; BANDS],
    density: Vec<f32>,
    silent: bool,
}

impl Block {
    fn new(first_frame: u64, bands: [f32; BANDS], density: Vec<f32>) -> Self {
        let silent = bands.iter().all(|band| *band < LEAST_DENSITY);
        Self { first_frame, bands, density, silent }
    }

    /// Mean square in all bands together.
    fn power(&self) -> f64 {
        let widths = BAND_EDGES_HZ.windows(2).map(|edges| edges[1] - edges[0]);
        self.bands.iter().zip(widths).map(|(band, width)| f64::from(*band) * width).sum()
    }
}

/// A block this many times louder (12 dB) than so many before it shows that those were the room's.
const MUCH_LOUDER: f64 = 16.0;
const LEAST_DOUBTFUL: usize = 4;
/// So many blocks in a row over the floor, with no tone, are the room (1.5 s): air that is blown
/// beside a tone ends before.
const RISEN_BLOCKS: usize = 30;
/// A block with this share of what the room has become (−4 dB) belongs to it.
const STILL_RISEN: f32 = 0.4;

/// Blocks after which digital silence is forgotten (1 s), …
const SILENCE_REMEMBERED: usize = 20;
/// … if so many others tell of the room (0.5 s).
const ROOM_KNOWN: usize = 10;

/// The quiet past of a take.
#[derive(Debug, Default)]
pub struct FloorTracker {
    blocks: VecDeque<Block>,
    /// Blocks with a tone from before anything was known: of a crow, or of a room that hums.
    doubtful: VecDeque<Block>,
}

impl FloorTracker {
    /// The blocks that tell of the room. Digital silence is what a recorder writes before it hears
    /// and an editor puts in: once there has been room noise for a while, silence at the very
    /// beginning, or long past, says nothing of the room any more.
    fn telling(&self) -> Vec<&Block> {
        let noisy = self.blocks.iter().filter(|block| !block.silent).count();
        let begins = self.blocks.iter().position(|block| !block.silent).unwrap_or(0);
        let past = self.blocks.len().saturating_sub(SILENCE_REMEMBERED).max(begins);
        self.blocks
            .iter()
            .enumerate()
            .filter(|(i, block)| noisy < ROOM_KNOWN || *i >= past || !block.silent)
            .map(|(_, block)| block)
            .collect()
    }

    /// Takes one block without tone, the first frame of which is `first_frame`.
    pub fn push(&mut self, first_frame: u64, bands: [f32; BANDS], density: Vec<f32>) {
        self.keep(Block::new(first_frame, bands, density));
    }

    /// Takes one block with a tone while no room is known. What comes long before something much
    /// louder is the room: mains hum has a tone too.
    pub fn push_doubtful(&mut self, first_frame: u64, bands: [f32; BANDS], density: Vec<f32>) {
        let block = Block::new(first_frame, bands, density);
        let limit = block.power() / MUCH_LOUDER;
        if self.doubtful.iter().filter(|past| past.power() < limit).count() >= LEAST_DOUBTFUL {
            for past in std::mem::take(&mut self.doubtful) {
                if past.power() < limit {
                    self.keep(past);
                }
            }
        } else if self.doubtful.len() < BLOCKS {
            self.doubtful.push_back(block);
        }
    }

    fn keep(&mut self, block: Block) {
        if self.blocks.len() == BLOCKS {
            self.blocks.pop_front();
        }
        self.blocks.push_back(block);
    }

    /// The frame since which the room has been louder than it was, if it is louder now.
    ///
    /// * `quiet_since`: no tone has sounded from this frame on. All blocks from there, and enough
    ///   of them, must lie over the floor; louder are then also the blocks before them that come up
    ///   to what these have become.
    pub fn risen_since(&self, quiet_since: u64) -> Option<u64> {
        let last = self.blocks.partition_point(|block| block.first_frame < quiet_since);
        let trailing: Vec<&Block> = self.blocks.iter().skip(last).collect();
        if trailing.len() < RISEN_BLOCKS {
            return None;
        }
        let before = self.floor()?;
        if !trailing.iter().all(|b| before.hears(&b.bands)) {
            return None;
        }
        let now = mean_bands(&trailing, &quiet_bands(&trailing));
        let belongs = |block: &Block| {
            let risen = (0..BANDS).filter(|b| now[*b] > RISE * before.bands[*b]);
            risen.map(|b| block.bands[b] / now[b]).fold(f32::INFINITY, f32::min) > STILL_RISEN
        };
        let first = (0..last).rev().take_while(|i| belongs(&self.blocks[*i])).last();
        Some(first.map_or(quiet_since, |first| self.blocks[first].first_frame))
    }

    /// Forgets the blocks before `frame`: the room has changed.
    pub fn forget_before(&mut self, frame: u64) {
        self.blocks.drain(..self.blocks.partition_point(|block| block.first_frame < frame));
    }

    /// Mean density in each band over the quiet blocks; `None` before enough are known.
    pub fn bands(&self) -> Option<[f32; BANDS]> {
        if self.blocks.len() < LEAST_BLOCKS {
            return None;
        }
        let telling = self.telling();
        Some(mean_bands(&telling, &quiet_bands(&telling)))
    }

    /// The floor with its spectrum.
    pub fn floor(&self) -> Option<Floor> {
        if self.blocks.len() < LEAST_BLOCKS {
            return None;
        }
        let telling = self.telling();
        let quiet = quiet_bands(&telling);
        // The spectrum is taken from the blocks that are quiet in every band at once; where no
        // block is, from the one that is nearest to it.
        let excess = |block: &Block| {
            (0..BANDS).map(|b| block.bands[b] / quiet[b].max(LEAST_DENSITY)).fold(0.0_f32, f32::max)
        };
        let best = telling.iter().map(|block| excess(block)).fold(f32::INFINITY, f32::min);
        let limit = (NEAR_QUIET * 1.2).max(best);
        let chosen: Vec<&[f32]> = telling
            .iter()
            .filter(|block| excess(block) <= limit)
            .map(|block| block.density.as_slice())
            .collect();
        let bins = chosen.first().map_or(0, |density| density.len());
        let mut sums = vec![0.0_f64; bins];
        for density in &chosen {
            sums.iter_mut().zip(*density).for_each(|(sum, value)| *sum += f64::from(*value));
        }
        let share = 1.0 / chosen.len().max(1) as f64;
        let density = sums.into_iter().map(|sum| (sum * share) as f32).collect();
        Some(Floor { bands: mean_bands(&telling, &quiet), density })
    }
}

/// The level in each band under which the certainly quiet blocks lie.
fn quiet_bands(telling: &[&Block]) -> [f32; BANDS] {
    std::array::from_fn(|b| {
        let mut levels: Vec<f32> = telling.iter().map(|block| block.bands[b]).collect();
        let index = (QUIET_QUANTILE * levels.len().saturating_sub(1) as f64).round() as usize;
        if levels.is_empty() {
            return 0.0;
        }
        *levels.select_nth_unstable_by(index, f32::total_cmp).1
    })
}

fn mean_bands(telling: &[&Block], quiet: &[f32; BANDS]) -> [f32; BANDS] {
    std::array::from_fn(|b| {
        let near = telling
            .iter()
            .map(|block| block.bands[b])
            .filter(|level| *level <= quiet[b] * NEAR_QUIET);
        mean(near).max(LEAST_DENSITY)
    })
}

fn mean(values: impl Iterator<Item = f32>) -> f32 {
    let (sum, count) = values.fold((0.0_f64, 0_u32), |(s, n), v| (s + f64::from(v), n + 1));
    (sum / f64::from(count.max(1))) as f32
}
