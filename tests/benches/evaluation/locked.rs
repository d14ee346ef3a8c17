//! Are locked octaves ever called split?

use reedcrow::reading::Kind;
use reedcrow_synth::{Colour, CrowSound, Motion, Rattle, Scene};

use super::table::{Table, percent, quantile, show, show_percent};
use super::trial::{MARGIN_S, Trial, oboe_hz, trials};

/// What moves: name, how.
fn cases() -> [(&'static str, Motion, Option<Rattle>); 5] {
    let still = Motion::default();
    let jitter = |spread_time_s| Motion { spread_cents: 10.0, spread_time_s, ..still };
    [
        ("steady", still, None),
        ("drift 60 cents/s", Motion { drift_cents_per_s: 60.0, ..still }, None),
        ("jitter 10 cents, 20 ms", jitter(0.02), None),
        ("jitter 10 cents, 100 ms", jitter(0.1), None),
        ("rattle 30 Hz, depth 0.5", still, Some(Rattle { hz: 30.0, depth: 0.5 })),
    ]
}

/// Locked crows that move.
pub fn table(count: usize) -> Table {
    let columns = [
        "crow",
        "called split",
        "called unlocked",
        "octaves",
        "alignment, 95 % cents",
        "fundamental, RMS cents",
    ];
    let title = format!("Locked octaves, 0.5 s, white 30 dB, {count} each (goal ≤ 0.5 % split)");
    let mut table = Table::new(title, &columns);
    for (name, motion, rattle) in cases() {
        let all = trials(&format!("locked {name}"), count, |rng, seed| {
            let mut crow = CrowSound::octaves(oboe_hz(rng), 0.5, -13.0);
            crow.motion = motion;
            crow.rattle = rattle;
            Scene::of_crow(crow, MARGIN_S, seed).in_noise(Colour::White, 30.0)
        });
        let kind = |kind: Kind| {
            all.iter()
                .filter(|trial| trial.heard().is_some_and(|(crow, _)| crow.kind == kind))
                .count()
        };
        let figures = || all.iter().filter_map(Trial::heard).map(|(crow, _)| &crow.figures);
        let unlocked = figures().filter(|figures| figures.alignment.locked == Some(false)).count();
        let off: Vec<f64> =
            figures().filter_map(|figures| figures.alignment.cents).map(f64::abs).collect();
        let errors: Vec<f64> = all.iter().filter_map(Trial::fundamental_error).collect();
        let split = kind(Kind::Split);
        table.row(vec![
            name.into(),
            show_percent(split, count),
            show_percent(unlocked, count),
            show_percent(kind(Kind::Octaves), count),
            show(quantile(&off, 0.95)),
            show(super::table::rms(&errors)),
        ]);
        table.at_least(&format!("{name}: not split"), percent(count - split, count), 99.5, count);
        table.at_least(
            &format!("{name}: octaves"),
            percent(kind(Kind::Octaves), count),
            98.0,
            count,
        );
    }
    table
}
