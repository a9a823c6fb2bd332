//! Numbers as they are typed into a field of the page: with a point or a comma.

/// Something that is no number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct NoNumber;

/// The number typed, finite; `None` where nothing was.
pub(super) fn number(text: &str) -> Result<Option<f64>, NoNumber> {
    match text.trim().replace(',', ".").as_str() {
        "" => Ok(None),
        text => match text.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(Some(value)),
            _ => Err(NoNumber),
        },
    }
}

/// A count of many, in which blanks set thousands apart: samples per second. A comma before three
/// digits may do the same or be a decimal mark, so such a number is none.
pub(super) fn large(text: &str) -> Result<Option<f64>, NoNumber> {
    let together: String = text.chars().filter(|letter| !letter.is_whitespace()).collect();
    let doubtful = together.rsplit_once(',').is_some_and(|(_, after)| after.len() == 3);
    if doubtful { Err(NoNumber) } else { number(&together) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_comma_is_a_point_and_thousands_are_never_taken_for_tenths() {
        let rows = [("", Ok(None)), (" 1,5 ", Ok(Some(1.5))), ("-0.25", Ok(Some(-0.25)))];
        for (text, want) in rows {
            assert_eq!(number(text), want, "{text}");
            assert_eq!(large(text), want, "{text}");
        }
        for bad in ["x", "1.2.3", "1,2,3", "nan", "inf", "1 2"] {
            assert_eq!(number(bad), Err(NoNumber), "{bad}");
        }
        assert_eq!(large("20 000"), Ok(Some(20_000.0)));
        assert_eq!(large("20,000"), Err(NoNumber));
    }
}
