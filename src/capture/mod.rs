//! A file becomes channels on a clock.
//!
//! Two kinds of capture exist. *Sampled*: a value of every channel at every tick.
//! *Events*: a row each time something changed, levels held until the next row, as a logic
//! analyser writes. Both end as the same [`Capture`]; after this stage no
//! NaN, no infinite value, no unsorted time and no channels of unequal length exist.

mod csv;
mod error;
mod facts;
mod failure;
mod formats;
mod notes;
mod options;
mod read;
mod recorded;
mod samples;
mod source;
mod stretch;
mod table;
mod values;

pub use csv::{Dialect, Encoding};
pub use error::CaptureError;
pub use facts::{Asked, CaptureFacts, ChannelFacts, FileFacts};
pub use notes::{LeftOut, Notes, Remark, Why};
pub use options::{Limits, ReadOptions, TimeUnit};
pub use read::{read, read_bytes, read_bytes_described, read_described};
pub use samples::{Iter as ValuesIter, Samples, Scaled};
pub use stretch::stretch;
pub(crate) use table::units::split_name;
pub use values::Values;

use crate::units::Seconds;

/// What the rows of a capture mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CaptureKind {
    /// A value per tick, straight lines between.
    Sampled,
    /// A row per change, levels held until the next row.
    Events,
}

impl CaptureKind {
    /// The word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            CaptureKind::Sampled => "sampled",
            CaptureKind::Events => "events",
        }
    }
}

/// The times of the rows; always finite and strictly growing.
#[derive(Debug, Clone, PartialEq)]
pub enum Clock {
    /// Row i is at start + i · step; `step` is positive.
    Uniform {
        /// Time of row 0.
        start: Seconds,
        /// Time from row to row.
        step: Seconds,
    },
    /// Every row has a time of its own.
    Stamped(Vec<f64>),
}

impl Clock {
    /// Time of a row; the only way from an index to seconds.
    #[must_use]
    pub fn at(&self, row: usize) -> Seconds {
        match self {
            Clock::Uniform { start, step } => Seconds(start.0 + row as f64 * step.0),
            Clock::Stamped(stamps) => Seconds(stamps[row]),
        }
    }

    /// First row at or after a time, among `rows` rows; `rows` when there is none.
    #[must_use]
    pub fn row_at_or_after(&self, time: Seconds, rows: usize) -> usize {
        match self {
            Clock::Uniform { start, step } => {
                let row = ((time.0 - start.0) / step.0).ceil();
                (row.max(0.0) as usize).min(rows)
            }
            Clock::Stamped(stamps) => stamps.partition_point(|&stamp| stamp < time.0),
        }
    }
}

/// Unit of a channel's values, after prefixes such as m (milli) have been applied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Volts, the default for a sampled channel.
    Volts,
    /// Amperes.
    Amperes,
    /// Bare levels of a logic capture, 0 and 1.
    Level,
}

/// One column of a capture.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Header text without its unit, trimmed, controls replaced; `column 3` when the file names
    /// none.
    pub name: String,
    /// Position in the file, counted from 1, a time column included.
    pub column: usize,
    /// Unit of the values.
    pub unit: Unit,
    /// One finite value per row. Single precision carries 24 bits, more than any
    /// oscilloscope's converter.
    pub values: Values,
    /// Row ranges (first, last + 1) whose cells were over-range marks; the values there repeat the
    /// nearest limit of the channel.
    pub over_range: Vec<(usize, usize)>,
}

/// A capture file, read.
#[derive(Debug, Clone, PartialEq)]
pub struct Capture {
    /// File name, for messages and results; no folder.
    pub source: String,
    /// What the rows mean.
    pub kind: CaptureKind,
    /// When the rows are.
    pub clock: Clock,
    /// The columns, all of one length, at least one.
    pub channels: Vec<Channel>,
    /// What the reader has to tell.
    pub notes: Notes,
}

impl Capture {
    /// A capture of which the reader has nothing to tell. Channels are of one length; there is at
    /// least one.
    #[must_use]
    pub fn new(source: String, kind: CaptureKind, clock: Clock, channels: Vec<Channel>) -> Capture {
        Capture { source, kind, clock, channels, notes: Notes::default() }
    }

    /// Number of rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.channels.first().map_or(0, |channel| channel.values.len())
    }

    /// Time of the first row and of the last.
    #[must_use]
    pub fn span(&self) -> (Seconds, Seconds) {
        (self.clock.at(0), self.clock.at(self.rows().saturating_sub(1)))
    }
}
