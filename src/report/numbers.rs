//! Numbers in sentences: one capture, two captures; no zero with a sign.

/// A count with its noun: `1 capture`, `2 captures`.
#[must_use]
pub fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Odds in the column of a table: never a bare 100 %.
#[must_use]
pub fn odds(probability: f64) -> String {
    match probability * 100.0 {
        odds if odds > 99.95 => "> 99.9 %".to_owned(),
        odds => format!("{odds:.1} %"),
    }
}

/// A number with so many decimals; what rounds to zero has no sign.
#[must_use]
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.bytes().all(|digit| digit == b'0' || digit == b'.') => zero.to_owned(),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_people_say_them() {
        assert_eq!(counted(1, "tooth", "teeth"), "1 tooth");
        assert_eq!(counted(0, "tooth", "teeth"), "0 teeth");
        let rows = [
            (-0.001, "0.00"),
            (-0.005, "-0.01"),
            (0.0, "0.00"),
            (-3.2, "-3.20"),
            (f64::NAN, "NaN"),
        ];
        for (value, want) in rows {
            assert_eq!(fixed(value, 2), want);
        }
        assert_eq!(fixed(-0.4, 0), "0");
    }
}
