//! The values of a channel in a block of rows.

use crate::capture::Values;

/// Stands for a value whose level has no number yet.
pub(crate) const NEW: u16 = u16::MAX;

/// Values in the file's order. NaN, +∞ and −∞ stand for over-range marks until the end.
#[derive(Debug, Clone)]
pub(crate) enum Cells {
    /// As they are.
    Plain(Vec<f32>),
    /// By their levels' numbers.
    Coded(Numbers),
}

/// Values by the numbers that their levels have in the table's list of the channel.
#[derive(Debug, Clone, Default)]
pub(crate) struct Numbers {
    /// A row each; [`NEW`] where the level was not in the list when the block was read.
    pub codes: Vec<u16>,
    /// Those, in order.
    pub new: Vec<New>,
}

/// A value whose level has no number yet.
#[derive(Debug, Clone, Copy)]
pub(crate) struct New {
    pub row: usize,
    pub value: f32,
    /// The cell as [`super::texts`] keeps it; 0 for one that is not kept.
    pub text: u64,
}

impl Default for Cells {
    fn default() -> Cells {
        Cells::Plain(Vec::new())
    }
}

impl Cells {
    /// Empties it, for values of one kind or the other, and keeps its memory where that stays.
    pub fn clear(&mut self, coded: bool) {
        match self {
            Cells::Plain(values) if !coded => values.clear(),
            Cells::Coded(numbers) if coded => {
                numbers.codes.clear();
                numbers.new.clear();
            }
            _ if coded => *self = Cells::Coded(Numbers::default()),
            _ => *self = Cells::default(),
        }
    }

    /// Adds a value.
    pub fn push(&mut self, value: f32) {
        match self {
            Cells::Plain(values) => values.push(value),
            Cells::Coded(numbers) => numbers.push_new(value, 0),
        }
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        match self {
            Cells::Plain(values) => values.len(),
            Cells::Coded(numbers) => numbers.codes.len(),
        }
    }

    /// Keeps the first so many rows.
    pub fn truncate(&mut self, rows: usize) {
        match self {
            Cells::Plain(values) => values.truncate(rows),
            Cells::Coded(numbers) => {
                numbers.codes.truncate(rows);
                while numbers.new.last().is_some_and(|new| new.row >= rows) {
                    numbers.new.pop();
                }
            }
        }
    }

    /// The value of a row, by the table's list of levels.
    pub fn at(&self, row: usize, levels: &[f32]) -> Option<f32> {
        match self {
            Cells::Plain(values) => values.get(row).copied(),
            Cells::Coded(numbers) => match *numbers.codes.get(row)? {
                NEW => {
                    let at = numbers.new.binary_search_by_key(&row, |new| new.row).ok()?;
                    Some(numbers.new[at].value)
                }
                code => levels.get(usize::from(code)).copied(),
            },
        }
    }

    /// All values of a block that is the whole table.
    pub fn take(&mut self) -> Values {
        match std::mem::take(self) {
            Cells::Plain(values) => values.into(),
            Cells::Coded(numbers) => numbers.values(&[]).collect(),
        }
    }

    /// All values, by the table's list of levels.
    pub fn to_vec(&self, levels: &[f32]) -> Vec<f32> {
        match self {
            Cells::Plain(values) => values.clone(),
            Cells::Coded(numbers) => numbers.values(levels).collect(),
        }
    }
}

impl Numbers {
    /// Adds a value whose level has no number.
    pub fn push_new(&mut self, value: f32, text: u64) {
        self.new.push(New { row: self.codes.len(), value, text });
        self.codes.push(NEW);
    }

    /// All values, by the table's list of levels.
    pub fn values<'a>(&'a self, levels: &'a [f32]) -> impl Iterator<Item = f32> + 'a {
        let mut new = self.new.iter();
        self.codes.iter().map(move |&code| match code {
            NEW => new.next().map_or(f32::NAN, |new| new.value),
            code => levels[usize::from(code)],
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_by_their_numbers_are_those_that_were_added() {
        let levels = [0.5, -1.5];
        let mut cells = Cells::default();
        cells.clear(true);
        let Cells::Coded(numbers) = &mut cells else { panic!("codes were asked for") };
        numbers.codes.push(1);
        numbers.push_new(7.0, 99);
        numbers.codes.push(0);
        cells.push(f32::INFINITY);
        assert_eq!(cells.to_vec(&levels), [-1.5, 7.0, 0.5, f32::INFINITY]);
        let one_by_one: Vec<f32> = (0..4).filter_map(|row| cells.at(row, &levels)).collect();
        assert_eq!(one_by_one, cells.to_vec(&levels));
        assert_eq!(cells.at(4, &levels), None);
        cells.truncate(2);
        cells.push(8.0);
        assert_eq!((cells.len(), cells.to_vec(&levels)), (3, vec![-1.5, 7.0, 8.0]));
        cells.truncate(1);
        assert_eq!(cells.to_vec(&levels), [-1.5]);
        cells.clear(false);
        cells.push(2.0);
        assert_eq!(cells.to_vec(&levels), [2.0]);
    }
}
