//! The crank as an energy balance, fitted cylinder by cylinder.
//!
//! Over crank angle θ, with inertia J, speed ω, starter torque a − bω and gas torque T:
//! ½ J d(ω²)/dθ = a − bω − friction − T(θ). Integrated from the start of a cycle,
//!
//! ω²(θ) = c₀ + c₁ θ − λ ∫ω dθ − Σ gᵢ Eᵢ(θ)
//!
//! where Eᵢ is the energy cylinder i holds ([`StoredEnergy`]) and λ, gᵢ share an unknown
//! scale. It is linear in all unknowns, needs no derivative of a noisy signal, and accounts for
//! the starter's pull, which otherwise smears each compression over the next
//! cylinders. A cylinder that traps (1 + δ) times the mean and has lost a share κ of it by TDC stores
//! G (net + δ · gross + κ · leaked): the atmosphere behind its piston does not change with what it traps.
//! Compression as a gauge would show it is what is trapped less what has leaked by TDC. Energy is not in proportion to a
//! leak, so κ is found in rounds, each a straight line about the leak of the last ([`settle`]).
//!
//! λ is fitted to the mean cycle where that shows it ([`Cycles`], [`Anchor`]); each cycle's own fit then uses it and the cycle's own pull.

use rayon::prelude::*;

use super::curve::Window;
use super::cycles::{Anchor, Cycles, Pace};
use super::energy::{Energies, StoredEnergy};
use super::orders::{FOLD_POINTS, fold, orders};
use super::solve::Normal;
use crate::units::CYCLE_DEG;

/// Columns before the cylinders' contrasts: the speed integral and the common energy. A common leak cannot be
/// told from the starter's pull and a shift of TDC, and is left out.
/// After them come the contrasts of what cylinders trap, then those of what they leak, each against the last.
const SHARED: usize = 2;
/// Coarse and fine steps of the search for TDC, in crank degrees. The misfit is smooth over tens
/// of degrees, the width of a compression.
const COARSE_STEP: f64 = 5.0;
const FINE_STEP: f64 = 1.0;

/// Rounds of straight lines about the leak; each leaves a third or less of the error of the one before.
const LEAK_ROUNDS: usize = 4;
/// Leaks the straight line is taken about. More than four fifths lost by TDC is a dead cylinder, and no straight line; one
/// tighter than the usual one by more than a fifth is noise.
const LEAK_RANGE: (f64, f64) = (-0.2, 0.8);
/// Search reach for TDC beside a leak found, crank degrees.
const LEAK_REACH: f64 = 6.0;

/// The pull is too weak by up to half where it is fitted to each cycle's own ([`Cycles`]): between that and the double, at a
/// standard deviation from the middle of the two.
const PULL_TOO_WEAK: f64 = 1.5;
const PULL_SD: f64 = 0.5;

impl Anchor {
    /// From a fit by each cycle's own pull. An engine that hardly differs from cylinder to cylinder shows its starter's pull
    /// in little but a small angle; what the fit leaves unexplained may then be more than that.
    fn of(own: &Fit) -> Self {
        let sd = (PULL_SD * own.loss).abs();
        // One equation more, worth what the others are worth.
        let weight = if sd > 0.0 { own.noise.sqrt() / sd } else { 0.0 };
        Anchor { strength: PULL_TOO_WEAK * own.loss, weight }
    }
}

/// Firing TDCs of the cylinders, in firing order, on the crank stretch's scale.
pub(super) type Tdcs = [f64];

/// What a fit found.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    /// How much later TDC lies than the layout given says, crank degrees.
    pub shift: f64,
    /// Height of a mean compression in the unit of the curve's square; positive when
    /// compressions slow the crank.
    pub gain: f64,
    /// The starter's pull on the square per unit of ∫ speed dθ; not positive.
    pub loss: f64,
    /// [`repeating_variance`] of what is left.
    pub noise: f64,
    /// Relative compression by firing position, for each cycle.
    pub cycles: Vec<Vec<f64>>,
    /// Share of the charge lost by TDC beyond the mean cylinder's, by firing position.
    pub leaks: Vec<f64>,
    /// Share (0..1) of the variation within the cycles that the model explains.
    pub explained: f64,
    /// Variance of the relative compressions that does not average out over
    /// cycles, cylinders × cylinders.
    pub floor: Vec<f64>,
}

/// A cycle's equations with its own offset and slope already taken out.
struct Rows {
    rows: Vec<f64>,
    values: Vec<f64>,
    width: usize,
}

/// Fits at the shift within `reach` either side of the layout that explains most.
pub(super) fn search(
    cycles: &Cycles,
    tdcs: &Tdcs,
    energies: &[StoredEnergy],
    reach: f64,
) -> Option<Fit> {
    let misfit = |shift: f64| {
        // Compressions slow the crank: a layout half an interval off, fitted with bumps, is no fit.
        pooled(cycles, tdcs, energies, shift)
            .filter(|(solution, _)| solution[1] < 0.0)
            .map_or(f64::INFINITY, |(_, misfit)| misfit)
    };
    let scan = |middle: f64, reach: f64, step: f64| {
        let count = (reach / step).ceil() as i32;
        // A third of the time of a whole check: side by side, and judged in order.
        let tried: Vec<(f64, f64)> = (-count..=count)
            .into_par_iter()
            .map(|i| middle + f64::from(i) * step)
            .map(|shift| (shift, misfit(shift)))
            .collect();
        tried.into_iter().min_by(|a, b| a.1.total_cmp(&b.1)).map_or(middle, |(shift, _)| shift)
    };
    let coarse = scan(0.0, reach, COARSE_STEP);
    let fine = scan(coarse, COARSE_STEP, FINE_STEP);
    let (before, at, after) = (misfit(fine - FINE_STEP), misfit(fine), misfit(fine + FINE_STEP));
    // Vertex of the parabola through three points.
    let bend = before - 2.0 * at + after;
    let vertex = if bend > 0.0 && bend.is_finite() { 0.5 * (before - after) / bend } else { 0.0 };
    fit_at(cycles, tdcs, energies, fine + vertex.clamp(-1.0, 1.0) * FINE_STEP)
}

/// Refines a fit of tight cylinders, by each cycle's own pull, to one of cylinders that may leak, by the pull of the mean
/// cycle. `pace` is the crank's within the cycle.
pub(super) fn settle(
    cycles: &mut Cycles,
    tdcs: &Tdcs,
    energy: &StoredEnergy,
    pace: &Pace,
    tight: Fit,
) -> Option<Fit> {
    let leaking = |fit: &Fit| -> Option<Vec<StoredEnergy>> {
        // A leak common to all is not known; most cylinders are sound.
        let sound = super::stats::median(&fit.leaks)?;
        let each = fit.leaks.iter().zip(tdcs).map(|(leak, tdc)| {
            let share = (leak - sound).clamp(LEAK_RANGE.0, LEAK_RANGE.1);
            energy.leaking(share, &|from_tdc| pace.slowness(tdc + fit.shift + from_tdc))
        });
        Some(each.collect())
    };
    cycles.anchor = Some(Anchor::of(&tight));
    let mut fit = tight;
    for _ in 1..LEAK_ROUNDS {
        fit = fit_at(cycles, tdcs, &leaking(&fit)?, fit.shift)?;
    }
    search(cycles, tdcs, &leaking(&fit)?, LEAK_REACH)
}

/// Fits with TDC held at a shift from the layout.
pub(super) fn fit_at(
    cycles: &Cycles,
    tdcs: &Tdcs,
    energies: &[StoredEnergy],
    shift: f64,
) -> Option<Fit> {
    let (solution, misfit) = pooled(cycles, tdcs, energies, shift)?;
    let (curve, windows) = (cycles.curve, &cycles.windows[..]);
    let (loss, gain) = (solution[0], -solution[1]);
    let mut relatives = Vec::with_capacity(windows.len());
    let mut all = Normal::new(unknowns(tdcs.len()));
    let mut residuals = vec![0.0; curve.len()];
    for window in windows {
        let rows = cycle_rows(cycles, &cycles.pulled, window, tdcs, energies, shift);
        let normal = rows.normal();
        all.join(&normal);
        let own = normal.holding_first(loss).solve()?;
        relatives.push(relative(&own[SHARED - 1..], -gain, energies));
        for (index, step) in window.steps.clone().enumerate() {
            let row = &rows.rows[index * rows.width..(index + 1) * rows.width];
            let model: f64 = row.iter().zip(&solution).map(|(a, b)| a * b).sum();
            residuals[step] = (rows.values[index] - model) / curve.weight[step].sqrt();
        }
    }
    let folded = fold(curve, windows, &residuals, FOLD_POINTS);
    let scale = gain * gauge(&vec![0.0; contrasts(tdcs.len())], 1.0, energies).1;
    let noise = repeating_variance(&folded, cycles, tdcs.len());
    let floor = covariance(&all, noise / (scale * scale), energies)?;
    let explained = 1.0 - misfit / all.square.max(f64::MIN_POSITIVE);
    let leaks = shares(&solution[SHARED + tdcs.len() - 1..], -gain);
    let leaks = leaks.iter().zip(energies).map(|(more, energy)| energy.share + more).collect();
    Some(Fit { shift, gain, loss, noise, cycles: relatives, leaks, explained, floor })
}

/// Number of unknowns.
fn unknowns(cylinders: usize) -> usize {
    SHARED + contrasts(cylinders)
}

/// Of those, the contrasts between cylinders.
fn contrasts(cylinders: usize) -> usize {
    2 * (cylinders - 1)
}

/// Every cylinder's share, from contrasts against the last over the common coefficient.
fn shares(contrasts: &[f64], common: f64) -> Vec<f64> {
    let mut found: Vec<f64> = contrasts.iter().map(|value| value / common).collect();
    found.push(-found.iter().sum::<f64>());
    found
}

/// What a gauge would show of each cylinder, over the pressure a tight one traps, and the mean of all.
fn gauge(contrasts: &[f64], common: f64, energies: &[StoredEnergy]) -> (Vec<f64>, f64) {
    let (trapped, leaked) = contrasts.split_at(contrasts.len() / 2);
    let shown: Vec<f64> = shares(trapped, common)
        .iter()
        .zip(shares(leaked, common))
        .zip(energies)
        .map(|((trapped, leaked), energy)| {
            // A gauge shows what is over the atmosphere.
            (1.0 + trapped) * (1.0 - energy.share) - leaked - (1.0 - 1.0 / energy.gauge_factor)
        })
        .collect();
    let mean = super::stats::mean(&shown);
    (shown, mean)
}

/// Relative compression from the contrasts and the common coefficient.
fn relative(contrasts: &[f64], common: f64, energies: &[StoredEnergy]) -> Vec<f64> {
    let (shown, mean) = gauge(contrasts, common, energies);
    shown.iter().map(|value| value / mean).collect()
}

/// All cycles together: coefficients and misfit.
fn pooled(
    cycles: &Cycles,
    tdcs: &Tdcs,
    energies: &[StoredEnergy],
    shift: f64,
) -> Option<(Vec<f64>, f64)> {
    let mut all = Normal::new(unknowns(tdcs.len()));
    let pull = if cycles.anchor.is_some() { &cycles.typical } else { &cycles.pulled };
    for window in &cycles.windows {
        all.join(&cycle_rows(cycles, pull, window, tdcs, energies, shift).normal());
    }
    if let Some(anchor) = cycles.anchor {
        let mut row = vec![0.0; all.unknowns];
        row[0] = anchor.weight;
        all.add(&row, anchor.weight * anchor.strength);
    }
    let solution = all.solve()?;
    if solution[0] <= 0.0 {
        let misfit = all.residual(&solution);
        return Some((solution, misfit));
    }
    // A starter that pulls harder the faster it turns does not exist: λ is not negative.
    let held = all.holding_first(0.0);
    let rest = held.solve()?;
    let misfit = held.residual(&rest);
    Some((std::iter::once(0.0).chain(rest).collect(), misfit))
}

fn cycle_rows(
    cycles: &Cycles,
    pulled: &[f64],
    window: &Window,
    tdcs: &Tdcs,
    energies: &[StoredEnergy],
    shift: f64,
) -> Rows {
    let (curve, width) = (cycles.curve, unknowns(tdcs.len()));
    let others = tdcs.len() - 1;
    let count = window.steps.len();
    let mut rows = Vec::with_capacity(count * width);
    let mut values = Vec::with_capacity(count);
    let mut basis = Vec::with_capacity(2 * count);
    // A step mostly begins where the one before it ended.
    let mut reached = vec![(f64::NAN, Energies::default()); tdcs.len()];
    for step in window.steps.clone() {
        let (from, to) = (curve.from[step], curve.to[step]);
        let weight = curve.weight[step].sqrt();
        rows.push(pulled[step] * weight);
        let start = rows.len();
        rows.resize(start + width - 1, 0.0);
        for (index, (tdc, energy)) in tdcs.iter().zip(energies).enumerate() {
            let up_to = |angle: f64| energy.up_to(angle - (tdc + shift));
            let before = if reached[index].0 == from { reached[index].1 } else { up_to(from) };
            reached[index] = (to, up_to(to));
            let one = Energies::mean(before, reached[index].1, to - from);
            let row = &mut rows[start..];
            row[0] += one.net * weight;
            let contrasts = &mut row[SHARED - 1..];
            if index < others {
                contrasts[index] += one.gross * weight;
                contrasts[others + index] += one.leaked * weight;
            } else {
                let (trapped, leaked) = contrasts.split_at_mut(others);
                trapped.iter_mut().for_each(|cell| *cell -= one.gross * weight);
                leaked.iter_mut().for_each(|cell| *cell -= one.leaked * weight);
            }
        }
        values.push(curve.square[step] * weight);
        basis.push(weight);
        basis.push(weight * (0.5 * (from + to) - window.start - CYCLE_DEG / 2.0));
    }
    let mut rows = Rows { rows, values, width };
    rows.take_out_line(&mut basis);
    rows
}

impl Rows {
    fn normal(&self) -> Normal {
        let mut normal = Normal::new(self.width);
        for (row, &value) in self.rows.chunks_exact(self.width).zip(&self.values) {
            normal.add(row, value);
        }
        normal
    }

    /// Takes an offset and a slope over angle out of every column and the values;
    /// `basis` holds the two for each row.
    fn take_out_line(&mut self, basis: &mut [f64]) {
        let count = self.values.len();
        let dot = |a: usize, b: usize, basis: &[f64]| -> f64 {
            (0..count).map(|i| basis[2 * i + a] * basis[2 * i + b]).sum()
        };
        let overlap = dot(0, 1, basis) / dot(0, 0, basis).max(f64::MIN_POSITIVE);
        (0..count).for_each(|i| basis[2 * i + 1] -= overlap * basis[2 * i]);
        for which in 0..2 {
            let square = dot(which, which, basis).max(f64::MIN_POSITIVE);
            // Row by row, as they lie in memory.
            let mut along = vec![0.0; self.width];
            for (row, basis) in self.rows.chunks_exact(self.width).zip(basis.chunks_exact(2)) {
                along.iter_mut().zip(row).for_each(|(sum, cell)| *sum += basis[which] * cell);
            }
            along.iter_mut().for_each(|sum| *sum /= square);
            for (row, basis) in self.rows.chunks_exact_mut(self.width).zip(basis.chunks_exact(2)) {
                row.iter_mut().zip(&along).for_each(|(cell, along)| *cell -= along * basis[which]);
            }
            let along: f64 = (0..count).map(|i| basis[2 * i + which] * self.values[i]).sum();
            for i in 0..count {
                self.values[i] -= along / square * basis[2 * i + which];
            }
        }
    }
}

/// Variance of one equation of the pooled fit from what the model leaves unexplained in every cycle alike: tooth errors of
/// the crank wheel, pinion and commutator ripple.
///
/// Such a residual does not average out, so it counts as one cycle's noise. Orders that are
/// multiples of the cylinder count are the same at every cylinder and cannot favour one; orders
/// up to that count are mostly taken up by the fit itself. The level is therefore read between the first and
/// the third multiple, and taken as the level at every order.
fn repeating_variance(folded: &[f64], cycles: &Cycles, cylinders: usize) -> f64 {
    let (curve, windows) = (cycles.curve, &cycles.windows);
    let steps: usize = windows.iter().map(|window| window.steps.len()).sum();
    let per_cycle = steps as f64 / windows.len() as f64;
    let highest = (3 * cylinders).min((per_cycle / 2.0) as usize);
    let powers: Vec<f64> = orders(folded)
        .iter()
        .filter(|order| order.order > cylinders && order.order <= highest)
        .filter(|order| order.order % cylinders != 0)
        .map(|order| order.amplitude * order.amplitude / 2.0)
        .collect();
    let variance = super::stats::mean(&powers) * per_cycle / 2.0;
    let weight: f64 = windows
        .iter()
        .flat_map(|window| window.steps.clone())
        .map(|step| curve.weight[step])
        .sum::<f64>()
        / steps as f64;
    // The pooled equations hold every cycle once; one cycle alone has a share of them.
    variance * weight * windows.len() as f64
}

/// Covariance of the relative compressions, cylinders × cylinders, from the variance of an equation.
fn covariance(all: &Normal, variance: f64, energies: &[StoredEnergy]) -> Option<Vec<f64>> {
    let cylinders = energies.len();
    let mut covariance = vec![0.0; cylinders * cylinders];
    for i in 0..cylinders {
        let column = all.inverse_times(&contrast(i, energies))?;
        for j in 0..cylinders {
            let along: f64 = contrast(j, energies).iter().zip(&column).map(|(a, b)| a * b).sum();
            covariance[i * cylinders + j] = along * variance;
        }
    }
    Some(covariance)
}

/// What picks a cylinder's compression out of the unknowns: what it traps less what it leaks; for the last, less all
/// the others.
fn contrast(cylinder: usize, energies: &[StoredEnergy]) -> Vec<f64> {
    let others = energies.len() - 1;
    let left = 1.0 - energies[cylinder].share;
    let mut pick = vec![0.0; unknowns(energies.len())];
    let (trapped, leaked) = pick[SHARED..].split_at_mut(others);
    if cylinder < others {
        (trapped[cylinder], leaked[cylinder]) = (left, -1.0);
    } else {
        trapped.fill(-left);
        leaked.fill(1.0);
    }
    pick
}
