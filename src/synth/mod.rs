//! Synthetic takes with exact truth, for demo data, tests and benchmarks. They validate signal processing, not reeds.
