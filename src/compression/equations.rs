//! The equations of one cycle: what the cylinders and the starter put into the square of the speed
//! at each step.

use super::contrasts::{SHARED, unknowns};
use super::curve::{Curve, Window};
use super::cycles::Cycles;
use super::energy::{Energies, StoredEnergy};
use super::model::Tdcs;
use super::solve::Normal;
use crate::units::CYCLE_DEG;

/// A cycle's equations with its own offset and slope already taken out.
pub(super) struct Rows {
    pub rows: Vec<f64>,
    pub values: Vec<f64>,
    pub width: usize,
}

/// What a cycle's fit takes out of everything before it begins: an offset and a slope over angle,
/// square to each other.
struct Line {
    /// The two for each step.
    basis: Vec<[f64; 2]>,
    /// Their squares.
    squares: [f64; 2],
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
    fn add_along(&self, along: &mut [&mut [f64]; 2], place: usize, row: &[f64]) {
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

/// The values of a cycle's equations and their first column, which stay where TDC is looked for,
/// with the line taken out.
fn fixed_columns(cycles: &Cycles, pulled: &[f64], window: &Window, line: &Line) -> [Vec<f64>; 2] {
    let curve = cycles.curve;
    let weighted = |of: &[f64]| {
        let cells = window.steps.clone().zip(&line.basis);
        let mut column: Vec<f64> = cells.map(|(step, basis)| of[step] * basis[0]).collect();
        line.take_out_of(&mut column);
        column
    };
    [weighted(&curve.square), weighted(pulled)]
}

/// Tells what the cylinders put into each equation of a cycle, in order: the row but for its first
/// cell, and the place of the equation. The line is still in it.
fn each_row(
    curve: &Curve,
    window: &Window,
    (tdcs, energies, shift): (&Tdcs, &[StoredEnergy], f64),
    line: &Line,
    mut tell: impl FnMut(usize, &[f64]),
) {
    let others = tdcs.len() - 1;
    let mut row = vec![0.0; unknowns(tdcs.len()) - 1];
    // A step mostly begins where the one before it ended.
    let mut reached = vec![(f64::NAN, Energies::default()); tdcs.len()];
    for (place, step) in window.steps.clone().enumerate() {
        let (from, to) = (curve.from[step], curve.to[step]);
        let weight = line.basis[place][0];
        let mut net = 0.0;
        let (trapped, leaked) = row[SHARED - 1..].split_at_mut(others);
        let mut last = Energies::default();
        for (index, (tdc, energy)) in tdcs.iter().zip(energies).enumerate() {
            let up_to = |angle: f64| energy.up_to(angle - (tdc + shift));
            let before = if reached[index].0 == from { reached[index].1 } else { up_to(from) };
            reached[index] = (to, up_to(to));
            let one = Energies::mean(before, reached[index].1, to - from);
            net += one.net;
            if index < others {
                (trapped[index], leaked[index]) = (one.gross, one.leaked);
            }
            last = one;
        }
        trapped.iter_mut().for_each(|cell| *cell = (*cell - last.gross) * weight);
        leaked.iter_mut().for_each(|cell| *cell = (*cell - last.leaked) * weight);
        row[0] = net * weight;
        tell(place, &row);
    }
}

/// The normal equations of a cycle. The line is taken out of the sums and not out of each row: the
/// energies are as large as they vary, so that nothing is lost by it.
pub(super) fn cycle_normal(
    cycles: &Cycles,
    pulled: &[f64],
    window: &Window,
    tdcs: &Tdcs,
    energies: &[StoredEnergy],
    shift: f64,
) -> Normal {
    let line = Line::of(cycles.curve, window);
    let [values, first] = fixed_columns(cycles, pulled, window, &line);
    let width = unknowns(tdcs.len());
    let mut normal = Normal::new(width);
    let mut along = [vec![0.0; width], vec![0.0; width]];
    let mut whole = vec![0.0; width];
    each_row(cycles.curve, window, (tdcs, energies, shift), &line, |place, row| {
        whole[0] = first[place];
        whole[1..].copy_from_slice(row);
        normal.add(&whole, values[place]);
        line.add_along(&mut along.each_mut().map(|along| &mut along[1..]), place, row);
    });
    for (along, square) in along.iter().zip(line.squares) {
        normal.take_out(along, square);
    }
    normal
}

pub(super) fn cycle_rows(
    cycles: &Cycles,
    pulled: &[f64],
    window: &Window,
    tdcs: &Tdcs,
    energies: &[StoredEnergy],
    shift: f64,
) -> Rows {
    let line = Line::of(cycles.curve, window);
    let [values, first] = fixed_columns(cycles, pulled, window, &line);
    let width = unknowns(tdcs.len());
    let mut rows = Vec::with_capacity(values.len() * width);
    let mut along = [vec![0.0; width - 1], vec![0.0; width - 1]];
    each_row(cycles.curve, window, (tdcs, energies, shift), &line, |place, row| {
        rows.push(first[place]);
        rows.extend_from_slice(row);
        line.add_along(&mut along.each_mut().map(|along| &mut along[..]), place, row);
    });
    for (row, basis) in rows.chunks_exact_mut(width).zip(&line.basis) {
        for ((along, square), basis) in along.iter().zip(line.squares).zip(basis) {
            let cells = row[1..].iter_mut().zip(along);
            cells.for_each(|(cell, along)| *cell -= along / square * basis);
        }
    }
    Rows { rows, values, width }
}

impl Rows {
    pub fn normal(&self) -> Normal {
        let mut normal = Normal::new(self.width);
        for (row, &value) in self.rows.chunks_exact(self.width).zip(&self.values) {
            normal.add(row, value);
        }
        normal
    }
}
