//! The values of a channel, row by row, in as little memory as they take.
//!
//! A scope's converter knows few levels, 256 of most, 65,536 of the finest, and a long capture
//! repeats them millions of times: what the reader of tables finds is kept as the number of the
//! level in two bytes, with one list of the levels. Values of more levels, and those that are made
//! here and not read, are kept as they are.

use std::fmt;
use std::ops::{Index, Range};

use rayon::prelude::*;

use super::samples::{Iter, Part, Samples};

/// A value per row. Reading is the same however they are kept; so is comparing.
#[derive(Clone)]
pub struct Values(Kept);

#[derive(Clone)]
enum Kept {
    Wide(Vec<f32>),
    Coded(Coded),
}

/// Per row the place of its value in the list of levels, which stand in order of size when all rows
/// are there.
#[derive(Clone, Default)]
pub(super) struct Coded {
    pub codes: Vec<u16>,
    pub levels: Vec<f32>,
}

/// Rows whose codes are changed together.
const TOGETHER: usize = 1 << 16;

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

    /// Puts the levels in order of size, once all rows are there: the order of values is that of
    /// their codes then.
    pub(super) fn put_in_order(&mut self) {
        let Kept::Coded(Coded { codes, levels }) = &mut self.0 else { return };
        if levels.is_sorted_by(|one, next| one.total_cmp(next).is_lt()) {
            return;
        }
        let mut order: Vec<u16> = (0..levels.len() as u16).collect();
        order.sort_unstable_by(|&a, &b| levels[usize::from(a)].total_cmp(&levels[usize::from(b)]));
        // As many as two bytes count, so that no place is looked for beyond its end.
        let mut places = [0_u16; 1 << u16::BITS];
        for (&code, place) in order.iter().zip(0..) {
            places[usize::from(code)] = place;
        }
        codes.par_chunks_mut(TOGETHER).for_each(|part| {
            part.iter_mut().for_each(|code| *code = places[usize::from(*code)]);
        });
        *levels = order.iter().map(|&code| levels[usize::from(code)]).collect();
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

#[cfg(test)]
mod tests {
    use super::*;

    fn coded(codes: Vec<u16>, levels: Vec<f32>) -> Values {
        Values(Kept::Coded(Coded { codes, levels }))
    }

    #[test]
    fn levels_put_in_order_leave_the_values_as_they_are() {
        let levels = vec![2.5, -1.0, f32::INFINITY, 0.0, -0.0, f32::NAN, -7.5];
        let codes: Vec<u16> = (0..200_000_u32).map(|i| (i * 7919 % 7) as u16).collect();
        let mut values = coded(codes, levels);
        let before: Vec<u32> = values.iter().map(|value| value.to_bits()).collect();
        values.put_in_order();
        assert!(values.iter().map(|value| value.to_bits()).eq(before));
        assert!(values.levels().is_sorted_by(|one, next| one.total_cmp(next).is_lt()));
        // As many levels as there can be.
        let many: Vec<u16> = (0..u16::MAX).collect();
        let falling: Vec<f32> = many.iter().rev().map(|&level| f32::from(level)).collect();
        let mut values = coded(many, falling.clone());
        values.put_in_order();
        assert_eq!(values, falling);
    }

    #[test]
    fn what_is_asked_of_codes_is_what_the_values_say() {
        let levels: Vec<f32> = (0..50).map(|i| i as f32 * 0.7 - 11.0).collect();
        let codes: Vec<u16> = (0..300_u32).map(|i| (i * i * 31 % 50) as u16).collect();
        let coded = coded(codes, levels);
        let wide = Values::from(coded.to_vec());
        for rows in [0..300, 7..9, 20..21, 40..140] {
            let (coded, wide) = (coded.slice(rows.clone()), wide.slice(rows.clone()));
            assert_eq!(coded.limits(), wide.limits(), "{rows:?}");
            for cut in [0, (rows.len() - 1) / 2, rows.len() / 5] {
                let mut sorted = wide.to_vec();
                sorted.sort_unstable_by(f32::total_cmp);
                let sum: f64 = sorted[cut..sorted.len() - cut].iter().map(|&v| f64::from(v)).sum();
                approx::assert_relative_eq!(coded.sum_of_middle(cut), sum, max_relative = 1e-12);
                approx::assert_relative_eq!(wide.sum_of_middle(cut), sum, max_relative = 1e-12);
            }
            for stride in [1, 2, 7, 400] {
                let mut lists = [Vec::new(), vec![5.0]];
                coded.sorted_into(stride, &mut lists[0]);
                wide.sorted_into(stride, &mut lists[1]);
                let mut want: Vec<f32> = wide.iter().copied().step_by(stride).collect();
                want.sort_unstable_by(f32::total_cmp);
                assert_eq!(lists, [want.clone(), want], "{rows:?} {stride}");
            }
            // Turned over, its limits are the other way round.
            for factor in [2.0, -3.0, 0.0] {
                let (coded, wide) = (coded.scaled(factor), wide.scaled(factor));
                assert!(coded.all().iter().eq(wide.all().iter()), "{factor}");
                assert_eq!(coded.all().limits(), wide.all().limits(), "{factor}");
            }
        }
        let none = [f32::INFINITY, f32::NEG_INFINITY];
        assert_eq!(<[f32; 2]>::from(coded.slice(3..3).limits()), none);
        let mut list = vec![1.0];
        coded.slice(3..3).sorted_into(1, &mut list);
        assert!(list.is_empty());
    }

    #[test]
    fn limits_pass_over_what_is_no_number() {
        let values = coded(vec![0, 1, 2, 3], vec![-f32::NAN, 1.0, 2.0, f32::NAN]);
        assert_eq!(values.all().limits(), (1.0, 2.0));
        assert_eq!(values.slice(1..3).limits(), (1.0, 2.0));
    }
}
