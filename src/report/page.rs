//! One self-contained HTML page over many takes.
