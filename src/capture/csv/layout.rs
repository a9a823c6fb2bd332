//! What the data rows look like: separator, width, where they begin, decimal mark.

use std::borrow::Cow;

use super::decimal::MarkEvidence;
use super::number::{self, Cell, NumberStyle};
use super::split::{LineEnd, cells, without_return};
use crate::capture::error::{Fault, shown};
use crate::capture::options::ReadOptions;

/// Separators tried when the user names none, in the order in which a tie is settled.
pub(crate) const SEPARATORS: [u8; 3] = [b'\t', b';', b','];

/// One line of the beginning of the file, as seen with one separator.
#[derive(Debug, Clone)]
pub(crate) struct Line {
    /// Counted from 1.
    pub number: usize,
    /// Offset of its first byte.
    pub offset: usize,
    /// The bytes, without line end.
    pub raw: Vec<u8>,
    /// The cells, trimmed, quotation marks resolved.
    pub cells: Vec<Vec<u8>>,
}

impl Line {
    fn is_data(&self) -> bool {
        let numbers = self.cells.iter().map(|cell| reads_somehow(cell));
        numbers.clone().all(|kind| kind != Cell::Text)
            && numbers.into_iter().any(|kind| matches!(kind, Cell::Number(..) | Cell::NotMeasured))
    }

    pub fn is_blank(&self) -> bool {
        self.cells.iter().all(Vec::is_empty)
    }

    /// The cells as text; Latin-1 where the bytes are not UTF-8.
    pub fn texts(&self) -> Vec<String> {
        self.cells.iter().map(|cell| text_of(cell)).collect()
    }
}

/// UTF-8, or Latin-1 when it is not: every byte is then the character of that number.
pub(crate) fn text_of(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|&byte| char::from(byte)).collect(),
    }
}

/// A number in either decimal style, before the style is known.
fn reads_somehow(cell: &[u8]) -> Cell {
    let point = NumberStyle { decimal: b'.', thousands: Some(b',') };
    let comma = NumberStyle { decimal: b',', thousands: Some(b'.') };
    match number::cell(cell, point, 0) {
        Cell::Text => number::cell(cell, comma, 0),
        other => other,
    }
}

/// Separator, width, decimal mark and the lines before the data.
#[derive(Debug, Clone)]
pub(crate) struct Layout {
    pub separator: u8,
    pub style: NumberStyle,
    pub line_end: LineEnd,
    /// Cells per row, without the empty one a trailing separator makes.
    pub width: usize,
    /// Whether rows end in a separator.
    pub trailing: bool,
    /// Everything above the first data row.
    pub above: Vec<Line>,
    /// The data rows of the beginning of the file.
    pub sample: Vec<Line>,
    /// First data row: its line, counted from 1, and the offset of its first byte.
    pub data_line: usize,
    pub data_offset: usize,
}

/// Finds the layout from the beginning of the file. `whole` says that `head` is all of it.
pub(crate) fn find(head: &[u8], whole: bool, options: &ReadOptions) -> Result<Layout, Fault> {
    let line_end = LineEnd::of(head);
    let complete = match head.iter().rposition(|&byte| byte == line_end.byte()) {
        Some(last) if !whole => &head[..=last],
        _ => head,
    };
    let separators: Vec<u8> = match options.separator {
        Some(separator) => vec![u8::try_from(separator).unwrap_or(b',')],
        // One that does not occur splits nothing; without any, there is one column.
        None => SEPARATORS.into_iter().filter(|separator| complete.contains(separator)).collect(),
    };
    let separators = if separators.is_empty() { vec![b','] } else { separators };
    let best = separators
        .into_iter()
        .map(|separator| (separator, lines(complete, line_end, separator)))
        .filter_map(|(separator, lines)| {
            let (width, rows) = common_width(&lines)?;
            // With one column no row shows the separator, but the lines above may.
            let split = lines.iter().filter(|line| line.cells.len() > 1).count();
            Some((separator, lines, width, (width >= 2, rows, split)))
        })
        // The first of equals wins, so the order is reversed for `max_by_key`, which takes the last.
        .rev()
        .max_by_key(|&(_, _, _, rank)| rank);
    let Some((separator, lines, width, _)) = best else {
        return Err(no_data(complete, line_end, options));
    };
    let first = lines
        .iter()
        .position(|line| line.cells.len() == width && line.is_data())
        .expect("the common width comes from such a line");
    let mut above = lines;
    let below = above.split_off(first);
    let (data_line, data_offset) = (below[0].number, below[0].offset);
    let sample: Vec<Line> =
        below.into_iter().filter(|line| line.cells.len() == width && line.is_data()).collect();
    let mut evidence = MarkEvidence::default();
    sample.iter().flat_map(|line| &line.cells).for_each(|cell| evidence.note(cell));
    let chosen = options.decimal.and_then(|decimal| u8::try_from(decimal).ok());
    let style = evidence.decide(chosen).map_err(|fault| fault.at_line(data_line))?;
    let mut layout = Layout {
        separator,
        style,
        line_end,
        width,
        trailing: false,
        above,
        sample,
        data_line,
        data_offset,
    };
    layout.find_trailing();
    layout.refuse_pairs(options)?;
    Ok(layout)
}

impl Layout {
    /// The last line above the data that is not blank.
    pub fn last_above(&self) -> Option<&Line> {
        self.above.iter().rev().find(|line| !line.is_blank())
    }

    fn find_trailing(&mut self) {
        let empty_last = |line: &Line| line.cells.last().is_some_and(Vec::is_empty);
        let unnamed = self.last_above().is_none_or(|line| {
            line.cells.len() != self.width || line.cells.last().is_some_and(Vec::is_empty)
        });
        if self.width > 1 && unnamed && self.sample.iter().all(empty_last) {
            self.trailing = true;
            self.width -= 1;
        }
    }

    /// `0,000,1,234` can be two numbers with decimal commas or four whole numbers.
    fn refuse_pairs(&self, options: &ReadOptions) -> Result<(), Fault> {
        let has_point = |line: &Line| line.cells.iter().any(|cell| cell.contains(&b'.'));
        let settled = options.separator.is_some() || options.decimal.is_some();
        if self.separator != b',' || settled || self.width < 2 || self.sample.iter().any(has_point)
        {
            return Ok(());
        }
        let named = self
            .last_above()
            .map(|line| line.cells.iter().filter(|cell| !cell.is_empty()).count())
            .filter(|_| self.last_above().is_some_and(|line| !line.is_data()));
        let plain = |cell: &Vec<u8>| !cell.is_empty() && cell.iter().all(u8::is_ascii_digit);
        let pairs_up = self.width.is_multiple_of(2)
            && self.sample.iter().all(|line| line.cells.iter().skip(1).step_by(2).all(plain));
        let doubtful = match named {
            Some(names) if names == self.width => false,
            Some(names) => (names < self.width && 2 * names >= self.width) || pairs_up,
            None => pairs_up,
        };
        if !doubtful {
            return Ok(());
        }
        let example = &self.sample[0];
        Err(Fault::ambiguous(
            format!("the commas in {} may separate cells or be decimal marks", shown(&example.raw)),
            "Pass `--separator comma` if every comma separates two cells; if some are decimal \
             marks, export again with semicolons or tabs between the cells",
        )
        .at_line(example.number))
    }
}

fn lines(text: &[u8], end: LineEnd, separator: u8) -> Vec<Line> {
    let mut offset = 0;
    let mut lines = Vec::new();
    for (index, piece) in text.split_inclusive(|&byte| byte == end.byte()).enumerate() {
        let raw = without_return(piece.strip_suffix(&[end.byte()]).unwrap_or(piece));
        // An open quotation mark: the line is one cell of text, and is reported if it is data.
        let cells = match cells(raw, separator) {
            Some(cells) => cells.into_iter().map(Cow::into_owned).collect(),
            None => vec![raw.to_vec()],
        };
        lines.push(Line { number: index + 1, offset, raw: raw.to_vec(), cells });
        offset += piece.len();
    }
    lines
}

/// The width most data lines share, and how many do; the wider one when two are as common.
fn common_width(lines: &[Line]) -> Option<(usize, usize)> {
    let mut counts = std::collections::BTreeMap::new();
    for line in lines.iter().filter(|line| line.is_data()) {
        *counts.entry(line.cells.len()).or_insert(0usize) += 1;
    }
    counts.into_iter().max_by_key(|&(width, rows)| (rows, width))
}

fn no_data(text: &[u8], end: LineEnd, options: &ReadOptions) -> Fault {
    let filled = text.split(|&byte| byte == end.byte()).any(|line| !line.trim_ascii().is_empty());
    let what = if !filled {
        "the file holds nothing but blank lines"
    } else if let Some(fault) = half_numbers(text, end) {
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

/// Rows that would be data but for one column, of clock times or words: the last of them, as
/// lines further up may be settings.
fn half_numbers(text: &[u8], end: LineEnd) -> Option<Fault> {
    let is_text = |cell: &Vec<u8>| reads_somehow(cell) == Cell::Text;
    let half = |line: &Line| {
        let texts = line.cells.iter().filter(|cell| is_text(cell)).count();
        texts > 0
            && texts < line.cells.len()
            && !line.cells.iter().all(|c| c.is_empty() || is_text(c))
    };
    let rows = SEPARATORS.map(|separator| {
        let mut rows = lines(text, end, separator);
        rows.retain(half);
        rows
    });
    let mut rows = rows.into_iter().max_by_key(Vec::len)?;
    let last = rows.pop().filter(|_| !rows.is_empty())?;
    let column = last.cells.iter().position(is_text)?;
    Some(
        Fault::malformed(
            format!("expected a number, found {}", shown(&last.cells[column])),
            "Export the capture with numbers only, the time in seconds",
        )
        .at_line(last.number)
        .at_column(column + 1),
    )
}
