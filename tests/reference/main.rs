//! Readings and their arithmetic against published values and general-purpose libraries; a module
//! per source. fixtures/SOURCES.md says where each value comes from.

mod aes17;
mod double_reed_notes;
mod equal_temperament;
mod harris_1978;
mod iec_61260;
mod librosa_scipy;
mod table;
