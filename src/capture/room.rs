//! The last seconds of what the microphone heard, all channels, so that a take can begin before
//! its first crow does.

use std::collections::VecDeque;

/// The last frames heard; older ones are forgotten, so that memory does not grow.
#[derive(Debug)]
pub(super) struct Room {
    samples: VecDeque<f32>,
    channels: usize,
    keep_frames: u64,
    first_frame: u64,
}

impl Room {
    pub fn new(channels: usize, keep_frames: u64) -> Self {
        Self { samples: VecDeque::new(), channels, keep_frames, first_frame: 0 }
    }

    /// Counted from the first frame ever heard.
    pub fn first_frame(&self) -> u64 {
        self.first_frame
    }

    pub fn end_frame(&self) -> u64 {
        self.first_frame + (self.samples.len() / self.channels) as u64
    }

    /// Adds whole frames.
    pub fn push(&mut self, frames: &[f32]) {
        self.samples.extend(frames);
        let too_many = (self.end_frame() - self.first_frame).saturating_sub(self.keep_frames);
        self.samples.drain(..too_many as usize * self.channels);
        self.first_frame += too_many;
    }

    /// Forgets all that was heard; the count goes on.
    pub fn forget(&mut self) {
        self.first_frame = self.end_frame();
        self.samples.clear();
    }

    /// One channel from `frame` on (or from the oldest kept, when that is later).
    pub fn channel_since(&self, frame: u64, channel: usize) -> Vec<f32> {
        let skip = frame.saturating_sub(self.first_frame) as usize;
        self.samples
            .iter()
            .skip(skip * self.channels + channel)
            .step_by(self.channels)
            .copied()
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_oldest_frames_are_forgotten_and_the_count_goes_on() {
        let mut room = Room::new(2, 3);
        for frame in 0..5 {
            room.push(&[frame as f32, -(frame as f32)]);
        }
        assert_eq!((room.first_frame(), room.end_frame()), (2, 5));
        assert_eq!(room.channel_since(0, 0), [2.0, 3.0, 4.0]);
        assert_eq!(room.channel_since(4, 1), [-4.0]);
        assert_eq!(room.channel_since(9, 1), [] as [f32; 0]);
    }
}
