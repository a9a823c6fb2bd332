//! What the reader has to tell of a file beside its channels.

use std::fmt;

use super::TimeUnit;

/// What the reader has to tell of a file beside its channels.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Notes {
    /// Columns that are no channel of the capture, in the file's order.
    pub left_out: Vec<LeftOut>,
}

impl Notes {
    /// The time column, if the file has one.
    #[must_use]
    pub fn time(&self) -> Option<&LeftOut> {
        self.left_out.iter().find(|column| matches!(column.why, Why::Time { .. }))
    }

    /// The columns that could have been channels.
    pub fn lost(&self) -> impl Iterator<Item = &LeftOut> {
        self.left_out.iter().filter(|column| column.why == Why::Blank)
    }
}

/// A column that is no channel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    /// Position in the file, counted from 1.
    pub column: usize,
    /// Header text without its unit, or `column 3`.
    pub name: String,
    /// Why it is none.
    pub why: Why,
}

/// Why a column is no channel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Why {
    /// It carries the times, in the unit that the file or the user states.
    Time {
        /// `None` where nobody states one and seconds were taken.
        unit: Option<TimeUnit>,
    },
    /// It only counts the rows.
    Counter,
    /// It has not a single number in it: an input that was switched off.
    Blank,
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str(match self {
            Why::Time { .. } => "it carries the times",
            Why::Counter => "it only counts the rows",
            Why::Blank => "there is not one number in it",
        })
    }
}
