//! The times of rows one after the other: each begins as the one before, and differs in its last
//! eight bytes at most.

use super::Piece;
use super::fast::{
    ABOVE_NINE, TOP_BITS, WHOLE_POWERS, ZEROS, first_of, power_of_ten, sum_of_eight,
};

/// Reads times on from the one before.
#[derive(Debug)]
pub(crate) struct Times {
    decimal: u8,
    closed_by: u8,
    /// Power of ten of the column's unit.
    shift: i32,
    /// Power of ten of the finest digit of any time read so.
    pub finest: i32,
    head: Head,
}

/// What stands before the last eight bytes of a number, what it comes to, and where in those the
/// mark stands.
#[derive(Debug, Default)]
struct Head {
    /// Its bytes, the first in the lowest, the bits of so many, and how many they are, up to 7.
    text: u64,
    mask: u64,
    length: usize,
    /// Its digits, times ten for each that stands behind it.
    digits: u64,
    /// The mark where it is one of the last eight bytes, and `0` for every other.
    zeros: u64,
    /// Lifts whatever is no digit, or there not the mark, into the top bit of its byte.
    lift: u64,
    /// Of the last eight bytes those before the mark and those behind it.
    before: u64,
    behind: u64,
    /// The top bit where the number is negative.
    sign: u64,
    /// How many digits of the whole number stand behind the mark.
    places: i32,
    /// What the digits are divided by, or multiplied with.
    by: f64,
    divides: bool,
}

impl Head {
    /// Of a number whose last eight bytes these are, behind `length` others; `None` where all of
    /// them are not digits, a digit first and last, with one mark or none among them and a minus or
    /// none before, or where it has no exact value. `shift` is the power of ten of its unit.
    fn read(bytes: &[u8], length: usize, decimal: u8, shift: i32) -> Option<Head> {
        let negative = bytes[0] == b'-' && length > 0;
        let number = &bytes[usize::from(negative)..];
        let mark = number.iter().position(|&byte| byte == decimal);
        let all_digits =
            number.iter().enumerate().all(|(at, byte)| Some(at) == mark || byte.is_ascii_digit());
        if !all_digits || mark == Some(0) || mark == Some(number.len() - 1) {
            return None;
        }
        let places = mark.map_or(0, |mark| number.len() - mark - 1) as i32;
        let by = power_of_ten((shift - places).abs())?;
        let in_last = mark.and_then(|mark| (mark + usize::from(negative)).checked_sub(length));
        let of_head = &bytes[usize::from(negative)..length];
        let own = of_head.iter().filter(|byte| byte.is_ascii_digit());
        let own = own.fold(0, |so_far, byte| 10 * so_far + u64::from(byte - b'0'));
        let marked = in_last.map_or(0, |at| 0xff << (8 * at));
        Some(Head {
            text: of_bytes(&bytes[..length]),
            mask: !(u64::MAX << (8 * length)),
            length,
            digits: own * WHOLE_POWERS[8 - usize::from(in_last.is_some())],
            zeros: ZEROS & !marked | in_last.map_or(0, |at| u64::from(decimal) << (8 * at)),
            lift: ABOVE_NINE & !marked | 0x7f7f_7f7f_7f7f_7f7f & marked,
            before: in_last.map_or(0, |at| (1 << (8 * at)) - 1),
            behind: in_last.map_or(u64::MAX, |at| !(u64::MAX >> (56 - 8 * at))),
            sign: u64::from(negative) << 63,
            places,
            by,
            divides: shift < places,
        })
    }

    /// The time that ends in these eight bytes, and whether those are what a number with this head
    /// ends in.
    #[inline(always)]
    fn value(&self, last: u64) -> (f64, bool) {
        let values = last ^ self.zeros;
        // What is carried comes from a byte that is itself found.
        let odd = (values.wrapping_add(self.lift) | values) & TOP_BITS;
        let joined = (values & self.before) << 8 | values & self.behind;
        // Fifteen digits at most; a processor turns a number with a sign into a double at once.
        let whole = (self.digits + sum_of_eight(joined)).cast_signed() as f64;
        let size = if self.divides { whole / self.by } else { whole * self.by };
        (f64::from_bits(size.to_bits() | self.sign), odd == 0)
    }
}

fn of_bytes(bytes: &[u8]) -> u64 {
    bytes.iter().rev().fold(0, |word, &byte| word << 8 | u64::from(byte))
}

impl Times {
    /// Times of a column with this mark, whose cells are closed by this byte, in a unit that is this
    /// power of ten of a second.
    pub(crate) fn new(decimal: u8, closed_by: u8, shift: i32) -> Times {
        // Of no number: nothing that is read is 1 under an empty mask.
        let head = Head { text: 1, ..Head::default() };
        Times { decimal, closed_by, shift, finest: i32::MAX, head }
    }

    /// The time that stands at `at` and the index after what closes it; `None` where that is no
    /// number of up to fifteen digits, or too near the end of the bytes.
    #[inline(always)]
    pub(crate) fn read(&mut self, bytes: &[u8], at: usize) -> Option<(f64, usize)> {
        let head = &self.head;
        let first = u64::from_le_bytes(*bytes.get(at..)?.first_chunk()?);
        let rest: &[u8; 9] = bytes.get(at + head.length..)?.first_chunk()?;
        let last = u64::from_le_bytes(*rest.first_chunk()?);
        let (value, is_number) = head.value(last);
        if first & head.mask == head.text && is_number && rest[8] == self.closed_by {
            return Some((value, at + head.length + 9));
        }
        self.read_anew(bytes, at)
    }

    /// As [`Times::read`], of one that does not begin as the one before.
    #[inline(never)]
    fn read_anew(&mut self, bytes: &[u8], at: usize) -> Option<(f64, usize)> {
        let all: &[u8; 16] = bytes.get(at..)?.first_chunk()?;
        let halves = all.as_chunks::<8>().0;
        let [none_in_first, in_second] =
            [0, 1].map(|half| first_of(u64::from_le_bytes(halves[half]), self.closed_by) as usize);
        if none_in_first == 8 && in_second < 8 {
            let number = &all[..8 + in_second];
            if let Some(head) = Head::read(number, in_second, self.decimal, self.shift) {
                self.head = head;
                self.finest = self.finest.min(self.shift - self.head.places);
                let (value, _) = self.head.value(of_bytes(&number[in_second..]));
                return Some((value, at + in_second + 9));
            }
        }
        let piece = Piece::read(bytes, at, self.decimal)?;
        self.finest = self.finest.min(self.shift - piece.places);
        Some((piece.closed_by(self.closed_by)?.value(self.shift)?, piece.after))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_time_is_read_on_from_the_one_before() {
        let mut times = Times::new(b'.', b',', 0);
        // (text, whether it is read)
        let rows = [
            ("0.000000390,", true),
            ("0.000000780,", true),
            ("-1.25000000,", true),
            ("12345678901,", true),
            ("12345678,", true),
            ("0.000050,", true),
            ("0.000100,", true),
            ("0.5,", true),
            ("0.000200,", true),
            ("12.00010,", true),
            ("123.4567,", true),
            ("1234.5678,", true),
            ("-123.4567,", true),
            ("-0.000050,", true),
            ("12.00000000,", true),
            ("0.00000039,", true),
            ("0.0000039,", true),
            ("-2345678,", true),
            ("12345678.,", false),
            ("123456.7.9,", false),
            ("12345;78,", false),
            ("0.00 050,", false),
            (".000000390,", false),
            ("1.2.00000000,", false),
            ("0.000000390;", false),
            ("1.23456789e,", false),
            ("--2.00000000,", false),
            ("-.200000000,", false),
            ("12345678901234567,", false),
            ("0.000000390,", true),
        ];
        for (text, read) in rows {
            let bytes = format!("{text}0123456789,01234567");
            let number = text[..text.len() - 1].parse();
            let want = read.then(|| (number.expect(text), text.len()));
            assert_eq!(times.read(bytes.as_bytes(), 0), want, "{text}");
        }
        assert_eq!(times.finest, -9);
    }

    #[test]
    fn what_differs_from_the_one_before_is_seen() {
        let mut times = Times::new(b',', b';', -3);
        let mut read = |text: &str| times.read(format!("{text}0123456789;01234567").as_bytes(), 0);
        assert_eq!(read("100,000001;"), Some((0.100_000_001, 11)));
        assert_eq!(read("100,000002;"), Some((0.100_000_002, 11)));
        // A byte that is near the mark, or a digit, by its bits; the end one byte on or before.
        for text in ["100-000003;", "100,00000:;", "100/000003;", "100.000003;", "10,,000003;"] {
            assert_eq!(read(text), None, "{text}");
        }
        assert_eq!(read("100,0000031;"), Some((0.100_000_003_1, 12)));
        assert_eq!(read("100,00003;"), Some((0.100_000_03, 10)));
        assert_eq!(read("200,00003;"), Some((0.200_000_03, 10)));
        assert_eq!(read("-20,00003;"), Some((-0.020_000_03, 10)));
        // A power of ten that no double is.
        assert_eq!(Times::new(b'.', b',', 30).read(b"12345678,0123456789012345", 0), None);
        // Too near the end.
        assert_eq!(Times::new(b'.', b',', 0).read(b"0.000000390,", 0), None);
    }

    proptest! {
        #[test]
        fn a_time_read_on_is_the_number(
            texts in prop::collection::vec("-?[0-9]{0,9}[.]?[0-9]{0,12}[,\n\r;]", 1..8),
            behind in prop::collection::vec(any::<u8>(), 17..20),
        ) {
            let mut times = Times::new(b'.', b',', -3);
            for text in texts {
                let mut bytes = text.into_bytes();
                bytes.extend(&behind);
                let piece = Piece::read(&bytes, 0, b'.').and_then(|piece| piece.closed_by(b','));
                let want = piece.and_then(|piece| Some((piece.value(-3)?, piece.after)));
                prop_assert_eq!(times.read(&bytes, 0), want);
            }
        }
    }
}
