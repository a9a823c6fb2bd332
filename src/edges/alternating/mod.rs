//! Edges of reluctance signals: passages through zero between two swings large enough to be a
//! tooth.
//!
//! The voltage is the rate of change of flux (Faraday's law), so its amplitude grows with speed,
//! but what lies under one swing, volts times seconds, is the change of flux of one tooth and the
//! same at any speed. Swings are judged by that, against the typical swing around them: a gap's
//! neighbours, up to three and a half times as strong, do not raise the bar for the teeth; noise at
//! rest, however many passages it makes, has next to nothing under each.

mod baseline;
mod steep;
mod swings;

use super::crossing::{Crossing, crossing_time};
use super::levels::median;
use super::overflow::{smallest_step, undo_wraps};
use super::{Edge, EdgeTrain, SignalFault, SignalShape, UNIFORM_SD, sample_step};
use crate::capture::{Capture, Channel, Samples};
use crate::stats::MAD_TO_SD;
use crate::units::Seconds;
use crate::wheel::EdgeKind;
use baseline::{middles, true_zero};
use swings::{Swing, teeth};

/// The line through zero is fitted to samples within this share of the smaller peak: a sine is
/// straight to 3 % there.
const STRAIGHT_SHARE: f64 = 0.4;

/// Edges of a sampled alternating signal.
pub(super) fn from_samples(capture: &Capture, channel: &Channel) -> EdgeTrain {
    let mut values: Vec<f64> = channel.values.iter().map(|&value| f64::from(value)).collect();
    let wraps = undo_wraps(&mut values);
    let converter = UNIFORM_SD * smallest_step(&values);
    remove_spikes(&mut values);
    let step = sample_step(capture);
    let middle = middles(&values, step);
    let mut walk = middle.walk();
    let centred: Vec<f32> =
        values.iter().enumerate().map(|(row, value)| (value - walk.at(row)) as f32).collect();
    drop(values);
    // Where most samples repeat the one before, second differences do not show the converter's
    // step.
    let noise = noise(&centred, channel.values.all()).max(converter);
    let swings = teeth(&centred, noise);
    let zero = true_zero(&centred, &swings);
    let passages: Vec<(EdgeKind, Crossing)> = swings
        .windows(2)
        .filter(|pair| pair[0].peak * pair[1].peak < 0.0)
        .map(|pair| passage(capture, &centred, pair[0], pair[1], zero.at(pair[1].row)))
        .collect();
    let faults = if passages.is_empty() {
        vec![SignalFault::Dead]
    } else if wraps > 0 {
        vec![SignalFault::Wrapped(wraps)]
    } else {
        Vec::new()
    };
    EdgeTrain {
        shape: SignalShape::Alternating,
        timing_sd: timing_sd(&passages, noise, step),
        steeper: steep::steeper(&passages),
        edges: passages.iter().map(|&(kind, crossing)| Edge { at: crossing.at, kind }).collect(),
        faults,
        ..EdgeTrain::dead(usual_peaks(&swings))
    }
}

/// Takes out single-sample spikes: each value becomes the median of itself and its neighbours,
/// which leaves every slope as it is.
fn remove_spikes(values: &mut [f64]) {
    let mut before = values.first().copied().unwrap_or(0.0);
    for row in 1..values.len().saturating_sub(1) {
        let (here, after) = (values[row], values[row + 1]);
        values[row] = here.clamp(before.min(after), before.max(after));
        before = here;
    }
}

/// Standard deviation of the noise, from second differences of neighbouring samples (variance 6σ²
/// for white noise). Where the signal lies on the limit of the scope's range it shows none,
/// whatever there is.
fn noise(centred: &[f32], recorded: Samples<'_>) -> f64 {
    let (least, most) = recorded.limits();
    let on_the_limit =
        |three: [f32; 3]| [least, most].iter().any(|limit| three.iter().all(|one| one == limit));
    let mut rough: Vec<f64> = centred
        .windows(3)
        .zip(recorded.threes())
        .filter(|(_, recorded)| !on_the_limit(*recorded))
        .map(|(three, _)| f64::from(three[0] - 2.0 * three[1] + three[2]).abs())
        .collect();
    median(&mut rough).unwrap_or(0.0) * MAD_TO_SD / 6.0_f64.sqrt()
}

/// Typical peaks below and above zero.
fn usual_peaks(swings: &[Swing]) -> (f64, f64) {
    let side = |above: bool| {
        let peaks = swings.iter().map(|swing| swing.peak).filter(|peak| (*peak > 0.0) == above);
        median(&mut peaks.collect::<Vec<f64>>()).unwrap_or(0.0)
    };
    (side(false), side(true))
}

/// The passage through zero between two swings to opposite sides.
fn passage(
    capture: &Capture,
    centred: &[f32],
    before: Swing,
    after: Swing,
    zero: f64,
) -> (EdgeKind, Crossing) {
    let near = (STRAIGHT_SHARE * before.peak.abs().min(after.peak.abs())) as f32;
    // Last row clearly on the old side, then the first after it clearly on the new one.
    let far_before = |row: &usize| centred[*row] * before.peak.signum() as f32 >= near;
    let far_after = |row: &usize| centred[*row] * after.peak.signum() as f32 >= near;
    let last = (before.row..=after.row).find(far_after).unwrap_or(after.row);
    let first = (before.row..=last).rev().find(far_before).unwrap_or(before.row);
    let kind = if after.peak > 0.0 { EdgeKind::Rising } else { EdgeKind::Falling };
    (kind, crossing_time(&capture.clock, centred.into(), (first, last), zero))
}

/// Noise over slope. The line through zero runs through several samples, which average: those
/// within [`STRAIGHT_SHARE`] of the peak. The converter's step is part of the noise.
fn timing_sd(passages: &[(EdgeKind, Crossing)], noise: f64, step: f64) -> Seconds {
    let mut slopes: Vec<f64> = passages.iter().map(|(_, crossing)| crossing.slope.abs()).collect();
    let mut rows: Vec<f64> = passages.iter().map(|(_, crossing)| crossing.rows as f64).collect();
    match (median(&mut slopes), median(&mut rows)) {
        (Some(slope), Some(rows)) if slope > 0.0 => {
            // Never better than what one sample in ten thousand of its spacing would be.
            Seconds((noise / slope / rows.max(1.0).sqrt()).max(1e-4 * step))
        }
        _ => Seconds(0.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_shows_where_the_signal_is_not_on_the_limit() {
        // A sine of 400 samples a turn with noise of ± 0.05 (standard deviation 0.05/√3), cut off
        // at a fifth of its height: seven samples in eight lie on the limit.
        let mut state = 1_u32;
        let mut drawn = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(state >> 8) / f64::from(1 << 24) - 0.5
        };
        let cut_off = |row: u32| {
            let sine = 10.0 * (f64::from(row) * std::f64::consts::TAU / 400.0).sin();
            (sine + 0.1 * drawn()).clamp(-2.0, 2.0) as f32
        };
        let values: Vec<f32> = (0..40_000).map(cut_off).collect();
        let on_the_limit = values.iter().filter(|value| value.abs() == 2.0).count();
        assert!(on_the_limit > 30_000, "{on_the_limit}");
        let want = 0.05 / 3.0_f64.sqrt();
        let got = noise(&values, (&values).into());
        assert!((got / want - 1.0).abs() < 0.3, "want {want}, got {got}");
    }
}
