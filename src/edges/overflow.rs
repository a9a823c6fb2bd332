//! Undoing a sampler whose range overflowed: above the top it starts again from the bottom.

/// A step from one sample to the next larger than this share of the range is a wrap; no reluctance
/// signal that is sampled well enough to use moves half as far.
const WRAP_SHARE: f64 = 0.75;
/// Put back, the first wrapped sample must lie this close to its neighbour, as a share of the
/// range.
const SMOOTH_SHARE: f64 = 0.2;
/// Longest overflow, in samples, that is still a peak and not a shifted signal.
const LONGEST: usize = 64;

/// Puts wrapped peaks back and returns how many there were. `values` are samples of an alternating
/// signal.
pub(super) fn undo_wraps(values: &mut [f64]) -> usize {
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let range = most - least + smallest_step(values);
    let mut wraps = 0;
    let mut row = 1;
    while row < values.len() {
        let jump = values[row] - values[row - 1];
        if jump.abs() < WRAP_SHARE * range {
            row += 1;
            continue;
        }
        let back = if jump < 0.0 { range } else { -range };
        let end = (row + 1..values.len().min(row + LONGEST)).find(|&end| {
            (values[end] - values[end - 1]) * jump < 0.0
                && (values[end] - values[end - 1]).abs() >= WRAP_SHARE * range
        });
        let smooth = (values[row] + back - values[row - 1]).abs() < SMOOTH_SHARE * range;
        match end {
            Some(end) if smooth => {
                for value in &mut values[row..end] {
                    *value += back;
                }
                wraps += 1;
                row = end + 1;
            }
            _ => row += 1,
        }
    }
    wraps
}

/// The least difference between different neighbouring samples: the converter's step, or 0 when
/// none.
pub(super) fn smallest_step(values: &[f64]) -> f64 {
    let steps = values.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    // Single-precision rounding of equal codes is far below any converter's step.
    let step = steps.filter(|&step| step > 1e-6).fold(f64::INFINITY, f64::min);
    if step.is_finite() { step } else { 0.0 }
}
