//! A column that counts the rows: where it does not go on, rows are missing between two pieces.

/// Counts after which a converter's counter of 8, 16 or 32 bits begins at 0 again.
const WRAPS: [f64; 3] = [255.0, 65_535.0, 4_294_967_295.0];
/// Most breaks kept: enough to say that there are many.
const MOST_KEPT: usize = 1000;

/// What a counter did over some rows.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Count {
    first: Option<f64>,
    last: Option<f64>,
    /// Rows, counted from 0, at which it did not go on.
    pub breaks: Vec<usize>,
}

impl Count {
    /// Empties it, keeping its memory.
    pub fn clear(&mut self) {
        (self.first, self.last) = (None, None);
        self.breaks.clear();
    }

    /// Takes the counter of a row, which should be `step` more than that of the row before.
    #[inline]
    pub fn note(&mut self, row: usize, value: f64, step: f64) {
        if self.last.is_some_and(|last| !goes_on(last, value, step))
            && self.breaks.len() < MOST_KEPT
        {
            self.breaks.push(row);
        }
        self.first.get_or_insert(value);
        self.last = Some(value);
    }

    /// Takes what a counter did over the rows from `from` on, which follow those so far.
    pub fn join(&mut self, next: &Count, from: usize, step: f64) {
        if let (Some(last), Some(first)) = (self.last, next.first)
            && !goes_on(last, first, step)
        {
            self.breaks.push(from);
        }
        let left = MOST_KEPT.saturating_sub(self.breaks.len());
        self.breaks.extend(next.breaks.iter().take(left).map(|row| from + row));
        self.first = self.first.or(next.first);
        self.last = next.last.or(self.last);
    }
}

fn goes_on(before: f64, now: f64, step: f64) -> bool {
    now - before == step || (now == 0.0 && WRAPS.contains(&before))
}

#[cfg(test)]
mod tests {
    use super::Count;

    #[test]
    fn a_counter_that_starts_again_breaks_within_and_between_blocks() {
        let count = |values: &[f64]| {
            let mut count = Count::default();
            values.iter().enumerate().for_each(|(row, value)| count.note(row, *value, 1.0));
            count
        };
        let mut all = count(&[1.0, 2.0, 3.0]);
        all.join(&count(&[4.0, 5.0, 1.0, 2.0]), 3, 1.0);
        all.join(&count(&[1.0, 2.0]), 7, 1.0);
        assert_eq!(all.breaks, [5, 7]);
        assert_eq!(count(&[65_534.0, 65_535.0, 0.0, 1.0]).breaks, [0; 0]);
        assert_eq!(count(&[7.0, 7.0]).breaks, [1]);
    }
}
