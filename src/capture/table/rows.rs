//! Blocks of rows, in the file's order, become one table.

use rayon::prelude::*;

use super::block::{Block, Spoilt};
use super::cells::Cells;
use super::clock::{self, Piece};
use super::counter::Count;
use super::instants;
use super::packer::Packer;
use super::room::make_room;
use super::texts::Texts;
use crate::capture::error::Fault;
use crate::capture::values::keep;
use crate::capture::{Remark, Samples, Values};

/// What is done with time stamps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stamps {
    /// Kept only as pieces of a straight line; reading stops when they do not lie on one.
    Line,
    /// Kept, eight bytes per row.
    Keep,
    /// There is no time column.
    Absent,
}

/// All rows read so far.
#[derive(Debug)]
pub(crate) struct Table {
    pub channels: Vec<Values>,
    /// What the next values of each channel are kept by.
    packers: Vec<Packer>,
    pub rows: usize,
    pub stamps: Stamps,
    pub times: Vec<f64>,
    pub pieces: Vec<Piece>,
    /// The first row whose time is that of the row before, where the stamps are kept.
    pub still: Option<usize>,
    /// Power of ten of the finest digit printed in a time.
    pub finest: i32,
    /// What is to be said of the rows.
    pub remarks: Vec<Remark>,
    /// Per channel, its first cell that is no number, its row counted from 0 within the table.
    pub spoilt: Vec<Option<Spoilt>>,
    /// What the column that counts the rows did, and its step.
    count: Count,
    counted_by: Option<f64>,
    /// A row whose time does not go on, held back: no matter if no row follows, else this fault.
    held_back: Option<HeldBack>,
    /// Values of the last row noted.
    last_row: Vec<f32>,
    /// (first row, its line): where the line of a row is not the line before plus one.
    lines: Vec<(usize, usize)>,
    /// Line, counted from 1, that the next block begins with.
    next_line: usize,
}

/// The last row so far, if its time does not go on.
#[derive(Debug)]
struct HeldBack {
    fault: Fault,
    /// What is to be said when it stays the last one; nothing if it only repeats the row before it.
    remark: Option<Remark>,
}

/// Why a block was not taken.
#[derive(Debug)]
pub(crate) enum Refused {
    /// The stamps lie on no straight line, or one comes twice: read again and keep them.
    Uneven,
    Fault(Fault),
}

impl Table {
    /// An empty table of so many channels; the data begin at a line counted from 1.
    pub fn new(channels: usize, stamps: Stamps, data_line: usize) -> Self {
        Table {
            channels: vec![Values::default(); channels],
            packers: vec![Packer::default(); channels],
            rows: 0,
            stamps,
            times: Vec::new(),
            pieces: Vec::new(),
            still: None,
            finest: i32::MAX,
            remarks: Vec::new(),
            spoilt: vec![None; channels],
            count: Count::default(),
            counted_by: None,
            held_back: None,
            last_row: Vec::new(),
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

    /// Rows with a line that is none before them, the first row left out.
    pub fn breaks(&self) -> Vec<usize> {
        self.lines.iter().map(|&(row, _)| row).filter(|&row| 0 < row && row < self.rows).collect()
    }

    /// Holds the column that counts the rows against its step.
    pub fn counted_by(mut self, step: Option<f64>) -> Self {
        self.counted_by = step;
        self
    }

    /// Rows at which the column that counts the rows does not go on.
    pub fn counter_breaks(&self) -> &[usize] {
        &self.count.breaks
    }

    /// Lines before the next block.
    pub fn lines_before(&self) -> usize {
        self.next_line - 1
    }

    /// Takes the next block's lines, rows and times.
    pub fn note(&mut self, block: &mut Block) -> Result<(), Refused> {
        self.note_lines(block);
        if self.stamps != Stamps::Absent && block.rows > 0 {
            if let Some(row) = self.held_back.take() {
                return Err(Refused::Fault(row.fault));
            }
            self.hold_back(block);
            self.note_times(block)?;
        }
        for (first, spoilt) in self.spoilt.iter_mut().zip(&block.spoilt) {
            if let (None, Some(spoilt)) = (&first, spoilt) {
                *first = Some(Spoilt { row: self.rows + spoilt.row, ..spoilt.clone() });
            }
        }
        if let Some(step) = self.counted_by {
            self.count.join(&block.count, self.rows, step);
        }
        self.rows += block.rows;
        if block.rows > 0 {
            self.last_row.clear();
            let of_channel = block.channels.iter().zip(&self.channels);
            let last = |(cells, kept): (&Cells, &Values)| {
                cells.at(cells.len().checked_sub(1)?, kept.levels())
            };
            self.last_row.extend(of_channel.filter_map(last));
        }
        Ok(())
    }

    /// Takes the values of blocks already noted. `done` is the share of the file read by now,
    /// from which the room for the rest is reckoned; pages not written to take no memory.
    pub fn take_values(&mut self, blocks: &[&Block], done: f64) -> Result<(), Fault> {
        /// Rows may be a little shorter further on.
        const SPARE: f64 = 1.02;
        let room = (self.rows as f64 / done.clamp(f64::MIN_POSITIVE, 1.0) * SPARE) as usize;
        let values = |index: usize| blocks.iter().map(move |block| &block.channels[index]);
        self.channels
            .par_iter_mut()
            .zip(&mut self.packers)
            .enumerate()
            .try_for_each(|(index, (channel, packer))| packer.take(channel, values(index), room))?;
        if self.stamps == Stamps::Keep {
            take(&mut self.times, blocks.iter().map(|block| &block.times[..]), room)?;
        }
        Ok(())
    }

    fn note_lines(&mut self, block: &Block) {
        let before = self.lines_before();
        let skips_first = block.skips.first().is_some_and(|&(row, _)| row == 0);
        if !skips_first && (self.lines.is_empty() || self.line_of(self.rows) != self.next_line) {
            self.lines.push((self.rows, self.next_line));
        }
        for &(row, line) in &block.skips {
            // Of several skipped lines in a row only the last one matters.
            let row = self.rows + row;
            if self.lines.last().is_some_and(|&(first, _)| first == row) {
                self.lines.pop();
            }
            self.lines.push((row, before + line));
        }
        self.next_line += block.lines;
    }

    fn note_times(&mut self, block: &Block) -> Result<(), Refused> {
        let before = self.pieces.last().map(|piece| piece.last);
        let first = block.times.first();
        // Whatever the block's own rows do, the first to stand still may be the one at the seam.
        let at_seam = before.zip(first).is_some_and(|(before, &first)| first <= before);
        let piece = if at_seam { Err(0) } else { block.piece };
        let piece = piece.or_else(|row| self.standing(block, row, before))?;
        if piece.rows == 0 {
            return Ok(());
        }
        self.finest = self.finest.min(block.finest);
        self.pieces.push(Piece { row: self.rows, ..piece });
        let uneven = piece.rows > 2 && clock::straight(&[piece], self.finest).is_none();
        if self.stamps == Stamps::Line && uneven { Err(Refused::Uneven) } else { Ok(()) }
    }

    /// Takes the last row out of a block if its time does not go on, while the rows before it do.
    /// As the last row of the file it is no matter: an exporter's closing row, or the row before it
    /// once more.
    fn hold_back(&mut self, block: &mut Block) {
        let row = block.rows - 1;
        let levels = || self.may_be_changes(block);
        // Rows of one time before the last may be joined.
        let joined = || self.stamps == Stamps::Keep && block.times[..row].is_sorted() && levels();
        if self.rows + row < 2 || block.piece.is_err_and(|first| first != row && !joined()) {
            return;
        }
        let piece_before = self.pieces.last().map(|piece| piece.last);
        let before = if row > 0 { Some(block.times[row - 1]) } else { piece_before };
        let Some(before) = before.filter(|&before| block.times[row] <= before) else { return };
        let time = block.times[row];
        let same = |(index, cells): (usize, &Cells)| {
            let value = |row: usize| cells.at(row, self.channels[index].levels());
            let before = if row > 0 { value(row - 1) } else { self.last_row.get(index).copied() };
            before.is_some() && before == value(row)
        };
        let repeats = time == before && block.channels.iter().enumerate().all(same);
        if time == before && !repeats && levels() {
            return;
        }
        let fault = self.not_growing(block, row, piece_before);
        let remark = (!repeats).then_some(Remark::LastRow { time, before });
        self.held_back = Some(HeldBack { fault, remark });
        block.rows = row;
        block.take_back();
        block.piece = Piece::of(&block.times);
    }

    fn may_be_changes(&self, block: &Block) -> bool {
        let of_channel = block.channels.iter().zip(&self.channels);
        let values: Vec<Vec<f32>> =
            of_channel.map(|(cells, kept)| cells.to_vec(kept.levels())).collect();
        instants::may_be_changes(values.iter().map(Samples::from))
    }

    /// Keeps what cells say from here on, so that the next are known again.
    pub fn know_again(&mut self) {
        self.packers.iter_mut().for_each(|packer| packer.texts.start());
    }

    /// What cells have said so far, by the channel.
    pub fn texts(&self) -> Vec<&Texts> {
        self.packers.iter().map(|packer| &packer.texts).collect()
    }

    /// Says that no further block follows.
    pub fn finish(&mut self) {
        self.channels.par_iter_mut().for_each(Values::put_in_order);
        let held_back = self.held_back.take();
        self.remarks.extend(held_back.and_then(|row| row.remark));
    }

    /// What is to be done with a block in which the time does not go on at a row: two changes at one
    /// time may be of two leads, which [`instants::join`] finds out when all rows are there.
    fn standing(
        &mut self,
        block: &Block,
        row: usize,
        before: Option<f64>,
    ) -> Result<Piece, Refused> {
        let times = &block.times;
        let starts_back = before.is_some_and(|before| times[0] < before).then_some(0);
        let goes_back = || Some(times.windows(2).position(|pair| pair[1] < pair[0])? + 1);
        let back = starts_back.or_else(goes_back);
        if !self.may_be_changes(block) {
            return Err(Refused::Fault(self.not_growing(block, row, before)));
        }
        match back {
            // What the last row is worth is seen when the stamps are kept.
            Some(last) if self.stamps == Stamps::Line && last > row && last + 1 == times.len() => {
                return Err(Refused::Uneven);
            }
            Some(row) => return Err(Refused::Fault(self.not_growing(block, row, before))),
            None if self.stamps == Stamps::Line => return Err(Refused::Uneven),
            None => {}
        }
        self.still.get_or_insert(self.rows + row);
        let (first, last) = (times[0], times[times.len() - 1]);
        Ok(Piece { row: 0, rows: times.len(), first, last, departure: 0.0 })
    }

    fn not_growing(&self, block: &Block, row: usize, before: Option<f64>) -> Fault {
        let now = block.times[row];
        let previous = if row > 0 { Some(block.times[row - 1]) } else { before };
        let first = self.pieces.first().map_or(block.times[0], |piece| piece.first);
        let line = self.line_of(self.rows + row);
        not_growing(now, previous.unwrap_or(now), first).at_line(line)
    }

    /// The fault of a row with the time of the row before, where the stamps are kept.
    pub fn stands_still(&self, row: usize) -> Fault {
        let now = self.times[row];
        not_growing(now, now, f64::NEG_INFINITY).at_line(self.line_of(row))
    }

    /// Drops all rows but these, which are in the table's order.
    pub fn keep_rows(&mut self, kept: &[usize]) {
        let mut lines: Vec<(usize, usize)> = Vec::new();
        let mut next = None;
        for (row, &old) in kept.iter().enumerate() {
            let line = self.line_of(old);
            if next != Some(line) {
                lines.push((row, line));
            }
            next = Some(line + 1);
        }
        self.lines = lines;
        keep(&mut self.times, kept);
        self.channels.iter_mut().for_each(|channel| channel.keep(kept));
        for spoilt in self.spoilt.iter_mut().flatten() {
            spoilt.row = kept.partition_point(|&old| old < spoilt.row);
        }
        self.rows = kept.len();
    }
}

/// The fault of a time that is not after the one before it; `first` is the first of the capture.
fn not_growing(now: f64, previous: f64, first: f64) -> Fault {
    if now == previous {
        Fault::malformed(
            format!("the time stands still: {now} s comes twice"),
            "Export the times with more digits, or remove rows that come twice",
        )
    } else if now <= first && previous > first {
        Fault::malformed(
            format!("the time starts again: {now} s after {previous} s"),
            "Several buffers seem to follow one another; export one of them alone",
        )
    } else {
        Fault::malformed(
            format!("the time goes backwards: {now} s after {previous} s"),
            "Rows must be in the order of time; export the capture again",
        )
    }
}

/// Adds to a column, with room for the whole of it from the first time on.
fn take<'a, T: Copy + 'a>(
    column: &mut Vec<T>,
    parts: impl Iterator<Item = &'a [T]> + Clone,
    room: usize,
) -> Result<(), Fault> {
    make_room(column, parts.clone().map(<[T]>::len).sum(), room)?;
    parts.for_each(|part| column.extend_from_slice(part));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn room_for_more_than_there_is_is_not_asked_for() {
        let mut table = Table::new(1, Stamps::Absent, 1);
        let mut block = Block {
            channels: vec![Cells::Plain(vec![1.0, 2.0])],
            rows: 2,
            lines: 2,
            ..Block::default()
        };
        table.note(&mut block).expect("two rows");
        table.take_values(&[&block], 0.0).expect("room for two values");
        assert_eq!(table.channels, [Values::from(vec![1.0, 2.0])]);
    }

    #[test]
    fn the_first_row_of_a_time_again_may_be_the_first_of_its_block() {
        let mut table = Table::new(1, Stamps::Keep, 1);
        for (times, levels) in
            [([0.0, 1.0, 2.0], [0.0, 1.0, 0.0]), ([2.0, 2.0, 3.0], [1.0, 0.0, 1.0])]
        {
            let mut block = Block {
                piece: Piece::of(&times),
                times: times.to_vec(),
                channels: vec![Cells::Plain(levels.to_vec())],
                rows: 3,
                lines: 3,
                ..Block::default()
            };
            table.note(&mut block).expect("two levels, and no time goes back");
        }
        assert_eq!(table.still, Some(3));
    }
}
