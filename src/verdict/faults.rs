//! Everything that is not a skip.

use super::Kind;
use super::amounts::Amount;
use super::behaviour::Behaviour;
use super::company::{OTHERS, beside};
use super::explanations::{Cause, Draft, Ground};
use super::likelihood::{Model, Own};
use super::priors;
use super::rows::Rows;
use super::wheel_edges::drag;
use crate::engine::CamShaft;
use crate::units::CYCLE_DEG;

fn cause(kind: Kind, on: Option<String>, moves: Vec<usize>) -> Cause {
    Cause { kind, on, chain: None, teeth: None, moves, same_as: vec![], crossed_with: None }
}

/// In time: build scatter, and perhaps a little stretch within tolerance.
pub(super) fn in_time(ground: &Ground) -> Vec<Draft> {
    let still = Model::still(ground.rows);
    let cause = cause(Kind::InTime, None, vec![]);
    let stretched = if ground.worn.is_empty() { 0.0 } else { priors::SOUND_WITH_WEAR };
    let mut drafts = vec![Draft::alone(cause.clone(), 1.0 - stretched, still.clone())];
    for chain in &ground.worn {
        let mut draft = Draft::alone(cause.clone(), stretched * chain.share, still.clone());
        let amount = Amount::Fading {
            from: 0.0,
            to: ground.tolerance(&chain.cams),
            mean: priors::SOUND_WEAR_MEAN.0,
        };
        draft.model.shared = Some((ground.rows.shafts_late(&chain.cams), amount));
        drafts.push(draft);
    }
    drafts
}

/// A chain or a strand of it long enough to put a cam out of tolerance.
pub(super) fn wear(ground: &Ground) -> Vec<Draft> {
    let one = |chain: &super::explanations::WornChain| {
        let mut cause = cause(Kind::Wear, None, chain.cams.clone());
        cause.chain = chain.chain;
        let least = ground.tolerance(&chain.cams);
        let mut draft = Draft::alone(cause, chain.share, Model::still(ground.rows));
        let amount = Amount::Fading {
            from: least,
            // A wide tolerance must leave room above it.
            to: priors::WEAR_MOST.0.max(least + priors::WEAR_MEAN.0),
            mean: priors::WEAR_MEAN.0,
        };
        draft.model.shared = Some((ground.rows.shafts_late(&chain.cams), amount));
        draft.moving = chain.cams.iter().map(|&cam| (cam, Behaviour::Worn)).collect();
        draft
    };
    ground.worn.iter().map(one).collect()
}

/// One phaser, those of one kind alike, or several each on its own.
pub(super) fn phasers(ground: &Ground) -> Vec<Draft> {
    let count = ground.phasers.len();
    let alone =
        if ground.running { priors::ONE_PHASER_RUNNING } else { priors::ONE_PHASER_CRANKING };
    let alone = if count > 1 { alone } else { 1.0 };
    let mut drafts = Vec::new();
    for &cam in &ground.phasers {
        one_phaser(ground, cam, alone / count as f64, &mut drafts);
    }
    if count > 1 {
        let alike = alike_groups(ground);
        for cams in &alike {
            let share = (1.0 - alone) * priors::PHASERS_ALIKE / alike.len() as f64;
            drafts.extend(phasers_alike(ground, cams, share));
        }
        let free = 1.0 - if alike.is_empty() { 0.0 } else { priors::PHASERS_ALIKE };
        let sets = away_together(&ground.phasers);
        for cams in &sets {
            drafts.push(phasers_apart(ground, cams, (1.0 - alone) * free / sets.len() as f64));
        }
    }
    drafts
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
fn phasers_apart(ground: &Ground, cams: &[usize], share: f64) -> Draft {
    let cause = cause(Kind::PhaserOffRest, None, cams.to_vec());
    let mut draft = Draft::alone(cause, share, Model::still(ground.rows));
    for &cam in cams {
        if let (Some(row), Some(amount)) = (ground.rows.row_of(cam), ground.away(cam)) {
            draft.model.own.push((row, vec![(1.0, amount)]));
        }
        draft.moving.push((cam, Behaviour::Loose));
    }
    draft
}

fn one_phaser(ground: &Ground, cam: usize, share: f64, drafts: &mut Vec<Draft>) {
    let Some(amount) = ground.away(cam) else { return };
    let on = ground.evidence.engine.cams[cam].name.clone();
    let cause = cause(Kind::PhaserOffRest, Some(on), vec![cam]);
    let build =
        |rows: &Rows| moved_alone(rows, rows.row_of(cam).map(|row| (row, vec![(1.0, amount)])));
    let mut draft = Draft::alone(cause, share, build(ground.rows));
    draft.moving.push((cam, Behaviour::Loose));
    drafts.extend(beside(ground, &draft, &build, &OTHERS));
    worn_or_not(ground, draft, drafts);
}

/// Groups of at least two phasers on cams of one kind that move the same way.
fn alike_groups(ground: &Ground) -> Vec<Vec<usize>> {
    let cams = &ground.evidence.engine.cams;
    [CamShaft::Intake, CamShaft::Exhaust, CamShaft::Single]
        .into_iter()
        .map(|shaft| {
            let mut group: Vec<usize> =
                ground.phasers.iter().copied().filter(|&cam| cams[cam].shaft == shaft).collect();
            let rest = group.first().and_then(|&cam| cams[cam].phaser).map(|phaser| phaser.rest);
            group.retain(|&cam| cams[cam].phaser.map(|phaser| phaser.rest) == rest);
            group
        })
        .filter(|group| group.len() > 1)
        .collect()
}

fn phasers_alike(ground: &Ground, cams: &[usize], share: f64) -> Option<Draft> {
    // The shortest travel bounds a common amount.
    let amount = cams.iter().filter_map(|&cam| ground.away(cam)).min_by(|a, b| {
        let width = |amount: &Amount| amount.range().1 - amount.range().0;
        width(a).total_cmp(&width(b))
    })?;
    let mut draft = Draft::alone(
        cause(Kind::PhaserOffRest, None, cams.to_vec()),
        share,
        Model::still(ground.rows),
    );
    draft.model.shared = Some((ground.rows.shafts_late(cams), amount));
    for &cam in cams {
        draft.model.loose.push((ground.rows.shafts_late(&[cam]), priors::PHASER_TRACKING_SD.0));
        draft.moving.push((cam, Behaviour::Loose));
    }
    Some(draft)
}

/// Amounts either way beyond a least one: mostly near, else anywhere up to a most.
fn either_way(least: f64, most: f64, mean: f64, near: f64) -> [(f64, Amount); 4] {
    // A range narrower than the least amount still has to be one.
    let most = most.max(least + 1.0);
    let far = (1.0 - near) / 2.0;
    [
        (near / 2.0, Amount::Fading { from: least, to: most, mean }),
        (near / 2.0, Amount::Fading { from: -least, to: -most, mean }),
        (far, Amount::Even { from: least, to: most }),
        (far, Amount::Even { from: -most, to: -least }),
    ]
}

/// Crank wheel, key, damper ring or TDC figure: every cam by the same amount, beyond tolerance.
pub(super) fn crank_reference(ground: &Ground) -> Vec<Draft> {
    let all: Vec<usize> = (0..ground.evidence.engine.cams.len()).collect();
    let least = if all.is_empty() { 0.0 } else { ground.tolerance(&all) };
    let cause = cause(Kind::CrankReferenceMoved, Some("crank".into()), all);
    let amounts = either_way(
        least,
        priors::CRANK_MOVED_MOST.0,
        priors::CRANK_MOVED_MEAN.0,
        priors::CRANK_MOVED_NEAR,
    );
    let worn = if ground.worn.is_empty() { 0.0 } else { priors::FAULT_WITH_WEAR };
    let mut drafts = Vec::new();
    for (share, amount) in amounts {
        let mut model = Model::still(ground.rows);
        model.shared = Some((ground.rows.crank_reference_late(), amount));
        model.together = true;
        drafts.push(Draft::alone(cause.clone(), share * (1.0 - worn), model));
    }
    for chain in &ground.worn {
        // Two shared amounts: the crank's becomes a normal one of the same spread.
        let mut model = Model::still(ground.rows);
        model.loose.push((ground.rows.crank_reference_late(), priors::CRANK_MOVED_MEAN.0 + least));
        model.together = true;
        let mut both = Draft::alone(cause.clone(), worn * chain.share, model);
        ground.wear(&mut both, chain);
        drafts.push(both);
    }
    drafts
}

/// A wheel slipped on its cam, or a wrong part: that cam's reading only, beyond tolerance.
pub(super) fn cam_wheels(ground: &Ground) -> Vec<Draft> {
    let engine = ground.evidence.engine;
    let share = 1.0 / engine.cams.len().max(1) as f64;
    let mut drafts = Vec::new();
    for cam in 0..engine.cams.len() {
        let cause = cause(Kind::CamWheelMoved, Some(engine.cams[cam].name.clone()), vec![cam]);
        let build = |rows: &Rows| moved_alone(rows, cam_wheel_own(ground, rows, cam));
        let draft = Draft::alone(cause, share, build(ground.rows));
        let others = [Kind::CrankReferenceMoved, Kind::DamagedTooth, Kind::LeadsCrossed];
        drafts.extend(beside(ground, &draft, &build, &others));
        worn_or_not(ground, draft, &mut drafts);
    }
    drafts
}

/// How far the wheel of a cam may have moved, as its row shows it, where the cam was measured.
pub(super) fn cam_wheel_own(ground: &Ground, rows: &Rows, cam: usize) -> Option<Own> {
    let row = rows.row_of(cam)?;
    let half = rows.list[row].period.unwrap_or(CYCLE_DEG) / 2.0;
    let least = ground.evidence.engine.cams[cam].tolerance.0;
    let amounts = either_way(least, half, priors::CAM_WHEEL_MEAN.0, priors::CAM_WHEEL_NEAR);
    Some((row, amounts.to_vec()))
}

/// One row moves by an amount of its own.
fn moved_alone(rows: &Rows, own: Option<Own>) -> Model {
    Model { own: own.into_iter().collect(), ..Model::still(rows) }
}

/// One tooth of a cam's wheel bent, chipped or gone.
pub(super) fn damaged(ground: &Ground) -> Vec<Draft> {
    let engine = ground.evidence.engine;
    let share = 1.0 / engine.cams.len().max(1) as f64;
    let mut drafts = Vec::new();
    for cam in 0..engine.cams.len() {
        let cause = cause(Kind::DamagedTooth, Some(engine.cams[cam].name.clone()), vec![cam]);
        let drag = |rows: &Rows| {
            Some((rows.row_of(cam)?, vec![(1.0, Amount::Bell { sd: damage_drag(ground, cam)? })]))
        };
        let build = |rows: &Rows| moved_alone(rows, drag(rows));
        let mut draft = Draft::alone(cause, share, build(ground.rows));
        draft.damaged = Some(cam);
        let others = [Kind::CrankReferenceMoved, Kind::LeadsCrossed];
        drafts.extend(beside(ground, &draft, &build, &others));
        worn_or_not(ground, draft, &mut drafts);
    }
    drafts
}

/// A fault alone and on a worn chain.
fn worn_or_not(ground: &Ground, fault: Draft, drafts: &mut Vec<Draft>) {
    let worn = if ground.worn.is_empty() { 0.0 } else { priors::FAULT_WITH_WEAR };
    for chain in &ground.worn {
        let mut both = Draft { share: fault.share * worn * chain.share, ..fault.clone() };
        ground.wear(&mut both, chain);
        drafts.push(both);
    }
    drafts.push(Draft { share: fault.share * (1.0 - worn), ..fault });
}

/// Standard deviation, crank degrees, by which a damaged tooth drags the place of its wheel along: of few edges a good
/// way, of many hardly.
pub(super) fn damage_drag(ground: &Ground, cam: usize) -> Option<f64> {
    Some(drag(ground.evidence.cam(cam)?.measured.edges.len()))
}

/// Fits closer than this (crank degrees) are equal: the pair looks the same either way round.
pub(super) const EQUAL_FIT_DEG: f64 = 2.0;

/// Pairs of leads that fit better everywhere when crossed.
pub(super) fn crossed(ground: &Ground) -> Vec<Draft> {
    let engine = ground.evidence.engine;
    let both = |cams: (usize, usize)| {
        ground.rows.row_of(cams.0).is_some() && ground.rows.row_of(cams.1).is_some()
    };
    let labelled = ground.rows.worst_deviation();
    let pairs = ground.evidence.swapped.iter().zip(ground.crossed).enumerate();
    let mut drafts = Vec::new();
    for (index, (swap, rows)) in pairs {
        if both(swap.cams) && rows.worst_deviation() >= labelled - EQUAL_FIT_DEG {
            continue;
        }
        let on = engine.cams[swap.cams.0].name.clone();
        let mut cause = cause(Kind::LeadsCrossed, Some(on), vec![swap.cams.0, swap.cams.1]);
        cause.crossed_with = Some(swap.cams.1);
        let mut draft = Draft::alone(cause, 1.0, Model::still(rows));
        draft.swap = Some(index);
        drafts.extend(beside(ground, &draft, &Model::still, &[Kind::CrankReferenceMoved]));
        worn_or_not(ground, draft, &mut drafts);
    }
    drafts.extend(on_another_sensor(ground));
    drafts
}

/// One lead on the sensor of a cam that has none, of the same wheel, where that fits better.
fn on_another_sensor(ground: &Ground) -> Vec<Draft> {
    let engine = ground.evidence.engine;
    let place = |cam: usize| {
        let (root, later) = engine.relation_root(cam);
        engine.expected(cam).map(|(at, _)| (usize::MAX, at.get())).unwrap_or((root, later.0))
    };
    let mut drafts = Vec::new();
    for result in ground.evidence.cams {
        let cam = result.measured.cam;
        let Some(row) = ground.rows.row_of(cam) else { continue };
        for other in ground.evidence.unmeasured() {
            let ((root, at), (other_root, other_at)) = (place(cam), place(other));
            let alike = engine.cams[other].wheel == engine.cams[cam].wheel && root == other_root;
            let off = ground.rows.least_deviation(row, 0.0);
            let apart = other_at - at;
            if !alike || ground.rows.least_deviation(row, apart) > off - EQUAL_FIT_DEG {
                continue;
            }
            let on = engine.cams[cam].name.clone();
            let mut cause = cause(Kind::LeadsCrossed, Some(on), vec![cam]);
            cause.crossed_with = Some(other);
            let mut model = Model::still(ground.rows);
            model.mean[row] = apart;
            worn_or_not(ground, Draft::alone(cause, 1.0, model), &mut drafts);
        }
    }
    drafts
}
