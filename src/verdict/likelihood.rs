//! Density of all readings together under one explanation.
//!
//! Readings are `mean + a · pattern + own amounts + normal error`, each known modulo its
//! period. Let Σ be the covariance of the normal error. The shared amount `a` (a
//! worn chain, say) is integrated by completing the square: with z = L⁻¹r and q = L⁻¹p,
//! Σ = LLᵀ, the readings pin `a` at q·z / q·q with variance 1 / q·q. An amount that moves one
//! row alone (a phaser) is integrated given the rows that have none; when both kinds
//! are present the shared one is summed by Simpson's rule. Two passes of the datum, images of a
//! repeating wheel and outliers are summed over.

use super::density::{LOG_ROOT_TWO_PI, log_sum};
use super::hypotheses::{EffectPrior, Model};
use super::readings::{Character, Row, RowKind, Rows, errors, wrap};
use crate::matrix::{Cholesky, dot};

/// Longest step of Simpson's rule, crank degrees: finer than the least standard deviation any cam
/// row has (build scatter alone).
const SIMPSON_STEP: f64 = 0.45;

/// Images of a repeating reading summed either side.
const IMAGES: i32 = 2;

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
    let total = log_sum(worthless(rows, &worths).into_iter().map(|outliers| {
        let weight: f64 = outliers.iter().map(|&row| worths[row].outlier - worths[row].sound).sum();
        // A set of outliers that is impossible needs no density.
        if weight == f64::NEG_INFINITY {
            return weight;
        }
        sound + weight + without(rows, model, &outliers)
    }));
    total - (rows.passes.len() as f64).ln()
}

/// Every set of rows that may be worthless together.
fn worthless(rows: &Rows, worths: &[Worth]) -> Vec<Vec<usize>> {
    let suspect = |&row: &usize| worths[row].log_odds(&rows.list[row]) >= SUSPECT.ln();
    let mut suspects: Vec<usize> = (0..rows.list.len()).filter(suspect).collect();
    suspects.truncate(MOST_SUSPECTS);
    let others: Vec<usize> = (0..rows.list.len()).filter(|row| !suspects.contains(row)).collect();
    let mut sets = Vec::new();
    for mask in 0..1usize << suspects.len() {
        let set: Vec<usize> = (0..suspects.len())
            .filter(|bit| mask >> bit & 1 == 1)
            .map(|bit| suspects[bit])
            .collect();
        sets.extend(others.iter().map(|&other| {
            let mut with = set.clone();
            with.push(other);
            with
        }));
        sets.push(set);
    }
    sets
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

/// Density of the rows but some, summed over the passes.
fn without(rows: &Rows, model: &Model, outliers: &[usize]) -> f64 {
    let present = |row: &usize| !outliers.contains(row);
    let is_own = |row: usize| model.own.iter().any(|(own, _)| *own == row);
    let fixed: Vec<usize> =
        (0..rows.list.len()).filter(present).filter(|&row| !is_own(row)).collect();
    let Some(split) = Split::new(rows, model, fixed, outliers) else { return f64::NEG_INFINITY };
    let of = |&(later, chance): &(f64, f64)| {
        let at = |pass: f64, naming: f64| {
            chance.ln() + split.density(rows, model, Datum { pass, later, naming })
        };
        let both = |&pass: &f64| log_sum(rows.namings.iter().map(|&naming| at(pass, naming)));
        log_sum(rows.passes.iter().map(both)) - (rows.namings.len() as f64).ln()
    };
    log_sum(rows.edges.iter().map(of))
}

/// A row with an amount of its own, given the rows without.
struct OwnRow<'a> {
    row: usize,
    /// L⁻¹k, k its covariance with the fixed rows.
    link: Vec<f64>,
    /// Its standard deviation given them.
    sd: f64,
    amounts: &'a [(f64, EffectPrior)],
}

/// The covariance, factored: everything that does not depend on the pass.
struct Split<'a> {
    fixed: Vec<usize>,
    factor: Cholesky,
    own: Vec<OwnRow<'a>>,
    /// L⁻¹p of the shared amount.
    slope: Vec<f64>,
}

impl<'a> Split<'a> {
    fn new(rows: &Rows, model: &'a Model, fixed: Vec<usize>, outliers: &[usize]) -> Option<Self> {
        let roughly = effects_known_roughly(rows, model);
        let covariance = |a: usize, b: usize| {
            rows.covariance(a, b, &model.normal) + if a == b { roughly[a] } else { 0.0 }
        };
        let factor = Cholesky::new(fixed.len(), 0.0, |a, b| covariance(fixed[a], fixed[b]))?;
        let own =
            model.own.iter().filter(|(row, _)| !outliers.contains(row)).map(|(row, amounts)| {
                let link = factor
                    .solve_lower(fixed.iter().map(|&other| covariance(*row, other)).collect());
                let variance =
                    (covariance(*row, *row) - dot(&link, &link)).max(rows.list[*row].variance);
                OwnRow { row: *row, link, sd: variance.sqrt(), amounts }
            });
        let own = own.collect();
        let slope = model.shared.as_ref().map_or(vec![], |(pattern, _)| {
            factor.solve_lower(fixed.iter().map(|&row| pattern[row]).collect())
        });
        Some(Split { fixed, factor, own, slope })
    }

    fn density(&self, rows: &Rows, model: &Model, datum: Datum) -> f64 {
        let left = unwrapped(rows, model, datum, &self.fixed);
        let flat = self.factor.solve_lower(self.fixed.iter().map(|&row| left[row]).collect());
        let scale = -self.factor.log_root_determinant() - self.fixed.len() as f64 * LOG_ROOT_TWO_PI;
        let Some((pattern, amount)) = &model.shared else {
            return scale - 0.5 * dot(&flat, &flat) + self.own_density(rows, &left, &flat);
        };
        let stiffness = dot(&self.slope, &self.slope);
        if self.own.is_empty() {
            // Rows that the amount does not touch say nothing about it.
            if stiffness < 1e-12 {
                return scale - 0.5 * dot(&flat, &flat);
            }
            let pull = dot(&self.slope, &flat);
            let rest = (dot(&flat, &flat) - pull * pull / stiffness).max(0.0);
            let sd = stiffness.sqrt().recip();
            // N(z − aq) = exp(−rest/2) · exp(−(a − â)²/2sd²); the latter is sd√2π times a density.
            return scale - 0.5 * rest
                + sd.ln()
                + LOG_ROOT_TWO_PI
                + amount.log_density(pull / stiffness, sd);
        }
        simpson(amount.range(), |a| {
            let flat: Vec<f64> = flat.iter().zip(&self.slope).map(|(z, q)| z - a * q).collect();
            let left: Vec<f64> = left.iter().zip(pattern).map(|(r, p)| r - a * p).collect();
            scale + amount.log_prior(a) - 0.5 * dot(&flat, &flat)
                + self.own_density(rows, &left, &flat)
        })
    }

    /// Density of the rows with an amount of their own, given the others.
    fn own_density(&self, rows: &Rows, left: &[f64], flat: &[f64]) -> f64 {
        let one = |own: &OwnRow| {
            let x = left[own.row] - dot(&own.link, flat);
            let period = rows.list[own.row].period;
            log_sum(own.amounts.iter().map(|&(weight, amount)| {
                weight.ln() + repeated(x, period, |x| amount.log_density(x, own.sd), amount)
            }))
        };
        self.own.iter().map(one).sum()
    }
}

/// Sums a density over the images of a reading that repeats.
fn repeated(
    x: f64,
    period: Option<f64>,
    log_density: impl Fn(f64) -> f64,
    amount: EffectPrior,
) -> f64 {
    let Some(period) = period else { return log_density(x) };
    let (from, to) = amount.range();
    let centre = if matches!(amount, EffectPrior::Bell { .. }) { 0.0 } else { (from + to) / 2.0 };
    let x = centre + wrap(x - centre, Some(period));
    log_sum((-IMAGES..=IMAGES).map(|image| log_density(x + f64::from(image) * period)))
}

/// What is left of each reading after the fixed effect, in the half period about zero; rows
/// whose common place is unknown are unwrapped about the first of them.
fn unwrapped(rows: &Rows, model: &Model, datum: Datum, fixed: &[usize]) -> Vec<f64> {
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
    let anchor = |of: &dyn Fn(usize) -> bool| fixed.iter().copied().find(|&row| of(row));
    let moved = |row: usize| {
        let mut patterns =
            model.shared.iter().map(|(p, _)| p).chain(model.normal.iter().map(|(p, _)| p));
        patterns.any(|pattern| pattern[row] != 0.0)
    };
    for row in 0..left.len() {
        let group = rows.list[row].unreferenced;
        let with_all = match rows.list[row].kind {
            RowKind::Cam(_) => true,
            RowKind::Tdc => moved(row),
            RowKind::Compression | RowKind::Valve { .. } | RowKind::Learned(_) => false,
        };
        let first = match group {
            Some(_) => anchor(&|other| rows.list[other].unreferenced == group),
            // TDC is seen from the crank's wheel as the cams are: what moves all of them moves it.
            None if model.together && with_all => anchor(&|other| {
                matches!(rows.list[other].kind, RowKind::Cam(_))
                    && rows.list[other].unreferenced.is_none()
            }),
            None => None,
        };
        if let Some(first) = first {
            left[row] = left[first] + wrap(left[row] - left[first], rows.list[row].period);
        }
    }
    left
}

/// Variance that a supposed shift adds to each row because the size of its effect is known roughly:
/// of compression, where the error grows with the shift that is supposed.
fn effects_known_roughly(rows: &Rows, model: &Model) -> Vec<f64> {
    let of = |row: usize| {
        if rows.list[row].kind != RowKind::Compression {
            return 0.0;
        }
        let shared =
            model.shared.as_ref().map_or(0.0, |(pattern, amount)| pattern[row] * amount.usual());
        (errors::COMPRESSION_MODEL_ERROR * (model.mean[row] + shared)).powi(2)
    };
    (0..rows.list.len()).map(of).collect()
}

/// log ∫ exp(f) by Simpson's rule.
fn simpson((from, to): (f64, f64), log_f: impl Fn(f64) -> f64) -> f64 {
    let intervals = 2 * ((to - from) / (2.0 * SIMPSON_STEP)).ceil().max(1.0) as usize;
    let step = (to - from) / intervals as f64;
    let node = |i: usize| {
        let weight: f64 = match i {
            _ if i == 0 || i == intervals => 1.0,
            odd if odd % 2 == 1 => 4.0,
            _ => 2.0,
        };
        (weight * step / 3.0).ln() + log_f(from + i as f64 * step)
    };
    log_sum((0..=intervals).map(node))
}
