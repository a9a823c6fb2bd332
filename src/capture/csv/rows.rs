//! A block of whole lines becomes columns of numbers.
//!
//! Nearly every line is plain numbers and takes the fast road, [`fast_row`]. A line that
//! does not is read again from its start by [`careful_row`], which knows quotation marks, over-range
//! marks, thousands and repeated headers, and gives the fault its place and words.

use super::number::{self, Cell, NumberStyle};
use super::split::{self, LineEnd, without_return};
use crate::capture::error::{Class, Fault, shown};
use crate::capture::table::block::Block;
use crate::capture::table::clock::Piece;
use crate::capture::table::column::Role;

/// Everything a row parser must know.
#[derive(Debug, Clone)]
pub(crate) struct Plan {
    pub separator: u8,
    pub style: NumberStyle,
    pub line_end: LineEnd,
    /// Role and unit prefix of each column.
    pub columns: Vec<(Role, i32)>,
    /// Rows end in a separator.
    pub trailing: bool,
    /// Cells are seen to stand in quotation marks.
    pub quoted: bool,
    /// Lines that may come again between buffers and are skipped.
    pub repeated: Vec<Vec<u8>>,
    /// Longest line taken.
    pub line_bytes: usize,
}

/// Reads whole lines. A fault's line counts from 1 within the block.
pub(crate) fn read(text: &[u8], plan: &Plan, block: &mut Block) -> Result<(), Fault> {
    block.clear(plan.columns.iter().filter(|(role, _)| *role == Role::Channel).count());
    if plan.quoted {
        rows::<true>(text, plan, block)?;
    } else {
        rows::<false>(text, plan, block)?;
    }
    block.piece = Piece::of(&block.times);
    Ok(())
}

fn rows<const QUOTED: bool>(text: &[u8], plan: &Plan, block: &mut Block) -> Result<(), Fault> {
    let mut at = 0;
    while at < text.len() {
        if let Some(next) = fast_row::<QUOTED>(text, at, plan, block) {
            at = next;
            block.rows += 1;
            block.lines += 1;
            continue;
        }
        block.take_back();
        let end_byte = plan.line_end.byte();
        let length = text[at..].iter().position(|&byte| byte == end_byte);
        let end = length.map_or(text.len(), |length| at + length);
        block.lines += 1;
        let row = careful_row(without_return(&text[at..end]), plan, block)
            .map_err(|fault| fault.at_line(block.lines))?;
        if row {
            block.rows += 1;
        } else {
            block.skips.push((block.rows, block.lines + 1));
        }
        at = end + 1;
    }
    Ok(())
}

/// Reads the row that starts at `at` when it is nothing but plain numbers, each in quotation marks or not where some
/// are; gives the start of the next line. On `None` some values may have been pushed already.
#[inline(always)]
fn fast_row<const QUOTED: bool>(
    text: &[u8],
    mut at: usize,
    plan: &Plan,
    block: &mut Block,
) -> Option<usize> {
    let mut channel = 0;
    let last = plan.columns.len() - 1;
    for (index, &(role, shift)) in plan.columns.iter().enumerate() {
        at = skip_spaces(text, at);
        let open = QUOTED && text.get(at) == Some(&b'"');
        at += usize::from(open);
        let (value, place, mut next) = number::plain(text, at, plan.style.decimal, shift)?;
        if open {
            if text.get(next) != Some(&b'"') {
                return None;
            }
            next += 1;
        }
        match role {
            Role::Time => {
                block.finest = block.finest.min(place);
                block.times.push(value);
            }
            Role::Channel => {
                block.channels[channel].push(value as f32);
                channel += 1;
            }
            Role::Counter => {}
        }
        at = skip_spaces(text, next);
        if index < last {
            if *text.get(at)? != plan.separator {
                return None;
            }
            at += 1;
        }
    }
    if plan.trailing && text.get(at) == Some(&plan.separator) {
        at = skip_spaces(text, at + 1);
    }
    let end = plan.line_end.byte();
    match text.get(at) {
        None => Some(at),
        Some(&byte) if byte == end => Some(at + 1),
        Some(b'\r') if text.get(at + 1) == Some(&end) => Some(at + 2),
        Some(_) => None,
    }
}

#[inline]
fn skip_spaces(text: &[u8], mut at: usize) -> usize {
    while text.get(at) == Some(&b' ') {
        at += 1;
    }
    at
}

/// Reads any row; false for a line that carries none: blank, or the header again.
fn careful_row(line: &[u8], plan: &Plan, block: &mut Block) -> Result<bool, Fault> {
    if line.len() > plan.line_bytes {
        return Err(Fault::new(
            Class::TooLarge,
            format!("the line has {} bytes, more than {}", line.len(), plan.line_bytes),
            "Check that this is a capture exported as CSV",
        ));
    }
    // A lone ^Z is how old systems end a text file.
    if line.trim_ascii().is_empty()
        || line == b"\x1a"
        || plan.repeated.iter().any(|header| header == line)
    {
        return Ok(false);
    }
    let Some(mut cells) = split::cells(line, plan.separator) else {
        return Err(Fault::malformed(
            format!("a quotation mark is opened and not closed in {}", shown(line)),
            "Close it or remove it",
        ));
    };
    let width = plan.columns.len();
    if cells.iter().all(|cell| cell.is_empty()) {
        return Ok(false);
    }
    if plan.trailing && cells.len() == width + 1 && cells[width].is_empty() {
        cells.pop();
    }
    if cells.len() != width {
        return Err(wrong_width(line, cells.len(), width));
    }
    let mut channel = 0;
    for (index, (cell, &(role, shift))) in cells.iter().zip(&plan.columns).enumerate() {
        let value = number::cell(cell, plan.style, shift);
        let fault =
            |what: String, advice: &str| Err(Fault::malformed(what, advice).at_column(index + 1));
        match (role, value) {
            (_, Cell::Text) => {
                let marked = cell.contains(&b',') || cell.contains(&b'.');
                return fault(
                    format!("expected a number, found {}", shown(cell)),
                    if marked {
                        "If the decimal mark was taken wrongly, pass `--decimal comma` or `--decimal \
                         point`; else correct or remove this row, or export the capture again"
                    } else {
                        "Correct or remove this row, or export the capture again"
                    },
                );
            }
            (_, Cell::NotMeasured) => {
                return fault(
                    "found NaN, a value that was never measured".to_owned(),
                    "Remove the rows without a measurement, or use --from and --to on an export \
                     without them",
                );
            }
            (Role::Time, Cell::Number(value, place)) => {
                block.finest = block.finest.min(place);
                block.times.push(value);
            }
            (Role::Time, _) => {
                return fault(
                    format!("expected a time, found {}", shown(cell)),
                    "Every row needs its time; export the capture again",
                );
            }
            (Role::Channel, value) => {
                block.channels[channel].push(stored(value));
                channel += 1;
            }
            (Role::Counter, _) => {}
        }
    }
    Ok(true)
}

/// Over-range marks as the infinities and NaN that `over_range::settle` takes out.
fn stored(value: Cell) -> f32 {
    match value {
        Cell::Number(value, _) => value as f32,
        Cell::Above => f32::INFINITY,
        Cell::Below => f32::NEG_INFINITY,
        _ => f32::NAN,
    }
}

fn wrong_width(line: &[u8], found: usize, expected: usize) -> Fault {
    let cells = |count: usize| if count == 1 { "1 cell".into() } else { format!("{count} cells") };
    Fault::malformed(
        format!("expected {}, found {} in {}", cells(expected), cells(found), shown(line)),
        "Correct or remove this row; if it is the last one, the file was cut short: export it again",
    )
}
