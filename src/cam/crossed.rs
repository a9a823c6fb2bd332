//! Where cams would stand if two leads were exchanged.

use super::phase::DatumChoice;
use super::{CamPosition, measure};
use crate::crank::CrankAngle;
use crate::edges::EdgeTrain;
use crate::engine::Engine;

/// Where two cams would stand if their leads were crossed. Only given when each wheel fits the
/// other's lead.
#[derive(Debug, Clone, PartialEq)]
pub struct SwappedFit {
    /// Indices into the engine's cams.
    pub cams: (usize, usize),
    /// First cam measured on the second's lead, second cam on the first's.
    pub positions: (CamPosition, CamPosition),
}

/// Every pair of cams whose wheels fit each other's lead as well. `leads` are the cams that have
/// one, with the lead's name and its edges.
#[must_use]
pub fn crossed(
    engine: &Engine,
    leads: &[(usize, &str, &EdgeTrain)],
    angle: &CrankAngle,
    datum: &DatumChoice,
) -> Vec<SwappedFit> {
    let fit = |cam: usize, lead: &str, train: &EdgeTrain| {
        let mut position = measure(cam, &engine.cams[cam], lead, train, angle)?;
        position.position = position.position + datum.shift;
        Some(position)
    };
    let mut pairs = Vec::new();
    for (i, &(first, first_lead, first_train)) in leads.iter().enumerate() {
        for &(second, second_lead, second_train) in &leads[i + 1..] {
            let exchanged =
                fit(first, second_lead, second_train).zip(fit(second, first_lead, first_train));
            if let Some(positions) = exchanged {
                pairs.push(SwappedFit { cams: (first, second), positions });
            }
        }
    }
    pairs
}
