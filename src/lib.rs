//! From an oscilloscope capture of the crank and cam position sensors to where each
//! camshaft stands.

pub mod analysis;
pub mod batch;
pub mod cam;
pub mod capture;
pub mod cli;
pub mod compare;
pub mod compression;
pub mod crank;
pub mod edges;
pub mod engine;
pub mod error;
pub mod known;
pub mod leads;
pub mod learn;
pub mod look;
pub mod output;
pub mod plan;
pub mod practice;
pub mod report;
pub mod stats;
pub mod units;
pub mod verdict;
pub mod wheel;
