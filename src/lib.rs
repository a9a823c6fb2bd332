//! From an oscilloscope capture of the crank and cam position sensors to where each camshaft
//! stands, and what that means.
//!
//! The modules follow the data, one direction, and no stage knows a later one:
//!
//! 1. [`capture`]: a file becomes channels on a clock.
//! 2. [`leads`]: which channel carries what.
//! 3. [`edges`]: volts become edge times.
//! 4. [`crank`]: edge times become slots of the crank wheel, then an angle at any instant.
//! 5. [`cam`]: cam edges become one position per cycle, then a deviation with an interval.
//! 6. [`compression`]: relative compression by cylinder and bank, from the same crank angle.
//! 7. [`verdict`]: explanations weighed against each other.
//! 8. [`analysis`]: runs the stages in order; its one struct is all that [`report`] reads.
//!
//! [`wheel`] and [`engine`] describe what should be there; [`units`] holds one type per quantity.
//! [`practice`] goes the other way, from angle to volts, and shares none of the steps above. `cli`
//! and `page` are thin fronts.
//!
//! # From a program
//!
//! Four functions are the main job: [`read`] a capture, [`Engine::read`] the description of the
//! engine, [`analyse`], and [`to_json`].
//!
//! ```
//! # fn main() -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
//! use std::path::Path;
//!
//! use camwitness::{Engine, Options, ReadOptions, analyse, read, to_json};
//!
//! let engine = Engine::read(Path::new("demo-data/engine.toml"))?;
//! let capture = read(Path::new("demo-data/sound.csv"), &ReadOptions::default())?;
//! let analysis = analyse(&[capture], &engine, &Options::default())?;
//! println!("{}", to_json(&analysis));
//! # Ok(())
//! # }
//! ```
//!
//! Errors print as one plain message. Those that a setting would mend carry it as a
//! [`remedy::Remedy`].
//!
//! # Features
//!
//! Without any, the crate is the core: from a capture to the verdict, its text and its JSON.
//! `report` adds pictures and HTML, `output` files that are written whole or not at all,
//! `page-service` the page without a server, `page` the page, `cli` the program. All are on by
//! default.

pub mod analysis;
pub mod angle;
pub mod batch;
pub mod cam;
pub mod capture;
#[cfg(feature = "report")]
pub mod checksum;
#[cfg(feature = "cli")]
pub mod class;
#[cfg(feature = "cli")]
pub mod cli;
pub mod codes;
pub mod compare;
pub mod compression;
pub mod crank;
pub mod edges;
pub mod engine;
pub mod error;
pub mod input;
pub mod known;
pub mod leads;
pub mod learn;
pub mod look;
mod matrix;
pub mod notice;
#[cfg(feature = "output")]
pub mod output;
#[cfg(feature = "page-service")]
pub mod page;
pub mod plan;
pub mod practice;
pub mod remedy;
pub mod report;
#[cfg(any(feature = "output", feature = "page-service"))]
pub mod shelf;
pub mod stats;
pub mod units;
pub mod verdict;
pub mod watch;
pub mod wheel;

pub use analysis::{Analysis, AnalysisError, Options, analyse};
pub use capture::{Capture, CaptureError, ReadOptions, read, read_bytes};
pub use engine::Engine;
pub use error::DescriptionError;
pub use known::KnownGood;
pub use leads::LeadRequest;
pub use report::json::write as to_json;
pub use units::{CrankDeg, CrankDelta};
pub use verdict::{State, Verdict};
