//! Pictures: one drawing code for SVG and PNG.
