//! Axes: ticks on round numbers, and labels that keep clear of each other.

use super::drawing::{Anchor, Drawing, Ink, SMALL};
use super::font::text_width;

/// A number range laid over a length of the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    /// Values at the two ends.
    pub values: (f64, f64),
    /// Places of the two ends, in points.
    pub places: (f64, f64),
}

impl Scale {
    /// Where a value lies.
    pub fn at(&self, value: f64) -> f64 {
        let share = (value - self.values.0) / (self.values.1 - self.values.0);
        self.places.0 + share * (self.places.1 - self.places.0)
    }

    /// Round numbers within the range, at most `most` of them (and at least two where the range
    /// allows).
    pub fn ticks(&self, most: usize) -> Vec<f64> {
        let (low, high) = (self.values.0.min(self.values.1), self.values.0.max(self.values.1));
        let step = round_step((high - low) / most.max(1) as f64);
        let first = (low / step).ceil() as i64;
        let last = (high / step).floor() as i64;
        (first..=last).take(most + 2).map(|tick| tick as f64 * step).collect()
    }
}

/// The next of 1, 2, 5 times a power of ten at or above `least`.
fn round_step(least: f64) -> f64 {
    if !(least.is_finite() && least > 0.0) {
        return 1.0;
    }
    let power = 10_f64.powf(least.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().find(|step| step * power >= least * 0.999);
    step.unwrap_or(10.0) * power
}

/// Degrees between the ticks of a cycle.
const CYCLE_TICK_DEG: usize = 60;

/// The axis of crank degrees below a picture, 0 to 720, with its name.
pub(super) fn cycle_axis(drawing: &mut Drawing, x: Scale, y: f64) {
    drawing.line(&[(x.places.0, y), (x.places.1, y)], Ink::Black, 1.0);
    for degrees in (0..=720).step_by(CYCLE_TICK_DEG) {
        let at = x.at(f64::from(degrees as u32));
        drawing.line(&[(at, y), (at, y + 5.0)], Ink::Black, 1.0);
        drawing.small((at, y + 14.0), format!("{degrees}°"), Anchor::Middle);
    }
    let middle = f64::midpoint(x.places.0, x.places.1);
    drawing.small((middle, y + 32.0), "crank degrees after the start of the cycle", Anchor::Middle);
}

/// Height the axis of [`cycle_axis`] takes.
pub(super) const CYCLE_AXIS: f64 = 42.0;

/// Marks top dead centres above a picture: "TDC 1" in a row of their own at `y`, a faint line down
/// to `bottom`.
pub(super) fn tdc_marks(drawing: &mut Drawing, x: Scale, y: f64, bottom: f64, tdcs: &[(u32, f64)]) {
    let mut free_from = f64::NEG_INFINITY;
    let mut sorted = tdcs.to_vec();
    sorted.sort_by(|a, b| a.1.total_cmp(&b.1));
    for (cylinder, degrees) in sorted {
        let at = x.at(degrees);
        drawing.dashed(&[(at, y + 9.0), (at, bottom)], Ink::Pale, 1.0);
        let label = format!("TDC {cylinder}");
        let half = text_width(&label, SMALL, false) / 2.0;
        if at - half > free_from {
            drawing.small((at, y), label, Anchor::Middle);
            free_from = at + half + 6.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_few() {
        let rows = [
            ((0.0, 720.0), 12, vec![0.0, 100.0, 200.0, 300.0, 400.0, 500.0, 600.0, 700.0]),
            ((-1.3, 1.3), 5, vec![-1.0, 0.0, 1.0]),
            ((126.0, 259.0), 4, vec![150.0, 200.0, 250.0]),
        ];
        for (values, most, want) in rows {
            let scale = Scale { values, places: (0.0, 100.0) };
            assert_eq!(scale.ticks(most), want, "{values:?}");
        }
    }
}
