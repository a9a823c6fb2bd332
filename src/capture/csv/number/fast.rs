//! Plain numbers, several digits at a time.

/// Powers of ten that a double holds exactly.
const EXACT_POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];
/// Powers of ten up to eight digits.
pub(super) const WHOLE_POWERS: [u64; 9] =
    [1, 10, 100, 1000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000];
/// Whole numbers up to here are exact in a double (53 bits), so that one multiplication
/// or division by an exact power rounds once, correctly (Clinger 1990, the fast case).
const EXACT_WHOLE: u64 = 1 << 53;
/// More digits than this could overflow 64 bits.
const MOST_DIGITS: usize = 19;

/// Reads a plain number that starts at `at`. `shift` is the power of ten of the unit's prefix:
/// −3 for a column in milliseconds. Gives the value, the power of ten of its last digit
/// and the index after it.
///
/// Measured: left to itself the compiler calls this through memory, at a third more time per cell.
#[inline(always)]
pub(crate) fn plain(
    bytes: &[u8],
    mut at: usize,
    decimal: u8,
    shift: i32,
) -> Option<(f64, i32, usize)> {
    let negative = match bytes.get(at)? {
        b'-' => {
            at += 1;
            true
        }
        b'+' => {
            at += 1;
            false
        }
        _ => false,
    };
    let (mantissa, places);
    match short(bytes, at, decimal) {
        Some((digits, behind, count)) => {
            (mantissa, places, at) = (digits, behind as usize, at + count as usize);
        }
        None => (mantissa, places, at) = long(bytes, at, decimal)?,
    }
    let mut power = shift - places as i32;
    if exponent_begins(bytes, at) {
        let (exponent, after) = exponent(bytes, at + 1)?;
        power += exponent;
        at = after;
    }
    let size = scaled(mantissa, power)?;
    Some((if negative { -size } else { size }, power, at))
}

/// Digits, places and the number of bytes before the one that ends it, of up to seven bytes.
#[inline(always)]
pub(super) fn in_eight(word: u64, decimal: u8) -> Option<(u64, u32, u32)> {
    let values = word ^ ZEROS;
    let odd = odd_bytes(values);
    let whole = odd.trailing_zeros() / 8;
    if whole == 0 || whole > 7 {
        return None;
    }
    if (word >> (8 * whole)) as u8 != decimal {
        return Some((sum_of_eight(values << (64 - 8 * whole)), 0, whole));
    }
    // Without the first byte that is no digit. The mark carries nothing into the bytes behind.
    let end = (odd & odd.wrapping_sub(1)).trailing_zeros() / 8;
    if end > 7 || end < whole + 2 {
        return None;
    }
    let before = (1 << (8 * whole)) - 1;
    let joined = (values & before) | (values >> 8 & !before);
    Some((sum_of_eight(joined << (64 - 8 * (end - 1))), end - 1 - whole, end))
}

/// A number of up to seven bytes, the commonest cell of a sampled capture.
#[inline(always)]
fn short(bytes: &[u8], at: usize, decimal: u8) -> Option<(u64, u32, u32)> {
    in_eight(u64::from_le_bytes(*bytes.get(at..)?.first_chunk()?), decimal)
}

/// As [`in_eight`], of any number of digits up to [`MOST_DIGITS`]: those, how many stand
/// behind the mark, and the index after them.
#[inline(always)]
fn long(bytes: &[u8], start: usize, decimal: u8) -> Option<(u64, usize, usize)> {
    let mut mantissa = 0u64;
    let mut at = digits(bytes, start, &mut mantissa);
    let mut count = at - start;
    let mut places = 0;
    if bytes.get(at) == Some(&decimal) {
        let from = at + 1;
        at = digits(bytes, from, &mut mantissa);
        places = at - from;
        count += places;
    }
    (1..=MOST_DIGITS).contains(&count).then_some((mantissa, places, at))
}

pub(super) const ZEROS: u64 = 0x3030_3030_3030_3030;
const ONES: u64 = 0x0101_0101_0101_0101;
pub(super) const TOP_BITS: u64 = 0x8080_8080_8080_8080;
/// Lifts anything above nine into the top bit of its byte.
pub(super) const ABOVE_NINE: u64 = 0x7676_7676_7676_7676;

/// The top bit of every byte that is above nine. A carry can only come from a byte that is no digit
/// and no decimal mark: of what follows the first such byte nothing is known.
#[inline(always)]
pub(super) fn odd_bytes(values: u64) -> u64 {
    (values.wrapping_add(ABOVE_NINE) | values) & TOP_BITS
}

/// Which of eight bytes is the first that is `wanted`; 8 where none is.
#[inline(always)]
pub(super) fn first_of(word: u64, wanted: u8) -> u32 {
    bytes_that_are(word, eight_of(wanted)).trailing_zeros() / 8
}

/// A byte eight times.
pub(crate) fn eight_of(byte: u8) -> u64 {
    ONES * u64::from(byte)
}

/// The lowest bit set is the top bit of the first byte that is the wanted one, which is given eight
/// times; none where none is.
#[inline(always)]
fn bytes_that_are(word: u64, wanted: u64) -> u64 {
    let zero_where = word ^ wanted;
    // What is borrowed above the first zero byte says nothing of the bytes there.
    zero_where.wrapping_sub(ONES) & !zero_where & TOP_BITS
}

/// The first of eight bytes up to the one that closes them, which is given eight times, and how many
/// they are with it: a cell of a row that stands for itself. All eight where none closes it, which no
/// cell that is closed equals.
#[inline(always)]
pub(crate) fn text_of(word: u64, closed_by: u64) -> (u64, u32) {
    let closes = bytes_that_are(word, closed_by);
    (word & (closes ^ closes.wrapping_sub(1)), closes.trailing_zeros() / 8 + 1)
}

/// The number that eight digits make, the first in the lowest byte.
///
/// The three-multiplication sum is D. Lemire's, *Number parsing at a gigabyte per second*, 2021
/// (arXiv 2101.11408), from memory.
#[inline(always)]
pub(super) fn sum_of_eight(values: u64) -> u64 {
    const PAIRS: u64 = 0x0000_00ff_0000_00ff;
    /// 100 and 1 000 000; 1 and 10 000.
    const FIRST: u64 = 0x000f_4240_0000_0064;
    const SECOND: u64 = 0x0000_2710_0000_0001;
    let pairs = values.wrapping_mul(10).wrapping_add(values >> 8);
    (pairs & PAIRS).wrapping_mul(FIRST).wrapping_add((pairs >> 16 & PAIRS).wrapping_mul(SECOND))
        >> 32
}

/// Adds the digits from `at` on to the mantissa; gives the index after them.
///
/// Eight bytes at a time: the length of a number is what a processor cannot guess, so nothing here
/// branches on it.
#[inline(always)]
fn digits(bytes: &[u8], mut at: usize, mantissa: &mut u64) -> usize {
    while let Some(&eight) = bytes.get(at..).and_then(|rest| rest.first_chunk::<8>()) {
        let values = u64::from_le_bytes(eight) ^ ZEROS;
        let count = (odd_bytes(values).trailing_zeros() / 8) as usize;
        if count == 0 {
            return at;
        }
        // The digits go to the end of the eight, behind leading zeros.
        let sum = sum_of_eight(values << (64 - 8 * count));
        // Wraps only past 19 digits, which the caller turns away.
        *mantissa = mantissa.wrapping_mul(WHOLE_POWERS[count]).wrapping_add(sum);
        at += count;
        if count < 8 {
            return at;
        }
    }
    while let Some(digit) = bytes.get(at).map(|byte| byte.wrapping_sub(b'0')).filter(|d| *d <= 9) {
        *mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
        at += 1;
    }
    at
}

/// Whether an exponent begins at `at`: `e`, or `D` with a sign as Fortran prints it.
#[inline(always)]
pub(crate) fn exponent_begins(bytes: &[u8], at: usize) -> bool {
    match bytes.get(at) {
        Some(b'e' | b'E') => true,
        Some(b'd' | b'D') => matches!(bytes.get(at + 1), Some(b'+' | b'-')),
        _ => false,
    }
}

#[inline]
fn exponent(bytes: &[u8], mut at: usize) -> Option<(i32, usize)> {
    let negative = matches!(bytes.get(at), Some(b'-'));
    if matches!(bytes.get(at), Some(b'-' | b'+')) {
        at += 1;
    }
    let mut size = 0u64;
    let end = digits(bytes, at, &mut size);
    // Three digits reach past the range of a double.
    if end == at || end - at > 3 {
        return None;
    }
    let size = size as i32;
    Some((if negative { -size } else { size }, end))
}

/// Ten to this power or to its opposite, whichever is whole; nothing where no double is that.
#[inline(always)]
pub(super) fn power_of_ten(power: i32) -> Option<f64> {
    EXACT_POWERS.get(power.unsigned_abs() as usize).copied()
}

/// A whole number times a power of ten; nothing where that is not the nearest double.
#[inline(always)]
pub(crate) fn scaled(mantissa: u64, power: i32) -> Option<f64> {
    if mantissa > EXACT_WHOLE {
        return None;
    }
    let by = power_of_ten(power)?;
    let whole = mantissa as f64;
    Some(if power < 0 { whole / by } else { whole * by })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::any::careful;
    use super::super::{Cell, NumberStyle};
    use super::*;

    const POINT: NumberStyle = NumberStyle { decimal: b'.', thousands: None };

    fn agrees(text: &str, shift: i32) {
        let Some((value, place, end)) = plain(text.as_bytes(), 0, b'.', shift) else { return };
        let slow = careful(&text.as_bytes()[..end], POINT, shift);
        assert_eq!(slow, Cell::Number(value, place), "{text:?} shifted by {shift}");
    }

    #[test]
    fn the_fast_road_gives_the_nearest_double() {
        // Rust's own parser is correctly rounded; the text is the reference.
        let rows = [
            "0",
            "7",
            "-0.5",
            "12345678",
            "123456789.8765432",
            "1.0000985",
            "4.66e+00",
            "1E-6",
            "0.000000000000000",
            "7.012169999999999",
            "2.762624000000000",
            ".5",
            "5.",
            "-12e3",
        ];
        for text in rows {
            let padded = format!("{text},and more bytes behind it");
            let (value, _, end) = plain(padded.as_bytes(), 0, b'.', 0).expect(text);
            assert_eq!(end, text.len(), "{text}");
            assert_eq!(value, text.parse::<f64>().expect(text), "{text}");
            agrees(text, 0);
            agrees(text, -3);
        }
    }

    #[test]
    fn a_short_number_is_read_in_one_piece() {
        // (text, decimal, mantissa, places, end); anything else takes the long way.
        type Read = Option<(u64, u32, u32)>;
        let rows: [(&[u8], u8, Read); 12] = [
            (b"0.2478,0", b'.', Some((2478, 4, 6))),
            (b"163.681\n0", b'.', Some((163_681, 3, 7))),
            (b"1,5;2,5;", b',', Some((15, 1, 3))),
            (b"1.5\xff\xff\xff\xff\xff", b'.', Some((15, 1, 3))),
            (b"1.5e3,0,0", b'.', Some((15, 1, 3))),
            (b"1,5;2,5;", b'.', Some((1, 0, 1))),
            (b"340\n0.12", b'.', Some((340, 0, 3))),
            (b".5,0,0,0", b'.', None),
            (b"5.,0,0,0", b'.', None),
            (b"12345.67", b'.', None),
            (b"12,3.4,5", b'.', Some((12, 0, 2))),
            (b"12345678", b'.', None),
        ];
        for (text, decimal, want) in rows {
            assert_eq!(short(text, 0, decimal), want, "{}", text.escape_ascii());
        }
    }

    #[test]
    fn what_the_fast_road_leaves() {
        let rows =
            ["", "-", ".", "e5", "1e", "∞", "12345678901234567890", "9.9e37", "nan", "1e-400"];
        for text in rows {
            assert_eq!(plain(text.as_bytes(), 0, b'.', 0), None, "{text:?}");
        }
    }

    #[test]
    fn a_cell_stands_for_itself_and_ends_where_it_is_closed() {
        let of = |bytes: &[u8; 8], closed_by: u8| {
            let (text, length) = text_of(u64::from_le_bytes(*bytes), eight_of(closed_by));
            (text.to_le_bytes(), length)
        };
        assert_eq!(of(b"1.5,2.5,", b','), (*b"1.5,\0\0\0\0", 4));
        assert_eq!(of(b"1.5\n2.5,", b'\n'), (*b"1.5\n\0\0\0\0", 4));
        assert_eq!(of(b"-12.345,", b','), (*b"-12.345,", 8));
        assert_eq!(of(b",1.5,2.5", b','), (*b",\0\0\0\0\0\0\0", 1));
        // The byte above what closes it is one more than that, which a borrow must not count.
        assert_eq!(of(b"1.5,-.5,", b','), (*b"1.5,\0\0\0\0", 4));
        assert_eq!(of(b"-1.50000", b','), (*b"-1.50000", 9));
    }

    proptest! {
        #[test]
        fn fast_and_slow_agree(text in "[+-]?[0-9]{0,12}[.]?[0-9]{0,10}([eE][+-]?[0-9]{1,3})?", shift in -9..4i32) {
            agrees(&text, shift);
        }

        #[test]
        fn the_first_of_eight_bytes_is_found(bytes in prop::array::uniform8(any::<u8>()), wanted in any::<u8>()) {
            let at = bytes.iter().position(|&byte| byte == wanted).unwrap_or(8);
            prop_assert_eq!(first_of(u64::from_le_bytes(bytes), wanted) as usize, at);
        }

        #[test]
        fn the_short_way_is_the_long_way(
            text in prop::collection::vec(prop_oneof![8 => b'0'..=b'9', 3 => Just(b'.'), 2 => any::<u8>()], 8..16),
        ) {
            if let Some((digits, places, end)) = short(&text, 0, b'.') {
                prop_assert_eq!(long(&text, 0, b'.'), Some((digits, places as usize, end as usize)));
            }
        }
    }
}
