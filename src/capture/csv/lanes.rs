//! The cells of a row of plain numbers that are values of a channel.

use super::number::{Piece, eight_of, text_of};
use super::plain::RUN;
use crate::capture::table::cells::{Cells, NEW, New, Numbers};
use crate::capture::table::texts::Texts;

/// A column of values.
pub(super) struct Lane<'a> {
    /// What closes its cells, eight times.
    closed_by: u64,
    decimal: u8,
    /// Power of ten of its unit.
    shift: i32,
    to: To<'a>,
}

/// Where its values go.
enum To<'a> {
    Known(Codes<'a>),
    Read(&'a mut Cells),
}

/// The codes of the rows of a run, where texts are kept.
struct Codes<'a> {
    codes: &'a mut [u16],
    texts: &'a Texts,
    /// Cells that are not known, and the first row of the run.
    new: &'a mut Vec<New>,
    first: usize,
}

impl<'a> Lane<'a> {
    /// Of a run that begins with this row of its block, with this mark, cells closed by this byte, and
    /// a unit that is this power of ten.
    pub(super) fn new(
        cells: &'a mut Cells,
        texts: Option<&'a Texts>,
        first: usize,
        (decimal, closed_by, shift): (u8, u8, i32),
    ) -> Lane<'a> {
        let to = match (cells, texts) {
            (Cells::Coded(Numbers { codes, new }), Some(texts)) => {
                codes.resize(first + RUN, NEW);
                To::Known(Codes { codes: &mut codes[first..], texts, new, first })
            }
            (cells, _) => To::Read(cells),
        };
        Lane { closed_by: eight_of(closed_by), decimal, shift, to }
    }

    /// Reads its cell of a row of the run; gives the start of the next one.
    #[inline(always)]
    pub(super) fn read(&mut self, bytes: &[u8], at: usize, row: usize) -> Option<usize> {
        let To::Known(to) = &mut self.to else {
            return self.read_new(bytes, at, (row, 0));
        };
        let word = u64::from_le_bytes(*bytes.get(at..)?.first_chunk()?);
        let (text, length) = text_of(word, self.closed_by);
        let Some(code) = to.texts.get(text) else {
            return self.read_new(bytes, at, (row, text));
        };
        *to.codes.get_mut(row)? = code;
        Some(at + length as usize)
    }

    /// As [`Lane::read`], of a cell whose text is not known.
    ///
    /// By itself, for what most cells need to stay in the processor's registers.
    #[inline(never)]
    fn read_new(&mut self, bytes: &[u8], at: usize, (row, text): (usize, u64)) -> Option<usize> {
        let piece = Piece::read(bytes, at, self.decimal)?.closed_by(self.closed_by as u8)?;
        let value = piece.value(self.shift)? as f32;
        match &mut self.to {
            To::Read(cells) => cells.push(value),
            To::Known(Codes { codes, new, first, .. }) => {
                codes[row] = NEW;
                let whole = piece.after - at <= size_of_val(&text);
                new.push(New { row: *first + row, value, text: if whole { text } else { 0 } });
            }
        }
        Some(piece.after)
    }
}
