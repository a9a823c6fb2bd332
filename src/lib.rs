//! From an oscilloscope capture of the crank and cam position sensors to where each camshaft stands, and
//! what that means.
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
//! [`wheel`] and [`engine`] describe what should be there; [`units`] holds one type per quantity. [`practice`]
//! goes the other way, from angle to volts, and shares none of the steps above. [`cli`] and [`page`] are thin fronts.

pub mod analysis;
pub mod batch;
pub mod cam;
pub mod capture;
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
pub mod output;
pub mod page;
pub mod plan;
pub mod practice;
pub mod report;
pub mod stats;
pub mod units;
pub mod verdict;
pub mod watch;
pub mod wheel;
