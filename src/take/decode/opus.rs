//! Opus, decoded by the reference implementation (libopus through `opusic-c`), as Symphonia's other
//! decoders are driven.

use std::sync::Mutex;

use opusic_c::{Channels, Decoder, SampleRate};
use symphonia::core::audio::{
    AsGenericAudioBufferRef, AudioBuffer, AudioMut, AudioSpec, GenericAudioBufferRef, layouts,
};
use symphonia::core::codecs::CodecInfo;
use symphonia::core::codecs::audio::well_known::CODEC_ID_OPUS;
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, FinalizeResult};
use symphonia::core::errors::{Result, decode_error, unsupported_error};
use symphonia::core::packet::PacketRef;

/// Opus is decoded at 48 kHz whatever was recorded (RFC 7845, 5.1).
const RATE_HZ: u32 = 48_000;

/// The longest packet: 120 ms (RFC 6716, 3.2.5).
const LONGEST_FRAMES: usize = 5760;

static INFO: CodecInfo = CodecInfo { short_name: "opus", long_name: "Opus", profiles: &[] };

/// What the head of a stream says of its sound (RFC 7845, 5.1; in MP4 the same fields in the other order
/// of bytes, "Encapsulation of Opus in ISO Base Media File Format", 4.3.2, from memory).
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Head {
    /// Frames at 48 kHz before the sound begins.
    pub pre_skip: u16,
    /// Factor on the samples, from a gain in 1/256 dB.
    gain: f32,
}

impl Head {
    /// * `bytes`: from "OpusHead" on. Without such a head nothing is skipped and nothing amplified.
    pub fn of(bytes: Option<&[u8]>) -> Self {
        let plain = Self { pre_skip: 0, gain: 1.0 };
        let Some([b'O', b'p', b'u', b's', b'H', b'e', b'a', b'd', version, _, rest @ ..]) = bytes
        else {
            return plain;
        };
        let [a, b, _, _, _, _, c, d, ..] = *rest else { return plain };
        let number = |two: [u8; 2]| match version {
            0 => u16::from_be_bytes(two),
            _ => u16::from_le_bytes(two),
        };
        let gain_db = f32::from(number([c, d]).cast_signed()) / 256.0;
        Self { pre_skip: number([a, b]), gain: 10.0_f32.powf(gain_db / 20.0) }
    }
}

/// A decoder of one stream of one or two channels.
pub struct Opus {
    params: AudioCodecParameters,
    /// Never waited for: who decodes holds all of it.
    decoder: Mutex<Decoder>,
    channels: usize,
    gain: f32,
    /// Interleaved samples of one packet.
    pcm: Vec<f32>,
    decoded: AudioBuffer<f32>,
}

impl Opus {
    /// Errors: not one or two channels, which need more than one stream.
    pub fn new(params: &AudioCodecParameters) -> Result<Self> {
        let (channels, layout) = match params.channels.as_ref().map(|channels| channels.count()) {
            Some(1) => (Channels::Mono, layouts::CHANNEL_LAYOUT_MONO),
            Some(2) => (Channels::Stereo, layouts::CHANNEL_LAYOUT_STEREO),
            _ => return unsupported_error("opus: more than two channels"),
        };
        let Ok(decoder) = Decoder::new(channels, SampleRate::Hz48000) else {
            return decode_error("opus: no memory for a decoder");
        };
        Ok(Self {
            params: params.clone(),
            decoder: Mutex::new(decoder),
            channels: layout.count(),
            gain: Head::of(params.extra_data.as_deref()).gain,
            pcm: vec![0.0; LONGEST_FRAMES * layout.count()],
            decoded: AudioBuffer::new(AudioSpec::new(RATE_HZ, layout), LONGEST_FRAMES),
        })
    }
}

impl AudioDecoder for Opus {
    fn reset(&mut self) {
        // Where it cannot, the next packets decode to what they do.
        if let Ok(decoder) = self.decoder.get_mut() {
            let _ = decoder.reset();
        }
    }

    fn codec_info(&self) -> &CodecInfo {
        &INFO
    }

    fn codec_params(&self) -> &AudioCodecParameters {
        &self.params
    }

    fn decode_ref(&mut self, packet: &PacketRef<'_>) -> Result<GenericAudioBufferRef<'_>> {
        self.decoded.clear();
        // An empty packet would make up sound for one that was lost.
        if packet.data.is_empty() {
            return decode_error("opus: an empty packet");
        }
        let Ok(decoder) = self.decoder.get_mut() else {
            return decode_error("opus: a decoder that broke down");
        };
        let Ok(frames) = decoder.decode_float_to_slice(packet.data, &mut self.pcm, false) else {
            return decode_error("opus: a damaged packet");
        };
        let Some(pcm) = self.pcm.get_mut(..frames * self.channels) else {
            return decode_error("opus: a packet longer than possible");
        };
        pcm.iter_mut().for_each(|sample| *sample *= self.gain);
        self.decoded.render_uninit(Some(frames));
        self.decoded.copy_from_slice_interleaved(&pcm);
        Ok(self.decoded.as_generic_audio_buffer_ref())
    }

    fn finalize(&mut self) -> FinalizeResult {
        FinalizeResult::default()
    }

    fn last_decoded(&self) -> GenericAudioBufferRef<'_> {
        self.decoded.as_generic_audio_buffer_ref()
    }
}

/// Whether a stream is Opus.
pub fn is_opus(params: &AudioCodecParameters) -> bool {
    params.codec == CODEC_ID_OPUS
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_head_says_what_to_skip_and_how_loud_it_is() {
        // RFC 7845, figure 2: version, channels, pre-skip, rate, gain, mapping; low byte first.
        let ogg =
            [b"OpusHead\x01\x01", &[0x38, 0x01, 0x80, 0xbb, 0, 0, 0x00, 0xfa, 0][..]].concat();
        let head = Head::of(Some(&ogg));
        assert_eq!(head.pre_skip, 312);
        // 0xfa00 is −1536, and 1536/256 are 6 dB.
        assert!((20.0 * head.gain.log10() + 6.0).abs() < 1e-4, "{head:?}");
        let mp4 =
            [b"OpusHead\x00\x01", &[0x01, 0x38, 0, 0, 0xbb, 0x80, 0xfa, 0x00, 0][..]].concat();
        assert_eq!(Head::of(Some(&mp4)), head);
        for length in 0..18 {
            assert_eq!(Head::of(ogg.get(..length)), Head { pre_skip: 0, gain: 1.0 });
        }
        assert_eq!(Head::of(None).gain, 1.0);
    }
}
