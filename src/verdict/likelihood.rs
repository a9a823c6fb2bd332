//! Density of all readings together under one explanation.
//!
//! Readings are `mean + a · pattern + own amounts + normal error`, each known modulo its
//! period. Let Σ be the covariance of the normal error. The shared amount `a` (a
//! worn chain, say) is integrated by completing the square: with z = L⁻¹r and q = L⁻¹p,
//! Σ = LLᵀ, the readings pin `a` at q·z / q·q with variance 1 / q·q. An amount that moves one
//! row alone (a phaser) is integrated given the rows that have none; when both kinds
//! are present the shared one is summed by Simpson's rule. Two passes of the datum, images of a
//! repeating wheel and outliers are summed over; `factored.rs` has the densities themselves.

use std::cell::{OnceCell, RefCell};
use std::rc::Rc;

use super::factored::{Out, Seen, Split, Without};
use super::hypotheses::Model;
use super::readings::{Character, Row, RowKind, Rows, wrap};
use crate::stats::log_sum;

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

/// What the characters of the signals make of the rows, under every model alike.
pub(super) struct Worths {
    /// Every row a reading of its cam.
    sound: f64,
    /// What it adds that a row is an outlier instead.
    less: Vec<f64>,
    /// Rows that may be outliers together.
    suspects: Vec<usize>,
    /// Rows of which one at most may be one.
    others: Vec<usize>,
}

impl Worths {
    /// `characters` of the first rows' signals, in their order.
    pub(super) fn new(rows: &Rows, characters: &[Character]) -> Worths {
        let worths: Vec<Worth> = rows
            .list
            .iter()
            .enumerate()
            .map(|(row, of)| Worth::new(of, characters.get(row).copied().unwrap_or_default()))
            .collect();
        let less: Vec<f64> = worths.iter().map(|worth| worth.outlier - worth.sound).collect();
        let suspect = |&row: &usize| worths[row].log_odds(&rows.list[row]) >= SUSPECT.ln();
        let mut suspects: Vec<usize> = (0..rows.list.len()).filter(suspect).collect();
        suspects.truncate(MOST_SUSPECTS);
        // An outlier that is impossible needs no density.
        let others: Vec<usize> = (0..rows.list.len())
            .filter(|row| !suspects.contains(row) && less[*row] > f64::NEG_INFINITY)
            .collect();
        let sound = worths.iter().map(|worth| worth.sound).sum();
        Worths { sound, less, suspects, others }
    }

    /// Whether the same rows are left out under both.
    fn asks_as(&self, other: &Worths) -> bool {
        self.suspects == other.suspects && self.others == other.others
    }
}

/// Models of the same rows that differ in their fixed effects alone, and in these not in what is
/// known roughly of them: the covariance of all is one, and is factored once for every choice of
/// rows that are left out.
pub(super) struct Models<'a> {
    rows: &'a Rows,
    /// One of them.
    model: &'a Model,
    factored: RefCell<Vec<Rc<Factored<'a>>>>,
}

/// The rows but those left out, factored.
struct Factored<'a> {
    left_out: Vec<usize>,
    /// `None` where the covariance is none.
    split: Option<Split<'a>>,
    anchors: Vec<Option<usize>>,
    whole: OnceCell<Without>,
    /// Without each row; `None` where it cannot be taken out.
    each: Vec<OnceCell<Option<Without>>>,
}

impl<'a> Factored<'a> {
    fn new(rows: &Rows, model: &'a Model, left_out: &[usize]) -> Factored<'a> {
        let split = Split::new(rows, model, left_out);
        let anchors = split.as_ref().map_or(vec![], |split| anchors(rows, model, &split.fixed));
        let each = rows.list.iter().map(|_| OnceCell::new()).collect();
        Factored { left_out: left_out.to_vec(), split, anchors, whole: OnceCell::new(), each }
    }

    fn without(&self, rows: &Rows, split: &Split, row: usize) -> Option<&Without> {
        let new = || Some(Without::new(rows, split, split.out(row, &self.anchors)?));
        self.each[row].get_or_init(new).as_ref()
    }
}

impl<'a> Models<'a> {
    /// Those that are as `model` is but for their fixed effects.
    pub(super) fn like(rows: &'a Rows, model: &'a Model) -> Models<'a> {
        Models { rows, model, factored: RefCell::default() }
    }

    fn factored(&self, left_out: &[usize]) -> Rc<Factored<'a>> {
        let known = self.factored.borrow().iter().find(|one| one.left_out == left_out).cloned();
        known.unwrap_or_else(|| {
            let new = Rc::new(Factored::new(self.rows, self.model, left_out));
            self.factored.borrow_mut().push(Rc::clone(&new));
            new
        })
    }

    /// Log density of the rows under the model with this fixed effect on each, with one of several
    /// worths of the rows, each with the log of its share. What adds less than `least` to it is not
    /// worked out: a bound above it stands instead.
    pub(super) fn log_likelihood(&self, mean: &[f64], worths: &[(f64, Worths)], least: f64) -> f64 {
        let passes = (self.rows.passes.len() as f64).ln();
        let mut terms = Vec::new();
        for alike in worths.chunk_by(|(_, a), (_, b)| a.asks_as(b)) {
            let (suspects, others) = (&alike[0].1.suspects, &alike[0].1.others);
            for left_out in subsets(suspects) {
                let weigh = |(share, of): &(f64, Worths)| {
                    share + of.sound + left_out.iter().map(|&row| of.less[row]).sum::<f64>()
                };
                let weighed: Vec<(f64, &Worths)> =
                    alike.iter().map(|one| (weigh(one), &one.1)).collect();
                // What counts under one of them is worked out for all.
                let counts = |row: Option<usize>| {
                    let weight = |(weight, of): &(f64, &Worths)| {
                        weight + row.map_or(0.0, |row| of.less[row])
                    };
                    let highest = weighed.iter().map(weight).fold(f64::NEG_INFINITY, f64::max);
                    least + passes - highest
                };
                let more: Vec<(usize, f64)> =
                    others.iter().map(|&row| (row, counts(Some(row)))).collect();
                let (whole, each) = self.densities(mean, &left_out, counts(None), &more);
                for (weight, of) in weighed {
                    terms.push(weight + whole);
                    let each = others.iter().zip(&each);
                    terms.extend(each.map(|(&row, density)| weight + of.less[row] + density));
                }
            }
        }
        log_sum(terms) - passes
    }

    /// Log density of the rows but those left out, and of the same without each of some more in
    /// turn, each summed over what the datum may be taken for; exact where it is not less than what
    /// counts.
    fn densities(
        &self,
        mean: &[f64],
        left_out: &[usize],
        least: f64,
        more: &[(usize, f64)],
    ) -> (f64, Vec<f64>) {
        let (rows, model) = (self.rows, self.model);
        let alone = |&(row, least): &(usize, f64)| {
            self.densities(mean, &[left_out, &[row]].concat(), least, &[]).0
        };
        let factored = self.factored(left_out);
        let Some(split) = &factored.split else {
            return (f64::NEG_INFINITY, more.iter().map(alone).collect());
        };
        // What is asked of the factored rows: as they are, and without each that can be taken out.
        let whole = factored.whole.get_or_init(|| Without::new(rows, split, Out::Nothing));
        let each: Vec<Option<&Without>> =
            more.iter().map(|&(row, _)| factored.without(rows, split, row)).collect();
        let taken = each.iter().zip(more).filter_map(|(one, (_, least))| Some(((*one)?, *least)));
        let asked: Vec<(&Without, f64)> = [(whole, least)].into_iter().chain(taken).collect();
        let mut summed: Vec<Vec<f64>> = vec![Vec::new(); asked.len()];
        let namings = (rows.namings.len() as f64).ln();
        for &(later, chance) in &rows.edges {
            for &pass in &rows.passes {
                for &naming in &rows.namings {
                    let datum = Datum { pass, later, naming };
                    let left = unwrapped(rows, mean, datum, &factored.anchors);
                    let seen = Seen::new(split, &left);
                    let chance = chance.ln() - namings;
                    for (&(without, least), terms) in asked.iter().zip(&mut summed) {
                        let least = least - chance;
                        let density = without.density(rows, model, split, (&left, &seen), least);
                        terms.push(chance + density);
                    }
                }
            }
        }
        let mut summed = summed.into_iter().map(log_sum);
        let sum = summed.next().unwrap_or(f64::NEG_INFINITY);
        let each = more.iter().zip(each).map(|(one, without)| match without {
            Some(_) => summed.next().unwrap_or(f64::NEG_INFINITY),
            None => alone(one),
        });
        (sum, each.collect())
    }
}

/// Every choice of some of these rows, or of none.
fn subsets(of: &[usize]) -> impl Iterator<Item = Vec<usize>> {
    (0..1usize << of.len()).map(|mask| {
        let chosen = of.iter().enumerate().filter(|(bit, _)| mask >> bit & 1 == 1);
        chosen.map(|(_, &row)| row).collect()
    })
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
fn unwrapped(rows: &Rows, mean: &[f64], datum: Datum, anchors: &[Option<usize>]) -> Vec<f64> {
    let mut left: Vec<f64> = Vec::with_capacity(rows.list.len());
    for (row, mean) in rows.list.iter().zip(mean) {
        let misread = match row.kind {
            RowKind::Cam(_) => datum.pass - datum.later,
            RowKind::Tdc { .. } => -datum.later,
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
            RowKind::Tdc { .. } => moved(row),
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
