//! A block of whole lines becomes columns of numbers.
//!
//! Nearly every line is plain numbers and takes the fast road, [`fast_row`]. A line that does not
//! is read again from its start by [`careful_row`], which knows quotation marks, over-range marks,
//! thousands and repeated headers, and gives the fault its place and words.

use super::clock;
use super::number::{self, Cell, NumberStyle};
use super::plain;
use super::split::{self, LineEnd, without_return};
use crate::capture::error::{Class, Fault, shown};
use crate::capture::table::block::{Block, Spoilt};
use crate::capture::table::clock::Piece;
use crate::capture::table::column::ColumnRole;
use crate::capture::table::texts::Texts;

/// Everything a row parser must know.
#[derive(Debug, Clone)]
pub(crate) struct Plan {
    pub separator: u8,
    pub style: NumberStyle,
    pub line_end: LineEnd,
    /// Role and unit prefix of each column.
    pub columns: Vec<(ColumnRole, i32)>,
    /// Rows end in a separator.
    pub trailing: bool,
    /// Columns that hold words for levels and no numbers; in others such a word is no value.
    pub levels: Vec<bool>,
    /// One of the columns is the time.
    pub timed: bool,
    /// The times are times of day; the day of the first row, where they have dates.
    pub clock: Option<Option<i64>>,
    /// The column, counted from 0, that counts the rows of a file without times, and by how much.
    pub counter: Option<(usize, f64)>,
    /// Cells are seen to stand in quotation marks.
    pub quoted: bool,
    /// Lines that may come again between buffers and are skipped.
    pub repeated: Vec<Vec<u8>>,
    /// Longest line taken.
    pub line_bytes: usize,
}

impl Plan {
    /// Number of channels.
    pub fn channels(&self) -> usize {
        self.columns.iter().filter(|(role, _)| *role == ColumnRole::Channel).count()
    }
}

/// A line that is no row: where it begins in the text, and why.
#[derive(Debug)]
pub(crate) struct BadLine {
    pub at: usize,
    pub fault: Fault,
}

/// Reads whole lines, up to the first that is no row. A fault's line counts from 1 within the
/// block. `texts` is what cells of each channel have said so far, where it is kept.
pub(crate) fn read(
    text: &[u8],
    plan: &Plan,
    texts: &[&Texts],
    block: &mut Block,
) -> Result<(), BadLine> {
    block.clear(plan.channels(), |index| texts.get(index).is_some_and(|texts| texts.are_kept()));
    let read = if plan.quoted {
        rows::<true>(text, plan, texts, block)
    } else {
        rows::<false>(text, plan, texts, block)
    };
    block.piece = Piece::of(&block.times);
    read
}

fn rows<const QUOTED: bool>(
    text: &[u8],
    plan: &Plan,
    texts: &[&Texts],
    block: &mut Block,
) -> Result<(), BadLine> {
    let mut at = 0;
    let mut plain = !QUOTED && plain::may_be(plan);
    while at < text.len() {
        if plain {
            let next = plain::rows(text, at, plan, texts, block);
            // Two lines after one another that are not of this kind: nor will the others be.
            plain = next > at;
            at = next;
            if at == text.len() {
                break;
            }
        }
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
        match careful_row(without_return(&text[at..end]), plan, block) {
            Ok(true) => block.rows += 1,
            Ok(false) => block.skips.push((block.rows, block.lines + 2)),
            Err(fault) => {
                block.take_back();
                return Err(BadLine { at, fault: fault.at_line(block.lines + 1) });
            }
        }
        block.lines += 1;
        at = end + 1;
    }
    Ok(())
}

/// Reads the row that starts at `at` when it is nothing but plain numbers, each in quotation marks
/// or not where some are; gives the start of the next line. On `None` some values may have been
/// pushed already.
#[inline(always)]
fn fast_row<const QUOTED: bool>(
    text: &[u8],
    mut at: usize,
    plan: &Plan,
    block: &mut Block,
) -> Option<usize> {
    let mut channel = 0;
    let mut counted = None;
    let last = plan.columns.len() - 1;
    for (index, &(role, shift)) in plan.columns.iter().enumerate() {
        at = skip_spaces(text, at);
        let open = QUOTED && text.get(at) == Some(&b'"');
        at += usize::from(open);
        let (value, place, mut next) = match number::plain(text, at, plan.style.decimal, shift) {
            Some(number) => number,
            None => odd_cell(text, at, open, index, plan)?,
        };
        if open {
            if text.get(next) != Some(&b'"') {
                return None;
            }
            next += 1;
        }
        match role {
            ColumnRole::Time => {
                block.finest = block.finest.min(place);
                block.times.push(value);
            }
            ColumnRole::Channel => {
                block.channels[channel].push(value as f32);
                channel += 1;
            }
            ColumnRole::TimeAgain => {
                if !block.times.last().is_some_and(|time| same_time(*time, value, place)) {
                    return None;
                }
            }
            ColumnRole::Counter if plan.counter.is_some_and(|(column, _)| column == index) => {
                counted = Some(value);
            }
            ColumnRole::Counter | ColumnRole::Words => {}
        }
        at = skip_spaces(text, next);
        if index < last {
            if plan.separator == b' ' {
                // Columns aligned by blanks: those behind the cell are the separator.
                if at == next {
                    return None;
                }
                continue;
            }
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
    let next = match text.get(at) {
        None => at,
        Some(&byte) if byte == end => at + 1,
        Some(b'\r') if text.get(at + 1) == Some(&end) => at + 2,
        Some(_) => return None,
    };
    // Only now is it sure that the row is not read once more.
    if let (Some((_, step)), Some(value)) = (plan.counter, counted) {
        block.count.note(block.rows, value, step);
    }
    Some(next)
}

/// A blank cell or a mark of a channel, beside a time that is there: tables of several rates are
/// mostly blanks. Gives what stands for it and where it ends.
#[cold]
#[inline(never)]
fn odd_cell(
    text: &[u8],
    at: usize,
    open: bool,
    index: usize,
    plan: &Plan,
) -> Option<(f64, i32, usize)> {
    let role = plan.columns[index].0;
    let passed_over = role == ColumnRole::Words;
    if !passed_over && (role != ColumnRole::Channel || !plan.timed) {
        return None;
    }
    let ends = |&byte: &u8| match open {
        true => byte == b'"',
        false => byte == plan.separator || byte == plan.line_end.byte(),
    };
    let end = text[at..].iter().position(ends).map_or(text.len(), |length| at + length);
    let cell = text[at..end].trim_ascii();
    let value = match number::cell(cell, plan.style, 0) {
        _ if passed_over && !cell.contains(&b'"') => 0.0,
        Cell::Level(level) if plan.levels[index] => level,
        Cell::Outside if !cell.contains(&b'"') => f64::NAN,
        Cell::Above => f64::INFINITY,
        Cell::Below => f64::NEG_INFINITY,
        _ => return None,
    };
    // A return before the line end is no part of the cell.
    let end = if end > at && !open && text[end - 1] == b'\r' { end - 1 } else { end };
    Some((value, i32::MAX, end))
}

#[inline]
fn skip_spaces(text: &[u8], mut at: usize) -> usize {
    while text.get(at) == Some(&b' ') {
        at += 1;
    }
    at
}

/// Reads any row; false for a line that carries none: blank, or the header again.
pub(crate) fn careful_row(line: &[u8], plan: &Plan, block: &mut Block) -> Result<bool, Fault> {
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
        || is_comment(line, plan)
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
    let mut numbers = 0;
    let mut first_fault = None;
    for (index, (cell, &(role, shift))) in cells.iter().zip(&plan.columns).enumerate() {
        let value = match number::cell(cell, plan.style, shift) {
            Cell::Level(_) if !plan.levels[index] => Cell::Text,
            value => value,
        };
        numbers += usize::from(matches!(value, Cell::Number(..) | Cell::Level(_)));
        match (role, value) {
            (ColumnRole::Time, _) if plan.clock.is_some() => {
                let time = clock::time_of_day(cell)
                    .ok_or_else(|| no_time(cell, value).at_column(index + 1))?;
                numbers += 1;
                block.finest = block.finest.min(time.place);
                block.times.push(time.since(plan.clock.flatten()));
            }
            (ColumnRole::Time, Cell::Number(value, place)) => {
                block.finest = block.finest.min(place);
                block.times.push(value);
            }
            (ColumnRole::Time, value) => return Err(no_time(cell, value).at_column(index + 1)),
            (ColumnRole::Channel, value) => {
                let not_measured = value == Cell::NotMeasured;
                if not_measured || value == Cell::Text {
                    let found = shown(cell);
                    first_fault
                        .get_or_insert_with(|| Fault::no_number(&found).at_column(index + 1));
                    let row = block.rows;
                    block.spoilt[channel].get_or_insert(Spoilt { row, found, not_measured });
                }
                block.channels[channel].push(stored(value));
                channel += 1;
            }
            (ColumnRole::TimeAgain, Cell::Number(value, place)) => {
                let time = block.times.last().copied().unwrap_or(f64::NAN);
                if !same_time(time, value, place) {
                    return Err(other_time(time, value).at_column(index + 1));
                }
            }
            (ColumnRole::TimeAgain, value) => return Err(no_time(cell, value).at_column(index + 1)),
            (ColumnRole::Counter, Cell::Number(value, _)) => {
                if let Some((_, step)) = plan.counter.filter(|(column, _)| *column == index) {
                    block.count.note(block.rows, value, step);
                }
            }
            (ColumnRole::Counter | ColumnRole::Words, _) => {}
        }
    }
    match first_fault {
        // A line without a single number is no row with a bad cell, but something else.
        Some(fault) if numbers == 0 => Err(fault),
        _ => Ok(true),
    }
}

/// A remark between the rows, as converters and loggers leave them. Where the first column holds words, it
/// may be one of these.
fn is_comment(line: &[u8], plan: &Plan) -> bool {
    let words = plan.columns.first().is_some_and(|(role, _)| *role == ColumnRole::Words);
    !words && (line.starts_with(b"#") || line.starts_with(b"//"))
}

fn no_time(cell: &[u8], value: Cell) -> Fault {
    match value {
        Cell::Text | Cell::Level(_) => Fault::no_number(&shown(cell)),
        _ => Fault::malformed(
            format!("expected a time, found {}", shown(cell)),
            "Every row needs its time; export the capture again",
        ),
    }
}

/// Whether a second time of a row is the first one, as closely as it is printed.
#[inline]
fn same_time(time: f64, again: f64, place: i32) -> bool {
    time == again || (time - again).abs() <= 10f64.powi(place.clamp(-300, 300))
}

fn other_time(time: f64, again: f64) -> Fault {
    Fault::malformed(
        format!("a row has two times, {time} s and {again} s"),
        "Export the capture with one time column for all channels",
    )
}

/// Over-range marks as the infinities and NaN that `over_range::settle` takes out.
fn stored(value: Cell) -> f32 {
    match value {
        Cell::Number(value, _) | Cell::Level(value) => value as f32,
        Cell::Above => f32::INFINITY,
        Cell::Below => f32::NEG_INFINITY,
        _ => f32::NAN,
    }
}

/// Whether a line is nothing but numbers, whatever their count.
pub(crate) fn is_all_numbers(line: &[u8], plan: &Plan) -> bool {
    let cells = split::cells(line, plan.separator).unwrap_or_default();
    let kind = |cell: &[u8]| number::cell(cell, plan.style, 0);
    cells.iter().any(|cell| matches!(kind(cell), Cell::Number(..)))
        && cells.iter().all(|cell| kind(cell) != Cell::Text)
}

fn wrong_width(line: &[u8], found: usize, expected: usize) -> Fault {
    let cells = |count: usize| if count == 1 { "1 cell".into() } else { format!("{count} cells") };
    Fault::malformed(
        format!("expected {}, found {} in {}", cells(expected), cells(found), shown(line)),
        "Correct or remove this row; if it is the last one, the file was cut short: export it again",
    )
}
