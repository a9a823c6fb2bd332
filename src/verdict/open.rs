//! What keeps a verdict at "cannot tell", as facts.

use super::evidence::Evidence;
use super::hypotheses::Cause;

/// Why nothing is found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Open {
    /// No cam was measured.
    NoCam,
    /// Everything is likely in time, but one reading stands far out: index into the engine's cams.
    Outlier(usize),
    /// Everything measured is likely in its place, taken over the capture, but one cam moved out of
    /// its tolerance within it: index into the engine's cams.
    Moved(usize),
    /// Everything measured is in its place, but a fault that moves it would not show.
    Unobservable {
        /// The likeliest such fault: index into the verdict's explanations.
        fault: usize,
        /// Why it would not show.
        because: Unobservable,
    },
    /// Everything measured looks to be in its place, but a wheel repeats within a turn, and no
    /// second cam settles by how many of its periods this one stands off: index into the engine's
    /// cams.
    Repeats(usize),
    /// Two things contradict each other: index into the verdict's contradictions.
    Contradiction(usize),
    /// No explanation is likely enough.
    Odds,
    /// A cam was held against another by a relation that nobody confirmed: whatever that shows is a
    /// condition and no finding.
    Assumed {
        /// The bank whose compression is lower beyond doubt, and by how many per cent.
        low_bank: Option<(u32, u32)>,
        /// A bank is lower, which one is not known.
        some_bank_low: bool,
    },
}

/// Why a fault would not show in what was measured.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unobservable {
    /// Where the cams should stand is known too loosely.
    PlaceUncertain,
    /// The cams are known only against each other.
    RelationsOnly,
}

impl Unobservable {
    /// Why a fault of some recorded cams does not show.
    pub(super) fn of(fault: &Cause, evidence: &Evidence) -> Unobservable {
        let mut recorded = fault.moves.iter().filter(|&&cam| evidence.cam(cam).is_some());
        if recorded.all(|&cam| evidence.engine.expected(cam).is_some()) {
            Unobservable::PlaceUncertain
        } else {
            Unobservable::RelationsOnly
        }
    }
}
