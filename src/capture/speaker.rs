//! A sound through this machine's loudspeaker, for takes heard again and the target note.

use std::time::Duration;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{FromSample, SampleFormat, SizedSample};

use super::Refusal;
use super::device::refusal;

/// Plays what `sound` gives for the loudspeaker's rate, and returns when it is over.
///
/// * `sound`: samples of one channel, full scale ±1, for a rate in hertz.
///
/// Errors: why nothing can be heard.
pub fn play(sound: impl FnOnce(u32) -> Vec<f32>) -> Result<(), Refusal> {
    let device = cpal::default_host().default_output_device().ok_or(Refusal::NoLoudspeaker)?;
    let supported = device.default_output_config().map_err(|error| refusal(&error))?;
    let rate_hz = supported.sample_rate();
    let samples = sound(rate_hz);
    let length = Duration::from_secs_f64(samples.len() as f64 / f64::from(rate_hz.max(1)));
    let config = cpal::StreamConfig::from(supported);
    let stream = match supported.sample_format() {
        SampleFormat::F32 => open::<f32>(&device, config, samples),
        SampleFormat::I32 => open::<i32>(&device, config, samples),
        SampleFormat::I16 => open::<i16>(&device, config, samples),
        SampleFormat::U8 => open::<u8>(&device, config, samples),
        other => return Err(Refusal::LoudspeakerFormat(other.to_string())),
    }
    .map_err(|error| refusal(&error))?;
    stream.play().map_err(|error| refusal(&error))?;
    // What is on its way to the loudspeaker is heard too.
    std::thread::sleep(length + Duration::from_millis(200));
    Ok(())
}

fn open<T>(
    device: &cpal::Device,
    config: cpal::StreamConfig,
    samples: Vec<f32>,
) -> Result<cpal::Stream, cpal::Error>
where
    T: SizedSample + FromSample<f32>,
{
    let channels = usize::from(config.channels.max(1));
    let mut samples = samples.into_iter();
    device.build_output_stream(
        config,
        move |data: &mut [T], _: &cpal::OutputCallbackInfo| {
            for frame in data.chunks_mut(channels) {
                let sample = T::from_sample(samples.next().unwrap_or(0.0));
                frame.fill(sample);
            }
        },
        |_| {},
        None,
    )
}
