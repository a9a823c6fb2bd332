//! What may come along: with a skip a worn chain or a phaser away, with any fault a second one that
//! has nothing to do with it.
//!
//! A second fault is as rare as in any engine on the road, but an engine that has one may have
//! another: were such pairs left out, one of the two alone would be called sure, or a skip that
//! looks like both.

use super::context::{Context, cam_wheel_own, damage_drag, shaft_away};
use super::hypothesis::{Draft, SecondFault};
use super::mistakes;
use super::model::Model;
use super::priors;
use crate::cam::SwappedFit;
use crate::verdict::Kind;
use crate::verdict::readings::{Rows, Steadiness};

/// What a fault may have beside it, wear and phasers apart.
pub(crate) const OTHERS: [Kind; 4] =
    [Kind::CrankReferenceMoved, Kind::CamWheelMoved, Kind::DamagedTooth, Kind::LeadsCrossed];

/// A skip alone and with everything that may come along.
pub(crate) fn skip_in_pairs(
    context: &Context,
    skip: &Draft,
    model: Build,
    drafts: &mut Vec<Draft>,
) {
    let draft = |share: f64| Draft { share, ..skip.clone() };
    let mut settled = skip.share;
    if context.running && !context.phasers.is_empty() {
        // The controller places the phasers; each may be anywhere.
        let mut moved = draft(skip.share * priors::RUNNING_PHASER_AWAY);
        context.free_phasers(&mut moved, priors::RUNNING_PHASER_AWAY);
        drafts.push(moved);
        settled *= 1.0 - priors::RUNNING_PHASER_AWAY;
    }
    let phasers = priors::SKIP_WITH_PHASER * context.phasers.len() as f64;
    let worn = match context.evidence.after_repair {
        _ if context.worn.is_empty() => 0.0,
        true => priors::WORN_AFTER_REPAIR,
        false => priors::SKIP_WITH_WEAR,
    };
    let alone = draft(settled * (1.0 - phasers - worn).max(0.0));
    drafts.extend(beside(context, &draft(settled), model, &OTHERS));
    drafts.extend(mistakes::with_places_off(context, &draft(settled)));
    drafts.extend(mistakes::with_a_figure_off(context, &draft(settled)));
    drafts.extend(mistakes::with_a_lead_delayed(context, &draft(settled)));
    drafts.push(alone);
    for chain in &context.worn {
        let mut both = draft(settled * worn * chain.share);
        context.wear(&mut both, chain);
        drafts.push(both);
    }
    for &cam in &context.phasers {
        let mut both = draft(settled * priors::SKIP_WITH_PHASER);
        shaft_away(context.rows, &mut both.model, cam, &context.away(cam));
        both.moving.push((cam, Steadiness::UnlockedPhaser));
        both.second = SecondFault::Phasers(vec![cam]);
        drafts.push(both);
    }
}

/// How a fault moves the rows, on the leads as labelled or with a pair crossed.
pub(crate) type Build<'a> = &'a dyn Fn(&Rows) -> Model;

/// A fault with each of some others, which come as often as on any engine. Every pair is listed
/// under one of its two.
pub(crate) fn beside(context: &Context, fault: &Draft, build: Build, kinds: &[Kind]) -> Vec<Draft> {
    let cams = context.evidence.engine.cams.len();
    let measured = || (0..cams).filter(|&cam| context.rows.row_of(cam).is_some());
    let mut drafts = Vec::new();
    for &kind in kinds {
        let share = fault.share * priors::beside(kind);
        let each = share / cams as f64;
        match kind {
            Kind::CrankReferenceMoved => drafts.extend(with_crank_moved(context, fault, share)),
            // Of cams that have a lead: the others show neither.
            Kind::CamWheelMoved => {
                drafts
                    .extend(measured().filter_map(|cam| with_cam_wheel(context, fault, cam, each)));
            }
            Kind::DamagedTooth => {
                drafts.extend(measured().map(|cam| with_damaged_tooth(context, fault, cam, each)));
            }
            Kind::LeadsCrossed => drafts.extend(with_leads_crossed(context, fault, build, share)),
            Kind::InTime | Kind::Skip | Kind::Wear | Kind::PhaserOffRest | Kind::DoesNotFit => {}
        }
    }
    drafts
}

/// The crank's amount becomes a normal one, near or far, of about the spread it has alone (uniform:
/// a half range / √3).
fn with_crank_moved(context: &Context, fault: &Draft, share: f64) -> [Draft; 2] {
    let far = priors::CRANK_MOVED_MOST.0 / 3.0_f64.sqrt();
    let near = priors::CRANK_MOVED_NEAR;
    [(near, priors::CRANK_MOVED_MEAN.0), (1.0 - near, far)].map(|(part, sd)| {
        let mut both = Draft { share: share * part, ..fault.clone() };
        both.model.normal.push((context.rows_of(fault).crank_reference_late(), sd));
        both.model.together = true;
        both.second = SecondFault::CrankReference;
        both
    })
}

/// Not on a cam that the fault moves by an amount of its own already.
fn with_cam_wheel(context: &Context, fault: &Draft, cam: usize, share: f64) -> Option<Draft> {
    let own = cam_wheel_own(context, context.rows, cam)?;
    if fault.model.own.iter().any(|(row, _)| *row == own.0) {
        return None;
    }
    let mut both = Draft { share, ..fault.clone() };
    both.model.own.push(own);
    both.second = SecondFault::CamWheel(cam);
    Some(both)
}

fn with_damaged_tooth(context: &Context, fault: &Draft, cam: usize, share: f64) -> Draft {
    let mut both = Draft { share, ..fault.clone() };
    if let Some(sd) = damage_drag(context, cam) {
        both.model.normal.push((context.rows.shafts_late(&[cam]), sd));
    }
    both.damaged = Some(cam);
    both.second = SecondFault::DamagedTooth(cam);
    both
}

fn with_leads_crossed(context: &Context, fault: &Draft, build: Build, share: f64) -> Vec<Draft> {
    let crossed = |(index, (rows, swap)): (usize, (&Rows, &SwappedFit))| Draft {
        share: share / context.evidence.swapped.len() as f64,
        model: build(rows),
        swap: Some(index),
        second: SecondFault::Crossed(swap.cams.0, swap.cams.1),
        ..fault.clone()
    };
    let pairs = context.crossed.iter().zip(context.evidence.swapped);
    pairs.enumerate().map(crossed).collect()
}

/// A fault alone and on a worn chain.
pub(crate) fn with_wear_or_without(context: &Context, fault: Draft, drafts: &mut Vec<Draft>) {
    let worn = if context.worn.is_empty() { 0.0 } else { priors::FAULT_WITH_WEAR };
    for chain in &context.worn {
        let mut both = Draft { share: fault.share * worn * chain.share, ..fault.clone() };
        context.wear(&mut both, chain);
        drafts.push(both);
    }
    drafts.push(Draft { share: fault.share * (1.0 - worn), ..fault });
}
