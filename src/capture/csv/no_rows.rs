//! The message for a text in which no row of numbers was found.

use super::layout::{Line, SEPARATORS, lines, reads_somehow};
use super::number::Cell;
use super::split::LineEnd;
use crate::capture::error::{Fault, shown};
use crate::capture::options::ReadOptions;

/// Fewer lines alike are no table.
const LEAST_ALIKE: usize = 3;

/// Says what keeps the lines that look like rows from being some.
pub(super) fn no_data(text: &[u8], end: LineEnd, options: &ReadOptions) -> Fault {
    let filled = text.split(|&byte| byte == end.byte()).any(|line| !line.trim_ascii().is_empty());
    let what = if !filled {
        "the file holds nothing but blank lines"
    } else if let Some(fault) = odd_cell(text, end) {
        return fault;
    } else if options.separator.is_some() {
        "no row of numbers was found with the separator given"
    } else {
        "no row of numbers was found"
    };
    Fault::malformed(
        what,
        "A capture has a line of column names and then rows of numbers, with commas, \
         semicolons or tabs between the cells; export it again as CSV",
    )
}

/// The first cell that is no number of the most lines alike that follow one another: rows that would be
/// data but for it. Lines further up may be settings.
fn odd_cell(text: &[u8], end: LineEnd) -> Option<Fault> {
    // Of equals the first separator, which has the wider rows.
    let runs = SEPARATORS.map(|separator| longest_run(lines(text, end, separator)));
    let width = |run: &[Line]| run.first().map_or(0, |line| line.cells.len());
    let run = runs.into_iter().rev().max_by_key(|run| (run.len(), width(run)))?;
    let first = run.first().filter(|_| run.len() > 1)?;
    let column = first.cells.iter().position(|cell| is_text(cell))?;
    Some(
        Fault::malformed(
            format!("expected a number, found {}", shown(&first.cells[column])),
            "Export the capture with numbers only, the time in seconds and the units in the names \
             of the columns",
        )
        .at_line(first.number)
        .at_column(column + 1),
    )
}

fn is_text(cell: &[u8]) -> bool {
    reads_somehow(cell) == Cell::Text
}

/// The longest run of lines of one width that are half numbers, or all numbers with something about
/// them: a unit, quotation marks of another kind.
fn longest_run(lines: Vec<Line>) -> Vec<Line> {
    let alike = |a: &Line, b: &Line| {
        b.number == a.number + 1 && a.cells.len() == b.cells.len() && half(a) == half(b)
    };
    let mut rows = lines;
    rows.retain(|line| half(line) || dressed(line));
    let runs = rows.chunk_by(alike);
    let whole = |run: &&[Line]| half(&run[0]) || run.len() >= LEAST_ALIKE;
    runs.filter(whole).rev().max_by_key(|run| run.len()).map(<[Line]>::to_vec).unwrap_or_default()
}

/// Some cells are numbers and others words.
fn half(line: &Line) -> bool {
    let texts = line.cells.iter().filter(|cell| is_text(cell)).count();
    texts > 0
        && texts < line.cells.len()
        && !line.cells.iter().all(|cell| cell.is_empty() || is_text(cell))
}

/// Every cell holds a digit, and none is a number.
fn dressed(line: &Line) -> bool {
    let digit = |cell: &Vec<u8>| is_text(cell) && cell.iter().any(u8::is_ascii_digit);
    line.cells.len() > 1 && line.cells.iter().all(digit)
}
