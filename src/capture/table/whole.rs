//! Columns of numbers, however they came, become a capture by the same road as rows of text.

use super::block::Block;
use super::build::{self, Built};
use super::cells::Cells;
use super::clock::Piece;
use super::column::{Column, Head};
use super::rows::{Refused, Stamps, Table};
use super::timing::Timing;
use crate::capture::error::Fault;
use crate::capture::options::ReadOptions;
use crate::capture::{Capture, CaptureKind, Remark};

/// What a file of another format holds.
#[derive(Default)]
pub(crate) struct Whole {
    /// The columns in the file's order; those that are channels in the order of `channels`.
    pub columns: Vec<Column>,
    /// Times in seconds, one per row.
    pub times: Option<Vec<f64>>,
    /// Values, a vector per channel; ±∞ for a value out of range.
    pub channels: Vec<Vec<f32>>,
    /// Seconds from row to row, where the file states them instead of times.
    pub step: Option<f64>,
    /// Power of ten of the resolution of the times.
    pub finest: i32,
    /// What the rows mean, where the format says.
    pub kind: Option<CaptureKind>,
    /// What is to be said of the rows.
    pub remarks: Vec<Remark>,
}

impl Whole {
    /// Builds the capture. Faults name a row, counted from 1, where text has a line.
    pub fn build(self, name: &str, options: &ReadOptions) -> Result<Capture, Fault> {
        let Whole { columns, times, channels, step, finest, kind, remarks } = self;
        let rows = channels.first().map_or(0, Vec::len);
        let timing = Timing { step, ..Timing::default() };
        let head = Head { columns, timing };
        let options = &ReadOptions { force_kind: options.force_kind.or(kind), ..options.clone() };
        let stamps = if times.is_some() { Stamps::Keep } else { Stamps::Absent };
        let times = times.unwrap_or_default();
        let piece = Piece::of(&times);
        let channels = channels.into_iter().map(Cells::Plain).collect();
        let mut block =
            Block { piece, times, channels, rows, lines: rows, finest, ..Block::default() };
        let mut table = Table::new(head.channels(), stamps, 1);
        let noted = table.note(&mut block);
        noted.map_err(|refused| match refused {
            Refused::Fault(fault) => without_line(fault),
            Refused::Uneven => Fault::malformed("uneven times", "Export the capture again"),
        })?;
        table.finish();
        table.remarks.extend(remarks);
        table.channels = block.channels.iter_mut().map(Cells::take).collect();
        table.times = block.times;
        match build::build(table, &head, name, options).map_err(without_line)? {
            Built::Done(capture) => Ok(*capture),
            Built::KeepStamps => Err(Fault::malformed("uneven times", "Export the capture again")),
        }
    }
}

/// A binary file has no lines; the row goes into the words.
fn without_line(mut fault: Fault) -> Fault {
    if let Some(row) = fault.line.take() {
        fault.what = format!("row {row}: {}", fault.what);
    }
    fault
}

/// NaN in a binary file is a value never measured.
pub(crate) fn refuse_nan(channels: &[Vec<f32>]) -> Result<(), Fault> {
    for (index, channel) in channels.iter().enumerate() {
        if let Some(row) = channel.iter().position(|value| value.is_nan()) {
            return Err(Fault::malformed(
                format!("row {}: channel {} is NaN, a value never measured", row + 1, index + 1),
                "Export the capture without the rows that were not measured",
            ));
        }
    }
    Ok(())
}
