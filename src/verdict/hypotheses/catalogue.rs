//! Everything that could have happened to this engine, from its own drive tree.
//!
//! Causes that displace only cams without a lead stay in the list: the rows say nothing about
//! them, so their prior odds remain.

use std::rc::Rc;

use super::accused::{accused, likelihood};
use super::context::Context;
use super::hypothesis::{Cause, Draft, Variant};
use super::mistakes::{self, Typed};
use super::{faults, leads_crossed, phasers, priors, skips};
use crate::codes::Complaint;
use crate::verdict::evidence::Evidence;
use crate::verdict::readings::Rows;
use crate::verdict::{Kind, controller};

/// The causes and their variants; priors sum to 1.
#[derive(Debug, Default)]
pub(crate) struct Catalogue {
    pub causes: Vec<Cause>,
    pub variants: Vec<Variant>,
    /// The cause that was added last, and its place in the list.
    latest: Option<(Rc<Cause>, usize)>,
}

/// Lists everything that could have happened.
pub(crate) fn enumerate(evidence: &Evidence, rows: &Rows, crossed: &[Rows]) -> Catalogue {
    let context = Context::new(evidence, rows, crossed);
    let kinds: Vec<(Kind, Vec<Draft>)> = vec![
        (Kind::InTime, faults::in_time(&context)),
        (Kind::Skip, skips::skips(&context)),
        (Kind::Wear, faults::wear(&context)),
        (Kind::PhaserOffRest, phasers::phasers(&context)),
        (Kind::CrankReferenceMoved, faults::crank_reference(&context)),
        (Kind::CamWheelMoved, faults::cam_wheels(&context)),
        (Kind::DamagedTooth, faults::damaged(&context)),
        (Kind::LeadsCrossed, leads_crossed::crossed(&context)),
    ];
    let complaints: Vec<Complaint> =
        evidence.codes.iter().filter_map(|code| Complaint::of(code)).collect();
    // A code that says that crank and cams disagree, and one that speaks of a phaser.
    let correlation = priors::correlation_code(evidence.codes);
    let phaser_code =
        complaints.iter().any(|complaint| matches!(complaint, Complaint::Phase { .. }));
    let weight = |kind: Kind| {
        let gain = match kind {
            Kind::PhaserOffRest => {
                let code = if phaser_code { priors::PHASER_CODE_GAIN } else { 1.0 };
                let code = code * phasers::may_have(&context);
                code * if context.running { priors::RUNNING_PHASER_GAIN } else { 1.0 }
            }
            _ => 1.0,
        };
        let rate = match evidence.after_repair {
            true => priors::repair_rate(kind),
            false => priors::base_rate(kind, correlation),
        };
        rate * gain
    };
    let total: f64 =
        kinds.iter().filter(|(_, drafts)| !drafts.is_empty()).map(|(kind, _)| weight(*kind)).sum();
    let named = accused(evidence);
    let typed = Typed::new(&context);
    let wrong = match mistakes::confirmed(&context) {
        true => mistakes::rates::WRONG_CONFIRMED,
        false => mistakes::rates::WRONG_UNCONFIRMED,
    };
    let mut catalogue = Catalogue::default();
    for (kind, drafts) in kinds {
        let shares: f64 = drafts.iter().map(|draft| draft.share).sum();
        for draft in drafts {
            let code = likelihood(evidence.engine, &named, &draft.cause);
            let shown = controller::likelihood(evidence.controller, &draft.cause, &draft.second);
            let prior = (1.0 - wrong) * weight(kind) / total / shares * code * shown;
            if let Some(twin) = mistakes::twin(&context, &typed, &draft) {
                let prior = prior * twin.share;
                catalogue.add(twin, prior);
            }
            let prior = prior * draft.share;
            catalogue.add(draft, prior);
        }
    }
    let drafts = mistakes::mistakes(&context);
    for draft in drafts {
        // What this engine cannot have wrong is not given to the rest.
        let code = likelihood(evidence.engine, &named, &draft.cause);
        let shown = controller::likelihood(evidence.controller, &draft.cause, &draft.second);
        let prior = wrong * draft.share * code * shown;
        catalogue.add(draft, prior);
    }
    // What the codes accuse has been weighed: priors are those of an engine with these codes.
    catalogue.make_one();
    catalogue
}

impl Catalogue {
    /// Makes the priors sum to 1.
    fn make_one(&mut self) {
        let total: f64 = self.variants.iter().map(|variant| variant.prior).sum();
        self.variants.iter_mut().for_each(|variant| variant.prior /= total);
    }

    /// Where a cause stands in the list; many drafts one after the other are of one.
    fn index_of(&mut self, cause: Rc<Cause>) -> usize {
        if let Some((latest, index)) = &self.latest
            && Rc::ptr_eq(latest, &cause)
        {
            return *index;
        }
        let known = self.causes.iter().position(|known| *known == *cause);
        let index = known.unwrap_or_else(|| {
            self.causes.push(Cause::clone(&cause));
            self.causes.len() - 1
        });
        self.latest = Some((cause, index));
        index
    }

    fn add(&mut self, draft: Draft, prior: f64) {
        let cause = self.index_of(draft.cause);
        self.variants.push(Variant {
            cause,
            prior,
            second: draft.second,
            model: draft.model,
            moving: draft.moving,
            damaged: draft.damaged,
            delayed: draft.delayed,
            swap: draft.swap,
            foreign: draft.foreign,
        });
    }
}
