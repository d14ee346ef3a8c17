//! What a synthetic crow is made of. Times inside a crow count from the first sample of its tone.

use super::noise::Colour;

/// One crow: partials of a low tone in rungs, with breath, drift, spread and rattle.
#[derive(Debug, Clone, PartialEq)]
pub struct CrowSound {
    /// Frequency of the lowest tone, sounding or not; its partials are its multiples up to
    /// 10 kHz or 0.45 of the sample rate.
    pub f_low_hz: f64,
    /// Length of the tone in seconds, ramps included.
    pub duration_s: f64,
    /// RMS level of all partials at full gain; a full-scale sine is 0 dBFS.
    pub level_dbfs: f64,
    /// The rungs, lowest first, with levels relative to each other; `None` is a rung that does
    /// not sound. The last one covers the rungs above it too: all multiples of its tone.
    pub rungs: Vec<Option<RungSound>>,
    /// The rungs above the lowest stand off 2:1; `None` for locked octaves.
    pub unlocked: Option<Unlocked>,
    /// Random raggedness of the partials' levels, standard deviation in decibels.
    pub ragged_db: f64,
    /// Length of the raised-cosine attack.
    pub attack_s: f64,
    /// Length of the raised-cosine decay.
    pub decay_s: f64,
    /// How the pitch moves.
    pub motion: Motion,
    /// Periodic amplitude modulation.
    pub rattle: Option<Rattle>,
    /// Breath noise.
    pub air: Option<Air>,
    /// Response of the room.
    pub room: Option<Room>,
}

/// One rung of a crow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RungSound {
    /// Power of its partials relative to the other rungs, in decibels.
    pub level_db: f64,
    /// Slope of its partials' levels against log2 of frequency.
    pub tilt_db_per_octave: f64,
    /// When it comes in after the tone's start; 0 with the attack.
    pub entry_s: f64,
    /// When it goes out; `None` with the decay.
    pub exit_s: Option<f64>,
    /// Length of its raised-cosine entry and exit.
    pub ramp_s: f64,
    /// It comes and goes.
    pub turns: Option<Turns>,
}

/// A rung that comes and goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turns {
    /// Length of a turn, there and away.
    pub period_s: f64,
    /// Part of the period in which it sounds, 0 … 1.
    pub share: f64,
    /// Part of the period after which it comes, 0 … 1.
    pub offset: f64,
}

/// Octaves that do not lock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unlocked {
    /// Deviation of the upper tone from 2:1.
    pub deviation_cents: f64,
    /// The lower tone has its even multiples too.
    pub all_lower_multiples: bool,
    /// Level of the strongest combination tones |a·f_low + b·f_up| relative to all partials,
    /// in decibels, falling 8 dB with each order over the second; `None` for none.
    pub combination_db: Option<f64>,
    /// How the upper tone moves besides, by a law of its own.
    pub own: Motion,
}

/// How the pitch moves, the same for all partials.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Motion {
    /// Straight drift, 0 at the middle of the tone.
    pub drift_cents_per_s: f64,
    /// Standard deviation of a random wander (low-passed Gaussian noise).
    pub spread_cents: f64,
    /// Correlation time of the wander.
    pub spread_time_s: f64,
    /// Peak deviation of a vibrato.
    pub vibrato_cents: f64,
    /// Rate of the vibrato.
    pub vibrato_hz: f64,
}

/// Periodic amplitude modulation of the tone: 1 + depth·cos.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rattle {
    /// Rate in hertz.
    pub hz: f64,
    /// Peak deviation over mean, 0 … 1.
    pub depth: f64,
}

/// Breath noise of a crow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Its power over the whole band relative to all partials.
    pub level_db: f64,
    /// Its spectrum.
    pub colour: Colour,
    /// How long before the tone it starts.
    pub lead_s: f64,
    /// How long after the tone it ends.
    pub tail_s: f64,
    /// Length of its raised-cosine ends.
    pub ramp_s: f64,
}

/// A short room response: direct sound and an exponentially decaying noise-like tail.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Room {
    /// Time in which the tail decays by 60 dB.
    pub decay_s: f64,
    /// Power of the tail relative to the direct sound.
    pub level_db: f64,
}

impl Default for RungSound {
    fn default() -> Self {
        Self {
            level_db: 0.0,
            tilt_db_per_octave: -4.0,
            entry_s: 0.0,
            exit_s: None,
            ramp_s: 0.03,
            turns: None,
        }
    }
}

impl RungSound {
    /// A rung at `level_db` that sounds from start to end.
    pub fn at(level_db: f64) -> Self {
        Self { level_db, ..Self::default() }
    }
}

impl Default for Air {
    fn default() -> Self {
        Self {
            level_db: -30.0,
            colour: Colour::Air { low_hz: 500.0, high_hz: 4000.0 },
            lead_s: 0.0,
            tail_s: 0.0,
            ramp_s: 0.03,
        }
    }
}

impl CrowSound {
    /// Locked octaves on `f_low_hz`, the odd multiples `low_db` relative to the even ones.
    pub fn octaves(f_low_hz: f64, duration_s: f64, low_db: f64) -> Self {
        Self {
            f_low_hz,
            duration_s,
            level_dbfs: -20.0,
            rungs: vec![Some(RungSound::at(low_db)), Some(RungSound::at(0.0))],
            unlocked: None,
            ragged_db: 0.0,
            attack_s: 0.02,
            decay_s: 0.02,
            motion: Motion::default(),
            rattle: None,
            air: None,
            room: None,
        }
    }

    /// One tone with all its multiples and nothing an octave below it.
    pub fn single(f_hz: f64, duration_s: f64) -> Self {
        let mut crow = Self::octaves(f_hz, duration_s, 0.0);
        crow.rungs = vec![Some(RungSound::at(0.0))];
        crow
    }

    /// Two tones that stand off 2:1 by `deviation_cents`, with combination tones 25 dB down.
    pub fn split(f_low_hz: f64, duration_s: f64, deviation_cents: f64) -> Self {
        let mut crow = Self::octaves(f_low_hz, duration_s, -3.0);
        crow.unlocked = Some(Unlocked {
            deviation_cents,
            all_lower_multiples: false,
            combination_db: Some(-25.0),
            own: Motion::default(),
        });
        crow
    }

    /// Mean square of all partials at full gain.
    pub(super) fn mean_square(&self) -> f64 {
        0.5 * 10f64.powf(self.level_dbfs / 10.0)
    }
}
