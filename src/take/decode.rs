//! Recordings other than WAV, decoded as a stream.
