//! The figures of a crow, put together from what was measured of it, and its course for pictures.

use std::ops::Range;

use super::wild;
use crate::pitch::{Note, cents_from_target, register};
use crate::reading::figures::balance::{Balance, LOWEST_HZ, balance};
use crate::reading::figures::kind::{Standing, judge};
use crate::reading::figures::steadiness::steadiness;
use crate::reading::figures::{
    Alignment, Breath, Crow, Figures, Fundamental, Kind, Response, Rung, Voices,
};
use crate::reading::find::sound::Sound;
use crate::reading::measured::{
    Context, CrowTracks, Measured, MeasuredRung, Partial, TrackPoint, sounding_power,
};
use crate::reading::track::orders::Orders;
use crate::reading::track::rungs::RungCourse;
use crate::reading::track::tones::Deviation;
use crate::units::CENTS_PER_E;
use crate::units::Hertz;

/// A tone heard this early in a take had begun before it.
const BEGINS_INSIDE_S: f64 = 0.05;

pub(super) fn assemble(
    sound: &Sound,
    context: &Context<'_>,
    orders: &Orders,
    measured: &Measured,
    voices: Voices,
    tone: Range<usize>,
    noise_db: Option<f64>,
) -> Crow {
    let entries = Entries { sound, orders, first_tone_s: orders.time_s[tone.start] };
    let partials = partials(orders, measured);
    let rungs = rungs(measured, &entries);
    let standing: Vec<Standing> =
        rungs.iter().map(|rung| Standing::new(register_of(rung.hz, context), rung)).collect();
    let kind = judge(&standing, context.profile, measured.locked(), &voices);
    let figures = Figures {
        fundamental: fundamental(measured, context),
        rungs,
        voices,
        alignment: alignment(measured, kind),
        balance: balance_of(orders, measured, &partials),
        steadiness: steadiness(
            &measured.track,
            &measured.track_level_db,
            // What else sounds then moves the level too.
            measured.level_sd_db.filter(|_| !sound.by_tone),
            // The beating of two tones is told by how they stand to each other.
            measured.rattle.filter(|_| kind != Kind::Split),
            wild::harmonicity_db(sound, context, measured.steady_s),
        ),
        response: entries.response(measured.lowest.map(|i| &measured.rungs[i])),
        // What else sounds in the room then is no breath of the crow.
        breath: Breath { noise_db: noise_db.filter(|_| !sound.by_tone) },
        level_dbfs: measured
            .mean
            .as_ref()
            .and_then(|mean| level_dbfs(mean.power(LOWEST_HZ, context.sample_rate_hz))),
    };
    Crow { start_s: sound.start_s, end_s: sound.end_s, kind, figures }
}

/// When a crow begins, and its tones in it.
struct Entries<'a> {
    sound: &'a Sound,
    orders: &'a Orders,
    /// In seconds of the take.
    first_tone_s: f64,
}

impl Entries<'_> {
    /// In a take that begins inside a crow nothing tells when it began, or came in.
    /// Nor where the level does not tell it from the room.
    fn start_seen(&self) -> bool {
        self.sound.start_s > 0.0 && !self.sound.by_tone
    }

    /// When a rung comes in, in seconds of the take …
    fn at(&self, rung: &MeasuredRung) -> Option<f64> {
        rung.course.entry(self.orders).map(|b| self.orders.time_s[b])
    }

    /// … and how long after the crow began.
    fn after_start_s(&self, rung: &MeasuredRung) -> Option<f64> {
        let entry = self.at(rung).filter(|_| self.start_seen());
        entry.map(|entry| (entry - self.sound.start_s).max(0.0))
    }

    /// How soon it speaks, and how long after that its `lowest` sustained rung.
    fn response(&self, lowest: Option<&MeasuredRung>) -> Response {
        let first_tone_s = self.first_tone_s;
        // Breath before the first tone shows that its beginning is there, whatever came before.
        let tone_seen = self.start_seen() || first_tone_s > BEGINS_INSIDE_S;
        let low_entry = lowest.and_then(|rung| self.at(rung)).filter(|_| tone_seen);
        Response {
            onset_s: self.start_seen().then(|| (first_tone_s - self.sound.start_s).max(0.0)),
            low_delay_s: low_entry.map(|entry| (entry - first_tone_s).max(0.0)),
        }
    }
}

fn rungs(measured: &Measured, entries: &Entries<'_>) -> Vec<Rung> {
    let steady_s = (measured.steady_s.1 - measured.steady_s.0).max(1e-3);
    let told = |rung: &MeasuredRung| Rung {
        hz: rung.hz,
        level_db: rung_level_db(measured, rung),
        present: rung.course.present(&measured.held),
        switches_per_s: rung.course.switches(&measured.held) as f64 / steady_s,
        entry_s: entries.after_start_s(rung),
        sustained: rung.sustained,
    };
    measured.rungs.iter().map(told).collect()
}

/// * `partials`: frequency, power and rung of each.
fn balance_of(orders: &Orders, measured: &Measured, partials: &[(f64, f64, usize)]) -> Balance {
    let Some(mean) = &measured.mean else { return Balance::default() };
    let noise_power = |hz: f64| {
        let m = (hz / orders.reference_hz).round() as usize;
        0.5 * measured.noise.at(m)
    };
    let list: Vec<(f64, f64, f64)> =
        partials.iter().map(|p| (p.0, p.1, noise_power(p.0))).collect();
    balance(mean, &list)
}

pub(super) fn level_dbfs(mean_square: f64) -> Option<f64> {
    crate::units::Dbfs::from_mean_square(mean_square).map(|level| level.0)
}

pub(super) fn register_of(hz: f64, context: &Context<'_>) -> Option<i32> {
    Some(register(Hertz::new(hz)?, context.profile.target_frequency(context.a4)?))
}

fn fundamental(measured: &Measured, context: &Context<'_>) -> Fundamental {
    let Some((hz, ci95_hz)) = measured.fundamental else { return Fundamental::default() };
    let Some(frequency) = Hertz::new(hz) else { return Fundamental::default() };
    let (note, note_cents) = Note::nearest(frequency, context.a4);
    let target = context.profile.target_frequency(context.a4);
    Fundamental {
        hz: Some(hz),
        ci95_cents: Some(ci95_hz / hz * CENTS_PER_E),
        note: Some(note.to_string()),
        note_cents: Some(note_cents.0),
        target_cents: target.map(|target| cents_from_target(frequency, target).0),
        register: target.map(|target| register(frequency, target)),
        spread_between_crows_cents: None,
    }
}

/// Level of a rung over the frames in which it sounds, relative to all partials there.
pub(super) fn rung_level_db(measured: &Measured, rung: &MeasuredRung) -> f64 {
    let own = sounding_power(&rung.course, measured.steady.clone());
    let all: f64 = measured
        .rungs
        .iter()
        .map(|other| {
            measured
                .steady
                .clone()
                .filter(|b| rung.course.sounds[*b])
                .map(|b| other.course.power[b])
                .sum::<f64>()
                .max(0.0)
        })
        .sum();
    10.0 * (own.max(f64::MIN_POSITIVE) / all.max(f64::MIN_POSITIVE)).log10()
}

fn alignment(measured: &Measured, kind: Kind) -> Alignment {
    let deviation = measured.tones.as_ref().and_then(|t| t.deviation);
    let lowest = measured.lowest.map(|i| measured.rungs[i].index);
    let both = measured.rungs.iter().any(|r| r.sustained && Some(r.index) == lowest.map(|i| i + 1));
    let tells = |deviation: &Deviation| match kind {
        Kind::Unsettled | Kind::Breath => false,
        // What lies over the reed's registers is no octave of it.
        Kind::Single => deviation.locked(),
        Kind::Octaves | Kind::Blended | Kind::Split => true,
    };
    match deviation.filter(tells) {
        Some(deviation) if both => Alignment {
            cents: Some(deviation.cents),
            ci95_cents: Some(deviation.ci95_cents),
            locked: Some(deviation.locked()),
        },
        _ => Alignment::default(),
    }
}

/// Frequency, power and rung (index into the measured ones) of each partial of the steady part.
pub(super) fn partials(orders: &Orders, measured: &Measured) -> Vec<(f64, f64, usize)> {
    let mut list: Vec<(f64, f64, usize)> = measured
        .rungs
        .iter()
        .enumerate()
        .flat_map(|(index, rung)| {
            let base_hz = rung.hz / f64::from(1_u32 << rung.index);
            let family = rung.course.family(orders, &measured.noise);
            rung.course
                .multiples
                .iter()
                .map(|m| {
                    (base_hz * *m as f64, family.partial_power(*m, measured.steady.clone()), index)
                })
                .collect::<Vec<_>>()
        })
        .filter(|(_, power, _)| *power > 0.0)
        .collect();
    list.sort_by(|a, b| a.0.total_cmp(&b.0));
    list
}

pub(super) fn tracks(
    orders: &Orders,
    measured: &Measured,
    steady: Range<usize>,
    figures: &Figures,
) -> CrowTracks {
    let level = |b: usize, course: &RungCourse| level_dbfs(course.power[b]);
    CrowTracks {
        steady_s: Some((orders.time_s[steady.start], orders.time_s[steady.end - 1])),
        rungs: measured
            .rungs
            .iter()
            .map(|rung| {
                rung.track
                    .iter()
                    .map(|&(time_s, hz)| {
                        let b =
                            orders.time_s.partition_point(|t| *t < time_s).min(orders.frames() - 1);
                        let on = rung.course.sounds[b];
                        TrackPoint {
                            time_s,
                            hz: on.then_some(hz),
                            level_dbfs: if on { level(b, &rung.course) } else { None },
                        }
                    })
                    .collect()
            })
            .collect(),
        partials: partials(orders, measured)
            .into_iter()
            .filter_map(|(hz, power, rung)| {
                Some(Partial {
                    hz,
                    level_dbfs: level_dbfs(power)?,
                    rung: (rung < figures.rungs.len()).then_some(rung),
                })
            })
            .collect(),
    }
}
