//! Time stamps become a clock: a straight line where they lie on one.
//!
//! A deep capture has tens of millions of rows; their stamps are not kept when two numbers
//! say as much. Each block of rows leaves a [`Piece`]: its ends, and how far its stamps depart from
//! the straight line between them. The pieces then bound the departure of
//! every stamp from one line through the whole capture.

use crate::capture::Clock;
use crate::units::Seconds;

/// What is kept of a run of stamps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Piece {
    /// Number of the run's first row.
    pub row: usize,
    pub rows: usize,
    pub first: f64,
    pub last: f64,
    /// Greatest distance of a stamp from the line between first and last.
    pub departure: f64,
}

/// Stamps printed to a resolution r lie within r/2 of the true line, and so does the
/// line through two of them: the pieces' bound can reach 2 r and no more.
const ROUNDING: f64 = 2.0;
/// Rounding explains the departure only where it is finer than the step itself.
const COARSEST: f64 = 0.5;
/// Departures under a hundredth of a step move no crossing time by anything that matters
/// (at 20 kS/s and 200 rpm, 0.0006°): single-precision stamps and wandering converters.
const NEGLIGIBLE: f64 = 0.01;

/// A step must be this share of the times at least, so that rows never fall on one double.
const COARSE_DOUBLE: f64 = 4.0 * f64::EPSILON;

impl Piece {
    /// Sums up stamps that grow strictly; otherwise gives the first row, counted within the
    /// run, that does not. `row` is left 0.
    pub fn of(times: &[f64]) -> Result<Self, usize> {
        if let Some(row) = times.windows(2).position(|pair| pair[0] >= pair[1]) {
            return Err(row + 1);
        }
        let (Some(&first), Some(&last)) = (times.first(), times.last()) else {
            return Ok(Piece { row: 0, rows: 0, first: 0.0, last: 0.0, departure: 0.0 });
        };
        let step = (last - first) / (times.len() - 1).max(1) as f64;
        let departure = times
            .iter()
            .enumerate()
            .map(|(index, time)| (time - (first + index as f64 * step)).abs())
            .fold(0.0, f64::max);
        Ok(Piece { row: 0, rows: times.len(), first, last, departure })
    }
}

/// The straight line through all pieces, with its greatest departure from a stamp, if all stamps
/// lie on it as closely as they were printed. `finest` is the power of ten of the last printed
/// digit.
pub(crate) fn straight(pieces: &[Piece], finest: i32) -> Option<(Clock, f64)> {
    let (first, last) = (pieces.first()?, pieces.last()?);
    let rows = last.row + last.rows;
    let step = (last.last - first.first) / rows.checked_sub(1).filter(|&n| n > 0)? as f64;
    let line = |row: usize| first.first + row as f64 * step;
    let departure = pieces
        .iter()
        .map(|piece| {
            let at_first = (piece.first - line(piece.row)).abs();
            let at_last = (piece.last - line(piece.row + piece.rows - 1)).abs();
            at_first.max(at_last) + piece.departure
        })
        .fold(0.0, f64::max);
    let printed = 10f64.powi(finest.clamp(-300, 300));
    let rounding = if printed <= COARSEST * step { ROUNDING * printed } else { 0.0 };
    // Far from zero, doubles may be too coarse for steps that never hit one twice.
    let resolved = step > 0.0 && step > COARSE_DOUBLE * first.first.abs().max(last.last.abs());
    let straight = resolved && departure <= rounding.max(NEGLIGIBLE * step);
    straight
        .then_some((Clock::Uniform { start: Seconds(first.first), step: Seconds(step) }, departure))
}
