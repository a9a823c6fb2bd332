//! How an [`Analysis`](crate::analysis::Analysis) looks: text and JSON. No arithmetic beyond rounding for print.

pub mod batch;
pub mod compare;
pub mod json;
pub mod learn;
pub mod look;
pub mod plan;
pub mod text;
mod wrap;
