//! Takes and analyses made by hand for the tests of pictures.

use crate::pitch::{A4, Note};
use crate::reading::{Analysis, Crow, CrowTracks, Kind, Partial, Reading, TrackPoint, testing};
use crate::take::Take;
use crate::units::Hertz;

/// A crow: its two lowest tones and when it sounds.
pub(super) struct MadeCrow {
    pub(super) low_hz: f64,
    pub(super) upper_hz: f64,
    pub(super) start_s: f64,
    pub(super) end_s: f64,
}

/// Two crows, 38 cents flat of C5, the second with an upper octave 30 cents sharp of 2:1.
pub(super) fn two_crows() -> [MadeCrow; 2] {
    let low_hz = 511.9;
    [
        MadeCrow { low_hz, upper_hz: 2.0 * low_hz, start_s: 0.5, end_s: 1.5 },
        MadeCrow { low_hz, upper_hz: 2.035 * low_hz, start_s: 2.0, end_s: 3.1 },
    ]
}

/// The take that sounds `crows` over quiet noise, and its analysis.
pub(super) fn made(crows: &[MadeCrow], duration_s: f64, sample_rate_hz: u32) -> (Take, Analysis) {
    let rate = f64::from(sample_rate_hz);
    let mut noise = 1u32;
    let samples = (0..(duration_s * rate) as usize).map(|n| {
        let time_s = n as f64 / rate;
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let hiss = 1e-3 * (f64::from(noise) / f64::from(u32::MAX) - 0.5);
        let sounding = crows.iter().find(|crow| (crow.start_s..crow.end_s).contains(&time_s));
        let tone = sounding.map_or(0.0, |crow| {
            partials(crow, rate)
                .map(|(hz, amplitude, _)| amplitude * (std::f64::consts::TAU * hz * time_s).sin())
                .sum()
        });
        (tone + hiss) as f32
    });
    let take = Take {
        source: "takes/made & \"<odd>\" name.wav".into(),
        sample_rate_hz,
        channels: 1,
        channel: 1,
        samples: samples.collect(),
        ..Take::default()
    };
    let analysis = Analysis {
        reading: Reading {
            source: take.source.clone(),
            sample_rate_hz,
            duration_s: take.duration_s(),
            ..testing::take(crows.iter().map(crow).collect())
        },
        tracks: crows.iter().map(|crow| tracks(crow, rate)).collect(),
        floor: (0..100).map(|n| (f64::from(n) * 100.0, 8.3e-8 / (rate / 2.0))).collect(),
    };
    (take, analysis)
}

fn partials(crow: &MadeCrow, rate: f64) -> impl Iterator<Item = (f64, f64, usize)> + use<> {
    let (low_hz, upper_hz) = (crow.low_hz, crow.upper_hz);
    let low = (0..10).map(move |n| ((2 * n + 1) as f64 * low_hz, 0.1 / (n + 1) as f64, 0));
    let upper = (1..10).map(move |n| (n as f64 * upper_hz, 0.2 / n as f64, 1));
    low.chain(upper).filter(move |(hz, _, _)| *hz < 0.45 * rate)
}

fn crow(made: &MadeCrow) -> Crow {
    let tone = Hertz::new(made.low_hz).unwrap();
    let (note, note_cents) = Note::nearest(tone, A4::default());
    let mut crow = testing::crow(Kind::Split, note_cents.0);
    (crow.start_s, crow.end_s) = (made.start_s, made.end_s);
    let figures = &mut crow.figures;
    figures.fundamental.hz = Some(made.low_hz);
    figures.fundamental.note = Some(note.to_string());
    figures.fundamental.note_cents = Some(note_cents.0);
    figures.rungs = [made.low_hz, made.upper_hz].map(|hz| testing::rung(hz, -3.0, 0.02)).into();
    figures.alignment.cents = Some(1200.0 * (made.upper_hz / (2.0 * made.low_hz)).log2());
    crow
}

fn tracks(made: &MadeCrow, rate: f64) -> CrowTracks {
    let count = ((made.end_s - made.start_s) / 0.01) as usize;
    let track = |hz: f64, from: usize| {
        let point = move |n: usize| TrackPoint {
            time_s: made.start_s + 0.01 * n as f64,
            hz: (n >= from).then(|| hz * (1.0 + 0.002 * (n as f64 / 9.0).sin())),
            level_dbfs: Some(-20.0),
        };
        (0..count).map(point).collect()
    };
    CrowTracks {
        steady_s: Some((made.start_s + 0.05, made.end_s - 0.05)),
        rungs: vec![track(made.low_hz, 30), track(made.upper_hz, 3)],
        partials: partials(made, rate)
            .map(|(hz, amplitude, rung)| Partial {
                hz,
                level_dbfs: 20.0 * amplitude.log10(),
                rung: Some(rung),
            })
            .chain([Partial { hz: 560.0, level_dbfs: -45.0, rung: None }])
            .collect(),
    }
}
