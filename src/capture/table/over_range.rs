//! Over-range marks become clipped values.

/// Replaces ±∞ and NaN by the nearest limit of the channel and gives the row ranges touched;
/// `None` when the channel has no finite value at all.
///
/// "Nearest": +∞ the largest finite value, −∞ the smallest, a mark without side the limit
/// closer to the last finite value before it, or after it at the beginning.
pub(super) fn settle(values: &mut [f32]) -> Option<Vec<(usize, usize)>> {
    // A stretch at a time: the processor looks at many values at once where it need not stop at the
    // first.
    const STRETCH: usize = 1024;
    let whole = |stretch: &[f32]| stretch.iter().fold(true, |all, value| all & value.is_finite());
    if values.chunks(STRETCH).all(whole) {
        return Some(Vec::new());
    }
    let finite = || values.iter().copied().filter(|value| value.is_finite());
    let high = finite().reduce(f32::max)?;
    let low = finite().reduce(f32::min)?;
    let mut beside = finite().next()?;
    let mut ranges: Vec<(usize, usize)> = Vec::new();
    for (row, value) in values.iter_mut().enumerate() {
        if value.is_finite() {
            beside = *value;
            continue;
        }
        *value = if value.is_nan() {
            if high - beside <= beside - low { high } else { low }
        } else if *value > 0.0 {
            high
        } else {
            low
        };
        match ranges.last_mut() {
            Some((_, end)) if *end == row => *end = row + 1,
            _ => ranges.push((row, row + 1)),
        }
    }
    Some(ranges)
}

#[cfg(test)]
mod tests {
    use super::settle;

    #[test]
    fn marks_take_the_nearest_limit() {
        let (inf, nan) = (f32::INFINITY, f32::NAN);
        let mut values = [nan, 4.0, inf, nan, -5.0, -inf, nan, 0.0];
        assert_eq!(settle(&mut values), Some(vec![(0, 1), (2, 4), (5, 7)]));
        assert_eq!(values, [4.0, 4.0, 4.0, 4.0, -5.0, -5.0, -5.0, 0.0]);
        assert_eq!(settle(&mut [nan, inf]), None);
        assert_eq!(settle(&mut [1.0, 2.0]), Some(vec![]));
    }
}
