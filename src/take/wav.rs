//! WAV files to takes and takes to WAV files.
