//! Times of day and dates as times of rows: `12:00:00.001`, `2026-01-02T12:00:00.001Z` (ISO 8601),
//! `01.02.2026 12:00:00`.

/// A time of day, with its date where one stands before it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct TimeOfDay {
    /// Days since 1970-01-01; `None` without a date.
    pub day: Option<i64>,
    /// Seconds since midnight.
    pub seconds: f64,
    /// Power of ten of the last digit printed.
    pub place: i32,
}

impl TimeOfDay {
    /// Seconds since the midnight of a day; without dates, since midnight.
    pub fn since(self, day: Option<i64>) -> f64 {
        const DAY: i64 = 86_400;
        let days = self.day.zip(day).map_or(0, |(this, first)| this - first);
        (days * DAY) as f64 + self.seconds
    }
}

/// Most digits of a fraction: their number is exact in a double.
const MOST_DIGITS: usize = 9;

/// Reads a cell that is a time of day, a date before it or not. At least one colon tells it from a
/// number.
pub(crate) fn time_of_day(cell: &[u8]) -> Option<TimeOfDay> {
    let text = std::str::from_utf8(cell).ok()?.trim().trim_matches('"').trim();
    let first = text.find(':')?;
    let (date, clock) = match text[..first].rfind(['T', ' ']) {
        Some(at) => (Some(day(text[..at].trim())?), text[at + 1..].trim()),
        None => (None, text),
    };
    let (clock, afternoon) = half_of_day(clock);
    let clock = without_zone(clock);
    let (whole, fraction) = clock.split_once(['.', ',']).unwrap_or((clock, ""));
    let mut parts: Vec<&str> = whole.split(':').collect();
    // Some write the thousandths behind a colon of their own.
    let fraction = match parts[..] {
        [_, _, _, thousandths] if fraction.is_empty() && thousandths.len() == 3 => {
            parts.pop();
            thousandths
        }
        _ => fraction,
    };
    let number = |text: &str| {
        let digits =
            (1..=2).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
        if digits { text.parse::<u64>().ok() } else { None }
    };
    // Two parts are minutes and seconds: no capture of an engine is stamped in hours and minutes.
    let (hours, minutes, seconds) = match parts[..] {
        [hours, minutes, seconds] => (number(hours)?, number(minutes)?, number(seconds)?),
        [minutes, seconds] => (0, number(minutes)?, number(seconds)?),
        _ => return None,
    };
    let hours = match afternoon {
        None => hours,
        Some(afternoon) => hours % 12 + if afternoon { 12 } else { 0 },
    };
    let digits = fraction.len();
    let good = digits <= MOST_DIGITS && fraction.bytes().all(|byte| byte.is_ascii_digit());
    if !good || hours > 24 || minutes > 59 || seconds > 60 {
        return None;
    }
    let ten = 10u64.pow(digits as u32);
    let ticks = (hours * 3600 + minutes * 60 + seconds) * ten + fraction.parse().unwrap_or(0);
    let place = -(digits as i32);
    Some(TimeOfDay { day: date, seconds: ticks as f64 / ten as f64, place })
}

/// Takes `AM` or `PM` off: whether it was the afternoon.
fn half_of_day(text: &str) -> (&str, Option<bool>) {
    let cut = text.len().checked_sub(2).filter(|&at| text.is_char_boundary(at));
    match cut.map(|at| text.split_at(at)) {
        Some((clock, half)) if half.eq_ignore_ascii_case("am") => (clock.trim(), Some(false)),
        Some((clock, half)) if half.eq_ignore_ascii_case("pm") => (clock.trim(), Some(true)),
        _ => (text, None),
    }
}

/// Takes a zone off, `Z` or `+01:00`: all rows of a file are of one.
fn without_zone(text: &str) -> &str {
    let text = text.strip_suffix(['Z', 'z']).unwrap_or(text);
    match text.rfind(['+', '-']) {
        Some(at) => &text[..at],
        None => text,
    }
}

/// Days since 1970-01-01 of `2026-01-02`, `2026/01/02`, `02.01.2026` or `01/02/2026`. Which of the
/// last two's numbers is the month matters only for a capture over the end of a month.
fn day(text: &str) -> Option<i64> {
    let parts: Vec<i64> =
        text.split(['-', '/', '.']).map(|part| part.parse().ok()).collect::<Option<_>>()?;
    let (year, month, day) = match parts[..] {
        [year, month, day] if year > 31 => (year, month, day),
        [day, month, year] if text.contains('.') => (year, month, day),
        [month, day, year] => (year, month, day),
        _ => return None,
    };
    if !(1..=31).contains(&day) || !(1..=31).contains(&month) || !(0..=9999).contains(&year) {
        return None;
    }
    // Days from the civil calendar, counted from March so that a leap day ends a year (H. Hinnant,
    // from memory).
    let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let era = year.div_euclid(400);
    let of_era = year.rem_euclid(400);
    let of_year = (153 * month + 2) / 5 + day - 1;
    Some(era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_and_dates() {
        type DayAndSeconds = Option<(Option<i64>, f64)>;
        let rows: [(&str, DayAndSeconds); 16] = [
            ("12:00:00.001", Some((None, 43_200.001))),
            ("0:00:01,5", Some((None, 1.5))),
            ("01:30.25", Some((None, 90.25))),
            ("12:00:00:250", Some((None, 43_200.25))),
            ("1970-01-01T00:00:00Z", Some((Some(0), 0.0))),
            // Python: (date(2026, 1, 2) - date(1970, 1, 1)).days
            ("2026-01-02 12:00:00.5", Some((Some(20_455), 43_200.5))),
            ("2024-02-29T23:59:59+01:00", Some((Some(19_782), 86_399.0))),
            ("02.01.2026 12:00:00", Some((Some(20_455), 43_200.0))),
            ("1/2/2026 12:00:00.5 PM", Some((Some(20_455), 43_200.5))),
            ("12:00:01 AM", Some((None, 1.0))),
            ("1.5", None),
            ("CH1: crank", None),
            ("12:61:00", None),
            ("2026-01-02", None),
            ("12:00:00.0000000001", None),
            ("", None),
        ];
        for (text, want) in rows {
            let got = time_of_day(text.as_bytes()).map(|time| (time.day, time.seconds));
            assert_eq!(got, want, "{text}");
        }
    }

    #[test]
    fn a_day_later_is_a_day_later() {
        let last = time_of_day(b"2026-01-31 23:59:59.5").expect("a time");
        let next = time_of_day(b"2026-02-01 00:00:00.5").expect("a time");
        assert_eq!(next.since(last.day) - last.since(last.day), 1.0);
    }
}
