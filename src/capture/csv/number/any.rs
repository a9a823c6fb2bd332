//! Any cell, the slow and obvious way.

use super::{Cell, NumberStyle, exponent_begins, plain};
use crate::capture::csv::layout::text_of;

/// IEEE 488.2 / SCPI-1999 (from memory): instruments answer 9.9E37 for infinity and
/// 9.91E37 for "not a number".
const SCPI_INFINITY: f64 = 9.9e37;
const SCPI_NOT_A_NUMBER: f64 = 9.91e37;
/// Reads any cell, blanks around it and quotation marks already removed or not.
pub(crate) fn cell(raw: &[u8], style: NumberStyle, shift: i32) -> Cell {
    match plain(raw, 0, style.decimal, shift) {
        Some((value, place, end)) if end == raw.len() => Cell::Number(value, place),
        _ => careful(raw, style, shift),
    }
}

/// As [`cell`], every cell the slow way.
pub(super) fn careful(raw: &[u8], style: NumberStyle, shift: i32) -> Cell {
    let text = text_of(raw);
    let text = text.trim().trim_matches('"').trim();
    if let Some(cell) = mark(text).or_else(|| level(text)).or_else(|| hexadecimal(text)) {
        return cell;
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
    match format!("{mantissa}e{power}").parse::<f64>() {
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

/// Words for the two levels of a logic signal.
fn level(text: &str) -> Option<Cell> {
    // English, and what spreadsheets of other languages make of true and false. No "t" and no "no":
    // names of columns.
    const HIGH: [&str; 10] =
        ["high", "true", "on", "hi", "h", "wahr", "ein", "vrai", "verdadero", "vero"];
    const LOW: [&str; 9] = ["low", "false", "off", "lo", "l", "falsch", "aus", "faux", "falso"];
    let is = |words: &[&str]| words.iter().any(|word| word.eq_ignore_ascii_case(text));
    if is(&HIGH) { Some(Cell::Level(1.0)) } else { is(&LOW).then_some(Cell::Level(0.0)) }
}

/// `0x3F`, as converters and logic analysers print whole numbers; up to what a double holds
/// exactly.
fn hexadecimal(text: &str) -> Option<Cell> {
    const MOST_DIGITS: usize = 13;
    let digits = text.strip_prefix("0x").or_else(|| text.strip_prefix("0X"))?;
    let good = (1..=MOST_DIGITS).contains(&digits.len())
        && digits.bytes().all(|byte| byte.is_ascii_hexdigit());
    let value = good.then(|| u64::from_str_radix(digits, 16).ok()).flatten()?;
    Some(Cell::Number(value as f64, 0))
}

fn mark(text: &str) -> Option<Cell> {
    let lower = text.to_lowercase();
    let (sign, body) = match lower.strip_prefix(['-', '\u{2212}']) {
        Some(body) => (-1, body),
        None => (1, lower.strip_prefix('+').unwrap_or(&lower)),
    };
    match body {
        "ol" | "overload" | "overflow" | "overrange" | "over range" if body.len() == text.len() => {
            Some(Cell::Outside)
        }
        "n/a" | "none" | "null" => Some(Cell::NotMeasured),
        "∞" | "inf" | "infinity" => Some(if sign > 0 { Cell::Above } else { Cell::Below }),
        // A lone minus may be a mark, or a number cut off.
        "nan" => Some(Cell::NotMeasured),
        _ if text == "-" => Some(Cell::NotMeasured),
        _ if text.is_empty() || text.chars().all(|c| matches!(c, '-' | '–' | '—')) => {
            Some(Cell::Outside)
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
    let begins = |&at: &usize| exponent_begins(body.as_bytes(), at);
    let (number, exponent) = match (0..body.len()).find(begins) {
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
    let exponent_digits = exponent.strip_prefix(['+', '-']).unwrap_or(exponent);
    if exponent_digits.is_empty() || !all_digits(exponent_digits) || exponent_digits.len() > 4 {
        return None;
    }
    let dot = if fraction.is_empty() { "" } else { "." };
    let exponent = exponent.strip_prefix('+').unwrap_or(exponent);
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

#[cfg(test)]
mod tests {
    use super::*;

    const POINT: NumberStyle = NumberStyle { decimal: b'.', thousands: None };

    #[test]
    fn cells() {
        let thousands = NumberStyle { decimal: b'.', thousands: Some(b',') };
        let rows = [
            ("1,234.5", thousands, Cell::Number(1234.5, -1)),
            ("1,23.5", thousands, Cell::Text),
            ("0,123", thousands, Cell::Text),
            ("1,234", POINT, Cell::Text),
            ("1 234 567", POINT, Cell::Number(1_234_567.0, 0)),
            ("1 234'567", POINT, Cell::Text),
            ("\u{2212}3", POINT, Cell::Number(-3.0, 0)),
            ("--3", POINT, Cell::Text),
            ("1.5D+02", POINT, Cell::Number(150.0, 1)),
            ("-2d-3", POINT, Cell::Number(-0.002, -3)),
            ("1D5", POINT, Cell::Text),
            ("WAHR", POINT, Cell::Level(1.0)),
            ("falso", POINT, Cell::Level(0.0)),
            ("1e+-5", POINT, Cell::Text),
            ("1e5e5", POINT, Cell::Text),
            ("0x10", POINT, Cell::Number(16.0, 0)),
            ("0xfg", POINT, Cell::Text),
            ("High", POINT, Cell::Level(1.0)),
            ("false", POINT, Cell::Level(0.0)),
            ("OL", POINT, Cell::Outside),
            ("n/a", POINT, Cell::NotMeasured),
            ("", POINT, Cell::Outside),
            ("---", POINT, Cell::Outside),
            ("-", POINT, Cell::NotMeasured),
            ("+∞", POINT, Cell::Above),
            ("-inf", POINT, Cell::Below),
            ("nan", POINT, Cell::NotMeasured),
            ("9.91E+37", POINT, Cell::Outside),
            ("-9.9e37", POINT, Cell::Below),
            ("1e39", POINT, Cell::Text),
            ("1e-9999", POINT, Cell::Number(0.0, -9999)),
        ];
        for (text, style, want) in rows {
            assert_eq!(cell(text.as_bytes(), style, 0), want, "{text:?}");
            assert_eq!(careful(text.as_bytes(), style, 0), want, "{text:?}");
        }
        // Latin-1: a blank that does not break.
        assert_eq!(cell(b"1\xa0234", POINT, 0), Cell::Number(1234.0, 0));
    }
}
