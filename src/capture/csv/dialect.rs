//! How a text capture was written, for `look`.

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
    /// Line of the first row of numbers, counted from 1.
    pub data_line: usize,
}
