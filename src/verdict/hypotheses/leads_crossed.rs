//! Scope leads on each other's sensors.

use super::context::Context;
use super::hypothesis::{Cause, Draft, EQUAL_FIT_DEG};
use super::model::Model;
use super::pairs::{beside, with_wear_or_without};
use crate::verdict::Kind;

/// Pairs of leads that fit better everywhere when crossed.
pub(crate) fn crossed(context: &Context) -> Vec<Draft> {
    let engine = context.evidence.engine;
    let both = |cams: (usize, usize)| {
        context.rows.row_of(cams.0).is_some() && context.rows.row_of(cams.1).is_some()
    };
    let labelled = context.rows.worst_deviation();
    let pairs = context.evidence.swapped.iter().zip(context.crossed).enumerate();
    let mut drafts = Vec::new();
    for (index, (swap, rows)) in pairs {
        if both(swap.cams) && rows.worst_deviation() >= labelled - EQUAL_FIT_DEG {
            continue;
        }
        let on = engine.cams[swap.cams.0].name.clone();
        let mut cause = Cause::of(Kind::LeadsCrossed, Some(on), vec![swap.cams.0, swap.cams.1]);
        cause.crossed_with = Some(swap.cams.1);
        let mut draft = Draft::alone(cause, 1.0, Model::still(rows));
        draft.swap = Some(index);
        drafts.extend(beside(context, &draft, &Model::still, &[Kind::CrankReferenceMoved]));
        with_wear_or_without(context, draft, &mut drafts);
    }
    drafts.extend(on_another_sensor(context));
    drafts
}

/// One lead on the sensor of a cam that has none, of the same wheel, where that fits better.
fn on_another_sensor(context: &Context) -> Vec<Draft> {
    let engine = context.evidence.engine;
    let place = |cam: usize| {
        let (root, later) = engine.relation_root(cam);
        engine.expected(cam).map(|(at, _)| (usize::MAX, at.get())).unwrap_or((root, later.0))
    };
    let mut drafts = Vec::new();
    for result in context.evidence.cams {
        let cam = result.measured.cam;
        let Some(row) = context.rows.row_of(cam) else { continue };
        for other in context.evidence.unmeasured() {
            let ((root, at), (other_root, other_at)) = (place(cam), place(other));
            let alike = engine.cams[other].wheel == engine.cams[cam].wheel && root == other_root;
            let off = context.rows.least_deviation(row, 0.0);
            let apart = other_at - at;
            if !alike || context.rows.least_deviation(row, apart) > off - EQUAL_FIT_DEG {
                continue;
            }
            let on = engine.cams[cam].name.clone();
            let mut cause = Cause::of(Kind::LeadsCrossed, Some(on), vec![cam]);
            cause.crossed_with = Some(other);
            let mut model = Model::still(context.rows);
            model.mean[row] = apart;
            with_wear_or_without(context, Draft::alone(cause, 1.0, model), &mut drafts);
        }
    }
    drafts
}
