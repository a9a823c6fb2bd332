//! A part of a capture that has been read.

use super::options::ReadOptions;
use super::{Capture, CaptureError, table};
use crate::units::Seconds;

/// The rows of a capture from one time to another, both included; what is not given is its own end.
/// The same rows as from a reader that is given these times.
///
/// # Errors
/// Nothing would be left.
pub fn stretch(
    capture: &Capture,
    from: Option<Seconds>,
    to: Option<Seconds>,
) -> Result<Capture, CaptureError> {
    let mut part = capture.clone();
    let options = ReadOptions { from, to, ..ReadOptions::default() };
    match table::trim::trim(&mut part, &options) {
        Ok(_) => Ok(part),
        Err(fault) => Err(fault.in_file(&capture.source)),
    }
}
