//! Would readings as good as can be have told? The same weighing with every cam exactly where it
//! was put, every edge of a sound wheel in its place, no odd edge and no fault of a signal. What
//! stays open then is open by the prior odds and the uncertainty of the description, and no decoder
//! can close it.
//!
//! Scatter and drift of the cycles, top dead centre by motion and the edges of a damaged wheel are
//! left as they were measured; compression is left out. So a capture is rather counted as one that
//! a better decoder could close.

use camwitness::analysis::Analysis;
use camwitness::cam::CamResult;
use camwitness::crank::Polarity;
use camwitness::practice::Truth;
use camwitness::units::{CrankDeg, CrankDelta};
use camwitness::verdict::{CrankFacts, Evidence, TdcEvidence, weigh};

use super::case::{Case, Class};

/// Whether perfect readings leave this capture open as well; not asked where leads are crossed or a
/// cam was not found.
pub fn open_to_perfect_readings(case: &Case, truth: &Truth, analysis: &Analysis) -> bool {
    let engine = &case.drawn.engine;
    if case.class == Class::CrossedLeads || analysis.cams.len() < engine.cams.len() {
        return false;
    }
    let cams: Vec<CamResult> = analysis.cams.iter().map(|cam| perfect(cam, truth)).collect();
    let tdc =
        analysis.compression.tdc.as_ref().and_then(|tdc| {
            Some(TdcEvidence { off: tdc.off?, sd: tdc.sd, known_modulo: tdc.modulo })
        });
    let verdict = weigh(&Evidence {
        engine,
        cams: &cams,
        crank: CrankFacts {
            lead: analysis.crank_lead.clone(),
            confidence: 1.0,
            known_modulo: analysis.crank.angle.known_modulo(),
            polarity: Polarity::Normal,
            teeth_seen: analysis.crank.teeth_seen,
            missed: 0,
            extra: 0,
            jitter: None,
            other_edge: None,
        },
        condition: analysis.crank.condition,
        swapped: &[],
        reordered: &[],
        same_sensor: &[],
        other_wheels: &[],
        faults: &[],
        compression: None,
        has_starter_lead: false,
        has_pressure_lead: false,
        with_lead: vec![],
        tdc,
        pressure_tdc: None,
        valves: &[],
        controller: &[],
        after_repair: false,
        codes: &case.codes,
        code_evidence: false,
    });
    !verdict.state.answers()
}

fn perfect(cam: &CamResult, truth: &Truth) -> CamResult {
    let of = &truth.cams[cam.measured.cam];
    let mut perfect = cam.clone();
    perfect.measured.position = CrankDeg::new(of.position_deg);
    perfect.measured.half_width95 = CrankDelta(0.0);
    perfect.measured.fit = 1.0;
    (perfect.measured.missed, perfect.measured.extra) = (0, 0);
    if of.damaged.is_empty() {
        perfect.measured.edges.iter_mut().for_each(|edge| edge.off = CrankDelta(0.0));
    }
    perfect
}
