//! What the last check said of each microphone.

use super::Log;
use crate::log::LogError;
use crate::reading::CheckedMicrophone;

/// The name of the setting for a device.
fn kept_as(device: &str) -> String {
    format!("microphone {device}")
}

impl Log {
    /// What the last check said of this device; `None` where it was never checked.
    pub fn microphone(&self, device: &str) -> Result<Option<CheckedMicrophone>, LogError> {
        self.setting(&kept_as(device))
    }

    /// Keeps what a check said, in place of what the one before it said.
    pub fn keep_microphone(&mut self, checked: &CheckedMicrophone) -> Result<(), LogError> {
        self.set(&kept_as(&checked.device), checked)
    }
}
