//! What the verdict weighs: everything measured, nothing judged.

use super::compression::CompressionEvidence;
use super::controller::ControllerReading;
use crate::cam::{CamResult, LeadOrder, SwappedFit};
use crate::crank::{Condition, Polarity, WhyDoubted};
use crate::edges::SignalFault;
use crate::engine::Engine;
use crate::units::{CrankDeg, CrankDelta};

/// What is known of the crank's own signal.
#[derive(Debug, Clone, PartialEq)]
pub struct CrankFacts {
    /// Name of the crank lead.
    pub lead: String,
    /// Probability that the slots are identified rightly, 0..1.
    pub confidence: f64,
    /// 360, or a divisor of it when the crank wheel repeats: all cam angles together may be
    /// off by a multiple of this.
    pub known_modulo: CrankDelta,
    /// Which way up the signal is.
    pub polarity: Polarity,
    /// Marks used.
    pub teeth_seen: usize,
    /// Teeth that should have been there and were not.
    pub missed: usize,
    /// Edges that are no tooth.
    pub extra: usize,
    /// Scatter of a single edge, where it is notable.
    pub jitter: Option<CrankDelta>,
    /// Why the other kind of edge may be the marking one, and how much later every cam and TDC
    /// would read by it.
    pub other_edge: Option<(WhyDoubted, CrankDelta)>,
}

/// Top dead centre as the engine's own motion (or pressure) shows it, against the description.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TdcEvidence {
    /// Found − described `tdc`, both from the datum; positive is later.
    pub off: CrankDelta,
    /// Its standard deviation.
    pub sd: CrankDelta,
    /// `off` is known only up to a multiple of this: the firing interval, or 720.
    pub known_modulo: CrankDelta,
}

/// A valve event of one cylinder, read off its pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValveEvidence {
    /// The cylinder.
    pub cylinder: u32,
    /// Intake closing; else exhaust opening.
    pub intake: bool,
    /// Crank degrees after the firing TDC that the same pressure shows.
    pub at: CrankDeg,
    /// Found − described; positive is late. Absent when the description does not place it.
    pub off: Option<CrankDelta>,
    /// Standard deviation of the mean over the cycles.
    pub scatter: CrankDelta,
}

/// All that bears on the verdict.
#[derive(Debug, Clone)]
pub struct Evidence<'a> {
    /// What the engine should be.
    pub engine: &'a Engine,
    /// Cams that were measured, at most one result for each.
    pub cams: &'a [CamResult],
    /// The crank's signal.
    pub crank: CrankFacts,
    /// What turned the engine.
    pub condition: Condition,
    /// Pairs of cams that also fit with their leads crossed.
    pub swapped: &'a [SwappedFit],
    /// The same of more than two leads, where each wheel fits another's lead.
    pub reordered: &'a [LeadOrder],
    /// Pairs of cams whose leads show the same edges.
    pub same_sensor: &'a [(usize, usize)],
    /// Cams whose lead shows another wheel than described, with its name in the library.
    pub other_wheels: &'a [(usize, String)],
    /// Signal faults by lead name; a lead may occur more than once.
    pub faults: &'a [(String, SignalFault)],
    /// Bank difference of compression; absent when silent or not measured.
    pub compression: Option<CompressionEvidence>,
    /// Whether a starter-current (or battery) lead was in the capture, used or not.
    pub has_starter_lead: bool,
    /// Whether a pressure lead was in the capture, used or not.
    pub has_pressure_lead: bool,
    /// Cams that had a lead, read or not: indices into the engine's cams.
    pub with_lead: Vec<usize>,
    /// TDC by the engine's motion or by pressure; absent when not measured.
    pub tdc: Option<TdcEvidence>,
    /// TDC by the pressure in a cylinder; absent when not measured.
    pub pressure_tdc: Option<TdcEvidence>,
    /// Valve events read off the pressure.
    pub valves: &'a [ValveEvidence],
    /// What a scan tool shows of single cams.
    pub controller: &'a [ControllerReading],
    /// Whether the drive was taken apart and put together since the engine last ran well.
    pub after_repair: bool,
    /// Stored codes as typed.
    pub codes: &'a [String],
    /// Whether the bank that codes name counts as evidence.
    pub code_evidence: bool,
}

impl Evidence<'_> {
    /// Cams of the engine without a measurement.
    #[must_use]
    pub fn unmeasured(&self) -> Vec<usize> {
        (0..self.engine.cams.len()).filter(|&cam| self.cam(cam).is_none()).collect()
    }

    /// The result of one cam.
    #[must_use]
    pub fn cam(&self, cam: usize) -> Option<&CamResult> {
        self.cams.iter().find(|result| result.measured.cam == cam)
    }
}
