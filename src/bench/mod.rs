//! The screen kept open while scraping.
