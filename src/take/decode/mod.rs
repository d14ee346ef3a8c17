//! Recordings other than plain WAV, decoded as a stream: what phones and recorders write.
//!
//! The content decides, never the ending of the name ([`Format::of`]). Packets are decoded one by
//! one, so memory does not depend on the length. Decoding itself is Symphonia's, and libopus's, in a
//! process of its own where there can be one.

mod caf;
mod child;
mod edit;
mod format;
mod front;
mod guard;
mod matroska;
mod opus;
mod packets;
mod refused;

pub use child::{Program, decode_in_child, open, open_unnamed, serve};
pub use format::{Format, OPENING_BYTES};
pub use packets::Packets;
