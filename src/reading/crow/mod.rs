//! One sound becomes one crow: every figure, in the order in which one leads to the next.

mod assembled;
mod courses;
mod voices;
mod wild;

use assembled::{assemble, level_dbfs, partials, tracks};

use crate::dsp::spectrum::USABLE;
use crate::dsp::statistics::median;
use crate::reading::figures::balance::{HIGHEST_HZ, LOWEST_HZ, balance, floor_density};
use crate::reading::figures::breath::noise_power;
use crate::reading::figures::steadiness::pitch_steadiness;
use crate::reading::figures::{Crow, Figures, Kind, Rung, Steadiness};
use crate::reading::find::hum::{is_hum, is_line_of_mains};
use crate::reading::find::no_crow::{Other, What, Why};
use crate::reading::find::sound::Sound;
use crate::reading::measured::{Context, CrowTracks, Measured, mean_spectrum, measure, stretch};
use crate::reading::not_a_crow::{
    HIGHEST_VOICE_HZ, Tone as Sung, dies_away, is_glide, is_hummed, is_pure, is_rich, is_scattered,
    is_voice, rings, throat_nats,
};
use crate::reading::track::coarse::CoarseTrack;
use crate::reading::track::family::NoiseProfile;
use crate::reading::track::ladder::{LOUD_SHARE, Ladder, Lowest, find_ladder};
use crate::reading::track::orders::Orders;
use crate::reading::track::steady::{Extent, extent};
use crate::reading::track::tones::tones;

/// Shorter tones are not crows.
const LEAST_TONE_S: f64 = 0.1;
/// Lower tones are no reed's, …
const LOWEST_FUNDAMENTAL_HZ: f64 = 95.0;
/// … nor are higher ones.
const HIGHEST_FUNDAMENTAL_HZ: f64 = 2060.0;
/// What has more noise than this against its tone has no period to speak of: an autocorrelation of
/// 0.25 stands for 4.8 dB.
const MOST_NOISE_DB: f64 = 8.0;
/// Where no family of partials could be followed, a tone must hold half of the power at least: running
/// water has a period here and there as well.
const MOST_NOISE_UNFOLLOWED_DB: f64 = 0.0;
/// A tone repeats by more than this from moment to moment …
const LEAST_TONE_DB: f64 = 3.0;
/// … or has its noise farther under it than this …
const NOISY_TONE_DB: f64 = -8.0;
/// … or keeps its pitch within this, in cents.
const NOISY_TONE_CENTS: f64 = 4.0;
/// What wavers more than this is not mains hum …
const MAINS_CENTS: f64 = 3.0;
/// … where its noise is so far under it that it is not what wavers. A reed that holds no tone is rough, as
/// much noise as tone: what is so clear and moves all the same is a voice, a whistle or a chair.
const CLEAR_DB: f64 = -10.0;
/// Of a reed that leaps between tones as little noise may be left; what is clearer and holds no pitch glides.
const CLEAR_GLIDE_DB: f64 = -15.0;
/// A vibration that halves does so through this share of the crow.
const LEAST_HALVED: f64 = 0.75;
/// What is as short as this and holds its level no better is a word or a knock with a tone in it.
const HELD_FROM_S: f64 = 0.6;
const MOST_LEVEL_SD_DB: f64 = 6.0;
/// From this on a throat is likelier than a reed, in nats: of crows that were read before any of this was
/// weighed, dull and blown unsteadily too, none came to more than −0.9.
const THROAT_NATS: f64 = -0.3;
/// Nobody blows a reed that holds no tone for longer than this in one breath; water runs on.
const LONGEST_WILD_S: f64 = 12.0;
/// Hum is sought under this.
const HUM_TOP_HZ: f64 = 700.0;
/// A tone goes on through this share of the span in which periodic frames were found.
const LEAST_COVERAGE: f64 = 0.5;
/// Shortest air noise that is listed.
const LEAST_BREATH_S: f64 = 0.25;
/// Air noise has no peaks over this many times its median power, as knocks have …
const MOST_BREATH_CREST: f32 = 30.0;
/// … and most of its power from 400 Hz up, as handling has not.
const LEAST_HIGH_SHARE: f32 = 0.5;

/// What a sound turns out to be.
#[derive(Debug)]
pub enum Heard {
    /// A crow, or breath.
    Crow(Box<(Crow, CrowTracks)>),
    /// Something else that has a tone.
    Other(Other),
    /// Nothing with a name.
    Nothing,
}

impl Heard {
    /// The crow, if it is one.
    pub fn crow(self) -> Option<Crow> {
        match self {
            Self::Crow(read) => Some(read.0),
            Self::Other(_) | Self::Nothing => None,
        }
    }
}

/// Reads one sound.
pub fn read_sound(sound: &Sound, context: &Context<'_>) -> Heard {
    let mut is_wild = false;
    if sound.tonal {
        let Some(coarse) = CoarseTrack::new(&sound.periods) else { return Heard::Nothing };
        if !is_scattered(&coarse, sound.periods.len()) {
            match read_tone(sound, &coarse, context) {
                Tone::OfCrow(read) => return Heard::Crow(read),
                Tone::OfAnother(what, why) => {
                    let hz = median(coarse.knots.iter().map(|(_, hz)| *hz));
                    let (from_s, to_s) = (sound.start_s, sound.end_s);
                    return Heard::Other(Other { what, from_s, to_s, hz, why });
                }
                Tone::Wild => is_wild = true,
                Tone::Missing => {}
            }
        }
    }
    let is_air = !sound.by_tone
        && sound.end_s - sound.start_s >= LEAST_BREATH_S
        && sound.crest <= MOST_BREATH_CREST
        && sound.high_share >= LEAST_HIGH_SHARE;
    let air = is_air.then(|| {
        let mean = mean_spectrum(sound, context, sound.start_s, sound.end_s);
        let is_wild = sound.end_s - sound.start_s < LONGEST_WILD_S
            && (is_wild || wild::is_reed_or_pulsed(sound, context));
        let kind = if is_wild { Kind::Unsettled } else { Kind::Breath };
        let figures = Figures {
            level_dbfs: mean
                .as_ref()
                .and_then(|mean| level_dbfs(mean.power(LOWEST_HZ, context.sample_rate_hz))),
            balance: mean.map(|mean| balance(&mean, &[])).unwrap_or_default(),
            steadiness: Steadiness {
                harmonicity_db: (kind == Kind::Unsettled)
                    .then(|| wild::harmonicity_db(sound, context, (sound.start_s, sound.end_s)))
                    .flatten(),
                ..Steadiness::default()
            },
            ..Figures::default()
        };
        let crow = Crow { start_s: sound.start_s, end_s: sound.end_s, kind, figures };
        Box::new((crow, CrowTracks::default()))
    });
    air.map_or(Heard::Nothing, Heard::Crow)
}

/// What a sound in which periods were found turns out to hold.
enum Tone {
    OfCrow(Box<(Crow, CrowTracks)>),
    /// Of something struck, a voice, a hinge, the mains; with what tells it from a crow's.
    OfAnother(What, Why),
    /// Of a reed, though none lasts.
    Wild,
    /// Noise only seemed to have one.
    Missing,
}

fn read_tone(sound: &Sound, coarse: &CoarseTrack, context: &Context<'_>) -> Tone {
    let read = |may_halve: bool| {
        let lowest = Lowest { own_from_hz: own_from_hz(context), may_halve };
        let top_hz = HIGHEST_HZ.min(USABLE * context.sample_rate_hz);
        let (samples, rate) = (&sound.samples, context.sample_rate_hz);
        find_ladder(samples, rate, sound.offset_s, coarse, top_hz, context.room_lines, lowest)
            .and_then(|ladder| read_ladder(sound, coarse, &ladder, context))
            .unwrap_or(Tone::Missing)
    };
    let first = read(true);
    match &first {
        Tone::OfCrow(crow) if halves_in_doubt(&crow.0.figures, own_from_hz(context)) => read(false),
        _ => first,
    }
}

/// Whether the lowest tone lies where only a halved vibration would, and is none: off the octave, or
/// gone for much of the crow, as another's notes are.
fn halves_in_doubt(figures: &Figures, own_from_hz: f64) -> bool {
    let is_low = figures.fundamental.hz.is_some_and(|hz| hz < own_from_hz);
    let lasts = figures.rungs.first().is_some_and(|rung| rung.present >= LEAST_HALVED);
    // Who plays beside the bench is seldom so loud.
    let is_loud = |rung: &Rung| rung.level_db > 10.0 * LOUD_SHARE.log10();
    let is_loud = figures.rungs.first().is_some_and(is_loud);
    is_low && !is_loud && !(lasts && figures.alignment.locked != Some(false))
}

/// Half an octave under the lowest tone expected; 0 without a target.
fn own_from_hz(context: &Context<'_>) -> f64 {
    context.profile.target_frequency(context.a4).map_or(0.0, |target| {
        target.hz() * f64::exp2(f64::from(context.profile.lowest_register()) - 0.5)
    })
}

/// `None` where no tone goes on through the sound.
fn read_ladder(
    sound: &Sound,
    coarse: &CoarseTrack,
    ladder: &Ladder,
    context: &Context<'_>,
) -> Option<Tone> {
    let orders = &ladder.orders;
    let noise = NoiseProfile::new(orders, orders.bins_per_unit as f64, ladder.core.clone());
    let core = ladder.core.clone();
    let bases = tones(orders, &noise, 1, core.clone(), core.clone(), None)?.bases(orders, &core);
    let mut rungs = courses::of_rungs(ladder, &noise, &bases);
    let Extent { tone, steady, held } = extent(orders, &rungs)?;
    let tone_s = orders.time_s[tone.end - 1] - orders.time_s[tone.start];
    if tone_s < LEAST_TONE_S.max(LEAST_COVERAGE * coarse.span_s()) {
        return None;
    }
    if orders.reference_hz < LOWEST_FUNDAMENTAL_HZ {
        return Some(Tone::OfAnother(What::Unknown, Why::OutOfRange));
    }
    if dies_away(orders, &rungs, &tone) {
        return Some(Tone::OfAnother(What::Struck, Why::DiesAway));
    }
    let since_s = |block: usize| orders.time_s[block] - sound.offset_s;
    let sounds_s = (since_s(tone.start), since_s(tone.end - 1));
    for rung in &mut rungs {
        rung.keep_within(&tone);
    }
    let measured = measure(sound, context, orders, &bases, &rungs, steady.clone(), held);
    let powers: Vec<(f64, f64)> =
        partials(orders, &measured).iter().map(|(hz, power, _)| (*hz, *power)).collect();
    if rings(&sound.samples, context.sample_rate_hz, sounds_s) && !is_rich(&powers) {
        return Some(Tone::OfAnother(What::Struck, Why::DiesAway));
    }
    let noise_db = noise_db(sound, context, orders, &measured);
    let most_noise_db = if sound.followed { MOST_NOISE_DB } else { MOST_NOISE_UNFOLLOWED_DB };
    if noise_db.is_some_and(|noise| noise > most_noise_db) {
        return None;
    }
    let is_under = |db: f64| noise_db.is_some_and(|noise| noise < db);
    if measured.fundamental.is_some_and(|(hz, _)| hz > HIGHEST_FUNDAMENTAL_HZ) {
        return is_under(CLEAR_DB).then(|| too_high(sound, context));
    }
    let (begins_s, ends_s) = (orders.time_s[tone.start], orders.time_s[tone.end - 1]);
    let found = Found {
        coarse,
        ladder,
        measured: &measured,
        powers: &powers,
        tone_s: (begins_s, ends_s),
        noise_db,
    };
    if let Some((what, why)) = another(sound, context, &found) {
        return Some(Tone::OfAnother(what, why));
    }
    if is_glide(coarse) && !context.tones_kept {
        return Some(Tone::OfAnother(What::Unknown, Why::Glides));
    }
    let voices = voices::of(sound, context, ladder, &measured, &rungs);
    let crow = assemble(sound, context, orders, &measured, voices, tone, noise_db);
    let is_wild = crow.kind == Kind::Unsettled;
    if !is_wild && only_seems_a_tone(&crow.figures) && !context.tones_kept {
        return wild::is_reed(sound, context).then_some(Tone::Wild);
    }
    if is_wild && is_under(CLEAR_GLIDE_DB) && !context.tones_kept {
        return Some(Tone::OfAnother(What::Unknown, Why::Glides));
    }
    if is_wild && (tone_s > LONGEST_WILD_S || !wild::recurs(sound, context)) {
        return None;
    }
    let is_loose = measured.level_sd_db.is_some_and(|sd| sd > MOST_LEVEL_SD_DB);
    if !is_wild && tone_s < HELD_FROM_S && is_loose && !context.tones_kept {
        return Some(Tone::OfAnother(What::Unknown, Why::Short));
    }
    let tracks = tracks(orders, &measured, steady, &crow.figures);
    Some(Tone::OfCrow(Box::new((crow, tracks))))
}

/// What a clear tone is that lies higher than any reed's.
fn too_high(sound: &Sound, context: &Context<'_>) -> Tone {
    match wild::is_rough(sound, context) && wild::is_reed(sound, context) {
        true => Tone::Wild,
        false => Tone::OfAnother(What::Unknown, Why::OutOfRange),
    }
}

/// A tone that was measured, with what was found on the way.
struct Found<'a> {
    coarse: &'a CoarseTrack,
    ladder: &'a Ladder,
    measured: &'a Measured,
    /// Frequency in hertz and power of each partial.
    powers: &'a [(f64, f64)],
    /// Its first and last moment, in seconds of the take.
    tone_s: (f64, f64),
    noise_db: Option<f64>,
}

/// What else than a crow a tone that was measured is, and what tells it.
fn another(sound: &Sound, context: &Context<'_>, found: &Found<'_>) -> Option<(What, Why)> {
    let Found { ladder, measured, .. } = found;
    let tone_s = found.tone_s.1 - found.tone_s.0;
    let low_share = measured.mean.as_ref().map_or(0.0, |mean| {
        mean.power(LOWEST_HZ, HUM_TOP_HZ) / mean.power(LOWEST_HZ, HIGHEST_HZ).max(f64::MIN_POSITIVE)
    });
    let spread_cents = pitch_steadiness(&measured.track).0;
    let is_clear = found.noise_db.is_some_and(|noise| noise < CLEAR_DB);
    // The mains keep their pitch better than any reed; unless their other lines ripple it.
    let rung_hz = measured.lowest.map(|lowest| measured.rungs[lowest].hz);
    let wavers = !rung_hz.is_some_and(is_line_of_mains)
        && spread_cents.is_some_and(|spread| spread > MAINS_CENTS)
        && is_clear;
    let rate = context.sample_rate_hz;
    if !wavers && is_hum(stretch(sound, context, sound.start_s, sound.end_s), rate, low_share) {
        return Some((What::Hum, Why::GoesOn));
    }
    if context.tones_kept {
        return None;
    }
    let unsteady_cents = context.profile.advice.unsteady_cents;
    // What two tones share a period of is not a voice's pitch.
    let moves = is_voice(&ladder.reference, &measured.track, tone_s, unsteady_cents);
    // A wild reed leaps where a voice glides.
    let is_wild = || measured.track.is_empty() && wild::is_reed(sound, context);
    if moves && !is_wild() {
        return Some((What::Speech, Why::Glides));
    }
    // Of two tones each has overtones of its own, and low reeds and instruments are dull: of these only what lies
    // where a nose sounds is told.
    let is_one = measured.locked();
    let is_low = measured.fundamental.is_some_and(|(hz, _)| hz < HIGHEST_VOICE_HZ);
    let may_be = (is_one && !is_low) || (is_clear && is_hummed(found.powers, spread_cents));
    let is_of_a_throat =
        may_be && (!is_one || throat_likelihood(sound, context, found) > THROAT_NATS);
    if is_of_a_throat {
        let what = if is_pure(found.powers) { What::Unknown } else { What::Speech };
        return Some((what, Why::Dull));
    }
    None
}

/// How much likelier a throat or lips made a tone than a reed, in nats.
fn throat_likelihood(sound: &Sound, context: &Context<'_>, found: &Found<'_>) -> f64 {
    let Some((hz, _)) = found.measured.fundamental else { return f64::NEG_INFINITY };
    let orders_hz = found.ladder.orders.reference_hz;
    let sung = Sung {
        hz,
        partials: found.powers,
        course: &found.coarse.knots,
        track: &found.measured.track,
        spread_cents: pitch_steadiness(&found.measured.track).0,
        highest_hz: context
            .profile
            .target_frequency(context.a4)
            .map(|target| target.hz() * f64::exp2(f64::from(context.profile.highest_register()))),
        // A take that begins inside a sound does not show its breath.
        breath_s: (!sound.by_tone && sound.start_s > 0.0).then_some(found.tone_s.0 - sound.start_s),
    };
    throat_nats(&sung, |hz| 0.5 * found.measured.noise.at((hz / orders_hz).round() as usize))
}

/// Whether what was followed through a sound is no tone that is held: as much noise as tone, little that
/// repeats, and a pitch that wavers with it. A reed that hisses keeps its pitch.
fn only_seems_a_tone(figures: &Figures) -> bool {
    let repeats_little = figures.steadiness.harmonicity_db.is_some_and(|db| db < LEAST_TONE_DB);
    let is_noisy = figures.breath.noise_db.is_some_and(|db| db > NOISY_TONE_DB);
    let wavers = figures.steadiness.spread_cents.is_none_or(|cents| cents > NOISY_TONE_CENTS);
    repeats_little && is_noisy && wavers
}

/// Noise of the crow itself, 100 Hz … 10 kHz, relative to its partials.
fn noise_db(
    sound: &Sound,
    context: &Context<'_>,
    orders: &Orders,
    measured: &Measured,
) -> Option<f64> {
    let room = |hz: f64| {
        let floor = sound.floor.as_ref();
        floor.map_or(0.0, |floor| floor_density(floor, context.floor_bin_hz, hz))
    };
    let top = HIGHEST_HZ.min(orders.bins as f64 * orders.bin_hz());
    let power = noise_power(orders, &measured.air, top, room);
    (power > 0.0 && measured.tone_power > 0.0).then(|| 10.0 * (power / measured.tone_power).log10())
}
