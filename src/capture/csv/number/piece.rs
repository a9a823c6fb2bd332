//! A number with what ends it: a cell of a row of plain numbers, in one or two words of eight bytes.

use super::fast::{WHOLE_POWERS, ZEROS, first_of, in_eight, odd_bytes, scaled, sum_of_eight};

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

/// What stands before the last eight bytes of a number, what it comes to, and where in those the
/// mark stands.
#[derive(Debug)]
pub(crate) struct Head {
    /// Its bytes, the first in the lowest, and how many there are, up to 7.
    text: u64,
    length: u32,
    negative: bool,
    /// Its digits, times ten for each that stands behind it.
    digits: u64,
    /// How many digits of the whole number stand behind the mark.
    places: i32,
    /// Top bit of the byte of the last eight that is the mark; 0 where none is.
    mark: u64,
    /// Of the last eight the bytes before the mark and those behind it.
    before: u64,
    behind: u64,
}

impl Default for Head {
    /// Of a number of eight digits.
    fn default() -> Head {
        let (text, length, negative, digits, places) = (0, 0, false, 0, 0);
        Head { text, length, negative, digits, places, mark: 0, before: 0, behind: u64::MAX }
    }
}

impl Head {
    /// Reads one, and where the mark stands in the last eight bytes; `None` where they are not
    /// digits with one mark or none among them, and a digit first.
    #[cold]
    fn read(text: u64, length: u32, last: u64, decimal: u8) -> Option<Head> {
        let mut bytes = [text.to_le_bytes(), [0; 8]].concat();
        bytes.truncate(length as usize);
        bytes.extend(last.to_le_bytes());
        let negative = bytes[0] == b'-' && length > 0;
        let number = &bytes[usize::from(negative)..];
        let mark = number.iter().position(|&byte| byte == decimal);
        let all_digits =
            number.iter().enumerate().all(|(at, byte)| Some(at) == mark || byte.is_ascii_digit());
        if !all_digits || mark == Some(0) || mark == Some(number.len() - 1) {
            return None;
        }
        let in_last =
            mark.and_then(|mark| (mark + usize::from(negative)).checked_sub(length as usize));
        let of_head = &bytes[usize::from(negative)..length as usize];
        let own = of_head.iter().filter(|byte| byte.is_ascii_digit());
        let own = own.fold(0, |so_far, byte| 10 * so_far + u64::from(byte - b'0'));
        Some(Head {
            text,
            length,
            negative,
            digits: own * WHOLE_POWERS[8 - usize::from(in_last.is_some())],
            places: mark.map_or(0, |mark| number.len() - mark - 1) as i32,
            mark: in_last.map_or(0, |at| 0x80 << (8 * at)),
            before: in_last.map_or(0, |at| (1 << (8 * at)) - 1),
            behind: in_last.map_or(u64::MAX, |at| !(u64::MAX >> (56 - 8 * at))),
        })
    }
}

impl Piece {
    /// As [`Piece::read`], of eight to fifteen bytes closed by this one, of which the last is no
    /// mark: the time of a row begins as that of the row before, and what that began with is `head`.
    #[inline(always)]
    pub(crate) fn read_on(
        bytes: &[u8],
        at: usize,
        decimal: u8,
        closed_by: u8,
        head: &mut Head,
    ) -> Option<Piece> {
        let all: &[u8; 16] = bytes.get(at..)?.first_chunk()?;
        let both = u128::from_le_bytes(*all);
        let (first, second) = (both as u64, (both >> 64) as u64);
        let length = first_of(second, closed_by);
        if length == 8 || first_of(first, closed_by) < 8 {
            return None;
        }
        let last = (both >> (8 * length)) as u64;
        let (text, values) = (first & !(u64::MAX << (8 * length)), last ^ ZEROS);
        // Whether the byte that is no digit is the mark is seen when the head is read: another one
        // there would be another number.
        let odd = odd_bytes(values);
        let is_mark = odd == 0 || (last >> (odd.trailing_zeros() & !7)) as u8 == decimal;
        if (text, length, odd) != (head.text, head.length, head.mark) || !is_mark {
            *head = Head::read(text, length, last, decimal)?;
        }
        let joined = (values & head.before) << 8 | values & head.behind;
        Some(Piece {
            negative: head.negative,
            digits: head.digits + sum_of_eight(joined),
            places: head.places,
            ended_by: closed_by,
            after: at + length as usize + 9,
        })
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

    #[test]
    fn a_time_is_read_on_from_the_one_before() {
        let mut head = Head::default();
        // (text, whether it is read so)
        let rows = [
            ("0.000000390,", true),
            ("0.000000780,", true),
            ("-1.25000000,", true),
            ("12345678901,", true),
            ("12345678,", true),
            ("0.000050,", true),
            ("0.000100,", true),
            ("12.00010,", true),
            ("123.4567,", true),
            ("1234.5678,", true),
            ("-123.4567,", true),
            ("-0.000050,", true),
            ("12.00000000,", true),
            ("0.00000039,", true),
            ("0.0000039,", true),
            ("12345678.,", false),
            ("123456.7.9,", false),
            ("12345;78,", false),
            ("-2345678,", false),
            ("0.00 050,", false),
            (".000000390,", false),
            ("1.2.00000000,", false),
            ("0.000000390;", false),
            ("1.23456789e,", false),
            ("--2.00000000,", false),
            ("-.200000000,", false),
            ("12345678901234567,", false),
        ];
        for (text, read) in rows {
            let bytes = format!("{text}0123456789,01234567");
            let piece = Piece::read_on(bytes.as_bytes(), 0, b'.', b',', &mut head);
            assert_eq!(piece.is_some(), read, "{text}");
            if let Some(piece) = piece {
                let number = text[..text.len() - 1].parse();
                assert_eq!(piece.value(0), number.ok(), "{text}");
                assert_eq!(piece.after, text.len(), "{text}");
            }
        }
    }

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

        #[test]
        fn a_number_read_on_from_the_one_before_is_the_same(
            texts in prop::collection::vec("-?[0-9]{0,9}[.]?[0-9]{0,12}[,\n\r;]", 1..8),
            behind in prop::collection::vec(any::<u8>(), 17..20),
        ) {
            let mut head = Head::default();
            for text in texts {
                let mut bytes = text.into_bytes();
                let closed_by = bytes[bytes.len() - 1];
                bytes.extend(&behind);
                let one = Piece::read_on(&bytes, 0, b'.', closed_by, &mut head);
                if one.is_some() {
                    prop_assert_eq!(one, Piece::read(&bytes, 0, b'.'));
                }
            }
        }
    }
}
