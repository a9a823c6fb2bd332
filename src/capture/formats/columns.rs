//! Columns of numbers, however they came, become a capture by the same road as rows of text.

use crate::capture::Capture;
use crate::capture::build::{self, Built};
use crate::capture::clock::Piece;
use crate::capture::csv::header::{Column, Header, Role};
use crate::capture::csv::interval::Timing;
use crate::capture::csv::rows::Block;
use crate::capture::error::Fault;
use crate::capture::options::ReadOptions;
use crate::capture::table::{Refused, Stamps, Table};

/// What a file of another format holds.
pub(crate) struct Columns {
    /// The time column, if there is one, stands first in `header`.
    pub header: Vec<Column>,
    /// Times in seconds, one per row.
    pub times: Option<Vec<f64>>,
    /// Values, a vector per channel; ±∞ for a value out of range.
    pub channels: Vec<Vec<f32>>,
    /// Seconds from row to row, where the file states them instead of times.
    pub step: Option<f64>,
    /// Power of ten of the resolution of the times.
    pub finest: i32,
}

impl Columns {
    /// Builds the capture. Faults name a row, counted from 1, where text has a line.
    pub fn build(self, name: &str, options: &ReadOptions) -> Result<Capture, Fault> {
        let Columns { header, times, channels, step, finest } = self;
        let rows = channels.first().map_or(0, Vec::len);
        let timing = Timing { start: None, step };
        let header =
            Header { columns: header, repeated: vec![], titles: vec![], timing, named: true };
        let stamps = if times.is_some() { Stamps::Keep } else { Stamps::Absent };
        let times = times.unwrap_or_default();
        let piece = Piece::of(&times);
        let mut block =
            Block { piece, times, channels, rows, lines: rows, finest, ..Block::default() };
        let mut table = Table::new(header.channels(), stamps, 1);
        let noted = table.note(&mut block, true);
        noted.map_err(|refused| match refused {
            Refused::Fault(fault) => without_line(fault),
            Refused::Uneven => Fault::malformed("uneven times", "Export the capture again"),
        })?;
        table.channels = block.channels;
        table.times = block.times;
        match build::build(table, &header, name, options).map_err(without_line)? {
            Built::Done(capture) => Ok(capture),
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

/// A channel without a name of its own: `column 2`.
pub(crate) fn unnamed(position: usize, role: Role) -> Column {
    Column { name: format!("column {position}"), unit: None, role }
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
