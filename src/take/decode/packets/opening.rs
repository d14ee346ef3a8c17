//! A file opened: its container found and mended, its track and decoder chosen, and the first packet
//! decoded, so that rate and channels are known.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use symphonia::core::codecs::CodecParameters;
use symphonia::core::common::Limit;
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, Track, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream, ReadOnlySource};
use symphonia::core::meta::MetadataOptions;

use super::{LONGEST_PADDING, Packets};
use crate::take::decode::caf::Mended;
use crate::take::decode::edit::{Edit, unread_sound};
use crate::take::decode::front::{BareFlac, after_tags};
use crate::take::decode::guard::guarded;
use crate::take::decode::matroska::is_without_length;
use crate::take::decode::opus;
use crate::take::decode::refused::{decoder_of, opening_error, why};
use crate::take::decode::{Format, OPENING_BYTES};
use crate::take::{RATES_HZ, TakeError, Undecodable};

impl Packets {
    /// Opens a file and decodes until its rate and channels are known.
    ///
    /// Errors: no sound in it, a codec that is not read, or a rate outside those that are read.
    pub fn open(path: &Path, format: Format) -> Result<Self, TakeError> {
        Self::of_file(File::open(path)?, format)
    }

    /// The same of a file that is open, from its start.
    pub fn of_file(mut file: File, format: Format) -> Result<Self, TakeError> {
        if format == Format::Mpeg {
            // A cover picture may be longer than the sound, and decoders look for that near the
            // start.
            let start = after_tags(&mut file)?;
            file.seek(SeekFrom::Start(start))?;
            let mut opening = Vec::new();
            file.by_ref().take(OPENING_BYTES as u64).read_to_end(&mut opening)?;
            if Format::of(&opening) == Some(Format::Flac) {
                return Self::of_flac(file, start);
            }
            file.seek(SeekFrom::Start(start))?;
            // Where it can seek, a length is estimated from the first bit rate, and all that
            // sounds past it would be taken for padding.
            return Self::new(Box::new(ReadOnlySource::new(file)));
        }
        if format == Format::Flac {
            return Self::of_flac(file, 0);
        }
        if format == Format::Caf {
            let mended = Mended::new(file)?;
            let is_cut_off = mended.is_cut_off;
            let packets = Self::new(Box::new(mended))?;
            return Ok(Self { broken_off: packets.broken_off || is_cut_off, ..packets });
        }
        let is_without_length = format == Format::Matroska && is_without_length(&mut file)?;
        let (edits, unread) = match format {
            Format::Mp4 => (Edit::all(&mut file), unread_sound(&mut file)),
            _ => (Vec::new(), None),
        };
        let mut packets = Self::in_one_go_if_need_be(file, 0).map_err(|error| match unread {
            Some(sound) => TakeError::NotRead(sound),
            None => error,
        })?;
        let own = edits.iter().find(|(track, _)| *track == packets.track);
        if let Some((_, edit)) = own {
            packets.keep_to(edit);
        }
        packets.is_without_length = is_without_length;
        Ok(packets)
    }

    /// A FLAC file, where its blocks can be walked without the pictures that it gathers in memory.
    fn of_flac(file: File, start: u64) -> Result<Self, TakeError> {
        if let Some(bare) = BareFlac::new(file.try_clone()?, start)? {
            return Self::new(Box::new(bare));
        }
        Self::in_one_go_if_need_be(file, start)
    }

    /// What is damaged towards its end is looked for there in vain: lengths, last pages and what
    /// stands after the sound. Read in one go, it gives what comes before.
    fn in_one_go_if_need_be(mut file: File, start: u64) -> Result<Self, TakeError> {
        file.seek(SeekFrom::Start(start))?;
        // The two share their place in the file, and are read one after the other.
        let mut again = file.try_clone()?;
        Self::new(Box::new(file)).or_else(|error| {
            again.seek(SeekFrom::Start(start))?;
            Self::new(Box::new(ReadOnlySource::new(again))).map_err(|_| error)
        })
    }

    /// Reads from anything that symphonia can read.
    pub fn new(source: Box<dyn MediaSource>) -> Result<Self, TakeError> {
        guarded(|| Self::begin(source))
    }

    fn begin(source: Box<dyn MediaSource>) -> Result<Self, TakeError> {
        let source = MediaSourceStream::new(source, Default::default());
        let metadata = MetadataOptions::default()
            .limit_tag_bytes(Limit::Maximum(4096))
            .limit_visual_bytes(Limit::Maximum(0));
        let reader = symphonia::default::get_probe()
            .probe(&Hint::new(), source, FormatOptions::default(), metadata)
            .map_err(opening_error)?;
        let track = reader
            .default_track(TrackType::Audio)
            .or_else(|| reader.first_track(TrackType::Audio))
            .ok_or(TakeError::Decode(Undecodable::NoSound))?;
        let decoder = decoder_of(track)?;
        let (id, time_base) = (track.id, track.time_base);
        let to_skip = pre_skip(track);
        let claimed_frames = track.num_frames;
        let mut packets = Self {
            reader,
            decoder,
            track: id,
            time_base,
            start: None,
            sample_rate_hz: 0,
            channels: 0,
            claimed_frames,
            to_skip,
            skipped: 0,
            end: None,
            frames: 0,
            silence: 0,
            waiting: Vec::new(),
            tail: Vec::new(),
            length_lies: false,
            lost: 0,
            contradictions: 0,
            is_mostly_missing: false,
            broken_off: false,
            is_without_length: false,
            ended: false,
        };
        packets.first_packet()?;
        Ok(packets)
    }

    /// Keeps to the part of the track that is to be heard. To be called before anything is handed
    /// out. An edit that leaves nothing of the sound is not believed.
    fn keep_to(&mut self, edit: &Edit) {
        let frames_at = |ticks: u64| {
            let frames = u128::from(ticks) * u128::from(self.sample_rate_hz);
            u64::try_from(frames / u128::from(edit.timescale)).unwrap_or(u64::MAX)
        };
        let (start, end) = (frames_at(edit.start), edit.end.map(frames_at));
        let whole = self.claimed_frames.unwrap_or(LONGEST_PADDING as u64);
        if start >= whole || end.is_some_and(|end| end <= start) {
            return;
        }
        // What the head of the sound itself says was dropped already.
        self.to_skip = start.saturating_sub(self.skipped);
        self.end = end;
        self.claimed_frames =
            self.claimed_frames.map(|claimed| end.map_or(claimed, |end| claimed.min(end)));
        self.skip();
    }

    /// Decodes until rate and channels are known, and keeps what was decoded.
    fn first_packet(&mut self) -> Result<(), TakeError> {
        let mut undecodable = None;
        while let Some(packet) = self.next_packet()? {
            match self.decoder.decode(&packet) {
                Ok(buffer) if buffer.frames() > 0 => {
                    let rate = buffer.spec().rate();
                    let channels = u16::try_from(buffer.spec().channels().count());
                    self.channels = channels.unwrap_or_default();
                    if self.channels == 0 {
                        return Err(TakeError::NoChannels);
                    }
                    if !RATES_HZ.contains(&rate) {
                        return Err(TakeError::Rate(rate));
                    }
                    self.sample_rate_hz = rate;
                    self.keep(&packet);
                    self.start = Some(self.position_of(&packet));
                    return Ok(());
                }
                Ok(_) => {}
                Err(error @ Error::Unsupported(_)) => return Err(TakeError::Decode(why(&error))),
                Err(error) => undecodable = Some(why(&error)),
            }
        }
        Err(undecodable.map_or(TakeError::NoSamples, TakeError::Decode))
    }
}

/// Frames before the sound that the head of a track says are none of it.
pub(super) fn pre_skip(track: &Track) -> u64 {
    match &track.codec_params {
        Some(CodecParameters::Audio(params)) if opus::is_opus(params) => {
            opus::Head::of(params.extra_data.as_deref()).pre_skip.into()
        }
        _ => 0,
    }
}
