//! From an oscilloscope capture of the crank and cam position sensors to where each
//! camshaft stands.

pub mod cam;
pub mod capture;
pub mod crank;
pub mod edges;
pub mod engine;
pub mod error;
pub mod units;
pub mod verdict;
pub mod wheel;
