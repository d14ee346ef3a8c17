//! How strong each octave of a crow is from frame to frame, where two tones share bins too.

use std::ops::Range;

use crate::reading::track::base::{Base, Bases};
use crate::reading::track::family::{Family, NoiseProfile};
use crate::reading::track::ladder::Ladder;
use crate::reading::track::rungs::{RungCourse, courses, multiples_of_rung};

/// Partials nearer than this, in bins, are in each other's frames.
const SHARED_BINS: f64 = 1.8;

/// Courses of all rungs that the bins hold.
pub(super) fn of_rungs(ladder: &Ladder, noise: &NoiseProfile, bases: &Bases) -> Vec<RungCourse> {
    let orders = &ladder.orders;
    let (lower, upper) = (&bases.lower, &bases.upper);
    let most = (orders.bins.saturating_sub(1) as f64 / lower.bins.max(upper.bins)) as usize;
    let count = most.max(1).ilog2() + 1;
    let bases: Vec<&Base> = (0..count).map(|rung| if rung == 0 { lower } else { upper }).collect();
    let mut families: Vec<Family<'_>> = bases
        .iter()
        .zip(0..)
        .map(|(base, rung)| Family {
            orders,
            base_bins: base.bins,
            multiples: multiples_of_rung(rung, most),
            noise,
        })
        .collect();
    if lower.bins != upper.bins {
        leave_shared_to_the_stronger(&mut families, ladder.core.clone());
    }
    let offsets: Vec<&[f64]> = bases.iter().map(|base| base.offset.as_slice()).collect();
    courses(orders, &families, &offsets, ladder.core.clone())
}

/// Of two tones that stand off, a high partial of one may lie beside one of the other, and one bin
/// holds both: it counts for the tone that is the stronger where they lie apart.
///
/// * `families`: those of the rungs; the lower tone's first, the others the upper's.
fn leave_shared_to_the_stronger(families: &mut [Family<'_>], core: Range<usize>) {
    let Some((low, up)) = families.split_first_mut() else { return };
    let place = |family: &Family<'_>, m: &usize| *m as f64 * family.base_bins;
    let ups: Vec<f64> =
        up.iter().flat_map(|family| family.multiples.iter().map(|m| place(family, m))).collect();
    let lows: Vec<f64> = low.multiples.iter().map(|m| place(low, m)).collect();
    let alone = |at: f64, others: &[f64]| others.iter().all(|o| (o - at).abs() > SHARED_BINS);
    let power_alone = |family: &Family<'_>, others: &[f64]| -> f64 {
        let own = family.multiples.iter().filter(|m| alone(place(family, m), others));
        own.map(|m| family.partial_power(*m, core.clone())).sum()
    };
    let low_power = power_alone(low, &ups);
    let up_power: f64 = up.iter().map(|family| power_alone(family, &lows)).sum();
    if low_power < up_power {
        let bins = low.base_bins;
        low.multiples.retain(|m| alone(*m as f64 * bins, &ups));
    } else {
        for family in up {
            let bins = family.base_bins;
            family.multiples.retain(|m| alone(*m as f64 * bins, &lows));
        }
    }
}
