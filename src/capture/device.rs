//! The inputs of this machine: which there are, which is the default, what they give.

use cpal::traits::{DeviceTrait, HostTrait};
use cpal::{Device, ErrorKind, Host, SupportedStreamConfig};

use super::CaptureError;

/// ALSA lists converters and outputs among its inputs; none of them is a microphone.
const NO_MICROPHONES: [&str; 13] = [
    "null",
    "lavrate",
    "samplerate",
    "speexrate",
    "jack",
    "oss",
    "speex",
    "upmix",
    "vdownmix",
    "dmix",
    "surround",
    "iec958",
    "hdmi",
];

/// One input.
#[derive(Clone)]
pub struct Input {
    /// What to type after `--device`.
    pub name: String,
    /// What it is, in the sound system's words; may be the same as `name`.
    pub description: String,
    /// Whether it is recorded from when no device is named.
    pub is_default: bool,
    pub(super) device: Device,
    config: Result<SupportedStreamConfig, String>,
    ranges: Vec<InputFormat>,
}

/// One form in which an input gives samples.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct InputFormat {
    /// Fewest channels.
    pub min_channels: u16,
    /// Most channels.
    pub max_channels: u16,
    /// Form of its samples: `i16`, `i32`, `f32` …
    pub format: String,
    /// Lowest samples per second.
    pub min_rate_hz: u32,
    /// Highest samples per second.
    pub max_rate_hz: u32,
}

impl Input {
    /// The form recorded in: the device's own default.
    pub fn default_format(&self) -> Option<InputFormat> {
        self.config.as_ref().ok().map(|config| InputFormat {
            min_channels: config.channels(),
            max_channels: config.channels(),
            format: config.sample_format().to_string(),
            min_rate_hz: config.sample_rate(),
            max_rate_hz: config.sample_rate(),
        })
    }

    /// Every form it offers.
    pub fn formats(&self) -> &[InputFormat] {
        &self.ranges
    }

    /// Why it does not open now; `None` when it does.
    pub fn trouble(&self) -> Option<&str> {
        self.config.as_ref().err().map(String::as_str)
    }

    pub(super) fn config(&self) -> Result<SupportedStreamConfig, CaptureError> {
        self.config.clone().map_err(|reason| CaptureError::CannotOpen {
            device: self.name.clone(),
            reason,
            remedy: "close other programs that record, check the permission to use the \
                     microphone, or pick another with --device",
        })
    }

    fn probe(device: Device, default_id: Option<&str>) -> Option<Self> {
        let name = device.id().ok()?.id().to_owned();
        let description =
            device.description().map_or_else(|_| name.clone(), |text| text.name().to_owned());
        let config = device.default_input_config().map_err(|error| one_line(&error));
        let ranges = match &config {
            Ok(_) => formats_of(&device),
            Err(_) => Vec::new(),
        };
        let is_default = default_id == Some(name.as_str());
        Some(Self { name, description, is_default, device, config, ranges })
    }
}

/// cpal lists every count of channels by itself; those of one form and rate are one here.
fn formats_of(device: &Device) -> Vec<InputFormat> {
    let mut formats: Vec<InputFormat> = Vec::new();
    for range in device.supported_input_configs().into_iter().flatten() {
        let format = range.sample_format().to_string();
        let (min_rate_hz, max_rate_hz) = (range.min_sample_rate(), range.max_sample_rate());
        let channels = range.channels();
        let same = formats.iter_mut().find(|known| {
            known.format == format
                && (known.min_rate_hz, known.max_rate_hz) == (min_rate_hz, max_rate_hz)
        });
        match same {
            Some(known) => {
                known.min_channels = known.min_channels.min(channels);
                known.max_channels = known.max_channels.max(channels);
            }
            None => formats.push(InputFormat {
                min_channels: channels,
                max_channels: channels,
                format,
                min_rate_hz,
                max_rate_hz,
            }),
        }
    }
    formats
}

/// The inputs, the default first; those that do not open now are among them, with their trouble.
/// Converters that the sound system lists as inputs are left out.
///
/// Errors: no sound system.
pub fn inputs() -> Result<Vec<Input>, CaptureError> {
    let host = host();
    let default_id = default_id(&host);
    let devices = host.input_devices().map_err(no_sound_system)?;
    let mut found: Vec<Input> = Vec::new();
    for device in devices {
        let Ok(id) = device.id() else { continue };
        let kind = id.id().split(':').next().unwrap_or_default();
        if NO_MICROPHONES.iter().any(|name| kind.starts_with(name))
            || found.iter().any(|known| known.name == id.id())
        {
            continue;
        }
        found.extend(Input::probe(device, default_id.as_deref()));
    }
    // The default is a name of its own in some sound systems, and not always listed.
    if !found.iter().any(|input| input.is_default)
        && let Some(device) = host.default_input_device()
        && let Some(input) = Input::probe(device, default_id.as_deref())
        && input.trouble().is_none()
    {
        found.push(input);
    }
    found.sort_by_key(|input| (!input.is_default, input.trouble().is_some()));
    Ok(found)
}

/// The default input.
///
/// Errors: there is none, or it does not open.
pub fn default_input() -> Result<Input, CaptureError> {
    let host = host();
    let no_default = |reason: &str| CaptureError::NoDefault(reason.to_owned());
    let device =
        host.default_input_device().ok_or_else(|| no_default("the sound system names none"))?;
    let default_id = default_id(&host);
    let input = Input::probe(device, default_id.as_deref())
        .ok_or_else(|| no_default("the sound system does not name it"))?;
    match input.trouble() {
        Some(reason) => Err(no_default(reason)),
        None => Ok(input),
    }
}

/// The input called `name`: its whole name or description, else a part of one that fits only one
/// of those that open; letter case does not matter.
///
/// Errors: none or several match.
pub fn find_input(name: &str) -> Result<Input, CaptureError> {
    let all = inputs()?;
    let names = all.iter().map(|input| (input.name.as_str(), input.description.as_str()));
    match choose(name, names.clone()) {
        Some(index) => Ok(all[index].clone()),
        None => {
            let wanted = name.to_lowercase();
            let matches: Vec<String> = names
                .filter(|(name, text)| contains(name, &wanted) || contains(text, &wanted))
                .map(|(name, _)| name.to_owned())
                .collect();
            Err(if matches.is_empty() {
                let usable = all.into_iter().filter(|input| input.trouble().is_none());
                CaptureError::UnknownDevice {
                    name: name.to_owned(),
                    known: usable.map(|input| input.name).collect(),
                }
            } else {
                CaptureError::AmbiguousDevice { name: name.to_owned(), matches }
            })
        }
    }
}

/// Index of the one of `(name, description)` that `wanted` means: exactly, else as the only part.
fn choose<'a>(
    wanted: &str,
    names: impl Iterator<Item = (&'a str, &'a str)> + Clone,
) -> Option<usize> {
    let wanted = wanted.to_lowercase();
    let exact =
        |(name, text): (&str, &str)| name.to_lowercase() == wanted || text.to_lowercase() == wanted;
    if let Some(index) = names.clone().position(exact) {
        return Some(index);
    }
    let mut partial = names
        .enumerate()
        .filter(|(_, (name, text))| contains(name, &wanted) || contains(text, &wanted));
    match (partial.next(), partial.next()) {
        (Some((index, _)), None) => Some(index),
        _ => None,
    }
}

fn contains(text: &str, lower_case_part: &str) -> bool {
    text.to_lowercase().contains(lower_case_part)
}

fn host() -> Host {
    hush();
    cpal::default_host()
}

/// alsa-lib writes to standard error whatever it did not find while it looks for devices, over
/// the maker's screen; cpal reports the same as errors. Keeps this thread's part of it quiet.
fn hush() {
    #[cfg(target_os = "linux")]
    {
        // Should it fail, the messages show: a blemish, no fault.
        let _ = alsa::Output::local_error_handler();
    }
}

fn default_id(host: &Host) -> Option<String> {
    Some(host.default_input_device()?.id().ok()?.id().to_owned())
}

fn no_sound_system(error: cpal::Error) -> CaptureError {
    CaptureError::NoSoundSystem(one_line(&error))
}

/// What is wrong, on one line and as a part of a sentence.
pub(super) fn one_line(error: &cpal::Error) -> String {
    match error.kind() {
        ErrorKind::DeviceNotAvailable => "it is not there".to_owned(),
        ErrorKind::DeviceBusy => "another program is using it".to_owned(),
        ErrorKind::PermissionDenied => "its use is not allowed".to_owned(),
        _ => {
            let text = error.to_string();
            text.split_whitespace().collect::<Vec<_>>().join(" ").trim_end_matches('.').to_owned()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NAMES: [(&str, &str); 3] =
        [("default", "Default Audio Device"), ("pulse", "PulseAudio"), ("hw:0", "USB mic")];

    #[test]
    fn a_name_is_found_whole_or_by_a_part_that_fits_one() {
        let find = |wanted| choose(wanted, NAMES.into_iter());
        assert_eq!(find("Pulse"), Some(1));
        assert_eq!(find("usb"), Some(2));
        assert_eq!(find("DEFAULT"), Some(0));
        assert_eq!(find("au"), None, "two fit");
        assert_eq!(find("nothing"), None);
    }
}
