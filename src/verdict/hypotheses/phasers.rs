//! Phasers away from rest.

use super::context::{Context, shaft_away};
use super::effects::EffectPrior;
use super::hypothesis::{Cause, Draft};
use super::model::Model;
use super::pairs::{OTHERS, beside, with_wear_or_without};
use super::priors;
use crate::engine::{Cam, CamShaft, PhaserRest};
use crate::verdict::Kind;
use crate::verdict::readings::{Rows, Steadiness};

/// One phaser, those of one kind alike, or several each on its own.
pub(crate) fn phasers(context: &Context) -> Vec<Draft> {
    let count = context.phasers.len();
    let alone =
        if context.running { priors::ONE_PHASER_RUNNING } else { priors::ONE_PHASER_CRANKING };
    let alone = if count > 1 { alone } else { 1.0 };
    let mut drafts = Vec::new();
    for &cam in &context.phasers {
        let share = alone / count as f64;
        one_phaser(context, cam, share, &mut drafts);
        misdescribed(context, cam, share * priors::PHASER_MISDESCRIBED, &mut drafts);
    }
    undescribed(context, &mut drafts);
    if count > 1 {
        let alike = alike_groups(context);
        for cams in &alike {
            let share = (1.0 - alone) * priors::PHASERS_ALIKE / alike.len() as f64;
            drafts.extend(phasers_alike(context, cams, share));
        }
        let free = 1.0 - if alike.is_empty() { 0.0 } else { priors::PHASERS_ALIKE };
        let sets = away_together(&context.phasers);
        for cams in &sets {
            drafts.push(phasers_apart(context, cams, (1.0 - alone) * free / sets.len() as f64));
        }
    }
    drafts
}

/// Relative rate of phaser faults on this engine: where none is described, as often as one is left
/// out, or one that is there is denied.
pub(super) fn may_have(context: &Context) -> f64 {
    if context.phasers.is_empty() { most_open(context) } else { 1.0 }
}

/// How often a cam without a described phaser has one all the same.
fn open(cam: &Cam) -> f64 {
    match cam.shaft {
        _ if cam.phaser.is_some() => 0.0,
        _ if cam.without_phaser => priors::PHASER_MISDESCRIBED,
        CamShaft::Single => priors::PHASER_UNSAID_SINGLE,
        CamShaft::Intake | CamShaft::Exhaust => priors::PHASER_UNSAID,
    }
}

/// How often one of the cams without a described phaser has one all the same: those of an engine
/// have them together or not at all.
fn most_open(context: &Context) -> f64 {
    context.evidence.engine.cams.iter().map(open).fold(0.0, f64::max)
}

/// A phaser of which the description says nothing, or that there is none: it goes the way that is
/// usual for its shaft, or the other.
fn undescribed(context: &Context, drafts: &mut Vec<Draft>) {
    let cams = &context.evidence.engine.cams;
    let of = || (0..cams.len()).filter(|&cam| cams[cam].phaser.is_none());
    let sum: f64 = of().map(|cam| open(&cams[cam])).sum();
    // Beside described ones they are as rare as descriptions that are wrong there; alone the rate
    // of the kind says so.
    let all = if context.phasers.is_empty() { 1.0 } else { most_open(context) };
    for cam in of() {
        let (least, most) = (cams[cam].tolerance.0, priors::PHASER_UNSAID_TRAVEL.0);
        let early = match cams[cam].shaft {
            CamShaft::Exhaust => 1.0 - priors::PHASER_USUAL_WAY,
            CamShaft::Intake | CamShaft::Single => priors::PHASER_USUAL_WAY,
        };
        let amounts = vec![
            (early, EffectPrior::Even { from: -most, to: -least }),
            (1.0 - early, EffectPrior::Even { from: least, to: most }),
        ];
        by_itself(context, cam, all * open(&cams[cam]) / sum, amounts, drafts);
    }
}

/// A phaser that is described wrongly: `rest` the wrong way round, or its travel in cam degrees, so
/// that it reaches twice as far.
fn misdescribed(context: &Context, cam: usize, share: f64, drafts: &mut Vec<Draft>) {
    let engine = &context.evidence.engine.cams[cam];
    let Some(phaser) = engine.phaser else { return };
    let (full, least) = (phaser.travel.0, engine.tolerance.0.min(phaser.travel.0));
    let between =
        |one: f64, other: f64| EffectPrior::Even { from: one.min(other), to: one.max(other) };
    let further = |way: f64| between(way * full, way * 2.0 * full);
    let turned = |way: f64| between(way * least, way * full);
    let amounts = match phaser.rest {
        PhaserRest::Retarded => vec![(0.5, further(-1.0)), (0.5, turned(1.0))],
        PhaserRest::Advanced => vec![(0.5, further(1.0)), (0.5, turned(-1.0))],
        PhaserRest::Middle => vec![(0.5, further(-1.0)), (0.5, further(1.0))],
    };
    by_itself(context, cam, share, amounts, drafts);
}

/// One phaser away by what no description of it says, with wear or without.
fn by_itself(
    context: &Context,
    cam: usize,
    share: f64,
    amounts: Vec<(f64, EffectPrior)>,
    drafts: &mut Vec<Draft>,
) {
    for away in amounts {
        with_wear_or_without(context, away_by(context, cam, share, away).0, drafts);
    }
}

/// Every set of at least two phasers; of more than four phasers, the pairs and all of them.
fn away_together(phasers: &[usize]) -> Vec<Vec<usize>> {
    /// Sets of more would be too many to weigh one by one.
    const EVERY_SET_UP_TO: usize = 4;
    let count = phasers.len();
    if count <= EVERY_SET_UP_TO {
        let chosen = |mask: usize| -> Vec<usize> {
            (0..count).filter(|bit| mask >> bit & 1 == 1).map(|bit| phasers[bit]).collect()
        };
        return (0..1usize << count).map(chosen).filter(|set| set.len() > 1).collect();
    }
    let mut sets = vec![phasers.to_vec()];
    for (index, &first) in phasers.iter().enumerate() {
        sets.extend(phasers[index + 1..].iter().map(|&second| vec![first, second]));
    }
    sets
}

/// Some phasers away from rest, each by its own amount.
fn phasers_apart(context: &Context, cams: &[usize], share: f64) -> Draft {
    let cause = Cause::of(Kind::PhaserOffRest, None, cams.to_vec());
    let mut draft = Draft::alone(cause, share, Model::still(context.rows));
    for &cam in cams {
        shaft_away(context.rows, &mut draft.model, cam, &context.away(cam));
        draft.moving.push((cam, Steadiness::UnlockedPhaser));
    }
    draft
}

fn one_phaser(context: &Context, cam: usize, share: f64, drafts: &mut Vec<Draft>) {
    for away in context.away(cam) {
        let (draft, build) = away_by(context, cam, share, away);
        drafts.extend(beside(context, &draft, &build, &OTHERS));
        with_wear_or_without(context, draft, drafts);
    }
}

/// One phaser away by one amount, of so much of its share, and how its rows are made.
fn away_by<'a>(
    context: &'a Context,
    cam: usize,
    share: f64,
    (part, amount): (f64, EffectPrior),
) -> (Draft, impl Fn(&Rows) -> Model + 'a) {
    let on = context.evidence.engine.cams[cam].name.clone();
    let cause = Cause::of(Kind::PhaserOffRest, Some(on), vec![cam]);
    let build = move |rows: &Rows| {
        let mut model = Model::still(rows);
        shaft_away(rows, &mut model, cam, &[(1.0, amount)]);
        model
    };
    let mut draft = Draft::alone(cause, share * part, build(context.rows));
    draft.moving.push((cam, Steadiness::UnlockedPhaser));
    (draft, build)
}

/// Groups of at least two phasers on cams of one kind that move the same way.
fn alike_groups(context: &Context) -> Vec<Vec<usize>> {
    let cams = &context.evidence.engine.cams;
    [CamShaft::Intake, CamShaft::Exhaust, CamShaft::Single]
        .into_iter()
        .map(|shaft| {
            let mut group: Vec<usize> =
                context.phasers.iter().copied().filter(|&cam| cams[cam].shaft == shaft).collect();
            let rest = group.first().and_then(|&cam| cams[cam].phaser).map(|phaser| phaser.rest);
            group.retain(|&cam| cams[cam].phaser.map(|phaser| phaser.rest) == rest);
            group
        })
        .filter(|group| group.len() > 1)
        .collect()
}

fn phasers_alike(context: &Context, cams: &[usize], share: f64) -> Vec<Draft> {
    // The shortest travel bounds a common amount.
    let travel =
        |cam: usize| context.evidence.engine.cams[cam].phaser.map(|phaser| phaser.travel.0);
    let shortest = cams.iter().copied().min_by(|&a, &b| {
        travel(a).unwrap_or(f64::INFINITY).total_cmp(&travel(b).unwrap_or(f64::INFINITY))
    });
    let amounts = shortest.map_or_else(Vec::new, |cam| context.away(cam));
    amounts
        .into_iter()
        .map(|(part, amount)| alike_by(context, cams, share * part, amount))
        .collect()
}

fn alike_by(context: &Context, cams: &[usize], share: f64, amount: EffectPrior) -> Draft {
    let mut draft = Draft::alone(
        Cause::of(Kind::PhaserOffRest, None, cams.to_vec()),
        share,
        Model::still(context.rows),
    );
    draft.model.shared = Some((context.rows.shafts_late(cams), amount));
    for &cam in cams {
        draft.model.normal.push((context.rows.shafts_late(&[cam]), priors::PHASER_TRACKING_SD.0));
        draft.moving.push((cam, Steadiness::UnlockedPhaser));
    }
    draft
}
