//! When the rows of a table without a time column were taken.

use crate::capture::error::Fault;
use crate::capture::options::ReadOptions;

/// What a file says about the times of its rows in other ways than by a column.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Timing {
    /// Time of the first row in seconds.
    pub start: Option<f64>,
    /// Time from row to row in seconds; positive.
    pub step: Option<f64>,
}

/// Two statements of the step agree when they are this close.
const AGREE: f64 = 0.01;

/// Whether two steps are the same as closely as headers are written.
pub(crate) fn agree(one: f64, other: f64) -> bool {
    (one / other - 1.0).abs() <= AGREE
}

impl Timing {
    /// Start and step: from the user, else as the file states them.
    pub fn settled(&self, options: &ReadOptions) -> Result<Option<(f64, f64)>, Fault> {
        let start = self.start.unwrap_or(0.0);
        match options.rate {
            Some(rate) if rate.is_finite() && rate > 0.0 => Ok(Some((start, 1.0 / rate))),
            Some(rate) => Err(Fault::malformed(
                format!("a sample rate of {rate} samples per second is not possible"),
                "Pass `--rate` with a positive number",
            )),
            None => Ok(self.step.map(|step| (start, step))),
        }
    }
}

/// The message for a file that does not say when its rows are.
pub(crate) fn missing_rate() -> Fault {
    Fault::malformed(
        "there is no time column, and no sample rate or interval above the data",
        "Pass `--rate` with the samples per second, or export the capture with its times",
    )
}
