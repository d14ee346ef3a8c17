//! Are crows found in any room and through any recorder, and is anything else taken for one?
//!
//! Each chain draws a reed, a room, what sounds beside it and what the recorder does, all by seed.
//! Chains marked unseen were not listened to while the program was written.

mod recorders;
mod sounds;

use std::path::Path;
use std::process::ExitCode;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use reedcrow::pitch::{A4, register};
use reedcrow::profile::Profile;
use reedcrow::reading::{Crow, Kind, Reading, WarningCode, read};
use reedcrow::take::Take;
use reedcrow::units::Hertz;
use reedcrow_synth::{CrowTruth, Truth};

use self::recorders::{GainControl, denoise, ffmpeg, gate, has_ffmpeg, lose_packets, normalise};
use self::sounds::{
    Crowing, Instrument, RATE_HZ, add, crows, fan, kitchen, melody, speech, spoken, tap, traffic,
    work_without_crows,
};
use super::table::{Table, percent, show, show_percent};

/// A crow counts as found when a sound of the reading covers this share of its tone.
const COVERED: f64 = 0.5;
/// Right is a fundamental this near, the octave included.
const RIGHT_CENTS: f64 = 50.0;

/// What was recorded, and what a perfect reading would find in it.
struct Recorded {
    samples: Vec<f32>,
    truth: Truth,
}

type Make = fn(&mut ChaCha8Rng, u64) -> Recorded;

struct Chain {
    name: &'static str,
    /// Share of crows to be found, in percent.
    goal: f64,
    unseen: bool,
    make: Make,
}

const fn seen(name: &'static str, goal: f64, make: Make) -> Chain {
    Chain { name, goal, unseen: false, make }
}

const fn unseen(name: &'static str, goal: f64, make: Make) -> Chain {
    Chain { name, goal, unseen: true, make }
}

/// Crows with something beside them.
fn beside(
    rng: &mut ChaCha8Rng,
    seed: u64,
    db_re_crow: f64,
    other: impl Fn(usize, &mut ChaCha8Rng) -> Vec<f32>,
) -> Recorded {
    let rendered = crows(Crowing::default(), rng, seed);
    let mut samples = rendered.samples;
    let other = other(samples.len(), rng);
    add(&mut samples, &other, db_re_crow);
    Recorded { samples, truth: rendered.truth }
}

/// An office, where nothing but its air conditioning sounds.
fn office(rng: &mut ChaCha8Rng, seed: u64) -> Recorded {
    let loss_db = rng.random_range(-38.0..-28.0);
    beside(rng, seed, loss_db, fan)
}

const CHAINS: &[Chain] = &[
    seen("laptop in an office, nothing done to it", 99.0, office),
    seen("gain control, slow", 97.0, |rng, seed| {
        let mut made = office(rng, seed);
        GainControl::slow(rng).apply(&mut made.samples);
        made
    }),
    seen("gain control, fast", 97.0, |rng, seed| {
        let mut made = office(rng, seed);
        GainControl::fast(rng).apply(&mut made.samples);
        made
    }),
    seen("normaliser over some seconds", 97.0, |rng, seed| {
        let mut made = office(rng, seed);
        let (frame_s, frames) = (rng.random_range(0.1..0.5), rng.random_range(3..12));
        normalise(&mut made.samples, frame_s, frames, 30.0);
        made
    }),
    seen("phone memo: kitchen, traffic -15 dB, gain control, AAC 64k", 97.0, |rng, seed| {
        let mut made = beside(rng, seed, -15.0, traffic);
        let plates = kitchen(made.samples.len(), rng);
        add(&mut made.samples, &plates, rng.random_range(-30.0..-22.0));
        GainControl::slow(rng).apply(&mut made.samples);
        made.samples =
            ffmpeg(&made.samples, "highpass=f=80", (&["-c:a", "aac", "-b:a", "64k"], "m4a"));
        made
    }),
    seen("traffic -3 dB", 95.0, |rng, seed| beside(rng, seed, -3.0, traffic)),
    seen("somebody speaking -15 dB", 97.0, |rng, seed| beside(rng, seed, -15.0, speech)),
    seen("somebody speaking -6 dB", 92.0, |rng, seed| beside(rng, seed, -6.0, speech)),
    seen("another oboe playing -25 dB", 97.0, |rng, seed| {
        beside(rng, seed, -25.0, |count, rng| melody(Instrument::Oboe, count, rng))
    }),
    seen("another oboe playing -15 dB", 92.0, |rng, seed| {
        beside(rng, seed, -15.0, |count, rng| melody(Instrument::Oboe, count, rng))
    }),
    seen("running tap -12 dB", 93.0, |rng, seed| beside(rng, seed, -12.0, tap)),
    seen("fan -14 dB and a spectral denoiser", 90.0, |rng, seed| {
        let mut made = beside(rng, seed, -14.0, fan);
        let (over, most_db) = (rng.random_range(1.2..3.0), rng.random_range(15.0..40.0));
        made.samples = denoise(&made.samples, over, most_db);
        made
    }),
    seen("a gate", 97.0, |rng, seed| {
        let mut made = office(rng, seed);
        gate(&mut made.samples, rng.random_range(-46.0..-36.0), rng.random_range(0.05..0.3));
        made
    }),
    seen("Opus 16 kbit/s, packets lost", 95.0, |rng, seed| {
        let mut made = office(rng, seed);
        made.samples = ffmpeg(&made.samples, "", (&["-c:a", "libopus", "-b:a", "16k"], "ogg"));
        lose_packets(&mut made.samples, 0.02, rng);
        made
    }),
    unseen("unseen: FFmpeg's dynaudnorm", 97.0, |rng, seed| {
        let mut made = office(rng, seed);
        made.samples = ffmpeg(&made.samples, "dynaudnorm=f=200:g=9:m=30", (&[], ""));
        made
    }),
    unseen("unseen: synthesiser's voice -6 dB", 92.0, |rng, seed| beside(rng, seed, -6.0, spoken)),
    unseen("unseen: English horn playing -15 dB", 92.0, |rng, seed| {
        beside(rng, seed, -15.0, |count, rng| melody(Instrument::EnglishHorn, count, rng))
    }),
    unseen("unseen: FFmpeg's afftdn on a fan -14 dB", 90.0, |rng, seed| {
        let mut made = beside(rng, seed, -14.0, fan);
        made.samples = ffmpeg(&made.samples, "afftdn=nr=24:nf=-35:tn=1", (&[], ""));
        made
    }),
    unseen("unseen: voice -12 dB, gain control, MP3 48k", 92.0, |rng, seed| {
        let mut made = beside(rng, seed, -12.0, spoken);
        GainControl::fast(rng).apply(&mut made.samples);
        made.samples = ffmpeg(&made.samples, "", (&["-c:a", "libmp3lame", "-b:a", "48k"], "mp3"));
        made
    }),
    unseen("unseen: tap -15 dB and traffic -8 dB, telephone band", 90.0, |rng, seed| {
        let mut made = beside(rng, seed, -8.0, traffic);
        let water = tap(made.samples.len(), rng);
        add(&mut made.samples, &water, -15.0);
        made.samples = ffmpeg(&made.samples, "highpass=f=250,lowpass=f=3600", (&[], ""));
        made
    }),
    unseen("unseen: pauses of 1.5 to 3 s, gain control that pumps", 97.0, |rng, seed| {
        let crowing = Crowing { pauses_s: (1.5, 3.0), ..Crowing::default() };
        let rendered = crows(crowing, rng, seed);
        let mut samples = rendered.samples;
        GainControl { attack_s: 0.01, release_s: 0.8, target_dbfs: -18.0, most_db: 34.0 }
            .apply(&mut samples);
        Recorded { samples, truth: rendered.truth }
    }),
];

/// What one take of a chain showed.
#[derive(Default)]
struct Outcome {
    made: usize,
    found: usize,
    right: usize,
    kind_right: usize,
    /// Right, or within the doubt that the reading gives.
    kind_within: usize,
    invented: usize,
    rattles: usize,
    alignments: usize,
    alignments_hold: usize,
    stand_outs: usize,
    stand_outs_hold: usize,
    /// Something was missed, or the kind or octave wrong, and nothing warned of.
    silent: bool,
    codes: Vec<WarningCode>,
}

fn cents(hz: f64, reference: f64) -> f64 {
    1200.0 * (hz / reference).log2()
}

fn overlap_s(crow: &Crow, made: &CrowTruth) -> f64 {
    crow.end_s.min(made.tone_end_s) - crow.start_s.max(made.tone_start_s)
}

/// The kind a crow was made as: of an upper octave alone the octaves over the highest expected do not count.
fn made_as(made: &CrowTruth) -> Kind {
    let profile = Profile::default();
    let target = profile.target_frequency(A4::default()).zip(Hertz::new(made.fundamental_hz));
    let is_peep =
        target.is_some_and(|(target, hz)| register(hz, target) >= profile.highest_register());
    match made.kind {
        Kind::Octaves | Kind::Blended if is_peep => Kind::Single,
        kind => kind,
    }
}

/// Whether the kind is right, or next to the right one and the interval of the stand-out holds the true one:
/// where octaves, *not told* and one tone part, a crow within its doubt may be called either.
fn is_told_within_its_doubt(crow: &Crow, made: &CrowTruth) -> bool {
    let one_or_two =
        |kind: Kind| [Kind::Single, Kind::Blended, Kind::Octaves].iter().position(|k| *k == kind);
    let beside = one_or_two(crow.kind)
        .zip(one_or_two(made_as(made)))
        .is_some_and(|(found, true_one)| found.abs_diff(true_one) == 1);
    let voices = &crow.figures.voices;
    let holds = match (voices.stand_out_db, voices.ci95_db, made.stand_out_db) {
        (Some(found), Some(ci95), Some(true_db)) => (found - true_db).abs() <= ci95,
        _ => false,
    };
    crow.kind == made_as(made) || beside && holds
}

fn judge(reading: &Reading, truth: &Truth) -> Outcome {
    let sounding: Vec<&Crow> =
        reading.crows.iter().filter(|crow| crow.kind != Kind::Breath).collect();
    let mut outcome = Outcome { made: truth.crows.len(), ..Outcome::default() };
    outcome.codes = reading.warnings.iter().map(|warning| warning.code).collect();
    let mut wrong = false;
    for made in &truth.crows {
        wrong |= !outcome.counts(found(&sounding, made), made);
    }
    outcome.invented = sounding
        .iter()
        .filter(|crow| truth.crows.iter().all(|made| overlap_s(crow, made) < 0.1))
        .count();
    wrong |= outcome.invented > 0;
    outcome.silent = wrong && outcome.codes.is_empty();
    outcome
}

/// The crow of the reading that is the one that was made, if any.
fn found<'a>(sounding: &[&'a Crow], made: &CrowTruth) -> Option<&'a Crow> {
    let length_s = made.tone_end_s - made.tone_start_s;
    let best = sounding.iter().max_by(|a, b| overlap_s(a, made).total_cmp(&overlap_s(b, made)));
    best.copied().filter(|crow| {
        overlap_s(crow, made) > COVERED * length_s
            // One crow of the reading is one crow: not two of them run together.
            && crow.end_s - crow.start_s < length_s + 1.5
    })
}

impl Outcome {
    /// Counts a crow that was made, by what was `found` of it. Returns whether all that is told is right.
    fn counts(&mut self, found: Option<&Crow>, made: &CrowTruth) -> bool {
        let show = std::env::var_os("ROOMS_SHOW").is_some();
        let Some(crow) = found else {
            if show {
                let (from, to) = (made.tone_start_s, made.tone_end_s);
                eprintln!("missed {:?} {:.0} {from:.2}-{to:.2}", made.kind, made.fundamental_hz);
            }
            return false;
        };
        self.found += 1;
        let is_right = |hz| cents(hz, made.fundamental_hz).abs() < RIGHT_CENTS;
        let right = crow.figures.fundamental.hz.is_some_and(is_right);
        self.right += usize::from(right);
        self.kind_right += usize::from(crow.kind == made_as(made));
        let within = is_told_within_its_doubt(crow, made);
        self.kind_within += usize::from(within);
        if show && (!right || !within) {
            show_wrong(crow, made);
        }
        self.rattles +=
            usize::from(crow.figures.steadiness.rattle_hz.is_some() && made.rattle_hz.is_none());
        let voices = &crow.figures.voices;
        if let (Some(found), Some(ci), Some(true_db)) =
            (voices.stand_out_db, voices.ci95_db, made.stand_out_db)
            && right
        {
            self.stand_outs += 1;
            self.stand_outs_hold += usize::from((found - true_db).abs() <= ci);
        }
        let alignment = &crow.figures.alignment;
        if let (Some(found), Some(ci), Some(true_cents)) =
            (alignment.cents, alignment.ci95_cents, made.alignment_cents)
            && right
        {
            self.alignments += 1;
            self.alignments_hold += usize::from((found - true_cents).abs() <= ci);
        }
        right && within
    }
}

/// A crow that was read wrongly, for looking into it with `ROOMS_SHOW=1`.
fn show_wrong(crow: &Crow, made: &CrowTruth) {
    let voices = &crow.figures.voices;
    eprintln!(
        "{:?} for {:?} {:.0} {:.2}-{:.2}: {:?} stand-out {:?} ± {:?} for {:?}, octaves {:?}",
        crow.kind,
        made.kind,
        made.fundamental_hz,
        made.tone_start_s,
        made.tone_end_s,
        crow.figures.fundamental.hz,
        voices.stand_out_db,
        voices.ci95_db,
        made.stand_out_db,
        voices.octaves
    );
}

fn reading_of(samples: Vec<f32>) -> Reading {
    let take = Take {
        source: "rooms".to_owned(),
        sample_rate_hz: RATE_HZ,
        channels: 1,
        channel: 1,
        samples,
        ..Take::default()
    };
    read(&take, &Profile::default(), A4::default()).reading
}

fn generator(name: &str, number: u64) -> (ChaCha8Rng, u64) {
    let hash = name.bytes().fold(0xcbf2_9ce4_8422_2325u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    });
    let seed = hash.wrapping_add(number.wrapping_mul(0x9e37_79b9_7f4a_7c15));
    (ChaCha8Rng::seed_from_u64(seed), seed)
}

/// All tables: `takes` of each chain, and `minutes` of work without a crow.
///
/// * `which`: words of which a chain's name must hold one (`unseen` for those not listened to), or
///   none for all that are seen.
pub fn tables(takes: usize, minutes: usize, which: &[String]) -> Vec<Table> {
    let mut tables = vec![chains(takes, which)];
    if which.is_empty() || which.iter().any(|word| word == "work") {
        tables.push(invented(minutes));
    }
    tables
}

fn is_chosen(chain: &Chain, which: &[String]) -> bool {
    let named = which.iter().any(|word| chain.name.contains(word.as_str()));
    named || (!chain.unseen && which.is_empty())
}

/// Of the crows found, this percentage is read in the right octave.
const OCTAVE_RIGHT: f64 = 95.0;

/// How crows fare in each chain.
fn chains(count: usize, which: &[String]) -> Table {
    let columns = [
        "chain",
        "crows",
        "found",
        "goal",
        "octave right",
        "kind right",
        "within its doubt",
        "invented in takes",
        "rattle not there",
        "alignment holds",
        "stand-out holds",
        "wrong without a word",
        "warnings in takes",
    ];
    let mut table = Table::new(format!("Rooms and recorders, {count} takes each"), &columns);
    for chain in CHAINS {
        if !is_chosen(chain, which) {
            continue;
        }
        let outcomes: Vec<Outcome> = (0..count as u64)
            .into_par_iter()
            .map(|number| {
                let (mut rng, seed) = generator(chain.name, number);
                let recorded = (chain.make)(&mut rng, seed);
                judge(&reading_of(recorded.samples), &recorded.truth)
            })
            .collect();
        let sum = |of: fn(&Outcome) -> usize| outcomes.iter().map(of).sum::<usize>();
        let (made, found) = (sum(|o| o.made), sum(|o| o.found));
        let silent = outcomes.iter().filter(|o| o.silent).count();
        table.row(vec![
            chain.name.into(),
            made.to_string(),
            show_percent(found, made),
            format!("{:.0} %", chain.goal),
            show_percent(sum(|o| o.right), found),
            show_percent(sum(|o| o.kind_right), found),
            show_percent(sum(|o| o.kind_within), found),
            format!("{}", sum(|o| o.invented)),
            show_percent(sum(|o| o.rattles), found),
            show_percent(sum(|o| o.alignments_hold), sum(|o| o.alignments)),
            show_percent(sum(|o| o.stand_outs_hold), sum(|o| o.stand_outs)),
            show_percent(silent, count),
            codes_of(&outcomes),
        ]);
        if has_ffmpeg() {
            table.at_least(chain.name, percent(found, made), chain.goal, made);
            // Somebody else's note under a crow is no octave of it.
            let right = percent(sum(|o| o.right), found);
            table.at_least(&format!("{}: octave right", chain.name), right, OCTAVE_RIGHT, found);
        }
    }
    table
}

/// Writes eight takes of each chain that `which` picks as WAV, with their truth as JSON, and ten
/// minutes of work without a crow.
pub fn write(folder: &Path, which: &[String]) -> ExitCode {
    let write = |name: String, samples: &[f32], truth: &str| {
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: RATE_HZ,
            bits_per_sample: 32,
            sample_format: hound::SampleFormat::Float,
        };
        let mut wav = hound::WavWriter::create(folder.join(format!("{name}.wav")), spec)?;
        samples.iter().try_for_each(|x| wav.write_sample(*x))?;
        wav.finalize()?;
        std::fs::write(folder.join(format!("{name}.json")), truth)?;
        Ok::<(), hound::Error>(())
    };
    let chosen = CHAINS.iter().filter(|chain| is_chosen(chain, which));
    let takes = chosen.flat_map(|chain| (0..8).map(move |number| (chain, number)));
    let written = takes.collect::<Vec<_>>().into_par_iter().try_for_each(|(chain, number)| {
        let (mut rng, seed) = generator(chain.name, number);
        let made = (chain.make)(&mut rng, seed);
        let truth = serde_json::to_string(&made.truth).unwrap_or_default();
        let letters = chain.name.chars().map(|c| if c.is_alphanumeric() { c } else { '_' });
        write(format!("{}-{number}", letters.collect::<String>()), &made.samples, &truth)
    });
    let work = (0..10_u64).into_par_iter().try_for_each(|number| {
        let (mut rng, _) = generator("work", number);
        write(format!("work-{number}"), &work_without_crows(60.0, &mut rng), "")
    });
    match written.and(work) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("evaluation: {}: {error}", folder.display());
            ExitCode::FAILURE
        }
    }
}

/// Every warning of these takes with the number of takes it came in.
fn codes_of(outcomes: &[Outcome]) -> String {
    let mut counts: Vec<(String, usize)> = Vec::new();
    for code in outcomes.iter().flat_map(|outcome| &outcome.codes) {
        let name = serde_json::to_value(code).ok().and_then(|v| v.as_str().map(str::to_owned));
        let name = name.unwrap_or_default();
        match counts.iter_mut().find(|(known, _)| *known == name) {
            Some((_, count)) => *count += 1,
            None => counts.push((name, 1)),
        }
    }
    counts.iter().map(|(name, count)| format!("{name} {count}")).collect::<Vec<_>>().join(", ")
}

/// Crows invented in `minutes` of work at a bench without a crow, in takes of a minute.
fn invented(minutes: usize) -> Table {
    let mut table = Table::new(
        format!("{minutes} minutes of scraping, knocks, talk, humming, water and music, no crow"),
        &["figure", "reached", "goal"],
    );
    let counts: Vec<usize> = (0..minutes as u64)
        .into_par_iter()
        .map(|number| {
            let (mut rng, _) = generator("work", number);
            let reading = reading_of(work_without_crows(60.0, &mut rng));
            if std::env::var_os("ROOMS_SHOW").is_some() {
                for crow in &reading.crows {
                    eprintln!(
                        "work {number}: {:?} {:.2}-{:.2} {:?}",
                        crow.kind, crow.start_s, crow.end_s, crow.figures.fundamental.hz
                    );
                }
            }
            reading.crows.iter().filter(|crow| crow.kind != Kind::Breath).count()
        })
        .collect();
    let per_ten = 10.0 * counts.iter().sum::<usize>() as f64 / minutes.max(1) as f64;
    table.row(vec!["crows invented in ten minutes".into(), show(Some(per_ten)), "≤ 1".into()]);
    table.at_most(
        "crows invented in ten minutes",
        per_ten,
        1.0 + 3.0 / (minutes as f64 / 10.0).sqrt(),
    );
    table
}
