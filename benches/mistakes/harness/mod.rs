//! Mistakes of the description and the leads, made on engines of known truth and counted.

pub mod kinds;
pub mod spec;
pub mod table;
pub mod trial;
