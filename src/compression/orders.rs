//! Angle-domain resampling and orders: how often per cycle something repeats.
//!
//! Order k of a cycle is k swings per 720 crank degrees. Compressions of an N-cylinder
//! engine stand at order N and its multiples; what differs from cylinder to cylinder stands at the orders
//! between; what belongs to the crank wheel (once a turn) stands at even orders.

use rustfft::FftPlanner;
use rustfft::num_complex::Complex64;

use super::curve::{Curve, Window};
use crate::units::CYCLE_DEG;

/// Points of a folded cycle, one per crank degree: finer than any tooth.
pub(super) const FOLD_POINTS: usize = 720;

/// One order of a cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Order {
    /// Swings per cycle.
    pub order: usize,
    /// Amplitude of the cosine, in the unit of the input.
    pub amplitude: f64,
    /// Its phase in radians: the order is amplitude · cos(order · 2π · θ / 720 + phase).
    pub phase: f64,
}

/// Orders 1 up to half the number of points of one cycle sampled at even angles.
///
/// Amplitudes are one-sided: a cosine of amplitude a gives a.
#[must_use]
pub fn orders(cycle: &[f64]) -> Vec<Order> {
    let n = cycle.len();
    if n < 2 {
        return Vec::new();
    }
    let mut buffer: Vec<Complex64> =
        cycle.iter().map(|&value| Complex64::new(value, 0.0)).collect();
    FftPlanner::new().plan_fft_forward(n).process(&mut buffer);
    (1..=n / 2)
        .map(|order| {
            // The highest order of an even count has no mirror image.
            let sides = if 2 * order == n { 1.0 } else { 2.0 };
            let amplitude = sides * buffer[order].norm() / n as f64;
            Order { order, amplitude, phase: buffer[order].arg() }
        })
        .collect()
}

/// The cycle with only orders up to `highest` kept, and its mean.
#[must_use]
pub fn low_pass(cycle: &[f64], highest: usize) -> Vec<f64> {
    let n = cycle.len();
    if n == 0 {
        return Vec::new();
    }
    let mut buffer: Vec<Complex64> =
        cycle.iter().map(|&value| Complex64::new(value, 0.0)).collect();
    let mut planner = FftPlanner::new();
    planner.plan_fft_forward(n).process(&mut buffer);
    for (index, bin) in buffer.iter_mut().enumerate() {
        if index.min(n - index) > highest {
            *bin = Complex64::default();
        }
    }
    planner.plan_fft_inverse(n).process(&mut buffer);
    buffer.iter().map(|bin| bin.re / n as f64).collect()
}

/// Mean over the windows of a value per step of the curve, on `points` even angles from the start
/// of the cycle; straight lines between the middles of steps.
pub(super) fn fold(curve: &Curve, windows: &[Window], values: &[f64], points: usize) -> Vec<f64> {
    let mut sum = vec![0.0; points];
    for window in windows {
        let mut step = window.steps.start;
        for (index, cell) in sum.iter_mut().enumerate() {
            let at = window.start + (index as f64 + 0.5) * CYCLE_DEG / points as f64;
            while step + 1 < window.steps.end && curve.middle(step + 1) < at {
                step += 1;
            }
            *cell += between(curve, values, step, window.steps.end, at);
        }
    }
    let count = windows.len().max(1) as f64;
    sum.iter().map(|total| total / count).collect()
}

fn between(curve: &Curve, values: &[f64], step: usize, end: usize, at: f64) -> f64 {
    let next = (step + 1).min(end - 1);
    let (a, b) = (curve.middle(step), curve.middle(next));
    if next == step || at <= a {
        return values[step];
    }
    let share = ((at - a) / (b - a)).min(1.0);
    values[step] + share * (values[next] - values[step])
}
