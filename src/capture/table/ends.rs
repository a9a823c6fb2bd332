//! Columns that end before the others do.

use crate::capture::Samples;

/// A column ends early when at least this share of the rows follows its last value: less is what
/// exporters leave off at an end (judgement).
const EARLY: f64 = 0.1;

/// The row of the last value of a column that is whole up to there and blank from there to the end
/// of the rows `asked` for: a channel of another rate, written from the top, has other rows than
/// the times beside it. Blanks before that are over-range marks, and so may those at the end be.
pub(super) fn ends_early(values: Samples<'_>, asked: usize) -> Option<usize> {
    if values.has_none(f32::is_nan) {
        return None;
    }
    let values = values.slice(0..asked.min(values.len()));
    let last = values.iter().rposition(|value| !value.is_nan())?;
    let after = values.len() - last - 1;
    let early = after as f64 >= EARLY * values.len() as f64 && after > 1;
    let whole = || last > 0 && values.slice(0..last).iter().all(|value| !value.is_nan());
    (early && whole()).then_some(last)
}

#[cfg(test)]
mod tests {
    use super::ends_early;

    #[test]
    fn only_a_whole_beginning_before_a_long_end_of_blanks_ends_early() {
        let nan = f32::NAN;
        let rows: [(&[f32], usize, Option<usize>); 6] = [
            (&[1.0, 2.0, nan, nan, nan, nan], 6, Some(1)),
            (&[1.0, 2.0, nan, nan, nan, nan], 3, None),
            (&[1.0, nan, 2.0, nan, nan, nan], 6, None),
            (&[1.0, 2.0, 3.0, 4.0, 5.0, nan], 6, None),
            (&[nan, nan, nan], 3, None),
            (&[1.0, 2.0, 3.0], 3, None),
        ];
        for (values, asked, want) in rows {
            assert_eq!(ends_early(values.into(), asked), want, "{values:?}, {asked}");
        }
    }
}
