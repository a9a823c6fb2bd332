//! The density of readings whose error is normal, factored once: without any one row it needs no
//! second factoring.
//!
//! All that is asked of the covariance Σ are the forms B(u, v) = uᵀΣ⁻¹v. Without row i they are
//!
//! ```text
//! B(u, v) − (Σ⁻¹u)ᵢ (Σ⁻¹v)ᵢ / (Σ⁻¹)ᵢᵢ      log det: log det Σ + log (Σ⁻¹)ᵢᵢ
//! ```
//!
//! which is the inverse of a block matrix by its Schur complement (Golub and Van Loan, *Matrix
//! Computations*, section 2.1.4).

use super::density::LOG_ROOT_TWO_PI;
use super::hypotheses::{EffectPrior, Model};
use super::readings::{RowKind, Rows, errors, wrap};
use crate::matrix::{Cholesky, dot};
use crate::stats::log_sum;

/// Longest step of Simpson's rule, crank degrees: finer than the least standard deviation any cam
/// row has (build scatter alone).
const SIMPSON_STEP: f64 = 0.45;

/// Images of a repeating reading summed either side.
const IMAGES: i32 = 2;

/// A term whose logarithm is this far below another's adds nothing to a sum of a few hundred in 15
/// digits, whatever small factors were left out of account: e⁻⁶⁰ is 10⁻²⁶.
pub(super) const NEGLIGIBLE: f64 = 60.0;

/// More, as a logarithm, than Simpson's rule makes too much of a density that sums to 1: of a bell
/// curve on three nodes 4 standard deviations apart it makes 2.13, of anything wider less.
const SIMPSON_OVER: f64 = 1.0;

/// A vector over the fixed rows, and Σ⁻¹ times it.
struct Over {
    whole: Vec<f64>,
    solved: Vec<f64>,
}

impl Over {
    fn new(factor: &Cholesky, whole: Vec<f64>) -> Over {
        Over { solved: factor.solve(whole.clone()), whole }
    }
}

/// A row with an amount of its own, given the rows without.
struct OwnRow<'a> {
    row: usize,
    /// Its covariance with the fixed rows.
    link: Over,
    /// Its own variance.
    variance: f64,
    amounts: &'a [(f64, EffectPrior)],
}

/// The covariance, factored: everything that does not depend on the pass.
pub(super) struct Split<'a> {
    /// Rows without an amount of their own.
    pub(super) fixed: Vec<usize>,
    factor: Cholesky,
    /// (Σ⁻¹)ᵢᵢ of each fixed row.
    precision: Vec<f64>,
    own: Vec<OwnRow<'a>>,
    /// What the shared amount does to the fixed rows.
    slope: Option<Over>,
}

impl<'a> Split<'a> {
    /// The rows but those left out; `None` where their covariance is none.
    pub(super) fn new(rows: &Rows, model: &'a Model, outliers: &[usize]) -> Option<Self> {
        let present = |row: &usize| !outliers.contains(row);
        let is_own = |row: usize| model.own.iter().any(|(own, _)| *own == row);
        let fixed: Vec<usize> =
            (0..rows.list.len()).filter(present).filter(|&row| !is_own(row)).collect();
        let roughly = effects_known_roughly(rows, model);
        let covariance = |a: usize, b: usize| {
            rows.covariance(a, b, &model.normal) + if a == b { roughly[a] } else { 0.0 }
        };
        let factor = Cholesky::new(fixed.len(), 0.0, |a, b| covariance(fixed[a], fixed[b]))?;
        let own = model.own.iter().filter(|(row, _)| present(row)).map(|(row, amounts)| OwnRow {
            row: *row,
            link: Over::new(&factor, fixed.iter().map(|&other| covariance(*row, other)).collect()),
            variance: covariance(*row, *row),
            amounts,
        });
        let own = own.collect();
        let slope = model.shared.as_ref().map(|(pattern, _)| {
            Over::new(&factor, fixed.iter().map(|&row| pattern[row]).collect())
        });
        let precision = factor.inverse_diagonal();
        Some(Split { fixed, factor, precision, own, slope })
    }

    /// How a row is taken out; `None` where others are unwrapped about it, so that without it they
    /// read otherwise.
    pub(super) fn out(&self, row: usize, anchors: &[Option<usize>]) -> Option<Out> {
        if let Some(own) = self.own.iter().position(|own| own.row == row) {
            return Some(Out::Own(own));
        }
        let anchors_others = anchors.contains(&Some(row));
        let at = self.fixed.iter().position(|&fixed| fixed == row)?;
        (!anchors_others).then_some(Out::Fixed(at))
    }
}

/// What is taken out of the factored rows.
#[derive(Debug, Clone, Copy)]
pub(super) enum Out {
    Nothing,
    /// The fixed row in this place.
    Fixed(usize),
    /// The row with an amount of its own in this place.
    Own(usize),
}

/// What a reading shows over the fixed rows.
pub(super) struct Seen {
    left: Over,
    /// B(left, left).
    square: f64,
    /// B(left, slope).
    pull: f64,
    /// B(left, link) of each row with an amount of its own.
    links: Vec<f64>,
}

impl Seen {
    /// `left` of every row, in their order.
    pub(super) fn new(split: &Split, left: &[f64]) -> Seen {
        let left = Over::new(&split.factor, split.fixed.iter().map(|&row| left[row]).collect());
        let square = dot(&left.whole, &left.solved);
        let pull = split.slope.as_ref().map_or(0.0, |slope| dot(&slope.whole, &left.solved));
        let links = split.own.iter().map(|own| dot(&own.link.whole, &left.solved)).collect();
        Seen { left, square, pull, links }
    }
}

/// A row with an amount of its own, without the row that is taken out.
struct OwnForms {
    /// In the split's order.
    at: usize,
    /// Its standard deviation given the fixed rows.
    sd: f64,
    /// What its log density cannot pass.
    highest: f64,
    /// B(slope, link).
    slope: f64,
}

/// The factored rows without what is taken out: all that does not depend on the pass.
pub(super) struct Without {
    out: Out,
    scale: f64,
    /// B(slope, slope).
    stiffness: f64,
    own: Vec<OwnForms>,
}

impl Without {
    pub(super) fn new(rows: &Rows, split: &Split, out: Out) -> Without {
        let form = |u: &Over, v: &Over| dot(&u.whole, &v.solved) - taken(split, out, u, v);
        let (left, more) = match out {
            Out::Fixed(at) => (split.fixed.len() - 1, 0.5 * split.precision[at].ln()),
            Out::Nothing | Out::Own(_) => (split.fixed.len(), 0.0),
        };
        let own = split.own.iter().enumerate();
        let own = own.filter(|(at, _)| !matches!(out, Out::Own(own) if own == *at));
        let own = own.map(|(at, one)| {
            let given = (one.variance - form(&one.link, &one.link)).max(0.0).sqrt();
            let sd = given.max(rows.list[one.row].variance.sqrt());
            let slope = split.slope.as_ref().map_or(0.0, |slope| form(slope, &one.link));
            OwnForms { at, sd, highest: highest(one.amounts, sd), slope }
        });
        Without {
            out,
            scale: -split.factor.log_root_determinant() - more - left as f64 * LOG_ROOT_TWO_PI,
            stiffness: split.slope.as_ref().map_or(0.0, |slope| form(slope, slope)),
            own: own.collect(),
        }
    }

    /// Log density of the readings that are left in; `left` of every row. Where it is less than
    /// `least`, it may be anything from what it is up to that.
    pub(super) fn density(
        &self,
        rows: &Rows,
        model: &Model,
        split: &Split,
        (left, seen): (&[f64], &Seen),
        least: f64,
    ) -> f64 {
        let off = |v: &Over| taken(split, self.out, &seen.left, v);
        let square = (seen.square - off(&seen.left)).max(0.0);
        let pull = split.slope.as_ref().map_or(0.0, |slope| seen.pull - off(slope));
        // No density is above that of its error alone, and none above that at the amount that fits
        // best: by no more than Simpson's weights may sum to more than 1.
        let fits = if self.stiffness > 0.0 { pull * pull / self.stiffness } else { 0.0 };
        let own: f64 = self.own.iter().map(|own| own.highest).sum();
        let ceiling = self.scale - 0.5 * (square - fits).max(0.0) + own + SIMPSON_OVER;
        if ceiling < least {
            return ceiling;
        }
        let links: Vec<f64> =
            self.own.iter().map(|own| seen.links[own.at] - off(&split.own[own.at].link)).collect();
        let own_density = |a: f64, pattern: Option<&[f64]>| -> f64 {
            let one = |(own, link): (&OwnForms, &f64)| {
                let OwnRow { row, amounts, .. } = &split.own[own.at];
                let sd = own.sd;
                let moved = pattern.map_or(0.0, |pattern| a * (own.slope - pattern[*row]));
                let x = left[*row] - link + moved;
                let period = rows.list[*row].period;
                log_sum(
                    amounts.iter().map(|&(weight, of)| weight.ln() + repeated(x, sd, period, of)),
                )
            };
            self.own.iter().zip(&links).map(one).sum()
        };
        let Some((pattern, amount)) = &model.shared else {
            return self.scale - 0.5 * square + own_density(0.0, None);
        };
        if self.own.is_empty() {
            // Rows that the amount does not touch say nothing about it.
            if self.stiffness < 1e-12 {
                return self.scale - 0.5 * square;
            }
            let rest = (square - pull * pull / self.stiffness).max(0.0);
            let sd = self.stiffness.sqrt().recip();
            // N(z − aq) = exp(−rest/2) · exp(−(a − â)²/2sd²); the latter is sd√2π times a density.
            return self.scale - 0.5 * rest
                + sd.ln()
                + LOG_ROOT_TWO_PI
                + amount.log_density(pull / self.stiffness, sd);
        }
        simpson(
            amount.range(),
            |a| {
                let square = (square - 2.0 * a * pull + a * a * self.stiffness).max(0.0);
                self.scale + amount.log_prior(a) - 0.5 * square
            },
            own,
            |a| own_density(a, Some(pattern)),
        )
    }
}

/// What the log density of a row with amounts of its own and this standard deviation cannot pass.
fn highest(amounts: &[(f64, EffectPrior)], sd: f64) -> f64 {
    let weights: f64 = amounts.iter().map(|(weight, _)| weight).sum();
    let images = f64::from(2 * IMAGES + 1);
    (weights * images).ln() - sd.ln() - LOG_ROOT_TWO_PI
}

/// What B(u, v) has of the row that is taken out.
fn taken(split: &Split, out: Out, u: &Over, v: &Over) -> f64 {
    match out {
        Out::Fixed(at) => u.solved[at] * v.solved[at] / split.precision[at],
        Out::Nothing | Out::Own(_) => 0.0,
    }
}

/// Sums a density over the images of a reading that repeats.
fn repeated(x: f64, sd: f64, period: Option<f64>, amount: EffectPrior) -> f64 {
    let log_density = |x: f64| amount.log_density(x, sd);
    let Some(period) = period else { return log_density(x) };
    // Standard deviations beyond all that the amount may be.
    let ((from, to), spread) = match amount {
        EffectPrior::Bell { sd: wide } => ((0.0, 0.0), sd.hypot(wide)),
        _ => (amount.range(), sd),
    };
    let beyond = |x: f64| (from - x).max(x - to).max(0.0) / spread;
    let centre = f64::midpoint(from, to);
    let x = centre + wrap(x - centre, Some(period));
    let near = beyond(x).powi(2);
    let images = (-IMAGES..=IMAGES).map(|image| x + f64::from(image) * period);
    let counts = images.filter(|&image| beyond(image).powi(2) - near < 2.0 * NEGLIGIBLE);
    log_sum(counts.map(log_density))
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

/// log ∫ exp(f + g) by Simpson's rule, where g is nowhere above its ceiling and is asked for only
/// where the sum is not negligible beside its value where f is greatest.
fn simpson(
    (from, to): (f64, f64),
    log_f: impl Fn(f64) -> f64,
    ceiling: f64,
    log_g: impl Fn(f64) -> f64,
) -> f64 {
    let intervals = 2 * ((to - from) / (2.0 * SIMPSON_STEP)).ceil().max(1.0) as usize;
    let step = (to - from) / intervals as f64;
    let at = |i: usize| from + i as f64 * step;
    let node = |i: usize| {
        let weight: f64 = match i {
            _ if i == 0 || i == intervals => 1.0,
            odd if odd % 2 == 1 => 4.0,
            _ => 2.0,
        };
        (weight * step / 3.0).ln() + log_f(at(i))
    };
    let ground: Vec<f64> = (0..=intervals).map(node).collect();
    let highest = (0..=intervals).max_by(|&a, &b| ground[a].total_cmp(&ground[b])).unwrap_or(0);
    let least = ground[highest] + log_g(at(highest)) - NEGLIGIBLE - ceiling;
    let counts = ground.iter().enumerate().filter(|(_, ground)| **ground >= least);
    log_sum(counts.map(|(i, ground)| ground + log_g(at(i))))
}
