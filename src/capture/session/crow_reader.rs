//! What a session needs of a reader.

use crate::reading::{Analysis, Crow, CrowTracks, Now, OctavesNow, Reader};
use crate::take::Faults;

/// What finds and reads the crows of one take; [`Reader`] does.
pub trait CrowReader {
    /// Takes the next samples and returns the crows that ended in them.
    fn push(&mut self, samples: &[f32]) -> Vec<(Crow, CrowTracks)>;
    /// What sounds now.
    fn now(&self) -> Now;
    /// Which octaves sound now.
    fn octaves_now(&self) -> OctavesNow {
        OctavesNow::default()
    }
    /// What has ended and seems to be a crow, once, before it is known to be one.
    fn first_look(&mut self) -> Option<Crow> {
        None
    }
    /// Start of what sounds now, in seconds of this reader's samples. It may turn out to be no
    /// crow; where [`Now::hz`] is told, it has a tone.
    fn pending_since_s(&self) -> Option<f64>;
    /// Ends the take.
    fn finish(self, source: &str, channels: u16, channel: u16, faults: Faults) -> Analysis;
}

impl CrowReader for Reader {
    fn push(&mut self, samples: &[f32]) -> Vec<(Crow, CrowTracks)> {
        Self::push(self, samples)
    }
    fn now(&self) -> Now {
        Self::now(self)
    }
    fn octaves_now(&self) -> OctavesNow {
        Self::octaves_now(self)
    }
    fn first_look(&mut self) -> Option<Crow> {
        Self::first_look(self)
    }
    fn pending_since_s(&self) -> Option<f64> {
        Self::pending_since_s(self)
    }
    fn finish(self, source: &str, channels: u16, channel: u16, faults: Faults) -> Analysis {
        Self::finish(self, source, channels, channel, faults)
    }
}
