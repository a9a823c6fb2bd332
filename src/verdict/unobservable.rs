//! Skips that would not show in these readings.
//!
//! A skip of a cam without a lead, or of cams that are only known against each other, leaves every
//! reading as it is: only its prior odds speak against it. The odds count that, but a finding "in
//! time" must rest on what was measured, so such a skip is looked for here whatever its odds.

use super::Kind;
use super::hypotheses::{Catalogue, Model, SecondFault};
use super::matrix::{Cholesky, dot};
use super::readings::{Rows, wrap};

/// A skip that moves the readings by less than this many of their standard deviations together
/// would not show. Three for a gross error, and one half for where the readings themselves may lie.
const SHOWS_SDS: f64 = 3.5;

/// The likeliest of the skips that would not show; `ranked` are causes and their odds, likeliest
/// first.
pub(super) fn unobservable_skip(
    catalogue: &Catalogue,
    rows: &Rows,
    ranked: impl Iterator<Item = usize>,
) -> Option<usize> {
    let skip = |cause: &usize| catalogue.causes[*cause].kind == Kind::Skip;
    let alone = |cause: usize| {
        catalogue
            .variants
            .iter()
            .find(|variant| variant.cause == cause && matches!(variant.second, SecondFault::None))
    };
    ranked.filter(skip).find(|&cause| {
        alone(cause).is_some_and(|variant| distance(rows, &variant.model) < SHOWS_SDS)
    })
}

/// By how many standard deviations a model moves the cams' readings, taken together, from those of
/// a sound engine.
fn distance(rows: &Rows, model: &Model) -> f64 {
    let cams: Vec<usize> =
        (0..rows.list.len()).filter(|&row| rows.list[row].kind.is_cam()).collect();
    let Some(factor) =
        Cholesky::new(cams.len(), |a, b| rows.covariance(cams[a], cams[b], &model.normal))
    else {
        return 0.0;
    };
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
