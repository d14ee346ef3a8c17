//! Numbers, notes and units as text: one place for the whole program.
