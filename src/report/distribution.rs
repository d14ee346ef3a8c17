//! What many takes come to: one definition for the closing lines and the page.

use std::collections::BTreeMap;

use crate::reading::Kind;
use crate::words::card::kind_word;
use crate::words::takes::WITHOUT_CROW;

/// Cents in one bar of the distribution.
const BIN: i32 = 20;

/// Bars on either side of the target; what is further off goes into the outermost.
pub const BINS: i32 = 6;

/// How many of `cents` fall into each bar, the flattest first; the middle one lies about the target.
pub fn bars(cents: &[f64]) -> Vec<usize> {
    let mut bars = vec![0; 2 * BINS as usize + 1];
    for off in cents.iter().filter(|off| off.is_finite()) {
        let bin = ((off / f64::from(BIN)).round() as i32).clamp(-BINS, BINS);
        bars[(bin + BINS) as usize] += 1;
    }
    bars
}

/// From where to where a bar goes, in cents. The outermost hold what lies beyond them too.
pub fn bar_edges(index: usize) -> (f64, f64) {
    let middle = (index as i32 - BINS) * BIN;
    (f64::from(middle - BIN / 2), f64::from(middle + BIN / 2))
}

/// How a take is heard: its kind, and whether its lowest tone is the upper octave; `None` without a
/// crow.
pub type Heard = Option<(Kind, bool)>;

/// How many takes are of each kind: `octaves 8, two tones 1, without a crow 1`.
///
/// * `takes`: how they are heard, and how many are; the same may come several times.
pub fn kinds(takes: impl Iterator<Item = (Heard, u64)>) -> String {
    // What is called by one word is counted as one.
    let word =
        |heard: Heard| heard.map_or(WITHOUT_CROW, |(kind, is_upper)| kind_word(kind, is_upper));
    let mut counts: BTreeMap<&str, u64> = BTreeMap::new();
    for (heard, count) in takes {
        *counts.entry(word(heard)).or_default() += count;
    }
    let order = Kind::ALL.into_iter().flat_map(|kind| [Some((kind, false)), Some((kind, true))]);
    let mut words: Vec<&str> = order.chain([None]).map(word).collect();
    words.dedup();
    let said = words.into_iter().filter_map(|word| Some(format!("{word} {}", counts.get(word)?)));
    said.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_are_told_in_one_order_and_only_those_there_are() {
        let of = |kind, is_upper| Some((kind, is_upper));
        let said = kinds(
            [
                (None, 2),
                (of(Kind::Single, true), 1),
                (of(Kind::Split, false), 1),
                (of(Kind::Octaves, true), 3),
                (of(Kind::Single, false), 4),
                (of(Kind::Octaves, false), 5),
            ]
            .into_iter(),
        );
        crate::golden::held("../../src/goldens", "kinds-counted", &said);
    }

    #[test]
    fn every_value_is_in_one_bar_and_lies_between_its_edges() {
        let counts = bars(&[-700.0, -31.0, -9.0, 9.9, 10.1, f64::NAN, 115.0, 4_000.0]);
        assert_eq!(counts.iter().sum::<usize>(), 7);
        let middle = BINS as usize;
        assert_eq!((counts[0], counts[middle], counts[middle + 1]), (1, 2, 1));
        assert_eq!((counts[middle - 2], counts[2 * middle]), (1, 2));
        assert_eq!((bar_edges(middle), bar_edges(middle - 2)), ((-10.0, 10.0), (-50.0, -30.0)));
    }
}
