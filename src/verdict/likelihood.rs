//! Density of all readings together under one explanation.
//!
//! Readings are `mean + a · pattern + own amounts + normal error`, each known modulo its
//! period. Let Σ be the covariance of the normal error. The shared amount `a` (a
//! worn chain, say) is integrated by completing the square: with z = L⁻¹r and q = L⁻¹p,
//! Σ = LLᵀ, the readings pin `a` at q·z / q·q with variance 1 / q·q. An amount that moves one
//! row alone (a phaser) is integrated given the rows that have none; when both kinds
//! are present the shared one is summed by Simpson's rule. Two passes of the datum, images of a
//! repeating wheel and outliers are summed over; `factored.rs` has the densities themselves.

use super::density::log_sum;
use super::factored::{Out, Seen, Split, Without};
use super::hypotheses::Model;
use super::readings::{Character, Row, RowKind, Rows, wrap};

/// A reading that may be worthless this often is a suspect: several suspects may be so at once. Of
/// the others one at most is, which leaves out chances below a ten-thousandth.
const SUSPECT: f64 = 0.01;
/// Most suspects summed over in every combination.
const MOST_SUSPECTS: usize = 6;

/// What a row adds when its place means something, and when it means nothing.
#[derive(Debug, Clone, Copy)]
struct Worth {
    sound: f64,
    outlier: f64,
}

impl Worth {
    fn new(row: &Row, character: Character) -> Worth {
        let real = (1.0 - row.outlier).ln() + character.real;
        let sound = (1.0 - row.misregistered).ln() + real;
        // A wheel recognised the wrong way round still shows its edges as a wheel does.
        let outlier =
            log_sum([row.outlier.ln() + character.outlier, row.misregistered.ln() + real]);
        Worth { sound, outlier: outlier + row.outlier_density.ln() }
    }

    /// Log odds of an outlier, its place apart.
    fn log_odds(self, row: &Row) -> f64 {
        self.outlier - row.outlier_density.ln() - self.sound
    }
}

/// Log density of the rows; `characters` of the first rows' signals, in their order.
pub(super) fn log_likelihood(rows: &Rows, model: &Model, characters: &[Character]) -> f64 {
    let worths: Vec<Worth> = rows
        .list
        .iter()
        .enumerate()
        .map(|(row, of)| Worth::new(of, characters.get(row).copied().unwrap_or_default()))
        .collect();
    let sound: f64 = worths.iter().map(|worth| worth.sound).sum();
    let less = |row: &usize| worths[*row].outlier - worths[*row].sound;
    let suspect = |&row: &usize| worths[row].log_odds(&rows.list[row]) >= SUSPECT.ln();
    let mut suspects: Vec<usize> = (0..rows.list.len()).filter(suspect).collect();
    suspects.truncate(MOST_SUSPECTS);
    // An outlier that is impossible needs no density.
    let others: Vec<usize> = (0..rows.list.len())
        .filter(|row| !suspects.contains(row) && less(row) > f64::NEG_INFINITY)
        .collect();
    let total = log_sum(subsets(&suspects).flat_map(|base| {
        let weight: f64 = sound + base.iter().map(less).sum::<f64>();
        let found = densities(rows, model, &base, &others);
        let also = [0.0].into_iter().chain(others.iter().map(less));
        found
            .into_iter()
            .zip(also)
            .map(move |(density, less)| weight + less + density)
            .collect::<Vec<f64>>()
    }));
    total - (rows.passes.len() as f64).ln()
}

/// Every choice of some of these rows, or of none.
fn subsets(of: &[usize]) -> impl Iterator<Item = Vec<usize>> {
    (0..1usize << of.len()).map(|mask| {
        let chosen = of.iter().enumerate().filter(|(bit, _)| mask >> bit & 1 == 1);
        chosen.map(|(_, &row)| row).collect()
    })
}

/// Log density of the rows but those in `base`, and of the same with one more left out, each of
/// `others` in turn; each summed over what the datum may be taken for.
fn densities(rows: &Rows, model: &Model, base: &[usize], others: &[usize]) -> Vec<f64> {
    let alone = |more: usize| densities(rows, model, &[base, &[more]].concat(), &[])[0];
    let Some(split) = Split::new(rows, model, base) else {
        let without = others.iter().map(|&more| alone(more));
        return [f64::NEG_INFINITY].into_iter().chain(without).collect();
    };
    let anchors = anchors(rows, model, &split.fixed);
    let outs: Vec<Option<Out>> = others.iter().map(|&row| split.out(row, &anchors)).collect();
    // What is asked of the factored rows: as they are, and without each that can be taken out.
    let asked: Vec<Out> =
        [Out::Nothing].into_iter().chain(outs.iter().copied().flatten()).collect();
    let sets: Vec<Without> = asked.iter().map(|&out| Without::new(&split, out)).collect();
    let mut summed: Vec<Vec<f64>> = vec![Vec::new(); asked.len()];
    let namings = (rows.namings.len() as f64).ln();
    for &(later, chance) in &rows.edges {
        for &pass in &rows.passes {
            for &naming in &rows.namings {
                let left = unwrapped(rows, model, Datum { pass, later, naming }, &anchors);
                let seen = Seen::new(&split, &left);
                for (without, terms) in sets.iter().zip(&mut summed) {
                    let density = without.density(rows, model, &split, &left, &seen);
                    terms.push(chance.ln() - namings + density);
                }
            }
        }
    }
    let mut summed = summed.into_iter().map(log_sum);
    let whole = summed.next().unwrap_or(f64::NEG_INFINITY);
    let each = others.iter().zip(&outs).map(|(&row, out)| match out {
        Some(_) => summed.next().unwrap_or(f64::NEG_INFINITY),
        None => alone(row),
    });
    let each: Vec<f64> = each.collect();
    [whole].into_iter().chain(each).collect()
}

/// What the crank's datum is taken for, and which bank for the lower one: readings are this pass
/// too large, and this much later by the edge that marks the teeth.
#[derive(Debug, Clone, Copy)]
struct Datum {
    pass: f64,
    later: f64,
    /// Sign of the bank difference of compression.
    naming: f64,
}

/// What is left of each reading after the fixed effect, in the half period about zero; rows
/// whose common place is unknown are unwrapped about their anchor.
fn unwrapped(rows: &Rows, model: &Model, datum: Datum, anchors: &[Option<usize>]) -> Vec<f64> {
    let mut left: Vec<f64> = Vec::with_capacity(rows.list.len());
    for (row, mean) in rows.list.iter().zip(&model.mean) {
        let misread = match row.kind {
            RowKind::Cam(_) => datum.pass - datum.later,
            RowKind::Tdc => -datum.later,
            RowKind::Valve { .. } | RowKind::Learned(_) => 0.0,
            RowKind::Compression => 0.0,
        };
        let sign = if row.kind == RowKind::Compression { datum.naming } else { 1.0 };
        left.push(wrap(sign * row.reading - misread - mean, row.period));
    }
    for (row, anchor) in anchors.iter().enumerate() {
        if let Some(first) = *anchor {
            left[row] = left[first] + wrap(left[row] - left[first], rows.list[row].period);
        }
    }
    left
}

/// The row about which each is unwrapped: the first of those whose common place is unknown, or of
/// those that a model moves together; none for a row that stands by itself.
fn anchors(rows: &Rows, model: &Model, fixed: &[usize]) -> Vec<Option<usize>> {
    let anchor = |of: &dyn Fn(usize) -> bool| fixed.iter().copied().find(|&row| of(row));
    let moved = |row: usize| {
        let mut patterns =
            model.shared.iter().map(|(p, _)| p).chain(model.normal.iter().map(|(p, _)| p));
        patterns.any(|pattern| pattern[row] != 0.0)
    };
    let of = |row: usize| {
        let group = rows.list[row].unreferenced;
        let with_all = match rows.list[row].kind {
            RowKind::Cam(_) => true,
            RowKind::Tdc => moved(row),
            RowKind::Compression | RowKind::Valve { .. } | RowKind::Learned(_) => false,
        };
        match group {
            Some(_) => anchor(&|other| rows.list[other].unreferenced == group),
            // TDC is seen from the crank's wheel as the cams are: what moves all of them moves it.
            None if model.together && with_all => anchor(&|other| {
                matches!(rows.list[other].kind, RowKind::Cam(_))
                    && rows.list[other].unreferenced.is_none()
            }),
            None => None,
        }
    };
    (0..rows.list.len()).map(of).collect()
}
