//! Sounds that hold a tone and are no crow: knocks, voices, tunes, hum, what only seems to have a tone.

mod alone;
mod among;
mod struck;
mod throat;
mod tune;

pub use self::alone::{HIGHEST_VOICE_HZ, is_glide, is_hummed, is_pure, is_scattered, is_voice};
pub use self::among::{
    about, is_apart, is_much_weaker, is_of_a_device, is_of_a_voice, is_of_another, none_agree,
};
pub use self::struck::{dies_away, is_rich, rings};
pub use self::throat::{Tone, throat_nats};
pub use self::tune::are_notes;
