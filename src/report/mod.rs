//! How an [`Analysis`](crate::analysis::Analysis) looks: text, JSON, pictures and HTML. No arithmetic beyond rounding
//! for print.

mod compression;
pub mod html;
pub mod job;
pub mod json;
pub mod pictures;
pub mod text;
