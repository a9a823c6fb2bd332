//! The beat of the compressions: how many firing intervals have passed by a time.
//!
//! Compressions of an engine with n cylinders come n times a cycle. The lead is turned down by that
//! frequency (complex demodulation) and averaged over about a cycle, so that what differs from
//! cylinder to cylinder, which comes at the frequencies between, averages out: a dead cylinder
//! costs no beat. What is left is the phase of the mean compression.
//!
//! An engine that fires unevenly beats at several frequencies, all multiples of the cycle's: its
//! firing angles say which, and how strongly each ([`Pattern`]). The strongest is followed.

use std::f64::consts::TAU;

use rustfft::FftPlanner;
use rustfft::num_complex::Complex64;

use super::pattern::Pattern;
use super::series::Series;
use crate::units::Seconds;

/// Slowest and fastest cranking looked for, rpm (common practice, no source: 100 to 300; wide of
/// both).
const RPM: (f64, f64) = (50.0, 500.0);
/// Seconds between values here: a tenth of the shortest interval.
const STEP_S: f64 = 4.0e-3;
/// Standard deviation of the averaging, in cycles: what comes once a cycle more or less often than
/// the compressions is taken down to a twentieth.
const AVERAGED_CYCLES: f64 = 0.4;
/// Swings beyond this many times the usual are cut: inrush, a bad contact.
const CUT: f64 = 3.5;
/// The line of the compressions stands out from what lies around it by this.
const STANDS_OUT: f64 = 3.0;
/// How far the frequency of the compressions lies from what the marks say, as a share: they are not
/// of the same cycles.
const UNSTEADY: f64 = 0.07;
/// Speed over about a cycle, over the mean of the attempt: slower and faster than a starter that
/// labours or an engine that runs up.
const LOCAL: (f64, f64) = (0.5, 1.7);
/// Where more of an attempt than this runs beyond these, what was followed is no beat.
const MOST_BENT: f64 = 0.2;
/// Lines are told apart by this many points of the spectrum per swing of the whole attempt.
const FINE: usize = 8;

/// Beats by time.
#[derive(Debug, Clone, PartialEq)]
pub struct Beat {
    start: f64,
    step: f64,
    /// Beats passed, at each step.
    passed: Vec<f64>,
    /// The lead, its slow level taken out, at the same steps.
    pub(super) swing: Vec<f64>,
    /// Beats in a cycle: firing intervals of an engine that fires evenly.
    pub(super) per_cycle: usize,
}

impl Beat {
    /// Finds it in a part of a series. `period` is the time from mark to mark where a lead gives
    /// marks: of a turn or of a cycle. `None` where nothing stands out.
    pub(super) fn find(
        series: &Series,
        span: (usize, usize),
        pattern: &Pattern,
        period: Option<f64>,
    ) -> Option<Beat> {
        let each = ((STEP_S / series.step()).round() as usize).max(1);
        let values: Vec<f64> = series.values[span.0..span.1]
            .chunks_exact(each)
            .map(|chunk| chunk.iter().sum::<f64>() / each as f64)
            .collect();
        let step = each as f64 * series.step();
        let start = series.at(span.0).0 + 0.5 * (each - 1) as f64 * series.step();
        // A cycle takes 120 s at one turn a minute.
        let range = (RPM.0 / 120.0, RPM.1 / 120.0);
        let slow = 1.0 / range.0;
        if values.len() < 16 {
            return None;
        }
        // The slow level: over the longest cycle first, then over this engine's.
        let rough = swings(&values, (0.2 * slow / step).max(2.0));
        let per_cycle = pattern.strongest();
        let frequency = Spectrum::of(&rough, step).beat(range, pattern, period)?;
        let cycle = per_cycle as f64 / frequency / step;
        let swing = swings(&values, AVERAGED_CYCLES * cycle);
        let mut passed: Vec<f64> =
            (0..swing.len()).map(|index| frequency * index as f64 * step).collect();
        for _ in 0..2 {
            let behind = phase(&swing, &passed, AVERAGED_CYCLES * cycle);
            passed.iter_mut().zip(behind).for_each(|(passed, behind)| *passed += behind);
        }
        let passed = held(&passed, frequency * step)?;
        Some(Beat { start, step, passed, swing, per_cycle })
    }

    /// Cycles it covers.
    pub(super) fn cycles(&self) -> f64 {
        let (first, last) = (self.passed[0], self.passed[self.passed.len() - 1]);
        (last - first) / self.per_cycle as f64
    }

    /// Cycles passed by a time; `None` outside the attempt.
    pub(super) fn cycles_at(&self, at: Seconds) -> Option<f64> {
        let place = (at.0 - self.start) / self.step;
        let last = self.passed.len() - 1;
        (-0.5..=last as f64 + 0.5).contains(&place).then(|| {
            let index = (place.max(0.0) as usize).min(last - 1);
            let share = place - index as f64;
            let passed = self.passed[index] + share * (self.passed[index + 1] - self.passed[index]);
            passed / self.per_cycle as f64
        })
    }

    /// How far the crank is ahead of an even turning at each step, in cycles, where its speed falls
    /// as the lead rises, by `swing` of the mean at the lead's amplitude.
    pub(super) fn within(&self, swing: f64) -> Vec<f64> {
        let square: f64 = self.swing.iter().map(|value| value * value).sum();
        let amplitude = (2.0 * square / self.swing.len() as f64).sqrt();
        if swing == 0.0 || amplitude == 0.0 {
            return vec![0.0; self.swing.len()];
        }
        let per_cycle = self.per_cycle as f64;
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
        let per_cycle = self.per_cycle as f64;
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

/// Beats passed, never faster or slower than an engine turns: where the swings all but vanish their
/// phase means nothing. `None` where that is so too often. `each` is the mean of a step.
fn held(passed: &[f64], each: f64) -> Option<Vec<f64>> {
    let mut now = *passed.first()?;
    let mut bent = 0;
    let held: Vec<f64> = passed
        .iter()
        .map(|&wanted| {
            let kept = wanted.clamp(now + LOCAL.0 * each, now + LOCAL.1 * each);
            bent += usize::from(kept != wanted);
            now = kept;
            kept
        })
        .collect();
    (bent as f64 <= MOST_BENT * passed.len() as f64).then_some(held)
}

/// What a lead swings at.
struct Spectrum {
    sizes: Vec<f64>,
    per_bin: f64,
}

impl Spectrum {
    fn of(swing: &[f64], step: f64) -> Self {
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
        let sizes = buffer[..length / 2].iter().map(|value| value.norm()).collect();
        Spectrum { sizes, per_bin: 1.0 / (length as f64 * step) }
    }

    fn size(&self, bin: usize) -> f64 {
        self.sizes[bin.min(self.sizes.len() - 1)]
    }

    /// The strongest line between two frequencies.
    fn best_in(&self, from: f64, to: f64) -> Option<usize> {
        let last = self.sizes.len() - 1;
        let bins = (from / self.per_bin).ceil() as usize..=((to / self.per_bin) as usize).min(last);
        bins.max_by(|&a, &b| self.size(a).total_cmp(&self.size(b)))
    }

    /// Frequency of the beat. `range` is that of cycles.
    fn beat(&self, range: (f64, f64), pattern: &Pattern, period: Option<f64>) -> Option<f64> {
        let order = pattern.strongest() as f64;
        let range = (order * range.0, order * range.1);
        let best = match period {
            // A mark comes every cycle, or every turn: one of two frequencies, each give or take an
            // unsteady speed.
            Some(period) => {
                let near = |frequency: f64| {
                    self.best_in((1.0 - UNSTEADY) * frequency, (1.0 + UNSTEADY) * frequency)
                };
                if self.every_turn(pattern, period)? {
                    near(order / (2.0 * period))?
                } else {
                    near(order / period)?
                }
            }
            None if pattern.is_even() => self.best_in(range.0, range.1)?,
            None => self.best_of_pattern(range, pattern)?,
        };
        let usual: Vec<f64> = ((range.0 / self.per_bin) as usize
            ..=((2.0 * range.1 / self.per_bin) as usize).min(self.sizes.len() - 1))
            .map(|bin| self.size(bin))
            .collect();
        let stands_out = self.size(best) > STANDS_OUT * crate::stats::median(&usual)?;
        stands_out.then_some(best as f64 * self.per_bin)
    }

    /// Whether marks that come so many seconds apart come every turn: what the lead swings at in
    /// halves of their frequency, held against what the firing angles would make of it either way.
    fn every_turn(&self, pattern: &Pattern, period: f64) -> Option<bool> {
        let halves = 4 * pattern.cylinders();
        let seen: Vec<f64> = (1..=halves)
            .map(|half| {
                let frequency = half as f64 / (2.0 * period);
                let reach = (UNSTEADY * frequency).min(0.2 / period);
                let best = self.best_in(frequency - reach, frequency + reach);
                best.map_or(0.0, |bin| self.size(bin))
            })
            .collect();
        let like = |order_of: &dyn Fn(usize) -> Option<usize>| {
            let wanted: Vec<f64> = (1..=halves)
                .map(|half| order_of(half).map_or(0.0, |order| pattern.size(order)))
                .collect();
            let product: f64 = wanted.iter().zip(&seen).map(|(a, b)| a * b).sum();
            product / wanted.iter().map(|value| value * value).sum::<f64>().sqrt()
        };
        // The frequency of turns is twice that of cycles: a half of it is a whole one.
        let turn = like(&Some);
        let cycle = like(&|half| half.is_multiple_of(2).then_some(half / 2));
        Some(turn > cycle)
    }

    /// The line whose companions are those that the firing angles ask for.
    fn best_of_pattern(&self, range: (f64, f64), pattern: &Pattern) -> Option<usize> {
        let order = pattern.strongest() as f64;
        let last = self.sizes.len() - 1;
        let bins = (range.0 / self.per_bin).ceil() as usize
            ..=((range.1 / self.per_bin) as usize).min(last);
        let worth = |bin: usize| -> f64 {
            (1..=2 * pattern.cylinders())
                .map(|other| {
                    pattern.size(other)
                        * self.size((bin as f64 * other as f64 / order).round() as usize)
                })
                .sum()
        };
        bins.max_by(|&a, &b| worth(a).total_cmp(&worth(b)))
    }
}
