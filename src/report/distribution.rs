//! What many takes come to: one definition for the closing lines and the page.

use crate::words::takes::without_crow;

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

/// How many takes are of each kind: `8 octaves, 1 split, 1 without a crow`.
///
/// * `count`: of a kind, by its word in tables; the empty word stands for no crow.
pub fn kinds(count: impl Fn(&str) -> usize) -> String {
    let kinds =
        ["octaves", "blended", "single", "split", "unsettled", ""].map(|kind| (kind, count(kind)));
    let present = kinds.iter().filter(|(_, count)| *count > 0);
    let said = present.map(|(kind, count)| match *kind {
        "" => without_crow(*count),
        kind => format!("{count} {kind}"),
    });
    said.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_are_told_in_one_order_and_only_those_there_are() {
        let said = kinds(|kind| match kind {
            "split" => 1,
            "octaves" => 8,
            "" => 2,
            _ => 0,
        });
        assert_eq!(said, "8 octaves, 1 split, 2 without a crow");
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
