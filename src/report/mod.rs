//! How an [`Analysis`](crate::analysis::Analysis) looks: text and JSON. No arithmetic beyond rounding for print.

pub mod json;
pub mod text;
