//! Sounds that hold a tone and are no crow: knocks, voices, hum, what only seems to have a tone.

mod alone;
mod among;
mod struck;

pub use self::alone::{is_glide, is_hummed, is_scattered, is_voice, is_whistled};
pub use self::among::{
    about, is_apart, is_much_weaker, is_of_a_device, is_of_a_voice, is_of_another, none_agree,
};
pub use self::struck::{dies_away, is_rich, rings};
