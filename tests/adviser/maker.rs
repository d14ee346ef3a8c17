//! What the maker at the simulated bench hears, sees and measures, with the errors of ears, eyes and
//! ruler. Crows are drawn as readings with the scatter of real ones.

use crate::reed::{Draws, Hidden, Sound, World};
use reedcrow::advice::Wanted;
use reedcrow::reading::{Crow, Figures, Kind, Reading, Rung, Summary};
use reedcrow::reed::{Bark, Corners, Heart, Inspection, Leak, Sizes, Symmetry, TipSides};

pub fn reading(crows: &[(Sound, f64)], stuffy: &[bool]) -> Reading {
    let crow = |(index, (sound, cents)): (usize, &(Sound, f64))| {
        let register = i32::from(*sound == Sound::Peep);
        let hz = 523.251 * 2_f64.powf(cents / 1200.0 + f64::from(register));
        let kind = match sound {
            Sound::Octaves | Sound::OctavesLowLate => Kind::Octaves,
            Sound::Low | Sound::Peep => Kind::Single,
            Sound::Split => Kind::Split,
            Sound::Wild => Kind::Unsettled,
            Sound::Air => Kind::Breath,
        };
        let mut figures = Figures::default();
        let is_hard = stuffy.get(index).is_some_and(|is| *is);
        figures.response.onset_s = Some(if is_hard { 0.3 } else { 0.05 });
        figures.steadiness.spread_cents = Some(if kind == Kind::Unsettled { 30.0 } else { 4.0 });
        if !matches!(kind, Kind::Unsettled | Kind::Breath) {
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
            figures.fundamental.target_cents = Some(*cents);
            figures.fundamental.register = Some(register);
            figures.rungs = vec![rung(hz), rung(2.0 * hz)];
            let is_late = *sound == Sound::OctavesLowLate;
            figures.response.low_delay_s = Some(if is_late { 0.25 } else { 0.03 });
        }
        Crow { start_s: index as f64, end_s: index as f64 + 0.8, kind, figures }
    };
    let crows: Vec<Crow> = crows.iter().enumerate().map(crow).collect();
    let crow_count = crows.iter().filter(|crow| crow.kind != Kind::Breath).count();
    Reading {
        schema: 1,
        source: "made".into(),
        sample_rate_hz: 48_000,
        channels: 1,
        channel: 1,
        duration_s: crows.len() as f64,
        a4_hz: 440.0,
        profile: "american-oboe".into(),
        summary: Summary { crow_count, kind: None, figures: Figures::default() },
        crows,
        others: Vec::new(),
        tones_kept: false,
        warnings: Vec::new(),
    }
}

pub fn look(wanted: &[Wanted], hidden: &Hidden, draws: &mut Draws, world: &World) -> Inspection {
    let mut seen = Inspection::default();
    for one in wanted {
        let is_wrong = draws.uniform() < world.look_wrong;
        match one {
            Wanted::Leak => {
                seen.leak = Some(match (hidden.leak_low, hidden.leak_heart) {
                    (true, _) if !is_wrong => Leak::Low,
                    (_, true) if !is_wrong => Leak::Heart,
                    (false, false) if is_wrong => Leak::Low,
                    _ => Leak::None,
                });
            }
            Wanted::TipSides => {
                let is_thick = (hidden.sides > 0.4) != is_wrong;
                seen.tip_sides = Some(if is_thick { TipSides::Thick } else { TipSides::Thinnest });
            }
            Wanted::Corners => {
                let is_thick = (hidden.corners > 0.4) != is_wrong;
                seen.corners = Some(if is_thick { Corners::Thick } else { Corners::Thin });
            }
            Wanted::Heart => {
                seen.heart = Some(match hidden.heart {
                    _ if is_wrong => Heart::Thick,
                    thin if thin < -1.3 => Heart::Thin,
                    thick if thick > 0.5 => Heart::Thick,
                    _ => Heart::Good,
                });
            }
            Wanted::Bark => {
                let is_gone = hidden.bark_gone != is_wrong;
                seen.bark = Some(if is_gone { Bark::Gone } else { Bark::Kept });
            }
            Wanted::Symmetry => {
                seen.symmetry = Some(if is_wrong { Symmetry::Uneven } else { Symmetry::Even });
            }
            _ => {}
        }
    }
    seen
}

pub fn measure(sizes: &mut Sizes, wanted: &[Wanted], hidden: &Hidden, error_mm: f64) {
    for one in wanted {
        match one {
            Wanted::Length => sizes.length_mm = Some(hidden.length_mm + error_mm),
            Wanted::Staple => sizes.staple_mm = Some(47.0),
            Wanted::Winding => sizes.wound_to_mm = Some(if hidden.choked { 48.0 } else { 47.0 }),
            Wanted::Tip => sizes.tip_start_mm = Some(66.0),
            Wanted::Heart => sizes.heart_bottom_mm = Some(61.0),
            Wanted::Opening => sizes.opening_mm = Some(0.8),
            _ => {}
        }
    }
}
