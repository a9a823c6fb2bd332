//! Peaks by their prominence: how far one must go down before going up higher.

/// A peak of a series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// Index; the middle one of a flat top, rounded down.
    pub index: usize,
    /// Height above the higher of the two valleys that part it from higher ground.
    pub prominence: f64,
}

/// Peaks at least `least` prominent, in order (as `scipy.signal.find_peaks` with `prominence`).
#[must_use]
pub fn peaks(series: &[f64], least: f64) -> Vec<Peak> {
    let mut found = Vec::new();
    let mut i = 1;
    while i + 1 < series.len() {
        let mut end = i;
        while end + 1 < series.len() && series[end + 1] == series[i] {
            end += 1;
        }
        if series[i - 1] < series[i] && end + 1 < series.len() && series[end + 1] < series[i] {
            let index = (i + end) / 2;
            let height = series[index];
            let valley = |side: &mut dyn Iterator<Item = &f64>| {
                side.take_while(|value| **value <= height).fold(height, |low, v| low.min(*v))
            };
            let left = valley(&mut series[..index].iter().rev());
            let right = valley(&mut series[index + 1..].iter());
            let prominence = height - left.max(right);
            if prominence >= least {
                found.push(Peak { index, prominence });
            }
        }
        i = end + 1;
    }
    found
}
