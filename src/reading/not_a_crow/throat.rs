//! Whether a tone comes from a throat or from lips, by weak evidence taken together.
//!
//! A reed that beats shuts once a period: its partials reach far up, its pitch stays where the cane puts
//! it, and breath is heard before it speaks. A voice, hummed or sung, and a whistle fall steeply, are
//! brought to their pitch by ear, from under it, and may have vibrato. None of it tells by itself, so each
//! piece of evidence is a number of nats (the logarithm of how much likelier a throat is than a reed), and
//! they are added. All are ratios and intervals within 300 Hz … 3.4 kHz, so no gain, telephone or codec matters.

use std::f64::consts::TAU;

use crate::dsp::statistics::{line, median, quantile_in_place};

/// One piece of evidence.
#[derive(Debug)]
struct Evidence {
    /// Its value where it speaks for neither, …
    even: f64,
    /// … within these limits, …
    limits: (f64, f64),
    /// … and what each unit over that counts for a throat, in nats.
    nats: f64,
}

/// How far the overtones lie under the strongest partial on the mean, in decibels. The flow through the
/// glottis falls by 12 dB an octave, 6 of which radiation gives back, and the vocal tract takes more (Klatt &
/// Klatt 1990, JASA 87:820); a beating reed's pressure by 6 to 9 and less. Reeds lie from 4 to 36 dB,
/// hums, sung vowels and whistles from 20 to 45 and more.
const FALL: Evidence = Evidence { even: 30.0, limits: (5.0, 45.0), nats: 0.2 };
/// How far the pitch travels, as the logarithm of cents: notes are begun some 50 to 150 cents under their
/// pitch, overshot and left downwards (Saitou et al. 2005, Speech Communication 46:405); a reed that is held comes up to
/// its pitch by some 10 to 40, and a beginner's breath moves it by as much.
const TRAVEL: Evidence = Evidence { even: 3.4, limits: (1.6, 4.6), nats: 1.6 };
/// Power over 1 kHz against all, in decibels. Lips that are shut and a nose let little of it through, whatever the
/// pitch; reeds lie over −12 dB, dull low ones over −28, hums and sung vowels from −16 to −50.
const OVER_1_KHZ: Evidence = Evidence { even: -22.0, limits: (-40.0, -14.0), nats: -0.1 };
/// Vibrato, in cents times the share of all wander that it makes up. Singers' is 34 to 123 cents wide to either
/// side (Prame 1997, JASA 102:616); at its rates breath moves a reed by one or two.
const VIBRATO: Evidence = Evidence { even: 3.0, limits: (0.0, 20.0), nats: 0.12 };
/// Breath before the tone, in seconds. None says little: a tongued crow has none, and what is said with an h has some.
const BREATH: Evidence = Evidence { even: 0.05, limits: (0.05, 0.15), nats: -35.0 };
/// Octaves over the highest register: a quarter and more over it no reed of the kind crows, and lips whistle.
const HEIGHT: Evidence = Evidence { even: 0.25, limits: (0.25, 0.75), nats: 8.0 };

/// What keeps its pitch like this, in cents, comes from no throat; who sings or whistles wavers by 2 to 30.
const KEPT_CENTS: f64 = 2.0;
/// Rates of vibrato (Prame 1994, JASA 96:1979: 6.0 Hz, singers from 4.6 to 8.7 within a note), …
const VIBRATO_HZ: (f64, f64) = (4.0, 7.5);
/// … tried so finely, …
const VIBRATO_STEP_HZ: f64 = 0.25;
/// … over so many moments of a track at least: three waves.
const LEAST_MOMENTS: usize = 10;
/// Overtones up to this one count, …
const HIGHEST_OVERTONE: usize = 12;
/// … that lie under this, where telephones end.
const TELEPHONE_HZ: f64 = 3400.0;
/// A partial is known by its number within this share of the fundamental.
const NUMBER_SHARE: f64 = 0.05;
/// The pitch's travel leaves out this share of its moments at either end.
const STRAY_SHARE: f64 = 0.05;

/// What is known of a tone.
#[derive(Debug, Clone, Copy)]
pub struct Tone<'a> {
    /// Its fundamental, in hertz.
    pub hz: f64,
    /// Frequency in hertz and power of each of its partials.
    pub partials: &'a [(f64, f64)],
    /// Moments and frequencies of the rough course.
    pub course: &'a [(f64, f64)],
    /// Moments and frequencies of 50 ms frames.
    pub track: &'a [(f64, f64)],
    /// How far it wavers in cents, where that is told.
    pub spread_cents: Option<f64>,
    /// The highest register that the profile expects.
    pub highest_hz: Option<f64>,
    /// How long breath is heard before it, in seconds; `None` where the level does not tell.
    pub breath_s: Option<f64>,
}

impl Evidence {
    fn nats(&self, value: f64) -> f64 {
        self.nats * (value.clamp(self.limits.0, self.limits.1) - self.even)
    }
}

/// The logarithm of how much likelier a tone comes from a throat or lips than from a reed.
///
/// * `hidden`: power that a partial at this frequency in hertz may have without being seen.
pub fn throat_nats(tone: &Tone<'_>, hidden: impl Fn(f64) -> f64) -> f64 {
    if tone.spread_cents.is_some_and(|cents| cents < KEPT_CENTS) {
        return f64::NEG_INFINITY;
    }
    let travel = travel_cents(tone.course).map(|cents| TRAVEL.nats(cents.max(1.0).ln()));
    FALL.nats(fall_db(tone, hidden))
        + travel.unwrap_or_default()
        + OVER_1_KHZ.nats(over_1_khz_db(tone.partials))
        + VIBRATO.nats(vibrato_cents(tone.track))
        + tone.highest_hz.map_or(0.0, |hz| HEIGHT.nats((tone.hz / hz).log2()))
        + tone.breath_s.map_or(0.0, |breath_s| BREATH.nats(breath_s))
}

/// How far the overtones lie under the strongest partial, on the mean.
fn fall_db(tone: &Tone<'_>, hidden: impl Fn(f64) -> f64) -> f64 {
    let strongest = tone.partials.iter().map(|(_, power)| *power).fold(f64::MIN_POSITIVE, f64::max);
    let is_at = |hz: f64, wanted_hz: f64| (hz - wanted_hz).abs() < NUMBER_SHARE * tone.hz;
    let falls = |number: usize| {
        let hz = number as f64 * tone.hz;
        let seen = tone.partials.iter().filter(|(at_hz, _)| is_at(*at_hz, hz));
        let power = seen.map(|(_, power)| *power).fold(hidden(hz), f64::max);
        let under_db = -10.0 * (power.max(f64::MIN_POSITIVE) / strongest).log10();
        under_db.clamp(FALL.limits.0, FALL.limits.1)
    };
    let overtones = 2..=HIGHEST_OVERTONE.min((TELEPHONE_HZ / tone.hz) as usize).max(2);
    let count = overtones.clone().count() as f64;
    overtones.map(falls).sum::<f64>() / count
}

fn over_1_khz_db(partials: &[(f64, f64)]) -> f64 {
    let power = |from_hz: f64| -> f64 {
        partials.iter().filter(|(hz, _)| *hz > from_hz).map(|(_, power)| power).sum()
    };
    10.0 * (power(1000.0) / power(0.0).max(f64::MIN_POSITIVE)).max(f64::MIN_POSITIVE).log10()
}

/// How far a rough course travels, octaves aside.
fn travel_cents(course: &[(f64, f64)]) -> Option<f64> {
    let middle = median(course.iter().map(|(_, hz)| *hz))?;
    let folded = |hz: f64| (1200.0 * (hz / middle).log2() + 600.0).rem_euclid(1200.0) - 600.0;
    let mut cents: Vec<f64> = course.iter().map(|(_, hz)| folded(*hz)).collect();
    let high = quantile_in_place(&mut cents, 1.0 - STRAY_SHARE)?;
    Some(high - quantile_in_place(&mut cents, STRAY_SHARE)?)
}

/// Vibrato of a track, in cents to either side, times the share of its wander about a line that it makes up.
fn vibrato_cents(track: &[(f64, f64)]) -> f64 {
    let Some(&(_, first)) = track.first().filter(|_| track.len() >= LEAST_MOMENTS) else {
        return 0.0;
    };
    let (time_s, cents): (Vec<f64>, Vec<f64>) =
        track.iter().map(|(t, hz)| (*t, 1200.0 * (hz / first).log2())).unzip();
    let Some(fit) = line(&time_s, &cents) else { return 0.0 };
    let away: Vec<f64> = time_s.iter().zip(&cents).map(|(t, c)| c - fit.at(*t)).collect();
    let count = away.len() as f64;
    let square = away.iter().map(|cents| cents * cents).sum::<f64>() / count;
    let weighed = |rate_hz: f64| {
        let (mut re, mut im) = (0.0, 0.0);
        for (t, cents) in time_s.iter().zip(&away) {
            let (sin, cos) = (TAU * rate_hz * t).sin_cos();
            (re, im) = (re + cents * cos, im + cents * sin);
        }
        let wide = 2.0 / count * f64::hypot(re, im);
        wide * (0.5 * wide * wide / square.max(f64::MIN_POSITIVE)).min(1.0)
    };
    let steps = ((VIBRATO_HZ.1 - VIBRATO_HZ.0) / VIBRATO_STEP_HZ).round() as usize;
    let rates = (0..=steps).map(|step| VIBRATO_HZ.0 + step as f64 * VIBRATO_STEP_HZ);
    rates.map(weighed).fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of_440_hz<'a>() -> Tone<'a> {
        Tone {
            hz: 440.0,
            partials: &[],
            course: &[],
            track: &[],
            spread_cents: None,
            highest_hz: None,
            breath_s: None,
        }
    }

    /// A second of it: partials that fall by so many decibels an octave, and cents away from 440 Hz.
    fn nats(fall_db: f64, cents: impl Fn(f64) -> f64, breath_s: Option<f64>) -> f64 {
        let partials: Vec<(f64, f64)> = (1..20)
            .map(|n| (440.0 * f64::from(n), 10.0_f64.powf(-fall_db * f64::from(n).log2() / 10.0)))
            .collect();
        let at = |t: f64| (t, 440.0 * f64::exp2(cents(t) / 1200.0));
        let course: Vec<(f64, f64)> = (0..100).map(|i| at(f64::from(i) * 0.01)).collect();
        let track: Vec<(f64, f64)> = (2..19).map(|i| at(f64::from(i) * 0.05)).collect();
        let tone =
            Tone { partials: &partials, course: &course, track: &track, breath_s, ..of_440_hz() };
        throat_nats(&tone, |_| 0.0)
    }

    #[test]
    fn a_voice_falls_is_brought_to_its_pitch_and_has_vibrato() {
        let scoops = |t: f64| -120.0 * (-t / 0.1).exp();
        let vibrato = |t: f64| 40.0 * (TAU * 5.5 * t).sin();
        assert!(nats(15.0, scoops, None) > 1.0);
        assert!(nats(15.0, vibrato, Some(0.0)) > nats(15.0, scoops, Some(0.0)));
        assert!(nats(12.0, vibrato, None) > 1.0);
    }

    #[test]
    fn a_reed_is_bright_or_breathes_or_stays() {
        let beginner = |t: f64| 15.0 * (TAU * 1.3 * t).sin();
        let comes_up = |t: f64| -30.0 * (-t / 0.04).exp();
        assert!(nats(6.0, beginner, None) < -3.0);
        assert!(nats(12.0, beginner, Some(0.2)) < -2.0);
        assert!(nats(12.0, comes_up, None) < -2.0);
        // A bright tone with vibrato and breath before it stays one as well.
        assert!(nats(6.0, |t| 20.0 * (TAU * 5.5 * t).sin(), Some(0.2)) < 0.0);
    }

    #[test]
    fn what_noise_may_hide_is_no_proof_of_a_voice() {
        let partials = [(440.0, 1.0)];
        let tone = Tone { partials: &partials, ..of_440_hz() };
        assert!(throat_nats(&tone, |_| 0.0) > throat_nats(&tone, |_| 0.01) + 3.0);
        let kept = Tone { spread_cents: Some(0.5), ..tone };
        assert!(throat_nats(&kept, |_| 0.0) < -100.0);
        // Where no such reed crows, lips are likelier.
        let high = Tone { highest_hz: Some(300.0), ..tone };
        assert!(throat_nats(&high, |_| 0.0) > throat_nats(&tone, |_| 0.0) + 1.0);
    }
}
