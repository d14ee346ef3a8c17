//! A recording decoded packet by packet.

mod opening;

use std::io;

use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::AudioDecoder;
use symphonia::core::errors::Error;
use symphonia::core::formats::{FormatReader, TrackType};
use symphonia::core::packet::Packet;
use symphonia::core::units::TimeBase;

use super::guard::guarded;
use super::refused::decoder_of;
use crate::take::{SampleStream, TakeError, Undecodable};
use opening::pre_skip;

/// The longest gap that is filled with silence to keep what follows at its time. A longer one is
/// taken for a damaged time stamp.
const LONGEST_GAP_S: u64 = 10;

/// The most that an encoder pads at the end, with room. Where more than this is to be cut off, the
/// length in the header is wrong and the sound is kept.
const LONGEST_PADDING: usize = 8192;

/// Silence handed out at once.
const SILENT_FRAMES: u64 = 4096;

/// Time stamps that are coarser than samples are a clock's, which runs a little faster or slower than
/// the sound: they tell of a gap from here on.
const CLOCK_GAP_S: f64 = 0.1;

/// How far the sound may fall short of the length that the header gives before it counts as cut
/// off. Lengths of MPEG audio without a count of frames are estimates.
const CUT_OFF_S: f64 = 0.15;

/// A packet after a gap of its time stamps, this many times in a row: they contradict the sound.
/// Where some of a recording is lost, there is a gap now and then.
const CONTRADICTIONS: u32 = 8;

/// A recording decoded packet by packet.
///
/// A packet that is damaged becomes silence of its length, so that what follows keeps its time;
/// [`SampleStream::lost`] counts it.
pub struct Packets {
    reader: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track: u32,
    time_base: Option<TimeBase>,
    /// Time stamp of the first sample, in frames.
    start: Option<i64>,
    sample_rate_hz: u32,
    channels: u16,
    /// Frames of the track as its header has it.
    claimed_frames: Option<u64>,
    /// Frames before the sound begins, still to be dropped, and those that were.
    to_skip: u64,
    skipped: u64,
    /// Where the sound ends by the container, in frames of the track.
    end: Option<u64>,
    /// Frames handed out, silence among them.
    frames: u64,
    /// Frames of silence still to be handed out.
    silence: u64,
    /// Decoded samples that come after that silence.
    waiting: Vec<f32>,
    /// Decoded samples past the end that the header gives: padding, unless more follow.
    tail: Vec<f32>,
    length_lies: bool,
    lost: u64,
    /// Gaps one after the other, each behind a packet that could be decoded.
    contradictions: u32,
    /// Whether more was filled in than was decoded.
    is_mostly_missing: bool,
    broken_off: bool,
    /// No length is given anywhere: the end of the file is the end of the sound.
    is_without_length: bool,
    ended: bool,
}

impl Packets {
    /// Drops what stands before the sound from what was decoded.
    fn skip(&mut self) {
        let channels = usize::from(self.channels);
        let frames = self.to_skip.min((self.waiting.len() / channels) as u64);
        self.waiting.drain(..frames as usize * channels);
        self.to_skip -= frames;
        self.skipped += frames;
    }

    /// Frames of the track so far: skipped, handed out, and those that may be padding.
    fn done(&self) -> u64 {
        self.skipped + self.frames + (self.tail.len() / usize::from(self.channels)) as u64
    }

    /// The next packet of the track; `None` at the end, also where the recording breaks off.
    fn next_packet(&mut self) -> Result<Option<Packet>, TakeError> {
        while !self.ended {
            match self.reader.next_packet() {
                Ok(Some(packet)) if packet.track_id == self.track => return Ok(Some(packet)),
                Ok(Some(_)) => {}
                Ok(None) => self.ended = true,
                Err(Error::ResetRequired) => self.next_in_chain(),
                Err(Error::IoError(error)) if error.kind() != io::ErrorKind::UnexpectedEof => {
                    return Err(error.into());
                }
                Err(error) => {
                    let is_end = matches!(error, Error::IoError(_)) && self.is_without_length;
                    self.broken_off |= !is_end;
                    self.ended = true;
                }
            }
        }
        Ok(None)
    }

    /// Goes on with the next of several recordings chained in one Ogg file, if it has the same
    /// rate and channels.
    fn next_in_chain(&mut self) {
        let next = self.reader.default_track(TrackType::Audio).and_then(|track| {
            let Some(CodecParameters::Audio(params)) = &track.codec_params else { return None };
            let channels = params.channels.as_ref().map(|channels| channels.count());
            let same = self.sample_rate_hz == 0
                || (params.sample_rate == Some(self.sample_rate_hz)
                    && channels == Some(usize::from(self.channels)));
            if same { Some((track.id, decoder_of(track).ok()?, pre_skip(track))) } else { None }
        });
        match next {
            Some((track, decoder, to_skip)) => {
                (self.track, self.decoder, self.to_skip) = (track, decoder, to_skip);
                // Time stamps begin again, and the length was that of the first one.
                self.start = None;
                self.claimed_frames = None;
            }
            None => {
                self.broken_off = true;
                self.ended = true;
            }
        }
    }

    /// Takes over what the decoder made of `packet`, without the encoder's delay and padding.
    fn keep(&mut self, packet: &Packet) {
        let channels = usize::from(self.channels);
        let samples_of = |ticks: u64| {
            let frames = self.to_frames(i64::try_from(ticks).unwrap_or(i64::MAX));
            usize::try_from(frames).unwrap_or(0).saturating_mul(channels)
        };
        let delay = samples_of(packet.trim_start.get());
        let padding = samples_of(packet.trim_end.get());
        self.decoder.last_decoded().copy_to_vec_interleaved(&mut self.waiting);
        self.waiting.drain(..delay.min(self.waiting.len()));
        self.skip();
        if self.length_lies {
            return;
        }
        let after = self.done() + (self.waiting.len() / channels) as u64;
        let past = self.end.map_or(0, |end| after.saturating_sub(end));
        let padding = padding.max((past as usize).saturating_mul(channels));
        let sound = self.waiting.len().saturating_sub(padding);
        let padding = self.waiting.len() - sound;
        // More sound after what was taken for padding, or more of it than any encoder pads.
        self.length_lies = (sound > 0 && !self.tail.is_empty())
            || self.tail.len() + padding > LONGEST_PADDING * channels;
        if self.length_lies {
            self.tail.append(&mut self.waiting);
            std::mem::swap(&mut self.tail, &mut self.waiting);
        } else {
            self.tail.extend_from_slice(&self.waiting[sound..]);
            self.waiting.truncate(sound);
        }
    }

    /// Where a packet's first sample belongs, in frames by its own time stamp, which counts what
    /// is trimmed of the encoder's delay too.
    fn position_of(&self, packet: &Packet) -> i64 {
        self.to_frames(packet.pts.saturating_add(packet.trim_start).get())
    }

    fn to_frames(&self, ticks: i64) -> i64 {
        let Some(base) = self.time_base else { return ticks };
        let scaled =
            i128::from(ticks) * i128::from(base.numer.get()) * i128::from(self.sample_rate_hz);
        i64::try_from(scaled / i128::from(base.denom.get())).unwrap_or(i64::MAX)
    }

    /// Frames missing between what was handed out and `packet`; 0 where its time stamp cannot be
    /// trusted.
    fn gap_before(&mut self, packet: &Packet) -> u64 {
        let position = self.position_of(packet);
        let done = self.done() as i64;
        let start = *self.start.get_or_insert(position.saturating_sub(done));
        let gap = u64::try_from(position.saturating_sub(start).saturating_sub(done)).unwrap_or(0);
        let length = u64::try_from(self.to_frames(packet.block_dur().get() as i64)).unwrap_or(0);
        let rate_hz = u64::from(self.sample_rate_hz);
        let clock_gap = (CLOCK_GAP_S * self.sample_rate_hz as f64) as u64;
        let least = if self.to_frames(1) > 1 { clock_gap } else { 1 };
        // Less than half a packet is rounding of the container's time stamps.
        if gap * 2 < length.max(1) || gap < least || gap > LONGEST_GAP_S * rate_hz {
            return 0;
        }
        gap
    }

    fn hand_out_silence(&mut self, block: &mut Vec<f32>) {
        let frames = self.silence.min(SILENT_FRAMES);
        block.resize(frames as usize * usize::from(self.channels), 0.0);
        self.silence -= frames;
        self.frames += frames;
    }

    fn hand_out_waiting(&mut self, block: &mut Vec<f32>) {
        std::mem::swap(block, &mut self.waiting);
        self.waiting.clear();
        self.frames += (block.len() / usize::from(self.channels)) as u64;
    }
}

impl SampleStream for Packets {
    fn sample_rate_hz(&self) -> u32 {
        self.sample_rate_hz
    }

    fn channels(&self) -> u16 {
        self.channels
    }

    fn next_block(&mut self, block: &mut Vec<f32>) -> Result<bool, TakeError> {
        block.clear();
        if self.is_mostly_missing {
            return Err(TakeError::Decode(Undecodable::MostlyMissing));
        }
        match guarded(|| self.decode_block(block)) {
            // What was handed out before is worth reading.
            Err(TakeError::Decode(_)) if !self.is_mostly_missing => {
                self.broken_off = true;
                self.ended = true;
                block.clear();
                Ok(false)
            }
            result => result,
        }
    }

    fn cut_off(&self) -> bool {
        let short_s = self.claimed_frames.map_or(0.0, |claimed| {
            claimed.saturating_sub(self.skipped + self.frames) as f64
                / f64::from(self.sample_rate_hz)
        });
        self.ended && (self.broken_off || short_s > CUT_OFF_S)
    }

    fn lost(&self) -> u64 {
        self.lost
    }
}

impl Packets {
    /// Decodes until there is something to hand out; false at the end.
    fn decode_block(&mut self, block: &mut Vec<f32>) -> Result<bool, TakeError> {
        loop {
            if self.silence > 0 {
                self.hand_out_silence(block);
                return Ok(true);
            }
            if !self.waiting.is_empty() {
                self.hand_out_waiting(block);
                return Ok(true);
            }
            let Some(packet) = self.next_packet()? else { break };
            let gap = self.gap_before(&packet);
            // What a damaged packet held is made up for when the next one shows how long it was.
            let Ok(buffer) = self.decoder.decode(&packet) else {
                self.contradictions = 0;
                continue;
            };
            if buffer.frames() == 0 {
                continue;
            }
            if buffer.spec().rate() != self.sample_rate_hz
                || buffer.spec().channels().count() != usize::from(self.channels)
            {
                self.broken_off = true;
                self.ended = true;
                continue;
            }
            self.keep(&packet);
            self.contradictions = if gap > 0 { self.contradictions + 1 } else { 0 };
            if !self.waiting.is_empty() {
                self.silence = gap;
                self.lost += gap;
            }
            let longest_gap = LONGEST_GAP_S * u64::from(self.sample_rate_hz);
            if self.contradictions >= CONTRADICTIONS || self.lost > self.decoded() + longest_gap {
                break;
            }
        }
        let is_wrong = self.contradictions >= CONTRADICTIONS || self.lost > self.decoded();
        self.is_mostly_missing = is_wrong;
        if is_wrong { Err(TakeError::Decode(Undecodable::MostlyMissing)) } else { Ok(false) }
    }

    /// Frames that were decoded so far, of those that are to be heard.
    fn decoded(&self) -> u64 {
        let waiting = (self.waiting.len() / usize::from(self.channels)) as u64;
        (self.done() + waiting + self.silence).saturating_sub(self.lost)
    }
}
