//! A take in one set of figures: medians over the crows that sound.

use super::figures::{
    Alignment, Balance, Band, Breath, Crow, Figures, Fundamental, Kind, Response, Rung, Steadiness,
    Summary,
};
use crate::dsp::statistics::{median, sample_sd};
use crate::pitch::{A4, Note};
use crate::units::Hertz;

/// Two rungs of different crows are the same level when they stand this near (a tritone).
const SAME_RUNG_OCTAVES: f64 = 0.5;

/// Medians over the crows of `crows` that sound.
pub fn summarise(crows: &[Crow], a4: A4) -> Summary {
    let sounding: Vec<&Crow> = crows.iter().filter(|crow| crow.kind != Kind::Breath).collect();
    let of = |figure: fn(&Figures) -> Option<f64>| {
        median(sounding.iter().filter_map(|crow| figure(&crow.figures)))
    };
    let figures = Figures {
        fundamental: fundamental(&sounding, a4),
        rungs: rungs(&sounding),
        alignment: Alignment {
            cents: of(|f| f.alignment.cents),
            ci95_cents: of(|f| f.alignment.ci95_cents),
            locked: majority(sounding.iter().filter_map(|crow| crow.figures.alignment.locked)),
        },
        balance: Balance {
            bands_db: bands(&sounding),
            centroid_hz: of(|f| f.balance.centroid_hz),
            tilt_db_per_octave: of(|f| f.balance.tilt_db_per_octave),
            low_high_db: of(|f| f.balance.low_high_db),
        },
        steadiness: Steadiness {
            spread_cents: of(|f| f.steadiness.spread_cents),
            drift_cents_per_s: of(|f| f.steadiness.drift_cents_per_s),
            level_sd_db: of(|f| f.steadiness.level_sd_db),
            rattle_hz: of(|f| f.steadiness.rattle_hz),
            rattle_depth: of(|f| f.steadiness.rattle_depth),
        },
        response: Response {
            onset_s: of(|f| f.response.onset_s),
            low_delay_s: of(|f| f.response.low_delay_s),
        },
        breath: Breath { noise_db: of(|f| f.breath.noise_db) },
        level_dbfs: of(|f| f.level_dbfs),
    };
    Summary { crow_count: sounding.len(), kind: commonest_kind(&sounding), figures }
}

/// The commonest kind, the less organised one on a tie.
fn commonest_kind(sounding: &[&Crow]) -> Option<Kind> {
    // Most organised first: of equal counts the last wins.
    [Kind::Octaves, Kind::Single, Kind::Split, Kind::Unsettled]
        .into_iter()
        .map(|kind| (sounding.iter().filter(|crow| crow.kind == kind).count(), kind))
        .filter(|(count, _)| *count > 0)
        .max_by_key(|(count, _)| *count)
        .map(|(_, kind)| kind)
}

fn majority(votes: impl Iterator<Item = bool>) -> Option<bool> {
    let (yes, all) = votes.fold((0, 0), |(yes, all), vote| (yes + usize::from(vote), all + 1));
    (all > 0).then_some(2 * yes > all)
}

/// Where crows sound in different octaves, frequency, note and register are those of the octave most
/// of them sound in, the lower one on a tie: the middle between two octaves is no pitch.
fn fundamental(sounding: &[&Crow], a4: A4) -> Fundamental {
    let each: Vec<&Fundamental> = sounding.iter().map(|crow| &crow.figures.fundamental).collect();
    let octave = commonest_octave(&each);
    let hz = median(octave.iter().filter_map(|f| f.hz));
    let frequency = hz.and_then(Hertz::new);
    let note = frequency.map(|frequency| Note::nearest(frequency, a4));
    let cents: Vec<f64> = match hz {
        Some(middle) => each
            .iter()
            .filter_map(|f| f.hz)
            .map(|hz| {
                let cents = 1200.0 * (hz / middle).log2();
                // A crow that sounds an octave away tells of its register, not of its pitch.
                cents - 1200.0 * (cents / 1200.0).round()
            })
            .collect(),
        None => Vec::new(),
    };
    Fundamental {
        hz,
        ci95_cents: median(each.iter().filter_map(|f| f.ci95_cents)),
        note: note.map(|(note, _)| note.to_string()),
        note_cents: note.map(|(_, cents)| cents.0),
        target_cents: median(each.iter().filter_map(|f| f.target_cents)),
        register: median(octave.iter().filter_map(|f| f.register).map(f64::from))
            .map(|register| register.round() as i32),
        spread_between_crows_cents: sample_sd(&cents),
    }
}

/// Those within half an octave of the one that has most such neighbours, the lowest of equals.
fn commonest_octave<'a>(each: &[&'a Fundamental]) -> Vec<&'a Fundamental> {
    let octave = |f: &Fundamental| f.hz.map(f64::log2);
    let mut octaves: Vec<f64> = each.iter().copied().filter_map(octave).collect();
    octaves.sort_by(f64::total_cmp);
    let near = |middle: f64| {
        let from = octaves.partition_point(|o| *o <= middle - SAME_RUNG_OCTAVES);
        octaves.partition_point(|o| *o < middle + SAME_RUNG_OCTAVES) - from
    };
    // Of equals the last wins.
    let Some(middle) = octaves.iter().copied().rev().max_by_key(|o| near(*o)) else {
        return Vec::new();
    };
    let within = |o: f64| (o - middle).abs() < SAME_RUNG_OCTAVES;
    each.iter().copied().filter(|f| octave(f).is_some_and(within)).collect()
}

/// Rungs that at least half of the crows share.
fn rungs(sounding: &[&Crow]) -> Vec<Rung> {
    let mut levels: Vec<Vec<&Rung>> = Vec::new();
    for rung in sounding.iter().flat_map(|crow| &crow.figures.rungs) {
        let near = |level: &Vec<&Rung>| {
            level.first().is_some_and(|first| (rung.hz / first.hz).log2().abs() < SAME_RUNG_OCTAVES)
        };
        match levels.iter_mut().find(|level| near(level)) {
            Some(level) => level.push(rung),
            None => levels.push(vec![rung]),
        }
    }
    let mut shared: Vec<Rung> = levels
        .into_iter()
        .filter(|level| 2 * level.len() >= sounding.len())
        .filter_map(|level| {
            let of = |figure: fn(&Rung) -> f64| median(level.iter().map(|rung| figure(rung)));
            Some(Rung {
                hz: of(|r| r.hz)?,
                level_db: of(|r| r.level_db)?,
                present: of(|r| r.present)?,
                switches_per_s: of(|r| r.switches_per_s)?,
                entry_s: median(level.iter().filter_map(|rung| rung.entry_s)),
                sustained: majority(level.iter().map(|rung| rung.sustained))?,
            })
        })
        .collect();
    shared.sort_by(|a, b| a.hz.total_cmp(&b.hz));
    shared
}

fn bands(sounding: &[&Crow]) -> Vec<Band> {
    let longest =
        sounding.iter().map(|crow| &crow.figures.balance.bands_db).max_by_key(|b| b.len());
    longest
        .into_iter()
        .flatten()
        .map(|band| Band {
            centre_hz: band.centre_hz,
            db: median(
                sounding
                    .iter()
                    .flat_map(|crow| &crow.figures.balance.bands_db)
                    .filter(|other| other.centre_hz == band.centre_hz)
                    .filter_map(|other| other.db),
            ),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(each: &[f64]) -> Fundamental {
        let crow = |hz: &f64| Crow {
            start_s: 0.0,
            end_s: 1.0,
            kind: Kind::Octaves,
            figures: Figures {
                fundamental: Fundamental {
                    hz: Some(*hz),
                    register: Some((hz / 523.25).log2().round() as i32),
                    ..Fundamental::default()
                },
                ..Figures::default()
            },
        };
        summarise(&each.iter().map(crow).collect::<Vec<_>>(), A4::default()).figures.fundamental
    }

    /// The middle of C4 and C5 would be a G.
    #[test]
    fn the_pitch_of_crows_in_two_octaves_is_that_of_one_of_them() {
        for (each, hz, register) in [
            (&[262.0, 523.0][..], 262.0, -1),
            (&[262.0, 521.0, 525.0], 523.0, 0),
            (&[262.0, 260.0, 521.0, 525.0], 261.0, -1),
            (&[510.0, 520.0, 530.0, 1046.0], 520.0, 0),
        ] {
            let summary = of(each);
            assert_eq!((summary.hz, summary.register), (Some(hz), Some(register)), "{each:?}");
        }
        assert_eq!(of(&[262.0, 524.0]).spread_between_crows_cents, Some(0.0));
        assert_eq!(of(&[]).hz, None);
    }
}
