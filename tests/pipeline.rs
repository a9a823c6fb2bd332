//! Tests of the library, from a capture to what is said of it, in one program: a second one would
//! compile and link the same library again.
//!
//! `cargo test --test pipeline recordings::` runs one file of them.

mod accuracy;
mod calibration;
mod capture_formats;
mod capture_properties;
mod capture_recordings;
mod cautions;
mod cautious;
mod clamp_dirt;
mod classes;
#[path = "compression/main.rs"]
mod compression;
mod crank_refusals;
#[path = "csv_dialects/main.rs"]
mod csv_dialects;
mod degenerate;
mod edges;
mod first_leads;
mod fuzz_finds;
mod interpolation;
mod joined;
mod left_out;
#[path = "locks/main.rs"]
mod locks;
mod look_other_wheels;
mod look_recordings;
mod mistakes;
mod moved_cams;
mod nasty_crank;
mod near_symmetric;
#[path = "shared/numpy.rs"]
mod numpy;
mod practice_physics;
mod properties;
mod recorded_engines;
mod recorded_leads;
mod recordings;

mod same_degrees;
mod stated_edge;
mod strands;
mod two_leads;
