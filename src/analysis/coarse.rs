//! Cams whose crank was not recorded, held against the angle that ignition, pressure or the
//! compressions give: as coarse as that is.

use super::compress::Heard;
use crate::angle::FoundAngle;
use crate::cam::deviation::late;
use crate::cam::measure;
use crate::compression::CompressionOutcome;
use crate::edges::find_edges_of;
use crate::leads::Role;
use crate::stats::NORMAL95;
use crate::units::{CrankDeg, CrankDelta};

/// Where the compressions have TDC, on average, behind where it is, in crank degrees: a starter's
/// current and a battery's voltage follow the crank's speed, and lag it themselves. Fitted to
/// practice captures of three, five and six cylinders, clamp and battery (seeds 7101 to 7112: 6.2
/// to 10.3°, mean 8.5).
const BEHIND_TDC: f64 = 8.5;
/// Standard deviation of that: those captures scatter by 1.3°, at most 4.3° on others; more is
/// taken, for a real starter's lag was not measured.
const TDC_SD: f64 = 6.0;

/// Where a cam stands without a crank lead.
#[derive(Debug, Clone, PartialEq)]
pub struct CoarseCam {
    /// Index into the engine's cams.
    pub cam: usize,
    /// The column it was on.
    pub lead: String,
    /// Measured − expected, positive is late, counted from TDC by the compressions.
    pub deviation: CrankDelta,
    /// Half of the 95 % interval.
    pub half_width95: CrankDelta,
    /// Known up to whole multiples of this.
    pub known_modulo: CrankDelta,
}

impl CoarseCam {
    /// Whether it stands off by more than its interval.
    #[must_use]
    pub fn stands_off(&self) -> bool {
        self.deviation.0.abs() > self.half_width95.0
    }
}

/// The cam leads of a capture, where the compressions have a cylinder's name and the engine file
/// says where TDC and the cam should be.
pub(super) fn cams(
    heard: &Heard,
    found: &FoundAngle,
    outcome: &CompressionOutcome,
) -> Vec<CoarseCam> {
    let engine = heard.engine;
    let first = outcome.measured.as_ref().and_then(|measured| measured.first_tdc);
    let Some((first, tdc)) = first.zip(engine.crank.tdc) else { return Vec::new() };
    let cam = |lead: &crate::leads::Lead| {
        let Role::Cam(index) = lead.role else { return None };
        let described = &engine.cams[index];
        let (expected, expected_sd) = engine.expected(index)?;
        let channel = &heard.capture.channels[lead.channel];
        let train = find_edges_of(heard.capture, channel, described.sensor, &described.wheel);
        let measured = measure(index, described, &channel.name, &train, &found.angle)?;
        // Both counted from firing TDC of cylinder 1.
        let at = measured.position.get() - (first.0 - BEHIND_TDC);
        let should = expected.get() - tdc.0;
        let modulo = measured.known_modulo;
        let deviation = late(CrankDeg::new(at), CrankDeg::new(should), modulo);
        let sd = TDC_SD.hypot(found.sd.0).hypot(expected_sd.map_or(0.0, |sd| sd.0));
        let half_width95 = CrankDelta((NORMAL95 * sd).hypot(measured.half_width95.0));
        let lead = channel.name.clone();
        Some(CoarseCam { cam: index, lead, deviation, half_width95, known_modulo: modulo })
    };
    heard.leads.iter().filter_map(cam).collect()
}
