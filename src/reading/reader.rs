//! The one way samples become a reading.

use super::figures::{Figures, Reading, SCHEMA, Summary};
use super::{Crow, Kind};
use crate::pitch::A4;
use crate::profile::Profile;
use crate::take::{Faults, Take};

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
    samples: u64,
}

impl Reader {
    /// A reader for samples at `sample_rate_hz`.
    pub fn new(sample_rate_hz: u32, profile: &Profile, a4: A4) -> Self {
        Self { sample_rate_hz, profile: profile.clone(), a4, samples: 0 }
    }

    /// Takes the next samples (full scale ±1, finite) and returns the crows that ended in them,
    /// with their tracks.
    pub fn push(&mut self, samples: &[f32]) -> Vec<(Crow, CrowTracks)> {
        self.samples += samples.len() as u64;
        Vec::new()
    }

    /// What sounds now, for a live display.
    pub fn now(&self) -> Now {
        Now::default()
    }

    /// Start of the crow that sounds now or has just ended without being returned yet, in seconds
    /// of the take.
    pub fn pending_since_s(&self) -> Option<f64> {
        None
    }

    /// Ends the take. `source`, `channels` and `channel` only go into the reading.
    pub fn finish(self, source: &str, channels: u16, channel: u16, faults: Faults) -> Analysis {
        let _ = faults;
        Analysis {
            reading: Reading {
                schema: SCHEMA,
                source: source.to_owned(),
                sample_rate_hz: self.sample_rate_hz,
                channels,
                channel,
                duration_s: self.samples as f64 / f64::from(self.sample_rate_hz.max(1)),
                a4_hz: self.a4.hz(),
                profile: self.profile.name,
                crows: Vec::new(),
                summary: Summary { crow_count: 0, kind: None::<Kind>, figures: Figures::default() },
                warnings: Vec::new(),
            },
            tracks: Vec::new(),
            floor: Vec::new(),
        }
    }
}

/// Reads a whole take.
pub fn read(take: &Take, profile: &Profile, a4: A4) -> Analysis {
    let mut reader = Reader::new(take.sample_rate_hz, profile, a4);
    let _ = reader.push(&take.samples);
    reader.finish(&take.source, take.channels, take.channel, take.faults)
}
