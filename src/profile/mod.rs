//! What is expected of one kind of reed: the note its crow is held to, the registers it should
//! sound in, tolerances and usual dimensions. Built-in profiles are data; makers write their own.

use crate::pitch::{A4, Note};
use crate::units::Hertz;

/// What is expected of one kind of reed.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Short name, as typed after `--profile`.
    pub name: String,
    /// The note the crow is held to in register 0; `None` where makers hold it to no note.
    pub target: Option<Note>,
    /// The registers in which rungs are expected, lowest first; not empty.
    pub registers: Vec<i32>,
}

impl Profile {
    /// Frequency of the target in register 0.
    pub fn target_frequency(&self, a4: A4) -> Option<Hertz> {
        self.target.map(|note| note.frequency(a4))
    }

    /// The highest register in which a rung is expected.
    pub fn highest_register(&self) -> i32 {
        self.registers.iter().copied().max().unwrap_or(1)
    }
}

impl Default for Profile {
    fn default() -> Self {
        Self {
            name: "american-oboe".into(),
            target: Some(Note::from_midi(72)),
            registers: vec![0, 1],
        }
    }
}
