//! A quantile of the values about each of many places that lie evenly apart, all of them at once.
//!
//! The values between two places are sorted, for all places side by side in vector registers, by a network
//! of comparisons that are the same whatever the values (K. E. Batcher, Proc. AFIPS 32, 1968, pp. 307-314);
//! what lies about a place is then merged of three such stretches and a part of a fourth.

use std::array;

/// Places lie so far apart.
pub const EVERY: usize = 16;
/// Of so many values …
pub const ABOUT: usize = 3 * EVERY + REST;
/// … of which so many lie in the fourth stretch …
const REST: usize = 5;
/// … so many are smaller than the one that is taken: two fifths.
const RANK: usize = 2 * ABOUT / 5;
/// Places for stretches, more than there are.
const STRETCHES: usize = 48;

/// One value of each stretch.
type Row = [f32; STRETCHES];

/// Room for the sorting.
#[derive(Debug)]
pub struct Quantiles {
    /// Each stretch from its smallest value to its greatest.
    sorted: [Row; EVERY],
    /// The first and second, and the third and fourth stretch about each place, likewise.
    near: [Row; 2 * EVERY],
    far: [Row; 2 * EVERY],
}

impl Quantiles {
    pub fn new() -> Box<Self> {
        let row = [f32::INFINITY; STRETCHES];
        Box::new(Self { sorted: [row; EVERY], near: [row; 2 * EVERY], far: [row; 2 * EVERY] })
    }

    /// The quantile about each place, into `quantiles`; of what lies beyond the last whole [`ABOUT`] of values,
    /// that of the last.
    ///
    /// * `values`: at least [`ABOUT`] of them, beginning with those about the first place.
    pub fn find(&mut self, values: &[f32], quantiles: &mut [f32]) {
        let Some(mut last) = values.last_chunk::<ABOUT>().copied() else { return };
        let places = ((values.len() - ABOUT) / EVERY + 1).min(quantiles.len()).min(STRETCHES - 4);
        if places < quantiles.len() {
            let (_, quantile, _) = last.select_nth_unstable_by(RANK, f32::total_cmp);
            quantiles[places..].fill(*quantile);
        }
        // As many as fill whole registers.
        let lanes = (places + 3).next_multiple_of(8).min(STRETCHES);
        for (stretch, values) in values.chunks(EVERY).enumerate().take(places + 3) {
            for (i, value) in values.iter().enumerate() {
                self.sorted[i][stretch] = *value;
                if i < REST && stretch >= 3 {
                    self.far[EVERY + i][stretch - 3] = *value;
                }
            }
        }
        self.far[EVERY + REST..].iter_mut().for_each(|row| row[..lanes].fill(f32::INFINITY));
        sort(&mut self.sorted, lanes);
        for (i, row) in self.sorted.iter().enumerate() {
            self.near[i][..places].copy_from_slice(&row[..places]);
            self.near[EVERY + i][..places].copy_from_slice(&row[1..=places]);
            self.far[i][..places].copy_from_slice(&row[2..places + 2]);
        }
        sort(&mut self.far[EVERY..EVERY + REST.next_power_of_two()], lanes);
        merge(&mut self.near, EVERY, lanes);
        merge(&mut self.far, EVERY, lanes);
        // So many from the near ones and the others from the far ones: the split for which the greatest of
        // both is the smallest is that of all of them in order.
        let mut found = [f32::INFINITY; STRETCHES];
        for near in 0..=RANK + 1 {
            let of_near = near.checked_sub(1).map_or(&[f32::MIN; STRETCHES], |i| &self.near[i]);
            let of_far = RANK.checked_sub(near).map_or(&[f32::MIN; STRETCHES], |i| &self.far[i]);
            let both = of_near[..lanes].iter().zip(&of_far[..lanes]);
            for (found, (near, far)) in found[..lanes].iter_mut().zip(both) {
                let greater = if near > far { *near } else { *far };
                *found = if greater < *found { greater } else { *found };
            }
        }
        quantiles[..places].copy_from_slice(&found[..places]);
    }
}

/// Sorts the values of each lane through the rows, whose number is a power of two.
fn sort(rows: &mut [Row], lanes: usize) {
    let mut sorted = 1;
    while sorted < rows.len() {
        merge(rows, sorted, lanes);
        sorted *= 2;
    }
}

/// Merges neighbouring runs of so many `sorted` rows each.
fn merge(rows: &mut [Row], sorted: usize, lanes: usize) {
    let mut reach = sorted;
    while reach > 0 {
        for first in (reach % sorted..rows.len() - reach).step_by(2 * reach) {
            for low in first..first + reach {
                let high = low + reach;
                if high < rows.len() && low / (2 * sorted) == high / (2 * sorted) {
                    put_in_order(rows, low, high, lanes);
                }
            }
        }
        reach /= 2;
    }
}

fn put_in_order(rows: &mut [Row], low: usize, high: usize, lanes: usize) {
    let (below, above) = rows.split_at_mut(high);
    let Some(above) = above.first_mut() else { return };
    let (below, _) = below[low][..lanes].as_chunks_mut::<8>();
    let (above, _) = above[..lanes].as_chunks_mut::<8>();
    for (low, high) in below.iter_mut().zip(above) {
        let (one, other) = (*low, *high);
        // The smaller and the greater of two are an instruction each.
        *low = array::from_fn(|i| if other[i] < one[i] { other[i] } else { one[i] });
        *high = array::from_fn(|i| if one[i] < other[i] { other[i] } else { one[i] });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The slow judge: the values about each place sorted.
    #[test]
    fn all_quantiles_are_those_of_the_sorted_values() {
        let mut state = 5_u64;
        for n in [ABOUT, ABOUT + 1, 378, 500] {
            let mut next = || {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                (state >> 58) as f32
            };
            let values: Vec<f32> = (0..n).map(|_| next()).collect();
            let mut found = vec![-1.0; 40];
            Quantiles::new().find(&values, &mut found);
            let slow: Vec<f32> = (0..40)
                .map(|place| {
                    let last = values.len().saturating_sub(ABOUT);
                    let from = (place * EVERY).min(last);
                    let mut about = values[from..].iter().copied().take(ABOUT).collect::<Vec<_>>();
                    about.sort_by(f32::total_cmp);
                    about[RANK]
                })
                .collect();
            assert_eq!(found, slow, "{n}");
        }
    }
}
