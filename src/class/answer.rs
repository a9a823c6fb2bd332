//! The right answers to an exercise, from what was really done.

use serde::{Deserialize, Serialize};

use super::cause::{Cause, NextTest};
use super::engine_file::read_later;
use super::exercise::Exercise;
use crate::engine::Engine;
use crate::practice::{Fault, Truth};

/// What is right. What is absent is not asked of this student: the signals do not show it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Answer {
    /// Cams that read away from where the engine file puts them; empty for none.
    pub cams: Option<Vec<String>>,
    /// Banks that are concerned; empty for none.
    pub banks: Option<Vec<u32>>,
    /// How far the cam furthest off reads off, crank degrees, late positive; 0 for none.
    pub degrees: Option<f64>,
    /// Teeth that the chain skipped, late positive.
    pub teeth: Option<i32>,
    /// What is wrong.
    pub cause: Cause,
    /// What comes next.
    pub next_test: NextTest,
}

/// The right answers. `recorded` are the cams that the student sees, as indices of the engine,
/// which is the true one; the truth is of it too.
pub(super) fn answer(
    exercise: &Exercise,
    engine: &Engine,
    truth: &Truth,
    recorded: &[usize],
) -> Answer {
    let cause = exercise.cause();
    let next_test = cause.next();
    let untold = |cams: Option<Vec<String>>, banks| Answer {
        cams,
        banks,
        degrees: None,
        teeth: None,
        cause,
        next_test,
    };
    let bank = |name: &str| engine.cam_index(name).map(|cam| engine.cams[cam].bank);
    match exercise {
        // No place can be read off these. Crossed leads of cams alike are in place, a turn of the
        // crank away: a coil tells, and not where the cams stand.
        Exercise::LowRate | Exercise::WrongFile | Exercise::Fault(Fault::CrossedLeads { .. }) => {
            return untold(None, None);
        }
        Exercise::Fault(Fault::DamagedTooth { cam, .. }) => {
            let name = engine.cam_index(cam).map(|cam| engine.cams[cam].name.clone());
            let banks = bank(cam).into_iter().collect();
            return untold(Some(name.into_iter().collect()), Some(banks));
        }
        // Where an even wheel lost a tooth, or a signal is upside down, its places shift with it.
        Exercise::Fault(Fault::Reversed { .. } | Fault::MissingTooth { .. }) => {
            return untold(None, None);
        }
        _ => {}
    }
    let later = read_later(exercise, engine);
    let off: Vec<(usize, f64)> = recorded
        .iter()
        .map(|&cam| (cam, reads_off(truth, cam) + later[cam]))
        .filter(|&(cam, off)| is_off(exercise, engine, cam, off))
        .collect();
    let furthest = off.iter().map(|(_, off)| *off).max_by(|a, b| a.abs().total_cmp(&b.abs()));
    let mut banks = in_order(off.iter().map(|(cam, _)| engine.cams[*cam].bank));
    if let Exercise::Fault(
        Fault::DeadCylinder { cylinder }
        | Fault::WeakCylinder { cylinder, .. }
        | Fault::StarvedCylinder { cylinder, .. },
    ) = exercise
    {
        banks = engine.bank_of(*cylinder).into_iter().collect();
    }
    Answer {
        cams: Some(off.iter().map(|(cam, _)| engine.cams[*cam].name.clone()).collect()),
        banks: Some(banks),
        degrees: Some(furthest.map_or(0.0, |off| (off * 10.0).round() / 10.0)),
        teeth: Some(truth.skips.iter().map(|skip| skip.teeth).sum()),
        cause,
        next_test,
    }
}

/// How far a cam stands from where the description puts it, or from where it was made where none
/// does.
fn reads_off(truth: &Truth, cam: usize) -> f64 {
    let parts = &truth.cams[cam].parts;
    truth.cams[cam].deviation_deg.unwrap_or(
        parts.skip
            + parts.wear
            + parts.phaser
            + parts.movement
            + parts.cam_wheel
            + parts.crank_wheel,
    )
}

/// Whether a cam counts as off: out of its tolerance, or counted from the wrong edge, which may be
/// less than that.
fn is_off(exercise: &Exercise, engine: &Engine, cam: usize, off: f64) -> bool {
    let wrong_edge = matches!(exercise, Exercise::WrongEdge(_));
    off.abs() > engine.cams[cam].tolerance.0
        || wrong_edge && read_later(exercise, engine)[cam] != 0.0
}

fn in_order(banks: impl Iterator<Item = u32>) -> Vec<u32> {
    let mut banks: Vec<u32> = banks.collect();
    banks.sort_unstable();
    banks.dedup();
    banks
}
