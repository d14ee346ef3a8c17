//! A take in one set of figures: medians over the crows that sound.

use super::catalogue::{self, Over, Value};
use super::figures::voices::{FAINT_DB, ci95_db};
use super::figures::{Band, Crow, Faint, Figures, Fundamental, Kind, Rung, Summary, Voices};
use crate::dsp::statistics::{median, sample_sd};
use crate::pitch::{A4, Note};
use crate::units::Hertz;

/// Two rungs of different crows are the same level when they stand this near (a tritone).
const SAME_RUNG_OCTAVES: f64 = 0.5;

/// Medians over the crows of `crows` that sound; of pitch and alignment over those in the octave in
/// which most of them sound.
pub fn summarise(crows: &[Crow], a4: A4) -> Summary {
    let sounding: Vec<&Crow> = crows.iter().filter(|crow| crow.kind != Kind::Breath).collect();
    let octave = commonest_octave(&sounding);
    let mut figures = Figures::default();
    for figure in catalogue::FIGURES {
        let over = match figure.about.over {
            Over::All => &sounding,
            Over::Octave => &octave,
            Over::Take => continue,
        };
        match figure.value {
            Value::Number { get, set } => {
                set(&mut figures, median(over.iter().filter_map(|crow| get(&crow.figures))));
            }
            Value::Flag { get, set } => {
                set(&mut figures, majority(over.iter().filter_map(|crow| get(&crow.figures))));
            }
            // Words have no middle: what of them is a take's is made below.
            Value::Word { .. } => {}
        }
    }
    of_the_take(&mut figures.fundamental, &sounding, a4);
    figures.rungs = rungs(&sounding);
    figures.balance.bands_db = bands(&sounding);
    of_all_crows(&mut figures.voices, &octave);
    Summary { crow_count: sounding.len(), kind: commonest_kind(sounding.iter().copied()), figures }
}

/// The commonest kind of crows that sound, the less organised one on a tie.
pub(crate) fn commonest_kind<'a>(sounding: impl Iterator<Item = &'a Crow> + Clone) -> Option<Kind> {
    // Most organised first: of equal counts the last wins.
    [Kind::Octaves, Kind::Blended, Kind::Single, Kind::Split, Kind::Unsettled]
        .into_iter()
        .map(|kind| (sounding.clone().filter(|crow| crow.kind == kind).count(), kind))
        .filter(|(count, _)| *count > 0)
        .max_by_key(|(count, _)| *count)
        .map(|(_, kind)| kind)
}

/// The stand-out of several crows is known as well as they agree on it, and as the place in the room
/// that they share.
fn of_all_crows(voices: &mut Voices, crows: &[&Crow]) {
    let ci95 = |figure: fn(&Voices) -> Option<f64>| {
        let each: Vec<f64> = crows.iter().filter_map(|c| figure(&c.figures.voices)).collect();
        sample_sd(&each).map(|sd| ci95_db(sd, each.len()))
    };
    if let Some(of_several) = ci95(|voices| voices.stand_out_db) {
        voices.ci95_db = Some(of_several);
    }
    if let Some(of_several) = ci95(|voices| voices.above.stand_out_db) {
        voices.above.ci95_db = Some(of_several);
    }
    voices.faint = voices.stand_out_db.filter(|db| *db > FAINT_DB).map(|_| Faint::Low);
}

fn majority(votes: impl Iterator<Item = bool>) -> Option<bool> {
    let (yes, all) = votes.fold((0, 0), |(yes, all), vote| (yes + usize::from(vote), all + 1));
    (all > 0).then_some(2 * yes > all)
}

/// The note of the pitch, and how far the crows differ from it.
fn of_the_take(fundamental: &mut Fundamental, sounding: &[&Crow], a4: A4) {
    let Some(middle) = fundamental.hz.and_then(Hertz::new) else { return };
    let (note, above) = Note::nearest(middle, a4);
    fundamental.note = Some(note.to_string());
    fundamental.note_cents = Some(above.0);
    let each = sounding.iter().filter_map(|crow| crow.figures.fundamental.hz);
    let cents: Vec<f64> = each
        .map(|hz| {
            let cents = 1200.0 * (hz / middle.hz()).log2();
            // A crow that sounds an octave away tells of its register, not of its pitch.
            cents - 1200.0 * (cents / 1200.0).round()
        })
        .collect();
    fundamental.spread_between_crows_cents = sample_sd(&cents);
}

/// The crows within half an octave of the one that has most such neighbours, the lowest of equals;
/// all of them where none holds a tone.
fn commonest_octave<'a>(crows: &[&'a Crow]) -> Vec<&'a Crow> {
    let octave = |crow: &Crow| crow.figures.fundamental.hz.filter(|hz| *hz > 0.0).map(f64::log2);
    let mut octaves: Vec<f64> = crows.iter().copied().filter_map(octave).collect();
    octaves.sort_by(f64::total_cmp);
    let near = |middle: f64| {
        let from = octaves.partition_point(|o| *o <= middle - SAME_RUNG_OCTAVES);
        octaves.partition_point(|o| *o < middle + SAME_RUNG_OCTAVES) - from
    };
    // Of equals the last wins.
    let Some(middle) = octaves.iter().copied().rev().max_by_key(|o| near(*o)) else {
        return crows.to_vec();
    };
    let within = |o: f64| (o - middle).abs() < SAME_RUNG_OCTAVES;
    crows.iter().copied().filter(|crow| octave(crow).is_some_and(within)).collect()
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
    use crate::reading::testing::crow;

    fn of(each: &[f64]) -> Fundamental {
        let cents = |hz: &f64| 1200.0 * (hz / 523.2511).log2();
        let crows: Vec<Crow> = each.iter().map(|hz| crow(Kind::Octaves, cents(hz))).collect();
        summarise(&crows, A4::default()).figures.fundamental
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
            assert_eq!(summary.register, Some(register), "{each:?}");
            assert!((summary.hz.unwrap() - hz).abs() < 1e-9, "{each:?}");
        }
        assert!(of(&[262.0, 524.0]).spread_between_crows_cents.unwrap() < 1e-9);
        assert_eq!(of(&[]).hz, None);
    }

    /// One crow of three lost its low octave: its pitch and its octaves are another tone's.
    #[test]
    fn target_and_alignment_are_those_of_the_octave_of_the_pitch() {
        let crows = [-11.0, -1.0, 1239.0].map(|cents| {
            let mut crow = crow(Kind::Octaves, cents);
            crow.figures.alignment.cents =
                crow.figures.fundamental.target_cents.map(|off| off / 4.0);
            crow
        });
        let summary = summarise(&crows, A4::default());
        assert_eq!(summary.figures.fundamental.target_cents, Some(-6.0));
        assert_eq!(summary.figures.alignment.cents, Some(-1.5));
    }
}
