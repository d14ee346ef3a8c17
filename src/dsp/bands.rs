//! Octave bands of IEC 61260-1:2014, base ten.

/// An octave band: nominal mid-band frequency and exact edges, in hertz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OctaveBand {
    /// The nominal mid-band frequency, as printed on instruments.
    pub nominal_hz: f64,
    /// Exact lower edge.
    pub lower_hz: f64,
    /// Exact upper edge.
    pub upper_hz: f64,
}

/// The seven octave bands with nominal centres 125 Hz … 8 kHz.
///
/// Exact centres are 1000·G^x with G = 10^0.3, edges half an octave to either side.
///
/// Source: IEC 61260-1:2014, octave ratio and exact mid-band frequencies, base ten.
pub fn octave_bands() -> [OctaveBand; 7] {
    const NOMINAL_HZ: [f64; 7] = [125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0];
    std::array::from_fn(|i| {
        let tenths = 3.0 * (i as f64 - 3.0);
        let edge = |half: f64| 1000.0 * 10.0_f64.powf((tenths + half) / 10.0);
        OctaveBand { nominal_hz: NOMINAL_HZ[i], lower_hz: edge(-1.5), upper_hz: edge(1.5) }
    })
}
