//! WAV files to takes and takes to WAV files.
//!
//! RIFF/WAVE with plain or extensible format, and its 64-bit forms RF64, BW64 and Wave64: 8 (unsigned),
//! 16, 24 and 32-bit integer, 32 and 64-bit float, any number of channels. Read leniently, since a
//! recording that broke off is still worth hearing; written so that what is on disk is whole after
//! every block.
//!
//! Sources: Multimedia Programming Interface and Data Specifications 1.0, 1991 (RIFF, WAVE);
//! EBU Tech 3306 (RF64) and ITU-R BS.2088 (BW64); all from memory.

mod header;
mod reader;
mod riff;
mod sample_format;
mod slip;
mod wave64;
mod writer;

pub use reader::WavStream;
pub use sample_format::SampleFormat;
pub use writer::{WavWriter, write};
