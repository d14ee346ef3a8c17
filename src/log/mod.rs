//! A reed's history, and what each cut did over many reeds.
