//! How an [`Analysis`](crate::analysis::Analysis) looks: text, JSON, pictures and HTML. No
//! arithmetic beyond rounding for print.

pub mod batch;
#[cfg(feature = "cli")]
pub mod class;
pub mod compare;
mod compression;
pub mod cranking;
#[cfg(feature = "report")]
pub mod evidence;
#[cfg(feature = "report")]
pub mod html;
pub mod job;
pub mod json;
#[cfg(any(feature = "output", feature = "page-service"))]
pub mod kept;
pub mod learn;
pub mod look;
mod numbers;
#[cfg(feature = "report")]
mod papers;
#[cfg(feature = "report")]
pub mod pictures;
pub mod plan;
#[cfg(any(feature = "output", feature = "page-service"))]
pub mod shelf;
pub mod text;
pub mod words;
mod wrap;

#[cfg(any(feature = "cli", feature = "page-service"))]
pub(crate) use numbers::counted;
#[cfg(feature = "page-service")]
pub(crate) use numbers::odds;
#[cfg(feature = "report")]
pub use papers::Papers;
pub use wrap::{WIDTH, hanging_lines};
