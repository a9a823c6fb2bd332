//! Two things that cannot both be right: as long as they stand, no verdict is confident.

use super::compression::Agreement;
use super::evidence::Evidence;
use super::hypotheses::SecondFault;
use super::{Kind, State};
use crate::units::CrankDelta;

/// What contradicts what. Cams are indices into the engine's cams.
#[derive(Debug, Clone, PartialEq)]
pub enum Contradiction {
    /// Two leads show the same edges at the same moments: one sensor on two channels.
    SameSensor(usize, usize),
    /// The cams say that a bank's valves close late or early, and its compression does not.
    Compression {
        /// Difference of relative compression that the cams should have made.
        expected: f64,
        /// The one that was measured.
        measured: f64,
    },
    /// The readings need two faults at once that have nothing to do with each other, each of them
    /// rare: the leading explanation and what comes along with it.
    TwoFaults,
    /// The known-good reference and the engine file put a cam in two places.
    KnownGood {
        /// The cam.
        cam: usize,
        /// How much later the known-good has it.
        later: CrankDelta,
    },
}

impl Contradiction {
    /// Whether a finding of this state has to be held back for it. What sound engines showed stands
    /// before a typed figure, so those two are only told.
    pub(super) fn holds_back(&self, state: State) -> bool {
        match self {
            // Nor is a mistake of the engine file named where it is plain that it is the leads.
            Contradiction::SameSensor(..) => state != State::CannotTell,
            Contradiction::Compression { .. } => {
                matches!(state, State::Jumped | State::DriveDue)
            }
            Contradiction::TwoFaults => {
                matches!(state, State::Jumped | State::DriveDue | State::OffNotJumped)
            }
            Contradiction::KnownGood { .. } => false,
        }
    }
}

/// Share of the odds of a finding from which on it is said to need two faults: one alone is then
/// the less likely reading of it.
const NEEDS_TWO: f64 = 0.5;

/// Everything that contradicts; `paired` is the share of the leading explanation's odds that needs
/// a second, unconnected fault.
pub(super) fn contradictions(
    evidence: &Evidence,
    leading: Kind,
    paired: f64,
) -> Vec<Contradiction> {
    let mut found: Vec<Contradiction> = evidence
        .same_sensor
        .iter()
        .map(|&(first, second)| Contradiction::SameSensor(first, second))
        .collect();
    if let Some(compression) = &evidence.compression {
        let judged = compression.judge();
        if judged.agreement == Agreement::Contradicts {
            found.push(Contradiction::Compression {
                expected: judged.expected.unwrap_or(0.0),
                measured: compression.difference,
            });
        }
    }
    if paired > NEEDS_TWO && leading != Kind::InTime && leading != Kind::DoesNotFit {
        found.push(Contradiction::TwoFaults);
    }
    found.extend(known_good(evidence));
    found
}

/// Cams whose known-good place is further from the engine file's than both allow.
fn known_good(evidence: &Evidence) -> Vec<Contradiction> {
    use crate::cam::ExpectedFrom;
    let apart = |result: &crate::cam::CamResult| {
        let cam = result.measured.cam;
        let known = result.expected.filter(|one| one.from == ExpectedFrom::KnownGood)?;
        let (typed, _) = evidence.engine.expected(cam)?;
        let later = crate::cam::deviation::late(known.at, typed, result.known_modulo);
        // Further than a sound engine may stand from its place.
        (later.0.abs() > evidence.engine.cams[cam].tolerance.0)
            .then_some(Contradiction::KnownGood { cam, later })
    };
    evidence.cams.iter().filter_map(apart).collect()
}

impl SecondFault {
    /// Whether it is rare and has nothing to do with the fault it comes along with. A slack chain
    /// skips, and may skip twice; a phaser off its rest is no rare thing.
    pub(super) fn is_unconnected(&self) -> bool {
        match self {
            SecondFault::None
            | SecondFault::Wear(_)
            | SecondFault::Phasers(_)
            | SecondFault::Skip { .. }
            // No fault of the engine: bank against bank shows a skip whatever the datum was.
            | SecondFault::Places => false,
            SecondFault::CrankReference
            | SecondFault::CamWheel(_)
            | SecondFault::DamagedTooth(_)
            | SecondFault::Figure(_)
            | SecondFault::Delayed(_)
            | SecondFault::Crossed(..) => true,
        }
    }
}
