//! What keeps a verdict at "cannot tell", as facts.

use super::deviations::CamDeviation;
use super::evidence::Evidence;
use super::hypotheses::Cause;

/// Why nothing is found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Open {
    /// No cam was measured.
    NoCam,
    /// Everything is likely in time, but one reading stands far out: index into the engine's cams.
    Outlier(usize),
    /// Everything measured is in its place, but a skip would not show in it.
    Unobservable {
        /// The likeliest such skip: index into the verdict's explanations.
        skip: usize,
        /// Why it would not show.
        because: Unobservable,
    },
    /// A chain has skipped, and no chain is described to count its teeth in.
    HowFar,
    /// A chain has skipped, at one of several places.
    Where,
    /// No explanation is likely enough.
    Odds,
    /// A cam was held against another by a relation that nobody confirmed: whatever that shows is a condition and no finding.
    Assumed {
        /// The bank whose compression is lower beyond doubt, and by how many per cent.
        low_bank: Option<(u32, u32)>,
        /// A bank is lower, which one is not known.
        some_bank_low: bool,
    },
}

/// Why a skip would not show in what was measured.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unobservable {
    /// These of the cams it moves were not measured: indices into the engine's cams.
    NotMeasured(Vec<usize>),
    /// Where the cams should stand is known too loosely.
    PlaceUncertain,
    /// The cams are known only against each other.
    RelationsOnly,
}

impl Unobservable {
    /// Why a skip does not show in some deviations.
    pub(super) fn of(
        skip: &Cause,
        evidence: &Evidence,
        deviations: &[CamDeviation],
    ) -> Unobservable {
        let measured = |cam: usize| deviations.iter().any(|one| one.cam == cam);
        let missing: Vec<usize> =
            skip.moves.iter().copied().filter(|&cam| !measured(cam)).collect();
        if !missing.is_empty() {
            Unobservable::NotMeasured(missing)
        } else if skip.moves.iter().all(|&cam| evidence.engine.expected(cam).is_some()) {
            Unobservable::PlaceUncertain
        } else {
            Unobservable::RelationsOnly
        }
    }
}
