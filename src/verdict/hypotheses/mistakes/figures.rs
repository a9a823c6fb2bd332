//! Typed figures that are wrong: all places alike, or one number.

use super::{Typed, draft, rates, rows_of_cams};
use crate::engine::Reference;
use crate::units::{CYCLE_DEG, CrankDelta, TURN_DEG};
use crate::verdict::Mistake;
use crate::verdict::hypotheses::context::Context;
use crate::verdict::hypotheses::effects::EffectPrior;
use crate::verdict::hypotheses::hypothesis::Draft;
use crate::verdict::hypotheses::model::Model;
use crate::wheel::Form;

/// Every place off by what one of the usual slips makes of it.
pub(super) fn all_places(context: &Context, typed: &Typed) -> Vec<Draft> {
    if typed.placed.is_empty() {
        return vec![];
    }
    let mut drafts = from_tdc(context, typed);
    drafts.extend(scaled(context, typed));
    drafts.extend(half_turn(context, typed));
    drafts.extend(slots(context, typed));
    drafts.extend(cam_edge(context, typed));
    drafts.extend(anything(context, typed));
    for draft in &mut drafts {
        draft.share *= rates::ALL_PLACES;
    }
    drafts
}

/// Every way in which figures misplace some cams more than others.
pub(super) fn unequal(context: &Context, typed: &Typed) -> Vec<Draft> {
    let mut drafts = one_figure(context, typed);
    if typed.placed.len() > 1 {
        let all = scaled(context, typed).into_iter();
        drafts.extend(all.map(|one| Draft { share: one.share * rates::ALL_PLACES, ..one }));
    }
    drafts
}

/// The cams seem late by one amount each; TDC and compression stay.
fn misplaced(context: &Context, typed: &Typed, late: impl Fn(usize) -> f64) -> Model {
    let rows = context.rows;
    let mut model = Model::still(rows);
    for &cam in &typed.placed {
        if let Some(row) = rows.row_of(cam) {
            model.mean[row] = late(cam);
        }
    }
    model
}

fn from_tdc(context: &Context, typed: &Typed) -> Vec<Draft> {
    let Some(tdc) = context.evidence.engine.crank.tdc else { return vec![] };
    // A datum at TDC makes both the same figure.
    if tdc.0.abs() < f64::EPSILON {
        return vec![];
    }
    let one = |missing: CrankDelta, share: f64| {
        let model = misplaced(context, typed, |_| missing.0);
        draft(Mistake::FromTdc { missing }, typed.placed.clone(), rates::FROM_TDC * share, model)
    };
    vec![one(tdc, rates::USUAL_WAY), one(-tdc, 1.0 - rates::USUAL_WAY)]
}

/// Cam degrees for crank degrees, or the other way; with the relations typed likewise or rightly.
fn scaled(context: &Context, typed: &Typed) -> Vec<Draft> {
    let engine = context.evidence.engine;
    let place = |cam: usize| {
        let (root, later) = engine.relation_root(cam);
        let at = engine.expected(root).map_or(0.0, |(at, _)| at.get());
        (at, later.0)
    };
    let related = typed.placed.iter().any(|&cam| engine.relation_root(cam).0 != cam);
    let mut drafts = Vec::new();
    for (factor, way) in [(2.0, rates::USUAL_WAY), (0.5, 1.0 - rates::USUAL_WAY)] {
        for later_too in [false, true] {
            if later_too && !related {
                continue;
            }
            let late = |cam: usize| {
                let (at, later) = place(cam);
                (factor - 1.0) * (at + if later_too { later } else { 0.0 })
            };
            let share = rates::SCALED * way * if related { 0.5 } else { 1.0 };
            let model = misplaced(context, typed, late);
            let mistake = Mistake::Scaled { factor, later_too };
            drafts.push(draft(mistake, typed.placed.clone(), share, model));
        }
    }
    drafts
}

/// Half a turn of the crank. A whole one is a pass of the datum, which nothing shows.
fn half_turn(context: &Context, typed: &Typed) -> Vec<Draft> {
    let missing = CrankDelta(TURN_DEG / 2.0);
    let model = misplaced(context, typed, |_| missing.0);
    let mistake = Mistake::HalfTurn { missing };
    vec![draft(mistake, typed.placed.clone(), rates::HALF_TURN, model)]
}

/// The gap of the crank wheel described a slot or two from where it is, or the other edge of its
/// teeth: every angle from the datum is off, TDC as well.
fn slots(context: &Context, typed: &Typed) -> Vec<Draft> {
    let Form::Slots { slots, missing, width } = context.evidence.engine.crank.wheel.form() else {
        return vec![];
    };
    let late = |by: f64| {
        let mut model = Model::still(context.rows);
        let pattern = context.rows.crank_reference_late();
        model.mean = pattern.iter().map(|reading| -by * reading).collect();
        model
    };
    let step = TURN_DEG / f64::from(*slots);
    let mut drafts = Vec::new();
    // Without a gap slot 1 is any slot.
    if !missing.is_empty() {
        for count in [1, -1, 2, -2] {
            let by = f64::from(count) * step;
            let mistake = Mistake::Slots { slots: count, missing: CrankDelta(by) };
            drafts.push(draft(mistake, typed.placed.clone(), rates::SLOTS / 4.0, late(by)));
        }
    }
    if let Some(width) = width {
        for by in [width.0, -width.0] {
            let mistake = Mistake::CrankEdge { missing: CrankDelta(by) };
            drafts.push(draft(mistake, typed.placed.clone(), rates::CRANK_EDGE / 2.0, late(by)));
        }
    }
    drafts
}

/// The places of cams whose wheels are given as slots belong to the other edge of their teeth.
fn cam_edge(context: &Context, typed: &Typed) -> Vec<Draft> {
    let width = |cam: usize| match context.evidence.engine.cams[cam].wheel.form() {
        Form::Slots { width, .. } => width.map(|width| width.to_crank().0),
        Form::Teeth(_) => None,
    };
    let cams: Vec<usize> =
        typed.placed.iter().copied().filter(|&cam| width(cam).is_some()).collect();
    if cams.is_empty() {
        return vec![];
    }
    let one = |sign: f64| {
        let model = misplaced(context, typed, |cam| sign * width(cam).unwrap_or(0.0));
        let mistake = Mistake::CamEdge { cams: cams.clone() };
        draft(mistake, cams.clone(), rates::CAM_EDGE / 2.0, model)
    };
    vec![one(1.0), one(-1.0)]
}

/// All alike, by some degrees or by anything.
fn anything(context: &Context, typed: &Typed) -> Vec<Draft> {
    let half = TURN_DEG / 2.0;
    let near = rates::ALIKE_NEAR;
    let one = |(share, amount): (f64, EffectPrior)| {
        let mut model = Model::still(context.rows);
        model.shared = Some((rows_of_cams(context.rows, &typed.placed), amount));
        model.together = typed.all_placed(context.rows);
        draft(Mistake::Alike, typed.placed.clone(), rates::ANYTHING * share, model)
    };
    let by_degrees = EffectPrior::Bell { sd: rates::ALIKE_NEAR_SD.0 };
    let by_anything = EffectPrior::Even { from: -half, to: half };
    vec![one((near, by_degrees)), one((1.0 - near, by_anything))]
}

/// A `later` this near a whole turn was typed as one: the least step anybody types.
const WHOLE_TURN_WITHIN_DEG: f64 = 0.05;

/// One `at`, with all cams counted from it, or one `later`.
pub(super) fn one_figure(context: &Context, typed: &Typed) -> Vec<Draft> {
    let engine = context.evidence.engine;
    let half = CYCLE_DEG / 2.0;
    let any = EffectPrior::Even { from: -half, to: half };
    let shared = |cams: &[usize]| {
        let mut model = Model::still(context.rows);
        model.shared = Some((rows_of_cams(context.rows, cams), any));
        model
    };
    let mut drafts = Vec::new();
    let roots: Vec<usize> = (0..engine.cams.len())
        .filter(|&cam| matches!(engine.cams[cam].reference, Reference::At { .. }))
        .collect();
    for &root in &roots {
        let cams: Vec<usize> = typed
            .placed
            .iter()
            .copied()
            .filter(|&cam| engine.relation_root(cam).0 == root)
            .collect();
        // The only one is every place alike.
        if !cams.is_empty() && cams.len() < typed.placed.len() {
            let share = rates::ONE_FIGURE * rates::ONE_PLACE / roots.len() as f64;
            let anyhow = Mistake::Place { cam: root, missing: None };
            let any = (1.0 - rates::PLACE_SLIP) * share;
            drafts.push(draft(anyhow, cams.clone(), any, shared(&cams)));
            let slips = place_slips(context, root);
            let each = rates::PLACE_SLIP * share / slips.len() as f64;
            for missing in slips {
                let slip = Mistake::Place { cam: root, missing: Some(missing) };
                drafts.push(draft(slip, cams.clone(), each, fixed(context, &cams, missing)));
            }
        }
    }
    for &cam in &typed.related {
        let Reference::SameAs { later, .. } = engine.cams[cam].reference else { continue };
        let cams: Vec<usize> =
            typed.related.iter().copied().filter(|&other| leads_to(context, other, cam)).collect();
        let count = typed.related.len() as f64;
        let whole = later.wrap(CrankDelta(TURN_DEG)).0.abs() < WHOLE_TURN_WITHIN_DEG;
        let believed = if whole { rates::WHOLE_TURN_BY_CHANCE } else { 1.0 };
        let share = rates::ONE_FIGURE * rates::ONE_LATER * believed / count;
        let anyhow = Mistake::Later { cam, missing: None };
        drafts.push(draft(anyhow, cams.clone(), share, shared(&cams)));
        let slips = later_slips(later);
        let each = rates::ONE_FIGURE * rates::ONE_LATER_SLIP / count / slips.len() as f64;
        for missing in slips {
            let slip = Mistake::Later { cam, missing: Some(missing) };
            drafts.push(draft(slip, cams.clone(), each, fixed(context, &cams, missing)));
        }
    }
    drafts
}

/// Whether the relations of a cam run over another, or begin with it.
fn leads_to(context: &Context, from: usize, to: usize) -> bool {
    let mut at = from;
    loop {
        if at == to {
            return true;
        }
        let Reference::SameAs { cam, .. } = context.evidence.engine.cams[at].reference else {
            return false;
        };
        at = cam;
    }
}

/// Some cams seem late by this.
fn fixed(context: &Context, cams: &[usize], by: CrankDelta) -> Model {
    let mut model = Model::still(context.rows);
    let pattern = rows_of_cams(context.rows, cams);
    model.mean = pattern.iter().map(|has| has * by.0).collect();
    model
}

/// What is missing from one `at` among right ones that was counted from the other pass of the datum
/// or from TDC, or typed in cam degrees or doubled.
fn place_slips(context: &Context, root: usize) -> Vec<CrankDelta> {
    let engine = context.evidence.engine;
    let typed = engine.expected(root).map_or(0.0, |(at, _)| at.get());
    let tdc = engine.crank.tdc.map_or(0.0, |tdc| tdc.0);
    slips(&[typed, -typed / 2.0, tdc, -tdc])
}

/// What is missing from a `later` that was left at 0 or one turn of the crank off, typed in cam
/// degrees, doubled, or the wrong way round.
fn later_slips(later: CrankDelta) -> Vec<CrankDelta> {
    let typed = later.0;
    slips(&[typed, -typed / 2.0, -2.0 * typed])
}

/// One turn of the crank, and each of these that differs from what stands before it.
fn slips(more: &[f64]) -> Vec<CrankDelta> {
    let mut slips = vec![TURN_DEG];
    for missing in more {
        let missing = CrankDelta(*missing).wrap(CrankDelta(CYCLE_DEG)).0;
        let new =
            |known: &f64| CrankDelta(known - missing).wrap(CrankDelta(CYCLE_DEG)).0.abs() > 1.0;
        if missing.abs() > 1.0 && slips.iter().all(new) {
            slips.push(missing);
        }
    }
    slips.into_iter().map(CrankDelta).collect()
}
