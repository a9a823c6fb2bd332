//! How an [`Analysis`](crate::analysis::Analysis) looks: text and JSON. No arithmetic beyond rounding for print.

mod compression;
pub mod json;
pub mod text;
