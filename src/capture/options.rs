//! How a capture file is to be read, and how much of it will be held.

use super::CaptureKind;
use crate::units::Seconds;
use crate::watch::Watch;

/// Choices the user may make where the file leaves them open. The default asks the file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReadOptions {
    /// Samples per second, for a file without a time column. Must be positive.
    pub rate: Option<f64>,
    /// Leave out rows before this time on the capture's own clock.
    pub from: Option<Seconds>,
    /// Leave out rows after this time on the capture's own clock.
    pub to: Option<Seconds>,
    /// What the rows mean, when the data leave it open.
    pub force_kind: Option<CaptureKind>,
    /// The character between cells: `,`, `;`, `|`, a tab, or a blank for columns aligned by blanks.
    pub separator: Option<char>,
    /// The decimal mark: `.` or `,`.
    pub decimal: Option<char>,
    /// The column of the times, by header or by position from 1, where the file has it under a name
    /// of its own.
    pub time: Option<String>,
    /// Unit of the time column, when its header does not say. It overrides the header.
    pub time_unit: Option<TimeUnit>,
    /// Take down what tells the file from another: its checksum and when it was recorded. Reads it
    /// once more.
    pub identify: bool,
    /// What is refused as too large.
    pub limits: Limits,
    /// Who waits for the file to be read.
    pub watch: Watch,
}

/// Unit of a time column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TimeUnit {
    /// Seconds.
    Seconds,
    /// Thousandths.
    Milliseconds,
    /// Millionths.
    Microseconds,
    /// Thousand-millionths.
    Nanoseconds,
}

impl TimeUnit {
    /// Every unit.
    pub const ALL: [TimeUnit; 4] =
        [TimeUnit::Seconds, TimeUnit::Milliseconds, TimeUnit::Microseconds, TimeUnit::Nanoseconds];

    /// Its symbol.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            TimeUnit::Seconds => "s",
            TimeUnit::Milliseconds => "ms",
            TimeUnit::Microseconds => "µs",
            TimeUnit::Nanoseconds => "ns",
        }
    }

    /// Power of ten of the unit in seconds.
    pub(in crate::capture) fn power(self) -> i32 {
        match self {
            TimeUnit::Seconds => 0,
            TimeUnit::Milliseconds => -3,
            TimeUnit::Microseconds => -6,
            TimeUnit::Nanoseconds => -9,
        }
    }

    /// The unit of a power of ten.
    pub(in crate::capture) fn of_power(power: i32) -> Option<TimeUnit> {
        TimeUnit::ALL.into_iter().find(|unit| unit.power() == power)
    }
}

/// Limits on an untrusted file. Memory follows from them: two or four bytes per value, eight more per
/// row when the steps are uneven, and a few megabytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of the file.
    pub bytes: u64,
    /// Bytes of text that must be held in memory whole: what was packed, UTF-16, a pipe.
    pub held_bytes: u64,
    /// Numbers in a file that can hold more of them than its bytes tell: arrays, sound, a list of
    /// changes. Each takes four bytes; times take eight.
    pub values: u64,
    /// Columns, time included.
    pub columns: usize,
    /// Bytes in one line.
    pub line_bytes: usize,
}

impl Default for Limits {
    /// 16 GB is more than the deepest oscilloscope memory in common use exports, and 2 GB, text or
    /// 500 million numbers, fit into a workshop computer's memory; 256 columns and 64 KiB lines are
    /// far above any bench instrument, and bound what a hostile file costs.
    fn default() -> Self {
        Limits {
            bytes: 16_000_000_000,
            held_bytes: 2_000_000_000,
            values: 500_000_000,
            columns: 256,
            line_bytes: 64 * 1024,
        }
    }
}
