//! Lines that hardly change over a stretch, taken out of series: a tone's own partials, as they swell and fade.

use realfft::num_complex::Complex;

use crate::dsp::phase::{Multiples, summed, turned};

/// What changes no faster than a parabola over a stretch.
#[derive(Debug)]
pub struct Steady {
    time_s: Vec<f64>,
    /// Three shapes that make up all parabolas, each of unit energy and independent of the others.
    shapes: [Vec<f64>; 3],
}

impl Steady {
    /// Over these moments.
    pub fn new(time_s: &[f64]) -> Self {
        let middle = time_s.iter().sum::<f64>() / time_s.len().max(1) as f64;
        let time_s: Vec<f64> = time_s.iter().map(|t| t - middle).collect();
        let mut shapes = [const { Vec::new() }; 3];
        for power in 0..3 {
            let mut shape: Vec<f64> = time_s.iter().map(|t| t.powi(power as i32)).collect();
            for known in &shapes[..power] {
                let part: f64 = shape.iter().zip(known).map(|(a, b)| a * b).sum();
                shape.iter_mut().zip(known).for_each(|(a, b)| *a -= part * b);
            }
            let energy = shape.iter().map(|s| s * s).sum::<f64>().sqrt();
            shape.iter_mut().for_each(|s| *s /= energy.max(f64::MIN_POSITIVE));
            shapes[power] = shape;
        }
        Self { time_s, shapes }
    }

    /// Takes steady lines at multiples of `base_hz` out of series over the same moments, each given with its
    /// multiple, in ascending order.
    pub fn take_out<'a>(
        &self,
        base_hz: f64,
        all: impl Iterator<Item = (usize, &'a mut [Complex<f64>])>,
    ) {
        let mut multiples =
            Multiples::of(self.time_s.iter().map(|t| turned(base_hz * t)).collect());
        for (multiple, series) in all {
            let turns = multiples.next(multiple);
            // The shapes are independent of each other: what is of one is not of the others.
            let still: Vec<Complex<f64>> =
                series.iter().zip(turns).map(|(z, turn)| z * turn.conj()).collect();
            let parts =
                self.shapes.each_ref().map(|shape| summed(&still, shape, |z, shape| z * shape));
            let [level, slope, bend] = &self.shapes;
            let shapes = level.iter().zip(slope).zip(bend);
            for ((z, turn), ((level, slope), bend)) in series.iter_mut().zip(turns).zip(shapes) {
                *z -= turn * (parts[0] * level + parts[1] * slope + parts[2] * bend);
            }
        }
    }
}
