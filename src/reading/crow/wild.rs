//! Wild crows: how much of a sound repeats from one moment to the next, and what of a sound in which no
//! tone lasts is a reed all the same.

use super::{Context, own_from_hz};
use crate::dsp::autocorrelation::Frames;
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
/// Recurrence is sought in so many moments of a sound …
const RECURRENCE_MOMENTS: usize = 40;
/// … each taken so long for a moment of its own, …
const MOMENT_S: f64 = 0.05;
/// … up to here.
const RECURRENCE_TOP_HZ: f64 = 8000.0;

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
    leaps(&moments, context)
        || recurrence(&moments, context).is_some_and(|[_, any, _]| any > NOISE_RECURRENCE)
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

/// Whether so much of a sound does not repeat that it is no tone of a whistle or a beep.
pub fn is_rough(sound: &Sound, context: &Context<'_>) -> bool {
    harmonicity_db(sound, context, inside_s(sound)).is_some_and(|db| db < ROUGH_DB)
}

/// Whether a sound without a tone to follow is a reed's all the same.
pub fn is_reed(sound: &Sound, context: &Context<'_>) -> bool {
    let (from_s, to_s) = inside_s(sound);
    let samples = stretch(sound, context, from_s, to_s);
    let held = level_sd_db(samples, context.sample_rate_hz, 0.0);
    let moments = moments(sound, context);
    let recurs = || {
        recurrence(&moments, context).is_some_and(|[reed, any, squeak]| {
            reed > LEAST_RECURRENCE && reed >= REED_SHARE * any && reed > squeak
        })
    };
    let is_held = |most_db: f64| held.is_some_and(|sd| sd < most_db);
    is_held(HELD_LEVEL_SD_DB) && recurs()
        || is_held(LEAPING_LEVEL_SD_DB) && leaps(&moments, context)
}

/// The sound without its attack and end.
fn inside_s(sound: &Sound) -> (f64, f64) {
    (sound.start_s + MOMENT_S, sound.end_s - MOMENT_S)
}
