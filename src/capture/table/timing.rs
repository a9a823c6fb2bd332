//! When the rows of a table without a time column were taken.

use crate::capture::error::{Fault, shown};
use crate::capture::options::ReadOptions;
use crate::remedy::{Remedy, Setting};

/// What a file says about the times of its rows in other ways than by a column.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Timing {
    /// Time of the first row in seconds.
    pub start: Option<f64>,
    /// Time from row to row in seconds; positive.
    pub step: Option<f64>,
    /// What it says of samples that were not exported.
    pub thinned: Option<String>,
    /// So long the recording is, in seconds.
    pub duration: Option<f64>,
    /// So many samples there were.
    pub samples: Option<f64>,
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
                Remedy::set(Setting::SampleRate, "above 0"),
            )),
            None => Ok(self.step.map(|step| (start, step))),
        }
    }
}

/// Refuses a stated step that may be of the recorder's memory and not of the exported rows.
pub(crate) fn check_stated(
    timing: &Timing,
    rows: usize,
    options: &ReadOptions,
) -> Result<(), Fault> {
    /// Rows that an exporter may leave off at the ends, as a share.
    const LEFT_OFF: f64 = 0.01;
    if options.rate.is_some() {
        return Ok(());
    }
    let doubtful = |what: String| {
        Fault::ambiguous(
            what,
            Remedy::set(Setting::SampleRate, "with the samples per second of the rows"),
        )
        .or("export the capture with its times")
    };
    if let Some(said) = &timing.thinned {
        return Err(doubtful(format!(
            "the lines above the data say {}, and not whether the rate is of the samples or of the rows",
            shown(said.as_bytes())
        )));
    }
    let span = timing.step.map(|step| step * rows as f64);
    if let (Some(duration), Some(span)) = (timing.duration, span)
        && duration > 0.0
        && (duration / span - 1.0).abs() > LEFT_OFF
    {
        return Err(doubtful(format!(
            "the lines above the data speak of {duration} s, and {rows} rows at the stated rate are {span:.3} s: the rate \
             may be of the memory and not of the rows"
        )));
    }
    if let Some(samples) = timing.samples.filter(|&all| all * (1.0 - LEFT_OFF) > rows as f64 + 1.0)
    {
        let what = format!(
            "the lines above the data speak of {samples} samples, and the file has {rows} rows: the rate may be of the \
             memory and not of the rows"
        );
        return Err(doubtful(what));
    }
    Ok(())
}

/// The message for a file that does not say when its rows are.
pub(crate) fn missing_rate() -> Fault {
    Fault::malformed(
        "there is no time column, and no sample rate or interval above the data",
        Remedy::give(Setting::SampleRate),
    )
    .or(Remedy::give(Setting::TimeColumn).only_if("the times stand under a name of their own"))
    .or("export the capture with its times")
}
