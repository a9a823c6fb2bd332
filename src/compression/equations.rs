//! The equations of one cycle: what the cylinders and the starter put into the square of the speed
//! at each step.

use super::alike::{Alike, Line};
use super::contrasts::{SHARED, unknowns};
use super::curve::{Curve, Window};
use super::cycles::Cycles;
use super::energy::{Energies, StoredEnergy};
use super::model::Tdcs;
use super::solve::Normal;
use crate::matrix::dot;

/// Tells what the cylinders put into each equation of a cycle, in order: the row but for its first
/// cell, and the place of the equation. The line is still in it.
fn each_row(
    curve: &Curve,
    window: &Window,
    (tdcs, energies, shift): Layout,
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

/// Where the compressions are taken to be: firing TDCs, the gas of each cylinder, and how much later
/// the layout stands.
pub(super) type Layout<'a> = (&'a Tdcs, &'a [StoredEnergy], f64);

/// All cycles together, up to where TDC is: what does not change with that.
pub(super) struct Pooled<'a> {
    cycles: &'a Cycles<'a>,
    fixed: Vec<Fixed>,
}

/// Of cycles that are alike, with the line taken out.
struct Fixed {
    /// Mean first column, and mean values.
    mean: [Vec<f64>; 2],
    /// Sums over all equations: first column squared, with the values, values squared.
    squares: [f64; 3],
}

impl<'a> Pooled<'a> {
    /// By this pull, of each step of the curve.
    pub fn of(cycles: &'a Cycles<'a>, pull: &[f64]) -> Pooled<'a> {
        let fixed = cycles.alike.iter().map(|alike| {
            let mut mean = [const { Vec::new() }; 2];
            let mut squares = [0.0; 3];
            for &cycle in &alike.cycles {
                let window = &cycles.windows[cycle];
                let columns = [pull, &cycles.curve.square].map(|of| alike.column(of, window));
                let [first, values] = &columns;
                let products = [dot(first, first), dot(first, values), dot(values, values)];
                squares.iter_mut().zip(products).for_each(|(sum, product)| *sum += product);
                for (mean, column) in mean.iter_mut().zip(&columns) {
                    mean.resize(column.len(), 0.0);
                    mean.iter_mut().zip(column).for_each(|(mean, cell)| *mean += cell);
                }
            }
            let count = alike.cycles.len() as f64;
            mean.iter_mut().flatten().for_each(|cell| *cell /= count);
            Fixed { mean, squares }
        });
        Pooled { cycles, fixed: fixed.collect() }
    }

    /// Their normal equations. The line is taken out of the sums and not out of each row: the
    /// energies are as large as they vary, so that nothing is lost by it.
    pub fn normal(&self, layout: Layout) -> Normal {
        let width = unknowns(layout.0.len());
        let mut all = Normal::new(width);
        for (alike, fixed) in self.cycles.alike.iter().zip(&self.fixed) {
            let line = &alike.line;
            let [first, values] = &fixed.mean;
            let mut normal = Normal::new(width);
            let mut along = [vec![0.0; width], vec![0.0; width]];
            let mut whole = vec![0.0; width];
            let window = &self.cycles.windows[alike.cycles[0]];
            each_row(self.cycles.curve, window, layout, line, |place, row| {
                whole[0] = first[place];
                whole[1..].copy_from_slice(row);
                normal.add(&whole, values[place]);
                line.add_along(&mut along.each_mut().map(|along| &mut along[1..]), place, row);
            });
            for (along, square) in along.iter().zip(line.squares) {
                normal.take_out(along, square);
            }
            normal.repeat(alike.cycles.len());
            [normal.matrix[0], normal.right[0], normal.square] = fixed.squares;
            all.join(&normal);
        }
        all
    }
}

/// What the cylinders put into the equations of cycles that are alike: all columns but the first,
/// with the line taken out.
pub(super) struct Rows {
    rows: Vec<f64>,
    width: usize,
    normal: Normal,
}

/// One cycle's equations.
pub(super) struct CycleRows {
    /// First column.
    first: Vec<f64>,
    values: Vec<f64>,
    /// Its normal equations.
    pub normal: Normal,
}

impl Rows {
    /// Of one cycle among them, and so of all.
    pub fn of(cycles: &Cycles, alike: &Alike, layout: Layout) -> Rows {
        let width = unknowns(layout.0.len()) - 1;
        let mut rows = Vec::new();
        let line = &alike.line;
        let mut along = [vec![0.0; width], vec![0.0; width]];
        let window = &cycles.windows[alike.cycles[0]];
        each_row(cycles.curve, window, layout, line, |place, row| {
            rows.extend_from_slice(row);
            line.add_along(&mut along.each_mut().map(|along| &mut along[..]), place, row);
        });
        let mut normal = Normal::new(width);
        for (row, basis) in rows.chunks_exact_mut(width).zip(&line.basis) {
            for ((along, square), basis) in along.iter().zip(line.squares).zip(basis) {
                let cells = row.iter_mut().zip(along);
                cells.for_each(|(cell, along)| *cell -= along / square * basis);
            }
            normal.add(row, 0.0);
        }
        Rows { rows, width, normal }
    }

    /// The equations of one of the cycles, by its own pull.
    pub fn of_cycle(&self, cycles: &Cycles, alike: &Alike, cycle: usize) -> CycleRows {
        let window = &cycles.windows[cycle];
        let first = alike.column(&cycles.pulled, window);
        let values = alike.column(&cycles.curve.square, window);
        let (mut along, mut right) = (vec![dot(&first, &first)], vec![dot(&first, &values)]);
        along.resize(self.width + 1, 0.0);
        right.resize(self.width + 1, 0.0);
        for (row, (first, value)) in self.each().zip(first.iter().zip(&values)) {
            let sums = along[1..].iter_mut().zip(&mut right[1..]).zip(row);
            sums.for_each(|((along, right), cell)| {
                *along += cell * first;
                *right += cell * value;
            });
        }
        let mut normal = self.normal.with_first(&along);
        (normal.right, normal.square) = (right, dot(&values, &values));
        CycleRows { first, values, normal }
    }

    /// What a solution leaves of each equation of a cycle.
    pub fn left<'a>(
        &'a self,
        of: &'a CycleRows,
        solution: &'a [f64],
    ) -> impl Iterator<Item = f64> + 'a {
        self.each()
            .zip(of.first.iter().zip(&of.values))
            .map(|(row, (first, value))| value - (first * solution[0] + dot(row, &solution[1..])))
    }

    fn each(&self) -> impl Iterator<Item = &[f64]> {
        self.rows.chunks_exact(self.width)
    }
}

#[cfg(test)]
mod tests {
    use super::super::curve::{Step, windows};
    use super::super::geometry::tests::shape;
    use super::*;

    /// Four cycles of 10° steps, of which one has two of them in one; speeds by a fixed rule.
    fn curve() -> Curve {
        let mut curve = Curve::default();
        for step in (0..288_u32).filter(|step| *step != 200) {
            let (from, wide) = (10.0 * f64::from(step), step == 199);
            let to = from + if wide { 20.0 } else { 10.0 };
            let speed = 20.0 + 3.0 * (f64::from(step) * 12.9898).sin();
            let (square, raw, weight) = (speed * speed, speed, to - from);
            curve.push(Step { from, to, square, speed, weight, raw });
        }
        curve
    }

    /// Whole cycles that are alike are worked out together, and give what each gives by itself.
    #[test]
    fn cycles_together_are_the_sum_of_each_by_itself() {
        let curve = curve();
        let cycles = Cycles::of(&curve, windows(&curve, 0.0, 2880.0));
        let together: Vec<usize> = cycles.alike.iter().map(|alike| alike.cycles.len()).collect();
        assert_eq!(together, [3, 1]);
        let tdcs = [86.0, 266.0, 446.0, 626.0];
        let tight = vec![StoredEnergy::of(&shape(10.0, 3.5, 130.0)); tdcs.len()];
        let layout: Layout = (&tdcs, &tight, 3.7);
        let pooled = Pooled::of(&cycles, &cycles.pulled).normal(layout);
        let mut each = Normal::new(pooled.unknowns);
        for cycle in 0..cycles.windows.len() {
            let alone = Alike::of(&curve, &cycles.windows[cycle..=cycle]).pop().expect("one cycle");
            let alone = Alike { cycles: vec![cycle], ..alone };
            each.join(&Rows::of(&cycles, &alone, layout).of_cycle(&cycles, &alone, cycle).normal);
        }
        let near = |a: f64, b: f64| (a - b).abs() < 1e-9 * (1.0 + a.abs());
        assert!(near(pooled.square, each.square));
        assert!(pooled.right.iter().zip(&each.right).all(|(a, b)| near(*a, *b)));
        assert!(pooled.matrix.iter().zip(&each.matrix).all(|(a, b)| near(*a, *b)));
    }
}
