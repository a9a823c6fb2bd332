//! Whether this engine should be turned by its starter again.

use super::evidence::Evidence;
use super::explanation::{Reason, Weighed};
use super::questions::Questions;
use super::{Kind, SURE};

/// What turning the engine again risks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Cranking {
    /// No more than any engine's.
    #[default]
    Free,
    /// Valves may stand wrong: turn it over by hand first.
    ByHandFirst,
    /// It is not turned by the starter again before the marks were looked at.
    NotAgain,
}

/// From this many expected degrees on (odds times displacement, summed over the skips) the starter
/// is not used again, sure or not: more than a common tooth of 17° has to be reckoned with even
/// after the odds against it. Judgement, no source.
const NOT_AGAIN_DEG: f64 = 20.0;
/// From this many on it is turned over by hand first: one time in twenty of a common tooth.
const BY_HAND_DEG: f64 = 0.85;
/// A skip of unknown size is taken for a common tooth, crank degrees.
const UNKNOWN_SIZE_DEG: f64 = 17.0;

/// The advice: odds times degrees, where valves can meet pistons or nobody says that they cannot.
pub(super) fn cranking(
    evidence: &Evidence,
    explanations: &[Weighed],
    questions: &Questions,
) -> Cranking {
    let skips = explanations.iter().filter(|one| one.kind == Kind::Skip);
    let size = |one: &Weighed| match &one.reason {
        Reason::Skip { shift: Some(shift), .. } => shift.by.0.abs(),
        _ => UNKNOWN_SIZE_DEG,
    };
    let expected: f64 = skips.map(|one| one.probability * size(one)).sum();
    // An engine that very likely jumped is not cranked again to make surer (common practice).
    if questions.skipped >= SURE {
        return Cranking::NotAgain;
    }
    if evidence.cams.is_empty() || evidence.engine.interference == Some(false) {
        return Cranking::Free;
    }
    match expected {
        most if most >= NOT_AGAIN_DEG => Cranking::NotAgain,
        some if some >= BY_HAND_DEG => Cranking::ByHandFirst,
        _ => Cranking::Free,
    }
}
