//! Energy of a series in the span of several lines, which need not be independent of each other.

use realfft::num_complex::Complex;

use crate::dsp::phase::summed;

/// Powers of a turn over the frames.
pub(super) struct Powers {
    /// `[powers][frames]` from the 0th on.
    turns: Vec<Vec<Complex<f64>>>,
    /// Their sums over the frames.
    sums: Vec<Complex<f64>>,
}

impl Powers {
    /// Up to the `highest`.
    pub(super) fn new(turn: &[Complex<f64>], highest: i32) -> Self {
        let mut turns = vec![vec![Complex::new(1.0, 0.0); turn.len()]];
        for power in 0..highest as usize {
            turns.push(turns[power].iter().zip(turn).map(|(a, b)| a * b).collect());
        }
        let sums = turns.iter().map(|turns| turns.iter().sum()).collect();
        Self { turns, sums }
    }

    /// Σ z·turnⁿ.
    pub(super) fn share(&self, series: &[Complex<f64>], n: i32) -> Complex<f64> {
        let turns = &self.turns[n.unsigned_abs() as usize];
        if n < 0 {
            summed(series, turns, |z, turn| z * turn.conj())
        } else {
            summed(series, turns, |z, turn| z * turn)
        }
    }

    /// Adds `amplitude`·turnⁿ to a series.
    pub(super) fn add(&self, series: &mut [Complex<f64>], n: i32, amplitude: Complex<f64>) {
        for (z, turn) in series.iter_mut().zip(&self.turns[n.unsigned_abs() as usize]) {
            *z += amplitude * if n < 0 { turn.conj() } else { *turn };
        }
    }

    /// Σ turnⁿ.
    pub(super) fn sum(&self, n: i32) -> Complex<f64> {
        let sum = self.sums[n.unsigned_abs() as usize];
        if n < 0 { sum.conj() } else { sum }
    }
}

/// A line that the others make up but for this share has nothing of its own to say.
const OWN_SHARE: f64 = 0.02;

/// One line of a decomposition.
struct Kept {
    line: i32,
    /// Its row of the triangle.
    row: Vec<Complex<f64>>,
    /// Root of what the lines before it leave of it.
    root: f64,
    /// Its part of the series.
    part: Complex<f64>,
}

/// What a series has in the span of several lines.
pub(super) struct Projection {
    kept: Vec<Kept>,
}

impl Projection {
    /// By Cholesky's decomposition of the lines' Gram matrix; a line that the others make up is left out.
    ///
    /// * `shares`: the series' product with each line.
    /// * `product`: of two lines, by how far apart they are.
    pub(super) fn new(
        lines: &[i32],
        shares: &[Complex<f64>],
        product: impl Fn(i32) -> Complex<f64>,
    ) -> Self {
        let mut kept: Vec<Kept> = Vec::new();
        for (&line, share) in lines.iter().zip(shares) {
            let whole = product(0).re;
            let (mut left, mut part, mut row) = (whole, *share, Vec::new());
            for other in &kept {
                let common: Complex<f64> =
                    row.iter().zip(&other.row).map(|(a, b): (&Complex<f64>, _)| a * b.conj()).sum();
                let entry = (product(line - other.line) - common) / other.root;
                left -= entry.norm_sqr();
                part -= entry * other.part;
                row.push(entry);
            }
            if left < OWN_SHARE * whole {
                continue;
            }
            let root = left.sqrt();
            kept.push(Kept { line, row, root, part: part / root });
        }
        Self { kept }
    }

    /// Energy of the series in the span.
    pub(super) fn energy(&self) -> f64 {
        self.kept.iter().map(|kept| kept.part.norm_sqr()).sum()
    }

    /// How much of each line makes up what the span holds of the series.
    pub(super) fn amplitudes(&self) -> Vec<(i32, Complex<f64>)> {
        let mut found: Vec<(i32, Complex<f64>)> = Vec::new();
        for (i, kept) in self.kept.iter().enumerate().rev() {
            let later = self.kept[i + 1..].iter().zip(found.iter().rev());
            let told: Complex<f64> =
                later.map(|(other, (_, amplitude))| other.row[i].conj() * amplitude).sum();
            found.push((kept.line, (kept.part - told) / kept.root));
        }
        found.reverse();
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two lines that share nothing hold what each holds; one that is nearly another adds nothing.
    #[test]
    fn energy_is_what_the_span_of_the_lines_holds() {
        let frames = 64;
        let turn: Vec<Complex<f64>> = (0..frames)
            .map(|t| Complex::from_polar(1.0, std::f64::consts::TAU * f64::from(t) / 64.0))
            .collect();
        let powers = Powers::new(&turn, 3);
        let series: Vec<Complex<f64>> =
            turn.iter().map(|t| t.conj() * 3.0 + t.powi(2) * 4.0).collect();
        let energy = |lines: &[i32]| {
            let shares: Vec<_> = lines.iter().map(|n| powers.share(&series, *n)).collect();
            Projection::new(lines, &shares, |n| powers.sum(n)).energy()
        };
        assert!((energy(&[1]) - 9.0 * 64.0).abs() < 1e-9);
        assert!((energy(&[1, -2]) - 25.0 * 64.0).abs() < 1e-9);
        assert!((energy(&[1, 1, 3]) - 9.0 * 64.0).abs() < 1e-9);
    }
}
