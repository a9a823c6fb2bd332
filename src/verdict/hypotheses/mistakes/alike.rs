//! A skip, wear or a moved crank wheel that moves every measured cam alike, beside a description
//! that is off by as much.
//!
//! Where only typed figures say where the cams belong, the two look the same, and how well the
//! amount fits a whole tooth does not tell them apart: whoever read the figures off an engine that
//! had skipped, or of a variant with another sprocket or another crank wheel, has them that far
//! off. So each such fault has a twin among the mistakes, with a fixed share of its odds.
//!
//! TDC does not tell them apart. In its place it bears out `tdc` and the crank's wheel, not an
//! `at` that was read off an engine that had skipped. Off by as much it bears out that the crank is
//! not read from where the description has it, not that its wheel moved: `tdc` was typed beside the
//! places, and whoever counted both from another datum or copied them off another engine's sheet
//! has them off together.
//!
//! Nor does what comes along: one cam that hangs on a worn strand or a phaser besides stands
//! elsewhere than the others, and how far off they all are rests on the figures as before.
//!
//! What tells is a place that was not typed, valves that pressure shows, or a cam that stands at
//! its place: no such fault has a twin, or its twin does not fit.

use super::{Typed, draft, rates, rows_of_cams};
use crate::verdict::hypotheses::context::Context;
use crate::verdict::hypotheses::hypothesis::{Draft, SecondFault};
use crate::verdict::readings::Rows;
use crate::verdict::{Kind, Mistake};

/// The twin of a fault's draft, where it has one; its share is in those of the draft.
pub(crate) fn twin(context: &Context, typed: &Typed, fault: &Draft) -> Option<Draft> {
    // Beside places that are off alike it is in question already.
    if fault.second == SecondFault::Places || !typed.all_placed(context.rows) {
        return None;
    }
    let rows = context.rows_of(fault);
    let cams = rows_of_cams(rows, &typed.placed);
    let like = |of: &[f64]| -> Vec<f64> {
        let amount = first(rows, of);
        cams.iter().map(|has| has * amount).collect()
    };
    let model = &fault.model;
    let mut misplaced = model.clone();
    match fault.cause.kind {
        // What moves the crank's wheel shows as the description's being counted from elsewhere does,
        // TDC with it.
        Kind::CrankReferenceMoved => {}
        // A whole number of teeth is a fixed effect, and all else comes along.
        Kind::Skip if fault.cause.teeth.is_some() => {
            if !alike(rows, &model.mean) {
                return None;
            }
            misplaced.mean = like(&model.mean);
        }
        Kind::Skip | Kind::Wear => {
            let normal = model.normal.iter().map(|(pattern, _)| pattern);
            let shared = model.shared.iter().map(|(pattern, _)| pattern);
            let mut all = normal.chain(shared).chain([&model.mean]);
            if !all.all(|pattern| alike(rows, pattern)) {
                return None;
            }
            misplaced.mean = like(&model.mean);
            misplaced.shared = model.shared.as_ref().map(|(of, amount)| (like(of), *amount));
            misplaced.normal = model.normal.iter().map(|(of, sd)| (like(of), *sd)).collect();
        }
        _ => return None,
    }
    let total = (1.0 - rates::ALIKE_TYPED_MOST) / rates::ALIKE_TYPED_MOST;
    let of = draft(Mistake::Alike, typed.placed.clone(), fault.share * total, misplaced);
    Some(Draft { cause: of.cause, share: of.share, model: of.model, ..fault.clone() })
}

/// Whether an effect moves every cam's reading by the same.
fn alike(rows: &Rows, effect: &[f64]) -> bool {
    let amount = first(rows, effect);
    rows.list
        .iter()
        .zip(effect)
        .filter(|(row, _)| row.kind.is_cam())
        .all(|(_, effect)| (effect - amount).abs() < 1e-9)
}

/// What an effect does to the first cam's reading.
fn first(rows: &Rows, effect: &[f64]) -> f64 {
    let cam = rows.list.iter().zip(effect).find(|(row, _)| row.kind.is_cam());
    cam.map_or(0.0, |(_, effect)| *effect)
}
