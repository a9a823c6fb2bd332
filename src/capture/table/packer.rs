//! Values as they are read become the numbers of their levels.

use super::cells::{Cells, NEW, Numbers};
use super::numbering::Numbering;
use super::room::make_room;
use super::texts::Texts;
use crate::capture::error::Fault;
use crate::capture::values::{Coded, Values};

/// Finds the number of a level; one per channel, for as long as it is read.
#[derive(Debug, Clone, Default)]
pub(crate) struct Packer {
    /// By a level's bits.
    numbers: Numbering<u32>,
    /// What cells have said so far.
    pub texts: Texts,
    /// The levels, when they had become too many.
    last_levels: Vec<f32>,
}

/// As many levels as two bytes count, but one number that says that a value has none.
const MOST_LEVELS: usize = NEW as usize;

impl Packer {
    /// Adds parts to a channel's values, with room for the whole of it from the first time on. From
    /// the level on that two bytes do not count, the values are kept as they are.
    pub fn take<'a>(
        &mut self,
        channel: &mut Values,
        parts: impl Iterator<Item = &'a Cells> + Clone,
        room: usize,
    ) -> Result<(), Fault> {
        let now = parts.clone().map(Cells::len).sum();
        let mut left = parts.peekable();
        if let Some(coded) = channel.codes() {
            make_room(&mut coded.codes, now, room)?;
            while left.next_if(|part| self.pack(coded, part)).is_some() {}
            if left.peek().is_none() {
                return Ok(());
            }
            let mut values = Vec::new();
            make_room(&mut values, coded.codes.len(), room)?;
            self.numbers = Numbering::default();
            self.texts.stop();
            // Of this round there may be more parts by these numbers.
            self.last_levels = std::mem::take(&mut coded.levels);
            let levels = &self.last_levels;
            values.extend(coded.codes.iter().map(|&code| levels[usize::from(code)]));
            *channel = values.into();
        }
        let values = channel.to_mut();
        make_room(values, now, room)?;
        for part in left {
            match part {
                Cells::Plain(part) => values.extend_from_slice(part),
                Cells::Coded(part) => values.extend(part.values(&self.last_levels)),
            }
        }
        Ok(())
    }

    /// Adds values as codes; `false`, and none of them is added, where there are too many levels.
    fn pack(&mut self, to: &mut Coded, values: &Cells) -> bool {
        let before = to.codes.len();
        let whole = match values {
            Cells::Plain(values) => self.pack_values(to, values),
            Cells::Coded(numbers) => self.pack_numbers(to, numbers),
        };
        if !whole {
            to.codes.truncate(before);
        }
        whole
    }

    fn pack_numbers(&mut self, to: &mut Coded, numbers: &Numbers) -> bool {
        let first = to.codes.len();
        to.codes.extend_from_slice(&numbers.codes);
        // Where most cells are no plain numbers, there is nothing to be known again.
        let other = numbers.new.iter().filter(|new| new.text == 0).count();
        if 2 * other > numbers.codes.len() {
            self.texts.stop();
        }
        for new in &numbers.new {
            let Some(code) = self.number(&mut to.levels, new.value.to_bits()) else { return false };
            to.codes[first + new.row] = code;
            if new.text != 0 {
                self.texts.put(new.text, code);
            }
        }
        true
    }

    fn pack_values(&mut self, to: &mut Coded, values: &[f32]) -> bool {
        let levels = &mut to.levels;
        let mut whole = true;
        to.codes.extend(values.iter().map(|value| match self.number(levels, value.to_bits()) {
            Some(code) => code,
            None => {
                whole = false;
                0
            }
        }));
        whole
    }

    #[inline]
    fn number(&mut self, levels: &mut Vec<f32>, bits: u32) -> Option<u16> {
        self.numbers.get(bits).or_else(|| self.new_level(levels, bits))
    }

    #[cold]
    fn new_level(&mut self, levels: &mut Vec<f32>, bits: u32) -> Option<u16> {
        if levels.len() == MOST_LEVELS {
            return None;
        }
        let code = levels.len() as u16;
        levels.push(f32::from_bits(bits));
        self.numbers.put(bits, code).then_some(code)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn packed(parts: &[&[f32]]) -> (Values, bool) {
        let (mut channel, mut packer) = (Values::default(), Packer::default());
        for part in parts {
            let part = Cells::Plain(part.to_vec());
            packer.take(&mut channel, std::iter::once(&part), 10).expect("room");
        }
        let coded = channel.codes().is_some();
        (channel, coded)
    }

    #[test]
    fn values_are_given_back_as_they_came() {
        // Both zeros, marks, and more than the slots of the beginning.
        let marks = [0.0, -0.0, f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 1e-40, 5.0, 5.0];
        let many: Vec<f32> = (0..40_000).map(|i| ((i * 7919) % 3001) as f32 * 0.01).collect();
        let (values, coded) = packed(&[&marks, &many, &[], &marks]);
        assert!(coded);
        let want = marks.iter().chain(&many).chain(&marks);
        assert!(values.iter().map(|value| value.to_bits()).eq(want.map(|value| value.to_bits())));
        // Seven of the marks, and all of the many but the zero and the five.
        assert_eq!(values.levels().len(), 7 + 3001 - 2);
    }

    #[test]
    fn more_levels_than_two_bytes_count_are_kept_as_they_are() {
        let all: Vec<f32> = (0..MOST_LEVELS as u32 + 1).map(|i| i as f32 - 1000.0).collect();
        let (values, coded) = packed(&[&all[..MOST_LEVELS], &all[..100]]);
        assert!(coded);
        assert_eq!(values, [&all[..MOST_LEVELS], &all[..100]].concat());
        // The level too many in the first part, in the middle of a part, in a part of its own.
        let halves = [&all[..], &all[..7]];
        let in_one = [&all[..40_000], &all[30_000..], &all[5..9]];
        let alone = [&all[..MOST_LEVELS], &all[MOST_LEVELS..], &all[..2]];
        for parts in [&halves[..], &in_one, &alone] {
            let (values, coded) = packed(parts);
            assert!(!coded);
            assert_eq!(values, parts.concat());
        }
    }

    #[test]
    fn levels_made_to_fall_together_are_kept_as_they_are() {
        // Multiples of the inverse of the spread: their hashes are 1, 2, 3, all of them in the
        // first slots.
        const SPREAD: u32 = 0x9E37_79B9;
        let mut inverse = 1_u32;
        for _ in 0..5 {
            inverse = inverse.wrapping_mul(2_u32.wrapping_sub(SPREAD.wrapping_mul(inverse)));
        }
        let level = |number: u32| f32::from_bits(inverse.wrapping_mul(number));
        let all: Vec<f32> = (1..2000).map(level).collect();
        let (values, coded) = packed(&[&all]);
        assert!(!coded);
        assert!(values.iter().map(|v| v.to_bits()).eq(all.iter().map(|v| v.to_bits())));
    }
}
