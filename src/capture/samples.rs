//! The values of some rows of a channel, where they are kept.

use std::borrow::Cow;
use std::fmt;
use std::iter::FusedIterator;
use std::ops::{Index, Range};

/// The values of some rows that follow one another, where they are kept.
#[derive(Clone, Copy)]
pub struct Samples<'a>(pub(super) Part<'a>);

#[derive(Clone, Copy)]
pub(super) enum Part<'a> {
    /// As they are.
    Wide(&'a [f32]),
    /// Per row the place of its value in a list of levels, and that list, in order of size.
    Coded(&'a [u16], &'a [f32]),
}

/// Values times a factor, with no row of its own where the list of levels will do.
#[derive(Clone)]
pub struct Scaled<'a> {
    codes: Option<&'a [u16]>,
    /// The levels where there are codes, else the rows.
    values: Cow<'a, [f32]>,
}

/// The values of some rows, one after the other.
#[derive(Clone)]
pub struct Iter<'a>(Walk<'a>);

#[derive(Clone)]
enum Walk<'a> {
    Wide(std::slice::Iter<'a, f32>),
    Coded(std::slice::Iter<'a, u16>, &'a [f32]),
}

impl<'a> Samples<'a> {
    /// Number of rows.
    #[must_use]
    pub fn len(self) -> usize {
        match self.0 {
            Part::Wide(values) => values.len(),
            Part::Coded(codes, _) => codes.len(),
        }
    }

    /// Whether there is no row.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.len() == 0
    }

    /// The value of a row; `None` beyond the last one.
    #[must_use]
    #[inline]
    pub fn get(self, row: usize) -> Option<f32> {
        match self.0 {
            Part::Wide(values) => values.get(row).copied(),
            Part::Coded(codes, levels) => codes.get(row).map(|&code| levels[usize::from(code)]),
        }
    }

    /// The value of the last row.
    #[must_use]
    pub fn last(self) -> Option<f32> {
        self.get(self.len().checked_sub(1)?)
    }

    /// Least and greatest value, NaN passed over; infinities where there is no row.
    #[must_use]
    pub fn limits(self) -> (f32, f32) {
        if let Part::Coded(codes, levels) = self.0 {
            let ends = ends(codes.iter());
            let [least, most] = [ends.0, ends.1].map(|code| levels.get(usize::from(code)));
            if let (Some(&least), Some(&most)) = (least, most)
                && !least.is_nan()
                && !most.is_nan()
            {
                return (least, most);
            }
        }
        let ends = (f32::INFINITY, f32::NEG_INFINITY);
        self.iter().fold(ends, |(least, most), &value| (least.min(value), most.max(value)))
    }

    /// The sum of all but so many of the least and as many of the greatest, which are fewer than
    /// there are rows.
    #[must_use]
    pub fn sum_of_middle(self, cut: usize) -> f64 {
        let last = self.len() - 2 * cut - 1;
        if let Some(counts) = self.counts(1) {
            let (mut sum, mut left_out, mut wanted) = (0.0, cut, last + 1);
            for (level, count) in counts {
                let of_middle = (count - count.min(left_out)).min(wanted);
                left_out -= count.min(left_out);
                wanted -= of_middle;
                sum += of_middle as f64 * f64::from(level);
            }
            return sum;
        }
        let mut values = self.to_vec();
        if cut > 0 {
            // The least go to the front, then of the rest the greatest to the end; the middle need
            // not be in order.
            values.select_nth_unstable_by(cut, f32::total_cmp);
            values[cut..].select_nth_unstable_by(last, f32::total_cmp);
        }
        values[cut..=cut + last].iter().map(|&value| f64::from(value)).sum()
    }

    /// Every so many-th value, from the first on, in the order of [`f32::total_cmp`].
    pub fn sorted_into(self, stride: usize, list: &mut Vec<f32>) {
        list.clear();
        if let Some(counts) = self.counts(stride) {
            counts.for_each(|(level, count)| list.extend(std::iter::repeat_n(level, count)));
            return;
        }
        list.extend(self.iter().step_by(stride));
        list.sort_unstable_by(f32::total_cmp);
    }

    /// The levels from the least to the greatest, and how many of every so many-th value are at each;
    /// `None` where there are no codes, or few values beside the levels that they range over.
    fn counts(self, stride: usize) -> Option<impl Iterator<Item = (f32, usize)> + 'a> {
        /// To count a value and to pass over a level take a few instructions each, to put a value in
        /// its order ten times as many. Of 16 bits, 4 was measured faster than 1.
        const LEVELS_PER_VALUE: usize = 4;
        let Part::Coded(codes, levels) = self.0 else { return None };
        // All of them are gone through faster than every first one.
        let (least, counts) = match stride {
            1 => counts(codes.iter(), LEVELS_PER_VALUE)?,
            _ => counts(codes.iter().step_by(stride), LEVELS_PER_VALUE)?,
        };
        let counted = counts.into_iter().map(|count| count as usize);
        Some(levels[usize::from(least)..].iter().copied().zip(counted))
    }

    /// One after the other.
    #[must_use]
    #[inline]
    pub fn iter(self) -> Iter<'a> {
        Iter(match self.0 {
            Part::Wide(values) => Walk::Wide(values.iter()),
            Part::Coded(codes, levels) => Walk::Coded(codes.iter(), levels),
        })
    }

    /// The values of these rows.
    ///
    /// # Panics
    /// Where the rows reach beyond the last one.
    #[must_use]
    pub fn slice(self, rows: Range<usize>) -> Samples<'a> {
        Samples(match self.0 {
            Part::Wide(values) => Part::Wide(&values[rows]),
            Part::Coded(codes, levels) => Part::Coded(&codes[rows], levels),
        })
    }

    /// So many rows at a time; the last may be fewer. `rows` is at least 1.
    pub fn chunks(self, rows: usize) -> impl Iterator<Item = Samples<'a>> {
        let starts = (0..self.len()).step_by(rows);
        starts.map(move |from| self.slice(from..self.len().min(from + rows)))
    }

    /// Each value with the next one.
    pub fn pairs(self) -> impl Iterator<Item = [f32; 2]> + 'a {
        self.iter().zip(self.iter().skip(1)).map(|(&value, &next)| [value, next])
    }

    /// Each value with the two after it.
    pub fn threes(self) -> impl Iterator<Item = [f32; 3]> + 'a {
        self.pairs().zip(self.iter().skip(2)).map(|([value, next], &last)| [value, next, last])
    }

    /// A list of its own.
    #[must_use]
    pub fn to_vec(self) -> Vec<f32> {
        let mut list = Vec::new();
        self.copy_to(&mut list);
        list
    }

    /// The values into a list that is used again.
    pub fn copy_to(self, list: &mut Vec<f32>) {
        list.clear();
        match self.0 {
            Part::Wide(values) => list.extend_from_slice(values),
            Part::Coded(codes, levels) => {
                list.extend(codes.iter().map(|&code| levels[usize::from(code)]));
            }
        }
    }

    /// Each value times a factor.
    #[must_use]
    pub fn scaled(self, factor: f32) -> Scaled<'a> {
        let (codes, values) = match self.0 {
            Part::Wide(values) => (None, values),
            Part::Coded(codes, levels) if factor > 0.0 => (Some(codes), levels),
            // The levels would not stand in order.
            Part::Coded(..) => {
                let values = self.iter().map(|&value| value * factor).collect();
                return Scaled { codes: None, values };
            }
        };
        let values = if factor == 1.0 {
            Cow::Borrowed(values)
        } else {
            values.iter().map(|&value| value * factor).collect()
        };
        Scaled { codes, values }
    }

    /// Whether no value is of a kind, where the list of levels tells it without a look at the rows;
    /// `false` where it does not.
    #[must_use]
    pub fn has_none(self, of: impl Fn(f32) -> bool) -> bool {
        match self.0 {
            Part::Wide(_) => false,
            Part::Coded(_, levels) => !levels.iter().any(|&level| of(level)),
        }
    }
}

/// The least code, and how many there are of it and of each above it; `None` where those are more than
/// so many for each.
#[inline(always)]
fn counts<'a>(
    codes: impl ExactSizeIterator<Item = &'a u16> + Clone,
    levels_each: usize,
) -> Option<(u16, Vec<u32>)> {
    let (least, most) = ends(codes.clone());
    let range = usize::from(most.checked_sub(least)?) + 1;
    if range > levels_each * codes.len() {
        return None;
    }
    let mut counts = vec![0; range];
    codes.for_each(|&code| counts[usize::from(code - least)] += 1);
    Some((least, counts))
}

/// Least and greatest code; the other way round where there is none. A processor compares many whole
/// numbers at a time.
#[inline(always)]
fn ends<'a>(codes: impl Iterator<Item = &'a u16>) -> (u16, u16) {
    codes.fold((u16::MAX, 0), |(least, most), &code| (code.min(least), code.max(most)))
}

impl Scaled<'_> {
    /// All of them.
    #[must_use]
    pub fn all(&self) -> Samples<'_> {
        Samples(match self.codes {
            None => Part::Wide(&self.values),
            Some(codes) => Part::Coded(codes, &self.values),
        })
    }
}

impl<'a> Iterator for Iter<'a> {
    type Item = &'a f32;

    #[inline]
    fn next(&mut self) -> Option<&'a f32> {
        match &mut self.0 {
            Walk::Wide(values) => values.next(),
            Walk::Coded(codes, levels) => codes.next().map(|&code| &levels[usize::from(code)]),
        }
    }

    #[inline]
    fn nth(&mut self, n: usize) -> Option<&'a f32> {
        match &mut self.0 {
            Walk::Wide(values) => values.nth(n),
            Walk::Coded(codes, levels) => codes.nth(n).map(|&code| &levels[usize::from(code)]),
        }
    }

    fn size_hint(&self) -> (usize, Option<usize>) {
        match &self.0 {
            Walk::Wide(values) => values.size_hint(),
            Walk::Coded(codes, _) => codes.size_hint(),
        }
    }

    // How they are kept is asked once and not at every value.
    #[inline]
    fn fold<B, F: FnMut(B, &'a f32) -> B>(self, first: B, mut with: F) -> B {
        match self.0 {
            Walk::Wide(values) => values.fold(first, with),
            Walk::Coded(codes, levels) => {
                codes.fold(first, |so_far, &code| with(so_far, &levels[usize::from(code)]))
            }
        }
    }
}

impl DoubleEndedIterator for Iter<'_> {
    #[inline]
    fn next_back(&mut self) -> Option<Self::Item> {
        match &mut self.0 {
            Walk::Wide(values) => values.next_back(),
            Walk::Coded(codes, levels) => codes.next_back().map(|&code| &levels[usize::from(code)]),
        }
    }
}

impl ExactSizeIterator for Iter<'_> {}

impl FusedIterator for Iter<'_> {}

impl Index<usize> for Samples<'_> {
    type Output = f32;

    #[inline]
    fn index(&self, row: usize) -> &f32 {
        match self.0 {
            Part::Wide(values) => &values[row],
            Part::Coded(codes, levels) => &levels[usize::from(codes[row])],
        }
    }
}

impl<'a> From<&'a [f32]> for Samples<'a> {
    fn from(values: &'a [f32]) -> Samples<'a> {
        Samples(Part::Wide(values))
    }
}

impl<'a> From<&'a Vec<f32>> for Samples<'a> {
    fn from(values: &'a Vec<f32>) -> Samples<'a> {
        values[..].into()
    }
}

impl fmt::Debug for Samples<'_> {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        to.debug_list().entries(self.iter()).finish()
    }
}
