//! The values of a channel, row by row, in as little memory as they take.
//!
//! A scope's converter knows few levels, 256 of most, 65,536 of the finest, and a long capture
//! repeats them millions of times: what the reader of tables finds is kept as the number of the
//! level in two bytes, with one list of the levels. Values of more levels, and those that are made
//! here and not read, are kept as they are.

use std::fmt;
use std::ops::{Index, Range};

use super::samples::{Iter, Part, Samples};

/// A value per row. Reading is the same however they are kept; so is comparing.
#[derive(Clone)]
pub struct Values(Kept);

#[derive(Clone)]
enum Kept {
    Wide(Vec<f32>),
    Coded(Coded),
}

/// Per row the place of its value in the list of levels.
#[derive(Clone, Default)]
pub(super) struct Coded {
    pub codes: Vec<u16>,
    pub levels: Vec<f32>,
}

impl Values {
    /// The codes, where there are any.
    pub(super) fn codes(&mut self) -> Option<&mut Coded> {
        match &mut self.0 {
            Kept::Wide(_) => None,
            Kept::Coded(coded) => Some(coded),
        }
    }

    /// The levels, where there are codes.
    pub(super) fn levels(&self) -> &[f32] {
        match &self.0 {
            Kept::Wide(_) => &[],
            Kept::Coded(coded) => &coded.levels,
        }
    }

    /// All of them.
    #[must_use]
    pub fn all(&self) -> Samples<'_> {
        Samples(match &self.0 {
            Kept::Wide(values) => Part::Wide(values),
            Kept::Coded(Coded { codes, levels }) => Part::Coded(codes, levels),
        })
    }

    /// Number of rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.all().len()
    }

    /// Whether there is no row.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// One after the other.
    #[must_use]
    pub fn iter(&self) -> Iter<'_> {
        self.all().iter()
    }

    /// The values of these rows.
    ///
    /// # Panics
    /// Where the rows reach beyond the last one.
    #[must_use]
    pub fn slice(&self, rows: Range<usize>) -> Samples<'_> {
        self.all().slice(rows)
    }

    /// A list of its own.
    #[must_use]
    pub fn to_vec(&self) -> Vec<f32> {
        self.all().to_vec()
    }

    /// To be changed: from here on they are kept as they are.
    pub fn to_mut(&mut self) -> &mut Vec<f32> {
        if let Kept::Coded(_) = &self.0 {
            self.0 = Kept::Wide(self.to_vec());
        }
        match &mut self.0 {
            Kept::Wide(values) => values,
            Kept::Coded(_) => unreachable!("made wide above"),
        }
    }

    /// Keeps the first so many rows.
    pub fn truncate(&mut self, rows: usize) {
        match &mut self.0 {
            Kept::Wide(values) => values.truncate(rows),
            Kept::Coded(coded) => coded.codes.truncate(rows),
        }
    }

    /// Keeps these rows.
    pub fn cut(&mut self, rows: Range<usize>) {
        fn cut<T>(list: &mut Vec<T>, rows: Range<usize>) {
            list.truncate(rows.end);
            list.drain(..rows.start);
        }
        match &mut self.0 {
            Kept::Wide(values) => cut(values, rows),
            Kept::Coded(coded) => cut(&mut coded.codes, rows),
        }
    }

    /// Keeps these rows, which are in order.
    pub(super) fn keep(&mut self, kept: &[usize]) {
        match &mut self.0 {
            Kept::Wide(values) => keep(values, kept),
            Kept::Coded(coded) => keep(&mut coded.codes, kept),
        }
    }
}

/// Keeps these of a list, in their order.
pub(super) fn keep<T: Copy>(list: &mut Vec<T>, kept: &[usize]) {
    for (row, &old) in kept.iter().enumerate() {
        list[row] = list[old];
    }
    list.truncate(kept.len());
}

impl<'a> IntoIterator for &'a Values {
    type Item = &'a f32;
    type IntoIter = Iter<'a>;

    fn into_iter(self) -> Iter<'a> {
        self.iter()
    }
}

impl Index<usize> for Values {
    type Output = f32;

    #[inline]
    fn index(&self, row: usize) -> &f32 {
        match &self.0 {
            Kept::Wide(values) => &values[row],
            Kept::Coded(Coded { codes, levels }) => &levels[usize::from(codes[row])],
        }
    }
}

impl Default for Values {
    /// No row, and the list of levels still to be made.
    fn default() -> Values {
        Values(Kept::Coded(Coded::default()))
    }
}

impl From<Vec<f32>> for Values {
    fn from(values: Vec<f32>) -> Values {
        Values(Kept::Wide(values))
    }
}

impl FromIterator<f32> for Values {
    fn from_iter<I: IntoIterator<Item = f32>>(values: I) -> Values {
        values.into_iter().collect::<Vec<f32>>().into()
    }
}

impl<'a> From<&'a Values> for Samples<'a> {
    fn from(values: &'a Values) -> Samples<'a> {
        values.all()
    }
}

impl PartialEq for Values {
    fn eq(&self, other: &Values) -> bool {
        self.iter().eq(other.iter())
    }
}

impl PartialEq<[f32]> for Values {
    fn eq(&self, other: &[f32]) -> bool {
        self.iter().eq(other)
    }
}

impl<const N: usize> PartialEq<[f32; N]> for Values {
    fn eq(&self, other: &[f32; N]) -> bool {
        self.iter().eq(other)
    }
}

impl PartialEq<Vec<f32>> for Values {
    fn eq(&self, other: &Vec<f32>) -> bool {
        self.iter().eq(other)
    }
}

impl fmt::Debug for Values {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.all().fmt(to)
    }
}
