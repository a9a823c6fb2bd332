//! Draws practice captures with known faults, runs them through the whole program and counts what
//! it said.
//!
//! Shared by the benchmark (thousands of captures, writes `docs/calibration.md`) and a short test.

pub mod case;
pub mod chance;
pub mod class;
pub mod elsewhere;
pub mod engines;
pub mod ideal;
pub mod judge;
pub mod run;
pub mod sums;
pub mod table;
pub mod trust;
pub mod weights;
