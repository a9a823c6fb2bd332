//! A cell becomes a number, or an over-range mark, or neither.
//!
//! [`plain`] is the fast path: digits, one decimal mark, an exponent. It answers only
//! where the answer is exact, and `None` everywhere else. [`cell`] is the slow and obvious
//! path that takes everything: marks, thousands, long mantissas. Both give the same
//! number where both answer; a property test holds them together.

mod any;
mod fast;
mod piece;
mod times;

pub(crate) use any::cell;
pub(crate) use fast::{eight_of, exponent_begins, plain, text_of};
pub(crate) use piece::Piece;
pub(crate) use times::Times;

/// How this file writes numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct NumberStyle {
    /// `.` or `,`.
    pub decimal: u8,
    /// The other of the two, when the file was seen to group thousands with it.
    pub thousands: Option<u8>,
}

/// What a cell says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Cell {
    /// A finite number and the power of ten of its last printed digit.
    Number(f64, i32),
    /// A word for a level of a logic signal: 0 or 1. Never a time.
    Level(f64),
    /// Above the input range.
    Above,
    /// Below the input range.
    Below,
    /// Outside the input range; the file does not say on which side.
    Outside,
    /// The text "NaN", or a lone minus: a value that was never measured.
    NotMeasured,
    /// Anything else.
    Text,
}
