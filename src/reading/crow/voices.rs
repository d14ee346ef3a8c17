//! Which of a crow's octaves are heard as tones of their own: the pair that the profile expects, and
//! the one above it.

use super::Context;
use super::assembled::{register_of, rung_level_db};
use crate::dsp::spectrum::USABLE;
use crate::pitch::cents_from_target;
use crate::profile::Heard;
use crate::reading::figures::balance::HIGHEST_HZ;
use crate::reading::figures::steadiness::pitch_steadiness;
use crate::reading::figures::voices::{
    ENTRY_PARTIALS, ENTRY_PERIODS, FAINT_DB, StandOut, lead_s as odd_lead_s, stand_out,
    steady_levels,
};
use crate::reading::figures::{Above, Faint, Voices};
use crate::reading::find::sound::Sound;
use crate::reading::measured::{Measured, stretch};
use crate::reading::track::ladder::Ladder;
use crate::reading::track::orders::Orders;
use crate::reading::track::rungs::RungCourse;
use crate::units::Hertz;

/// A faint tone under the lowest expected octave is a growl of a crow that is this near its target;
/// farther off, what is expected says nothing.
const GROWL_NEAR_CENTS: f64 = 200.0;
/// What is looked at of an onset: so much before the sound …
const BEFORE_ONSET_S: f64 = 0.02;
/// … and after the later of both families has entered.
const ONSET_S: f64 = 0.08;

/// What of the crow's octaves is heard as tones of their own.
///
/// * `courses`: of all rungs, lowest first.
pub(super) fn of(
    sound: &Sound,
    context: &Context<'_>,
    ladder: &Ladder,
    measured: &Measured,
    courses: &[RungCourse],
) -> Voices {
    let orders = &ladder.orders;
    let Some(lowest) = measured.lowest.map(|i| &measured.rungs[i]) else {
        return Voices::default();
    };
    let stand_out =
        |lower: u32| stand_out(orders, &measured.noise, courses, lower, measured.steady.clone());
    let expected = context.profile.lowest_register();
    let register = register_of(lowest.hz, context);
    let own = stand_out(lowest.index);
    // The upper octave alone has no pair of its own; what lies far under the pair is a growl.
    let is_upper = register.is_some_and(|register| {
        register > expected && register >= context.profile.highest_register()
    });
    let off_target = Hertz::new(lowest.hz)
        .zip(context.profile.target_frequency(context.a4))
        .map(|(hz, target)| cents_from_target(hz, target).0);
    let is_growl = register.is_some_and(|register| register < expected)
        && own.is_some_and(|own| own.db > FAINT_DB)
        && off_target.is_some_and(|off| off.abs() <= GROWL_NEAR_CENTS);
    let (lower, pair) = match (is_upper, is_growl) {
        (true, _) => (None, None),
        (_, true) => (Some(lowest.index + 1), stand_out(lowest.index + 1)),
        _ => (Some(lowest.index), own),
    };
    let sustained = |index: u32| measured.rungs.iter().any(|r| r.index == index && r.sustained);
    let lead_ms = lower
        .filter(|lower| sustained(*lower) && sustained(lower + 1))
        .and_then(|lower| lead_s(sound, context, ladder, measured, courses, lower))
        .map(|lead_s| 1000.0 * lead_s);
    let low = |index: u32| measured.rungs.iter().find(|rung| rung.index == index);
    let chance = |pair: StandOut, lead_ms: Option<f64>, lower: u32| {
        context.profile.ear.octaves_chance(&Heard {
            stand_out_db: pair.db,
            ci95_db: pair.ci95_db,
            lead_ms,
            low_db: low(lower).map_or(0.0, |rung| rung_level_db(measured, rung)),
            off_cents: measured.deviation().map_or(0.0, |deviation| deviation.cents),
            spread_cents: pitch_steadiness(&measured.track).0.unwrap_or(0.0),
        })
    };
    let upper = lower.map_or(lowest.index, |lower| lower + 1);
    let above = Some(upper).filter(|upper| sustained(*upper)).and_then(stand_out);
    Voices {
        stand_out_db: pair.map(|pair| pair.db),
        ci95_db: pair.map(|pair| pair.ci95_db),
        lead_ms,
        octaves: pair
            .zip(lower)
            .filter(|_| measured.locked())
            .map(|(pair, lower)| chance(pair, lead_ms, lower)),
        faint: pair.filter(|pair| pair.db > FAINT_DB).map(|_| Faint::Low),
        above: Above {
            stand_out_db: above.map(|pair| pair.db),
            ci95_db: above.map(|pair| pair.ci95_db),
            octaves: above.map(|pair| chance(pair, None, upper)),
        },
    }
}

/// Entry of the odd partials of the pair over rung `lower` minus entry of the even ones, in seconds.
fn lead_s(
    sound: &Sound,
    context: &Context<'_>,
    ladder: &Ladder,
    measured: &Measured,
    courses: &[RungCourse],
    lower: u32,
) -> Option<f64> {
    let orders = &ladder.orders;
    let steady = measured.steady.clone();
    let levels = steady_levels(orders, &measured.noise, courses, lower, steady)?;
    if sound.start_s <= 0.0 {
        return None;
    }
    let entry_s = |index: u32| courses.get(index as usize)?.entry(orders).map(|b| orders.time_s[b]);
    let last_s = entry_s(lower)?.max(entry_s(lower + 1)?) + ONSET_S;
    let hz = orders.reference_hz * f64::from(1_u32 << lower);
    let reference = ladder.reference.map(|_, hz| hz * f64::from(1_u32 << lower));
    let from_s = (sound.start_s - BEFORE_ONSET_S).max(sound.offset_s);
    let samples = stretch(sound, context, from_s, last_s);
    let top_hz =
        ((2 * ENTRY_PARTIALS + 1) as f64 * hz).min(HIGHEST_HZ).min(USABLE * context.sample_rate_hz);
    let from_s = sound.offset_s
        + ((from_s - sound.offset_s) * context.sample_rate_hz).round() / context.sample_rate_hz;
    let rate = context.sample_rate_hz;
    let onset = Orders::framed(samples, rate, from_s, &reference, top_hz, ENTRY_PERIODS)?;
    odd_lead_s(&onset, levels)
}
