//! Crows as readings, made up figure by figure: for the simulated bench and for the adviser's own tests.

use super::{Crow, Figures, Kind, Reading, Rung, Summary};

/// One crow as a made-up reed gives it.
#[derive(Debug, Clone, Copy)]
pub struct Made {
    pub kind: Kind,
    /// From the target, in the register.
    pub cents: f64,
    pub register: i32,
    pub low_delay_s: f64,
    pub onset_s: f64,
    pub spread_cents: f64,
}

/// A crow that speaks at once and holds still.
pub fn made(kind: Kind, cents: f64) -> Made {
    Made { kind, cents, register: 0, low_delay_s: 0.03, onset_s: 0.05, spread_cents: 4.0 }
}

/// A take of such crows of an American oboe reed.
pub fn reading(crows: &[Made]) -> Reading {
    let crow = |(index, made): (usize, &Made)| {
        let mut figures = Figures::default();
        figures.response.onset_s = Some(made.onset_s);
        figures.steadiness.spread_cents = Some(made.spread_cents);
        if !matches!(made.kind, Kind::Breath | Kind::Unsettled) {
            let hz = 523.251 * 2_f64.powf(made.cents / 1200.0 + f64::from(made.register));
            let rung = |hz: f64| Rung {
                hz,
                level_db: -5.0,
                present: 1.0,
                switches_per_s: 0.0,
                entry_s: Some(0.05),
                sustained: true,
            };
            figures.fundamental.hz = Some(hz);
            figures.fundamental.ci95_cents = Some(2.0);
            figures.fundamental.target_cents = Some(made.cents);
            figures.fundamental.register = Some(made.register);
            figures.rungs = vec![rung(hz), rung(2.0 * hz)];
            figures.response.low_delay_s = Some(made.low_delay_s);
        }
        Crow { start_s: index as f64, end_s: index as f64 + 0.8, kind: made.kind, figures }
    };
    let crows: Vec<Crow> = crows.iter().enumerate().map(crow).collect();
    let crow_count = crows.iter().filter(|crow| crow.kind != Kind::Breath).count();
    let kind = crows.first().map(|crow| crow.kind);
    Reading {
        schema: 1,
        source: "made".into(),
        sample_rate_hz: 48_000,
        channels: 1,
        channel: 1,
        duration_s: crows.len() as f64,
        a4_hz: 440.0,
        profile: "american-oboe".into(),
        summary: Summary { crow_count, kind, figures: Figures::default() },
        crows,
        others: Vec::new(),
        tones_kept: false,
        microphone: None,
        warnings: Vec::new(),
    }
}
