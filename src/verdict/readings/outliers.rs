//! How often a cam's reading is an outlier: made of noise, whatever its cam does.

use super::errors;
use super::wheel_edges::edge_counts;
use crate::cam::CamPosition;
use crate::edges::SignalFault;
use crate::verdict::evidence::Evidence;

/// However bad the signal, a wheel that was recognised is right in some captures.
pub(crate) const MOST_OUTLIER: f64 = 0.8;
/// Odd edges make the reading itself worthless at this rate for each odd edge per edge that fits.
/// In 500 simulated captures none of 105 readings with up to 1.5 odd edges per good one was wrong.
const ODD_EDGE_OUTLIER: f64 = 0.02;

/// Probability that a cam's reading is made of noise, before the character of its signal is
/// weighed.
pub(crate) fn made_of_noise(evidence: &Evidence, cam: &CamPosition) -> f64 {
    let faults = evidence.faults.iter().filter(|(lead, _)| lead.eq_ignore_ascii_case(&cam.lead));
    let signal: f64 = faults.map(|(_, fault)| fault_outlier(*fault)).sum();
    let (seen, odd) = edge_counts(cam);
    (errors::CAM_OUTLIER + signal + ODD_EDGE_OUTLIER * odd / seen).min(MOST_OUTLIER)
}

/// What a fault of a signal does to a reading that was made all the same.
fn fault_outlier(fault: SignalFault) -> f64 {
    match fault {
        // A reading from a dead lead cannot be.
        SignalFault::Dead => 0.4,
        // Clipping hides the tops, not the crossings.
        SignalFault::Clipped(_) => 0.001,
        SignalFault::Noisy(share) => (share * 0.05).clamp(0.0, 0.05),
        SignalFault::Wrapped(_) => 0.02,
        SignalFault::Glitches(_) => 0.002,
    }
}
