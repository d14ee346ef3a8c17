//! The samples a finder still needs: the last ones, and of a long sound its beginning.

/// Samples of a take from some moment on, numbered from the take's first.
#[derive(Debug, Default)]
pub(super) struct Kept {
    /// Samples from `base` on.
    last: Vec<f32>,
    base: u64,
    /// The beginning of a sound longer than is kept, with its first sample's number.
    beginning: Option<(u64, Vec<f32>)>,
}

impl Kept {
    /// Takes the next samples.
    pub fn push(&mut self, samples: &[f32]) {
        self.last.extend_from_slice(samples);
    }

    /// The `n` samples from number `first` on.
    pub fn frame(&self, first: u64, n: usize) -> &[f32] {
        let start = (first - self.base) as usize;
        &self.last[start..start + n]
    }

    /// The last `n` samples, or as many as are kept.
    pub fn newest(&self, n: usize) -> &[f32] {
        &self.last[self.last.len() - n.min(self.last.len())..]
    }

    /// Up to `n` samples before number `end`.
    pub fn before(&self, end: u64, n: usize) -> &[f32] {
        let end = (end - self.base) as usize;
        &self.last[end.saturating_sub(n)..end]
    }

    /// The samples that hold a sound from number `start` to number `end`, with the first one's
    /// number: the beginning, where the sound reaches into it, else the last ones.
    pub fn around(&self, start: f64, end: f64) -> (u64, &[f32]) {
        match &self.beginning {
            Some((base, samples))
                if (*base as f64) < end && start < (*base + samples.len() as u64) as f64 =>
            {
                (*base, samples)
            }
            _ => (self.base, &self.last),
        }
    }

    /// Drops what lies before number `wanted`. Of a sound that reaches back farther than `longest`
    /// before `now`, so many from its beginning are set aside, and the last ones are kept from
    /// `look_back` before `now` on.
    pub fn forget(&mut self, wanted: u64, now: u64, longest: u64, look_back: u64) {
        let mut keep_from = wanted.max(self.base);
        if now - keep_from > longest {
            if self.beginning.is_none() {
                let n = (longest as usize).min(self.last.len());
                self.beginning = Some((self.base, self.last[..n].to_vec()));
            }
            keep_from = now.saturating_sub(look_back);
        }
        // Moving the rest down costs as much as it saves; do it when half is waste.
        if (keep_from - self.base) as usize > self.last.len() / 2 {
            self.last.drain(..(keep_from - self.base) as usize);
            self.base = keep_from;
        }
    }

    /// The sound set aside has been handed out.
    pub fn sound_is_over(&mut self) {
        self.beginning = None;
    }
}
