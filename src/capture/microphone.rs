//! An open microphone: samples in order, what was lost, and why it ended.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::sync::mpsc::{Receiver, sync_channel};
use std::time::{Duration, Instant};

use cpal::traits::StreamTrait;
use cpal::{ErrorKind, StreamConfig};
use ringbuf::traits::{Consumer, Observer, Split};
use ringbuf::{HeapCons, HeapRb};

use super::device::{cannot_open, refusal};
use super::stream::{Counts, Feed, open};
use super::{CaptureError, Input, Refusal, SoundFormat};
use crate::take::RATES_HZ;

/// A stalled program (a slow disk, a suspended terminal) may stay away this long before samples
/// are lost.
const RING_S: u32 = 10;

/// A device that sends nothing for this long has gone, whether the sound system says so or not.
const GONE_S: u64 = 5;

/// A microphone that records since it was opened, in the device's own default form.
pub struct Microphone {
    /// Dropping it closes the device.
    _stream: cpal::Stream,
    ring: HeapCons<f32>,
    counts: Arc<Counts>,
    reports: Receiver<cpal::Error>,
    name: String,
    format: SoundFormat,
    ended: Option<Refusal>,
    last_heard: Instant,
}

/// What one call of [`Microphone::read`] brought.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Piece {
    /// Frames read.
    pub frames: usize,
    /// Frames lost since the last call.
    pub lost_frames: u64,
}

impl Microphone {
    /// Opens `input` and begins to record.
    ///
    /// Errors: it does not open, or gives a form or rate that cannot be read.
    pub fn open(input: &Input) -> Result<Self, CaptureError> {
        let supported = input.config()?;
        let rate_hz = supported.sample_rate();
        if !RATES_HZ.contains(&rate_hz) {
            return Err(CaptureError::Rate { device: input.name.clone(), rate_hz });
        }
        let format = SoundFormat { sample_rate_hz: rate_hz, channels: supported.channels().max(1) };
        let capacity = (rate_hz * RING_S) as usize * usize::from(format.channels);
        let (producer, ring) = HeapRb::new(capacity).split();
        let counts = Arc::new(Counts::default());
        let feed = Feed::new(producer, format.channels, rate_hz, counts.clone());

        // Bounded and never waited for: a sound system in trouble may report without end.
        let (sender, reports) = sync_channel(4);
        let gaps = counts.clone();
        let on_error = move |error: cpal::Error| match error.kind() {
            ErrorKind::Xrun => gaps.gap.store(true, Ordering::Release),
            ErrorKind::DeviceChanged | ErrorKind::RealtimeDenied => {}
            _ => {
                let _ = sender.try_send(error);
            }
        };
        let config = StreamConfig::from(supported);
        let cannot_open = |error: cpal::Error| cannot_open(&input.name, refusal(&error));
        let stream = open(&input.device, config, supported.sample_format(), feed, on_error)
            .ok_or_else(|| CaptureError::Format {
                device: input.name.clone(),
                format: supported.sample_format().to_string(),
            })?
            .map_err(cannot_open)?;
        stream.play().map_err(cannot_open)?;
        Ok(Self {
            _stream: stream,
            ring,
            counts,
            reports,
            name: input.name.clone(),
            format,
            ended: None,
            last_heard: Instant::now(),
        })
    }

    /// Rate and channels of what it records.
    pub fn format(&self) -> SoundFormat {
        self.format
    }

    /// Appends what has been recorded since the last call to `samples`, interleaved, and returns at
    /// once. To be called several times a second.
    ///
    /// Errors: the device went away or fell silent; everything it recorded has been returned by
    /// earlier calls.
    pub fn read(&mut self, samples: &mut Vec<f32>) -> Result<Piece, CaptureError> {
        if let Ok(error) = self.reports.try_recv() {
            self.ended.get_or_insert_with(|| refusal(&error));
        }
        let channels = usize::from(self.format.channels);
        let frames = self.ring.occupied_len() / channels;
        samples.extend(self.ring.pop_iter().take(frames * channels));
        let lost_frames = self.counts.lost_frames.swap(0, Ordering::AcqRel);
        if frames > 0 {
            self.last_heard = Instant::now();
            return Ok(Piece { frames, lost_frames });
        }
        if let Some(reason) = &self.ended {
            let reason = reason.clone();
            return Err(CaptureError::Vanished { device: self.name.clone(), reason });
        }
        if self.last_heard.elapsed() > Duration::from_secs(GONE_S) {
            return Err(CaptureError::Silent { device: self.name.clone(), seconds: GONE_S });
        }
        Ok(Piece { frames, lost_frames })
    }
}
