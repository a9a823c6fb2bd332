//! What the cams, standing where they were measured, should have made of the banks' compression.

use super::geometry::CylinderShape;
use crate::engine::CamShaft;
use crate::units::CrankDelta;

/// A measured deviation of a cam that moves intake closing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CamShift {
    /// Bank.
    pub bank: u32,
    /// Which valves it drives; only intake and single cams matter here.
    pub shaft: CamShaft,
    /// Measured deviation; positive is late.
    pub deviation: CrankDelta,
    /// Its standard deviation.
    pub sd: CrankDelta,
}

/// The change of relative compression that a bank's cams should have made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExpectedChange {
    /// Of the bank against the mean of the others: −0.1 is a tenth down.
    pub difference: f64,
    /// Standard deviation by the cams' own errors; how well the geometry is known is left out.
    pub sd: f64,
    /// The least change, up or down, that any of the banks should show against the same bank with
    /// its cam in place. *Relative* compression stays even when all change alike.
    pub least_of_all: f64,
}

/// What the cams should have made of the compression of `bank` against the others of `banks`;
/// `None` when a bank has no intake cam that was measured.
pub(super) fn expected(
    bank: u32,
    banks: &[u32],
    shifts: &[CamShift],
    shape: &CylinderShape,
) -> Option<ExpectedChange> {
    let changes: Vec<(u32, (f64, f64))> = banks
        .iter()
        .map(|&bank| Some((bank, change_of(bank, shifts, shape)?)))
        .collect::<Option<_>>()?;
    let (_, (own, own_sd)) = changes.iter().find(|(of, _)| *of == bank)?;
    let others = || changes.iter().filter(|(of, _)| *of != bank).map(|(_, change)| change);
    let n = others().count().max(1) as f64;
    let mean = others().map(|(change, _)| change).sum::<f64>() / n;
    let square = others().map(|(_, sd)| sd * sd).sum::<f64>() / (n * n);
    Some(ExpectedChange {
        difference: (1.0 + own) / (1.0 + mean) - 1.0,
        sd: (own_sd * own_sd + square).sqrt(),
        least_of_all: changes
            .iter()
            .map(|(_, (change, _))| change.abs())
            .fold(f64::INFINITY, f64::min),
    })
}

/// Change of a bank's compression by its intake cam and its standard deviation.
fn change_of(bank: u32, shifts: &[CamShift], shape: &CylinderShape) -> Option<(f64, f64)> {
    let shift = shifts.iter().find(|shift| {
        shift.bank == bank && matches!(shift.shaft, CamShaft::Intake | CamShaft::Single)
    })?;
    let change = shape.change_for(shift.deviation);
    let beside = shape.change_for(shift.deviation + shift.sd);
    Some((change, (beside - change).abs()))
}
