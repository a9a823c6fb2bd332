//! What the data rows look like: separator, width, where they begin, decimal mark.

use std::borrow::Cow;
use std::collections::BTreeMap;

use super::clock;
use super::decimal::MarkEvidence;
use super::no_rows::no_data;
use super::number::{self, Cell, NumberStyle};
use super::split::{LineEnd, cells, without_return};
use crate::capture::error::{Fault, shown};
use crate::capture::options::ReadOptions;
use crate::remedy::{Remedy, Setting};

/// Separators tried when the user names none, in the order in which a tie is settled.
pub(crate) const SEPARATORS: [u8; 4] = [b'\t', b';', b'|', b','];
/// Columns aligned by blanks: tried where no other separator makes rows of several numbers.
const BLANKS: u8 = b' ';

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
        self.is_row(&[])
    }

    /// Whether it can be a row of a table in which some columns hold words.
    fn is_row(&self, words: &[usize]) -> bool {
        let looked_at = self.cells.iter().enumerate().filter(|(at, _)| !words.contains(at));
        let kinds = looked_at.map(|(_, cell)| (reads_somehow(cell), cell));
        kinds.clone().all(|(kind, _)| kind != Cell::Text)
            && kinds.into_iter().any(|(kind, cell)| match kind {
                Cell::Number(..) => true,
                // A row of nothing but minuses may be one of units.
                Cell::NotMeasured => cell != b"-",
                // Beside columns of words, which may be the times, a level is enough.
                Cell::Level(_) => !words.is_empty(),
                _ => false,
            })
    }

    /// The columns of words of a row that has some, in which two cells at least are numbers or
    /// levels. A row of levels alone is none: it may be a line of names.
    fn words(&self) -> Option<Vec<usize>> {
        let kinds: Vec<Cell> = self.cells.iter().map(|cell| reads_somehow(cell)).collect();
        let words: Vec<usize> = (0..kinds.len()).filter(|&at| kinds[at] == Cell::Text).collect();
        let numbers = kinds.iter().filter(|kind| matches!(kind, Cell::Number(..) | Cell::Level(_)));
        let timed = words.iter().any(|&at| clock::time_of_day(&self.cells[at]).is_some());
        // One number beside words is a setting: `Probe, 10`. Beside a time of day it is a row.
        (!words.is_empty() && numbers.count() + usize::from(timed) >= 2).then_some(words)
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
pub(super) fn reads_somehow(cell: &[u8]) -> Cell {
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
    /// Columns that hold words, counted from 0.
    pub words: Vec<usize>,
    /// Of these the first that holds times of day in every row of the beginning.
    pub clock: Option<usize>,
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

/// Finds the layout from the beginning of the file. `whole` says that `head` is all of it. Where no
/// row is in it, that is an error if it is the `last` beginning tried, else `None`.
pub(crate) fn find(
    head: &[u8],
    whole: bool,
    last: bool,
    options: &ReadOptions,
) -> Result<Option<Layout>, Fault> {
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
    let mut best = best_split(complete, line_end, &separators);
    let several = |split: &Split| split.shape.width >= 2 && split.shape.words.is_empty();
    if options.separator.is_none() && !best.as_ref().is_some_and(several) {
        let aligned = best_split(complete, line_end, &[BLANKS]).filter(several);
        best = aligned.or(best);
    }
    let Some(Split { separator, lines, shape: Shape { width, words, .. } }) = best else {
        return if last { Err(no_data(complete, line_end, options)) } else { Ok(None) };
    };
    let is_row = |line: &Line| line.cells.len() == width && line.is_row(&words);
    let first = lines.iter().position(is_row).expect("the shape comes from such a line");
    let mut above = lines;
    let below = above.split_off(first);
    let (data_line, data_offset) = (below[0].number, below[0].offset);
    let sample: Vec<Line> = below.into_iter().filter(is_row).collect();
    let mut evidence = MarkEvidence::default();
    for line in &sample {
        let numbers = line.cells.iter().enumerate().filter(|(at, _)| !words.contains(at));
        numbers.for_each(|(_, cell)| evidence.note(cell));
    }
    let chosen = options.decimal.and_then(|decimal| u8::try_from(decimal).ok());
    let style = evidence.decide(chosen).map_err(|fault| fault.at_line(data_line))?;
    let mut layout = Layout {
        separator,
        style,
        line_end,
        width,
        words,
        clock: None,
        trailing: false,
        above,
        sample,
        data_line,
        data_offset,
    };
    layout.find_trailing();
    let timed = |&at: &usize| {
        layout.sample.iter().all(|line| clock::time_of_day(&line.cells[at]).is_some())
    };
    layout.clock = layout.words.iter().copied().find(timed);
    layout.refuse_pairs(options)?;
    Ok(Some(layout))
}

impl Layout {
    /// The last line above the data that is not blank.
    pub fn last_above(&self) -> Option<&Line> {
        self.above.iter().rev().find(|line| !line.is_blank())
    }

    /// Whether a column holds words for levels, and no numbers, in the beginning of the file.
    pub fn is_levels(&self, column: usize) -> bool {
        let cells = self.sample.iter().map(|line| reads_somehow(&line.cells[column]));
        let kinds: Vec<Cell> = cells.collect();
        kinds.iter().any(|kind| matches!(kind, Cell::Level(_)))
            && kinds.iter().all(|kind| matches!(kind, Cell::Level(_) | Cell::Outside))
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
            Remedy::set(Setting::Separator, "comma").only_if("every comma separates two cells"),
        )
        .or(Remedy::to("export again with semicolons or tabs between the cells")
            .only_if("some are decimal marks"))
        .at_line(example.number))
    }
}

pub(super) fn lines(text: &[u8], end: LineEnd, separator: u8) -> Vec<Line> {
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

/// The beginning of the file, cut by one separator.
struct Split {
    separator: u8,
    lines: Vec<Line>,
    shape: Shape,
}

/// What the rows have in common.
#[derive(Debug, PartialEq)]
struct Shape {
    width: usize,
    /// Columns of words, counted from 0.
    words: Vec<usize>,
    rows: usize,
}

/// The separator that makes most rows of several cells.
fn best_split(text: &[u8], line_end: LineEnd, separators: &[u8]) -> Option<Split> {
    let splits = separators.iter().filter_map(|&separator| {
        let lines = lines(text, line_end, separator);
        let shape = common_shape(&lines)?;
        // With one column no row shows the separator, but the lines above may.
        let split = lines.iter().filter(|line| line.cells.len() > 1).count();
        let numbers = shape.width - shape.words.len();
        let rank = (shape.width >= 2, shape.words.is_empty(), shape.rows, numbers, split);
        let rank = if shape.words.is_empty() { (rank.0, rank.1, rank.2, 0, split) } else { rank };
        Some((rank, Split { separator, lines, shape }))
    });
    // The first of equals wins; `max_by_key` takes the last.
    let splits: Vec<_> = splits.collect();
    splits.into_iter().rev().max_by_key(|(rank, _)| *rank).map(|(_, split)| split)
}

/// Rows of numbers alone are this share of the rows with words at least; fewer are settings above a
/// table with words.
const WORDLESS: usize = 10;
/// Fewer rows with words than this are no table.
const LEAST_WITH_WORDS: usize = 3;

/// The shape most rows share; the wider one when two are as common.
fn common_shape(lines: &[Line]) -> Option<Shape> {
    let mut counts = BTreeMap::new();
    for line in lines {
        let words = if line.is_data() { Some(Vec::new()) } else { line.words() };
        if let Some(words) = words {
            *counts.entry((line.cells.len(), words)).or_insert(0usize) += 1;
        }
    }
    let (plain, wordy): (Vec<Shape>, Vec<Shape>) = counts
        .into_iter()
        .map(|((width, words), rows)| Shape { width, words, rows })
        .partition(|shape| shape.words.is_empty());
    let most =
        |shapes: Vec<Shape>| shapes.into_iter().max_by_key(|shape| (shape.rows, shape.width));
    match (most(plain), most(wordy).filter(|shape| shape.rows >= LEAST_WITH_WORDS)) {
        // A blank in a column of words makes a row of it a plain one.
        (Some(plain), Some(wordy)) if plain.width == wordy.width && plain.rows < wordy.rows => {
            Some(wordy)
        }
        (Some(plain), Some(wordy)) if plain.rows * WORDLESS < wordy.rows => Some(wordy),
        (None, wordy) => wordy,
        (plain, _) => plain,
    }
}
