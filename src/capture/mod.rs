//! Microphone to take.
