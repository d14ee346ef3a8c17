//! Measurements and inspection of one reed: what the maker sees.
