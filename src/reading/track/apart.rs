//! Two tones of which each goes its own way: neither is a line beside the other's multiples.

use super::family::Family;
use super::orders::NOISE_CORRELATION;
use super::tones::{Deviation, FittedMeans, Pair, Stretch, Tones, span_hz};
use crate::dsp::phase::PhaseTrack;
use crate::units::CENTS_PER_E;

/// A phase of its own explains a tone better that explains so many times as much of its power.
const EXPLAINS_MORE: f64 = 1.15;
/// One that explains less than this share of its power, in a room above all, may have slipped.
const FOLLOWED: f64 = 0.9;

/// A tone's own phase, and what share of its power it explains.
pub(super) struct OwnCourse {
    track: PhaseTrack,
    explains: f64,
}

impl Stretch<'_> {
    /// Two tones that wander apart from each other: the other's own phase over all frames, where that
    /// explains its partials clearly better than a line that keeps its distance from the leader's.
    pub(super) fn own_course(&self, moved: &Family<'_>, pair: &Pair<'_>) -> Option<OwnCourse> {
        let own = moved.phase_track(self.frames.clone())?;
        let led = self.led(&pair.track);
        let kept: Vec<f64> = led.iter().map(|c| c * (1.0 + pair.line.deviation)).collect();
        let by_line = moved.explained(self.together.clone(), &kept);
        let by_itself = moved.explained(self.together.clone(), self.led(&own));
        // A phase that follows the noise explains more of it as well.
        let lacks = EXPLAINS_MORE * by_line < 1.0;
        let is_better = lacks && by_itself > EXPLAINS_MORE * by_line;
        is_better.then_some(OwnCourse { track: own, explains: by_itself })
    }

    /// What two tones tell of which each goes its own way.
    pub(super) fn apart(&self, pair: Pair<'_>, own: OwnCourse) -> Option<Tones> {
        let OwnCourse { track: own, explains } = own;
        let (led, other) = (self.led(&pair.track), self.led(&own));
        let cycles = other.iter().zip(led).map(|(own, led)| own - led).collect();
        let (from, to) = (self.together.start, self.together.end);
        let of_together =
            |values: &[f64]| values[from - self.frames.start..to - self.frames.start].to_vec();
        let apart = PhaseTrack {
            time_s: of_together(&own.time_s),
            cycles,
            noise_cycles: of_together(&own.noise_cycles),
        };
        let mean = apart.mean_frequency(NOISE_CORRELATION, true)?;
        let leader_hz = span_hz(&PhaseTrack { cycles: led.to_vec(), ..apart })?;
        let (lower, upper) = if pair.lower_leads { (pair.track, own) } else { (own, pair.track) };
        let sign = if pair.lower_leads { 1.0 } else { -1.0 };
        let cents = sign * 1200.0 * (1.0 + mean.hz / leader_hz).log2();
        // A phase that slipped is off by a whole turn, and a line by where the wander dwells: which of them is
        // wrong, where they part, is not known.
        let may_slip = explains < FOLLOWED;
        let part = if may_slip { (cents - pair.deviation.cents).abs() } else { 0.0 };
        let ci95_cents = (mean.ci95_hz / leader_hz * CENTS_PER_E).max(part);
        let deviation = Deviation { cents, ci95_cents };
        let means = |track: &PhaseTrack| track.mean_frequency(NOISE_CORRELATION, true);
        let fitted = Some(FittedMeans { lower: means(&lower)?, upper: means(&upper)? });
        Some(Tones { lower, upper: Some(upper), deviation: Some(deviation), fitted })
    }
}
