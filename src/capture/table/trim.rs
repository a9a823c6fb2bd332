//! The part of a capture that is asked for.

use crate::capture::error::Fault;
use crate::capture::options::ReadOptions;
use crate::capture::{Capture, Clock};
use crate::remedy::{Remedy, Setting};

/// Cuts the capture to the times asked for, both included; gives the number of rows cut off in
/// front.
pub(in crate::capture) fn trim(
    capture: &mut Capture,
    options: &ReadOptions,
) -> Result<usize, Fault> {
    let rows = capture.rows();
    let first = options.from.map_or(0, |from| capture.clock.row_at_or_after(from, rows));
    let end = options.to.map_or(rows, |to| {
        let row = capture.clock.row_at_or_after(to, rows);
        if row < rows && capture.clock.at(row).0 <= to.0 { row + 1 } else { row }
    });
    if first == 0 && end == rows {
        return Ok(0);
    }
    if end < first + 2 {
        let (start, stop) = capture.span();
        return Err(Fault::malformed(
            format!(
                "nothing is left of the seconds that are to be used; the capture runs from {} s to {} s",
                start.0, stop.0
            ),
            Remedy::set(Setting::Stretch, "inside the capture"),
        ));
    }
    match &mut capture.clock {
        Clock::Uniform { start, step } => start.0 += first as f64 * step.0,
        Clock::Stamped(stamps) => cut(stamps, first, end),
    }
    for channel in &mut capture.channels {
        channel.values.cut(first..end);
        channel.over_range.retain_mut(|range| {
            *range = (range.0.max(first) - first, range.1.clamp(first, end) - first);
            range.0 < range.1
        });
    }
    Ok(first)
}

fn cut<T>(values: &mut Vec<T>, first: usize, end: usize) {
    values.truncate(end);
    values.drain(..first);
}
