//! The beat of the compressions: how many firing intervals have passed by a time.
//!
//! Compressions of an engine with n cylinders come n times a cycle. The lead is turned down by that
//! frequency (complex demodulation) and averaged over about a cycle, so that what differs from
//! cylinder to cylinder, which comes at the frequencies between, averages out: a dead cylinder costs
//! no beat. What is left is the phase of the mean compression.

use std::f64::consts::TAU;

use rustfft::FftPlanner;
use rustfft::num_complex::Complex64;

use super::series::Series;
use crate::units::Seconds;

/// Slowest and fastest cranking looked for, rpm (common practice, no source: 100 to 300; wide of both).
const RPM: (f64, f64) = (50.0, 500.0);
/// Seconds between values here: a tenth of the shortest interval.
const STEP_S: f64 = 4.0e-3;
/// Standard deviation of the averaging, in cycles: what comes once a cycle more or less often than the compressions is
/// taken down to a twentieth.
const AVERAGED_CYCLES: f64 = 0.4;
/// Swings beyond this many times the usual are cut: inrush, a bad contact.
const CUT: f64 = 3.5;
/// The line of the compressions stands out from what lies around it by this.
const STANDS_OUT: f64 = 3.0;
/// Lines are told apart by this many points of the spectrum per swing of the whole attempt.
const FINE: usize = 8;

/// Firing intervals by time.
#[derive(Debug, Clone, PartialEq)]
pub struct Beat {
    start: f64,
    step: f64,
    /// Firing intervals passed, at each step.
    passed: Vec<f64>,
    /// The lead, its slow level taken out, at the same steps.
    pub(super) swing: Vec<f64>,
    /// Firing intervals in a cycle.
    pub(super) cylinders: usize,
}

impl Beat {
    /// Finds it in a part of a series. `period` is the time from mark to mark where a lead gives marks: of a turn or of
    /// a cycle. `None` where nothing stands out.
    pub(super) fn find(
        series: &Series,
        span: (usize, usize),
        cylinders: usize,
        period: Option<f64>,
    ) -> Option<Beat> {
        let each = ((STEP_S / series.step()).round() as usize).max(1);
        let values: Vec<f64> = series.values[span.0..span.1]
            .chunks_exact(each)
            .map(|chunk| chunk.iter().sum::<f64>() / each as f64)
            .collect();
        let step = each as f64 * series.step();
        let start = series.at(span.0).0 + 0.5 * (each - 1) as f64 * series.step();
        let per_rpm = cylinders as f64 / 120.0;
        let range = (RPM.0 * per_rpm, RPM.1 * per_rpm);
        let slow = cylinders as f64 / range.0;
        if values.len() < 16 {
            return None;
        }
        // The slow level: over the longest cycle first, then over this engine's.
        let rough = swings(&values, (0.2 * slow / step).max(2.0));
        let frequency = line(&rough, step, range, cylinders, period)?;
        let cycle = cylinders as f64 / frequency / step;
        let swing = swings(&values, AVERAGED_CYCLES * cycle);
        let mut passed: Vec<f64> =
            (0..swing.len()).map(|index| frequency * index as f64 * step).collect();
        for _ in 0..2 {
            let behind = phase(&swing, &passed, AVERAGED_CYCLES * cycle);
            passed.iter_mut().zip(behind).for_each(|(passed, behind)| *passed += behind);
        }
        passed.windows(2).all(|pair| pair[1] > pair[0]).then_some(())?;
        Some(Beat { start, step, passed, swing, cylinders })
    }

    /// Cycles it covers.
    pub(super) fn cycles(&self) -> f64 {
        let (first, last) = (self.passed[0], self.passed[self.passed.len() - 1]);
        (last - first) / self.cylinders as f64
    }

    /// Cycles passed by a time; `None` outside the attempt.
    pub(super) fn cycles_at(&self, at: Seconds) -> Option<f64> {
        let place = (at.0 - self.start) / self.step;
        let last = self.passed.len() - 1;
        (-0.5..=last as f64 + 0.5).contains(&place).then(|| {
            let index = (place.max(0.0) as usize).min(last - 1);
            let share = place - index as f64;
            let passed = self.passed[index] + share * (self.passed[index + 1] - self.passed[index]);
            passed / self.cylinders as f64
        })
    }

    /// How far the crank is ahead of an even turning at each step, in cycles, where its speed falls as the lead rises,
    /// by `swing` of the mean at the lead's amplitude.
    pub(super) fn within(&self, swing: f64) -> Vec<f64> {
        let square: f64 = self.swing.iter().map(|value| value * value).sum();
        let amplitude = (2.0 * square / self.swing.len() as f64).sqrt();
        if swing == 0.0 || amplitude == 0.0 {
            return vec![0.0; self.swing.len()];
        }
        let per_cycle = self.cylinders as f64;
        let mut sum = 0.0;
        let ahead: Vec<f64> = (0..self.swing.len())
            .map(|index| {
                let next = (index + 1).min(self.swing.len() - 1);
                let turned = (self.passed[next] - self.passed[index]) / per_cycle;
                let now = sum;
                let mean = 0.5 * (self.swing[index] + self.swing[next]);
                sum -= swing * mean / amplitude * turned;
                now
            })
            .collect();
        let cycle = self.swing.len() as f64 / self.cycles();
        let drift = smoothed(&ahead, AVERAGED_CYCLES * cycle, |value| value);
        ahead.iter().zip(drift).map(|(ahead, drift)| ahead - drift).collect()
    }

    /// Time and cycles passed of every step.
    pub(super) fn steps(&self) -> impl Iterator<Item = (Seconds, f64)> {
        let per_cycle = self.cylinders as f64;
        self.passed.iter().enumerate().map(move |(index, passed)| {
            (Seconds(self.start + index as f64 * self.step), passed / per_cycle)
        })
    }
}

/// What is left of values once a smooth level is taken out, the largest swings cut.
fn swings(values: &[f64], sd: f64) -> Vec<f64> {
    let level = smoothed(values, sd, |value| value);
    let swing: Vec<f64> = values.iter().zip(level).map(|(value, level)| value - level).collect();
    let sizes: Vec<f64> = swing.iter().map(|value| value.abs()).collect();
    let most = CUT * crate::stats::median(&sizes).unwrap_or(0.0);
    swing.into_iter().map(|value| value.clamp(-most, most)).collect()
}

/// Gaussian average, its weights summing to 1 at the ends as well.
fn smoothed<T, V>(values: &[T], sd: f64, of: impl Fn(T) -> V) -> Vec<V>
where
    T: Copy,
    V: Copy + std::ops::Mul<f64, Output = V> + std::iter::Sum<V>,
{
    let reach = (3.0 * sd).ceil() as usize;
    let weights: Vec<f64> =
        (0..=reach).map(|away| (-0.5 * (away as f64 / sd).powi(2)).exp()).collect();
    (0..values.len())
        .map(|index| {
            let range = index.saturating_sub(reach)..(index + reach + 1).min(values.len());
            let weight = |other: usize| weights[other.abs_diff(index)];
            let whole: f64 = range.clone().map(weight).sum();
            let sum: V = range.map(|other| of(values[other]) * weight(other)).sum();
            sum * (1.0 / whole)
        })
        .collect()
}

/// How far the swings run before the phase given, in intervals, unwrapped.
fn phase(swing: &[f64], passed: &[f64], sd: f64) -> Vec<f64> {
    let turned: Vec<Complex64> = swing
        .iter()
        .zip(passed)
        .map(|(&value, &passed)| Complex64::from_polar(value, -TAU * passed))
        .collect();
    let mut last = 0.0;
    smoothed(&turned, sd, |value| value)
        .into_iter()
        .map(|mean| {
            let now = mean.arg() / TAU;
            last = now + (last - now).round();
            last
        })
        .collect()
}

/// Frequency of the compressions.
fn line(
    swing: &[f64],
    step: f64,
    range: (f64, f64),
    cylinders: usize,
    period: Option<f64>,
) -> Option<f64> {
    let length = (swing.len() * FINE).next_power_of_two();
    let count = swing.len();
    let mut buffer: Vec<Complex64> = swing
        .iter()
        .enumerate()
        .map(|(index, &value)| {
            // Hann window.
            let window = 0.5 - 0.5 * (TAU * (index as f64 + 0.5) / count as f64).cos();
            Complex64::new(value * window, 0.0)
        })
        .collect();
    buffer.resize(length, Complex64::default());
    FftPlanner::new().plan_fft_forward(length).process(&mut buffer);
    let per_bin = 1.0 / (length as f64 * step);
    let highest = length / 2 - 1;
    let size = |bin: usize| buffer[bin.min(highest)].norm();
    let best_in = |from: f64, to: f64| -> Option<usize> {
        let bins = (from / per_bin).ceil() as usize..=((to / per_bin) as usize).min(highest);
        bins.max_by(|&a, &b| size(a).total_cmp(&size(b)))
    };
    let best = match period {
        // A mark comes every cycle, or every turn: one of two frequencies, each give or take an unsteady speed.
        Some(period) => {
            let n = cylinders as f64 / period;
            let near = |f: f64| best_in(0.93 * f, 1.07 * f);
            let (cycle, turn) = (near(n)?, near(n / 2.0)?);
            if size(turn) > size(cycle) { turn } else { cycle }
        }
        None => best_in(range.0, range.1)?,
    };
    let usual: Vec<f64> = ((range.0 / per_bin) as usize
        ..=((2.0 * range.1 / per_bin) as usize).min(highest))
        .map(size)
        .collect();
    let stands_out = size(best) > STANDS_OUT * crate::stats::median(&usual)?;
    stands_out.then_some(best as f64 * per_bin)
}
