//! A folder of takes to a table of readings.
