//! Everything that could have happened to this engine, from its own drive tree.
//!
//! A [`Cause`] is what is reported; one cause has one or more [`Variant`]s (alone, with a
//! worn chain, with a phaser off its rest), each a model of the rows with its share
//! of the prior. Causes that displace only cams without a lead stay in the list: the
//! rows say nothing about them, so their prior odds remain.

use super::amounts::Amount;
use super::behaviour::Behaviour;
use super::evidence::Evidence;
use super::faults;
use super::likelihood::Model;
use super::priors;
use super::rows::Rows;
use super::{Kind, codes, skips};
use crate::crank::Condition;
use crate::engine::{ChainKind, Engine, Phaser};

/// What may have happened, as it is reported.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cause {
    pub kind: Kind,
    /// The shaft, cam or lead concerned.
    pub on: Option<String>,
    /// Index of the chain concerned.
    pub chain: Option<usize>,
    /// Teeth, positive late.
    pub teeth: Option<i32>,
    /// Cams whose shaft or reading is displaced.
    pub moves: Vec<usize>,
    /// Other shafts whose sprocket would give the same.
    pub same_as: Vec<String>,
    /// Second lead of a crossed pair.
    pub crossed_with: Option<usize>,
}

/// What comes along with a cause.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Company {
    /// Nothing.
    Alone,
    /// A chain worn, by index where the drive is described.
    Wear(Option<usize>),
    /// Phasers of these cams away from rest.
    Phasers(Vec<usize>),
    /// The crank's reference moved.
    CrankReference,
    /// The trigger wheel of this cam moved.
    CamWheel(usize),
    /// A damaged tooth on the wheel of this cam.
    DamagedTooth(usize),
    /// A skip at another place.
    Skip { on: String, chain: usize, teeth: i32 },
    /// A pair of leads crossed, by index of the swap.
    Crossed(usize),
}

/// One way a cause shows in the rows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Variant {
    /// Index into the list of causes.
    pub cause: usize,
    /// Share of all prior probability.
    pub prior: f64,
    pub company: Company,
    pub model: Model,
    /// Cams that do not stand steadily, and why.
    pub moving: Vec<(usize, Behaviour)>,
    /// Cam with a damaged tooth.
    pub damaged: Option<usize>,
    /// Index of the crossed pair whose readings apply.
    pub swap: Option<usize>,
}

/// The causes and their variants; priors sum to 1.
#[derive(Debug, Default)]
pub(super) struct Catalogue {
    pub causes: Vec<Cause>,
    pub variants: Vec<Variant>,
}

/// What the builders of single kinds need.
pub(super) struct Ground<'a> {
    pub evidence: &'a Evidence<'a>,
    pub rows: &'a Rows,
    /// Rows with each swapped pair's leads crossed.
    pub crossed: &'a [Rows],
    /// Chains that can wear: index, cams moved, relative rate.
    pub worn: Vec<WornChain>,
    /// Cams with a phaser.
    pub phasers: Vec<usize>,
    pub running: bool,
}

/// A chain or one strand of it that may be worn.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct WornChain {
    pub chain: Option<usize>,
    pub cams: Vec<usize>,
    pub share: f64,
}

/// A variant under way: its share of its own cause's kind.
#[derive(Clone)]
pub(super) struct Draft {
    pub cause: Cause,
    pub share: f64,
    pub company: Company,
    pub model: Model,
    pub moving: Vec<(usize, Behaviour)>,
    pub damaged: Option<usize>,
    pub swap: Option<usize>,
}

impl Draft {
    /// A cause alone, nothing moved yet.
    pub(super) fn alone(cause: Cause, share: f64, model: Model) -> Draft {
        Draft {
            cause,
            share,
            company: Company::Alone,
            model,
            moving: vec![],
            damaged: None,
            swap: None,
        }
    }
}

/// Lists everything that could have happened.
pub(super) fn enumerate(evidence: &Evidence, rows: &Rows, crossed: &[Rows]) -> Catalogue {
    let ground = Ground {
        evidence,
        rows,
        crossed,
        worn: worn_chains(evidence),
        phasers: (0..evidence.engine.cams.len())
            .filter(|&cam| evidence.engine.cams[cam].phaser.is_some())
            .collect(),
        running: evidence.condition != Condition::Cranking,
    };
    let kinds: Vec<(Kind, Vec<Draft>)> = vec![
        (Kind::InTime, faults::in_time(&ground)),
        (Kind::Skip, skips::skips(&ground)),
        (Kind::Wear, faults::wear(&ground)),
        (Kind::PhaserOffRest, faults::phasers(&ground)),
        (Kind::CrankReferenceMoved, faults::crank_reference(&ground)),
        (Kind::CamWheelMoved, faults::cam_wheels(&ground)),
        (Kind::DamagedTooth, faults::damaged(&ground)),
        (Kind::LeadsCrossed, faults::crossed(&ground)),
    ];
    let correlation = evidence.codes.iter().any(|code| codes::is_correlation(code));
    let phaser_code = evidence.codes.iter().any(|code| codes::is_phaser(code));
    let weight = |kind: Kind| {
        let gain = match kind {
            Kind::PhaserOffRest => {
                let code = if phaser_code { priors::PHASER_CODE_GAIN } else { 1.0 };
                code * if ground.running { priors::RUNNING_PHASER_GAIN } else { 1.0 }
            }
            // An engine without chains in its description is not said to skip.
            _ => 1.0,
        };
        priors::base_rate(kind, correlation) * gain
    };
    let total: f64 =
        kinds.iter().filter(|(_, drafts)| !drafts.is_empty()).map(|(kind, _)| weight(*kind)).sum();
    let mut catalogue = Catalogue::default();
    for (kind, drafts) in kinds {
        let shares: f64 = drafts.iter().map(|draft| draft.share).sum();
        for draft in drafts {
            let prior = weight(kind) / total * draft.share / shares;
            catalogue.add(draft, prior);
        }
    }
    catalogue
}

impl Catalogue {
    fn add(&mut self, draft: Draft, prior: f64) {
        let known = self.causes.iter().position(|cause| *cause == draft.cause);
        let cause = known.unwrap_or_else(|| {
            self.causes.push(draft.cause);
            self.causes.len() - 1
        });
        self.variants.push(Variant {
            cause,
            prior,
            company: draft.company,
            model: draft.model,
            moving: draft.moving,
            damaged: draft.damaged,
            swap: draft.swap,
        });
    }
}

/// Whole chains and single strands that can lengthen, shares summing to 1.
fn worn_chains(evidence: &Evidence) -> Vec<WornChain> {
    let engine = evidence.engine;
    if engine.drive.chains.is_empty() {
        return worn_somewhere(engine);
    }
    let mut worn: Vec<WornChain> = Vec::new();
    for (index, chain) in engine.drive.chains.iter().enumerate() {
        let rate = match chain.kind {
            ChainKind::Chain => 1.0,
            ChainKind::Belt => priors::BELT_WEAR,
            ChainKind::Gear => continue,
        };
        let below = |shaft: &str| -> Vec<usize> {
            let hangs = |cam: &usize| engine.drive.hangs_on(&engine.cams[*cam].name, shaft);
            (0..engine.cams.len()).filter(hangs).collect()
        };
        let mut whole: Vec<usize> = chain.driven.iter().flat_map(|s| below(&s.on)).collect();
        whole.sort_unstable();
        whole.dedup();
        if whole.is_empty() {
            continue;
        }
        let strands: Vec<Vec<usize>> = chain
            .driven
            .iter()
            .map(|sprocket| below(&sprocket.on))
            .filter(|cams| !cams.is_empty() && *cams != whole)
            .collect();
        let all = if strands.is_empty() { 1.0 } else { priors::WHOLE_CHAIN };
        let each = (1.0 - all) / strands.len().max(1) as f64;
        worn.push(WornChain { chain: Some(index), cams: whole, share: rate * all });
        for cams in strands {
            worn.push(WornChain { chain: Some(index), cams, share: rate * each });
        }
    }
    let total: f64 = worn.iter().map(|chain| chain.share).sum();
    worn.iter_mut().for_each(|chain| chain.share /= total);
    worn
}

/// An engine whose drive is not described has one all the same, and it wears: all cams late alike, or some of them.
fn worn_somewhere(engine: &Engine) -> Vec<WornChain> {
    let groups = skips::groups_without_drive(engine);
    let some = (1.0 - priors::WHOLE_CHAIN) / (groups.len().max(2) - 1) as f64;
    let share = |cams: &Vec<usize>| match groups.len() {
        1 => 1.0,
        _ if cams.len() == engine.cams.len() => priors::WHOLE_CHAIN,
        _ => some,
    };
    groups
        .iter()
        .map(|cams| WornChain { chain: None, cams: cams.clone(), share: share(cams) })
        .collect()
}

impl Ground<'_> {
    /// Least tolerance of some cams.
    pub(super) fn tolerance(&self, cams: &[usize]) -> f64 {
        cams.iter()
            .map(|&cam| self.evidence.engine.cams[cam].tolerance.0)
            .fold(f64::INFINITY, f64::min)
    }

    /// The rows that a draft's model is about.
    pub(super) fn rows_of(&self, draft: &Draft) -> &Rows {
        draft.swap.map_or(self.rows, |swap| &self.crossed[swap])
    }

    /// Puts any amount of wear on a draft, with its cams' behaviour.
    pub(super) fn wear(&self, draft: &mut Draft, worn: &WornChain) {
        let (mean, pattern) = (priors::WEAR_MEAN.0, self.rows_of(draft).shafts_late(&worn.cams));
        if draft.model.shared.is_none() {
            let amount = Amount::Fading { from: 0.0, to: priors::WEAR_MOST.0, mean };
            draft.model.shared = Some((pattern, amount));
        } else {
            // One shared amount is taken: wear becomes a normal one of its own mean and spread.
            draft.model.mean.iter_mut().zip(&pattern).for_each(|(at, late)| *at += mean * late);
            draft.model.loose.push((pattern, mean));
        }
        draft.moving.extend(worn.cams.iter().map(|&cam| (cam, Behaviour::Worn)));
        draft.company = Company::Wear(worn.chain);
    }

    /// Where a phaser may stand away from rest beyond what passes for in time.
    pub(super) fn away(&self, cam: usize) -> Option<Amount> {
        let phaser: Phaser = self.evidence.engine.cams[cam].phaser?;
        let full = phaser.full_travel().0;
        // A short travel has no room beyond tolerance: all of it counts.
        let tolerance = self.evidence.engine.cams[cam].tolerance.0;
        let least = if tolerance < full.abs() { tolerance } else { 0.0 };
        let (near, far) = (least * full.signum(), full);
        Some(Amount::Even { from: near.min(far), to: near.max(far) })
    }

    /// Lets every phaser stand at rest or away, each on its own, `away` of the time.
    pub(super) fn free_phasers(&self, draft: &mut Draft, away: f64) {
        for &cam in &self.phasers {
            let (Some(row), Some(amount)) = (self.rows.row_of(cam), self.away(cam)) else {
                continue;
            };
            draft.model.own.push((row, vec![(1.0 - away, Amount::Nothing), (away, amount)]));
            draft.moving.push((cam, Behaviour::Loose));
        }
        draft.company = Company::Phasers(self.phasers.clone());
    }
}
