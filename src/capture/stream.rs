//! The device's callback: samples of any form become f32 in a ring buffer.
//!
//! It runs on the sound system's own thread, where waiting loses samples: it neither allocates
//! nor locks nor writes anywhere but the ring. What does not fit is counted.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use cpal::traits::DeviceTrait;
use cpal::{
    Device, FromSample, InputCallbackInfo, SampleFormat, SizedSample, Stream, StreamConfig,
    StreamInstant,
};
use ringbuf::HeapProd;
use ringbuf::traits::{Observer, Producer};

/// What the callback tells the rest of the program.
#[derive(Debug, Default)]
pub(super) struct Counts {
    /// Frames that were delivered but did not fit, or that the sound system itself dropped.
    pub lost_frames: AtomicU64,
    /// The sound system has dropped frames since the last callback.
    pub gap: AtomicBool,
}

/// The callback's end of the ring.
pub(super) struct Feed {
    ring: HeapProd<f32>,
    channels: usize,
    sample_rate_hz: u32,
    counts: Arc<Counts>,
    next_capture: Option<StreamInstant>,
}

impl Feed {
    pub fn new(
        ring: HeapProd<f32>,
        channels: u16,
        sample_rate_hz: u32,
        counts: Arc<Counts>,
    ) -> Self {
        let channels = usize::from(channels.max(1));
        Self { ring, channels, sample_rate_hz, counts, next_capture: None }
    }

    /// Takes `data`, whole frames of interleaved samples, captured from `at` on.
    fn deliver<T: Copy>(&mut self, data: &[T], at: StreamInstant)
    where
        f32: FromSample<T>,
    {
        let frames = data.len() / self.channels;
        if self.counts.gap.swap(false, Ordering::AcqRel) {
            self.counts.lost_frames.fetch_add(self.gap_frames(at), Ordering::Release);
        }
        let nanos = frames as u64 * 1_000_000_000 / u64::from(self.sample_rate_hz.max(1));
        self.next_capture = Some(at + std::time::Duration::from_nanos(nanos));

        // Only whole frames, or the channels would change places.
        let fitting = frames.min(self.ring.vacant_len() / self.channels);
        let kept = data.iter().take(fitting * self.channels);
        self.ring.push_iter(kept.map(|&sample| f32::from_sample_(sample)));
        if fitting < frames {
            self.counts.lost_frames.fetch_add((frames - fitting) as u64, Ordering::Release);
        }
    }

    /// Frames between the end of the last callback's and `at`; at least one, as some were lost.
    fn gap_frames(&self, at: StreamInstant) -> u64 {
        let gap = self.next_capture.map(|expected| at.duration_since(expected));
        let frames = gap.map_or(0.0, |gap| gap.as_secs_f64() * f64::from(self.sample_rate_hz));
        (frames as u64).max(1)
    }
}

/// Opens `device` with `config` in the form `format`; the samples go to `feed`, what the sound
/// system reports to `on_error`. `None` for a form that holds no sound pressure.
pub(super) fn open(
    device: &Device,
    config: StreamConfig,
    format: SampleFormat,
    feed: Feed,
    on_error: impl FnMut(cpal::Error) + Send + 'static,
) -> Option<Result<Stream, cpal::Error>> {
    Some(match format {
        SampleFormat::I8 => open_as::<i8>(device, config, feed, on_error),
        SampleFormat::I16 => open_as::<i16>(device, config, feed, on_error),
        SampleFormat::I24 => open_as::<cpal::I24>(device, config, feed, on_error),
        SampleFormat::I32 => open_as::<i32>(device, config, feed, on_error),
        SampleFormat::I64 => open_as::<i64>(device, config, feed, on_error),
        SampleFormat::U8 => open_as::<u8>(device, config, feed, on_error),
        SampleFormat::U16 => open_as::<u16>(device, config, feed, on_error),
        SampleFormat::U24 => open_as::<cpal::U24>(device, config, feed, on_error),
        SampleFormat::U32 => open_as::<u32>(device, config, feed, on_error),
        SampleFormat::U64 => open_as::<u64>(device, config, feed, on_error),
        SampleFormat::F32 => open_as::<f32>(device, config, feed, on_error),
        SampleFormat::F64 => open_as::<f64>(device, config, feed, on_error),
        _ => return None,
    })
}

fn open_as<T: SizedSample>(
    device: &Device,
    config: StreamConfig,
    mut feed: Feed,
    on_error: impl FnMut(cpal::Error) + Send + 'static,
) -> Result<Stream, cpal::Error>
where
    f32: FromSample<T>,
{
    device.build_input_stream(
        config,
        move |data: &[T], info: &InputCallbackInfo| feed.deliver(data, info.timestamp().capture),
        on_error,
        None,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use ringbuf::traits::{Consumer, Split};
    use ringbuf::{HeapCons, HeapRb};

    fn feed(capacity: usize, channels: u16) -> (Feed, HeapCons<f32>, Arc<Counts>) {
        let (producer, consumer) = HeapRb::new(capacity).split();
        let counts = Arc::new(Counts::default());
        (Feed::new(producer, channels, 1000, counts.clone()), consumer, counts)
    }

    fn drained(ring: &mut HeapCons<f32>) -> Vec<f32> {
        ring.pop_iter().collect()
    }

    const START: StreamInstant = StreamInstant::ZERO;

    #[test]
    fn every_form_has_its_zero_at_0_and_its_lowest_value_at_minus_1() {
        fn check<T: Copy>(zero: T, lowest: T)
        where
            f32: FromSample<T>,
        {
            let (mut feed, mut ring, _) = feed(8, 1);
            feed.deliver(&[zero, lowest], START);
            assert_eq!(drained(&mut ring), [0.0, -1.0], "{}", std::any::type_name::<T>());
        }
        check(0_i8, i8::MIN);
        check(0_i16, i16::MIN);
        check(0_i32, i32::MIN);
        check(1_u8 << 7, 0);
        check(1_u16 << 15, 0);
        check(1_u32 << 31, 0);
        check(0.0_f32, -1.0);
        check(0.0_f64, -1.0);
    }

    #[test]
    fn a_full_ring_loses_whole_frames_and_counts_them() {
        let (mut feed, mut ring, counts) = feed(5, 2);
        feed.deliver(&[0.1_f32, -0.1, 0.2, -0.2, 0.3, -0.3], START);
        assert_eq!(drained(&mut ring), [0.1, -0.1, 0.2, -0.2]);
        assert_eq!(counts.lost_frames.load(Ordering::Acquire), 1);
        feed.deliver(&[0.4_f32, -0.4], START);
        assert_eq!(drained(&mut ring), [0.4, -0.4], "left stays left after a loss");
    }

    #[test]
    fn a_gap_that_the_sound_system_reports_is_counted_from_its_clock() {
        let (mut feed, _ring, counts) = feed(64, 1);
        feed.deliver(&[0.0_f32; 10], START);
        counts.gap.store(true, Ordering::Release);
        // 10 frames at 1 kHz ended at 10 ms; the next begin at 35 ms.
        feed.deliver(&[0.0_f32; 10], START + std::time::Duration::from_millis(35));
        assert_eq!(counts.lost_frames.load(Ordering::Acquire), 25);
    }
}
