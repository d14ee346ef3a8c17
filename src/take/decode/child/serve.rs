//! The child's side: one file at a time, one answer to each question.

use std::io::{Read, Write};
use std::path::Path;

use super::super::{Format, Packets};
use super::protocol::{Answer, Asked};
use super::{limits, most_samples};
use crate::take::{SampleStream, TakeError};

/// A file that is being decoded, and what was decoded and not yet asked for.
struct Open {
    packets: Packets,
    waiting: Vec<f32>,
    block: Vec<f32>,
    is_over: bool,
}

/// Answers until the questions end, or whoever asks is gone.
pub fn serve(mut questions: impl Read, mut answers: impl Write) {
    limits::set();
    let mut open = None;
    while let Some(asked) = Asked::read(&mut questions) {
        limits::begin_answer();
        let answer = match asked {
            Asked::Open(path, format) => match Open::new(&path, format) {
                Ok(new) => {
                    let answer = Answer::Opened {
                        sample_rate_hz: new.packets.sample_rate_hz(),
                        channels: new.packets.channels(),
                    };
                    open = Some(new);
                    answer
                }
                Err(error) => {
                    open = None;
                    Answer::Failed(error)
                }
            },
            Asked::Next => match &mut open {
                Some(open) => open.next().unwrap_or_else(Answer::Failed),
                None => return,
            },
        };
        if answers.write_all(&answer.bytes()).and_then(|()| answers.flush()).is_err() {
            return;
        }
    }
}

impl Open {
    fn new(path: &Path, format: Format) -> Result<Self, TakeError> {
        let packets = Packets::open(path, format)?;
        Ok(Self { packets, waiting: Vec::new(), block: Vec::new(), is_over: false })
    }

    /// As many samples as go into one answer: packets are short, and every answer costs a turn.
    fn next(&mut self) -> Result<Answer, TakeError> {
        let most = most_samples(self.packets.channels());
        while self.waiting.len() < most && !self.is_over {
            self.is_over = !self.packets.next_block(&mut self.block)?;
            self.waiting.append(&mut self.block);
        }
        if self.waiting.is_empty() {
            return Ok(Answer::Ended {
                cut_off: self.packets.cut_off(),
                lost: self.packets.lost(),
            });
        }
        let rest = self.waiting.split_off(most.min(self.waiting.len()));
        Ok(Answer::Samples(std::mem::replace(&mut self.waiting, rest)))
    }
}
