//! Signal health: said before any timing, and holding the verdict back as far as it should.
//!
//! A bad crank signal makes every angle doubtful: with probability [`crank_angle_wrong`] the
//! readings say nothing and the prior stands. A bad cam signal makes that cam's reading an outlier
//! more often, which is said where readings are made.

use super::Caveat;
use super::evidence::Evidence;
use super::readings::{edges_lost, kind_offs};
use crate::cam::CamPosition;
use crate::crank::Polarity;
use crate::units::CrankDelta;
use crate::wheel::Form;

/// Share of lost or extra crank teeth that costs nothing: start-up and firing lose a few.
const CRANK_TEETH_FREE: f64 = 0.02;
/// Each further share of lost teeth is this likely to hide a slip of the whole count.
const CRANK_TEETH_DOUBT: f64 = 0.5;
/// Rising and falling edges further apart than this (crank degrees) are a threshold or an air gap.
const EDGE_KIND_APART_DEG: f64 = 2.0;
/// Fewer cycles than this are too few to see scatter.
const FEW_CYCLES: usize = 3;

/// Probability that the crank angle is wrong altogether, 0..1.
pub(super) fn crank_angle_wrong(evidence: &Evidence) -> f64 {
    let crank = &evidence.crank;
    let lost = crank_lost(evidence);
    let doubt = (lost - CRANK_TEETH_FREE).max(0.0) * CRANK_TEETH_DOUBT;
    let confidence = if crank.confidence.is_finite() { crank.confidence } else { 0.0 };
    (1.0 - confidence + doubt).clamp(0.0, 1.0)
}

fn crank_lost(evidence: &Evidence) -> f64 {
    let crank = &evidence.crank;
    (crank.missed + crank.extra) as f64 / crank.teeth_seen.max(1) as f64
}

/// Everything wrong with the signals; the crank first.
pub(super) fn caveats(evidence: &Evidence) -> Vec<Caveat> {
    let mut caveats = crank_caveats(evidence);
    for (lead, fault) in evidence.faults {
        caveats.push(Caveat::Signal { lead: lead.clone(), fault: *fault });
    }
    for result in evidence.cams {
        caveats.extend(cam_caveats(evidence, &result.measured));
    }
    caveats.extend(evidence.unmeasured().into_iter().map(Caveat::NotMeasured));
    caveats
}

fn crank_caveats(evidence: &Evidence) -> Vec<Caveat> {
    let crank = &evidence.crank;
    let mut caveats = Vec::new();
    if crank.confidence < super::SURE {
        caveats.push(Caveat::CrankNotCounted);
    }
    if crank_lost(evidence) > CRANK_TEETH_FREE {
        let (missed, extra, seen) = (crank.missed, crank.extra, crank.teeth_seen);
        caveats.push(Caveat::CrankTeethLost { missed, extra, seen });
    }
    caveats.extend(crank.jitter.map(Caveat::CrankJitters));
    // Of a wheel given as slots only the edge that marks them counts, and what is doubtful of that
    // is said apart.
    let as_teeth = matches!(evidence.engine.crank.wheel.form(), Form::Teeth(_));
    if crank.polarity == Polarity::Inverted && as_teeth {
        caveats.push(Caveat::CrankReversed);
    }
    caveats
}

fn cam_caveats(evidence: &Evidence, measured: &CamPosition) -> Vec<Caveat> {
    let cam = measured.cam;
    let Some(described) = evidence.engine.cams.get(cam) else { return vec![] };
    let mut caveats = Vec::new();
    if measured.polarity == Polarity::Inverted {
        caveats.push(Caveat::CamReversed(cam));
    }
    let cycles = measured.cycles.len();
    if cycles < FEW_CYCLES {
        caveats.push(Caveat::FewCycles { cam, cycles });
    }
    let edges = edges_lost(described, measured);
    if edges > 0 {
        caveats.push(Caveat::EdgesNeverSeen { cam, edges });
    }
    if let (Some(rising), Some(falling)) = kind_offs(measured)
        && (rising - falling).abs() > EDGE_KIND_APART_DEG
    {
        let apart = CrankDelta((rising - falling).abs());
        caveats.push(Caveat::EdgeKindsApart { cam, apart });
    }
    caveats
}
