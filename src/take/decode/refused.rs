//! What cannot be decoded, and why.

use std::io;

use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::{
    AudioCodecId, AudioDecoder, AudioDecoderOptions, well_known as codec,
};
use symphonia::core::errors::Error;
use symphonia::core::formats::Track;

use super::opus;
use crate::take::{TakeError, Undecodable, Unread};

/// The decoder of a track, or why there is none.
pub fn decoder_of(track: &Track) -> Result<Box<dyn AudioDecoder>, TakeError> {
    let Some(CodecParameters::Audio(params)) = &track.codec_params else {
        return Err(TakeError::Decode(Undecodable::UnknownKind));
    };
    if opus::is_opus(params) {
        return opus::Opus::new(params).map(|decoder| Box::new(decoder) as _).map_err(|error| {
            match error {
                Error::Unsupported(_) => TakeError::NotRead(Unread::OpusSurround),
                error => TakeError::Decode(why(&error)),
            }
        });
    }
    symphonia::default::get_codecs()
        .make_audio_decoder(params, &AudioDecoderOptions::default().gapless(false))
        .map_err(|error| match (unread(params.codec), error) {
            (Some(sound), _) => TakeError::NotRead(sound),
            (None, error) => TakeError::Decode(why(&error)),
        })
}

/// Codecs that a container may hold and that are not read.
const NOT_READ: [(AudioCodecId, Unread); 8] = [
    (codec::CODEC_ID_SPEEX, Unread::Speex),
    (codec::CODEC_ID_AC3, Unread::Ac3),
    (codec::CODEC_ID_EAC3, Unread::Ac3),
    (codec::CODEC_ID_AC4, Unread::Ac3),
    (codec::CODEC_ID_WMA, Unread::WindowsMedia),
    (codec::CODEC_ID_WAVPACK, Unread::WavPack),
    (codec::CODEC_ID_MP1, Unread::MpegLayer1),
    (codec::CODEC_ID_MP2, Unread::MpegLayer2),
];

fn unread(id: AudioCodecId) -> Option<Unread> {
    NOT_READ.iter().find(|(known, _)| *known == id).map(|(_, sound)| *sound)
}

/// What an error before the first packet means.
pub fn opening_error(error: Error) -> TakeError {
    match error {
        Error::IoError(error) if error.kind() == io::ErrorKind::UnexpectedEof => {
            TakeError::CutOffInHeader
        }
        Error::IoError(error) if is_damage(&error) => TakeError::Decode(Undecodable::NoSuchPlace),
        Error::IoError(error) => error.into(),
        Error::Unsupported(what) if what.contains("missing moov") => TakeError::NoIndex,
        error => TakeError::Decode(why(&error)),
    }
}

/// What a decoder says.
pub fn why(error: &Error) -> Undecodable {
    match error {
        Error::Unsupported(_) => Undecodable::KindNotRead,
        Error::LimitError(_) => Undecodable::TooMuch,
        Error::IoError(_) => Undecodable::TooShort,
        _ => Undecodable::Damaged,
    }
}

/// Whether an error of reading comes from what the file says of itself: an end that comes too
/// soon, or a place before its start.
fn is_damage(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::UnexpectedEof | io::ErrorKind::InvalidInput | io::ErrorKind::Other
    )
}
