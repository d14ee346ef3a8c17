//! Whether the pitch is what it should be, as conditions: against the target, and whether there is
//! one pitch at all.

use super::Reason;
use super::case::Facts;
use super::condition::Condition;
use super::words;
use crate::comparison::{Estimate, pitch_estimate};
use crate::dsp::statistics::median;
use crate::pitch::Note;
use crate::reading::Figures;

/// From this far off the target, either way, it does not sound like a crow of this kind of reed, in
/// cents (our choice): makers argue over a tone or so, and clips and tip work move a crow by far less
/// than a minor third.
const FAR_CENTS: f64 = 300.0;

/// The figure that says how far off the target a crow is.
pub(super) const TARGET: &str = "fundamental.target_cents";

impl Facts<'_> {
    fn target(&self) -> Option<Estimate> {
        self.profile().target?;
        self.summary().fundamental.target_cents?;
        pitch_estimate(self.case.reading, self.profile().advice.usual_spread_cents)
    }

    /// Half width of the 95 % interval of the pitch, and what it must be known to, where it is known
    /// no better: no cut can be reckoned from it.
    pub fn pitch_unknown(&self) -> Option<(f64, f64)> {
        let estimate = self.target()?;
        let (half_width, limit) = (estimate.half_width(), self.pitch_limit(&estimate));
        (half_width > limit).then_some((half_width, limit))
    }

    /// What a pitch must be known to: to what counts as in tune or, where it is farther off, to half
    /// of how far.
    fn pitch_limit(&self, estimate: &Estimate) -> f64 {
        self.profile().tolerance.target_cents.max(estimate.value.abs() / 2.0)
    }

    /// Sample standard deviation of the pitch between the crows, where they differ by more than is
    /// usual, and by more than lets the pitch be known.
    pub fn crows_differ(&self) -> Option<f64> {
        let spread = self.summary().fundamental.spread_between_crows_cents?;
        let usual = self.profile().advice.usual_spread_cents;
        let estimate = pitch_estimate(self.case.reading, usual)?;
        let unknown = estimate.half_width() > self.pitch_limit(&estimate);
        (spread > usual && unknown).then_some(spread)
    }

    /// Cents from the target, where there is one.
    pub fn target_cents(&self) -> Option<f64> {
        self.target().map(|estimate| estimate.value)
    }

    /// How far off the target it is, where that is told.
    pub fn pitch_told(&self) -> Option<Reason> {
        self.target_cents().map(|cents| self.target_reason(cents))
    }

    fn target_reason(&self, cents: f64) -> Reason {
        Reason {
            figure: TARGET.into(),
            value: Some(cents),
            says: words::against_target(cents, self.profile(), self.own_register()),
        }
    }

    /// Flat by more than `cents`, and not by a note that other makers hold it to.
    fn flat_by(&self, cents: f64) -> Condition {
        let flat = self.target().map_or_else(Condition::never, |estimate| {
            let value = estimate.value;
            let sure = 1.0 - estimate.probability_over(-cents);
            Condition::new(value < -cents, sure, self.target_reason(value))
        });
        flat.and(self.disputed().not())
    }

    /// On another note that makers hold this kind of reed to.
    pub fn on_another_note(&self) -> Condition {
        let each = self.profile().also.iter().map(|also| self.by_another_note(*also, false));
        each.fold(Condition::never(), Condition::or)
    }

    /// On another note that makers hold it to, or between that and the target: which way it is off,
    /// if it is, depends on whom one asks.
    pub fn disputed(&self) -> Condition {
        let each = self.profile().also.iter().map(|also| self.by_another_note(*also, true));
        each.fold(Condition::never(), Condition::or)
    }

    /// On the note `also`, or in all of the way from there to the target.
    fn by_another_note(&self, also: Note, between_too: bool) -> Condition {
        let (Some(estimate), Some(target)) = (self.target(), self.profile().target) else {
            return Condition::never();
        };
        let limit = self.profile().tolerance.target_cents;
        // The nearest such note, whatever its octave.
        let semitones = (also.midi() - target.midi() + 6).rem_euclid(12) - 6;
        let off = 100.0 * f64::from(semitones);
        let reach = |x: f64| if between_too { (x.min(0.0), x.max(0.0)) } else { (x, x) };
        let (least, most) = reach(off);
        let (least, most) = (least - limit, most + limit);
        let value = estimate.value;
        let within = |from: f64, to: f64| {
            (estimate.probability_over(from) - estimate.probability_over(to)).max(0.0)
        };
        let in_tune = if between_too { within(-limit, limit) } else { 0.0 };
        let holds = (least..=most).contains(&value) && value.abs() > limit;
        let by_it = value - off;
        let also = also.octaves_up(self.own_register().unwrap_or(0));
        let by_that = if by_it.abs() <= limit {
            "is in tune".to_owned()
        } else {
            let side = if by_it < 0.0 { "flat" } else { "sharp" };
            format!("is {} {side}", words::of_limit(by_it, limit))
        };
        let mut reason = self.target_reason(value);
        reason.says += &format!("; by {also}, which some makers hold it to, it {by_that}");
        Condition::new(holds, within(least, most) - in_tune, reason)
    }

    /// So far off, either way, that it may be another reed, or no crow at all.
    pub fn far_off(&self) -> Condition {
        self.target().map_or_else(Condition::never, |estimate| {
            let value = estimate.value;
            let sure =
                estimate.probability_over(FAR_CENTS) + 1.0 - estimate.probability_over(-FAR_CENTS);
            Condition::new(value.abs() >= FAR_CENTS, sure, self.target_reason(value))
        })
    }

    pub fn flat(&self) -> Condition {
        self.flat_by(self.profile().tolerance.target_cents)
    }

    /// So flat that a clip comes first.
    pub fn very_flat(&self) -> Condition {
        self.flat_by(self.profile().advice.room_to_clip_cents)
    }

    pub fn sharp(&self) -> Condition {
        let sharp = self.target().map_or_else(Condition::never, |estimate| {
            let limit = self.profile().tolerance.target_cents;
            let value = estimate.value;
            let sure = estimate.probability_over(limit);
            Condition::new(value > limit, sure, self.target_reason(value))
        });
        sharp.and(self.disputed().not())
    }

    /// Within the tolerance; a profile without a target gives no verdict on pitch and holds too.
    pub fn in_tune(&self) -> Condition {
        if self.profile().target.is_none() {
            return Condition::known(true);
        }
        self.target().map_or_else(Condition::never, |estimate| {
            let limit = self.profile().tolerance.target_cents;
            let value = estimate.value;
            let sure = estimate.probability_over(-limit) - estimate.probability_over(limit);
            Condition::new(value.abs() <= limit, sure, self.target_reason(value))
        })
    }

    /// The pitch glides while the crows sound, so that there is no one pitch.
    pub fn glides(&self) -> Condition {
        let limit = self.profile().advice.glide_cents_per_s;
        let drift = |figures: &Figures| {
            figures.steadiness.drift_cents_per_s.filter(|drift| drift.is_finite())
        };
        let of_crows: Vec<f64> = self.sounding().filter_map(|crow| drift(&crow.figures)).collect();
        let each = match of_crows.is_empty() {
            true => drift(self.summary()).into_iter().collect(),
            false => of_crows,
        };
        let sizes: Vec<f64> = each.iter().map(|drift| drift.abs()).collect();
        let path = "steadiness.drift_cents_per_s";
        let usual = 2.0 * self.profile().smallest_change(path).unwrap_or(1.0);
        let Some(estimate) = Estimate::over_crows(&sizes, &[], usual) else {
            return Condition::never();
        };
        let reason = Reason {
            figure: path.into(),
            value: median(each.iter().copied()),
            says: words::glide(estimate.value, &each),
        };
        Condition::new(estimate.value > limit, estimate.probability_over(limit), reason)
    }
}
