//! What the builders of single hypotheses share: the evidence, its rows and what the engine has.

use super::description::{WornChain, worn_chains};
use super::effects::EffectPrior;
use super::hypothesis::{Draft, SecondFault};
use super::model::{Model, Own};
use super::priors;
use crate::crank::Condition;
use crate::engine::PhaserRest;
use crate::units::CYCLE_DEG;
use crate::verdict::evidence::Evidence;
use crate::verdict::readings::{Rows, Steadiness, place_drag};

/// What the builders of single kinds need.
pub(crate) struct Context<'a> {
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

impl<'a> Context<'a> {
    /// What this engine's description and the capture's condition allow.
    pub(crate) fn new(
        evidence: &'a Evidence<'a>,
        rows: &'a Rows,
        crossed: &'a [Rows],
    ) -> Context<'a> {
        let engine = evidence.engine;
        Context {
            evidence,
            rows,
            crossed,
            worn: worn_chains(engine),
            phasers: (0..engine.cams.len())
                .filter(|&cam| engine.cams[cam].phaser.is_some())
                .collect(),
            running: evidence.condition != Condition::Cranking,
        }
    }

    /// Least tolerance of some cams.
    pub(crate) fn tolerance(&self, cams: &[usize]) -> f64 {
        cams.iter()
            .map(|&cam| self.evidence.engine.cams[cam].tolerance.0)
            .fold(f64::INFINITY, f64::min)
    }

    /// The rows that a draft's model is about.
    pub(crate) fn rows_of(&self, draft: &Draft) -> &Rows {
        draft.swap.map_or(self.rows, |swap| &self.crossed[swap])
    }

    /// Puts any amount of wear on a draft, with its cams' behaviour.
    pub(crate) fn wear(&self, draft: &mut Draft, worn: &WornChain) {
        let (mean, pattern) = (priors::WEAR_MEAN.0, worn.effect(self.rows_of(draft)));
        draft.model.normal.extend(worn.uneven(self.rows_of(draft)));
        if draft.model.shared.is_none() {
            let amount = EffectPrior::Fading { from: 0.0, to: worn.most, mean };
            draft.model.shared = Some((pattern, amount));
        } else {
            // One shared amount is taken: wear becomes a normal one of its own mean and spread.
            draft.model.mean.iter_mut().zip(&pattern).for_each(|(at, late)| *at += mean * late);
            draft.model.normal.push((pattern, mean));
        }
        draft.moving.extend(worn.cams.iter().map(|&cam| (cam, Steadiness::SlackChain)));
        draft.second = SecondFault::Wear(worn.chain);
    }

    /// Where a phaser may stand away from rest beyond what passes for in time, with shares that sum
    /// to 1; empty without one.
    pub(crate) fn away(&self, cam: usize) -> Vec<(f64, EffectPrior)> {
        let Some(phaser) = self.evidence.engine.cams[cam].phaser else { return vec![] };
        let (early, late) = phaser.range();
        let full = phaser.travel.0;
        // A short travel has no room beyond tolerance: all of it counts.
        let tolerance = self.evidence.engine.cams[cam].tolerance.0;
        let least = if tolerance < full { tolerance } else { 0.0 };
        let way = |end: f64| {
            let near = least * end.signum();
            EffectPrior::Even { from: near.min(end), to: near.max(end) }
        };
        match phaser.rest {
            PhaserRest::Retarded => vec![(1.0, way(early.0))],
            PhaserRest::Advanced => vec![(1.0, way(late.0))],
            PhaserRest::Middle => {
                // One that is not caught by its lock drifts against a stop, the late one as the
                // valves drag it.
                let stop = |end: f64| EffectPrior::Even {
                    from: end - priors::STOP_WITHIN.0,
                    to: end + priors::STOP_WITHIN.0,
                };
                let (at_stop, dragged) = (priors::MISSED_LOCK_AT_STOP, priors::MISSED_LOCK_LATE);
                [(late.0, dragged), (early.0, 1.0 - dragged)]
                    .into_iter()
                    .flat_map(|(end, share)| {
                        [(share * at_stop, stop(end)), (share * (1.0 - at_stop), way(end))]
                    })
                    .collect()
            }
        }
    }

    /// How often a phaser stands away while the engine runs, by what the controller shows of it.
    fn away_by_controller(&self, cam: usize, away: f64) -> f64 {
        let shown = self.evidence.controller.iter().find(|one| one.cam == cam);
        shown.map_or(away, |one| one.away(away))
    }

    /// Lets every phaser stand at rest or away, each on its own, `away` of the time.
    pub(crate) fn free_phasers(&self, draft: &mut Draft, away: f64) {
        for &cam in &self.phasers {
            let away = self.away_by_controller(cam, away);
            let mut amounts = vec![(1.0 - away, EffectPrior::Nothing)];
            amounts
                .extend(self.away(cam).into_iter().map(|(share, amount)| (share * away, amount)));
            shaft_away(self.rows, &mut draft.model, cam, &amounts);
            draft.moving.push((cam, Steadiness::UnlockedPhaser));
        }
        draft.second = SecondFault::Phasers(self.phasers.clone());
    }
}

/// A shaft away by one of these amounts, shares summing to 1: its cam's reading, the valves it
/// works, and what they make of compression.
pub(crate) fn shaft_away(
    rows: &Rows,
    model: &mut Model,
    cam: usize,
    amounts: &[(f64, EffectPrior)],
) {
    let own = rows.row_of(cam);
    let pattern = rows.shafts_late(&[cam]);
    let others = pattern.iter().enumerate().any(|(row, by)| Some(row) != own && *by != 0.0);
    match amounts {
        // What moves several rows alike is one amount.
        [(_, amount)] if others && model.shared.is_none() => {
            model.shared = Some((pattern, *amount));
        }
        _ => {
            let touched = own.into_iter().chain(rows.valves_of(cam));
            model.own.extend(touched.map(|row| (row, amounts.to_vec())));
            loosen_compression(rows, model, &pattern, amounts);
        }
    }
}

/// Lets compression stand where a shaft that is away by any of these amounts may take it: which one
/// it is, the other rows tell by themselves.
fn loosen_compression(
    rows: &Rows,
    model: &mut Model,
    pattern: &[f64],
    amounts: &[(f64, EffectPrior)],
) {
    let Some(row) = rows.compression_row() else { return };
    if pattern[row] == 0.0 {
        return;
    }
    let (mut mean, mut square) = (0.0, 0.0);
    for (share, amount) in amounts {
        let (of_mean, of_square) = amount.moments();
        mean += share * of_mean;
        square += share * of_square;
    }
    let variance = square - mean * mean;
    model.mean[row] += pattern[row] * mean;
    let mut alone = vec![0.0; pattern.len()];
    alone[row] = pattern[row];
    model.normal.push((alone, variance.max(0.0).sqrt()));
}

/// Amounts either way beyond a least one: mostly near, else anywhere up to a most.
pub(crate) fn either_way(least: f64, most: f64, mean: f64, near: f64) -> [(f64, EffectPrior); 4] {
    // A range narrower than the least amount still has to be one.
    let most = most.max(least + 1.0);
    let far = (1.0 - near) / 2.0;
    [
        (near / 2.0, EffectPrior::Fading { from: least, to: most, mean }),
        (near / 2.0, EffectPrior::Fading { from: -least, to: -most, mean }),
        (far, EffectPrior::Even { from: least, to: most }),
        (far, EffectPrior::Even { from: -most, to: -least }),
    ]
}

/// How far the wheel of a cam may have moved, as its row shows it, where the cam was measured.
pub(crate) fn cam_wheel_own(context: &Context, rows: &Rows, cam: usize) -> Option<Own> {
    let row = rows.row_of(cam)?;
    let half = rows.list[row].period.unwrap_or(CYCLE_DEG) / 2.0;
    let least = context.evidence.engine.cams[cam].tolerance.0;
    let amounts = either_way(least, half, priors::CAM_WHEEL_MEAN.0, priors::CAM_WHEEL_NEAR);
    Some((row, amounts.to_vec()))
}

/// Standard deviation, crank degrees, by which a damaged tooth drags the place of its wheel along:
/// of few edges a good way, of many hardly.
pub(crate) fn damage_drag(context: &Context, cam: usize) -> Option<f64> {
    Some(place_drag(context.evidence.cam(cam)?.measured.edges.len()))
}
