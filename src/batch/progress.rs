//! How far a batch has come: counters that its threads raise and a display reads.

use std::sync::atomic::{AtomicU64, Ordering};

/// Counters of a running batch. None of them changes what is read.
#[derive(Debug, Default)]
pub struct Progress {
    all_files: AtomicU64,
    all_bytes: AtomicU64,
    files: AtomicU64,
    bytes: AtomicU64,
    audio_us: AtomicU64,
}

/// The counters at one moment.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Counts {
    /// Files to go through, those done among them; 0 while that is not known.
    pub all_files: u64,
    /// Their bytes.
    pub all_bytes: u64,
    /// Files done.
    pub files: u64,
    /// Their bytes.
    pub bytes: u64,
    /// Seconds of sound read.
    pub audio_s: f64,
}

impl Progress {
    /// Says how much there is.
    pub fn expect(&self, files: u64, bytes: u64) {
        self.all_files.store(files, Ordering::Relaxed);
        self.all_bytes.store(bytes, Ordering::Relaxed);
    }

    /// One more file is done.
    pub fn add_file(&self, bytes: u64) {
        self.files.fetch_add(1, Ordering::Relaxed);
        self.bytes.fetch_add(bytes, Ordering::Relaxed);
    }

    /// So many samples more were read.
    pub fn add_audio(&self, samples: usize, sample_rate_hz: u32) {
        let us = samples as u64 * 1_000_000 / u64::from(sample_rate_hz.max(1));
        self.audio_us.fetch_add(us, Ordering::Relaxed);
    }

    /// The counters now.
    pub fn counts(&self) -> Counts {
        Counts {
            all_files: self.all_files.load(Ordering::Relaxed),
            all_bytes: self.all_bytes.load(Ordering::Relaxed),
            files: self.files.load(Ordering::Relaxed),
            bytes: self.bytes.load(Ordering::Relaxed),
            audio_s: self.audio_us.load(Ordering::Relaxed) as f64 / 1e6,
        }
    }
}

impl Counts {
    /// Seconds left at the pace of the bytes so far, after `elapsed_s`; `None` while there is
    /// nothing to judge by.
    pub fn left_s(&self, elapsed_s: f64) -> Option<f64> {
        if self.all_bytes == 0 || self.bytes == 0 {
            return None;
        }
        let left = self.all_bytes.saturating_sub(self.bytes) as f64;
        Some(elapsed_s * left / self.bytes as f64)
    }
}
