//! Faults that are neither a skip, nor of phasers, nor of leads.

use super::context::{Context, cam_wheel_own, damage_drag, either_way};
use super::description::WornChain;
use super::effects::EffectPrior;
use super::hypothesis::{Cause, Draft};
use super::model::Model;
use super::pairs::{beside, with_wear_or_without};
use super::priors;
use crate::verdict::Kind;
use crate::verdict::readings::{Rows, Steadiness};

/// In time: build scatter, and perhaps a little stretch within tolerance.
pub(crate) fn in_time(context: &Context) -> Vec<Draft> {
    let still = Model::still(context.rows);
    let cause = Cause::of(Kind::InTime, None, vec![]);
    let stretched = match context.evidence.after_repair {
        _ if context.worn.is_empty() => 0.0,
        true => priors::WORN_AFTER_REPAIR,
        false => priors::SOUND_WITH_WEAR,
    };
    let mut drafts = vec![Draft::alone(cause.clone(), 1.0 - stretched, still.clone())];
    for chain in &context.worn {
        let mut draft = Draft::alone(cause.clone(), stretched * chain.share, still.clone());
        let amount = EffectPrior::Fading {
            from: 0.0,
            to: context.tolerance(&chain.cams),
            mean: priors::SOUND_WEAR_MEAN.0,
        };
        draft.model.shared = Some((chain.effect(context.rows), amount));
        draft.model.normal.extend(chain.uneven(context.rows));
        drafts.push(draft);
    }
    drafts
}

/// A chain or a strand of it long enough to put a cam out of tolerance.
pub(crate) fn wear(context: &Context) -> Vec<Draft> {
    let one = |chain: &WornChain| {
        let mut cause = Cause::of(Kind::Wear, None, chain.cams.clone());
        cause.chain = chain.chain;
        let least = context.tolerance(&chain.cams);
        let mut draft = Draft::alone(cause, chain.share, Model::still(context.rows));
        let amount = EffectPrior::Fading {
            from: least,
            // A wide tolerance must leave room above it.
            to: chain.most.max(least + priors::WEAR_MEAN.0),
            mean: priors::WEAR_MEAN.0,
        };
        draft.model.shared = Some((chain.effect(context.rows), amount));
        draft.model.normal.extend(chain.uneven(context.rows));
        draft.moving = chain.cams.iter().map(|&cam| (cam, Steadiness::SlackChain)).collect();
        draft
    };
    context.worn.iter().map(one).collect()
}

/// Crank wheel, key, damper ring or TDC figure: every cam by the same amount, beyond tolerance.
pub(crate) fn crank_reference(context: &Context) -> Vec<Draft> {
    let all: Vec<usize> = (0..context.evidence.engine.cams.len()).collect();
    let least = if all.is_empty() { 0.0 } else { context.tolerance(&all) };
    let cause = Cause::of(Kind::CrankReferenceMoved, Some("crank".into()), all);
    let amounts = either_way(
        least,
        priors::CRANK_MOVED_MOST.0,
        priors::CRANK_MOVED_MEAN.0,
        priors::CRANK_MOVED_NEAR,
    );
    let worn = if context.worn.is_empty() { 0.0 } else { priors::FAULT_WITH_WEAR };
    let mut drafts = Vec::new();
    for (share, amount) in amounts {
        let mut model = Model::still(context.rows);
        model.shared = Some((context.rows.crank_reference_late(), amount));
        model.together = true;
        drafts.push(Draft::alone(cause.clone(), share * (1.0 - worn), model));
    }
    for chain in &context.worn {
        // Two shared amounts: the crank's becomes a normal one of the same spread.
        let mut model = Model::still(context.rows);
        model
            .normal
            .push((context.rows.crank_reference_late(), priors::CRANK_MOVED_MEAN.0 + least));
        model.together = true;
        let mut both = Draft::alone(cause.clone(), worn * chain.share, model);
        context.wear(&mut both, chain);
        drafts.push(both);
    }
    drafts
}

/// A wheel slipped on its cam, or a wrong part: that cam's reading only, beyond tolerance.
pub(crate) fn cam_wheels(context: &Context) -> Vec<Draft> {
    let engine = context.evidence.engine;
    let share = 1.0 / engine.cams.len().max(1) as f64;
    let mut drafts = Vec::new();
    for cam in 0..engine.cams.len() {
        let cause = Cause::of(Kind::CamWheelMoved, Some(engine.cams[cam].name.clone()), vec![cam]);
        let build = |rows: &Rows| Model::moved_alone(rows, cam_wheel_own(context, rows, cam));
        let draft = Draft::alone(cause, share, build(context.rows));
        let others = [Kind::CrankReferenceMoved, Kind::DamagedTooth, Kind::LeadsCrossed];
        drafts.extend(beside(context, &draft, &build, &others));
        with_wear_or_without(context, draft, &mut drafts);
    }
    drafts
}

/// One tooth of a cam's wheel bent, chipped or gone.
pub(crate) fn damaged(context: &Context) -> Vec<Draft> {
    let engine = context.evidence.engine;
    let share = 1.0 / engine.cams.len().max(1) as f64;
    let mut drafts = Vec::new();
    for cam in 0..engine.cams.len() {
        let cause = Cause::of(Kind::DamagedTooth, Some(engine.cams[cam].name.clone()), vec![cam]);
        let drag = |rows: &Rows| {
            Some((
                rows.row_of(cam)?,
                vec![(1.0, EffectPrior::Bell { sd: damage_drag(context, cam)? })],
            ))
        };
        let build = |rows: &Rows| Model::moved_alone(rows, drag(rows));
        let mut draft = Draft::alone(cause, share, build(context.rows));
        draft.damaged = Some(cam);
        let others = [Kind::CrankReferenceMoved, Kind::LeadsCrossed];
        drafts.extend(beside(context, &draft, &build, &others));
        with_wear_or_without(context, draft, &mut drafts);
    }
    drafts
}
