//! Blocks of rows, in the file's order, become one table.

use rayon::prelude::*;

use super::clock::{self, Piece};
use super::csv::rows::Block;
use super::error::Fault;

/// What is done with time stamps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stamps {
    /// Kept only as pieces of a straight line; reading stops when they do not lie on one.
    Line,
    /// Kept, eight bytes per row.
    Keep,
    /// There is no time column.
    Absent,
}

/// All rows read so far.
#[derive(Debug)]
pub(super) struct Table {
    pub channels: Vec<Vec<f32>>,
    pub rows: usize,
    pub stamps: Stamps,
    pub times: Vec<f64>,
    pub pieces: Vec<Piece>,
    pub finest: i32,
    /// (first row, its line): where the line of a row is not the line before plus one.
    lines: Vec<(usize, usize)>,
    /// Line, counted from 1, that the next block begins with.
    next_line: usize,
}

/// Why a block was not taken.
#[derive(Debug)]
pub(super) enum Refused {
    /// The stamps lie on no straight line: read again and keep them.
    Uneven,
    Fault(Fault),
}

impl Table {
    /// An empty table of so many channels; the data begin at a line counted from 1.
    pub fn new(channels: usize, stamps: Stamps, data_line: usize) -> Self {
        Table {
            channels: vec![Vec::new(); channels],
            rows: 0,
            stamps,
            times: Vec::new(),
            pieces: Vec::new(),
            finest: i32::MAX,
            lines: Vec::new(),
            next_line: data_line,
        }
    }

    /// Line, counted from 1, of a row counted from 0.
    pub fn line_of(&self, row: usize) -> usize {
        let before = self.lines.partition_point(|&(first, _)| first <= row);
        match before.checked_sub(1).map(|at| self.lines[at]) {
            Some((first, line)) => line + row - first,
            None => row + 1,
        }
    }

    /// Lines before the next block.
    pub fn lines_before(&self) -> usize {
        self.next_line - 1
    }

    /// Takes the next block. `last` says that no further one follows.
    pub fn append(&mut self, block: &mut Block, last: bool) -> Result<(), Refused> {
        self.note_lines(block);
        if self.stamps != Stamps::Absent {
            self.take_times(block, last)?;
        }
        self.channels
            .par_iter_mut()
            .zip(&block.channels)
            .for_each(|(channel, values)| channel.extend_from_slice(values));
        self.rows += block.rows;
        Ok(())
    }

    fn note_lines(&mut self, block: &Block) {
        let before = self.lines_before();
        let first_skip = block.skips.first().is_some_and(|&(row, _)| row == 0);
        let expected = if self.lines.is_empty() { None } else { Some(self.line_of(self.rows)) };
        if !first_skip && expected != Some(self.next_line) {
            self.lines.push((self.rows, self.next_line));
        }
        self.lines.extend(block.skips.iter().map(|&(row, line)| (self.rows + row, before + line)));
        self.next_line += block.lines;
    }

    fn take_times(&mut self, block: &mut Block, last: bool) -> Result<(), Refused> {
        let before = self.pieces.last().map(|piece| piece.last);
        let piece = match Piece::of(self.rows, &block.times, before) {
            Ok(piece) => piece,
            Err(row) if last && row + 1 == block.rows && self.repeats_last_row(block, row) => {
                block.times.pop();
                block.channels.iter_mut().for_each(|channel| {
                    channel.pop();
                });
                block.rows -= 1;
                return self.take_times(block, false);
            }
            Err(row) => return Err(Refused::Fault(self.not_growing(block, row, before))),
        };
        if piece.rows == 0 {
            return Ok(());
        }
        self.finest = self.finest.min(block.finest);
        self.pieces.push(piece);
        if self.stamps == Stamps::Keep {
            self.times.extend_from_slice(&block.times);
        } else if piece.rows > 2
            && clock::straight(&[Piece { row: 0, ..piece }], self.finest).is_none()
        {
            return Err(Refused::Uneven);
        }
        Ok(())
    }

    /// The last row of an event list may say once more what the row before it said.
    fn repeats_last_row(&self, block: &Block, row: usize) -> bool {
        row > 0
            && block.times[row] == block.times[row - 1]
            && block.channels.iter().all(|channel| channel[row] == channel[row - 1])
    }

    fn not_growing(&self, block: &Block, row: usize, before: Option<f64>) -> Fault {
        let line = self.line_of(self.rows + row);
        let now = block.times[row];
        let previous = if row > 0 { Some(block.times[row - 1]) } else { before };
        let previous = previous.unwrap_or(f64::NAN);
        let first = self.pieces.first().map_or(block.times[0], |piece| piece.first);
        let fault = if now == previous {
            Fault::malformed(
                format!("the time stands still: {now} s again"),
                "Export the times with more digits, or remove rows that come twice",
            )
        } else if now <= first {
            Fault::malformed(
                format!("the time starts again: {now} s after {previous} s"),
                "Several buffers seem to follow one another; export one of them alone",
            )
        } else {
            Fault::malformed(
                format!("the time goes backwards: {now} s after {previous} s"),
                "Rows must be in the order of time; export the capture again",
            )
        };
        fault.at_line(line)
    }
}
