//! What the maker at the simulated bench hears, sees and measures, with the errors of ears, eyes and
//! ruler. Crows are drawn as readings with the scatter of real ones.

use crate::made::{self, Made, made};
use crate::reed::{Draws, Hidden, Sound, World};
use reedcrow::advice::Wanted;
use reedcrow::reading::{Kind, Reading};
use reedcrow::reed::{Bark, Corners, Heart, Inspection, Leak, Sizes, Symmetry, TipSides};

pub fn reading(crows: &[(Sound, f64)], stuffy: &[bool]) -> Reading {
    let crow = |((sound, cents), is_stuffy): (&(Sound, f64), &bool)| {
        let kind = match sound {
            Sound::Octaves | Sound::OctavesLowLate => Kind::Octaves,
            Sound::Low | Sound::Peep => Kind::Single,
            Sound::Split => Kind::Split,
            Sound::Wild => Kind::Unsettled,
            Sound::Air => Kind::Breath,
        };
        Made {
            register: i32::from(*sound == Sound::Peep),
            low_delay_s: if *sound == Sound::OctavesLowLate { 0.25 } else { 0.03 },
            onset_s: if *is_stuffy { 0.3 } else { 0.05 },
            spread_cents: if kind == Kind::Unsettled { 30.0 } else { 4.0 },
            ..made(kind, *cents)
        }
    };
    made::reading(&crows.iter().zip(stuffy).map(crow).collect::<Vec<_>>())
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
