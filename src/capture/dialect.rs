//! How a capture file was written, for `look` and for messages.

use super::Encoding;

/// What the reader found out about a text capture.
#[derive(Debug, Clone, PartialEq)]
pub struct Dialect {
    /// How the text is encoded.
    pub encoding: Encoding,
    /// The character between cells.
    pub separator: char,
    /// The decimal mark.
    pub decimal: char,
    /// The mark between thousands, if the file uses one.
    pub thousands: Option<char>,
    /// The lines above the column names that are not blank, as written.
    pub titles: Vec<String>,
    /// Every column, in the file's order.
    pub columns: Vec<DialectColumn>,
    /// Line of the first row of numbers, counted from 1.
    pub data_line: usize,
    /// Samples per second: measured from the times, or as stated where there are none; `None` when
    /// the steps are uneven.
    pub rate: Option<f64>,
    /// Columns without one number, which were left out: positions counted from 1.
    pub left_out: Vec<usize>,
}

/// One column of the file.
#[derive(Debug, Clone, PartialEq)]
pub struct DialectColumn {
    /// Header text without its unit, or `column 3`.
    pub name: String,
    /// Whether the file states a unit that was understood.
    pub has_unit: bool,
    /// Whether it carries the times.
    pub is_time: bool,
    /// Whether it only counts rows and was left out.
    pub is_counter: bool,
}
