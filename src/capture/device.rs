//! The inputs of this machine: which there are, which is the default, what they give.

use cpal::traits::{DeviceTrait, HostTrait};
use cpal::{Device, ErrorKind, Host, SupportedStreamConfig};

use super::{CaptureError, Refusal};
use crate::system::System;

/// What ALSA lists among its inputs and is not a microphone, or is another way to one that is
/// listed anyway: converters, outputs, shared access to a card.
const NO_MICROPHONES: [&str; 20] = [
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
    "iec958",
    "hdmi",
    "front",
    "rear",
    "center_lfe",
    "side",
    "dsnoop",
    "usbstream",
    "modem",
    "phoneline",
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
    config: Result<SupportedStreamConfig, Refusal>,
    formats: Vec<InputFormat>,
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
        &self.formats
    }

    /// Why it does not open now; `None` when it does.
    pub fn trouble(&self) -> Option<&Refusal> {
        self.config.as_ref().err()
    }

    pub(super) fn config(&self) -> Result<SupportedStreamConfig, CaptureError> {
        self.config.clone().map_err(|refusal| cannot_open(&self.name, refusal))
    }

    /// Opens the device once to learn what it gives.
    fn probe(found: Found) -> Self {
        let Found { device, id: _, name, description, is_default } = found;
        let config = device.default_input_config().map_err(|error| refusal(&error));
        let formats = match &config {
            Ok(_) => formats_of(&device),
            Err(_) => Vec::new(),
        };
        Self { name, description, is_default, device, config, formats }
    }
}

/// An input that has not been opened yet: opening takes time and disturbs what others record.
struct Found {
    device: Device,
    /// The sound system's own, which only some make for people.
    id: String,
    name: String,
    description: String,
    is_default: bool,
}

impl Found {
    fn new(device: Device, default_id: Option<&str>) -> Option<Self> {
        let id = device.id().ok()?.id().to_owned();
        let description =
            device.description().map_or_else(|_| id.clone(), |text| text.name().to_owned());
        let is_default = default_id == Some(id.as_str());
        let name = usual_name(System::HERE, &id, &description).to_owned();
        Some(Self { device, id, name, description, is_default })
    }

    /// Every microphone that the sound system lists, and its default.
    fn all(host: &Host) -> Result<Vec<Self>, CaptureError> {
        let default_id = default_id(host);
        let listed = host.input_devices().map_err(no_sound_system)?;
        let mut all: Vec<Self> = Vec::new();
        // The default is a name of its own in some sound systems, and not always listed.
        for device in listed.chain(host.default_input_device()) {
            let Some(mut found) = Self::new(device, default_id.as_deref()) else { continue };
            if is_microphone(&found.id) && all.iter().all(|known| known.id != found.id) {
                found.name = unused(found.name, |name| all.iter().any(|known| known.name == name));
                all.push(found);
            }
        }
        Ok(all)
    }
}

/// What an input is called. Names of ALSA's inputs are made to be typed; Windows' and macOS' are not, and
/// their descriptions are what other programs show.
fn usual_name<'a>(system: System, id: &'a str, description: &'a str) -> &'a str {
    match system {
        System::Unix => id,
        System::Windows | System::Mac => description,
    }
}

/// `name`, with a number behind it where another input has it.
fn unused(name: String, is_used: impl Fn(&str) -> bool) -> String {
    let numbered = (2..).map(|number| format!("{name} ({number})"));
    std::iter::once(name.clone()).chain(numbered).find(|name| !is_used(name)).unwrap_or(name)
}

fn is_microphone(name: &str) -> bool {
    let kind = name.split(':').next().unwrap_or_default();
    !NO_MICROPHONES.contains(&kind) && !kind.starts_with("surround")
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

/// The inputs, the default first; those that do not open now come last, with their trouble. A
/// default that does not open is none. Converters that the sound system lists as inputs are left
/// out.
///
/// Errors: no sound system.
pub fn inputs() -> Result<Vec<Input>, CaptureError> {
    let host = host();
    let mut all: Vec<Input> = Found::all(&host)?.into_iter().map(Input::probe).collect();
    all.retain(|input| !(input.is_default && input.trouble().is_some()));
    all.sort_by_key(|input| (!input.is_default, input.trouble().is_some()));
    Ok(all)
}

/// The default input.
///
/// Errors: there is none, or it does not open.
pub fn default_input() -> Result<Input, CaptureError> {
    let host = host();
    let device = host.default_input_device().ok_or(CaptureError::NoDefault(Refusal::NamesNone))?;
    let default_id = default_id(&host);
    let found = Found::new(device, default_id.as_deref());
    let input = Input::probe(found.ok_or(CaptureError::NoDefault(Refusal::Nameless))?);
    match &input.config {
        Err(Refusal::Denied) => Err(CaptureError::Denied(input.name)),
        Err(refusal) => Err(CaptureError::NoDefault(refusal.clone())),
        Ok(_) => Ok(input),
    }
}

/// The input called `name`: its whole name or description, else a part that fits only one; letter
/// case does not matter.
///
/// Errors: none or several match.
pub fn find_input(name: &str) -> Result<Input, CaptureError> {
    let host = host();
    let mut all = Found::all(&host)?;
    let names = all.iter().map(|found| (found.name.as_str(), found.description.as_str()));
    let by_id = all.iter().position(|found| found.id == name);
    if let Some(index) = by_id.or_else(|| choose(name, names.clone())) {
        return Ok(Input::probe(all.swap_remove(index)));
    }
    let wanted = name.to_lowercase();
    let matches: Vec<String> = names
        .filter(|(name, text)| contains(name, &wanted) || contains(text, &wanted))
        .map(|(name, _)| name.to_owned())
        .collect();
    Err(if matches.is_empty() {
        let known = all.into_iter().map(|found| found.name).collect();
        CaptureError::UnknownDevice { name: name.to_owned(), known }
    } else {
        CaptureError::AmbiguousDevice { name: name.to_owned(), matches }
    })
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
    CaptureError::NoSoundSystem(refusal(&error))
}

/// That the input called `name` does not open.
pub(super) fn cannot_open(name: &str, reason: Refusal) -> CaptureError {
    let device = name.to_owned();
    match reason {
        Refusal::Denied => CaptureError::Denied(device),
        reason => CaptureError::CannotOpen { device, reason },
    }
}

/// What is wrong.
pub(super) fn refusal(error: &cpal::Error) -> Refusal {
    match error.kind() {
        ErrorKind::DeviceNotAvailable => Refusal::Missing,
        ErrorKind::DeviceBusy => Refusal::Busy,
        _ if is_denied(error) => Refusal::Denied,
        _ => plain(&error.to_string()),
    }
}

/// What Windows answers where its settings keep programs from the microphone, which comes as text alone:
/// E_ACCESSDENIED, 0x80070005 (Microsoft, "Common HRESULT Values", from memory).
const ACCESS_DENIED: &str = "(os error -2147024891)";

/// Whether the system's settings forbid it.
fn is_denied(error: &cpal::Error) -> bool {
    error.kind() == ErrorKind::PermissionDenied
        || error.kind() == ErrorKind::BackendError && error.to_string().contains(ACCESS_DENIED)
}

/// What the sound system says without the names of its functions:
/// `ALSA function 'snd_pcm_open' failed with error 'Connection refused (111)'` says
/// `Connection refused (111)`.
fn plain(text: &str) -> Refusal {
    let quoted =
        text.split_once("failed with error '").map(|(_, rest)| rest.trim_end_matches('\''));
    match quoted {
        Some(reason) if reason.starts_with("Unknown errno") => Refusal::Stopped,
        Some(reason) => Refusal::Says(reason.to_owned()),
        None => {
            let words: Vec<&str> = text.split_whitespace().collect();
            Refusal::Says(words.join(" ").trim_end_matches('.').to_owned())
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

    #[test]
    fn inputs_are_called_what_other_programs_call_them() {
        let id = "{0.0.1.00000000}.{5c0b5b0e-6d0a-4b6e-9b57-000000000000}";
        let microphone = "Microphone (USB Audio)";
        assert_eq!(usual_name(System::Windows, id, microphone), microphone);
        assert_eq!(usual_name(System::Mac, "BuiltInMicrophoneDevice", "MacBook"), "MacBook");
        assert_eq!(usual_name(System::Unix, "hw:0", "USB mic"), "hw:0");
        assert_eq!(unused("USB".into(), |name| name == "USB"), "USB (2)");
        assert_eq!(unused("USB".into(), |_| false), "USB");
    }

    #[test]
    fn a_microphone_that_the_settings_forbid_is_told_apart() {
        let error = |kind, text: &'static str| cpal::Error::with_message(kind, text);
        for forbidden in [
            error(ErrorKind::PermissionDenied, ""),
            error(ErrorKind::BackendError, "Zugriff verweigert (os error -2147024891)"),
        ] {
            assert_eq!(refusal(&forbidden), Refusal::Denied);
        }
        let other = error(ErrorKind::BackendError, "no (os error -2147024809)");
        assert_ne!(refusal(&other), Refusal::Denied);
    }

    #[test]
    fn converters_and_outputs_are_no_microphones() {
        for name in ["null", "surround51:CARD=0", "hdmi:CARD=1,DEV=0", "front:CARD=0,DEV=0"] {
            assert!(!is_microphone(name), "{name}");
        }
        for name in ["default", "pulse", "hw:CARD=0,DEV=0", "sysdefault:CARD=0", "jackmic"] {
            assert!(is_microphone(name), "{name}");
        }
    }

    #[test]
    fn reasons_are_told_without_the_names_of_functions() {
        let alsa =
            |error: &str| format!("ALSA function 'snd_pcm_open' failed with error '{error}'");
        let says = |text: &str| Refusal::Says(text.to_owned());
        assert_eq!(plain(&alsa("Connection refused (111)")), says("Connection refused (111)"));
        assert_eq!(plain(&alsa("Unknown errno (-5)")), Refusal::Stopped);
        assert_eq!(plain("No supported\n  configuration."), says("No supported configuration"));
    }
}
