//! A level that moves slowly against the samples.

/// A slowly moving level, known at some rows and straight between; before the first and after the
/// last it stays.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Slow {
    /// Rows, growing, with the level there; at least one.
    points: Vec<(f64, f64)>,
}

impl Slow {
    /// Through points in order of their rows; `otherwise` everywhere when there are none.
    pub fn through(points: Vec<(f64, f64)>, otherwise: f64) -> Slow {
        Slow { points: if points.is_empty() { vec![(0.0, otherwise)] } else { points } }
    }

    /// The level at a row.
    pub fn at(&self, row: usize) -> f64 {
        self.walk().at(row)
    }

    /// To be asked for rows in growing order, which takes no search.
    pub fn walk(&self) -> Walk<'_> {
        Walk { points: &self.points, after: 0 }
    }

    /// Median of the points.
    pub fn typical(&self) -> f64 {
        let mut levels: Vec<f64> = self.points.iter().map(|point| point.1).collect();
        super::levels::median(&mut levels).unwrap_or(0.0)
    }
}

/// A [`Slow`] level walked along in order of rows.
pub(super) struct Walk<'a> {
    points: &'a [(f64, f64)],
    /// First point after the row asked for last.
    after: usize,
}

impl Walk<'_> {
    /// Least and greatest level from a row to a later one, both included, and not before the rows
    /// asked for so far.
    pub fn range(&mut self, from: usize, to: usize) -> (f64, f64) {
        let start = self.at(from);
        let inside = self.points[self.after..].iter().take_while(|point| point.0 < to as f64);
        let inside = inside.map(|point| point.1).fold((start, start), widest);
        widest(inside, self.at(to))
    }

    /// The level at a row, not smaller than the one before.
    pub fn at(&mut self, row: usize) -> f64 {
        let row = row as f64;
        if self.after == 0 && self.points.len() > 8 {
            // The first question may be for any row.
            self.after = self.points.partition_point(|point| point.0 <= row);
        }
        while self.points.get(self.after).is_some_and(|point| point.0 <= row) {
            self.after += 1;
        }
        if self.after == 0 || self.after == self.points.len() {
            return self.points[self.after.saturating_sub(1)].1;
        }
        let ((x0, y0), (x1, y1)) = (self.points[self.after - 1], self.points[self.after]);
        y0 + (y1 - y0) * (row - x0) / (x1 - x0)
    }
}

fn widest((least, most): (f64, f64), level: f64) -> (f64, f64) {
    (least.min(level), most.max(level))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_straight_between_points_and_stays_beyond_them() {
        let slow = Slow::through(vec![(10.0, 1.0), (20.0, 3.0)], 0.0);
        for (row, want) in [(0, 1.0), (10, 1.0), (15, 2.0), (20, 3.0), (99, 3.0)] {
            assert_eq!(slow.at(row), want, "row {row}");
        }
        let mut walk = slow.walk();
        let walked: Vec<f64> = [5, 12, 12, 18, 40].map(|row| walk.at(row)).into();
        assert_eq!(walked, [1.0, 1.4, 1.4, 2.6, 3.0]);
        assert_eq!(Slow::through(vec![], 7.0).at(3), 7.0);
        let bent = Slow::through(vec![(10.0, 1.0), (20.0, 3.0), (30.0, 2.0)], 0.0);
        let mut walk = bent.walk();
        let ranges = [(0, 9), (10, 14), (15, 25), (25, 40)].map(|(from, to)| walk.range(from, to));
        assert_eq!(ranges, [(1.0, 1.0), (1.0, 1.8), (2.0, 3.0), (2.0, 2.5)]);
    }
}
