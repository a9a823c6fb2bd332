//! Faults that would not show in these readings.
//!
//! A skip of a cam without a lead, or of cams that are only known against each other, leaves every
//! reading as it is: only its prior odds speak against it. The odds count that, but a finding "in
//! time" must rest on what was measured, so such a fault is looked for here whatever its odds. One
//! of cams that were not recorded narrows what the finding covers; one of cams that were keeps it
//! from being made.

use super::Kind;
use super::hypotheses::{Catalogue, Model, SecondFault};
use super::readings::{Rows, wrap};
use crate::matrix::{Cholesky, dot};

/// A skip that moves the readings by less than this many of their standard deviations together
/// would not show. Three for a gross error, and one half for where the readings themselves may lie.
const SHOWS_SDS: f64 = 3.5;

/// Faults that would not show: the likeliest of each sort, as causes of the catalogue.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct UnobservableFaults {
    /// Of those that move a cam that was recorded.
    pub of_recorded: Option<usize>,
    /// Of skips that move none of them.
    pub elsewhere: Option<usize>,
}

/// Looks for them; `ranked` are causes, likeliest first.
///
/// A skip is looked for at every place. A moved crank reference hides as one at the crank does
/// where every cam is only known against another; where places are known it shows, or is within
/// what the places leave open.
pub(super) fn unobservable_faults(
    catalogue: &Catalogue,
    rows: &Rows,
    ranked: impl Iterator<Item = usize> + Clone,
) -> UnobservableFaults {
    let of = |cause: usize| &catalogue.causes[cause];
    let relations_only =
        rows.list.iter().all(|row| !row.kind.is_cam() || row.unreferenced.is_some());
    let hides = |cause: &usize| match of(*cause).kind {
        Kind::Skip => true,
        Kind::CrankReferenceMoved => relations_only,
        _ => false,
    };
    // The first variant of each cause that has nothing beside it.
    let mut alone: Vec<Option<&Model>> = vec![None; catalogue.causes.len()];
    for variant in &catalogue.variants {
        if matches!(variant.second, SecondFault::None) {
            alone[variant.cause].get_or_insert(&variant.model);
        }
    }
    let cams: Vec<usize> =
        (0..rows.list.len()).filter(|&row| rows.list[row].kind.is_cam()).collect();
    let factored = |more: &[(Vec<f64>, f64)]| {
        Cholesky::new(cams.len(), 0.0, |a, b| rows.covariance(cams[a], cams[b], more))
    };
    // Most have no amounts of their own.
    let plain = factored(&[]);
    let distance = |model: &Model| {
        if model.normal.is_empty() {
            return distance(rows, &cams, plain.as_ref(), model);
        }
        distance(rows, &cams, factored(&model.normal).as_ref(), model)
    };
    let shows = |cause: usize| alone[cause].is_none_or(|model| distance(model) >= SHOWS_SDS);
    let recorded = |cause: &usize| of(*cause).moves.iter().any(|&cam| rows.row_of(cam).is_some());
    UnobservableFaults {
        of_recorded: ranked.clone().filter(hides).filter(recorded).find(|&cause| !shows(cause)),
        elsewhere: ranked.filter(hides).find(|cause| !recorded(cause)),
    }
}

/// By how many standard deviations a model moves the cams' readings, taken together, from those of
/// a sound engine; `factor` is their covariance under the model.
fn distance(rows: &Rows, cams: &[usize], factor: Option<&Cholesky>, model: &Model) -> f64 {
    let Some(factor) = factor else { return 0.0 };
    let least =
        model.shared.as_ref().map(|(pattern, amount)| (pattern, amount.nearest_to_nothing()));
    let shift = |row: usize| {
        model.mean[row] + least.as_ref().map_or(0.0, |(pattern, amount)| pattern[row] * amount)
    };
    let apart = |pass: &f64| {
        let moved =
            cams.iter().map(|&row| wrap(shift(row) - pass, rows.list[row].period)).collect();
        let flat = factor.solve_lower(moved);
        dot(&flat, &flat).sqrt()
    };
    rows.passes.iter().map(apart).fold(f64::INFINITY, f64::min)
}
