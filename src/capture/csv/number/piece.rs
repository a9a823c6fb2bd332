//! A number with what ends it: a cell of a row of plain numbers, in one or two words of eight bytes.

use super::fast::{WHOLE_POWERS, ZEROS, in_eight, odd_bytes, scaled, sum_of_eight};

/// A number of one to fifteen digits with what ends it, as [`super::super::plain`] reads it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Piece {
    /// Whether a minus stands before it.
    pub negative: bool,
    /// Its digits without the mark; fewer than [`EXACT_WHOLE`].
    pub digits: u64,
    /// How many of them stand behind the mark.
    pub places: i32,
    /// The byte that ends it, which is no digit, and the index after that.
    pub ended_by: u8,
    pub after: usize,
}

impl Piece {
    /// Itself, where this is what closes it.
    #[inline(always)]
    pub(crate) fn closed_by(self, byte: u8) -> Option<Piece> {
        (self.ended_by == byte).then_some(self)
    }

    /// Its value, in a column with this power of ten of its unit's prefix. Nothing where that is not
    /// the nearest double.
    ///
    /// The sign is not branched on, see [`Piece::read`].
    #[inline(always)]
    pub(crate) fn value(self, shift: i32) -> Option<f64> {
        let sign = u64::from(self.negative) << 63;
        let size = scaled(self.digits, shift - self.places)?;
        Some(f64::from_bits(size.to_bits() | sign))
    }

    /// Reads the number that starts at `at`; nothing where it is longer, begins or ends with its
    /// mark, or where fewer than seventeen bytes are left.
    ///
    /// The sign is not branched on: that of noise about zero is what a processor cannot guess.
    #[inline(always)]
    pub(crate) fn read(bytes: &[u8], at: usize, decimal: u8) -> Option<Piece> {
        let all: &[u8; 17] = bytes.get(at..)?.first_chunk()?;
        let negative = all[0] == b'-';
        let from = at + usize::from(negative);
        let piece = |(digits, places, end): (u64, u32, u32), ended_by: u8| Piece {
            negative,
            digits,
            places: places as i32,
            ended_by,
            after: from + end as usize + 1,
        };
        let first = u64::from_le_bytes(*all.first_chunk()?);
        let word = if negative { first >> 8 | u64::from(all[8]) << 56 } else { first };
        if let Some(number) = in_eight(word, decimal) {
            return Some(piece(number, (word >> (8 * number.2)) as u8));
        }
        let first = u128::from_le_bytes(*all.first_chunk()?);
        let word = if negative { first >> 8 | u128::from(all[16]) << 120 } else { first };
        let number = Self::in_sixteen(word, decimal)?;
        Some(piece(number, (word >> (8 * number.2)) as u8))
    }

    /// As [`in_eight`], of up to fifteen bytes. Measured: read like this alone, cells that
    /// fit into eight take 40 % longer.
    #[inline(always)]
    fn in_sixteen(word: u128, decimal: u8) -> Option<(u64, u32, u32)> {
        let values = word ^ (u128::from(ZEROS) << 64 | u128::from(ZEROS));
        // Each half by itself: what carries in the first says nothing of the second.
        let half = |part: u128| u128::from(odd_bytes(part as u64));
        let odd = half(values >> 64) << 64 | half(values);
        let whole = odd.trailing_zeros() / 8;
        if whole == 0 || whole > 15 {
            return None;
        }
        let sum = |joined: u128| {
            sum_of_eight(joined as u64) * WHOLE_POWERS[8] + sum_of_eight((joined >> 64) as u64)
        };
        if (word >> (8 * whole)) as u8 != decimal {
            return Some((sum(values << (128 - 8 * whole)), 0, whole));
        }
        let end = (odd & odd.wrapping_sub(1)).trailing_zeros() / 8;
        if end > 15 || end < whole + 2 {
            return None;
        }
        let before = (1 << (8 * whole)) - 1;
        let joined = (values & before) | (values >> 8 & !before);
        Some((sum(joined << (128 - 8 * (end - 1))), end - 1 - whole, end))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn a_piece_is_the_number_and_what_ends_it(
            text in "[+-]?[0-9]{0,10}[.]?[0-9]{0,10}[,;\t\n\re.-]",
            behind in prop::collection::vec(any::<u8>(), 17..20),
        ) {
            let mut bytes = text.clone().into_bytes();
            bytes.extend(behind);
            if let Some(piece) = Piece::read(&bytes, 0, b'.') {
                // The text, and what stands behind it where that goes on with digits.
                let number = std::str::from_utf8(&bytes[..piece.after - 1]).expect("digits");
                let value = piece.value(0).expect("fifteen digits at most");
                // The standard library's own parser is the reference.
                prop_assert_eq!(Ok(value), number.parse::<f64>(), "{:?}", text);
                prop_assert_eq!(piece.ended_by, bytes[piece.after - 1]);
                let places = number.split_once('.').map_or(0, |(_, behind)| behind.len());
                prop_assert_eq!(piece.places as usize, places);
            }
        }
    }
}
