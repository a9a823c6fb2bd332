//! What the reader has to tell of a file beside its channels.

use std::fmt;

use super::{FileFacts, TimeUnit};

/// What the reader has to tell of a file beside its channels.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Notes {
    /// Columns that are no channel of the capture, in the file's order.
    pub left_out: Vec<LeftOut>,
    /// What was done with rows and cells that are not as they should be.
    pub remarks: Vec<Remark>,
    /// What tells the file from another, where that was asked for.
    pub file: Option<FileFacts>,
}

impl Notes {
    /// The time column, if the file has one.
    #[must_use]
    pub fn time(&self) -> Option<&LeftOut> {
        self.left_out.iter().find(|column| matches!(column.why, Why::Time { .. }))
    }

    /// The columns that could have been channels.
    pub fn lost(&self) -> impl Iterator<Item = &LeftOut> {
        let told = |why: &Why| matches!(why, Why::Time { .. } | Why::TimeAgain | Why::Counter);
        self.left_out.iter().filter(move |column| !told(&column.why))
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
    /// It repeats the times, for another channel.
    TimeAgain,
    /// It only counts the rows.
    Counter,
    /// It holds words.
    Words,
    /// It has not a single number in it: an input that was switched off.
    Blank,
    /// Its values end, and the other columns go on: one of another rate written from the top, whose
    /// rows are not those of the others.
    Ended {
        /// Line of its last value, counted from 1; the row in a file without lines.
        line: usize,
    },
    /// A cell of it is no number.
    NoNumber {
        /// Line of the first such cell, counted from 1; the row in a file without lines.
        line: usize,
        /// What stands there, quoted and made harmless.
        found: String,
    },
}

/// Something done with rows or cells that are not as they should be. Lines count from 1.
#[derive(Debug, Clone, PartialEq)]
pub enum Remark {
    /// The last row was left out, because its time is not after the row before.
    LastRow {
        /// Its time in seconds.
        time: f64,
        /// The time of the row before.
        before: f64,
    },
    /// Lines at the end are no rows of the table and were left out.
    Tail {
        /// The first of them.
        line: usize,
        /// How many, blank ones not counted.
        lines: usize,
        /// What the first says, quoted and made harmless.
        found: String,
    },
    /// Rows at the end of a table without times that stand apart from the others, too few for a
    /// piece of a recording, were left out.
    Footer {
        /// Line of the first of them.
        line: usize,
        /// How many.
        lines: usize,
    },
    /// Blank cells that come regularly, as a channel sampled more slowly leaves them, were filled
    /// by straight lines.
    Slower {
        /// The channel's position, counted from 1, and its name.
        column: usize,
        /// Its name.
        name: String,
        /// Cells filled.
        filled: usize,
        /// They were not blank but zeros, all of them.
        zeros: bool,
    },
    /// Blank cells that come irregularly were taken for over-range and hold a limit of the channel.
    Held {
        /// The channel's position, counted from 1.
        column: usize,
        /// Its name.
        name: String,
        /// Cells held.
        held: usize,
    },
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        match self {
            Remark::LastRow { time, before } => write!(
                f,
                "The last row was left out: its time, {time} s, is not after {before} s, the row before it."
            ),
            Remark::Tail { line, lines: 1, found } => write!(
                f,
                "Line {line}, the last, is no row of the table and was left out: {found}. If it was cut short, export the capture again."
            ),
            Remark::Tail { line, lines, found } => write!(
                f,
                "{lines} lines at the end, from line {line} on, are no rows of the table and were left out. The first: {found}."
            ),
            Remark::Footer { line, lines: 1 } => write!(
                f,
                "Line {line}, the last, stands apart from the rows, and no column has its time: it was left out as a footer."
            ),
            Remark::Footer { line, lines } => write!(
                f,
                "{lines} lines at the end, from line {line} on, stand apart from the rows and are too few for a recording: they were left out as a footer."
            ),
            Remark::Slower { column, name, filled, zeros: true } => write!(
                f,
                "Column {column} \"{name}\" is zero but at regular steps, as a channel sampled more slowly is where zeros are written for blanks: {filled} cells were filled by straight lines between its values."
            ),
            Remark::Slower { column, name, filled, .. } => write!(
                f,
                "Column {column} \"{name}\" is blank at regular steps, as a channel sampled more slowly is: {filled} blank cells were filled by straight lines between its values."
            ),
            Remark::Held { column, name, held: 1 } => write!(
                f,
                "One cell of column {column} \"{name}\" is blank: it was taken for over-range, at the channel's nearest limit."
            ),
            Remark::Held { column, name, held } => write!(
                f,
                "{held} cells of column {column} \"{name}\" are blank without a rule: they were taken for over-range, at the channel's nearest limit."
            ),
        }
    }
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        match self {
            Why::Time { .. } => f.write_str("it carries the times"),
            Why::TimeAgain => f.write_str("it repeats the times"),
            Why::Counter => f.write_str("it only counts the rows"),
            Why::Words => f.write_str("it holds words, not numbers"),
            Why::Blank => f.write_str("there is not one number in it"),
            Why::Ended { line } => write!(
                f,
                "its values end at line {line} and the other columns go on: it may be of another sample rate; export it with a time of its own in a file of its own, or with as many rows as the others"
            ),
            Why::NoNumber { line, found } => {
                write!(f, "a number is expected, and line {line} has {found}")
            }
        }
    }
}
