//! Bytes to samples and back: little-endian, full scale being ±1.

/// How one sample is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SampleFormat {
    /// 8-bit unsigned integer, 128 being silence.
    U8,
    /// 16-bit signed integer.
    I16,
    /// 24-bit signed integer in three bytes.
    I24,
    /// 32-bit signed integer.
    I32,
    /// 32-bit IEEE 754 float.
    F32,
    /// 64-bit IEEE 754 float.
    F64,
}

impl SampleFormat {
    /// Every format, narrowest first.
    pub const ALL: [Self; 6] = [Self::U8, Self::I16, Self::I24, Self::I32, Self::F32, Self::F64];

    /// Bytes per sample.
    pub const fn bytes(self) -> usize {
        match self {
            Self::U8 => 1,
            Self::I16 => 2,
            Self::I24 => 3,
            Self::I32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    /// Whether samples are floats.
    pub const fn is_float(self) -> bool {
        matches!(self, Self::F32 | Self::F64)
    }

    /// Appends the samples in `bytes` to `samples`; a rest shorter than a sample is left out.
    /// Integers of n bits are divided by 2^(n−1).
    pub fn decode(self, bytes: &[u8], samples: &mut Vec<f32>) {
        match self {
            Self::U8 => {
                samples.extend(bytes.iter().map(|&byte| (f32::from(byte) - 128.0) / 128.0));
            }
            Self::I16 => samples
                .extend(whole(bytes).map(|&bytes| f32::from(i16::from_le_bytes(bytes)) / 32_768.0)),
            // Three bytes in the upper part of four keep the sign and divide as 32 bits do.
            Self::I24 => samples.extend(whole(bytes).map(|&[low, middle, high]| {
                i32::from_le_bytes([0, low, middle, high]) as f32 / 2_147_483_648.0
            })),
            Self::I32 => samples.extend(
                whole(bytes).map(|&bytes| i32::from_le_bytes(bytes) as f32 / 2_147_483_648.0),
            ),
            Self::F32 => samples.extend(whole(bytes).map(|&bytes| f32::from_le_bytes(bytes))),
            Self::F64 => {
                samples.extend(whole(bytes).map(|&bytes| f64::from_le_bytes(bytes) as f32));
            }
        }
    }

    /// Appends `samples` to `bytes`. Integers are rounded to nearest and held at full scale; NaN
    /// becomes 0.
    pub fn encode(self, samples: &[f32], bytes: &mut Vec<u8>) {
        for &sample in samples {
            let scaled = |bits: i32| (f64::from(sample) * 2f64.powi(bits - 1)).round();
            match self {
                Self::U8 => bytes.push((scaled(8) + 128.0) as u8),
                Self::I16 => bytes.extend_from_slice(&(scaled(16) as i16).to_le_bytes()),
                Self::I24 => {
                    let held = scaled(24).clamp(-8_388_608.0, 8_388_607.0) as i32;
                    bytes.extend_from_slice(&held.to_le_bytes()[..3]);
                }
                Self::I32 => bytes.extend_from_slice(&(scaled(32) as i32).to_le_bytes()),
                Self::F32 => bytes.extend_from_slice(&sample.to_le_bytes()),
                Self::F64 => bytes.extend_from_slice(&f64::from(sample).to_le_bytes()),
            }
        }
    }
}

fn whole<const N: usize>(bytes: &[u8]) -> impl Iterator<Item = &[u8; N]> {
    bytes.as_chunks::<N>().0.iter()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decoded(format: SampleFormat, bytes: &[u8]) -> Vec<f32> {
        let mut samples = Vec::new();
        format.decode(bytes, &mut samples);
        samples
    }

    #[test]
    fn the_extremes_and_silence_of_each_format_are_minus_one_below_one_and_zero() {
        assert_eq!(decoded(SampleFormat::U8, &[0, 128, 255]), [-1.0, 0.0, 127.0 / 128.0]);
        assert_eq!(
            decoded(SampleFormat::I16, &[0, 0x80, 0, 0, 0xff, 0x7f]),
            [-1.0, 0.0, 32_767.0 / 32_768.0]
        );
        assert_eq!(
            decoded(SampleFormat::I24, &[0, 0, 0x80, 0, 0, 0, 0xff, 0xff, 0x7f]),
            [-1.0, 0.0, 8_388_607.0 / 8_388_608.0]
        );
        assert_eq!(decoded(SampleFormat::I32, &[0, 0, 0, 0x80, 0, 0, 0, 0]), [-1.0, 0.0]);
        assert_eq!(decoded(SampleFormat::F64, &f64::MAX.to_le_bytes()), [f32::INFINITY]);
    }

    #[test]
    fn samples_over_full_scale_are_held_and_no_numbers_are_silence() {
        for format in SampleFormat::ALL.into_iter().filter(|format| !format.is_float()) {
            let mut bytes = Vec::new();
            format.encode(&[9.0, -9.0, f32::NAN], &mut bytes);
            let samples = decoded(format, &bytes);
            assert!(samples[0] > 0.99 && samples[0] <= 1.0, "{format:?}");
            assert_eq!(samples[1], -1.0, "{format:?}");
            assert!(samples[2] == 0.0 || format == SampleFormat::U8, "{format:?}");
        }
    }
}
