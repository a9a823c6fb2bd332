//! Cycles of a curve that have their steps at the same places, and what a fit takes out of each.

use super::curve::{Curve, Window};
use crate::units::CYCLE_DEG;

/// What a cycle's fit takes out of everything before it begins: an offset and a slope over angle,
/// square to each other.
pub(super) struct Line {
    /// The two for each step.
    pub basis: Vec<[f64; 2]>,
    /// Their squares.
    pub squares: [f64; 2],
}

impl Line {
    fn of(curve: &Curve, window: &Window) -> Line {
        let one = |step: usize| {
            let weight = curve.weight[step].sqrt();
            let middle = 0.5 * (curve.from[step] + curve.to[step]);
            [weight, weight * (middle - window.start - CYCLE_DEG / 2.0)]
        };
        let mut basis: Vec<[f64; 2]> = window.steps.clone().map(one).collect();
        let dot = |basis: &[[f64; 2]], a: usize, b: usize| -> f64 {
            basis.iter().map(|of| of[a] * of[b]).sum()
        };
        let overlap = dot(&basis, 0, 1) / dot(&basis, 0, 0).max(f64::MIN_POSITIVE);
        basis.iter_mut().for_each(|of| of[1] -= overlap * of[0]);
        let squares = [0, 1].map(|which| dot(&basis, which, which).max(f64::MIN_POSITIVE));
        Line { basis, squares }
    }

    /// Adds a row to the sums of its columns along offset and slope.
    pub fn add_along(&self, along: &mut [&mut [f64]; 2], place: usize, row: &[f64]) {
        for (along, basis) in along.iter_mut().zip(self.basis[place]) {
            along.iter_mut().zip(row).for_each(|(sum, cell)| *sum += basis * cell);
        }
    }

    /// Takes it out of a column.
    fn take_out_of(&self, column: &mut [f64]) {
        for which in 0..2 {
            let along: f64 =
                self.basis.iter().zip(&*column).map(|(of, cell)| of[which] * cell).sum();
            let along = along / self.squares[which];
            let cells = column.iter_mut().zip(&self.basis);
            cells.for_each(|(cell, of)| *cell -= along * of[which]);
        }
    }
}

/// Cycles whose steps stand at the same places from their beginning, and weigh the same. What the
/// cylinders put into their equations is the same in each, and is worked out once for all of them:
/// on a wheel whose teeth are all seen, and for a lead averaged over steps of even degrees, every
/// cycle is like every other.
pub(super) struct Alike {
    /// Which of the cycles.
    pub cycles: Vec<usize>,
    pub line: Line,
}

/// Steps are at the same place, and weigh the same, up to rounding: in crank degrees, and as a
/// share. After ten minutes angles are rounded to a few billionths of a degree; no wheel's teeth lie
/// so close together.
const ROUNDING: f64 = 1e-6;
/// Kinds of cycle that another is held against, the latest ones. Where nearly all differ, nothing is
/// gained by looking further.
const MOST_KINDS: usize = 32;

impl Alike {
    /// Puts the cycles of a curve together.
    pub fn of(curve: &Curve, windows: &[Window]) -> Vec<Alike> {
        let mut found: Vec<Alike> = Vec::new();
        for (cycle, window) in windows.iter().enumerate() {
            let mut latest = found.iter_mut().rev().take(MOST_KINDS);
            let same = latest.find(|alike| same(curve, &windows[alike.cycles[0]], window));
            match same {
                Some(alike) => alike.cycles.push(cycle),
                None => found.push(Alike { cycles: vec![cycle], line: Line::of(curve, window) }),
            }
        }
        found
    }

    /// A column of one of the cycles, with the line taken out.
    pub fn column(&self, of: &[f64], window: &Window) -> Vec<f64> {
        let cells = of[window.steps.clone()].iter().zip(&self.line.basis);
        let mut column: Vec<f64> = cells.map(|(cell, basis)| cell * basis[0]).collect();
        self.line.take_out_of(&mut column);
        column
    }
}

fn same(curve: &Curve, one: &Window, other: &Window) -> bool {
    let step = |window: &Window, step: usize| {
        [curve.from[step] - window.start, curve.to[step] - window.start, curve.weight[step]]
    };
    one.steps.len() == other.steps.len()
        && one.steps.clone().zip(other.steps.clone()).all(|(a, b)| {
            let ([from, to, weight], b) = (step(one, a), step(other, b));
            (from - b[0]).abs() < ROUNDING
                && (to - b[1]).abs() < ROUNDING
                && (weight - b[2]).abs() <= ROUNDING * weight
        })
}
