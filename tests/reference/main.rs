//! Readings and their arithmetic against published values and general-purpose libraries; a module
//! per source. fixtures/SOURCES.md says where each value comes from.

mod equal_temperament;
mod table;
