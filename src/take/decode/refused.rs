//! What cannot be decoded, and why, in a maker's words.

use std::io;

use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::{
    AudioCodecId, AudioDecoder, AudioDecoderOptions, well_known as codec,
};
use symphonia::core::errors::Error;
use symphonia::core::formats::Track;

use super::edit::UNREAD_SOUNDS;
use super::opus;
use crate::take::TakeError;

/// Why a recording cannot be decoded, as [`TakeError::Decode`] has it.
pub const WHY: [&str; 9] = [
    NO_SOUND,
    UNKNOWN_KIND,
    KIND_NOT_READ,
    TOO_MUCH,
    TOO_SHORT,
    DAMAGED,
    NO_SUCH_PLACE,
    super::caf::CONTRADICTS_ITSELF,
    MOSTLY_MISSING,
];
pub const NO_SOUND: &str = "it holds no sound of a known kind";
const UNKNOWN_KIND: &str = "its sound is of an unknown kind";
const KIND_NOT_READ: &str = "its sound is of a kind that is not read";
const TOO_MUCH: &str = "its header asks for more than is possible";
const TOO_SHORT: &str = "it ends too soon";
pub const DAMAGED: &str = "its data is damaged";
const NO_SUCH_PLACE: &str = "its header gives a place that is not in it";
pub const MOSTLY_MISSING: &str = "its data is damaged: more of it is missing than is there";

/// The decoder of a track, or why there is none.
pub fn decoder_of(track: &Track) -> Result<Box<dyn AudioDecoder>, TakeError> {
    let Some(CodecParameters::Audio(params)) = &track.codec_params else {
        return Err(TakeError::Decode(UNKNOWN_KIND));
    };
    if opus::is_opus(params) {
        return opus::Opus::new(params).map(|decoder| Box::new(decoder) as _).map_err(|error| {
            match error {
                Error::Unsupported(_) => TakeError::NotRead(OPUS_SURROUND),
                error => TakeError::Decode(why(&error)),
            }
        });
    }
    symphonia::default::get_codecs()
        .make_audio_decoder(params, &AudioDecoderOptions::default().gapless(false))
        .map_err(|error| match (codec_name(params.codec), error) {
            (Some(name), _) => TakeError::NotRead(name),
            (None, error) => TakeError::Decode(why(&error)),
        })
}

/// Sounds that a container may hold and that are not read, as [`TakeError::NotRead`] has them.
pub fn not_read() -> impl Iterator<Item = &'static str> {
    let codecs = NOT_READ.iter().map(|(_, name)| *name);
    codecs.chain([OPUS_SURROUND]).chain(UNREAD_SOUNDS.iter().map(|(_, name)| *name))
}

/// An Opus of a kind that is not read.
const OPUS_SURROUND: &str = "Opus of more than two channels";

/// Codecs that a container may hold and that are not read.
const NOT_READ: [(AudioCodecId, &str); 8] = [
    (codec::CODEC_ID_SPEEX, "Speex"),
    (codec::CODEC_ID_AC3, "Dolby AC-3"),
    (codec::CODEC_ID_EAC3, "Dolby AC-3"),
    (codec::CODEC_ID_AC4, "Dolby AC-3"),
    (codec::CODEC_ID_WMA, "Windows Media (WMA)"),
    (codec::CODEC_ID_WAVPACK, "WavPack"),
    (codec::CODEC_ID_MP1, "MPEG layer I"),
    (codec::CODEC_ID_MP2, "MPEG layer II"),
];

fn codec_name(id: AudioCodecId) -> Option<&'static str> {
    NOT_READ.iter().find(|(known, _)| *known == id).map(|(_, name)| *name)
}

/// What an error before the first packet means.
pub fn opening_error(error: Error) -> TakeError {
    match error {
        Error::IoError(error) if error.kind() == io::ErrorKind::UnexpectedEof => {
            TakeError::CutOffInHeader
        }
        Error::IoError(error) if is_damage(&error) => TakeError::Decode(NO_SUCH_PLACE),
        Error::IoError(error) => error.into(),
        Error::Unsupported(what) if what.contains("missing moov") => TakeError::NoIndex,
        error => TakeError::Decode(why(&error)),
    }
}

/// What a decoder says, in a maker's words.
pub fn why(error: &Error) -> &'static str {
    match error {
        Error::Unsupported(_) => KIND_NOT_READ,
        Error::LimitError(_) => TOO_MUCH,
        Error::IoError(_) => TOO_SHORT,
        _ => DAMAGED,
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
