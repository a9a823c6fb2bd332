//! A skip, wear or a moved crank wheel that moves every measured cam alike, beside a description
//! that is off by as much.
//!
//! Where only typed figures say where the cams belong, the two look the same, and how well the
//! amount fits a whole tooth does not tell them apart: whoever read the figures off an engine that
//! had skipped, or of a variant with another sprocket or another crank wheel, has them that far
//! off. So each such fault has a twin among the mistakes, with a fixed share of its odds.
//!
//! That TDC is off by as much as well bears out that the crank is not read from where the
//! description has it, not that its wheel moved: `tdc` was typed beside the places, and whoever
//! counted both from another datum or copied them off another engine's sheet has them off together.
//! What tells is a place that was not typed, or cams that are off unequally: neither has a twin.

use super::{Typed, draft, rates, rows_of_cams};
use crate::verdict::hypotheses::context::Context;
use crate::verdict::hypotheses::hypothesis::{Draft, SecondFault};
use crate::verdict::readings::Rows;
use crate::verdict::{Kind, Mistake};

/// The twins of a fault's draft, none where it has none; their shares are in those of the draft.
pub(crate) fn twins(context: &Context, typed: &Typed, fault: &Draft) -> Vec<Draft> {
    let alone = matches!(fault.second, SecondFault::None | SecondFault::Wear(_));
    let kind = matches!(fault.cause.kind, Kind::Skip | Kind::Wear | Kind::CrankReferenceMoved);
    if !kind || !alone || fault.swap.is_some() || !typed.all_placed(context.rows) {
        return vec![];
    }
    let rows = context.rows;
    let shared = fault.model.shared.as_ref();
    let mean_alike = alike(rows, &fault.model.mean);
    let shared_alike = shared.is_none_or(|(pattern, _)| alike(rows, pattern));
    let normal_alike = fault.model.normal.iter().all(|(pattern, _)| alike(rows, pattern));
    if !(mean_alike && shared_alike && normal_alike) {
        return vec![];
    }
    let total = (1.0 - rates::ALIKE_TYPED_MOST) / rates::ALIKE_TYPED_MOST;
    let cams = rows_of_cams(rows, &typed.placed);
    // Misread by the crank: TDC seems to stand as far off as the cams.
    let all: Vec<f64> = rows.crank_reference_late().iter().map(|reading| -reading).collect();
    let on = |pattern: &[f64], share: f64| {
        let like = |of: &[f64]| -> Vec<f64> {
            let amount = first(rows, of);
            pattern.iter().map(|has| has * amount).collect()
        };
        let mut model = fault.model.clone();
        model.mean = like(&fault.model.mean);
        model.shared = shared.map(|(pattern, amount)| (like(pattern), *amount));
        model.normal =
            fault.model.normal.iter().map(|(pattern, sd)| (like(pattern), *sd)).collect();
        let share = fault.share * total * share;
        draft(Mistake::Alike, typed.placed.clone(), share, model)
    };
    let crank = rates::ALIKE_ON_CRANK_SIDE;
    vec![on(&all, crank), on(&cams, 1.0 - crank)]
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
