//! The crank as an energy balance, fitted cylinder by cylinder.
//!
//! Over crank angle θ, with inertia J, speed ω, starter torque a − bω and gas torque T:
//! ½ J d(ω²)/dθ = a − bω − friction − T(θ). Integrated from the start of a cycle,
//!
//! ω²(θ) = c₀ + c₁ θ − λ ∫ω dθ − Σ gᵢ Eᵢ(θ)
//!
//! where Eᵢ is the energy cylinder i holds ([`StoredEnergy`]) and λ, gᵢ share an unknown scale. It
//! is linear in all unknowns, needs no derivative of a noisy signal, and accounts for the starter's
//! pull, which otherwise smears each compression over the next cylinders. A cylinder that
//! traps (1 + δ) times the mean and has lost a share κ of it by TDC stores
//! G (net + δ · gross + κ · leaked): the atmosphere behind its piston does not change with what it traps. Compression as a gauge
//! would show it is what is trapped less what has leaked by TDC. Energy is not in proportion to a
//! leak, so κ is found in rounds, each a straight line about the leak of the last ([`settle`]).
//!
//! λ is fitted to the mean cycle where that shows it ([`Cycles`], [`Anchor`]); each cycle's own fit
//! then uses it and the cycle's own pull.

use rayon::prelude::*;

use super::contrasts::{SHARED, contrast, contrasts, gauge, relative, shares, unknowns};
use super::cycles::{Anchor, Cycles, Pace};
use super::energy::StoredEnergy;
use super::equations::{Layout, Pooled, Rows};
use super::orders::{FOLD_POINTS, fold, orders};
use super::solve::Normal;

/// Coarse and fine steps of the search for TDC, in crank degrees. The misfit is smooth over tens
/// of degrees, the width of a compression.
const COARSE_STEP: f64 = 5.0;
const FINE_STEP: f64 = 1.0;

/// Rounds of straight lines about the leak; each leaves a third or less of the error of the one
/// before.
const LEAK_ROUNDS: usize = 4;
/// Leaks the straight line is taken about. More than four fifths lost by TDC is a dead cylinder,
/// and no straight line; one tighter than the usual one by more than a fifth is noise.
const LEAK_RANGE: (f64, f64) = (-0.2, 0.8);
/// Search reach for TDC beside a leak found, crank degrees.
const LEAK_REACH: f64 = 6.0;

/// The pull is too weak by up to half where it is fitted to each cycle's own ([`Cycles`]): between
/// that and the double, at a standard deviation from the middle of the two.
const PULL_TOO_WEAK: f64 = 1.5;
const PULL_SD: f64 = 0.5;

impl Anchor {
    /// From a fit by each cycle's own pull. An engine that hardly differs from cylinder to cylinder
    /// shows its starter's pull in little but a small angle; what the fit leaves unexplained may
    /// then be more than that.
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

/// Fits at the shift within `reach` either side of the layout that explains most.
pub(super) fn search(
    cycles: &Cycles,
    tdcs: &Tdcs,
    energies: &[StoredEnergy],
    reach: f64,
) -> Option<Fit> {
    let pooled = pooled(cycles);
    let misfit = |shift: f64| {
        // Compressions slow the crank: a layout half an interval off, fitted with bumps, is no fit.
        solve(cycles, &pooled, (tdcs, energies, shift))
            .filter(|(solution, _)| solution[1] < 0.0)
            .map_or(f64::INFINITY, |(_, misfit)| misfit)
    };
    // What was tried is not tried again: a finer scan falls upon places of the coarser one.
    let mut known: Vec<(f64, f64)> = Vec::new();
    let mut scan = |middle: f64, reach: f64, step: f64| -> Vec<(f64, f64)> {
        let count = (reach / step).ceil() as i32;
        let places = (-count..=count).map(|i| middle + f64::from(i) * step);
        // Side by side, and judged in order.
        let tried: Vec<(f64, f64)> = places
            .collect::<Vec<f64>>()
            .into_par_iter()
            .map(|shift| {
                let before = known.iter().find(|(place, _)| *place == shift);
                before.copied().unwrap_or_else(|| (shift, misfit(shift)))
            })
            .collect();
        known.extend(&tried);
        tried
    };
    let least = |tried: Vec<(f64, f64)>, or: f64| {
        tried.into_iter().min_by(|a, b| a.1.total_cmp(&b.1)).map_or(or, |(shift, _)| shift)
    };
    let coarse = least(scan(0.0, reach, COARSE_STEP), 0.0);
    let fine = least(scan(coarse, COARSE_STEP, FINE_STEP), coarse);
    let around = scan(fine, FINE_STEP, FINE_STEP);
    let (before, at, after) = (around[0].1, around[1].1, around[2].1);
    // Vertex of the parabola through three points.
    let bend = before - 2.0 * at + after;
    let vertex = if bend > 0.0 && bend.is_finite() { 0.5 * (before - after) / bend } else { 0.0 };
    fit_at(cycles, tdcs, energies, fine + vertex.clamp(-1.0, 1.0) * FINE_STEP)
}

/// Refines a fit of tight cylinders, by each cycle's own pull, to one of cylinders that may leak,
/// by the pull of the mean cycle. `pace` is the crank's within the cycle.
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
    let layout = (tdcs, energies, shift);
    let (solution, misfit) = solve(cycles, &pooled(cycles), layout)?;
    let (loss, gain) = (solution[0], -solution[1]);
    let (curve, windows) = (cycles.curve, &cycles.windows[..]);
    let mut relatives = vec![Vec::new(); windows.len()];
    let mut all = Normal::new(unknowns(tdcs.len()));
    let mut residuals = vec![0.0; curve.len()];
    for alike in &cycles.alike {
        let rows = Rows::of(cycles, alike, layout);
        for &cycle in &alike.cycles {
            let of_cycle = rows.of_cycle(cycles, alike, cycle);
            all.join(&of_cycle.normal);
            let own = of_cycle.normal.holding_first(loss).solve()?;
            relatives[cycle] = relative(&own[SHARED - 1..], -gain, energies);
            let left = rows.left(&of_cycle, &solution);
            for (step, left) in windows[cycle].steps.clone().zip(left) {
                residuals[step] = left / curve.weight[step].sqrt();
            }
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

/// All cycles together, by the pull that is fitted.
fn pooled<'a>(cycles: &'a Cycles<'a>) -> Pooled<'a> {
    Pooled::of(cycles, if cycles.anchor.is_some() { &cycles.typical } else { &cycles.pulled })
}

/// Coefficients and misfit of all cycles together.
fn solve(cycles: &Cycles, pooled: &Pooled, layout: Layout) -> Option<(Vec<f64>, f64)> {
    let mut all = pooled.normal(layout);
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

/// Variance of one equation of the pooled fit from what the model leaves unexplained in every cycle
/// alike: tooth errors of the crank wheel, pinion and commutator ripple.
///
/// Such a residual does not average out, so it counts as one cycle's noise. Orders that are
/// multiples of the cylinder count are the same at every cylinder and cannot favour one; orders up
/// to that count are mostly taken up by the fit itself. The level is therefore read between the
/// first and the third multiple, and taken as the level at every order.
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

/// Covariance of the relative compressions, cylinders × cylinders, from the variance of an
/// equation.
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
