//! The take that is going on: from what sounds, with a little of the room before it, to the pause after
//! its last crow.

use super::{BEFORE_S, CrowReader, Event, FinishedTake, Scout, Session, State};
use crate::capture::channel::{alternating_power, loudest};
use crate::reading::Crow;
use crate::take::{Channel, Faults};

/// What began to sound but was not a crow after all is given up this long after it ended.
const GIVE_UP_S: f64 = 1.0;

/// A take ends here at the latest, so that a machine left running beside it fills no disk.
pub(super) const LONGEST_S: f64 = 600.0;

/// The take, and the reader that hears it.
pub(super) struct Taking<R> {
    pub(super) reader: R,
    /// Since when the sound goes on in which a tone was heard last.
    tone_since_s: Option<f64>,
    pub(super) number: usize,
    pub(super) first_frame: u64,
    pub(super) channel: usize,
    pub(super) crows: usize,
    pub(super) last_crow_end_s: Option<f64>,
    pub(super) last_sound_frame: u64,
}

impl<R: CrowReader> Taking<R> {
    /// Whether a sound goes on that had a tone. The noise of a room rises over its own floor by
    /// chance now and then; that must not keep a take open.
    pub(super) fn sounds(&self) -> bool {
        self.tone_since_s.is_some()
    }

    pub(super) fn read(&mut self, samples: Vec<f32>, events: &mut Vec<Event>) {
        let ended = self.reader.push(&samples);
        let pending_s = self.reader.pending_since_s();
        if self.reader.now().hz.is_some() {
            self.tone_since_s = pending_s;
        } else if pending_s != self.tone_since_s {
            self.tone_since_s = None;
        }
        events.push(Event::Audio(samples));
        let seen = self.reader.first_look();
        for (crow, _) in ended {
            self.crows += 1;
            self.last_crow_end_s = Some(crow.end_s);
            events.push(Event::CrowEnded { number: self.crows, crow: Box::new(crow) });
        }
        events.extend(seen.map(|crow| Event::CrowSeen(Box::new(crow))));
    }
}

impl<R: CrowReader> Session<R> {
    /// Begins a take with what sounds since `sound_frame`.
    pub(super) fn begin_take(&mut self, sound_frame: u64, events: &mut Vec<Event>) {
        let earliest = self.room.first_frame().max(self.last_crow_end_frame);
        let first_frame = sound_frame.saturating_sub(self.frames_in(BEFORE_S)).max(earliest);
        let powers: Vec<f64> = (0..usize::from(self.format.channels.max(1)))
            .map(|channel| alternating_power(&self.room.channel_since(sound_frame, channel)))
            .collect();
        if self.settings.channel == Channel::Strongest {
            self.channel = loudest(&powers);
        }
        let mut taking = Box::new(Taking {
            reader: (self.new_reader)(),
            tone_since_s: None,
            number: self.ended_takes + 1,
            first_frame,
            channel: self.channel,
            crows: 0,
            last_crow_end_s: None,
            last_sound_frame: self.room.end_frame(),
        });
        events.push(Event::TakeBegan);
        taking.read(self.room.channel_since(first_frame, taking.channel), events);
        self.state = State::Taking(taking);
    }

    pub(super) fn end_take_when_due(&mut self, events: &mut Vec<Event>) {
        let State::Taking(taking) = &self.state else { return };
        let now_s = self.seconds_since(taking.first_frame);
        let sounding = taking.sounds();
        let due = match taking.last_crow_end_s {
            Some(end_s) => !sounding && now_s - end_s >= self.settings.pause_s,
            None => !sounding && self.seconds_since(taking.last_sound_frame) >= GIVE_UP_S,
        };
        if due || now_s >= LONGEST_S {
            self.end_take(events);
            self.scout_from(self.room.first_frame().max(self.last_crow_end_frame), events);
        }
    }

    /// Ends the take that is going on, if one is. The state is to be set anew after it.
    pub(super) fn end_take(&mut self, events: &mut Vec<Event>) {
        let frame = self.room.end_frame();
        let scout = Scout { reader: (self.new_reader)(), first_frame: frame };
        let State::Taking(taking) = std::mem::replace(&mut self.state, State::Waiting(scout))
        else {
            return;
        };
        let Taking { reader, number, first_frame, channel, last_crow_end_s, .. } = *taking;
        let faults = self.faults_since(first_frame);
        let channels = self.format.channels.max(1);
        let mut analysis =
            reader.finish(&self.settings.source, channels, channel as u16 + 1, faults);
        analysis.reading.microphone = self.settings.microphone.clone();
        // A crow that still sounded ends with the take.
        let told = |crow: &Crow| last_crow_end_s.is_some_and(|end_s| crow.end_s <= end_s);
        let all = analysis.reading.crows.iter().enumerate();
        let ends = all.filter(|(_, crow)| !told(crow));
        events.extend(ends.map(|(index, crow)| Event::CrowEnded {
            number: index + 1,
            crow: Box::new(crow.clone()),
        }));
        let Some(last) = analysis.reading.crows.last() else {
            events.push(Event::TakeDropped { others: analysis.reading.others });
            return;
        };
        self.last_crow_end_frame = (first_frame + self.frames_in(last.end_s)).min(frame);
        self.ended_takes = number;
        let start_s = first_frame as f64 / f64::from(self.format.sample_rate_hz.max(1));
        events.push(Event::TakeEnded(Box::new(FinishedTake { start_s, analysis })));
    }

    fn faults_since(&mut self, first_frame: u64) -> Faults {
        self.losses.retain(|loss| loss.frame >= first_frame);
        Faults {
            lost: self.losses.iter().map(|loss| loss.frames).sum(),
            not_finite: self.losses.iter().map(|loss| loss.not_finite).sum(),
            cut_off: false,
        }
    }
}
