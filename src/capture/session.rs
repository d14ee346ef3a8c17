//! The live stream to takes: samples in, events out, no device, no disk and no clock.
//!
//! While nothing sounds, a reader listens to the room (the scout). When it hears something, a take
//! begins: a fresh reader gets up to a second of the room before it, from a short memory, and then
//! the live samples. The take ends with the pause after its last crow. So what the take's reader
//! got is exactly the take's audio, and reading that audio again gives the same reading.
//!
//! Samples are worked on in blocks of 10 ms counted from the start, however they come in, so that
//! the pieces in which a device delivers them change nothing.

mod crow_reader;
mod event;
mod taking;
#[cfg(test)]
mod tests;

pub use crow_reader::CrowReader;
pub use event::{Event, FinishedTake, Listening, SourceTold, Stands};

use super::channel::Strongest;
use super::room::Room;
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{CheckedMicrophone, OctavesNow, Reader, is_silent};
use crate::take::Channel;
use taking::Taking;

/// Room noise before a take's first crow: a maker's crow may begin with a faint breath, and the
/// reader needs the noise floor.
const BEFORE_S: f64 = 1.0;

/// How far back the scout's word that something sounds may reach, beyond `BEFORE_S`: the reader
/// waits up to 4 s for air to become a tone.
const NOTICE_S: f64 = 5.0;

/// The scout starts afresh after this much silence: the room of an hour ago is not the floor of
/// the next crow, and a scout's memory stays small.
const SCOUT_S: f64 = 60.0;

/// An input without any sound for this long is said to be silent: longer than a device takes to
/// begin.
const SILENT_S: f64 = 2.0;

/// Rate and channels of a live stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SoundFormat {
    /// Samples per second in each channel, above 0.
    pub sample_rate_hz: u32,
    /// Channels, at least 1.
    pub channels: u16,
}

/// How a session listens.
#[derive(Debug, Clone)]
pub struct SessionSettings {
    /// What a take is said to come from.
    pub source: String,
    /// Crows with less than this between them make one take, in seconds.
    pub pause_s: f64,
    /// The channel to listen to; one that the stream does not have counts as its last.
    pub channel: Channel,
    /// What the last check said of the microphone.
    pub microphone: Option<CheckedMicrophone>,
}

/// A live stream on its way to takes.
pub struct Session<R> {
    format: SoundFormat,
    settings: SessionSettings,
    new_reader: Box<dyn Fn() -> R + Send>,
    unfinished_block: Vec<f32>,
    room: Room,
    strongest: Strongest,
    channel: usize,
    losses: Vec<Loss>,
    ended_takes: usize,
    last_crow_end_frame: u64,
    /// Frames without any sound, up to the last.
    silent_frames: u64,
    state: State<R>,
}

enum State<R> {
    Waiting(Scout<R>),
    Taking(Box<Taking<R>>),
}

struct Scout<R> {
    reader: R,
    first_frame: u64,
}

/// Frames lost just before `frame`.
struct Loss {
    frame: u64,
    frames: u64,
    not_finite: u64,
}

impl Session<Reader> {
    /// A session that reads crows against `profile`.
    pub fn new(format: SoundFormat, settings: SessionSettings, profile: &Profile, a4: A4) -> Self {
        let profile = profile.clone();
        let rate_hz = format.sample_rate_hz;
        Self::with_reader(format, settings, move || Reader::new(rate_hz, &profile, a4))
    }
}

impl<R: CrowReader> Session<R> {
    /// A session whose takes are read by what `new_reader` makes.
    pub fn with_reader(
        format: SoundFormat,
        settings: SessionSettings,
        new_reader: impl Fn() -> R + Send + 'static,
    ) -> Self {
        let channels = usize::from(format.channels.max(1));
        let rate = f64::from(format.sample_rate_hz.max(1));
        let keep_frames = ((BEFORE_S + NOTICE_S) * rate) as u64;
        let scout = Scout { reader: new_reader(), first_frame: 0 };
        let channel = match settings.channel {
            Channel::Strongest => 0,
            Channel::Number(number) => usize::from(number).clamp(1, channels) - 1,
        };
        Self {
            format,
            settings,
            new_reader: Box::new(new_reader),
            unfinished_block: Vec::new(),
            room: Room::new(channels, keep_frames),
            strongest: Strongest::new(channels, block_frames(format) as f64 / rate),
            channel,
            losses: Vec::new(),
            ended_takes: 0,
            last_crow_end_frame: 0,
            silent_frames: 0,
            state: State::Waiting(scout),
        }
    }

    /// The microphone was checked meanwhile: the takes that end from now on say so.
    pub fn was_checked(&mut self, checked: CheckedMicrophone) {
        self.settings.microphone = Some(checked);
    }

    /// Takes the next frames, interleaved (full scale ±1; what is not finite counts as 0), and
    /// returns what happened in them.
    ///
    /// * `lost_frames`: how many the device could not deliver just before them.
    pub fn push(&mut self, frames: &[f32], lost_frames: u64) -> Vec<Event> {
        let channels = usize::from(self.format.channels.max(1));
        let not_finite = frames.iter().filter(|sample| !sample.is_finite()).count() as u64;
        if matches!(self.state, State::Waiting(_)) {
            let kept_since = self.room.first_frame();
            self.losses.retain(|loss| loss.frame >= kept_since);
        }
        if lost_frames > 0 || not_finite > 0 {
            let frame = self.room.end_frame() + (self.unfinished_block.len() / channels) as u64;
            self.losses.push(Loss { frame, frames: lost_frames, not_finite });
        }
        self.unfinished_block
            .extend(frames.iter().map(|&sample| if sample.is_finite() { sample } else { 0.0 }));
        let mut blocks = std::mem::take(&mut self.unfinished_block);
        let block_len = block_frames(self.format) * channels;
        let mut events = Vec::new();
        let whole = blocks.len() / block_len * block_len;
        for block in blocks[..whole].chunks_exact(block_len) {
            self.step(block, &mut events);
        }
        blocks.drain(..whole);
        self.unfinished_block = blocks;
        events
    }

    /// Ends the take that is going on, if one is, before its pause is over: what is crowed from
    /// now on is another take. Not to be called while a crow sounds, which would cut it in two.
    pub fn close_take(&mut self) -> Vec<Event> {
        let mut events = Vec::new();
        if matches!(self.state, State::Taking(_)) {
            self.end_take(&mut events);
            self.scout_from(self.last_crow_end_frame, &mut events);
        }
        events
    }

    /// Ends the session, and with it the take that is going on.
    pub fn finish(mut self) -> Vec<Event> {
        let mut events = Vec::new();
        let rest = std::mem::take(&mut self.unfinished_block);
        if !rest.is_empty() {
            self.step(&rest, &mut events);
        }
        self.end_take(&mut events);
        events
    }

    /// What a live display shows.
    pub fn listening(&self) -> Listening {
        let (silent, muted) = (self.silent_s() >= SILENT_S, self.was_silent());
        match &self.state {
            State::Waiting(scout) => {
                Listening { now: scout.reader.now(), silent, muted, ..Listening::default() }
            }
            State::Taking(taking) => {
                let end_s = taking.last_crow_end_s.filter(|_| !taking.sounds());
                let silence_s = end_s.map(|end_s| self.seconds_since(taking.first_frame) - end_s);
                Listening {
                    now: taking.reader.now(),
                    take: Some(taking.number),
                    crows: taking.crows,
                    silent,
                    muted,
                    closes_in_s: silence_s.map(|past| (self.settings.pause_s - past).max(0.0)),
                }
            }
        }
    }

    /// The same, its tone the lowest octave that sounds. Slower: for what is drawn.
    pub fn listening_to_octaves(&self) -> Listening {
        let mut listening = self.listening();
        listening.now.hz = self.octaves_now().octaves.first().map(|lowest| lowest.hz);
        listening
    }

    /// Which octaves sound now; none while nothing does.
    pub fn octaves_now(&self) -> OctavesNow {
        match &self.state {
            State::Waiting(scout) => scout.reader.octaves_now(),
            State::Taking(taking) => taking.reader.octaves_now(),
        }
    }

    /// How long nothing at all has come from the input, in seconds.
    fn silent_s(&self) -> f64 {
        self.silent_frames as f64 / f64::from(self.format.sample_rate_hz.max(1))
    }

    /// Whether the input never gave any sound, for long enough to tell that it is muted.
    pub fn was_silent(&self) -> bool {
        self.silent_frames == self.room.end_frame() && self.silent_s() >= SILENT_S
    }

    /// Works on one block.
    fn step(&mut self, block: &[f32], events: &mut Vec<Event>) {
        let before_frame = self.room.end_frame();
        self.room.push(block);
        let channels = usize::from(self.format.channels.max(1));
        let end_frame = self.room.end_frame();
        let strongest = match self.settings.channel {
            Channel::Strongest => self.strongest.push(block),
            Channel::Number(_) => self.channel,
        };
        let is_heard = |channel: &usize| match self.settings.channel {
            Channel::Strongest => true,
            Channel::Number(_) => *channel == self.channel,
        };
        let silent =
            (0..channels).filter(is_heard).all(|channel| holds_no_sound(block, channel, channels));
        self.silent_frames =
            if silent { self.silent_frames + (end_frame - before_frame) } else { 0 };
        match &mut self.state {
            // Microphones begin with zeros, and some send them between sounds. That is no room
            // noise: whatever follows would stand over it.
            State::Waiting(scout) if block.iter().all(|&sample| sample == 0.0) => {
                if scout.first_frame < before_frame {
                    scout.reader = (self.new_reader)();
                }
                scout.first_frame = end_frame;
                self.room.forget();
            }
            State::Waiting(_) if strongest != self.channel => {
                self.channel = strongest;
                let since = self.room.first_frame().max(self.last_crow_end_frame);
                self.scout_from(since, events);
            }
            State::Waiting(scout) => {
                let samples = one_channel(block, self.channel, channels);
                let heard_s = heard_since(&mut scout.reader, &samples);
                let scout_first = scout.first_frame;
                if let Some(since_s) = heard_s {
                    self.begin_take(scout_first + self.frames_in(since_s), events);
                } else if self.seconds_since(scout_first) > SCOUT_S {
                    self.scout_from(self.room.first_frame(), events);
                }
            }
            State::Taking(taking) => {
                let samples = one_channel(block, taking.channel, channels);
                taking.read(samples, events);
                if taking.sounds() {
                    taking.last_sound_frame = end_frame;
                }
                self.end_take_when_due(events);
            }
        }
    }

    /// A fresh scout that hears the room from `frame` on.
    fn scout_from(&mut self, frame: u64, events: &mut Vec<Event>) {
        let mut reader = (self.new_reader)();
        let first_frame = frame.max(self.room.first_frame());
        let heard_s = heard_since(&mut reader, &self.room.channel_since(frame, self.channel));
        self.state = State::Waiting(Scout { reader, first_frame });
        if let Some(since_s) = heard_s {
            self.begin_take(first_frame + self.frames_in(since_s), events);
        }
    }

    /// Seconds from `frame` to the last one heard.
    fn seconds_since(&self, frame: u64) -> f64 {
        let frames = self.room.end_frame().saturating_sub(frame);
        frames as f64 / f64::from(self.format.sample_rate_hz.max(1))
    }

    fn frames_in(&self, seconds: f64) -> u64 {
        (seconds.max(0.0) * f64::from(self.format.sample_rate_hz)).round() as u64
    }
}

/// Frames of a block of 10 ms.
fn block_frames(format: SoundFormat) -> usize {
    (format.sample_rate_hz as usize / 100).max(1)
}

fn holds_no_sound(frames: &[f32], channel: usize, channels: usize) -> bool {
    let samples = frames.iter().skip(channel).step_by(channels).copied();
    let none = (f32::INFINITY, f32::NEG_INFINITY);
    is_silent(samples.fold(none, |(low, high), sample| (low.min(sample), high.max(sample))))
}

fn one_channel(frames: &[f32], channel: usize, channels: usize) -> Vec<f32> {
    frames.iter().skip(channel).step_by(channels).copied().collect()
}

/// Since when something with a tone sounds, after `samples`, in seconds of the reader's samples;
/// air without a tone is heard when it has ended.
fn heard_since<R: CrowReader>(reader: &mut R, samples: &[f32]) -> Option<f64> {
    let ended = reader.push(samples);
    let ended_s = ended.first().map(|(crow, _)| crow.start_s);
    ended_s.or_else(|| reader.now().hz.and(reader.pending_since_s()))
}
