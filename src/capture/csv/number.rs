//! A cell becomes a number, or an over-range mark, or neither.
//!
//! [`plain`] is the fast path: digits, one decimal mark, an exponent. It answers only
//! where the answer is exact, and `None` everywhere else. [`cell`] is the slow and obvious
//! path that takes everything: marks, thousands, long mantissas. Both give the same
//! number where both answer; a property test holds them together.

/// How this file writes numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct NumberStyle {
    /// `.` or `,`.
    pub decimal: u8,
    /// The other of the two, when the file was seen to group thousands with it.
    pub thousands: Option<u8>,
}

/// What a cell says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Cell {
    /// A finite number and the power of ten of its last printed digit.
    Number(f64, i32),
    /// Above the input range.
    Above,
    /// Below the input range.
    Below,
    /// Outside the input range; the file does not say on which side.
    Outside,
    /// The text "NaN": a value that was never measured.
    NotMeasured,
    /// Anything else.
    Text,
}

/// Powers of ten that a double holds exactly.
const EXACT_POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];
/// Whole numbers up to here are exact in a double (53 bits), so that one multiplication
/// or division by an exact power rounds once, correctly (Clinger 1990, the fast case).
const EXACT_WHOLE: u64 = 1 << 53;
/// More digits than this could overflow 64 bits.
const MOST_DIGITS: usize = 19;
/// IEEE 488.2 / SCPI-1999 (from memory): instruments answer 9.9E37 for infinity and
/// 9.91E37 for "not a number".
const SCPI_INFINITY: f64 = 9.9e37;
const SCPI_NOT_A_NUMBER: f64 = 9.91e37;

/// Reads a plain number that starts at `at`. `shift` is the power of ten of the unit's prefix:
/// −3 for a column in milliseconds. Gives the value, the power of ten of its last digit
/// and the index after it.
#[inline]
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
    let start = at;
    let mut mantissa = 0u64;
    at = digits(bytes, at, &mut mantissa);
    let mut count = at - start;
    let mut places = 0;
    if bytes.get(at) == Some(&decimal) {
        let from = at + 1;
        at = digits(bytes, from, &mut mantissa);
        places = at - from;
        count += places;
    }
    if count == 0 || count > MOST_DIGITS {
        return None;
    }
    let mut power = shift - places as i32;
    if matches!(bytes.get(at), Some(b'e' | b'E')) {
        let (exponent, after) = exponent(bytes, at + 1)?;
        power += exponent;
        at = after;
    }
    let size = scaled(mantissa, power)?;
    Some((if negative { -size } else { size }, power, at))
}

#[inline]
fn digits(bytes: &[u8], mut at: usize, mantissa: &mut u64) -> usize {
    while let Some(&byte) = bytes.get(at) {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            break;
        }
        // Wraps only past 19 digits, which the caller turns away.
        *mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
        at += 1;
    }
    at
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

#[inline]
fn scaled(mantissa: u64, power: i32) -> Option<f64> {
    if mantissa > EXACT_WHOLE {
        return None;
    }
    let by = *EXACT_POWERS.get(power.unsigned_abs() as usize)?;
    let whole = mantissa as f64;
    Some(if power < 0 { whole / by } else { whole * by })
}

/// Reads any cell, blanks around it and quotation marks already removed or not.
pub(crate) fn cell(raw: &[u8], style: NumberStyle, shift: i32) -> Cell {
    let text = String::from_utf8_lossy(raw);
    let text = text.trim().trim_matches('"').trim();
    if let Some(mark) = mark(text) {
        return mark;
    }
    let Some(plain_text) = normalised(text, style) else { return Cell::Text };
    // A prefix goes into the exponent, so that 1.5 ms is the double nearest 0.0015.
    let (mantissa, exponent) = match plain_text.split_once('e') {
        Some((mantissa, exponent)) => match exponent.parse::<i32>() {
            Ok(exponent) => (mantissa, exponent),
            Err(_) => return Cell::Text,
        },
        None => (plain_text.as_str(), 0),
    };
    let places = mantissa.split_once('.').map_or(0, |(_, fraction)| fraction.len());
    let power = exponent.saturating_add(shift);
    match fast_float2::parse::<f64, _>(format!("{mantissa}e{power}")) {
        // Instruments print the mark whatever the column's unit.
        Ok(value) => overflow(value, shift).unwrap_or(Cell::Number(value, power - places as i32)),
        Err(_) => Cell::Text,
    }
}

/// A number that stands for "over range", or is out of the range of stored values.
pub(crate) fn overflow(value: f64, shift: i32) -> Option<Cell> {
    let printed = value.abs() * 10f64.powi(-shift);
    let near = |mark: f64| (printed / mark - 1.0).abs() < 1e-6;
    if near(SCPI_NOT_A_NUMBER) {
        Some(Cell::Outside)
    } else if near(SCPI_INFINITY) {
        Some(if value > 0.0 { Cell::Above } else { Cell::Below })
    } else if value.abs() > f64::from(f32::MAX) {
        Some(Cell::Text)
    } else {
        None
    }
}

fn mark(text: &str) -> Option<Cell> {
    let lower = text.to_lowercase();
    let (sign, body) = match lower.strip_prefix(['-', '\u{2212}']) {
        Some(body) => (-1, body),
        None => (1, lower.strip_prefix('+').unwrap_or(&lower)),
    };
    match body {
        "∞" | "inf" | "infinity" => Some(if sign > 0 { Cell::Above } else { Cell::Below }),
        "nan" => Some(Cell::NotMeasured),
        _ if text.is_empty() || text.chars().all(|c| matches!(c, '-' | '–' | '—')) => {
            // A lone minus is a cut-off number rather than a mark.
            (text != "-").then_some(Cell::Outside)
        }
        _ => None,
    }
}

/// The number in the one form Rust's parser knows, or `None` when it is not a number in this style.
fn normalised(text: &str, style: NumberStyle) -> Option<String> {
    let text = text.replace('\u{2212}', "-");
    let (sign, body) = match text.as_bytes().first()? {
        b'-' => ("-", &text[1..]),
        b'+' => ("", &text[1..]),
        _ => ("", text.as_str()),
    };
    let (number, exponent) = match body.find(['e', 'E']) {
        Some(at) => (&body[..at], &body[at + 1..]),
        None => (body, "0"),
    };
    let (whole, fraction) = match number.split_once(char::from(style.decimal)) {
        Some((whole, fraction)) => (whole, fraction),
        None => (number, ""),
    };
    let all_digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    let whole = ungrouped(whole, style.thousands)?;
    if !all_digits(fraction) || whole.len() + fraction.len() == 0 {
        return None;
    }
    let exponent_digits = exponent.trim_start_matches(['+', '-']);
    if exponent_digits.is_empty() || !all_digits(exponent_digits) || exponent_digits.len() > 4 {
        return None;
    }
    let dot = if fraction.is_empty() { "" } else { "." };
    let exponent = exponent.trim_start_matches('+');
    Some(format!("{sign}{}{dot}{fraction}e{exponent}", if whole.is_empty() { "0" } else { &whole }))
}

/// Takes out thousands marks, which must stand at every third digit, all alike, and not after a
/// leading zero.
fn ungrouped(whole: &str, thousands: Option<u8>) -> Option<String> {
    if whole.bytes().all(|byte| byte.is_ascii_digit()) {
        return Some(whole.to_owned());
    }
    let is_mark = |c: char| {
        matches!(c, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}' | '\'' | '\u{2019}')
            || thousands.map(char::from) == Some(c)
    };
    let mark = whole.chars().find(|c| !c.is_ascii_digit())?;
    let mut groups = whole.split(mark);
    let first = groups.next()?;
    let good = is_mark(mark)
        && (1..=3).contains(&first.len())
        && !first.starts_with('0')
        && first.bytes().all(|byte| byte.is_ascii_digit())
        && groups.all(|group| group.len() == 3 && group.bytes().all(|b| b.is_ascii_digit()));
    good.then(|| whole.replace(mark, ""))
}
