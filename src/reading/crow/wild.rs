//! Wild crows: how much of a sound repeats from one moment to the next, and what of a sound in which no
//! tone lasts is a reed all the same.

use super::{Context, own_from_hz};
use crate::dsp::autocorrelation::Frames;
use crate::dsp::decimate::Decimator;
use crate::dsp::statistics::quantile_in_place;
use crate::reading::figures::balance::floor_density;
use crate::reading::figures::steadiness::level_sd_db;
use crate::reading::find::sound::Sound;
use crate::reading::measured::stretch;

/// Harmonicity is the median of so many moments.
const MOMENTS: usize = 8;
/// Periods that reeds have.
const PERIODS_HZ: (f64, f64) = (100.0, 2000.0);
/// Noise of any colour recurs by less than this, …
const NOISE_RECURRENCE: f64 = 0.15;
/// … and where so much of a sound without a tone to follow does, a reed was sounding, wildly: a delayed
/// vibration that is chaos lies over it by half, …
const LEAST_RECURRENCE: f64 = 0.3;
/// … where it holds its level as blown, as words do not, …
const HELD_LEVEL_SD_DB: f64 = 3.0;
/// … and no more than this recurs at longer periods, as in a voice.
const REED_SHARE: f64 = 0.75;
/// What recurs as much at shorter periods is a squeak.
const SQUEAKS_HZ: (f64, f64) = (2000.0, 6000.0);
/// Or a tone is there in so many of its moments, though never the same for long (in breath, talk and scraping
/// in no more than an eighth of them, in wild crows in rooms from a fifth on), …
const LEAST_LEAPING: f64 = 0.2;
/// … that goes on for this long within one, with this much of the power, …
const TONE_LASTS_S: f64 = 0.008;
const TONE_REPEATS: f64 = 0.4;
/// … and the level leaps no more than with the tones.
const LEAPING_LEVEL_SD_DB: f64 = 5.0;
/// Without a target, voices are thought to begin under this.
const RECURS_FROM_HZ: f64 = 200.0;
/// What repeats better than this within its moments (wild crows in noise lie from −4 to 3 dB, those of which
/// only the lines are broad up to 15, what rings, creaks or whistles from 9 to 28) …
const MOST_WILD_DB: f64 = 6.0;
/// … is blown where its level is as even as this, in one breath.
const EVEN_LEVEL_SD_DB: f64 = 2.0;
/// Or half of its moments repeat by this, …
const LEAST_WITHIN: f64 = 0.33;
/// … and by this when their envelopes are taken off (breath and scraping by no more than 0.2 and 0.14, running
/// water by 0.32 and 0.17; wild crows, in rooms as well, by 0.33 and 0.16 and more).
const LEAST_WITHIN_FLAT: f64 = 0.155;
/// … for so long, …
const LEAST_BLOWN_S: f64 = 0.6;
/// … in one breath: between its first and last loud moment this share of the moments, each taken so long, …
const UNBROKEN_SHARE: f64 = 0.9;
const LEVEL_S: f64 = 0.02;
/// … lies no farther than this under what a fifth of them exceed. Strokes of a knife leave gaps.
const UNBROKEN_DB: f64 = 10.0;
/// Recurrence is sought in so many moments of a sound …
const RECURRENCE_MOMENTS: usize = 40;
/// … each taken so long for a moment of its own, …
const MOMENT_S: f64 = 0.05;
/// … up to here.
const RECURRENCE_TOP_HZ: f64 = 8000.0;

/// Or it is made of pulses, as a reed makes that beats, however irregularly: in three quarters of its moments
/// the kurtosis is over this (3 in noise; in breath and water none over 3.1, in scraping one moment in twenty
/// over 3.9, in irregular pulses in rooms from 3.6 on), …
const LEAST_KURTOSIS: f64 = 4.0;
/// … each moment taken so long, …
const PULSED_S: f64 = 0.025;
/// … of what lies under half of this.
const PULSED_RATE_HZ: f64 = 12_000.0;

/// A sound is rough in which what repeats is over what does not by less than this.
const ROUGH_DB: f64 = 15.0;

/// Frames of the sound between two moments of the take.
fn frames_of(
    sound: &Sound,
    context: &Context<'_>,
    (from_s, to_s): (f64, f64),
    most: usize,
) -> Frames {
    let room = |hz: f64| {
        sound.floor.as_ref().map_or(0.0, |floor| floor_density(floor, context.floor_bin_hz, hz))
    };
    Frames::new(stretch(sound, context, from_s, to_s), context.sample_rate_hz, most, room)
}

/// How much repeats from one moment to the next. `None` where others sound as well.
pub fn harmonicity_db(sound: &Sound, context: &Context<'_>, span_s: (f64, f64)) -> Option<f64> {
    if sound.by_tone {
        return None;
    }
    frames_of(sound, context, span_s, MOMENTS).harmonicity_db(PERIODS_HZ)
}

/// What recurs through the sound though no tone lasts: at the periods of the reeds expected, at any that
/// reeds have, and at shorter ones.
fn recurrence(moments: &Frames, context: &Context<'_>) -> Option<[f64; 3]> {
    let least = (super::LEAST_BREATH_S / MOMENT_S) as usize;
    moments.recurrence([reed_hz(context), PERIODS_HZ, SQUEAKS_HZ], RECURRENCE_TOP_HZ, least)
}

/// Periods of the reeds expected.
fn reed_hz(context: &Context<'_>) -> (f64, f64) {
    (own_from_hz(context).max(RECURS_FROM_HZ), PERIODS_HZ.1)
}

/// The sound in moments.
fn moments(sound: &Sound, context: &Context<'_>) -> Frames {
    frames_of(sound, context, inside_s(sound), RECURRENCE_MOMENTS)
}

/// Whether a tone that does not last is one at all, and no noise that seemed to have one.
pub fn recurs(sound: &Sound, context: &Context<'_>) -> bool {
    let moments = moments(sound, context);
    is_blown(sound, &moments, context)
        && (leaps(&moments, context)
            || recurrence(&moments, context).is_some_and(|[_, any, _]| any > NOISE_RECURRENCE))
}

/// Whether its moments repeat no better than those of a wild reed, or its level is as even as a breath's.
fn is_blown(sound: &Sound, moments: &Frames, context: &Context<'_>) -> bool {
    let (from_s, to_s) = inside_s(sound);
    let samples = stretch(sound, context, from_s, to_s);
    let rate = context.sample_rate_hz;
    moments.harmonicity_db(PERIODS_HZ).is_none_or(|db| db < MOST_WILD_DB)
        || level_sd_db(samples, rate, 0.0).is_some_and(|sd| sd < EVEN_LEVEL_SD_DB)
            && is_unbroken(samples, rate)
}

/// Whether tones of a reed follow each other, none of which lasts.
fn leaps(moments: &Frames, context: &Context<'_>) -> bool {
    let each = moments.repeating([reed_hz(context), PERIODS_HZ, SQUEAKS_HZ], TONE_LASTS_S);
    let is_tone = |[reed, any, squeak]: &&[f64; 3]| {
        *reed > TONE_REPEATS && *reed >= REED_SHARE * any && REED_SHARE * reed > *squeak
    };
    let tones = each.iter().filter(is_tone).count();
    tones as f64 > LEAST_LEAPING * each.len() as f64
}

/// Whether a sound was made in one breath, and not stroke by stroke.
fn is_unbroken(samples: &[f32], sample_rate_hz: f64) -> bool {
    let moment = ((LEVEL_S * sample_rate_hz) as usize).max(1);
    let powers: Vec<f64> = samples
        .chunks_exact(moment)
        .map(|part| part.iter().map(|sample| f64::from(*sample).powi(2)).sum())
        .collect();
    let Some(high) = quantile_in_place(&mut powers.clone(), 0.8) else { return false };
    let is_loud = |power: &f64| *power > high * 10.0_f64.powf(-UNBROKEN_DB / 10.0);
    let (first, last) = (powers.iter().position(is_loud), powers.iter().rposition(is_loud));
    let between = first.zip(last).and_then(|(first, last)| powers.get(first..=last));
    between.is_some_and(|between| {
        between.iter().filter(|power| is_loud(power)).count() as f64
            > UNBROKEN_SHARE * between.len() as f64
    })
}

/// Whether half of its moments repeat, at periods of a reed.
fn repeats_within(moments: &Frames, context: &Context<'_>) -> bool {
    let least = (super::LEAST_BREATH_S / MOMENT_S) as usize;
    let ranges = [reed_hz(context), PERIODS_HZ, SQUEAKS_HZ];
    moments.within_moments(ranges, RECURRENCE_TOP_HZ, least).is_some_and(
        |[(reed, reed_flat), (any, _), (squeak, _)]| {
            reed > LEAST_WITHIN
                && reed_flat > LEAST_WITHIN_FLAT
                && reed >= REED_SHARE * any
                && reed > squeak
        },
    )
}

/// Whether so much of a sound does not repeat that it is no tone of a whistle or a beep.
pub fn is_rough(sound: &Sound, context: &Context<'_>) -> bool {
    harmonicity_db(sound, context, inside_s(sound)).is_some_and(|db| db < ROUGH_DB)
}

/// Whether a sound without a tone to follow is a reed's all the same.
pub fn is_reed(sound: &Sound, context: &Context<'_>) -> bool {
    let moments = moments(sound, context);
    is_reed_by(sound, context, &moments, recurrence(&moments, context))
}

/// The same, or one in which nothing was taken for a voice and that is made of pulses.
pub fn is_reed_or_pulsed(sound: &Sound, context: &Context<'_>) -> bool {
    let moments = moments(sound, context);
    let recurrence = recurrence(&moments, context);
    is_reed_by(sound, context, &moments, recurrence) || is_pulsed(sound, context, recurrence)
}

fn is_reed_by(
    sound: &Sound,
    context: &Context<'_>,
    moments: &Frames,
    recurrence: Option<[f64; 3]>,
) -> bool {
    let (from_s, to_s) = inside_s(sound);
    let samples = stretch(sound, context, from_s, to_s);
    let held = level_sd_db(samples, context.sample_rate_hz, 0.0);
    let recurs = recurrence.is_some_and(|[reed, any, squeak]| {
        reed > LEAST_RECURRENCE && reed >= REED_SHARE * any && reed > squeak
    });
    let is_held = |most_db: f64| held.is_some_and(|sd| sd < most_db);
    let repeats = || {
        to_s - from_s >= LEAST_BLOWN_S
            && is_unbroken(samples, context.sample_rate_hz)
            && repeats_within(moments, context)
    };
    is_held(HELD_LEVEL_SD_DB) && recurs
        || is_held(LEAPING_LEVEL_SD_DB)
            && is_blown(sound, moments, context)
            && (leaps(moments, context) || repeats())
}

/// The sound without its attack and end.
fn inside_s(sound: &Sound) -> (f64, f64) {
    (sound.start_s + MOMENT_S, sound.end_s - MOMENT_S)
}

fn is_pulsed(sound: &Sound, context: &Context<'_>, recurrence: Option<[f64; 3]>) -> bool {
    let (from_s, to_s) = inside_s(sound);
    let samples = stretch(sound, context, from_s, to_s);
    // A voice has pulses as well, which recur, and more slowly.
    let is_voiced =
        recurrence.is_none_or(|[reed, any, _]| any > LEAST_RECURRENCE && reed < REED_SHARE * any);
    level_sd_db(samples, context.sample_rate_hz, 0.0).is_some_and(|sd| sd < HELD_LEVEL_SD_DB)
        && !is_voiced
        && kurtosis(samples, context.sample_rate_hz) > LEAST_KURTOSIS
}

/// Kurtosis of a sound, moment by moment, over which it lies in three quarters of them; 3 for noise of any
/// colour, more for pulses. What changes slowly is left out.
fn kurtosis(samples: &[f32], sample_rate_hz: f64) -> f64 {
    let factor = ((sample_rate_hz / PULSED_RATE_HZ).round() as usize).max(1);
    let rate_hz = sample_rate_hz / factor as f64;
    let mut thinned = Vec::new();
    Decimator::new(factor, sample_rate_hz, 0.45 * rate_hz).push(samples, &mut thinned);
    let changes: Vec<f64> = thinned.windows(2).map(|two| f64::from(two[1] - two[0])).collect();
    let moment = ((PULSED_S * rate_hz) as usize).max(2);
    let mut each: Vec<f64> = changes
        .windows(moment)
        .step_by(moment / 2)
        .filter_map(|part| {
            let power = |n: i32| part.iter().map(|x| x.powi(n)).sum::<f64>() / moment as f64;
            let square = power(2);
            (square > 0.0).then(|| power(4) / (square * square))
        })
        .collect();
    quantile_in_place(&mut each, 0.25).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Kurtosis of a normal distribution is 3; of pulses of equal height, one in every `n` samples, n.
    #[test]
    fn noise_has_a_kurtosis_of_three_and_pulses_more() {
        use rand::SeedableRng;
        use rand_distr::{Distribution, StandardNormal};
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(3);
        let noise: Vec<f32> = (0..48_000).map(|_| StandardNormal.sample(&mut rng)).collect();
        let of_noise = kurtosis(&noise, 48_000.0);
        assert!((2.5..3.0).contains(&of_noise), "{of_noise}");
        let pulses: Vec<f32> = (0..48_000).map(|n| if n % 90 == 0 { 1.0 } else { 0.0 }).collect();
        assert!(kurtosis(&pulses, 48_000.0) > 6.0);
        assert!(kurtosis(&[], 48_000.0) <= 0.0);
    }
}
