//! Some rows of a table, in the file's order.

use super::cells::Cells;
use super::clock::Piece;
use super::counter::Count;
use crate::capture::error::shown;

/// The values of a block, in the file's order.
#[derive(Debug, Clone)]
pub(crate) struct Block {
    /// Time of each row in seconds; empty without a time column.
    pub times: Vec<f64>,
    /// The values of each channel.
    pub channels: Vec<Cells>,
    /// What the column that counts the rows did, where one does.
    pub count: Count,
    /// Rows read.
    pub rows: usize,
    /// Lines read, blank ones included.
    pub lines: usize,
    /// The times summed up, or the first row, counted within the block, whose time does not grow.
    pub piece: Result<Piece, usize>,
    /// Power of ten of the finest digit printed in a time.
    pub finest: i32,
    /// Per channel, its first cell that is no number and no over-range mark, if any; NaN stands for
    /// it.
    pub spoilt: Vec<Option<Spoilt>>,
    /// Rows and lines part ways where lines are skipped: (first row after, line of that row).
    pub skips: Vec<(usize, usize)>,
}

/// A cell that is no number: the row within the block, and what it says, quoted.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Spoilt {
    pub row: usize,
    pub found: String,
    /// It says that nothing was measured, which may be of no matter; anything else is damage or
    /// text.
    pub not_measured: bool,
}

impl Spoilt {
    /// Whether it is a minus without a number, as cutting a file short may leave it.
    pub fn is_lone_minus(&self) -> bool {
        self.found == shown(b"-")
    }
}

impl Default for Block {
    fn default() -> Self {
        Block {
            times: Vec::new(),
            channels: Vec::new(),
            count: Count::default(),
            rows: 0,
            lines: 0,
            piece: Piece::of(&[]),
            finest: i32::MAX,
            spoilt: Vec::new(),
            skips: Vec::new(),
        }
    }
}

impl Block {
    /// Empties the block, keeping its memory; `coded` are the channels whose values come by the
    /// numbers of their levels.
    pub fn clear(&mut self, channels: usize, coded: impl Fn(usize) -> bool) {
        self.times.clear();
        self.channels.resize_with(channels, Cells::default);
        for (index, cells) in self.channels.iter_mut().enumerate() {
            cells.clear(coded(index));
        }
        self.count.clear();
        self.rows = 0;
        self.lines = 0;
        self.finest = i32::MAX;
        self.spoilt.clear();
        self.spoilt.resize(channels, None);
        self.skips.clear();
    }

    /// Forgets the values of a row given up half-way.
    pub fn take_back(&mut self) {
        self.times.truncate(self.rows);
        self.channels.iter_mut().for_each(|channel| channel.truncate(self.rows));
        for spoilt in &mut self.spoilt {
            spoilt.take_if(|spoilt| spoilt.row >= self.rows);
        }
    }
}
